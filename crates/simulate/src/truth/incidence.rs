//! Incidence under hazards that do not change, worked out and simulated.

use crate::course::{Lesion, Status, YEAR_DAYS};
use crate::patient::Patient;
use crate::practice::Practice;
use crate::words::{Attendance, Kind, Origin, SeenBy, SeenState};
use serde::Serialize;

/// Hazards that do not change, in events a year.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ConstantHazards {
    /// The ulcer closes for good.
    pub healing_per_year: f64,
    /// Minor amputation of the ulcer.
    pub minor_amputation_per_year: f64,
    /// Major amputation of the limb.
    pub major_amputation_per_year: f64,
    /// Death.
    pub death_per_year: f64,
}

/// Probabilities that an ulcer has met each end by a day, whichever comes first. They sum to at most 1.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct HealingIncidence {
    /// Days since the index visit.
    pub day: i32,
    /// Closed for good.
    pub healed: f64,
    /// Removed by a minor amputation.
    pub minor_amputation: f64,
    /// Gone with the limb.
    pub major_amputation: f64,
    /// Died with it open.
    pub died: f64,
}

/// True cumulative incidences by a day, for hazards that do not change.
///
/// Convention: cause-specific hazards h(k) with sum H; the cumulative incidence of cause k by time t is
/// h(k)/H (1 - exp(-H t)). A constant hazard has no memory, so it holds from any index day on at which the ulcer is open.
/// Not estimable for H = 0: all are 0 then.
/// Source: Kalbfleisch and Prentice, The Statistical Analysis of Failure Time Data, chapter 8 (from memory).
pub fn constant_hazard_incidence(hazards: ConstantHazards, day: i32) -> HealingIncidence {
    let ConstantHazards {
        healing_per_year,
        minor_amputation_per_year,
        major_amputation_per_year,
        death_per_year,
    } = hazards;
    let total =
        healing_per_year + minor_amputation_per_year + major_amputation_per_year + death_per_year;
    let any = -libm::expm1(-total * f64::from(day) / YEAR_DAYS);
    let of = |hazard: f64| {
        if total > 0.0 {
            hazard / total * any
        } else {
            0.0
        }
    };
    HealingIncidence {
        day,
        healed: of(healing_per_year),
        minor_amputation: of(minor_amputation_per_year),
        major_amputation: of(major_amputation_per_year),
        died: of(death_per_year),
    }
}

/// Cumulative incidences of a practice as it was, without censoring: the share of ulcers that met each end by each day.
///
/// Counted are ulcers (no surgical wounds, no parts) first seen open in the export, from that visit on, on the latent
/// course; a day the latent course does not reach for the last of them (cut-off and follow-on days) is left out. For a
/// practice of many patients these are the true values of any scenario, however its hazards change.
pub fn simulated_incidence(practice: &Practice, days: &[i32]) -> Vec<HealingIncidence> {
    let reach = practice.scenario.follow_on_days;
    let ends: Vec<(f64, Option<Kind>)> = practice
        .patients()
        .flat_map(|(_, patient)| ends(&patient))
        .collect();
    let n_ulcers = ends.len().max(1) as f64;
    let share = |day: i32, end: Option<Kind>| {
        let n = ends
            .iter()
            .filter(|(after, kind)| *kind == end && *after <= f64::from(day))
            .count();
        n as f64 / n_ulcers
    };
    days.iter()
        .filter(|day| **day <= reach)
        .map(|day| HealingIncidence {
            day: *day,
            healed: share(*day, None),
            minor_amputation: share(*day, Some(Kind::MinorAmputation)),
            major_amputation: share(*day, Some(Kind::MajorAmputation)),
            died: share(*day, Some(Kind::Death)),
        })
        .collect()
}

/// Days from the index visit to the first end of each ulcer of a person; healing carries no kind.
fn ends(patient: &Patient) -> Vec<(f64, Option<Kind>)> {
    let lesions = &patient.history.lesions;
    let is_counted =
        |lesion: &Lesion| lesion.parent.is_none() && lesion.origin != Origin::PostSurgical;
    (0..lesions.len())
        .filter(|position| is_counted(&lesions[*position]))
        .filter_map(|position| {
            let index_day = index_day(patient, position)?;
            let lesion = &lesions[position];
            let (moment, kind) = match lesion.status {
                Status::Closed => (lesion.lasting_healing()?, None),
                Status::Excised => (lesion.ended?, Some(Kind::MinorAmputation)),
                Status::LostWithLimb => (lesion.ended?, Some(Kind::MajorAmputation)),
                Status::Merged => return None,
                Status::Open | Status::PreUlcerative => (
                    patient.history.death.unwrap_or(f64::INFINITY),
                    Some(Kind::Death),
                ),
            };
            Some((moment - f64::from(index_day), kind))
        })
        .collect()
}

/// Day a lesion was first seen open, if that lies in the export.
pub(crate) fn index_day(patient: &Patient, position: usize) -> Option<i32> {
    let sees_it_open = |ulcer: &crate::record::Ulcer| {
        ulcer.lesion == position
            && ulcer.state == Some(SeenState::Open)
            && ulcer.seen_by == SeenBy::Clinician
    };
    let rows = patient.history.rows.iter();
    let first = rows
        .filter(|row| row.attendance == Attendance::Kept)
        .find(|row| row.ulcers.iter().any(sees_it_open))?;
    patient
        .perfect_rows
        .iter()
        .any(|row| row.day == first.day)
        .then_some(first.day)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn by_twelve_weeks_a_healing_hazard_of_three_a_year_has_closed_half() {
        // Worked by hand: t = 84/365.25 = 0.22998 years, H = 3.2, 1 - exp(-0.73594) = 0.52094, three of 3.2 parts: 0.48838.
        let hazards = ConstantHazards {
            healing_per_year: 3.0,
            minor_amputation_per_year: 0.1,
            major_amputation_per_year: 0.04,
            death_per_year: 0.06,
        };
        let by_84 = constant_hazard_incidence(hazards, 84);
        assert!((by_84.healed - 0.48838).abs() < 1e-5, "{}", by_84.healed);
        assert!((by_84.minor_amputation - 0.01628).abs() < 1e-5);
    }
}
