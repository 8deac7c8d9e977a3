//! An attack on the public copy of the sample practice as it is printed: everything an outsider can set up from its report.json,
//! written apart from the code that hides, and solved by passing bounds along until nothing moves.
//!
//! The rule tried is the one the copy promises: no hidden count from 1 to 10 can be told to within 10.

use crate::support::sample_run;
use serde_json::Value;
use std::collections::BTreeMap;

const LIMIT: f64 = 10.0;

/// Measure, period, stratum and which count of it.
type Cell = (String, String, String, &'static str);

/// A sum of cells that is at most a number.
struct AtMost {
    terms: Vec<(Cell, f64)>,
    bound: f64,
}

#[derive(Default)]
struct Attack {
    range: BTreeMap<Cell, (f64, f64)>,
    facts: Vec<AtMost>,
}

impl Attack {
    fn cell(&mut self, cell: &Cell) {
        self.range.entry(cell.clone()).or_insert((0.0, 100_000.0));
    }

    fn at_most(&mut self, terms: &[(&Cell, f64)], bound: f64) {
        for (cell, _) in terms {
            self.cell(cell);
        }
        let terms = terms
            .iter()
            .map(|(cell, factor)| ((*cell).clone(), *factor))
            .collect();
        self.facts.push(AtMost { terms, bound });
    }

    fn equal(&mut self, terms: &[(&Cell, f64)]) {
        let turned: Vec<(&Cell, f64)> = terms
            .iter()
            .map(|(cell, factor)| (*cell, -factor))
            .collect();
        self.at_most(terms, 0.0);
        self.at_most(&turned, 0.0);
    }

    /// Passes bounds along every fact until none moves.
    fn solve(&mut self) {
        loop {
            let mut has_moved = false;
            for fact in &self.facts {
                let least = |(cell, factor): &(Cell, f64)| {
                    let (low, high) = self.range[cell];
                    if *factor > 0.0 {
                        factor * low
                    } else {
                        factor * high
                    }
                };
                let total: f64 = fact.terms.iter().map(least).sum();
                for term in &fact.terms {
                    let room = (fact.bound - (total - least(term))) / term.1;
                    let (low, high) = self.range[&term.0];
                    let (new_low, new_high) = if term.1 > 0.0 {
                        (low, high.min((room + 1e-6).floor()))
                    } else {
                        (low.max((room - 1e-6).ceil()), high)
                    };
                    if new_low > low || new_high < high {
                        self.range.insert(term.0.clone(), (new_low, new_high));
                        has_moved = true;
                        break;
                    }
                }
            }
            if !has_moved {
                return;
            }
        }
    }
}

fn results(report: &Value) -> Vec<&Value> {
    let families = report["families"].as_array().unwrap().iter();
    let sheets = families.flat_map(|family| family["measures"].as_array().unwrap());
    sheets
        .flat_map(|sheet| sheet["results"].as_array().unwrap())
        .collect()
}

fn cell_of(result: &Value, count: &'static str) -> Cell {
    let text = |key: &str| result[key].as_str().unwrap().to_owned();
    (text("measure"), text("period"), text("stratum"), count)
}

fn text<'v>(result: &'v Value, key: &str) -> &'v str {
    result[key].as_str().unwrap()
}

const STATUSES: &[&str] = &["ulcer-free-at-12-weeks", "ulcer-free-at-24-weeks"];

/// What one printed result says of its own counts.
fn read_result(attack: &mut Attack, result: &Value) {
    let [part, rest, whole, unknown] =
        ["numerator", "rest", "denominator", "n_unknown"].map(|count| cell_of(result, count));
    for (key, cell) in [
        ("numerator", &part),
        ("denominator", &whole),
        ("n_unknown", &unknown),
    ] {
        match result[key]["shown"].as_f64() {
            Some(n) => {
                attack.at_most(&[(cell, 1.0)], n);
                attack.at_most(&[(cell, -1.0)], -n);
            }
            // Zero is never hidden on its own account, but a result may be hidden whole: nothing is known of it.
            None if !result[key].is_null() => attack.cell(cell),
            None => {}
        }
    }
    if result["numerator"].is_null() || result["denominator"].is_null() {
        return;
    }
    attack.equal(&[(&part, 1.0), (&rest, 1.0), (&whole, -1.0)]);
    let is_status = STATUSES.contains(&text(result, "measure"));
    if result["n_unknown"].is_null() {
        return;
    }
    let is_complement = text(result, "measure").contains("kept");
    if !is_status {
        attack.at_most(&[(&part, 1.0), (&unknown, 1.0), (&whole, -1.0)], 0.0);
    }
    // The share printed, in whole percentages, lies between all unknown outcomes being "no" and all being "yes".
    let share = result["value"]["estimate"].as_f64();
    if let (Some(share), Some(n)) = (share, result["denominator"]["shown"].as_f64()) {
        if is_status {
            attack.at_most(&[(&part, 1.0)], (share + 0.0051) * n);
            attack.at_most(&[(&part, -1.0)], -(share - 0.0051) * n);
        } else if !is_complement {
            attack.at_most(&[(&part, 1.0)], (share + 0.0051) * n);
            attack.at_most(&[(&part, -1.0), (&unknown, -1.0)], -(share - 0.0051) * n);
        }
    }
}

