//! Amputations, their wounds, and deaths.

use super::state::{Happening, Status};
use super::{Course, Planned};
use crate::naming::visible_day;
use crate::words::{Height, Infection, Kind, Origin, Place, Precision, SITES, STUMP, Side};

impl Course<'_> {
    /// Removes a lesion with a toe, a ray or the forefoot; the surgical wound becomes a lesion of its own.
    pub(crate) fn amputate_minor(&mut self, position: usize) {
        let height = match SITES[self.lesions[position].site].ours.starts_with("toe") {
            true => self.chance.pick([
                (Height::Toe, 0.75),
                (Height::Ray, 0.2),
                (Height::Transmetatarsal, 0.05),
            ]),
            false => self
                .chance
                .pick([(Height::Ray, 0.7), (Height::Transmetatarsal, 0.3)]),
        };
        let is_staged = self.chance.happens(0.1);
        // What split from it lies at the same place and goes with it.
        let now = self.now;
        for (other, lesion) in self.lesions.iter_mut().enumerate() {
            let is_part = lesion.parent == Some(position) && lesion.site != STUMP;
            if other == position || (is_part && lesion.is_open()) {
                lesion.status = Status::Excised;
                lesion.ended = Some(now);
            }
        }
        let side = self.lesions[position].side;
        self.limb_mut(side).has_lost_toe = true;
        self.lose(Kind::MinorAmputation, side, height, Some(position), false);
        if is_staged {
            let wait = self.chance.between(4.0, 12.0);
            self.agenda
                .push((self.now + wait, Planned::StagedClosure(position, height)));
        }
        let has_surgical_wound = self
            .lesions
            .iter()
            .any(|lesion| lesion.side == side && lesion.site == STUMP && lesion.is_open());
        if !has_surgical_wound {
            self.add_surgical_wound(position);
        }
    }

    /// The planned closure a few days after an open amputation, coded as staged: not another amputation.
    pub(crate) fn close_stage(&mut self, position: usize, height: Height) {
        let side = self.lesions[position].side;
        if self.limb(side).lost.is_none() {
            self.lose(Kind::MinorAmputation, side, height, Some(position), true);
        }
    }

    fn add_surgical_wound(&mut self, position: usize) {
        let mut wound = self.lesions[position].clone();
        wound.site = STUMP;
        wound.origin = Origin::PostSurgical;
        wound.place = Place::SameFoot;
        wound.parent = Some(position);
        wound.onset = self.now;
        wound.told_onset_day = self.today();
        wound.precision = Precision::Day;
        wound.start_area_cm2 = (wound.start_area_cm2 * 1.5).clamp(1.5, 30.0);
        wound.tissue = crate::words::Tissue::Subcutaneous;
        wound.infection = Infection::Uninfected;
        wound.gangrene = crate::words::Gangrene::Absent;
        wound.has_osteomyelitis = false;
        wound.status = Status::Open;
        wound.threshold = self.chance.exponential(1.0);
        wound.spent = 0.0;
        wound.closures.clear();
        wound.reopenings.clear();
        wound.ended = None;
        wound.label = None;
        wound.n_closed_records = 0;
        wound.n_records = 0;
        wound.last_record_day = i32::MIN;
        wound.is_end_recorded = false;
        self.lesions.push(wound);
    }

    pub(crate) fn amputate_major(&mut self, side: Side) {
        let height = self
            .chance
            .pick([(Height::BelowKnee, 0.65), (Height::AboveKnee, 0.35)]);
        let now = self.now;
        self.limb_mut(side).lost = Some(now);
        let is_unhealed = |status| matches!(status, Status::Open | Status::PreUlcerative);
        for lesion in self
            .lesions
            .iter_mut()
            .filter(|lesion| lesion.side == side && is_unhealed(lesion.status))
        {
            lesion.status = Status::LostWithLimb;
            lesion.ended = Some(now);
        }
        self.lose(Kind::MajorAmputation, side, height, None, false);
    }

    fn lose(
        &mut self,
        kind: Kind,
        side: Side,
        height: Height,
        lesion: Option<usize>,
        is_staged: bool,
    ) {
        let is_told = self
            .chance
            .happens(self.scenario.visits.share_amputations_known);
        let letter = self.chance.between(3.0, 21.0);
        self.happenings.push(Happening {
            kind,
            day: self.today(),
            side: Some(side),
            height: Some(height),
            lesion,
            is_staged,
            told_day: is_told.then(|| visible_day(self.now + letter)),
        });
    }

    pub(crate) fn die(&mut self) {
        self.death = Some(self.now);
        self.is_under_care = false;
        let is_told = self.chance.happens(self.scenario.visits.share_deaths_known);
        let letter = self.chance.between(2.0, 30.0);
        self.happenings.push(Happening {
            kind: Kind::Death,
            day: self.today(),
            side: None,
            height: None,
            lesion: None,
            is_staged: false,
            told_day: is_told.then(|| visible_day(self.now + letter)),
        });
    }
}
