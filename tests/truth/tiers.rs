//! Risk tiers of people under surveillance who never have an ulcer here: each sign is there with a probability of its own.

use super::table::{Table, of_stratum, quarters, results};
use super::{SEED, steady};
use crate::simulator::with_study_of;
use chrono::NaiveDate;
use simulate::{Scenario, simulate as make};

/// Sensation lost on both feet; on one foot alone a tenth as often.
const SENSATION_LOST: f64 = 0.78;
const DEFORMITY: f64 = 0.45;
const PRIOR_ULCER: f64 = 0.40;
/// A foot without arterial disease whose pulses are not felt.
const NO_PULSE: f64 = 0.05;

fn scenario(n_patients: u64) -> Scenario {
    let mut scenario = Scenario {
        cut_off: NaiveDate::from_ymd_opt(2024, 4, 30).unwrap(),
        ..steady(n_patients)
    };
    let people = &mut scenario.people;
    people.share_without_ulcer = 1.0;
    people.share_renal = 0.0;
    people.share_neuropathy = SENSATION_LOST;
    people.share_deformity = DEFORMITY;
    people.share_prior_ulcer = PRIOR_ULCER;
    people.share_pad_mild = 0.0;
    people.share_pad_moderate = 0.0;
    people.share_pad_severe = 0.0;
    scenario.hazards.first_ulcer_per_year = 0.0;
    scenario.hazards.recurrence_per_year = 0.0;
    scenario.hazards.major_amputation_without_ulcer_per_year = 0.0;
    scenario
}

pub(crate) fn check(n_patients: u64) {
    let scenario = scenario(n_patients);
    let practice = make(&scenario, SEED + 9).unwrap();
    let cohort = quarters("2024Q1", "2024Q1");
    let mut table = Table::new("Risk tiers: against the shares they are drawn with");
    // On either of two feet.
    let either = |share: f64| 1.0 - (1.0 - share).powi(2);
    let lost = SENSATION_LOST + (1.0 - SENSATION_LOST) * either(SENSATION_LOST / 10.0);
    let arterial = either(NO_PULSE);
    let deformed = either(DEFORMITY);
    let neither = (1.0 - lost) * (1.0 - arterial);
    let both = lost * arterial;
    let one = 1.0 - neither - both;
    let new = 1.0 - PRIOR_ULCER;
    with_study_of(&practice, &scenario, "truth-tiers", |study| {
        let tiers = results(study, "risk-tier-distribution", &cohort);
        for (stratum, truth) in [
            ("tier 0", neither * new),
            ("tier 1", one * (1.0 - deformed) * new),
            ("tier 2", (both + one * deformed) * new),
            ("tier 3", (1.0 - neither) * PRIOR_ULCER),
            // An ulcer before, and neither sign: a contradiction.
            ("not gradable", neither * PRIOR_ULCER),
        ] {
            table.figure(of_stratum(&tiers, stratum), truth);
        }
        let gradable = results(study, "tier-gradable", &cohort);
        table.figure(&gradable[0], 1.0 - neither * PRIOR_ULCER);
    });
    table.holds();
}
