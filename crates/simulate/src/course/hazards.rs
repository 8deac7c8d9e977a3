//! What may come next, and how likely each is now.

use super::Course;
use super::state::{Lesion, Status};
use crate::person::ArterialDisease;
use crate::scenario::{Band, Hazards};
use crate::words::{Gangrene, Infection, SITES, STUMP, Side, Tissue};

/// Days of a year, for hazards given by the year.
pub(crate) const YEAR_DAYS: f64 = 365.25;

/// Something that comes at random.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Chanced {
    Death,
    MinorAmputation(usize),
    MajorAmputation(Side),
    NewUlcer,
    InfectionStarts(usize),
    InfectionEnds(usize),
    Split(usize),
    Merge(usize),
    Loss,
    Lapse,
    TransferOut,
}

impl Course<'_> {
    /// Every hazard in force at this moment, in events a year.
    pub(crate) fn hazards(&self, into: &mut Vec<(Chanced, f64)>) {
        into.clear();
        let hazards = &self.scenario.hazards;
        let n_open = self
            .lesions
            .iter()
            .filter(|lesion| lesion.is_open())
            .count();
        into.push((Chanced::Death, self.death_per_year(n_open > 0)));
        for side in Side::ALL {
            into.push((
                Chanced::MajorAmputation(side),
                self.major_amputation_per_year(side),
            ));
        }
        into.push((Chanced::NewUlcer, self.new_ulcer_per_year(n_open)));
        for (position, lesion) in self
            .lesions
            .iter()
            .enumerate()
            .filter(|(_, lesion)| lesion.is_open())
        {
            if hazards.minor_amputation_any_site || SITES[lesion.site].is_forefoot {
                into.push((
                    Chanced::MinorAmputation(position),
                    minor_amputation_per_year(lesion, hazards),
                ));
            }
            if lesion.infection == Infection::Uninfected {
                into.push((
                    Chanced::InfectionStarts(position),
                    hazards.infection_per_year,
                ));
            } else {
                into.push((
                    Chanced::InfectionEnds(position),
                    hazards.infection_end_per_year,
                ));
            }
            let is_root = lesion.parent.is_none() && lesion.site != STUMP;
            if is_root && n_open < self.scenario.ulcers.max_open.min(4) && lesion.label.is_some() {
                into.push((Chanced::Split(position), hazards.split_per_year));
            }
            if is_root && self.merge_partner(position).is_some() {
                into.push((Chanced::Merge(position), hazards.merge_per_year));
            }
        }
        if self.is_under_care {
            let visits = &self.scenario.visits;
            let is_slow = self
                .lesions
                .iter()
                .any(|lesion| lesion.is_open() && self.days_to_closure(lesion) > 84.0);
            let ratio = if is_slow {
                visits.loss_ratio_slow_healing
            } else {
                1.0
            };
            into.push((Chanced::Loss, visits.loss_per_year * ratio));
            into.push((Chanced::TransferOut, visits.transfer_out_per_year));
            into.push((Chanced::Lapse, visits.lapse_per_year));
        }
    }

    fn death_per_year(&self, has_open_ulcer: bool) -> f64 {
        let hazards = &self.scenario.hazards;
        let decades = (self.person.age_years - 67.0) / 10.0;
        hazards.death_per_year
            * libm::pow(hazards.death_ratio_ten_years, decades)
            * if self.person.is_on_renal_replacement {
                hazards.death_ratio_renal
            } else {
                1.0
            }
            * if has_open_ulcer {
                hazards.death_ratio_open_ulcer
            } else {
                1.0
            }
    }

    fn major_amputation_per_year(&self, side: Side) -> f64 {
        let hazards = &self.scenario.hazards;
        let limb = self.limb(side);
        if limb.lost.is_some() {
            return 0.0;
        }
        let mut open = self
            .lesions
            .iter()
            .filter(|lesion| lesion.side == side && lesion.is_open())
            .peekable();
        if open.peek().is_none() {
            return hazards.major_amputation_without_ulcer_per_year;
        }
        let (mut has_gangrene, mut has_sepsis) = (false, false);
        for lesion in open {
            has_gangrene |= lesion.gangrene != Gangrene::Absent;
            has_sepsis |= lesion.infection == Infection::Severe;
        }
        let is_ischaemic = limb.arterial == ArterialDisease::Severe && !limb.is_revascularised;
        let n_reasons = [has_gangrene, has_sepsis, is_ischaemic]
            .iter()
            .filter(|reason| **reason)
            .count();
        hazards.major_amputation_per_year
            * libm::pow(hazards.major_amputation_ratio_each, n_reasons as f64)
    }

    fn new_ulcer_per_year(&self, n_open: usize) -> f64 {
        let hazards = &self.scenario.hazards;
        let has_limb = Side::ALL.iter().any(|side| self.limb(*side).lost.is_none());
        let is_full = n_open >= self.scenario.ulcers.max_open.min(4);
        if !has_limb
            || is_full
            || self
                .lesions
                .iter()
                .any(|lesion| lesion.status == Status::PreUlcerative)
        {
            0.0
        } else if n_open > 0 {
            hazards.further_ulcer_per_year
        } else if self.lesions.is_empty() && !self.person.had_ulcer {
            hazards.first_ulcer_per_year
        } else {
            hazards.recurrence_per_year
        }
    }

    /// The healing hazard of an open lesion apart from the bands, in events a year.
    pub(crate) fn healing_per_year(&self, lesion: &Lesion) -> f64 {
        let hazards = &self.scenario.hazards;
        let limb = self.limb(lesion.side);
        let doublings = libm::log2(lesion.start_area_cm2);
        let arterial = match limb.arterial {
            ArterialDisease::Moderate => hazards.healing_ratio_pad_moderate,
            ArterialDisease::Severe => hazards.healing_ratio_pad_severe,
            _ => 1.0,
        };
        let by_severity = hazards.healing_per_year_by_severity.get(lesion.n_severe);
        by_severity.copied().unwrap_or(hazards.healing_per_year)
            * self.person.healing_frailty
            * libm::pow(hazards.healing_ratio_area_doubling, doublings)
            * if lesion.is_deep() {
                hazards.healing_ratio_deep
            } else {
                1.0
            }
            * if lesion.is_infected_deeply() {
                hazards.healing_ratio_infected
            } else {
                1.0
            }
            * if self.person.is_on_renal_replacement {
                hazards.healing_ratio_renal
            } else {
                1.0
            }
            * arterial
    }

    /// Days until an open lesion closes if nothing about it changes.
    pub(crate) fn days_to_closure(&self, lesion: &Lesion) -> f64 {
        let per_day = self.healing_per_year(lesion) / YEAR_DAYS;
        let missing = lesion.threshold - lesion.spent;
        days_to_spend(
            missing.max(0.0),
            per_day,
            self.now - lesion.onset,
            &self.scenario.hazards.healing_bands,
        )
    }

    /// The other open lesion of the same foot that this one can become part of: the earlier one.
    pub(crate) fn merge_partner(&self, position: usize) -> Option<usize> {
        let lesion = self.lesions.get(position)?;
        self.lesions[..position].iter().position(|other| {
            other.is_open()
                && other.side == lesion.side
                && other.site != STUMP
                && other.parent.is_none()
                && other.label.is_some()
                && lesion.label.is_some()
        })
    }
}

