//! Two ulcers a person, looked at every two weeks: what ulcers, people and statuses come to, and what is lost from sight.

use super::chain::per_year;
use super::table::{Table, number, quarters, results};
use super::{SEED, steady};
use crate::simulator::with_study_of;
use chrono::NaiveDate;
use simulate::{Scenario, simulate as make};

const HEALING: f64 = 4.0;
const MINOR: f64 = 0.4;
const DEATH: f64 = 0.3;
const LOSS: f64 = 1.0;
const GAP: i32 = 14;

fn scenario(n_patients: u64) -> Scenario {
    let mut scenario = Scenario {
        cut_off: NaiveDate::from_ymd_opt(2024, 10, 31).unwrap(),
        ..steady(n_patients)
    };
    let hazards = &mut scenario.hazards;
    hazards.healing_per_year = HEALING;
    hazards.minor_amputation_per_year = MINOR;
    hazards.major_amputation_per_year = 0.0;
    hazards.death_per_year = DEATH;
    hazards.recurrence_per_year = 0.0;
    hazards.further_ulcer_per_year = 0.0;
    scenario.ulcers.share_second_at_start = 1.0;
    scenario.ulcers.max_open = 2;
    let visits = &mut scenario.visits;
    visits.fixed_open_gap_days = Some(GAP);
    // Looked at as often when closed, so that a status has its day.
    visits.high_risk_gap_days = GAP;
    visits.low_risk_gap_days = GAP;
    scenario
}

/// Looks from the first to a day.
fn looks(days: i32) -> impl Iterator<Item = f64> {
    (1..=days / GAP).map(|look| f64::from(look * GAP))
}

fn alive(days: f64) -> f64 {
    (-per_year(DEATH) * days).exp()
}

/// Found at a look by a day, when this share has come to it by each moment and death can come before the look.
fn found(days: i32, come: impl Fn(f64) -> f64) -> f64 {
    looks(days)
        .map(|look| (come(look) - come(look - f64::from(GAP))) * alive(look))
        .sum()
}

/// Share of ulcers healed without amputation by a moment, and of those that closed in whatever way.
fn healed(days: f64) -> f64 {
    let both = per_year(HEALING + MINOR);
    HEALING / (HEALING + MINOR) * (1.0 - (-both * days).exp())
}

fn closed(days: f64) -> f64 {
    1.0 - (-per_year(HEALING) * days).exp()
}

pub(crate) fn check(n_patients: u64) {
    let scenario = scenario(n_patients);
    let practice = make(&scenario, SEED + 5).unwrap();
    let cohort = quarters("2023Q3", "2024Q1");
    let mut table = Table::new("Ulcers and people: against the hazards and the days of looking");
    with_study_of(&practice, &scenario, "truth-people", |study| {
        let first = |id: &str| results(study, id, &cohort).remove(0);
        for (weeks, days) in [(12, 84), (24, 168)] {
            table.figure(
                &first(&format!("healed-within-{weeks}-weeks")),
                found(days, healed),
            );
            table.figure(
                &first(&format!("every-ulcer-healed-within-{weeks}-weeks")),
                found(days, |by| healed(by).powi(2)),
            );
            table.figure(
                &first(&format!(
                    "healed-including-minor-amputation-within-{weeks}-weeks"
                )),
                found(days, closed),
            );
            let day = f64::from(days);
            table.figure(
                &first(&format!("ulcer-free-at-{weeks}-weeks")),
                closed(day).powi(2) * alive(day),
            );
        }
        table.figure(&first("healed-within-20-weeks"), found(140, healed));
        // All ulcers taken for those of one person each: half again too many.
        let truth = found(84, |by| healed(by).powi(2));
        let n = n_patients as f64 * 9.0 / 22.0;
        let error = (truth * (1.0 - truth) / n).sqrt();
        let by_ulcer = number(&first("healed-within-12-weeks"));
        Table::misses(
            "the share of ulcers for that of people",
            by_ulcer,
            truth,
            error,
        );
    });
    table.holds();
}

/// One ulcer a person, nothing but healing and going away.
pub(crate) fn check_loss(n_patients: u64) {
    let mut scenario = scenario(n_patients);
    scenario.hazards.minor_amputation_per_year = 0.0;
    scenario.hazards.death_per_year = 0.001;
    scenario.ulcers.share_second_at_start = 0.0;
    scenario.ulcers.max_open = 1;
    scenario.visits.loss_per_year = LOSS;
    scenario.visits.loss_ratio_slow_healing = 1.0;
    let practice = make(&scenario, SEED + 6).unwrap();
    let cohort = quarters("2023Q3", "2024Q1");
    let mut table = Table::new("Loss from sight: against the hazards and the days of looking");
    // Open at this look, and never seen again after it.
    let last_seen_open = |look: i32| {
        let day = f64::from(look * GAP);
        let stays = |days: f64| (-per_year(LOSS) * days).exp();
        (1.0 - closed(day)) * (stays(day) - stays(day + f64::from(GAP)))
    };
    with_study_of(&practice, &scenario, "truth-gone", |study| {
        let first = |id: &str| results(study, id, &cohort).remove(0);
        // Last seen before day 70, the first of the window.
        let unknown: f64 = (0..5).map(last_seen_open).sum();
        table.figure(&first("outcome-known-at-12-weeks"), 1.0 - unknown);
        // Last seen more than 90 days before day 168: by day 77.
        let lost: f64 = (0..6).map(last_seen_open).sum();
        table.figure(&first("lost-from-sight-within-24-weeks"), lost);
        // Whoever is lost taken for not healed.
        let truth = closed(84.0);
        let n = n_patients as f64 * 9.0 / 22.0;
        let error = (truth * (1.0 - truth) / n).sqrt();
        let healed_and_seen = looks(84)
            .map(|look| {
                let came = closed(look) - closed(look - f64::from(GAP));
                came * (-per_year(LOSS) * look).exp()
            })
            .sum();
        Table::misses("the lost taken for unhealed", healed_and_seen, truth, error);
    });
    table.holds();
}