/// What results say of each other: years and quarters, strata and the whole, one day and a later one.
fn tie(attack: &mut Attack, all: &[&Value]) {
    let counts = ["numerator", "rest", "denominator", "n_unknown"];
    let has = |result: &Value, count: &str| count == "rest" || !result[count].is_null();
    for whole in all {
        let (measure, period, stratum) = (
            text(whole, "measure"),
            text(whole, "period"),
            text(whole, "stratum"),
        );
        let of_measure: Vec<&&Value> = all
            .iter()
            .filter(|other| text(other, "measure") == measure)
            .collect();
        if let Some((first, last)) = period.split_once(" to ") {
            let quarters: Vec<&&&Value> = of_measure
                .iter()
                .filter(|other| {
                    let own = text(other, "period");
                    !own.contains(" to ")
                        && own >= first
                        && own <= last
                        && text(other, "stratum") == stratum
                })
                .collect();
            if quarters.len() == 4 {
                for count in counts.into_iter().filter(|count| has(whole, count)) {
                    let parts: Vec<Cell> = quarters
                        .iter()
                        .map(|quarter| cell_of(quarter, count))
                        .collect();
                    let total = cell_of(whole, count);
                    let mut terms: Vec<(&Cell, f64)> =
                        parts.iter().map(|part| (part, 1.0)).collect();
                    terms.push((&total, -1.0));
                    attack.equal(&terms);
                }
            }
            let suffix = if stratum == "all" { "" } else { stratum };
            let is_whole = stratum == "all" || stratum.starts_with("within ");
            let strata: Vec<&&&Value> = of_measure
                .iter()
                .filter(|other| {
                    let own = text(other, "stratum");
                    let is_part = own != stratum
                        && !own.starts_with("within ")
                        && !own.starts_with("observed");
                    text(other, "period") == period
                        && is_part
                        && (suffix.is_empty() || own.ends_with(&format!(", {suffix}")))
                })
                .collect();
            if is_whole && !strata.is_empty() {
                for count in counts.into_iter().filter(|count| has(whole, count)) {
                    let parts: Vec<Cell> = strata.iter().map(|part| cell_of(part, count)).collect();
                    let total = cell_of(whole, count);
                    let mut terms: Vec<(&Cell, f64)> =
                        parts.iter().map(|part| (part, 1.0)).collect();
                    terms.push((&total, -1.0));
                    attack.equal(&terms);
                }
            }
        }
        if measure == "risk-tier-distribution" {
            let classes: Vec<&&&Value> = of_measure
                .iter()
                .filter(|other| text(other, "period") == period)
                .collect();
            let parts: Vec<Cell> = classes
                .iter()
                .map(|class| cell_of(class, "numerator"))
                .collect();
            let total = cell_of(whole, "denominator");
            let mut terms: Vec<(&Cell, f64)> = parts.iter().map(|part| (part, 1.0)).collect();
            terms.push((&total, -1.0));
            attack.equal(&terms);
        }
        // An outcome by one day is one by every later day.
        let day = |stratum: &str| -> Option<(String, u32)> {
            let (before, after) = stratum.rsplit_once("within ")?;
            Some((before.to_owned(), after.split(' ').next()?.parse().ok()?))
        };
        if let Some((kind, first)) = day(stratum) {
            for later in of_measure
                .iter()
                .filter(|later| text(later, "period") == period)
            {
                if day(text(later, "stratum"))
                    .is_some_and(|(other, last)| other == kind && last > first)
                {
                    attack.at_most(
                        &[
                            (&cell_of(whole, "numerator"), 1.0),
                            (&cell_of(later, "numerator"), -1.0),
                        ],
                        0.0,
                    );
                    attack.equal(&[
                        (&cell_of(whole, "denominator"), 1.0),
                        (&cell_of(later, "denominator"), -1.0),
                    ]);
                }
            }
        }
        if measure == "healed-within-12-weeks" {
            let same = |id: &'static str, count: &'static str| {
                (id.to_owned(), period.to_owned(), stratum.to_owned(), count)
            };
            let later = all.iter().find(|other| {
                text(other, "measure") == "healed-within-24-weeks"
                    && text(other, "period") == period
            });
            if later.is_some_and(|later| {
                later["value"]["kind"] != "not-yet" && !later["numerator"].is_null()
            }) {
                attack.at_most(
                    &[
                        (&cell_of(whole, "numerator"), 1.0),
                        (&same("healed-within-24-weeks", "numerator"), -1.0),
                    ],
                    0.0,
                );
            }
        }
    }
}

