//! Lesions: how they begin, heal, break open, split and merge.

use super::state::{Lesion, Status};
use super::{Course, Planned};
use crate::naming::visible_day;
use crate::person::{Arrival, ArterialDisease};
use crate::words::{
    Gangrene, Infection, Kind, Origin, Place, Precision, SITES, STUMP, Side, Tissue,
};
use chrono::{Datelike, Months};

/// Longest time from a closure to its breaking open again, days.
const DEHISCENCE_DAYS: f64 = 27.0;
/// A site that is open again this soon has broken open, so a new ulcer appears elsewhere in the meantime.
const REOPENING_DAYS: f64 = 28.0;

impl Course<'_> {
    /// The ulcers the person comes with at the first visit.
    pub(crate) fn present_with_ulcers(&mut self) {
        let n = 1 + usize::from(
            self.scenario.ulcers.max_open > 1
                && self
                    .chance
                    .happens(self.scenario.ulcers.share_second_at_start),
        );
        let origin = match self.person.arrival {
            Arrival::TransferredIn => Origin::TransferredIn,
            _ => Origin::New,
        };
        for extra in 0..n {
            let Some(side) = self.any_side() else { return };
            let Some(site) = self.free_site(side) else {
                return;
            };
            // A further ulcer began some time in between.
            let share = if extra == 0 {
                1.0
            } else {
                self.chance.uniform()
            };
            let onset = self.now - self.person.delay_days * share;
            let lesion = self.draw_lesion(side, site, onset, origin, Place::First);
            self.lesions.push(lesion);
        }
    }

    fn any_side(&mut self) -> Option<Side> {
        let side = if self.chance.happens(0.5) {
            Side::Left
        } else {
            Side::Right
        };
        [side, side.other()]
            .into_iter()
            .find(|side| self.limb(*side).lost.is_none())
    }

    /// A site of this foot without an unhealed lesion, nor one that closed so lately that it would count as breaking open.
    fn free_site(&mut self, side: Side) -> Option<usize> {
        let is_taken = |lesion: &Lesion| match lesion.status {
            Status::Closed => self.is_freshly_closed(lesion),
            Status::LostWithLimb | Status::Merged => false,
            Status::Open | Status::PreUlcerative | Status::Excised => true,
        };
        let is_free = |site: usize| {
            !self
                .lesions
                .iter()
                .any(|lesion| lesion.side == side && lesion.site == site && is_taken(lesion))
        };
        let weights: Vec<f64> = SITES
            .iter()
            .enumerate()
            .map(|(site, place)| if is_free(site) { place.weight } else { 0.0 })
            .collect();
        (weights.iter().sum::<f64>() > 0.0).then(|| self.chance.position(weights.iter().copied()))
    }

    fn is_freshly_closed(&self, lesion: &Lesion) -> bool {
        lesion
            .closures
            .last()
            .is_some_and(|closed| self.now - closed <= REOPENING_DAYS)
    }

    fn draw_lesion(
        &mut self,
        side: Side,
        site: usize,
        onset: f64,
        origin: Origin,
        place: Place,
    ) -> Lesion {
        let ulcers = &self.scenario.ulcers;
        let start_area_cm2 = self
            .chance
            .log_normal(ulcers.median_area_cm2, ulcers.area_log_sd)
            .clamp(0.1, 60.0);
        let is_deep = self.chance.happens(ulcers.share_deep);
        let tissue = match is_deep {
            true => self
                .chance
                .pick([(Tissue::TendonOrMuscle, 0.55), (Tissue::BoneOrJoint, 0.45)]),
            false => self
                .chance
                .pick([(Tissue::Skin, 0.55), (Tissue::Subcutaneous, 0.45)]),
        };
        let infection = match self.chance.happens(ulcers.share_infected) {
            true => self.chance.pick([
                (Infection::Mild, 0.6),
                (Infection::Moderate, 0.34),
                (Infection::Severe, 0.06),
            ]),
            false => Infection::Uninfected,
        };
        let is_threatened = self.limb(side).arterial == ArterialDisease::Severe;
        let has_gangrene =
            is_threatened && self.chance.happens(ulcers.share_gangrene_if_severe_pad);
        let (told_onset_day, precision) = self.tell_onset(visible_day(onset));
        let stretch = self.chance.between(1.0, 1.9);
        let gangrene = match has_gangrene {
            true => self
                .chance
                .pick([(Gangrene::Digits, 0.8), (Gangrene::Extensive, 0.2)]),
            false => Gangrene::Absent,
        };
        let has_osteomyelitis = tissue == Tissue::BoneOrJoint
            && infection >= Infection::Moderate
            && self.chance.happens(0.6);
        let is_severe = [
            self.is_older_than_two_months(visible_day(onset)),
            start_area_cm2 > 2.0,
            has_gangrene || has_osteomyelitis,
        ];
        Lesion {
            side,
            site,
            onset,
            told_onset_day,
            precision,
            origin,
            place,
            parent: None,
            merged_into: None,
            start_area_cm2,
            n_severe: is_severe.iter().filter(|holds| **holds).count(),
            stretch,
            tissue,
            gangrene,
            infection,
            has_osteomyelitis,
            status: Status::Open,
            threshold: self.chance.exponential(1.0),
            spent: 0.0,
            closures: Vec::new(),
            reopenings: Vec::new(),
            ended: None,
            label: None,
            n_closed_records: 0,
            n_records: 0,
            last_record_day: i32::MIN,
            is_end_recorded: false,
        }
    }

    fn is_older_than_two_months(&self, onset_day: i32) -> bool {
        let today = crate::naming::date(self.scenario, self.today());
        let limit = today.checked_sub_months(Months::new(2));
        limit.is_some_and(|limit| crate::naming::date(self.scenario, onset_day) < limit)
    }

    /// The day a patient tells: exact, or the first day of the week or month it fell in.
    fn tell_onset(&mut self, day: i32) -> (i32, Precision) {
        let ulcers = &self.scenario.ulcers;
        let date = crate::naming::date(self.scenario, day);
        match self.chance.pick([
            (Precision::Week, ulcers.share_onset_by_week),
            (Precision::Month, ulcers.share_onset_by_month),
            (
                Precision::Day,
                (1.0 - ulcers.share_onset_by_week - ulcers.share_onset_by_month).max(0.0),
            ),
        ]) {
            Precision::Week => (
                day - i32::try_from(date.weekday().num_days_from_monday()).unwrap_or(0),
                Precision::Week,
            ),
            Precision::Month => (
                day - i32::try_from(date.day0()).unwrap_or(0),
                Precision::Month,
            ),
            Precision::Day => (day, Precision::Day),
        }
    }

    /// A new ulcer in somebody under observation.
    pub(crate) fn new_ulcer(&mut self) {
        let Some((side, site, place)) = self.place_of_new_ulcer() else {
            return;
        };
        let mut lesion = self.draw_lesion(side, site, self.now, Origin::New, place);
        if self.is_under_care {
            if self
                .chance
                .happens(self.scenario.ulcers.share_pre_ulcerative)
            {
                lesion.status = Status::PreUlcerative;
                let wait = self.chance.exponential(40.0);
                self.agenda
                    .push((self.now + wait, Planned::Opening(self.lesions.len())));
            }
            let wait = self
                .chance
                .exponential(self.scenario.visits.mean_presentation_days);
            self.bring_forward(self.now + wait);
        }
        self.lesions.push(lesion);
    }

    fn place_of_new_ulcer(&mut self) -> Option<(Side, usize, Place)> {
        let hazards = &self.scenario.hazards;
        let last = self
            .lesions
            .iter()
            .rfind(|lesion| lesion.parent.is_none() && lesion.site != STUMP);
        let Some((last_side, last_site, can_return)) = last.map(|lesion| {
            (
                lesion.side,
                lesion.site,
                lesion.status == Status::Closed && !self.is_freshly_closed(lesion),
            )
        }) else {
            let side = self.any_side()?;
            return Some((side, self.free_site(side)?, Place::First));
        };
        let wanted = self.chance.pick([
            (Place::SameSite, hazards.share_same_site),
            (Place::SameFoot, hazards.share_same_foot),
            (
                Place::OtherFoot,
                (1.0 - hazards.share_same_site - hazards.share_same_foot).max(0.0),
            ),
        ]);
        let has_last_limb = self.limb(last_side).lost.is_none();
        let has_other_limb = self.limb(last_side.other()).lost.is_none();
        match wanted {
            Place::SameSite if has_last_limb && can_return => {
                Some((last_side, last_site, Place::SameSite))
            }
            Place::OtherFoot if has_other_limb => {
                let side = last_side.other();
                Some((side, self.free_site(side)?, Place::OtherFoot))
            }
            _ if has_last_limb => {
                let site = self.free_site(last_side)?;
                let place = if site == last_site {
                    Place::SameSite
                } else {
                    Place::SameFoot
                };
                Some((last_side, site, place))
            }
            _ => {
                let side = last_side.other();
                Some((side, self.free_site(side)?, Place::OtherFoot))
            }
        }
    }

    pub(crate) fn close(&mut self, position: usize) {
        let breaks_open = self.chance.happens(self.scenario.hazards.share_dehiscence);
        let wait = self.chance.between(3.0, DEHISCENCE_DAYS);
        let lesion = &mut self.lesions[position];
        lesion.status = Status::Closed;
        lesion.infection = Infection::Uninfected;
        lesion.gangrene = Gangrene::Absent;
        lesion.closures.push(self.now);
        lesion.n_closed_records = 0;
        if breaks_open {
            self.agenda
                .push((self.now + wait, Planned::Reopening(position)));
        }
    }

    pub(crate) fn reopen(&mut self, position: usize) {
        let threshold = self.chance.exponential(1.0);
        let is_gone = self.limb(self.lesions[position].side).lost.is_some();
        let lesion = &mut self.lesions[position];
        if lesion.status != Status::Closed || is_gone {
            return;
        }
        lesion.status = Status::Open;
        lesion.reopenings.push(self.now);
        lesion.start_area_cm2 = (lesion.start_area_cm2 * 0.4).max(0.1);
        lesion.threshold = threshold;
        lesion.spent = 0.0;
    }

    /// A pre-ulcerative lesion breaks open: it is an ulcer from now on.
    pub(crate) fn open_pre_ulcerative(&mut self, position: usize) {
        let day = self.today();
        let lesion = &mut self.lesions[position];
        if lesion.status == Status::PreUlcerative {
            lesion.status = Status::Open;
            lesion.onset = self.now;
            lesion.told_onset_day = day;
            lesion.precision = Precision::Day;
        }
    }

    pub(crate) fn infect(&mut self, position: usize) {
        let infection = self.chance.pick([
            (Infection::Mild, 0.6),
            (Infection::Moderate, 0.34),
            (Infection::Severe, 0.06),
        ]);
        self.lesions[position].infection = infection;
        if infection == Infection::Severe {
            let side = self.lesions[position].side;
            self.hospital_step(Kind::Admission, side);
        }
    }

    pub(crate) fn end_infection(&mut self, position: usize) {
        let lesion = &mut self.lesions[position];
        lesion.infection = Infection::Uninfected;
        lesion.has_osteomyelitis = false;
    }

    /// A bridge of skin makes two of one: the part takes a share of the area and heals by itself.
    pub(crate) fn split(&mut self, position: usize) {
        let share = self.chance.between(0.25, 0.5);
        let threshold = self.chance.exponential(1.0);
        let whole = &mut self.lesions[position];
        let mut part = whole.clone();
        let area = whole.area_cm2().max(0.1);
        part.parent = Some(position);
        part.onset = self.now;
        part.start_area_cm2 = area * share;
        part.threshold = threshold;
        part.spent = 0.0;
        part.closures.clear();
        part.reopenings.clear();
        part.label = None;
        part.n_records = 0;
        part.last_record_day = i32::MIN;
        whole.start_area_cm2 *= 1.0 - share;
        self.lesions.push(part);
    }

    /// Two ulcers of one foot become one; the earlier one stays.
    pub(crate) fn merge(&mut self, position: usize) {
        let Some(survivor) = self.merge_partner(position) else {
            return;
        };
        let absorbed = &mut self.lesions[position];
        absorbed.status = Status::Merged;
        absorbed.merged_into = Some(survivor);
        absorbed.ended = Some(self.now);
        let area = absorbed.area_cm2();
        self.lesions[survivor].start_area_cm2 += area;
    }
}
