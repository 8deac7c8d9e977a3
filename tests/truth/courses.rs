//! Antibiotic courses of ulcers that are infected, free of infection and infected again at rates that do not change. An antibiotic is
//! taken while a visit finds infection, and each such visit sends a culture with one probability.

use super::chain::{Chain, per_year};
use super::table::{Table, number, quarters, results};
use super::{SEED, steady};
use crate::simulator::with_study_of;
use outcomes::report::Count;
use outcomes::tables::SeenBy;
use simulate::{Scenario, simulate as make};

const HEALING: f64 = 1.0;
const INFECTION: f64 = 6.0;
const INFECTION_ENDS: f64 = 10.0;
const INFECTED_AT_FIRST: f64 = 0.33;
const CULTURED: f64 = 0.55;
const GAP: i64 = 14;

fn scenario(n_patients: u64) -> Scenario {
    let mut scenario = steady(n_patients);
    let hazards = &mut scenario.hazards;
    hazards.healing_per_year = HEALING;
    hazards.minor_amputation_per_year = 0.0;
    hazards.major_amputation_per_year = 0.0;
    hazards.death_per_year = 0.0;
    hazards.recurrence_per_year = 0.0;
    hazards.infection_per_year = INFECTION;
    hazards.infection_end_per_year = INFECTION_ENDS;
    scenario.ulcers.share_infected = INFECTED_AT_FIRST;
    scenario.visits.fixed_open_gap_days = Some(i32::try_from(GAP).unwrap());
    scenario
}

/// Share of repeat courses with a culture: sent at the visit that began it, or at any later visit of the course before. A
/// course of so many visits goes without in all of these with the chance of one visit to that power. `n_starts` is how many
/// days of a first visit put the visit of that number into the cohort.
fn share_cultured(n_starts: impl Fn(i64) -> i64) -> f64 {
    let moves = [
        (0, 1, per_year(INFECTION)),
        (1, 0, per_year(INFECTION_ENDS)),
    ];
    let infected_after = |start: [f64; 2]| Chain::new(&moves).after(&start, GAP as f64)[1];
    let (begins, goes_on) = (infected_after([1.0, 0.0]), infected_after([0.0, 1.0]));
    let without = 1.0 - CULTURED;
    // Each as probability, and as probability times the chance that the present or last course went without a culture.
    let (mut infected, mut infected_without) = (INFECTED_AT_FIRST, INFECTED_AT_FIRST * without);
    let (mut between, mut between_without) = (0.0, 0.0);
    let mut never = 1.0 - INFECTED_AT_FIRST;
    let (mut courses, mut courses_without) = (0.0, 0.0);
    for visit in 1..=(1_200 / GAP) {
        let is_open = (-per_year(HEALING) * (visit * GAP) as f64).exp();
        let weight = is_open * n_starts(visit) as f64;
        courses += weight * between * begins;
        courses_without += weight * between_without * begins;
        let start = (never + between) * begins;
        let ended = (
            infected * (1.0 - goes_on),
            infected_without * (1.0 - goes_on),
        );
        infected = infected * goes_on + start;
        infected_without = (infected_without * goes_on + start) * without;
        between = between * (1.0 - begins) + ended.0;
        between_without = between_without * (1.0 - begins) + ended.1;
        never *= 1.0 - begins;
    }
    1.0 - courses_without / courses
}

pub(crate) fn check(n_patients: u64) {
    let scenario = scenario(n_patients);
    let practice = make(&scenario, SEED + 12).unwrap();
    let cohort = quarters("2023Q3", "2025Q3");
    let day_of = |date: chrono::NaiveDate| (date - scenario.data_start).num_days();
    let (first, last) = (day_of(cohort.first.start()), day_of(cohort.last.end()));
    let n_days = day_of(scenario.cut_off);
    let truth = share_cultured(|visit| {
        let starts = (first - visit * GAP).max(0)..=(last - visit * GAP).min(n_days);
        (starts.end() - starts.start() + 1).max(0)
    });
    let mut table =
        Table::new("Cultures before a repeat antibiotic course: against the rates of infection");
    with_study_of(&practice, &scenario, "truth-courses", |study| {
        let cultured = &results(study, "culture-before-repeat-antibiotic", &cohort)[0];
        table.figure(cultured, truth);
        // Looked for on the day the course began only.
        let rows = study
            .people
            .iter()
            .flat_map(|person| person.person.observations);
        let begun = rows.filter(|row| {
            row.seen_by == SeenBy::Clinician
                && row.antibiotic == Some(true)
                && cohort.contains(row.date)
        });
        let answers: Vec<bool> = begun.filter_map(|row| row.cultured).collect();
        let that_day = answers.iter().filter(|yes| **yes).count() as f64 / answers.len() as f64;
        let Some(Count::Shown(n)) = cultured.denominator else {
            panic!("{cultured:?}");
        };
        assert!(number(cultured) > that_day);
        Table::misses(
            "a culture looked for on the day alone",
            that_day,
            truth,
            (truth * (1.0 - truth) / n as f64).sqrt(),
        );
    });
    table.holds();
}
