//! One measure on paper: its newest values, what they mean, and where the definition comes from.

use super::block::{Block, Cell, Column, Row, Table, Term, cell, numbers, row, words};
use crate::page::{bounds_words, direction_words, fraction, interval, interval_kinds};
use crate::wording;
use outcomes::report::{Audience, MeasureResult, MeasureSheet};

/// Results on paper in a copy that is not the auditor's, those that complete a cohort aside; all of them are in report.json.
const NEWEST: usize = 8;
const ABSENT: &str = "–";

/// Adds the sheet of a measure.
pub(super) fn sheet(sheet: &MeasureSheet, audience: Audience, blocks: &mut Vec<Block>) {
    let is_full = audience == Audience::Auditor;
    blocks.push(Block::Heading {
        words: sheet.title.clone(),
    });
    blocks.push(Block::Paragraph {
        words: sheet.words.clone(),
    });
    if !sheet.speaks_of.is_empty() {
        blocks.push(Block::Note {
            words: sheet.speaks_of.clone(),
        });
    }
    let shown = if is_full {
        &sheet.results
    } else {
        newest(&sheet.results)
    };
    if shown.is_empty() {
        blocks.push(Block::Paragraph {
            words: "No cohort of this measure falls into this report.".to_owned(),
        });
    } else {
        let kinds = interval_kinds(shown);
        blocks.push(Block::Table(table(shown, kinds.len() > 1)));
        if let Some(kind) = kinds.first().filter(|_| kinds.len() == 1) {
            blocks.push(Block::Note {
                words: format!("Intervals: {kind}."),
            });
        }
    }
    if sheet.results.len() > shown.len() {
        let more = wording::whole((sheet.results.len() - shown.len()) as u64);
        blocks.push(Block::Note {
            words: format!("Earlier and other cohorts, in report.html: {more}."),
        });
    }
    splits(sheet, is_full, blocks);
    if !sheet.caution.is_empty() {
        blocks.push(Block::Caution {
            words: format!("Keep in mind: {}", sheet.caution),
        });
    }
    if !sheet.context.is_empty() {
        blocks.push(Block::Note {
            words: "Published figures, for context and not a target:".to_owned(),
        });
        blocks.push(Block::List {
            items: sheet.context.clone(),
        });
    }
    if is_full {
        blocks.push(Block::Terms {
            terms: meaning(sheet),
        });
    }
}

/// The newest results, the last cohort among them whole.
fn newest(results: &[MeasureResult]) -> &[MeasureResult] {
    let is_cut = |n: usize| match (
        n.checked_sub(1).and_then(|last| results.get(last)),
        results.get(n),
    ) {
        (Some(last), Some(next)) => last.cohort == next.cohort,
        _ => false,
    };
    let n = (NEWEST..results.len()).find(|n| !is_cut(*n));
    results.get(..n.unwrap_or(results.len())).unwrap_or(results)
}

/// The tables by stratum: all of them in the auditor's copy; elsewhere they would crowd out the rest.
fn splits(sheet: &MeasureSheet, is_full: bool, blocks: &mut Vec<Block>) {
    if !is_full {
        if !sheet.splits.is_empty() {
            let titles: Vec<String> = sheet
                .splits
                .iter()
                .map(|split| split.title.to_lowercase())
                .collect();
            blocks.push(Block::Note {
                words: format!("In report.html: {}.", titles.join("; ")),
            });
        }
        return;
    }
    for split in &sheet.splits {
        let kinds = interval_kinds(&split.results);
        blocks.push(Block::Subheading {
            words: split.title.clone(),
        });
        blocks.push(Block::Table(table(&split.results, kinds.len() > 1)));
        let kind = kinds.first().filter(|_| kinds.len() == 1);
        let kind = kind.map_or_else(String::new, |kind| format!(" Intervals: {kind}."));
        blocks.push(Block::Note {
            words: format!(
                "Stratum: {}.{kind} Strata differ in whom they treat; nobody is ranked.",
                split.words
            ),
        });
    }
}

fn meaning(sheet: &MeasureSheet) -> Vec<Term> {
    [
        ("Numerator", sheet.numerator.as_str()),
        ("Denominator", &sheet.denominator),
        ("Left out", &sheet.exclusions),
        ("Mature when", &sheet.maturity),
        ("Direction", direction_words(&sheet.direction)),
        ("Source", &sheet.source),
        ("Measure id", &sheet.id),
    ]
    .map(|(word, meaning)| Term {
        word: word.to_owned(),
        meaning: meaning.to_owned(),
    })
    .into()
}

/// A way to fill a column from a result; `None` where the result has nothing to say there.
type Part = fn(&MeasureResult) -> Option<String>;

/// Columns of a value table after the cohort; one that no result fills is left out.
fn parts() -> [(Column, Part); 5] {
    [
        (numbers("Value", 3), |result| {
            Some(wording::value(&result.value, result.unit))
        }),
        (numbers("Interval", 2), |result| {
            wording::value_limits(&result.value, result.unit)
        }),
        (numbers("Count", 0), fraction),
        (numbers("Outcome unknown", 0), |result| {
            result.n_unknown.map(|n| n.to_string())
        }),
        (numbers("Lowest to highest possible", 0), bounds_words),
    ]
}

/// `has_kinds` says whether each interval names its own level and method.
fn table(results: &[MeasureResult], has_kinds: bool) -> Table {
    let parts: Vec<(Column, Part)> = parts()
        .into_iter()
        .filter(|(_, part)| results.iter().any(|result| part(result).is_some()))
        .collect();
    let mut rows = Vec::new();
    for cohort in results.chunk_by(|left, right| left.cohort == right.cohort) {
        let is_headed = cohort.len() > 1;
        if let Some(first) = cohort.first().filter(|_| is_headed) {
            rows.push(Row::Heading {
                words: first.cohort.clone(),
            });
        }
        rows.extend(
            cohort
                .iter()
                .map(|result| line(result, is_headed, has_kinds, &parts)),
        );
    }
    let mut columns = vec![words("Cohort", 5)];
    columns.extend(parts.into_iter().map(|(column, _)| column));
    Table { columns, rows }
}

fn line(result: &MeasureResult, is_headed: bool, has_kinds: bool, parts: &[(Column, Part)]) -> Row {
    let cohort = if is_headed {
        result.stratum.clone()
    } else {
        wording::of_stratum(&result.cohort, &result.stratum)
    };
    let mut cells = vec![Cell {
        words: cohort,
        note: notes(result, has_kinds),
        is_strong: false,
    }];
    cells.extend(
        parts
            .iter()
            .map(|(_, part)| cell(part(result).unwrap_or_else(|| ABSENT.to_owned()))),
    );
    row(cells)
}

/// The remarks on a result and, where asked for, how its interval was made.
fn notes(result: &MeasureResult, has_kinds: bool) -> String {
    let kind = interval(result).filter(|_| has_kinds);
    let kind = kind.map(|interval| format!("interval: {}", wording::interval_kind(interval)));
    let notes: Vec<String> = result.notes.iter().cloned().chain(kind).collect();
    notes.join("; ")
}
