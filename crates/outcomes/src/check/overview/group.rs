//! Findings put together by rule and column, for a reader.

use crate::finding::{Finding, Severity};
use crate::tables::{SourceRow, Tables};
use serde::Serialize;

/// Findings of one rule in one column.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct FindingGroup {
    /// Name of the check.
    pub check: String,
    /// What it does to a row.
    pub severity: Severity,
    /// Header of the column, where one is concerned.
    pub column: Option<String>,
    /// How many findings.
    pub n: u64,
    /// What was found, as the first of them says it.
    pub message: String,
    /// What may be done about it.
    pub hint: Option<String>,
    /// The first places, a line a file: `visits.csv, records 12, 40`.
    pub places: Vec<String>,
}

/// Findings by rule and column: what stops a run first, then by name.
pub fn grouped(tables: &Tables, findings: &[Finding], n_places: usize) -> Vec<FindingGroup> {
    let mut sorted: Vec<&Finding> = findings.iter().collect();
    let order = |severity: Severity| std::cmp::Reverse(severity);
    sorted.sort_by(|left, right| {
        (order(left.severity), left.check, &left.column, left.source).cmp(&(
            order(right.severity),
            right.check,
            &right.column,
            right.source,
        ))
    });
    let is_alike = |left: &&Finding, right: &&Finding| {
        (left.check, &left.column) == (right.check, &right.column)
    };
    sorted
        .chunk_by(is_alike)
        .filter_map(|group| {
            // one that says how many more there are speaks for no other
            let is_one = |finding: &&&Finding| finding.n == 1;
            let first = group.iter().find(is_one).or(group.first())?;
            Some(FindingGroup {
                check: first.check.to_owned(),
                severity: first.severity,
                column: first.column.clone(),
                n: group.iter().map(|finding| finding.n).sum(),
                message: first.message.clone(),
                hint: first.hint.clone(),
                places: places(tables, group, n_places),
            })
        })
        .collect()
}

fn places(tables: &Tables, group: &[&Finding], n_places: usize) -> Vec<String> {
    let sources: Vec<SourceRow> = group
        .iter()
        .filter_map(|finding| finding.source)
        .take(n_places)
        .collect();
    sources
        .chunk_by(|left, right| left.file == right.file)
        .filter_map(|rows| {
            let file = tables.files.get(usize::from(rows.first()?.file))?;
            let records: Vec<String> = rows.iter().map(|row| row.record.to_string()).collect();
            let word = if rows.len() == 1 { "record" } else { "records" };
            Some(format!("{}, {word} {}", file.name, records.join(", ")))
        })
        .collect()
}
