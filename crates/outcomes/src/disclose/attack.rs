//! An attacker with every sum at hand tries to work out what is hidden, on random tables.
//!
//! The attacker's sums are written down here from the shape of the tables, not taken from the code under test.

use super::choose::{Reason, choose};
use super::collect::{Weighed, collect};
use super::told::Told;
use microlp::{ComparisonOp, OptimizationDirection, Problem, Variable};
use proptest::prelude::*;
use std::ops::Range;

const SMALL: u64 = 10;
const QUARTERS: [&str; 5] = ["2024 Q1", "2024 Q2", "2024 Q3", "2024 Q4", "2025 Q1"];
const YEARS: [(&str, usize); 2] = [("2024 Q1 to 2024 Q4", 0), ("2024 Q2 to 2025 Q1", 1)];

/// A count of people with and without an outcome in each quarter, by two strata.
#[derive(Debug, Clone)]
struct Practice {
    /// quarter -> stratum -> (with the outcome early, with it later, without it)
    people: Vec<[[u64; 3]; 2]>,
}

fn practice() -> impl Strategy<Value = Practice> {
    let count = prop_oneof![2 => 0u64..4, 2 => 0u64..15, 3 => 8u64..40];
    let cell = [count.clone(), count.clone(), count];
    proptest::collection::vec([cell.clone(), cell], 5).prop_map(|people| Practice { people })
}

fn told(measure: &str, period: &str, stratum: &str, numerator: u64, denominator: u64) -> Told {
    Told {
        measure: measure.to_owned(),
        unit: "share".to_owned(),
        cohort: format!("ulcers first seen in {period}"),
        period: period.to_owned(),
        stratum: stratum.to_owned(),
        numerator: Some(numerator),
        denominator: Some(denominator),
        n_unknown: None,
        is_hidden: false,
        is_part_of_denominator: true,
    }
}

/// A result with the people it counts: quarters, strata, and kinds of people in its numerator.
struct Line {
    told: Told,
    quarters: Range<usize>,
    strata: Vec<usize>,
    kinds: Vec<usize>,
}

impl Practice {
    /// Sum over quarters, strata and kinds of people.
    fn sum(&self, quarters: Range<usize>, strata: &[usize], kinds: &[usize]) -> u64 {
        let of_quarter = |quarter: usize| {
            let strata = strata.iter().map(move |stratum| (quarter, *stratum));
            strata.flat_map(move |(quarter, stratum)| {
                kinds
                    .iter()
                    .map(move |kind| self.people[quarter][stratum][*kind])
            })
        };
        quarters.flat_map(of_quarter).sum()
    }

    /// What a report on the year with this number prints before anything is hidden.
    fn report(&self, year: usize) -> Vec<Line> {
        let (label, first) = YEARS[year];
        let mut results = Vec::new();
        for (measure, kinds) in [
            ("healed-within-12-weeks", vec![0]),
            ("healed-within-24-weeks", vec![0, 1]),
        ] {
            let mut add = |period: &str, range: Range<usize>, stratum: &str, strata: Vec<usize>| {
                let n = self.sum(range.clone(), &strata, &[0, 1, 2]);
                let k = self.sum(range.clone(), &strata, &kinds);
                results.push(Line {
                    told: told(measure, period, stratum, k, n),
                    quarters: range,
                    strata,
                    kinds: kinds.clone(),
                });
            };
            add(label, first..first + 4, "all", vec![0, 1]);
            add(label, first..first + 4, "severity: mild", vec![0]);
            add(label, first..first + 4, "severity: severe", vec![1]);
            for (quarter, label) in QUARTERS.iter().enumerate().take(first + 4) {
                add(label, quarter..quarter + 1, "all", vec![0, 1]);
            }
        }
        results
    }
}

/// Everything an outsider has been told: a sum of elementary counts and its value.
#[derive(Default)]
struct Attack {
    known: Vec<(Vec<usize>, u64)>,
}

/// Elementary counts in the attacker's view: 5 quarters x 2 strata x 3 kinds.
fn elements(range: Range<usize>, strata: &[usize], kinds: &[usize]) -> Vec<usize> {
    let mut elements = Vec::new();
    for quarter in range {
        for stratum in strata {
            elements.extend(kinds.iter().map(|kind| quarter * 6 + stratum * 3 + kind));
        }
    }
    elements
}

impl Attack {
    /// The lowest or highest value of a sum of elementary counts.
    fn bound(&self, wanted: &[usize], direction: OptimizationDirection) -> Option<f64> {
        let mut problem = Problem::new(direction);
        let variables: Vec<Variable> = (0..30)
            .map(|element| {
                let weight = if wanted.contains(&element) { 1.0 } else { 0.0 };
                problem.add_var(weight, (0.0, 1e5))
            })
            .collect();
        for (elements, value) in &self.known {
            let terms: Vec<(Variable, f64)> = elements
                .iter()
                .map(|element| (variables[*element], 1.0))
                .collect();
            problem.add_constraint(terms.as_slice(), ComparisonOp::Eq, *value as f64);
        }
        let solution = problem.solve().ok()?.into_solution().ok()?;
        Some(solution.objective())
    }

    fn width(&self, wanted: &[usize]) -> f64 {
        let lowest = self.bound(wanted, OptimizationDirection::Minimize);
        let highest = self.bound(wanted, OptimizationDirection::Maximize);
        lowest
            .zip(highest)
            .map_or(0.0, |(lowest, highest)| highest - lowest)
    }
}

