//! Rows that name a row of another file instead of saying the same again. The cells of the row that is named stand behind
//! those of the row that names it, under `NAME.column`, and are mapped, screened and read like its own.

use super::door::{Cells, Closed, Door, Record, Source};
use super::overlap::ranks;
use super::reading::{Part, not_in_layout, shape_fault};
use super::row::RowFault;
use super::tables::{Loading, RecordBytes};
use super::{Input, LoadError, Progress, after, cells::Row};
use crate::layout::{Form, Joined, Layout, Role};
use crate::screen::{Screen, Use};
use outcomes::finding::{ByteAccount, Finding, Severity};
use outcomes::tables::SourceRow;
use std::collections::HashMap;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

/// All rows that others may name.
#[derive(Default)]
pub(super) struct JoinedTables(Vec<JoinedTable>);

/// The rows of the files of one `[joined.NAME]`. The hash map is only looked into, or sorted after it was walked.
struct JoinedTable {
    joined: Joined,
    /// Columns kept, as they stand in the files.
    columns: Vec<String>,
    /// Which of them are dates by the type they have in a file.
    is_date: Vec<bool>,
    rows: HashMap<Box<str>, JoinedRow>,
    /// Rows of files of its own that cannot be used, with the reason, told when everything is known.
    set_aside: Vec<(SourceRow, RowFault)>,
}

struct JoinedRow {
    cells: Cells,
    typed: Vec<bool>,
    /// How new its file is.
    rank: usize,
    source: SourceRow,
    is_named: AtomicBool,
}