#[test]
fn no_hidden_small_count_of_the_printed_public_copy_can_be_told_more_closely_than_one_to_ten() {
    let out = sample_run();
    let read = |name: &str| -> Value {
        serde_json::from_slice(&std::fs::read(out.join(name)).unwrap()).unwrap()
    };
    let (public, clinic) = (read("public/report.json"), read("clinic/report.json"));
    let printed: Vec<&Value> = results(&public)
        .into_iter()
        .filter(|result| result["value"]["kind"] != "not-yet")
        .collect();
    let mut attack = Attack::default();
    for result in &printed {
        read_result(&mut attack, result);
    }
    tie(&mut attack, &printed);
    attack.solve();

    let (mut n_hidden, mut n_known) = (0, 0);
    let mut told: Vec<String> = Vec::new();
    for truth in results(&clinic) {
        for count in ["numerator", "rest", "denominator", "n_unknown"] {
            let cell = cell_of(truth, count);
            let shown = |count: &str| truth[count]["shown"].as_f64();
            let n = match count {
                "rest" => shown("denominator")
                    .zip(shown("numerator"))
                    .map(|(all, own)| all - own),
                _ => shown(count),
            };
            let (Some(n), Some((low, high))) = (n, attack.range.get(&cell)) else {
                continue;
            };
            assert!(
                *low <= n && n <= *high,
                "the attack reasons wrongly about {cell:?}: {n} is not in {low} to {high}"
            );
            let is_printed = printed.iter().any(|result| {
                let is_shown = |count: &str| !result[count]["shown"].is_null();
                cell_of(result, count) == cell
                    && match count {
                        "rest" => is_shown("numerator") && is_shown("denominator"),
                        _ => is_shown(count),
                    }
            });
            if is_printed {
                n_known += 1;
            } else if (1.0..=LIMIT).contains(&n) {
                n_hidden += 1;
                if high - low < LIMIT - 1.0 {
                    told.push(format!(
                        "{cell:?} is {n} and can be told to lie from {low} to {high}"
                    ));
                }
            }
        }
    }
    assert!(told.is_empty(), "{}", told.join("\n"));
    assert!(
        n_hidden > 50 && n_known > 50,
        "{n_hidden} hidden small counts, {n_known} printed"
    );
}

#[test]
fn the_attack_finds_a_count_that_is_a_year_less_its_other_quarters() {
    let cell = |period: &str| {
        (
            "m".to_owned(),
            period.to_owned(),
            "all".to_owned(),
            "numerator",
        )
    };
    let (year, quarters) = (cell("y"), ["1", "2", "3", "4"].map(cell));
    let mut attack = Attack::default();
    for (cell, n) in [
        (&year, 60.0),
        (&quarters[0], 20.0),
        (&quarters[1], 18.0),
        (&quarters[2], 15.0),
    ] {
        attack.at_most(&[(cell, 1.0)], n);
        attack.at_most(&[(cell, -1.0)], -n);
    }
    let mut terms: Vec<(&Cell, f64)> = quarters.iter().map(|quarter| (quarter, 1.0)).collect();
    terms.push((&year, -1.0));
    attack.equal(&terms);
    attack.solve();
    assert_eq!(attack.range[&quarters[3]], (7.0, 7.0));
}
