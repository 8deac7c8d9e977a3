//! What the cells of each column come to, for `check`: counted beside the loading, from rows that were used.

mod column;
mod describe;

use super::bind::BoundPlan;
use super::cells::Row;
use super::marks::ByMark;
use super::tables::Taken;
use chrono::{Datelike, NaiveDate};
use column::{Persons, Seen, Tally, count, seen};
use describe::{Described, What, describe};
use outcomes::check::overview::{ColumnOverview, Extent, MonthRows, Reading, Sums, Worth};
use outcomes::tables::PatientKey;
use std::collections::BTreeMap;

/// What was counted of one file.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct FileProfile {
    /// What the file holds.
    pub role: &'static str,
    /// Records by month, oldest first; empty where rows have no date.
    pub months: Vec<MonthRows>,
    /// Records and people before the dividing day.
    pub before: Extent,
    /// Records and people from it on.
    pub since: Extent,
    /// The columns, in file order.
    pub columns: Vec<ColumnOverview>,
}

/// A file being counted.
pub(super) struct Profile<'l> {
    since: NaiveDate,
    columns: Vec<Described<'l>>,
    parts: [Part; 2],
    /// What texts were seen to be, column by column; not kept where rows are read in several ways.
    seen: Vec<ByMark<Seen>>,
    /// Records of each month, and in how many of them each column holds something.
    months: BTreeMap<(i32, u32), (u64, Vec<u32>)>,
}

struct Part {
    n_rows: u64,
    persons: Persons,
    tallies: Vec<Tally>,
}

impl<'l> Profile<'l> {
    /// Nothing counted yet; rows dated from `since` on are counted apart. `is_one_edition`: every row is read the same way.
    pub(super) fn new(
        plan: &BoundPlan<'l>,
        ignored: &[bool],
        since: NaiveDate,
        is_one_edition: bool,
    ) -> Self {
        let columns = describe(plan, ignored);
        let part = || Part {
            n_rows: 0,
            persons: Persons::new(columns.len()),
            tallies: columns
                .iter()
                .map(|column| Tally::new(&column.what))
                .collect(),
        };
        Self {
            since,
            parts: [part(), part()],
            seen: match is_one_edition {
                true => columns.iter().map(|_| ByMark::default()).collect(),
                false => Vec::new(),
            },
            columns,
            months: BTreeMap::new(),
        }
    }

    /// Counts a record that was used.
    pub(super) fn look(&mut self, taken: Taken, row: &Row<'_>) {
        let (PatientKey(person), date) = (taken.person, taken.date);
        let [before, since] = &mut self.parts;
        let part = match date {
            Some(date) if date >= self.since => since,
            _ => before,
        };
        part.n_rows += 1;
        let of_person = part.persons.add_row(person);
        let n_columns = self.columns.len();
        let mut month = date.map(|date| {
            let month = self.months.entry((date.year(), date.month()));
            let month = month.or_insert_with(|| (0, vec![0; n_columns]));
            month.0 += 1;
            &mut month.1
        });
        for (position, cell) in row.record.held() {
            let (Some(column), Some(tally)) =
                (self.columns.get(position), part.tallies.get_mut(position))
            else {
                break;
            };
            let mark = row.record.mark(position);
            let known = self.seen.get_mut(position).zip(mark);
            let before = known.as_ref().and_then(|(seen, mark)| seen.get(*mark));
            let seen = before.unwrap_or_else(|| {
                let text = row.told(cell);
                text.map_or(Seen::Missing, |text| {
                    seen(&column.what, text, row.decimal(Some(position)))
                })
            });
            if let (None, Some((kept, mark))) = (before, known) {
                kept.put(mark, seen);
            }
            if seen == Seen::Missing {
                continue;
            }
            tally.add(seen);
            if let Some(n) = of_person.get_mut(position) {
                count(n);
            }
            if let Some(n) = month.as_mut().and_then(|month| month.get_mut(position)) {
                *n += 1;
            }
        }
    }

    /// What was counted.
    pub(super) fn finish(self, headers: &[String], role: &'static str) -> FileProfile {
        let [before, since] = self.parts;
        let [worth_before, worth_since] = [&before, &since].map(|part| part.persons.worth());
        let extent = |part: &Part, worth: &[Worth]| Extent {
            n_rows: part.n_rows,
            n_people: part.persons.n(),
            n_independent: worth.first().map_or(0, Worth::rows),
        };
        let sums = |part: &Part, worth: &[Worth], position: usize| {
            let what = self.columns.get(position).map(|column| &column.what);
            let tally = part.tallies.get(position).zip(what);
            let worth = worth.get(position + 1).copied().unwrap_or_default();
            tally.map_or(Sums::default(), |(tally, what)| tally.sums(what, worth))
        };
        let columns = headers.iter().zip(&self.columns).enumerate();
        FileProfile {
            role,
            before: extent(&before, &worth_before),
            since: extent(&since, &worth_since),
            months: self
                .months
                .iter()
                .map(|((year, month), (n_rows, _))| MonthRows {
                    month: format!("{year:04}-{month:02}"),
                    n_rows: *n_rows,
                })
                .collect(),
            columns: columns
                .map(|(position, (header, column))| ColumnOverview {
                    header: header.clone(),
                    field: column.field.clone(),
                    unit: column.unit.to_owned(),
                    reading: match column.what {
                        What::Ignored => Reading::Ignored,
                        What::Unmapped => Reading::NotInLayout,
                        _ => Reading::Read,
                    },
                    present_by_month: self
                        .months
                        .values()
                        .map(|(_, present)| present.get(position).copied().map_or(0, u64::from))
                        .collect(),
                    before: sums(&before, &worth_before, position),
                    since: sums(&since, &worth_since, position),
                })
                .collect(),
        }
    }
}