fn minor_amputation_per_year(lesion: &Lesion, hazards: &Hazards) -> f64 {
    let reasons = [
        lesion.tissue == Tissue::BoneOrJoint,
        lesion.gangrene != Gangrene::Absent,
        lesion.is_infected_deeply(),
    ];
    let n_reasons = reasons.iter().filter(|reason| **reason).count();
    hazards.minor_amputation_per_year
        * libm::pow(hazards.minor_amputation_ratio_each, n_reasons as f64)
}

/// Hazard spent from one age to another, when `per_day` is multiplied by the ratio of the band in force.
pub(crate) fn spent_between(per_day: f64, from_age: f64, to_age: f64, bands: &[Band]) -> f64 {
    let mut age = from_age;
    let mut spent = 0.0;
    while age < to_age {
        let (ratio, until) = band_at(age, bands);
        let next = until.min(to_age);
        spent += per_day * ratio * (next - age);
        age = next;
    }
    spent
}

/// Days from this age until that much hazard is spent.
pub(crate) fn days_to_spend(amount: f64, per_day: f64, from_age: f64, bands: &[Band]) -> f64 {
    let mut age = from_age;
    let mut left = amount;
    if left <= 0.0 {
        return 0.0;
    }
    loop {
        let (ratio, until) = band_at(age, bands);
        let needed = left / (per_day * ratio);
        if age + needed <= until {
            return age + needed - from_age;
        }
        left -= per_day * ratio * (until - age);
        age = until;
    }
}

/// Ratio in force at this age and the age at which it ends.
fn band_at(age: f64, bands: &[Band]) -> (f64, f64) {
    let ratio = bands
        .iter()
        .rev()
        .find(|band| band.from_day <= age)
        .map_or(1.0, |band| band.ratio);
    let until = bands
        .iter()
        .map(|band| band.from_day)
        .find(|from_day| *from_day > age);
    (ratio, until.unwrap_or(f64::INFINITY))
}

#[cfg(test)]
mod tests {
    use super::*;

    const BANDS: &[Band] = &[
        Band {
            from_day: 28.0,
            ratio: 0.5,
        },
        Band {
            from_day: 84.0,
            ratio: 2.0,
        },
    ];

    #[test]
    fn hazard_is_spent_band_by_band() {
        // 18 days at 1, 56 at one half, 6 at 2: 18 + 28 + 12 tenths.
        assert!((spent_between(0.1, 10.0, 90.0, BANDS) - 5.8).abs() < 1e-12);
        assert!((days_to_spend(5.8, 0.1, 10.0, BANDS) - 80.0).abs() < 1e-9);
    }

    #[test]
    fn without_bands_time_is_amount_over_hazard() {
        assert!((days_to_spend(1.0, 0.02, 400.0, &[]) - 50.0).abs() < 1e-12);
    }
}