/// Reads the files that rows of others name. Those that are a table of their own are read again for it.
pub(super) fn read_tables(
    inputs: &[Input],
    layout: &Layout,
    loading: &mut Loading<'_>,
    progress: &dyn Fn(Progress<'_>),
) -> Result<(), LoadError> {
    for input in inputs {
        let Some(name) = &input.joined else { continue };
        let is_known = |joined: &&Joined| joined.name == *name && joined.role.is_none();
        if input.role.is_some() || !layout.joined.iter().any(|joined| is_known(&joined)) {
            return Err(LoadError::JoinedUnknown {
                file: input.name.clone(),
                layout: layout.name.clone(),
                has_role: input.role.is_some(),
                known: (layout.joined.iter())
                    .filter(|joined| joined.role.is_none())
                    .map(|joined| joined.name.clone())
                    .collect(),
            });
        }
    }
    let mut tables = JoinedTables::default();
    for joined in &layout.joined {
        let is_of = |input: &&Input| match joined.role {
            Some(role) => {
                let is_only_kind = layout.plans.len() == 1 && input.joined.is_none();
                input.role == Some(role) || is_only_kind
            }
            None => input.joined.as_ref() == Some(&joined.name),
        };
        let files: Vec<&Input> = inputs.iter().filter(is_of).collect();
        if files.is_empty() {
            return Err(LoadError::JoinedFileMissing {
                layout: layout.name.clone(),
                name: joined.name.clone(),
                role: joined.role,
            });
        }
        let mut table = JoinedTable {
            joined: joined.clone(),
            columns: Vec::new(),
            is_date: Vec::new(),
            rows: HashMap::new(),
            set_aside: Vec::new(),
        };
        let ranks = ranks(&files)?;
        for (input, rank) in files.into_iter().zip(ranks) {
            table.read(input, rank, layout, loading, progress)?;
        }
        tables.0.push(table);
    }
    loading.joined = Arc::new(tables);
    Ok(())
}

impl JoinedTable {
    fn read(
        &mut self,
        input: &Input,
        rank: usize,
        layout: &Layout,
        loading: &mut Loading<'_>,
        progress: &dyn Fn(Progress<'_>),
    ) -> Result<(), LoadError> {
        let name = input.name.as_str();
        let file = loading.next_file(input)?;
        let form = &layout.for_file(name)?.form;
        let mut door = Door::open(&input.source(), form)?;
        let headers = door.headers();
        let key = headers.iter().position(|header| *header == self.joined.key);
        let key = key.ok_or_else(|| LoadError::missing_key(name, &self.joined.key, &headers))?;
        let kept = self.keep(&headers, &door.is_date(), layout, name)?;
        let uses = self.uses(&headers, &kept, layout);
        let mut screen = Screen::new(&headers, &uses, loading.horizon);
        let mut account = ByteAccount::default();
        let mut record_bytes = RecordBytes::default();
        let mut last = Part::Header;
        let mut n_records = 0_u32;
        let mut record = Record::default();
        while door.read(&mut record)? {
            n_records = n_records
                .checked_add(1)
                .ok_or_else(|| input.too_many("records"))?;
            *last.of(&mut account) += record.n_bytes_of_last;
            record_bytes.add_to_last(record.n_bytes_of_last);
            let source = SourceRow {
                file,
                record: n_records,
            };
            let row = Row {
                record: &record.cells,
                typed: &record.typed,
                form,
                headers: &headers,
                source,
            };
            let fault = shape_fault(&row, record.n_lines);
            let fault = record.fault.clone().or(fault);
            if fault.is_none() {
                screen.look(&record.cells, source);
            }
            let fault = fault.or_else(|| self.take(&record, &kept, key, form, rank, source).err());
            if let Some(fault) = fault {
                self.set_aside.push((source, fault));
            }
            // which rows are named is known at the end; until then all count as used
            last = Part::Used;
            *last.of(&mut account) += record.n_bytes;
            record_bytes.push(record.n_bytes);
        }
        *last.of(&mut account) += record.n_bytes_of_last;
        record_bytes.add_to_last(record.n_bytes_of_last);
        let closed = door.close()?;
        progress(Progress {
            file: name,
            n_bytes_read: closed.n_bytes,
            n_bytes: closed.n_bytes,
            n_records: u64::from(n_records),
        });
        if self.joined.role.is_some() {
            // what becomes of these rows is told where they are a table of their own
            self.set_aside.clear();
            return Ok(());
        }
        for (position, (header, used)) in headers.iter().zip(&uses).enumerate() {
            if *used == Use::Open {
                let finding = not_in_layout(name, position, header);
                loading.findings.push(finding);
            }
        }
        let accepted = |header: &str| layout.accepted.get(&self.joined.header_of(header));
        let reason = |header: &str| accepted(header).map(String::as_str);
        loading.findings.extend(screen.findings(name, reason));
        loading.record_bytes.push(record_bytes);
        loading.end_joined_file(name, u64::from(n_records), account, closed)
    }

    /// Where each column of a file is kept, of those that are read by joining.
    fn keep(
        &mut self,
        headers: &[String],
        is_date: &[bool],
        layout: &Layout,
        file: &str,
    ) -> Result<Vec<Option<usize>>, LoadError> {
        let wanted = layout.wanted_of(&self.joined);
        let mut kept = Vec::with_capacity(headers.len());
        for (place, header) in headers.iter().enumerate() {
            let is_wanted = wanted.contains(header.as_str());
            let first = headers.iter().position(|other| other == header);
            if let Some(first) =
                first.filter(|first| *first < place && (is_wanted || *header == self.joined.key))
            {
                return Err(LoadError::DuplicateHeader {
                    file: file.to_owned(),
                    header: Some(header.clone()),
                    first: first + 1,
                    second: place + 1,
                });
            }
            kept.push(is_wanted.then(|| {
                let known = self.columns.iter().position(|known| known == header);
                known.unwrap_or_else(|| {
                    self.columns.push(header.clone());
                    self.is_date.push(is_date.get(place) == Some(&true));
                    self.columns.len() - 1
                })
            }));
        }
        Ok(kept)
    }

    /// What the screen looks at here: columns that nothing reads. Those that are read are looked at with the rows that name them,
    /// as they are read there.
    fn uses(&self, headers: &[String], kept: &[Option<usize>], layout: &Layout) -> Vec<Use> {
        let used = |(header, kept): (&String, &Option<usize>)| {
            let full = self.joined.header_of(header);
            if kept.is_some() || header.is_empty() || layout.ignore.contains(&full) {
                Use::Dropped
            } else if *header == self.joined.key {
                Use::PatientId
            } else if layout.accepted.contains_key(&full) {
                Use::Accepted
            } else {
                Use::Open
            }
        };
        headers.iter().zip(kept).map(used).collect()
    }

    fn take(
        &mut self,
        record: &Record,
        kept: &[Option<usize>],
        key_at: usize,
        form: &Form,
        rank: usize,
        source: SourceRow,
    ) -> Result<(), RowFault> {
        let key = named(&record.cells, key_at, &form.missing).ok_or_else(|| {
            RowFault::new(
                "no-key-to-join",
                "the row has no key by which other rows could name it",
            )
            .at(Some(key_at))
        })?;
        let mut ordered: Vec<(&str, bool)> = vec![("", false); self.columns.len()];
        for (place, kept) in kept.iter().enumerate() {
            if let Some(slot) = kept.and_then(|kept| ordered.get_mut(kept)) {
                let is_typed = record.typed.get(place) == Some(&true);
                *slot = (record.cells.get(place).unwrap_or_default(), is_typed);
            }
        }
        let mut row = JoinedRow {
            cells: Cells::default(),
            typed: ordered.iter().map(|(_, is_typed)| *is_typed).collect(),
            rank,
            source,
            is_named: AtomicBool::new(false),
        };
        for (cell, _) in ordered {
            row.cells.push(cell);
        }
        let Some(known) = self.rows.get_mut(key) else {
            self.rows.insert(key.into(), row);
            return Ok(());
        };
        if known.cells.iter().eq(row.cells.iter()) {
            return Err(RowFault::new(
                "repeated-row",
                "the row is identical to an earlier one",
            ));
        }
        if known.rank == rank {
            return Err(RowFault::new(
                "key-names-two-rows",
                "an earlier row has the same key and says something else; the earlier one is used",
            )
            .at(Some(key_at))
            .with_hint(
                "a key must name one row: export one row for each, or join by another column",
            ));
        }
        let older = std::mem::replace(known, row);
        let fault = RowFault::new(
            "superseded-row",
            "a newer export tells this row differently",
        );
        self.set_aside.push((older.source, fault));
        Ok(())
    }
}

/// What a cell names; nothing where it is empty or stands for "not recorded".
fn named<'c>(cells: &'c Cells, position: usize, missing: &[String]) -> Option<&'c str> {
    let text = cells.get(position)?.trim();
    let is_missing = |spelling: &String| spelling.eq_ignore_ascii_case(text);
    (!text.is_empty() && !missing.iter().any(is_missing)).then_some(text)
}

