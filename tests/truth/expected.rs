//! A practice whose risk is the published one: ulcers of each published severity heal as those of the paper did, so that
//! observed over expected is 1, and a model of its own past expects what comes.

use super::table::{Table, number, of_stratum, quarters, results};
use super::{SEED, steady};
use crate::simulator::with_study_of;
use outcomes::report::Count;
use simulate::{Scenario, simulate as make};

/// Healed within 20 weeks, by points: Margolis et al., Am J Med 2003;115:627-631, validation set (not healed 0.35, 0.47, 0.66, 0.81).
const HEALED: [f64; 4] = [0.65, 0.53, 0.34, 0.19];
/// Healed within 20 weeks, all together, in the same paper.
const HEALED_IN_ALL: f64 = 0.47;
const DAYS: f64 = 140.0;

fn scenario(n_patients: u64) -> Scenario {
    let mut scenario = steady(n_patients);
    let hazards = &mut scenario.hazards;
    // A constant hazard h heals 1 - exp(-h t) by day t when nothing else ends an ulcer.
    hazards.healing_per_year_by_severity = HEALED
        .iter()
        .map(|share| -(1.0 - share).ln() / DAYS * 365.25)
        .collect();
    hazards.minor_amputation_per_year = 0.0;
    hazards.major_amputation_per_year = 0.0;
    hazards.death_per_year = 0.0;
    hazards.recurrence_per_year = 0.0;
    hazards.infection_per_year = 0.0;
    // Large, old and gangrenous wounds more often than elsewhere.
    let ulcers = &mut scenario.ulcers;
    ulcers.median_area_cm2 = 4.0;
    ulcers.area_log_sd = 1.5;
    ulcers.median_delay_days = 90.0;
    ulcers.share_onset_by_week = 0.0;
    ulcers.share_onset_by_month = 0.0;
    ulcers.share_infected = 0.0;
    ulcers.share_gangrene_if_severe_pad = 0.6;
    scenario.people.share_pad_severe = 1.0;
    scenario.people.share_pad_moderate = 0.0;
    scenario.people.share_pad_mild = 0.0;
    // Day 140 is a day of looking.
    scenario.visits.fixed_open_gap_days = Some(28);
    scenario
}

/// Major amputation within a year of limbs of WIfI stage 4: van Reijen et al., Eur J Vasc Endovasc Surg 2019;58:362-371.
const LOST_AT_STAGE_4: f64 = 0.38;

/// Infected gangrene in limbs whose toe pressure lies below 40 mmHg: every limb is of stage 4, and is lost as the paper found.
fn stage_4(n_patients: u64) -> Scenario {
    let mut scenario = steady(n_patients);
    let lost_a_year = -(1.0 - LOST_AT_STAGE_4).ln() / 365.0 * 365.25;
    let hazards = &mut scenario.hazards;
    hazards.healing_per_year = 6.0;
    hazards.minor_amputation_per_year = 0.0;
    hazards.major_amputation_per_year = lost_a_year;
    hazards.major_amputation_without_ulcer_per_year = lost_a_year;
    hazards.death_per_year = 0.0;
    hazards.recurrence_per_year = 0.0;
    scenario.ulcers.share_infected = 1.0;
    scenario.ulcers.share_gangrene_if_severe_pad = 1.0;
    scenario.people.share_pad_severe = 1.0;
    scenario.people.share_pad_moderate = 0.0;
    scenario.people.share_pad_mild = 0.0;
    scenario.people.share_prior_minor_amputation = 0.0;
    scenario.visits.share_pressures = 1.0;
    scenario.visits.fixed_open_gap_days = Some(28);
    scenario
}

pub(crate) fn check_limbs(n_patients: u64) {
    let scenario = stage_4(n_patients);
    let practice = make(&scenario, SEED + 16).unwrap();
    let cohort = quarters("2023Q3", "2024Q3");
    let mut table =
        Table::new("Threatened limbs: a practice with the published risk of their stage");
    with_study_of(&practice, &scenario, "truth-stages", |study| {
        let kept = results(study, "threatened-limbs-kept-at-12-months", &cohort);
        table.figure(of_stratum(&kept, "all"), 1.0 - LOST_AT_STAGE_4);
        table.figure(of_stratum(&kept, "observed against expected events"), 1.0);
    });
    table.holds();
}

pub(crate) fn check(n_patients: u64) {
    let scenario = scenario(n_patients);
    let practice = make(&scenario, SEED + 11).unwrap();
    let mut table =
        Table::new("Against published expectations: a practice with the published risk");
    with_study_of(&practice, &scenario, "truth-expected", |study| {
        let cohort = quarters("2023Q3", "2025Q1");
        let published = results(study, "healed-against-published-strata", &cohort);
        let ratio = of_stratum(&published, "all");
        table.figure(ratio, 1.0);
        let mut n_shares = 0;
        for (points, truth) in HEALED.iter().enumerate() {
            let words = format!("{points} point");
            let of_points = published.iter().filter(|result| {
                let stratum = result.stratum.strip_prefix("share healed, ");
                stratum.is_some_and(|stratum| stratum.starts_with(&words))
            });
            for result in of_points {
                table.figure(result, *truth);
                n_shares += 1;
            }
        }
        assert_eq!(n_shares, HEALED.len());
        // Seven quarters stand behind the model of the eighth, so that its own error adds a fifteenth to that of the figure.
        let own = results(
            study,
            "healed-against-own-past",
            &quarters("2025Q1", "2025Q1"),
        );
        table.figure(of_stratum(&own, "all"), 1.0);
        // Without severity the practice looks worse than it is.
        let (Some(Count::Shown(healed)), Some(Count::Shown(n))) =
            (ratio.numerator, ratio.denominator)
        else {
            panic!("{ratio:?}");
        };
        let share = healed as f64 / n as f64;
        let error = (share * (1.0 - share) / n as f64).sqrt() / HEALED_IN_ALL;
        assert!(number(ratio) > 0.9);
        Table::misses(
            "healed share over that of the paper, severity aside",
            share / HEALED_IN_ALL,
            1.0,
            error,
        );
    });
    table.holds();
}
