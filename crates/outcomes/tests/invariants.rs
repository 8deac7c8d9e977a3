//! What must hold for every export, however odd: nobody is lost, nothing sums wrongly, time cannot be undone.
#![allow(clippy::unwrap_used, reason = "tests")]

mod random;
mod support;

use outcomes::derive::{derive, in_reading_order};
use outcomes::measure::{
    Cohort, MEASURES, Measure, Study, evaluate, find_measure, prepare, prepare_all,
};
use outcomes::report::{Count, MeasureResult, Unit, Value};
use outcomes::rules::{Quarter, Rules};
use outcomes::tables::Tables;
use proptest::prelude::*;
use random::{people, tables_up_to};
use support::{date, horizon};

/// What every measure comes to for a quarter, made as a run makes it.
fn all_results(tables: &Tables, cut_off_day: i64, quarter: Quarter) -> Vec<MeasureResult> {
    results_of(MEASURES, tables, cut_off_day, quarter)
}

fn results_of(
    measures: &[&Measure],
    tables: &Tables,
    cut_off_day: i64,
    quarter: Quarter,
) -> Vec<MeasureResult> {
    let (rules, horizon) = (Rules::default(), horizon(cut_off_day));
    let people = derive(tables, &rules, &horizon);
    let study = Study {
        people: &people,
        rules: &rules,
        horizon: &horizon,
    };
    let cohort = Cohort::quarter(quarter);
    measures
        .iter()
        .zip(prepare_all(measures, &study))
        .flat_map(|(measure, prepared)| evaluate(measure, &prepared, &study, &cohort))
        .collect()
}

fn shown(count: Option<Count>) -> u64 {
    match count {
        Some(Count::Shown(n)) => n,
        _ => 0,
    }
}

