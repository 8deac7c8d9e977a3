//! How many findings are listed one by one. A damaged export may have one in every cell; nobody reads a million lines.

use super::{Finding, Severity};
use crate::tables::SourceRow;
use std::collections::{BTreeSet, HashMap};

/// Findings of one check in one column of one file that are listed. Of the others only the number is kept, exactly.
/// A person looks at some tens of them; what a thousand do not show, more do not either.
pub const MOST_LISTED: u64 = 1_000;

/// Counts findings of each kind and keeps the first.
#[derive(Debug, Clone, Default)]
pub struct Listing {
    kinds: Vec<Kind>,
    /// Positions in `kinds`. Only looked into, never walked.
    places: HashMap<(&'static str, u16), Vec<usize>>,
    /// Rows behind findings of ignored cells that are not listed, and their kinds: such a row may yet be set aside.
    unlisted: Vec<(usize, SourceRow)>,
    n_settled: usize,
}

/// One check in one column of one file.
#[derive(Debug, Clone)]
struct Kind {
    check: &'static str,
    severity: Severity,
    column: Option<String>,
    file: u16,
    n: u64,
    n_unlisted: u64,
}

impl Listing {
    /// Keeps of the findings added since the last call those that are among the first of their kind. Findings about no
    /// single row are always kept.
    pub fn settle(&mut self, findings: &mut Vec<Finding>) {
        if findings.len() <= self.n_settled {
            self.n_settled = findings.len();
            return;
        }
        let new = findings.split_off(self.n_settled);
        findings.extend(new.into_iter().filter(|finding| self.is_listed(finding)));
        self.n_settled = findings.len();
    }

    fn is_listed(&mut self, finding: &Finding) -> bool {
        let Some(source) = finding.source else {
            return true;
        };
        let places = self.places.entry((finding.check, source.file)).or_default();
        let known = places.iter().copied().find(|place| {
            self.kinds.get(*place).is_some_and(|kind| {
                kind.severity == finding.severity && kind.column == finding.column
            })
        });
        let place = known.unwrap_or_else(|| {
            places.push(self.kinds.len());
            self.kinds.push(Kind {
                check: finding.check,
                severity: finding.severity,
                column: finding.column.clone(),
                file: source.file,
                n: 0,
                n_unlisted: 0,
            });
            self.kinds.len() - 1
        });
        let Some(kind) = self.kinds.get_mut(place) else {
            return true;
        };
        kind.n += finding.n;
        if kind.n <= MOST_LISTED {
            return true;
        }
        kind.n_unlisted += finding.n;
        if finding.severity == Severity::CellIgnored {
            self.unlisted.push((place, source));
        }
        false
    }

    /// Takes back what was found in cells of rows that are set aside after all.
    pub fn take_back(&mut self, findings: &mut Vec<Finding>, rows: &BTreeSet<SourceRow>) {
        self.settle(findings);
        findings.retain(|finding| {
            finding.severity != Severity::CellIgnored
                || finding.source.is_none_or(|source| !rows.contains(&source))
        });
        self.n_settled = findings.len();
        for (place, source) in &self.unlisted {
            if let Some(kind) = self.kinds.get_mut(*place).filter(|_| rows.contains(source)) {
                kind.n_unlisted -= 1;
            }
        }
        self.unlisted.retain(|(_, source)| !rows.contains(source));
    }

    /// A finding a kind that says how many more there are; `file_name` gives the name of a file by number.
    pub fn more(&self, file_name: impl Fn(u16) -> String) -> Vec<Finding> {
        let kinds = self.kinds.iter().filter(|kind| kind.n_unlisted > 0);
        kinds
            .map(|kind| Finding {
                check: kind.check,
                severity: kind.severity,
                source: None,
                column: kind.column.clone(),
                message: format!(
                    "{}: {} more of these, counted but not listed",
                    file_name(kind.file),
                    kind.n_unlisted
                ),
                hint: None,
                n: kind.n_unlisted,
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn found(record: u32, column: &str) -> Finding {
        let source = SourceRow { file: 0, record };
        Finding::on_row(
            "unreadable-number",
            Severity::CellIgnored,
            source,
            "no number",
        )
        .in_column(column)
    }

    #[test]
    fn the_first_are_listed_and_all_are_counted() {
        let mut listing = Listing::default();
        let mut findings = Vec::new();
        for record in 1..=2_500 {
            findings.push(found(record, "length"));
            if record % 2 == 0 {
                findings.push(found(record, "width"));
            }
            listing.settle(&mut findings);
        }
        assert_eq!(findings.len(), 2_000);
        // of the rows not listed, two are set aside in the end
        let late = [1, 1_999, 2_500].map(|record| SourceRow { file: 0, record });
        listing.take_back(&mut findings, &BTreeSet::from(late));
        assert_eq!(
            findings.len(),
            1_999,
            "of the three rows only record 1 was listed"
        );
        let more: Vec<_> = (listing.more(|_| "visits.csv".to_owned()).iter())
            .map(|finding| format!("{:?} {} {}", finding.column, finding.n, finding.message))
            .collect();
        assert_eq!(
            more,
            [
                "Some(\"length\") 1498 visits.csv: 1498 more of these, counted but not listed",
                "Some(\"width\") 249 visits.csv: 249 more of these, counted but not listed",
            ]
        );
    }
}
