//! From results to facts: which counts each result prints, and which sums an outsider can set up between them.

use super::choose::Item;
use super::facts::{CellId, Facts, Loss};
use super::told::{Told, quarters};
use std::collections::{BTreeMap, BTreeSet};

/// Results with the facts they would print.
#[derive(Debug, Clone, Default)]
pub(super) struct Collected {
    /// Counts and sums.
    pub(super) facts: Facts,
    /// What each result prints, and what its number of unknown outcomes prints.
    pub(super) items: Vec<Item>,
    /// One entry a result.
    pub(super) of_result: Vec<Weighed>,
}

/// How a result is weighed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Weighed {
    /// By what it prints and what its number of unknown outcomes prints; `None` where it has no count.
    Items {
        own: Option<usize>,
        unknown: Option<usize>,
    },
    /// Not at all: it may not be printed.
    Barred,
}

/// The counts of a result, as cells.
#[derive(Debug, Clone, Copy)]
struct Cells {
    numerator: Option<CellId>,
    rest: Option<CellId>,
    denominator: Option<CellId>,
}

/// Collects what results would give away, next to what earlier public reports gave away.
pub(super) fn collect(results: &[Told], earlier: &[Told]) -> Collected {
    let mut collected = Collected::default();
    let places = places(results);
    for result in results {
        if result.is_barred_by(earlier) {
            collected.of_result.push(Weighed::Barred);
            continue;
        }
        let cells = add_counts(&mut collected.facts, result);
        let own = cells.map(|cells| {
            let printed = [cells.numerator, cells.rest, cells.denominator];
            let loss = Loss {
                class: class(result),
                place_from_end: places
                    .get(result.measure.as_str())
                    .copied()
                    .unwrap_or_default(),
                ..Loss::default()
            };
            push(
                &mut collected,
                printed.into_iter().flatten().collect(),
                loss,
                None,
            )
        });
        let unknown = match (own, cells) {
            (Some(own), Some(cells)) => add_unknown(&mut collected.facts, result, cells)
                .map(|cells| push(&mut collected, cells, Loss::default(), Some(own))),
            _ => None,
        };
        collected.of_result.push(Weighed::Items { own, unknown });
    }
    for result in earlier {
        add_earlier(&mut collected.facts, result);
    }
    let weighed = results
        .iter()
        .filter(|result| !result.is_barred_by(earlier));
    let every: Vec<&Told> = weighed.chain(earlier).collect();
    add_periods(&mut collected.facts, &every);
    add_strata(&mut collected.facts, &every);
    add_classes(&mut collected.facts, &every);
    add_nested(&mut collected.facts, &every);
    collected
}

/// Places of the measures counted from the end of the catalogue: the first measure has the highest.
fn places(results: &[Told]) -> BTreeMap<&str, usize> {
    let mut places = BTreeMap::new();
    let n = results.len();
    for (position, result) in results.iter().enumerate() {
        places
            .entry(result.measure.as_str())
            .or_insert(n - position);
    }
    places
}

/// 0 a quarter, 1 a stratum of a year, 2 the whole of a year.
fn class(result: &Told) -> u8 {
    match (quarters(&result.period).len(), result.base()) {
        (0 | 1, _) => 0,
        (_, "all") => 2,
        _ => 1,
    }
}

fn push(collected: &mut Collected, cells: Vec<CellId>, loss: Loss, needs: Option<usize>) -> usize {
    for &cell in &cells {
        if let Some(cell) = collected.facts.cell_mut(cell) {
            cell.loss = cell.loss.max(loss);
        }
    }
    collected.items.push(Item { cells, needs });
    collected.items.len() - 1
}

/// Keys say what is counted, so that two results that count the same thing share a cell.
fn numerator_key(result: &Told, period: &str) -> String {
    format!(
        "numerator|{}|{}|{period}|{}",
        result.measure, result.unit, result.stratum
    )
}

fn rest_key(result: &Told) -> String {
    let Told {
        measure,
        unit,
        period,
        stratum,
        ..
    } = result;
    format!("rest|{measure}|{unit}|{period}|{stratum}")
}

/// Measures that count the same cohort share its denominator, unless they leave out different people.
fn denominator_key(facts: &Facts, result: &Told) -> String {
    let shared = format!("denominator|{}|{}", result.cohort, result.base());
    let known = facts.find(&shared).and_then(|id| facts.cells().get(id));
    let truth = known.and_then(|cell| cell.truth);
    match truth.zip(result.denominator) {
        Some((known, own)) if known != own => format!("{shared}|{own}"),
        _ => shared,
    }
}