/// Measures whose counts are parts, or bounds, of one another.
const PLACES_AND_LIMBS: [&str; 7] = [
    "recurrence-within-12-months",
    "recurrence-same-site-within-12-months",
    "recurrence-same-foot-within-12-months",
    "recurrence-other-foot-within-12-months",
    "mean-new-ulcers-by-12-months",
    "amputation-free-survival-at-12-months",
    "limbs-kept-at-12-months",
];

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_later_export_never_changes_a_matured_figure(people in people(), quarter in 0..5u32) {
        let quarter = Quarter::parse("2024Q1").unwrap().back(quarter);
        let before = all_results(&tables_up_to(&people, 600), 600, quarter);
        let after = all_results(&tables_up_to(&people, 800), 800, quarter);
        for result in before.iter().filter(|result| !matches!(result.value, Value::NotYet { .. })) {
            prop_assert!(after.contains(result), "{result:?}");
        }
    }

    #[test]
    fn measures_that_share_what_was_known_count_as_each_would_alone(people in people()) {
        let tables = in_reading_order(tables_up_to(&people, 800));
        let (rules, horizon) = (Rules::default(), horizon(800));
        let people = derive(&tables, &rules, &horizon);
        let study = Study { people: &people, rules: &rules, horizon: &horizon };
        let together = prepare_all(MEASURES, &study);
        prop_assert_eq!(together.len(), MEASURES.len());
        for (measure, shared) in MEASURES.iter().zip(&together) {
            prop_assert_eq!(&**shared, &prepare(measure, &study), "{}", measure.id);
        }
    }

    #[test]
    fn the_order_of_rows_changes_nothing(people in people()) {
        let reversed: Vec<Vec<(i64, String)>> =
            people.iter().map(|lines| lines.iter().rev().cloned().collect()).collect();
        let quarter = Quarter::of(date(150));
        let (one, other) = (tables_up_to(&people, 800), tables_up_to(&reversed, 800));
        prop_assert_eq!(all_results(&one, 800, quarter), all_results(&other, 800, quarter));
    }

    #[test]
    fn every_share_lies_within_its_limits_and_classes_add_up(people in people()) {
        let results = all_results(&tables_up_to(&people, 800), 800, Quarter::of(date(150)));
        for result in &results {
            if let Value::Known(estimate) = &result.value {
                let interval = estimate.interval.as_ref();
                let lower = interval.and_then(|interval| interval.lower).unwrap_or(f64::NEG_INFINITY);
                let upper = interval.and_then(|interval| interval.upper).unwrap_or(f64::INFINITY);
                prop_assert!(lower <= estimate.estimate + 1e-9 && estimate.estimate <= upper + 1e-9, "{result:?}");
            }
            if let Some(bounds) = &result.bounds {
                prop_assert!(bounds.lowest <= bounds.highest);
            }
            // More than one ulcer a person, and more major than minor amputations, are possible.
            if result.denominator.is_some() && result.unit == Unit::Share {
                prop_assert!(shown(result.numerator) <= shown(result.denominator));
            }
        }
        let tiers: Vec<&MeasureResult> = results
            .iter()
            .filter(|result| result.measure == "risk-tier-distribution")
            .collect();
        let total: u64 = tiers.iter().map(|result| shown(result.numerator)).sum();
        prop_assert_eq!(total, shown(tiers[0].denominator));
    }

    #[test]
    fn the_places_of_new_ulcers_add_up_to_all_of_them(people in people()) {
        let measures = PLACES_AND_LIMBS.map(|id| find_measure(id).unwrap());
        let results = results_of(&measures, &tables_up_to(&people, 800), 800, Quarter::of(date(150)));
        let whole = |id: &str| results.iter().find(|result| result.measure == id && result.stratum == "all").unwrap();
        let number = |result: &MeasureResult| match &result.value {
            Value::Known(estimate) => Some(estimate.estimate),
            _ => None,
        };
        let any = whole("recurrence-within-12-months");
        let places = ["same-site", "same-foot", "other-foot"]
            .map(|place| whole(&format!("recurrence-{place}-within-12-months")));
        let n_new: u64 = places.iter().map(|place| shown(place.numerator)).sum();
        prop_assert_eq!(n_new, shown(any.numerator));
        for place in places {
            prop_assert_eq!(place.denominator, any.denominator);
            prop_assert_eq!(place.n_unknown, any.n_unknown);
        }
        let sum: Option<f64> = places.iter().map(|place| number(place)).sum();
        if let (Some(sum), Some(any)) = (sum, number(any)) {
            prop_assert!((sum - any).abs() < 1e-9);
        }
        let mean = whole("mean-new-ulcers-by-12-months");
        prop_assert_eq!(mean.denominator, any.denominator);
        prop_assert!(shown(mean.numerator) >= n_new);
        // Whoever lost a leg or died is not alive with it.
        let (alive, kept) = (whole("amputation-free-survival-at-12-months"), whole("limbs-kept-at-12-months"));
        prop_assert_eq!(alive.denominator, kept.denominator);
        prop_assert!(shown(alive.numerator) <= shown(kept.numerator));
    }

    #[test]
    fn everybody_comes_out_and_every_date_keeps_its_row(people in people()) {
        let tables = in_reading_order(tables_up_to(&people, 800));
        let derived = derive(&tables, &Rules::default(), &horizon(800));
        prop_assert_eq!(derived.len(), people.len());
        for person in &derived {
            for episode in &person.reading.episodes {
                prop_assert!(episode.index.date <= episode.last_open.date);
                prop_assert!(episode.last_open.date <= episode.last_known.date);
                prop_assert!(episode.end_at.date >= episode.index.date);
                if let Some(closure) = episode.closure {
                    prop_assert!(closure.last_open.date < closure.first_closed.date);
                }
                for at in [episode.index, episode.last_open, episode.last_known] {
                    let is_there = tables
                        .ulcer_observations
                        .iter()
                        .any(|row| row.source == at.source && row.date == at.date);
                    prop_assert!(is_there);
                }
            }
            let in_spans: usize = person.reading.person_episodes.iter().map(|span| span.wounds.len()).sum();
            let wounds = person.reading.episodes.iter().filter(|episode| !episode.is_post_surgical).count();
            prop_assert!(in_spans >= wounds);
        }
    }
}
