//! Limbs. Major amputation has one hazard whether an ulcer is open or not, minor amputation one while an ulcer or the wound of
//! an amputation is, and every operation and death is told.

use super::chain::{Chain, per_year};
use super::table::{Table, number, of_stratum, quarters, results};
use super::{SEED, steady};
use crate::simulator::with_study_of;
use simulate::{Scenario, simulate as make};

const HEALING: f64 = 3.0;
const MINOR: f64 = 0.5;
const MAJOR: f64 = 0.15;
const DEATH: f64 = 0.2;
const YEAR: f64 = 365.0;

fn scenario(n_patients: u64) -> Scenario {
    let mut scenario = steady(n_patients);
    let hazards = &mut scenario.hazards;
    hazards.healing_per_year = HEALING;
    hazards.minor_amputation_per_year = MINOR;
    hazards.major_amputation_per_year = MAJOR;
    hazards.major_amputation_without_ulcer_per_year = MAJOR;
    hazards.death_per_year = DEATH;
    hazards.recurrence_per_year = 0.0;
    // Many limbs in danger, which changes no hazard.
    scenario.people.share_pad_severe = 0.4;
    scenario.ulcers.share_gangrene_if_severe_pad = 0.6;
    scenario.people.share_prior_minor_amputation = 0.0;
    scenario
}

pub(crate) fn check(n_patients: u64) {
    let scenario = scenario(n_patients);
    let practice = make(&scenario, SEED + 2).unwrap();
    let cohort = quarters("2023Q3", "2024Q3");
    let whole = quarters("2023Q1", "2025Q4");
    let visible = practice.visible_truth();
    let [minor, major, death, healing] = [MINOR, MAJOR, DEATH, HEALING].map(per_year);
    let mut table = Table::new("Limbs: against the hazards themselves");
    with_study_of(&practice, &scenario, "truth-limbs", |study| {
        let first = |id: &str| results(study, id, &cohort).remove(0);
        let kept = 1.0 - Chain::new(&[(0, 1, major), (0, 2, death)]).reached(1, YEAR);
        table.figure(&first("limbs-kept-at-12-months"), kept);
        table.figure(&first("threatened-limbs-kept-at-12-months"), kept);
        let alive = (-(major + death) * YEAR).exp();
        table.figure(&first("amputation-free-survival-at-12-months"), alive);
        let ulcer = Chain::new(&[(0, 1, minor), (0, 2, major + death + healing)]);
        let truth = ulcer.reached(1, YEAR);
        table.figure(&first("minor-amputation-within-12-months"), truth);
        // From a minor amputation: its wound open (0), closed (1), operated on again (2), dead (3).
        let wound = Chain::new(&[
            (0, 2, minor + major),
            (0, 1, healing),
            (1, 2, major),
            (0, 3, death),
            (1, 3, death),
        ]);
        let again = results(study, "repeat-amputation-within-12-months", &cohort);
        table.figure(
            of_stratum(&again, "first amputation minor"),
            wound.reached(2, YEAR),
        );
        // Counts of the whole export: those the practice was told of.
        let n_major = visible
            .limbs
            .iter()
            .filter(|limb| limb.major_amputation_day.is_some())
            .count() as f64;
        let n_minor = visible
            .limbs
            .iter()
            .map(|limb| limb.n_minor_amputations)
            .sum::<usize>() as f64;
        for (id, truth) in [
            ("major-amputations", n_major),
            ("minor-amputations", n_minor),
        ] {
            let found = number(&results(study, id, &whole)[0]);
            table.line(id, found, truth, truth.sqrt(), truth as u64);
        }
        let found = number(&results(study, "major-to-minor-ratio", &whole)[0]);
        let ratio = n_major / n_minor;
        let error = ratio * (1.0 / n_major + 1.0 / n_minor).sqrt();
        table.line("major-to-minor-ratio", found, ratio, error, n_major as u64);
        // Death as a mere end of follow-up.
        let n = visible.limbs.len() as f64 / 2.0 * 5.0 / 12.0;
        let lost = 1.0 - (-major * YEAR).exp();
        let error = ((1.0 - kept) * kept / n).sqrt();
        if n_patients >= 10_000 {
            Table::misses(
                "limbs lost, one minus Kaplan-Meier",
                lost,
                1.0 - kept,
                error,
            );
        }
    });
    table.holds();
}
