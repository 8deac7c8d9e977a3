//! One file: its header, then its records one by one.

use super::ahead::read_ahead;
use super::bind::Header;
use super::cells::Row;
use super::door::{Cells, Record};
use super::editions::BoundFile;
use super::joined::JoinedDoor;
use super::marks::Marks;
use super::meanings::Meanings;
use super::profile::Profile;
use super::row::RowFault;
use super::tables::{Loading, RecordBytes, Taken};
use super::{Input, LoadError, Progress};
use crate::layout::{Layout, Role};
use crate::screen::{Screen, Use};
use outcomes::finding::{ByteAccount, Finding, Severity};
use outcomes::tables::SourceRow;
use std::cmp::Ordering;
use std::collections::BTreeSet;

/// Records between two reports of progress.
const RECORDS_A_REPORT: u64 = 4096;

/// A record of more lines that cannot be used has probably swallowed others.
const MOST_LINES: u64 = 10;

/// A file whose header has been understood.
struct Reading<'l> {
    file: &'l BoundFile<'l>,
    /// What texts come to that the file has held before.
    meanings: Meanings,
}

/// Reads a file into the tables.
pub(super) fn read_file(
    input: &Input,
    role: Role,
    layout: &Layout,
    loading: &mut Loading<'_>,
    progress: &dyn Fn(Progress<'_>),
) -> Result<(), LoadError> {
    let name = input.name.as_str();
    let file = loading.next_file(input)?;
    let source = input.source();
    let n_bytes = source.size()?;
    let keys = layout.keys_of(role);
    let layout = layout.for_file(name)?;
    let door = JoinedDoor::open(&source, &layout.form, role, &loading.joined)?;
    let headers = door.headers();
    let is_date = door.is_date();
    let header = Header {
        names: &headers,
        is_date: &is_date,
    };
    let bound = BoundFile::bind(layout, role, header, name, &mut loading.tables.names)?;
    note_unread_columns(&bound, &keys, name, &mut loading.findings);
    let mut screen = Screen::new(&headers, &uses(&bound, &keys), loading.horizon);
    let mut profile = loading.profile_since.map(|since| {
        let ignored: Vec<bool> = headers
            .iter()
            .map(|header| bound.is_ignored(header))
            .collect();
        Profile::new(bound.first_plan(), &ignored, since, bound.is_one_edition())
    });
    let mut reading = Reading {
        file: &bound,
        meanings: Meanings::new(bound.n_cells()),
    };

    let mut account = ByteAccount::default();
    let mut record_bytes = RecordBytes::default();
    let mut n_records = 0_u64;
    let mut last = Part::Header;
    let n_columns = headers.len();
    let mut marks = Marks::new(door.n_own());
    let source = |number: u64| SourceRow {
        file,
        record: u32::try_from(number).unwrap_or(u32::MAX),
    };
    let look = |record: &mut Record, number: u64| {
        if record.fault.is_none() && is_whole(&record.cells, n_columns) {
            marks.mark(&mut record.cells);
            screen.look(&record.cells, source(number));
        }
    };
    let take = |record: &mut Record, number: u64, n_bytes_read: u64| {
        u32::try_from(number).map_err(|_| input.too_many("records"))?;
        n_records = number;
        *last.of(&mut account) += record.n_bytes_of_last;
        record_bytes.add_to_last(record.n_bytes_of_last);
        let taken = reading.take(record, source(number), loading);
        last = match taken {
            Some(_) => Part::Used,
            None => Part::SetAside,
        };
        *last.of(&mut account) += record.n_bytes;
        record_bytes.push(record.n_bytes);
        if n_records.is_multiple_of(RECORDS_A_REPORT) {
            progress(Progress {
                file: name,
                n_bytes_read,
                n_bytes,
                n_records,
            });
        }
        Ok(taken)
    };
    let count = |record: &Record, number: u64, taken: &Taken| {
        if let Some(profile) = &mut profile {
            let (_, row) = bound.row(record, source(number));
            profile.look(*taken, &row);
        }
    };
    let (door, n_bytes_behind) = read_ahead(door, look, take, count)?;
    *last.of(&mut account) += n_bytes_behind;
    record_bytes.add_to_last(n_bytes_behind);
    loading.record_bytes.push(record_bytes);
    let closed = door.close()?;
    progress(Progress {
        file: name,
        n_bytes_read: closed.n_bytes,
        n_bytes: closed.n_bytes,
        n_records,
    });
    let in_text = reading.meanings.read_in_utc();
    let read_in_utc: BTreeSet<usize> = in_text.chain(closed.read_in_utc.iter().copied()).collect();
    note_instants(&read_in_utc, &headers, name, &mut loading.findings);
    let reason = |header: &str| bound.accepted(header);
    loading.findings.extend(screen.findings(name, reason));
    if let Some(profile) = profile {
        loading.profiles.push(profile.finish(&headers, role.code()));
    }
    let numbers = std::mem::take(&mut loading.numbers);
    loading.findings.extend(numbers.findings(name, &headers));
    loading
        .findings
        .extend(loading.overlap.end_file(name, &closed.sha256)?);
    loading.end_file(name, n_records, account, closed)
}

/// The part of a file that bytes belong to.
#[derive(Clone, Copy)]
pub(super) enum Part {
    Header,
    Used,
    SetAside,
}

impl Part {
    pub(super) fn of(self, account: &mut ByteAccount) -> &mut u64 {
        match self {
            Self::Header => &mut account.header,
            Self::Used => &mut account.used,
            Self::SetAside => &mut account.set_aside,
        }
    }
}

impl Reading<'_> {
    /// Uses a record, or sets it aside: then nothing was taken of it.
    fn take(
        &mut self,
        record: &mut Record,
        source: SourceRow,
        loading: &mut Loading<'_>,
    ) -> Option<Taken> {
        if let Some(fault) = record.fault.take() {
            loading.book(Err(fault), self.file.headers, source);
            return None;
        }
        let (edition, row) = self.file.row(record, source);
        let outcome = match shape_fault(&row, record.n_lines) {
            Some(fault) => Err(fault),
            None => loading.take(&edition.plan, &row, &mut self.meanings),
        };
        let outcome = match record.unjoined {
            Some(unjoined) => unjoined.judge(outcome, source, self.file.headers, loading),
            None => outcome,
        };
        let n_lines = record.n_lines;
        if n_lines > MOST_LINES
            && (outcome.is_err() || holds_rows(&record.cells, self.file.headers))
        {
            loading.findings.push(quote_left_open(source, n_lines));
        }
        let taken = outcome.as_ref().ok().copied();
        loading.book(outcome.map(|_| ()), self.file.headers, source);
        taken
    }
}

