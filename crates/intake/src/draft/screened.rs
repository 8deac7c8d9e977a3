//! The screen for identifiers over the sampled rows, each column looked at as its drafted line would have it read.

use super::assign::Plan;
use super::judge::{Expect, Line, Sureness, expect};
use super::orders::form;
use super::sample::Sampled;
use crate::dates::{DateOrder, read_date};
use crate::screen::{Screen, Use};
use chrono::NaiveDate;
use outcomes::finding::Severity;
use outcomes::rules::DataHorizon;
use outcomes::tables::SourceRow;

/// Columns that look like what identifies a person: file, header, check; each once.
pub(super) fn identifying(files: &[Sampled], plan: &Plan) -> Vec<(String, String, &'static str)> {
    let horizon = horizon(files, plan);
    let mut found = Vec::new();
    for (number, file) in files.iter().enumerate() {
        let lines: Vec<&Line> = (plan.lines.iter())
            .filter(|(of, _)| *of == number)
            .map(|(_, line)| line)
            .collect();
        let uses: Vec<Use> = (0..file.headers.len())
            .map(|place| used(&lines, place))
            .collect();
        let mut screen = Screen::new(&file.headers, &uses, &horizon);
        for row in &file.rows {
            screen.look(row, SourceRow::default());
        }
        for finding in screen.findings(&file.name, |_| None) {
            let Some(column) = finding
                .column
                .filter(|_| finding.severity == Severity::Stop)
            else {
                continue;
            };
            let is_known = found
                .iter()
                .any(|(of, known, _)| *of == file.name && *known == column);
            if !is_known {
                found.push((file.name.clone(), column, finding.check));
            }
        }
    }
    found
}

/// A column of a sure line is looked at as that line reads it; every other as open text.
fn used(lines: &[&Line], place: usize) -> Use {
    let line = lines
        .iter()
        .find(|line| line.sureness == Sureness::Sure && line.columns.contains(&place));
    let Some(line) = line else { return Use::Open };
    match expect(line.section, line.field) {
        Expect::Id => Use::PatientId,
        Expect::Name => Use::Open,
        Expect::Date => line
            .orders
            .and_then(|orders| orders.decided())
            .map_or(Use::Open, |order| Use::Date(form(order))),
        Expect::BirthYear => Use::BirthYear,
        Expect::Number(_) | Expect::Year | Expect::Codes(..) => Use::Closed,
    }
}

/// The days between which visits lie, as far as the sample shows; births are told from visits by them.
fn horizon(files: &[Sampled], plan: &Plan) -> DataHorizon {
    let mut days: Vec<NaiveDate> = plan
        .lines
        .iter()
        .filter(|(_, line)| line.field == "date")
        .filter_map(|(number, line)| Some((files.get(*number)?, line)))
        .flat_map(|(file, line)| {
            let order = line.orders.and_then(|orders| orders.decided());
            let order = order.unwrap_or(DateOrder::DayFirst);
            file.cells(&line.columns)
                .filter_map(move |cell| Some(read_date(cell, form(order)).ok()?.date))
        })
        .collect();
    days.sort_unstable();
    // a few mistyped dates do not stretch the span
    let at = |share: usize| days.get(days.len() * share / 100).copied();
    let first = at(2)
        .or_else(|| NaiveDate::from_ymd_opt(2000, 1, 1))
        .unwrap_or(NaiveDate::MIN);
    let last = at(98)
        .or_else(|| days.last().copied())
        .or_else(|| NaiveDate::from_ymd_opt(2030, 12, 31))
        .unwrap_or(NaiveDate::MAX);
    DataHorizon {
        data_start: first,
        cut_off: last,
        deaths_known_to: last,
        procedures_known_to: last,
    }
}