/// When all rows are known: rows of joined files that nothing names are set aside, and so are those that could not be used.
pub(super) fn set_aside_unnamed(loading: &mut Loading<'_>) {
    let tables = std::mem::take(&mut loading.joined);
    let Ok(tables) = Arc::try_unwrap(tables) else {
        return;
    };
    for table in tables.0 {
        if table.joined.role.is_some() {
            continue;
        }
        let mut aside = table.set_aside;
        let unnamed = table.rows.into_values();
        aside.extend(
            unnamed
                .filter(|row| !row.is_named.load(Ordering::Relaxed))
                .map(|row| {
                    let message = "no row of another file names this row";
                    (row.source, RowFault::new("joined-row-not-named", message))
                }),
        );
        aside.sort_by_key(|(source, _)| *source);
        for (source, fault) in aside {
            after::set_aside_used(loading, fault, source);
        }
    }
}

/// A file behind its door, with the rows that its rows name.
pub(super) struct JoinedDoor {
    door: Door,
    tables: Arc<JoinedTables>,
    /// Column that names, and place of the table.
    joins: Vec<(usize, usize)>,
    n_own: usize,
    headers: Vec<String>,
    is_date: Vec<bool>,
    missing: Vec<String>,
}

/// A row that names a row which is not there.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Unjoined {
    /// The column that names it.
    pub(crate) by: usize,
    /// Columns of the row itself; those behind them came by joining.
    pub(crate) n_own: usize,
}

impl JoinedDoor {
    /// Opens a file of a kind. Its rows can name rows of every table whose `by` is among its columns, also by a column that
    /// came by joining.
    pub(super) fn open(
        source: &Source<'_>,
        form: &Form,
        role: Role,
        tables: &Arc<JoinedTables>,
    ) -> Result<Self, LoadError> {
        let door = Door::open(source, form)?;
        let mut headers = door.headers();
        let n_own = headers.len();
        let mut is_date = door.is_date();
        let mut joins: Vec<(usize, usize)> = Vec::new();
        loop {
            let next = tables.0.iter().enumerate().find_map(|(place, table)| {
                let is_free = !joins.iter().any(|(_, known)| *known == place);
                let is_other = table.joined.role != Some(role);
                let by = headers
                    .iter()
                    .position(|header| *header == table.joined.by)?;
                (is_free && is_other).then_some((by, place, table))
            });
            let Some((by, place, table)) = next else {
                break;
            };
            joins.push((by, place));
            is_date.resize(headers.len(), false);
            is_date.extend(&table.is_date);
            let columns = table.columns.iter();
            headers.extend(columns.map(|column| table.joined.header_of(column)));
        }
        Ok(Self {
            door,
            tables: Arc::clone(tables),
            joins,
            n_own,
            headers,
            is_date,
            missing: form.missing.clone(),
        })
    }