/// Whether a record has a cell for each column, and text in them.
fn is_whole(cells: &Cells, n_columns: usize) -> bool {
    cells.len() == n_columns && !cells.has_nul()
}

pub(super) fn shape_fault(row: &Row<'_>, n_lines: u64) -> Option<RowFault> {
    if row.record.is_marked() {
        // only records found whole are marked
        return None;
    }
    if row.record.has_nul() {
        let message = "the record holds a byte that no text holds; the file may be damaged";
        return Some(
            RowFault::new("nul-byte", message)
                .with_hint("export again; if the byte stays, ask who keeps the records system"),
        );
    }
    let fault = match row.record.len().cmp(&row.headers.len()) {
        Ordering::Equal => return None,
        Ordering::Less => RowFault::new(
            "too-few-cells",
            "the record has fewer cells than the header",
        ),
        Ordering::Greater => RowFault::new(
            "too-many-cells",
            "the record has more cells than the header",
        ),
    };
    if n_lines > 1 {
        return Some(fault.with_hint(format!(
            "the record spans {n_lines} lines: a quotation mark may be left open, and further records be lost in it"
        )));
    }
    let hint = match fault.check {
        "too-few-cells" => {
            "the row may be cut short, or a line break inside a cell may not be quoted"
        }
        _ => "a cell that holds the delimiter must be quoted",
    };
    Some(fault.with_hint(hint))
}

/// Whether a cell holds line breaks and so many delimiters that it looks like whole rows.
fn holds_rows(record: &Cells, headers: &[String]) -> bool {
    let n_delimiters = |cell: &str| cell.matches([',', ';', '\t', '|']).count();
    record
        .iter()
        .any(|cell| cell.contains('\n') && n_delimiters(cell) * 2 >= headers.len())
}

fn quote_left_open(source: SourceRow, n_lines: u64) -> Finding {
    let message = format!("one record spans {n_lines} lines: other records may be lost in it");
    Finding::on_row("quotation-mark-left-open", Severity::Stop, source, message)
        .with_hint("look for a quotation mark without its partner in the lines of this record")
}

/// What each column is for; those the layout drops are not screened, those it vouches for are, and noted. A key by which rows
/// are joined is an id.
fn uses(file: &BoundFile<'_>, keys: &[&str]) -> Vec<Use> {
    file.headers
        .iter()
        .zip(file.uses())
        .map(|(header, used)| {
            if file.is_ignored(header) {
                Use::Dropped
            } else if file.accepted(header).is_some() {
                Use::Accepted
            } else {
                let is_key = keys.contains(&header.as_str());
                used.unwrap_or(if is_key { Use::PatientId } else { Use::Open })
            }
        })
        .collect()
}

/// Columns of instants have a day only where an offset from UTC is known.
fn note_instants(
    read_in_utc: &BTreeSet<usize>,
    headers: &[String],
    file: &str,
    findings: &mut Vec<Finding>,
) {
    for position in read_in_utc {
        let Some(header) = headers.get(*position) else {
            continue;
        };
        let message = format!(
            "{file}: column {} holds times in UTC; each row has the day that it was in UTC",
            position + 1
        );
        findings.push(Finding {
            check: "day-taken-in-utc",
            severity: Severity::Note,
            source: None,
            column: Some(header.clone()),
            message,
            hint: Some(
                "say `utc_offset = \"+10:00\"` under [dates] of the layout, with the clinic's own offset, or export dates"
                    .to_owned(),
            ),
 n: 1,
});
    }
}

fn note_unread_columns(
    bound: &BoundFile<'_>,
    keys: &[&str],
    file: &str,
    findings: &mut Vec<Finding>,
) {
    for (position, (header, used)) in bound.headers.iter().zip(bound.uses()).enumerate() {
        let is_key = keys.contains(&header.as_str());
        if used.is_some() || is_key || bound.is_ignored(header) {
            continue;
        }
        findings.push(not_in_layout(file, position, header));
    }
}

/// A column that nothing reads.
pub(super) fn not_in_layout(file: &str, position: usize, header: &str) -> Finding {
    Finding {
        check: "column-not-in-layout",
        severity: Severity::Note,
        source: None,
        column: Some(header.to_owned()),
        message: format!(
            "{file}: column {} is not in the layout and is not read",
            position + 1
        ),
        hint: Some("map it, or list it under `ignore` in the layout".to_owned()),
        n: 1,
    }
}
