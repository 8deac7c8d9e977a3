//! New ulcers after all have closed. The hazard of one does not change, and a new ulcer is seen on the day it opens, so every
//! figure has a closed form. Practice visits fall where the evidence days of each horizon can see them.

use super::chain::{Chain, per_year};
use super::table::{Table, number, quarters, results};
use super::{SEED, steady};
use crate::simulator::{cumulative_incidence, with_study_of};
use chrono::NaiveDate;
use outcomes::measure::{Prepared, find_measure, prepare};
use outcomes::rules::Outcome;
use simulate::{SITES, Scenario, simulate as make};

const HEALING: f64 = 6.0;
const NEW_ULCER: f64 = 0.66;
const DEATH: f64 = 0.2;
/// Shares of new ulcers at the last site and elsewhere on its foot.
const SAME_SITE: f64 = 0.35;
const SAME_FOOT: f64 = 0.35;
/// The first look after a closure, and the gap between looks then: a look falls into the evidence days of every horizon.
const FIRST_LOOK: i32 = 31;
const GAP: i32 = 84;

fn scenario(n_patients: u64) -> Scenario {
    let mut scenario = Scenario {
        data_start: NaiveDate::from_ymd_opt(2019, 1, 1).unwrap(),
        ..steady(n_patients)
    };
    let hazards = &mut scenario.hazards;
    hazards.healing_per_year = HEALING;
    hazards.minor_amputation_per_year = 0.0;
    hazards.major_amputation_per_year = 0.0;
    hazards.death_per_year = DEATH;
    hazards.recurrence_per_year = NEW_ULCER;
    hazards.share_same_site = SAME_SITE;
    hazards.share_same_foot = SAME_FOOT;
    scenario.people.share_prior_minor_amputation = 0.0;
    let visits = &mut scenario.visits;
    visits.fixed_open_gap_days = Some(7);
    visits.confirmation_gap_days = FIRST_LOOK;
    visits.high_risk_gap_days = GAP;
    visits.low_risk_gap_days = GAP;
    // A new ulcer brings its owner the same day.
    visits.mean_presentation_days = 0.001;
    scenario
}

/// New ulcers that are seen, a year: one that closes before the day it opened on is over never is.
fn seen_a_year() -> f64 {
    let closing = per_year(HEALING);
    NEW_ULCER * (1.0 - (-closing).exp()) / closing
}

/// First new ulcer after one day and by another, death competing.
fn first_new(days: f64) -> f64 {
    let chain = Chain::new(&[(0, 1, per_year(seen_a_year())), (0, 2, per_year(DEATH))]);
    chain.reached(1, days)
}

/// Mean new ulcers in so many days from one without: ulcers open and close again, death ends it.
fn mean_new(days: u32) -> f64 {
    let chain = Chain::new(&[
        (0, 1, per_year(seen_a_year())),
        (1, 0, per_year(HEALING)),
        (0, 2, per_year(DEATH)),
        (1, 2, per_year(DEATH)),
    ]);
    let middles = (0..days).map(|day| f64::from(day) + 0.5);
    middles.map(|moment| chain.reached(0, moment)).sum::<f64>() * per_year(seen_a_year())
}

/// Share of new ulcers elsewhere on the foot that fall by chance on the site of the last.
fn chance_of_same_site() -> f64 {
    let all: f64 = SITES.iter().map(|site| site.weight).sum();
    SITES.iter().map(|site| (site.weight / all).powi(2)).sum()
}

pub(crate) fn check(n_patients: u64) {
    let scenario = scenario(n_patients);
    let practice = make(&scenario, SEED).unwrap();
    let cohort = quarters("2019Q3", "2022Q3");
    let mut table = Table::new("Recurrence: against the hazards themselves");
    with_study_of(&practice, &scenario, "truth-recurrence", |study| {
        let first = |id: &str| results(study, id, &cohort).remove(0);
        let year = first_new(365.0 - 28.0);
        for (id, truth) in [
            ("recurrence-within-3-months", first_new(91.0 - 28.0)),
            ("recurrence-within-12-months", year),
            ("recurrence-within-36-months", first_new(1095.0 - 28.0)),
        ] {
            table.figure(&first(id), truth);
        }
        let same_site = SAME_SITE + SAME_FOOT * chance_of_same_site();
        let same_foot = SAME_SITE + SAME_FOOT - same_site;
        for (id, share) in [
            ("recurrence-same-site-within-12-months", same_site),
            ("recurrence-same-foot-within-12-months", same_foot),
            (
                "recurrence-other-foot-within-12-months",
                1.0 - SAME_SITE - SAME_FOOT,
            ),
        ] {
            table.figure(&first(id), share * year);
        }
        table.figure(
            &first("new-ulcers-per-100-person-years"),
            100.0 * seen_a_year(),
        );
        table.figure(
            &first("mean-new-ulcers-by-12-months"),
            100.0 * mean_new(365 - 28),
        );
        // Known: a new ulcer by day 28, or none by then and a look after it.
        let soon = first_new(28.0);
        let both = per_year(seen_a_year() + DEATH);
        let dead_unseen = DEATH / (seen_a_year() + DEATH) * (1.0 - (-both * 3.0).exp());
        let clear = (-both * 28.0).exp() * (1.0 - dead_unseen);
        table.figure(
            &first("new-ulcer-soon-after-closure"),
            soon / (soon + clear),
        );
        naive(study, &first("recurrence-within-12-months"), &cohort);
    });
    table.holds();
}

/// Death as a mere end of follow-up, and the share of those whose whole year is known.
fn naive(
    study: &outcomes::measure::Study<'_>,
    right: &outcomes::report::MeasureResult,
    cohort: &outcomes::measure::Cohort,
) {
    let measure = find_measure("recurrence-within-36-months").unwrap();
    let Prepared::FollowUps(all) = prepare(measure, study) else {
        panic!("follow-up times");
    };
    let followed: Vec<(i32, u8)> = all
        .iter()
        .filter(|subject| cohort.contains(subject.index.date))
        .map(|subject| {
            let is_new = subject.ending == Some(Outcome::NewUlcer);
            (subject.exit_day, u8::from(is_new))
        })
        .collect();
    let truth = first_new(1095.0 - 28.0);
    let error = (truth * (1.0 - truth) / followed.len() as f64).sqrt();
    let kaplan_meier = cumulative_incidence(&followed, 1095);
    Table::misses(
        "one minus Kaplan-Meier over three years",
        kaplan_meier,
        truth,
        error,
    );
    // Whoever has a new ulcer in the first 28 days counted as well, from the first closed visit on.
    let truth = first_new(365.0 - 28.0);
    let n = followed.len() as f64;
    let error = (truth * (1.0 - truth) / n).sqrt();
    let soon = first_new(28.0);
    let counted = soon + (1.0 - soon) * number(right);
    if n > 5_000.0 {
        Table::misses(
            "new ulcers counted from the first closed visit on",
            counted,
            truth,
            error,
        );
    }
}