/// Prints a report into the attacker's knowledge, hiding what `is_hidden` says.
fn print(
    attack: &mut Attack,
    practice: &Practice,
    year: usize,
    is_hidden: impl Fn(usize) -> bool,
) -> Vec<Told> {
    let mut printed = Vec::new();
    for (position, line) in practice.report(year).into_iter().enumerate() {
        let Line {
            told,
            quarters,
            strata,
            kinds,
        } = line;
        if is_hidden(position) {
            printed.push(Told {
                numerator: None,
                denominator: None,
                is_hidden: true,
                ..told
            });
            continue;
        }
        let whole = elements(quarters.clone(), &strata, &[0, 1, 2]);
        attack.known.push((whole, told.denominator.unwrap()));
        attack
            .known
            .push((elements(quarters, &strata, &kinds), told.numerator.unwrap()));
        printed.push(told);
    }
    printed
}

/// Every small count of the reports that is hidden: numerators, rests, denominators, and outcomes between the two horizons.
fn small_and_hidden(practice: &Practice, year: usize, attack: &Attack) -> Vec<Vec<usize>> {
    let mut wanted = Vec::new();
    for line in practice.report(year) {
        let Line {
            quarters,
            strata,
            kinds,
            ..
        } = line;
        let rest: Vec<usize> = [0, 1, 2]
            .into_iter()
            .filter(|kind| !kinds.contains(kind))
            .collect();
        for kinds in [kinds, rest, vec![0, 1, 2], vec![1]] {
            let n = practice.sum(quarters.clone(), &strata, &kinds);
            let elements = elements(quarters.clone(), &strata, &kinds);
            let is_told = attack.known.iter().any(|(known, _)| *known == elements);
            if (1..=SMALL).contains(&n) && !is_told {
                wanted.push(elements);
            }
        }
    }
    wanted
}

fn hide(results: &[Told], earlier: &[Told]) -> Vec<Option<Reason>> {
    let collected = collect(results, earlier);
    let choice = choose(&collected.facts, &collected.items, SMALL);
    let reason = |weighed: &Weighed| match *weighed {
        Weighed::Items { own, .. } => own.and_then(|item| choice.hidden[item]),
        Weighed::Barred => Some(Reason::Overlaps),
    };
    collected.of_result.iter().map(reason).collect()
}

fn results_of(practice: &Practice, year: usize) -> Vec<Told> {
    practice
        .report(year)
        .into_iter()
        .map(|line| line.told)
        .collect()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]

    #[test]
    fn no_hidden_count_can_be_told_from_one_report(practice in practice()) {
        let hidden = hide(&results_of(&practice, 0), &[]);
        let mut attack = Attack::default();
        print(&mut attack, &practice, 0, |position| hidden[position].is_some());
        for wanted in small_and_hidden(&practice, 0, &attack) {
            prop_assert!(attack.width(&wanted) > SMALL as f64 - 1e-6, "{wanted:?} told to within {}", attack.width(&wanted));
        }
    }

    #[test]
    fn no_hidden_count_can_be_told_from_two_reports_in_a_row(practice in practice()) {
        let first = hide(&results_of(&practice, 0), &[]);
        let mut attack = Attack::default();
        let printed = print(&mut attack, &practice, 0, |position| first[position].is_some());
        let second = hide(&results_of(&practice, 1), &printed);
        print(&mut attack, &practice, 1, |position| second[position].is_some());
        for year in [0, 1] {
            for wanted in small_and_hidden(&practice, year, &attack) {
                prop_assert!(attack.width(&wanted) > SMALL as f64 - 1e-6, "{wanted:?} told to within {}", attack.width(&wanted));
            }
        }
    }

    #[test]
    fn only_what_must_be_is_hidden(practice in practice()) {
        let results = results_of(&practice, 0);
        let is_small = |n: u64| (1..=SMALL).contains(&n);
        let shows_small = |told: &Told| {
            let (k, n) = (told.numerator.unwrap(), told.denominator.unwrap());
            is_small(k) || is_small(n) || is_small(n - k)
        };
        for (told, hidden) in results.iter().zip(hide(&results, &[])) {
            prop_assert_eq!(hidden == Some(Reason::Small), shows_small(told));
        }
    }
}

#[test]
fn the_attack_succeeds_where_only_small_results_are_hidden() {
    // Quarters of 20, 3, 20, 20 with an outcome among 40 each: hiding the 3 alone leaves it at 63 - 60.
    let quarter = |k: u64| [[k, 0, 20], [0, 0, 20]];
    let practice = Practice {
        people: vec![
            quarter(20),
            quarter(3),
            quarter(20),
            quarter(20),
            quarter(20),
        ],
    };
    let results = results_of(&practice, 0);
    let mut weak = Attack::default();
    let is_small = |position: usize| {
        let told: &Told = &results[position];
        (1..=SMALL).contains(&told.numerator.unwrap())
    };
    print(&mut weak, &practice, 0, is_small);
    let wanted = elements(1..2, &[0, 1], &[0]);
    assert!(weak.width(&wanted) < 1e-6);
    let hidden = hide(&results, &[]);
    let mut strong = Attack::default();
    print(&mut strong, &practice, 0, |position| {
        hidden[position].is_some()
    });
    assert!(strong.width(&wanted) > SMALL as f64);
}
