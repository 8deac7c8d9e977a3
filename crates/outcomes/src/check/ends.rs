//! Whether an export reaches as far as its cut-off: one made too early, or half, makes people look lost and quarters empty.

use crate::blocks::one_by_one;
use crate::finding::{Finding, Severity};
use crate::rules::{DataHorizon, days_after, days_between};
use crate::tables::Tables;
use chrono::NaiveDate;

/// Days of one span; spans of equal length are compared, since months are not.
const SPAN_DAYS: i64 = 30;
/// Spans before the last one that say what is usual.
const SPANS_BEFORE: usize = 12;
/// Fewer spans with rows have no scatter worth judging.
const FEWEST_SPANS: usize = 6;
/// A table with fewer rows a span is too small to judge.
const FEWEST_ROWS: f64 = 20.0;
/// The last span holds too few rows below this share of the mean.
const TOO_FEW: f64 = 0.5;
/// It must also lie so many standard deviations below the mean.
const DEVIATIONS: f64 = 4.0;

/// Tables whose rows stop before the cut-off, and spans without any row where rows are usual.
pub fn check_ends(tables: &Tables, horizon: &DataHorizon) -> Vec<Finding> {
    let visits = tables.visits.iter().map(|row| row.date).collect();
    let exams = tables.foot_exams.iter().map(|row| row.date).collect();
    let ulcers = (tables.ulcer_observations.iter())
        .map(|row| row.date)
        .collect();
    let events = tables.events.iter().map(|row| row.date).collect();
    let all: [(&str, Vec<NaiveDate>); 4] = [
        ("visits", visits),
        ("foot examinations", exams),
        ("ulcer observations", ulcers),
        ("events", events),
    ];
    let of_table = |(what, dates): &(&str, Vec<NaiveDate>)| -> Vec<Finding> {
        let short = too_few_at_the_end(what, dates, horizon);
        short
            .into_iter()
            .chain(empty_spans(what, dates, horizon))
            .collect()
    };
    one_by_one(&all, of_table).concat()
}

/// Rows in each span, the last one first: the one that ends with the cut-off. Only whole spans after data start.
fn by_span(dates: &[NaiveDate], horizon: &DataHorizon) -> Vec<u64> {
    let n_days = days_between(horizon.data_start, horizon.cut_off) + 1;
    let n_spans = usize::try_from(n_days / SPAN_DAYS).unwrap_or(0);
    let mut spans = vec![0_u64; n_spans];
    for date in dates {
        let back = days_between(*date, horizon.cut_off);
        let place = usize::try_from(back.div_euclid(SPAN_DAYS)).ok();
        if let Some(n) = place.and_then(|place| spans.get_mut(place)) {
            *n += 1;
        }
    }
    spans
}

fn mean(spans: &[u64]) -> f64 {
    spans.iter().sum::<u64>() as f64 / spans.len().max(1) as f64
}

/// The last span against up to twelve before it, whose own scatter says what is usual; rows scatter at least as chance events
/// do.
fn too_few_at_the_end(what: &str, dates: &[NaiveDate], horizon: &DataHorizon) -> Option<Finding> {
    let spans = by_span(dates, horizon);
    let (last, before) = spans.split_first()?;
    // spans at the end that are empty too would pull down what is usual
    let n_empty = before.iter().take_while(|n| **n == 0).count();
    let before = before.get(n_empty..)?;
    let before = before.get(..SPANS_BEFORE).unwrap_or(before);
    if before.len() < FEWEST_SPANS {
        return None;
    }
    let usual = mean(before);
    let squares: f64 = before.iter().map(|n| (*n as f64 - usual).powi(2)).sum();
    let variance = (squares / (before.len() - 1) as f64).max(usual);
    let deviation = (variance * (1.0 + 1.0 / before.len() as f64)).sqrt();
    let is_short = (*last as f64) < TOO_FEW * usual
        && *last as f64 <= DEVIATIONS.mul_add(-deviation, usual).max(0.0);
    let is_short = is_short || (*last == 0 && usual >= FEWEST_ROWS);
    if usual < FEWEST_ROWS || !is_short {
        return None;
    }
    let newest = dates
        .iter()
        .filter(|date| **date <= horizon.cut_off)
        .max()?;
    Some(column_wide(
        "export-ends-early",
        format!(
            "{what}: the last {SPAN_DAYS} days before the cut-off hold {last} rows, usual are {usual:.0}; the newest row lies {} days before the cut-off",
            days_between(*newest, horizon.cut_off)
        ),
        "declare the day up to which the export is complete as `known.cut_off`, or export again: people last seen before the gap look lost",
    ))
}

/// Spans without a row between spans that hold many.
fn empty_spans(what: &str, dates: &[NaiveDate], horizon: &DataHorizon) -> Option<Finding> {
    let spans = by_span(dates, horizon);
    let first = spans.iter().position(|n| *n > 0)?;
    let last = spans.iter().rposition(|n| *n > 0)?;
    let inner = spans.get(first..=last)?;
    let mut filled: Vec<u64> = inner.iter().copied().filter(|n| *n > 0).collect();
    filled.sort_unstable();
    let middle = *filled.get(filled.len() / 2)? as f64;
    let n_empty = inner.iter().filter(|n| **n == 0).count();
    if n_empty == 0 || middle < FEWEST_ROWS || filled.len() < FEWEST_SPANS {
        return None;
    }
    let place = first + inner.iter().rposition(|n| *n == 0)?;
    let back = i64::try_from(place).unwrap_or(0) * SPAN_DAYS;
    let ends = days_after(horizon.cut_off, -back);
    Some(column_wide(
        "export-has-a-gap",
        format!(
            "{what}: {n_empty} spans of {SPAN_DAYS} days hold no row where about {middle:.0} are usual, the first of them ending {}",
            crate::report::words::date(ends)
        ),
        "a file may be missing from the pipeline file, or a part of the export be lost",
    ))
}

fn column_wide(check: &'static str, message: String, hint: &str) -> Finding {
    Finding {
        n: 1,
        check,
        severity: Severity::Note,
        source: None,
        column: None,
        message,
        hint: Some(hint.to_owned()),
    }
}