fn add_counts(facts: &mut Facts, result: &Told) -> Option<Cells> {
    let numerator = result.numerator;
    let denominator = result.denominator;
    if numerator.is_none() && denominator.is_none() {
        return None;
    }
    let numerator_cell = numerator.map(|n| {
        let key = numerator_key(result, &result.period);
        facts.cell(key, Some(n))
    });
    let denominator_cell = denominator.map(|n| {
        let key = denominator_key(facts, result);
        facts.cell(key, Some(n))
    });
    let is_part = result.is_part_of_denominator;
    let rest = match (numerator, denominator) {
        (Some(part), Some(whole)) if is_part && part <= whole => {
            let rest = facts.cell(rest_key(result), Some(whole - part));
            if let (Some(numerator), Some(denominator)) = (numerator_cell, denominator_cell) {
                facts.add_sum(denominator, vec![numerator, rest]);
            }
            Some(rest)
        }
        _ => None,
    };
    Some(Cells {
        numerator: numerator_cell,
        rest,
        denominator: denominator_cell,
    })
}

/// Unknown outcomes, and those known not to have had the event.
fn add_unknown(facts: &mut Facts, result: &Told, cells: Cells) -> Option<Vec<CellId>> {
    let unknown = result.n_unknown?;
    let cell = facts.rest(Some(unknown));
    let mut printed = vec![cell];
    if let Some(rest) = cells.rest
        && let Some(truth) = facts.cells().get(rest)?.truth
        && let Some(known) = truth.checked_sub(unknown)
    {
        let known = facts.rest(Some(known));
        facts.add_sum(rest, vec![cell, known]);
        printed.push(known);
    }
    Some(printed)
}

/// What an earlier public report printed or hid. A count that has been corrected since is another count, and is left out.
fn add_earlier(facts: &mut Facts, result: &Told) {
    let numerator_key = numerator_key(result, &result.period);
    let differs = |facts: &Facts, key: &str, count: Option<u64>| {
        let known = facts.find(key).and_then(|id| facts.cells().get(id));
        let truth = known.and_then(|cell| cell.truth);
        truth.zip(count).is_some_and(|(now, then)| now != then)
    };
    if differs(facts, &numerator_key, result.numerator) {
        return;
    }
    let numerator = facts.cell(numerator_key, result.numerator);
    let denominator_key = denominator_key(facts, result);
    let denominator = facts.cell(denominator_key, result.denominator);
    let mut cells = vec![numerator, denominator];
    if result.is_part_of_denominator {
        let known = |id: usize| facts.cells().get(id).and_then(|cell| cell.truth);
        let truth = known(denominator)
            .zip(known(numerator))
            .and_then(|(whole, part)| whole.checked_sub(part));
        let rest = facts.cell(rest_key(result), truth);
        facts.add_sum(denominator, vec![numerator, rest]);
        cells.push(rest);
    }
    for cell in cells {
        if let Some(cell) = facts.cell_mut(cell) {
            cell.is_out |= !result.is_hidden && cell.truth.is_some();
            cell.stays_hidden |= result.is_hidden;
        }
    }
}

/// A year is the sum of its quarters, those that no report prints included.
fn add_periods(facts: &mut Facts, results: &[&Told]) {
    for result in results {
        let quarters = quarters(&result.period);
        if quarters.len() < 2 {
            continue;
        }
        let whole = numerator_key(result, &result.period);
        let Some(whole) = facts.find(&whole) else {
            continue;
        };
        let parts: Vec<CellId> = quarters
            .iter()
            .map(|quarter| {
                let key = numerator_key(result, &quarter.to_string());
                facts.cell(key, None)
            })
            .collect();
        add_true_sum(facts, whole, parts);
    }
    // Denominators are tied to cohorts; the quarters of one measure and stratum add up to its year.
    for result in results
        .iter()
        .filter(|result| result.denominator.is_some() || result.is_hidden)
    {
        let quarters = quarters(&result.period);
        let find = |period: &str| {
            results.iter().find(|other| {
                other.measure == result.measure
                    && other.stratum == result.stratum
                    && other.unit == result.unit
                    && other.period == period
            })
        };
        let parts: Option<Vec<CellId>> = quarters
            .iter()
            .map(|quarter| denominator(facts, find(&quarter.to_string())?))
            .collect();
        if quarters.len() > 1
            && let Some(parts) = parts
            && let Some(whole) = denominator(facts, result)
        {
            add_true_sum(facts, whole, parts);
        }
    }
}

fn denominator(facts: &Facts, result: &Told) -> Option<CellId> {
    facts.find(&denominator_key(facts, result))
}