    /// The header: the file's own columns, then those of the rows that its rows name.
    pub(super) fn headers(&self) -> Vec<String> {
        self.headers.clone()
    }

    pub(super) fn is_date(&self) -> Vec<bool> {
        self.is_date.clone()
    }

    /// The file's own columns. Those that came by joining may have cells with a type in one row and without in the next.
    pub(super) const fn n_own(&self) -> usize {
        self.n_own
    }

    pub(super) fn n_bytes_read(&self) -> u64 {
        self.door.n_bytes_read()
    }

    pub(super) fn close(self) -> Result<Closed, LoadError> {
        self.door.close()
    }

    /// Reads the next record with the cells of the rows it names; false at the end of the file.
    pub(super) fn read(&mut self, record: &mut Record) -> Result<bool, LoadError> {
        let is_read = self.door.read(record)?;
        record.unjoined = None;
        if is_read && !self.joins.is_empty() && record.fault.is_none() {
            self.join(record);
        }
        Ok(is_read)
    }

    fn join(&self, record: &mut Record) {
        let n_cells = record.cells.len();
        if n_cells != self.n_own {
            // too many cells of its own must not be taken for cells that came by joining
            if n_cells > self.n_own {
                record.cells.fill_to(self.headers.len() + 1);
            }
            return;
        }
        for (by, place) in &self.joins {
            let Some(table) = self.tables.0.get(*place) else {
                continue;
            };
            let start = record.cells.len();
            let key = named(&record.cells, *by, &self.missing);
            match key.map(|key| table.rows.get(key)) {
                Some(Some(row)) => {
                    row.is_named.store(true, Ordering::Relaxed);
                    for cell in row.cells.iter() {
                        record.cells.push(cell);
                    }
                    if row.typed.contains(&true) {
                        record.typed.resize(start, false);
                        record.typed.extend(&row.typed);
                    }
                }
                Some(None) => {
                    let unjoined = Unjoined {
                        by: *by,
                        n_own: self.n_own,
                    };
                    record.unjoined.get_or_insert(unjoined);
                }
                None => {}
            }
            record.cells.fill_to(start + table.columns.len());
        }
    }
}

/// Reasons for which a row is set aside that lacks what may come from another.
const NEEDED: [&str; 6] = [
    "no-patient-id",
    "no-visit-date",
    "no-event-date",
    "no-side",
    "no-ulcer-label",
    "no-event-kind",
];

impl Unjoined {
    /// What the row then is: set aside where it lacks what it cannot be used without, else only noted.
    pub(super) fn judge<T>(
        self,
        outcome: Result<T, RowFault>,
        source: SourceRow,
        headers: &[String],
        loading: &mut Loading<'_>,
    ) -> Result<T, RowFault> {
        const CHECK: &str = "no-row-to-join";
        let hint = "look whether the file that is joined is of the same export, and whole";
        match outcome {
            Ok(used) => {
                let message = "the row names a row of another file that is not there; what it would say counts as missing";
                let finding =
                    Finding::on_row(CHECK, Severity::Note, source, message).with_hint(hint);
                loading.findings.push(match headers.get(self.by) {
                    Some(header) => finding.in_column(header.as_str()),
                    None => finding,
                });
                Ok(used)
            }
            Err(fault)
                if NEEDED.contains(&fault.check)
                    && fault.position.is_none_or(|position| position >= self.n_own) =>
            {
                let message = "the row names a row of another file that is not there, which would say what it cannot be used without";
                Err(RowFault::new(CHECK, message)
                    .at(Some(self.by))
                    .with_hint(hint))
            }
            other => other,
        }
    }
}
