//! A figure that a report has given is another one later only where rows were corrected, and then it is listed.
#![allow(clippy::unwrap_used, reason = "tests")]

mod random;
mod support;

use outcomes::analyse::{ChangeStep, Run, changes, results_again};
use outcomes::derive::derive;
use outcomes::measure::{Cohort, MEASURES, Study, evaluate, prepare_all};
use outcomes::report::{Cause, ChangedResult, Changes, Count, MeasureResult, Value};
use outcomes::rules::{DeclaredDates, Quarter, Rules};
use outcomes::tables::Tables;
use proptest::prelude::*;
use random::{people, tables_up_to};
use support::horizon;

/// Story days of the two cut-offs.
const THEN: i64 = 600;
const NOW: i64 = 800;

type People = Vec<Vec<(i64, String)>>;

/// The figures of a quarter and of the year that ends with it.
fn printed(tables: &Tables, quarter: Quarter) -> Vec<MeasureResult> {
    let (rules, horizon) = (Rules::default(), horizon(THEN));
    let people = derive(tables, &rules, &horizon);
    let study = Study {
        people: &people,
        rules: &rules,
        horizon: &horizon,
    };
    let cohorts = [
        Cohort::quarter(quarter),
        Cohort::year_to(quarter, horizon.data_start),
    ];
    let prepared = prepare_all(MEASURES, &study);
    let of = |cohort: &Cohort| -> Vec<MeasureResult> {
        let counted = MEASURES.iter().zip(&prepared);
        counted
            .flat_map(|(measure, prepared)| evaluate(measure, prepared, &study, cohort))
            .collect()
    };
    cohorts.iter().flat_map(of).collect()
}

fn run(cut_off: i64) -> Run {
    Run {
        program: "one".into(),
        layout_sha256: String::new(),
        inputs_sha256: vec![cut_off.to_string()],
        quarter: Quarter::of(horizon(cut_off).cut_off),
        horizon: horizon(cut_off),
        rules: Rules::default(),
    }
}

/// What became of printed figures by a later export, and the figures as they are now.
fn since(printed: &[MeasureResult], later: &Tables) -> (Changes, Vec<MeasureResult>) {
    let again = |cut_off| {
        let (rules, horizon) = (Rules::default(), horizon(cut_off));
        let people = derive(later, &rules, &horizon);
        let study = Study {
            people: &people,
            rules: &rules,
            horizon: &horizon,
        };
        results_again(MEASURES, &study, &DeclaredDates::AS_RECORDED, printed)
    };
    let now = again(NOW);
    let steps = [
        ChangeStep {
            cause: Cause::CorrectedData,
            results: again(THEN),
        },
        ChangeStep {
            cause: Cause::NewData,
            results: now.clone(),
        },
    ];
    (changes(printed, &run(THEN), &run(NOW), &steps), now)
}

fn has_value(result: &MeasureResult) -> bool {
    matches!(result.value, Value::Known(_) | Value::NotReached { .. })
}

fn is_same_place(one: &MeasureResult, other: &MeasureResult) -> bool {
    (&one.measure, &one.period, &one.stratum, one.unit)
        == (&other.measure, &other.period, &other.stratum, other.unit)
}

type Told = (Value, Option<Count>, Option<Count>, Option<Count>);

/// Everything a figure says, its words aside.
fn told(result: &MeasureResult) -> Told {
    (
        result.value.clone(),
        result.numerator,
        result.denominator,
        result.n_unknown,
    )
}

fn listed(changes: &Changes) -> impl Iterator<Item = &ChangedResult> {
    changes.restatements.iter().chain(&changes.others)
}

/// Whether two figures say the same to nine digits, which is what the list of changes compares.
fn says_the_same(one: &Told, other: &Told) -> bool {
    let ends = |value: &Value| match value {
        Value::Known(known) => {
            let interval = known.interval.as_ref();
            let limits = interval.map(|interval| [interval.lower, interval.upper]);
            let [lower, upper] = limits.unwrap_or_default();
            vec![Some(known.estimate), lower, upper]
        }
        Value::NotReached { lower } => vec![*lower],
        _ => Vec::new(),
    };
    let is_near = |one: &Option<f64>, other: &Option<f64>| match (one, other) {
        (Some(one), Some(other)) => {
            (one - other).abs() <= 1e-9 * one.abs().max(other.abs()).max(1e-6)
        }
        (one, other) => one == other,
    };
    let (ours, theirs) = (ends(&one.0), ends(&other.0));
    let is_alike = std::mem::discriminant(&one.0) == std::mem::discriminant(&other.0)
        && (!ours.is_empty() || one.0 == other.0);
    is_alike
        && (one.1, one.2, one.3) == (other.1, other.2, other.3)
        && ours
            .iter()
            .zip(&theirs)
            .all(|(one, other)| is_near(one, other))
}

/// The export with some of its rows put right: taken away, or dated otherwise.
fn corrected(people: &People, corrections: &[(usize, usize, Option<i64>)]) -> People {
    let mut people = people.clone();
    for (person, row, shift) in corrections {
        let n_people = people.len();
        let rows = &mut people[person % n_people];
        let n_rows = rows.len().max(1);
        let Some((day, line)) = rows.get(row % n_rows).cloned() else {
            continue;
        };
        rows.remove(row % n_rows);
        if let Some(shift) = shift {
            let new = (day + shift).max(0);
            let (_, rest) = line.split_once(' ').unwrap();
            rows.push((new, format!("{new} {rest}")));
        }
    }
    people
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 60, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_later_quarter_alone_restates_nothing(people in people(), back in 1..4u32) {
        let quarter = Quarter::of(horizon(THEN).cut_off).back(back);
        let printed = printed(&tables_up_to(&people, THEN), quarter);
        let (changes, _) = since(&printed, &tables_up_to(&people, NOW));
        prop_assert!(changes.restatements.is_empty(), "{:?}", changes.restatements);
        prop_assert!(!changes.others.iter().any(|changed| has_value(&changed.before)), "{:?}", changes.others);
    }

    #[test]
    fn a_figure_that_corrected_rows_change_is_listed_and_no_other(
        people in people(),
        corrections in prop::collection::vec((any::<usize>(), any::<usize>(), prop::option::of(-40..40i64)), 1..4),
        back in 1..4u32,
    ) {
        let quarter = Quarter::of(horizon(THEN).cut_off).back(back);
        let printed = printed(&tables_up_to(&people, THEN), quarter);
        let (changes, now) = since(&printed, &tables_up_to(&corrected(&people, &corrections), NOW));
        for before in printed.iter().filter(|result| has_value(result)) {
            let after = now.iter().find(|other| is_same_place(before, other));
            let is_same = after.is_some_and(|after| says_the_same(&told(after), &told(before)));
            let own = listed(&changes).find(|changed| is_same_place(&changed.before, before));
            prop_assert_eq!(own.is_none(), is_same, "{:?} became {:?}", before, after);
            if let Some(own) = own {
                prop_assert_eq!(&own.causes, &[Cause::CorrectedData]);
                prop_assert_eq!(own.after.as_ref().map(told), after.map(told));
                let is_restated = changes.restatements.contains(own);
                prop_assert_eq!(is_restated, after.is_some_and(has_value));
            }
        }
    }
}