/// Adds a sum only where the counts bear it out; where they fall short of the whole, a rest is added.
fn add_true_sum(facts: &mut Facts, whole: CellId, mut parts: Vec<CellId>) {
    let truth = |facts: &Facts, id: CellId| facts.cells().get(id).and_then(|cell| cell.truth);
    let known: u64 = parts.iter().filter_map(|&part| truth(facts, part)).sum();
    let is_complete = parts.iter().all(|&part| truth(facts, part).is_some());
    let Some(total) = truth(facts, whole) else {
        facts.add_sum(whole, parts);
        return;
    };
    match total.checked_sub(known) {
        None => return,
        Some(0) => {}
        Some(missing) if is_complete => {
            let rest = facts.rest(Some(missing));
            parts.push(rest);
        }
        Some(_) => {}
    }
    facts.add_sum(whole, parts);
}

/// Strata of one kind add up to all.
fn add_strata(facts: &mut Facts, results: &[&Told]) {
    for all in results.iter().filter(|result| result.base() == "all") {
        let mut by_kind: BTreeMap<&str, Vec<&Told>> = BTreeMap::new();
        for result in results {
            let is_same = result.measure == all.measure
                && result.period == all.period
                && result.unit == all.unit
                && result.day() == all.day();
            let base = result.base();
            if is_same && base != "all" {
                let kind = base.split_once(": ").map_or("", |(kind, _)| kind);
                by_kind.entry(kind).or_default().push(result);
            }
        }
        for parts in by_kind.values() {
            let numerators: Option<Vec<CellId>> = parts
                .iter()
                .map(|part| facts.find(&numerator_key(part, &part.period)))
                .collect();
            let whole = facts.find(&numerator_key(all, &all.period));
            if let (Some(whole), Some(numerators)) = (whole, numerators) {
                add_true_sum(facts, whole, numerators);
            }
            let denominators: Option<Vec<CellId>> =
                parts.iter().map(|part| denominator(facts, part)).collect();
            if let (Some(whole), Some(denominators)) = (denominator(facts, all), denominators) {
                add_true_sum(facts, whole, denominators);
            }
        }
    }
}

/// Where a measure has classes and no total, the classes add up to the denominator they share.
fn add_classes(facts: &mut Facts, results: &[&Told]) {
    let mut groups: BTreeMap<(&str, &str, u64), Vec<&Told>> = BTreeMap::new();
    for result in results {
        if let Some(n) = result.denominator {
            let key = (result.measure.as_str(), result.period.as_str(), n);
            groups.entry(key).or_default().push(result);
        }
    }
    for ((_, _, n), group) in groups {
        // A class may stand both in a table and in a bar: it is one count.
        let mut seen = BTreeSet::new();
        let classes: Vec<&Told> = group
            .iter()
            .copied()
            .filter(|result| seen.insert(result.stratum.as_str()))
            .collect();
        let total: u64 = classes.iter().filter_map(|result| result.numerator).sum();
        let has_total = classes.iter().any(|result| result.base() == "all");
        if classes.len() < 2 || has_total || total != n {
            continue;
        }
        let parts: Vec<CellId> = classes
            .iter()
            .filter_map(|result| facts.find(&numerator_key(result, &result.period)))
            .collect();
        for result in &group {
            if let Some(whole) = denominator(facts, result) {
                facts.add_sum(whole, parts.clone());
            }
        }
    }
}

/// What happened by an earlier day happened by a later one too: the difference is a count that nobody prints and anybody
/// can compute.
fn add_nested(facts: &mut Facts, results: &[&Told]) {
    type Chain = (String, String, String, String);
    let mut chains: BTreeMap<Chain, Vec<(u32, CellId)>> = BTreeMap::new();
    for result in results {
        let (base, facet) = (result.base(), result.day());
        let (stem, horizon) = match (facet, result.stem()) {
            (Some(days), _) => (result.measure.clone(), days),
            (None, Some((stem, days))) => (stem.to_owned(), days),
            (None, None) => continue,
        };
        let key = numerator_key(result, &result.period);
        if let Some(cell) = facts.find(&key) {
            let chain = (
                stem,
                result.cohort.clone(),
                base.to_owned(),
                result.unit.clone(),
            );
            chains.entry(chain).or_default().push((horizon, cell));
        }
    }
    for mut chain in chains.into_values() {
        chain.sort_unstable();
        chain.dedup();
        for pair in chain.windows(2) {
            let (earlier, later) = (pair[0].1, pair[1].1);
            let cell = |id: CellId| facts.cells().get(id).cloned();
            let (Some(few), Some(many)) = (cell(earlier), cell(later)) else {
                continue;
            };
            let truth = match few.truth.zip(many.truth) {
                Some((few, many)) if few > many => continue,
                Some((few, many)) => Some(many - few),
                None => None,
            };
            let between = facts.rest(truth);
            facts.add_sum(later, vec![earlier, between]);
            if let Some(between) = facts.cell_mut(between) {
                between.stays_hidden = few.stays_hidden || many.stays_hidden;
            }
        }
    }
}
