//! From files to canonical tables, one pass over the records of each.

mod after;
mod bind;
mod blocks;
mod cells;
mod error;
mod file;
mod people;
mod row;
mod tables;

pub use error::{LoadError, MissingColumn};

use crate::layout::{FilePlan, Layout, Role};
use bind::{BoundPlan, bind};
use cells::Row;
use csv::ByteRecord;
use file::{OpenFile, Tally, decode, open};
use outcomes::finding::{FileAccount, Finding, Severity};
use outcomes::rules::DataHorizon;
use outcomes::tables::{SourceFile, SourceRow, Tables};
use row::RowFault;
use serde::Serialize;
use std::path::PathBuf;
use tables::Loading;

/// A file of an export.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Input {
    /// The name as in the pipeline file; shown in messages.
    pub name: String,
    /// Where it is.
    pub path: PathBuf,
    /// What it holds; `None` where the layout reads one kind of file only.
    pub role: Option<Role>,
}

/// How far the loading is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Progress<'p> {
    /// The file being read.
    pub file: &'p str,
    /// Bytes of it read.
    pub n_bytes_read: u64,
    /// Its size when opened.
    pub n_bytes: u64,
    /// Records of it read.
    pub n_records: u64,
}

/// What was loaded.
#[derive(Debug, Clone, Default)]
pub struct Loaded {
    /// The canonical tables.
    pub tables: Tables,
    /// What was found, by file, record and reading order; findings about a whole column come first.
    pub findings: Vec<Finding>,
    /// What became of every record, a line a file, in reading order.
    pub accounts: Vec<FileAccount>,
    /// A digest of each file, in reading order.
    pub digests: Vec<FileDigest>,
}

/// A fingerprint of a file, taken of the bytes that were read.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct FileDigest {
    /// The file's name as given.
    pub file: String,
    /// SHA-256, in hexadecimal.
    pub sha256: String,
}

/// Records between two reports of progress.
const RECORDS_A_REPORT: u64 = 4096;

/// Loads every file of an export. Files are read role by role, within a role in the order given.
///
/// A cell that cannot be read is a finding and counts as missing; a record that cannot be used is set aside with one
/// reason. Records read = records used + records set aside, for each file.
///
/// # Errors
/// A file that cannot be read at all or is not what the layout describes.
pub fn load(
    inputs: &[Input],
    layout: &Layout,
    horizon: &DataHorizon,
    progress: &dyn Fn(Progress<'_>),
) -> Result<Loaded, LoadError> {
    let mut loading = Loading::new(horizon);
    for plan in &layout.plans {
        loading.begin_role();
        for input in inputs {
            if role_of(input, layout)? == plan.role {
                read_file(input, plan, layout, &mut loading, progress)?;
            }
        }
    }
    Ok(loading.finish())
}

fn role_of(input: &Input, layout: &Layout) -> Result<Role, LoadError> {
    let roles = layout.roles();
    match (input.role, roles.as_slice()) {
        (Some(role), _) if roles.contains(&role) => Ok(role),
        (Some(role), _) => Err(LoadError::RoleUnknown {
            file: input.name.clone(),
            layout: layout.name.clone(),
            role,
            roles,
        }),
        (None, [only]) => Ok(*only),
        (None, _) => Err(LoadError::RoleNeeded {
            file: input.name.clone(),
            roles,
        }),
    }
}

fn read_file(
    input: &Input,
    plan: &FilePlan,
    layout: &Layout,
    loading: &mut Loading<'_>,
    progress: &dyn Fn(Progress<'_>),
) -> Result<(), LoadError> {
    let OpenFile { reader, n_bytes } = open(&input.path, &input.name)?;
    let file = u16::try_from(loading.tables.files.len()).map_err(|_| LoadError::TooMany {
        file: input.name.clone(),
        what: "files",
    })?;
    let mut records = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .delimiter(layout.form.delimiter)
        .buffer_capacity(1 << 17)
        .from_reader(Tally::new(reader));
    let unreadable = |error: csv::Error| LoadError::Unreadable {
        file: input.name.clone(),
        reason: error.to_string(),
    };

    let mut bytes = ByteRecord::new();
    records.read_byte_record(&mut bytes).map_err(unreadable)?;
    let headers = headers(std::mem::take(&mut bytes), layout, &input.name)?;
    let bound = bind(plan, &headers, &input.name, &mut loading.tables.names)?;
    note_unread_columns(&bound, layout, &input.name, &mut loading.findings);

    let mut n_records = 0_u64;
    let mut line = records.position().line();
    while records.read_byte_record(&mut bytes).map_err(unreadable)? {
        n_records += 1;
        let record = u32::try_from(n_records).map_err(|_| LoadError::TooMany {
            file: input.name.clone(),
            what: "records",
        })?;
        let source = SourceRow { file, record };
        let n_lines = records.position().line().saturating_sub(line);
        line = records.position().line();
        bytes = take_record(bytes, source, n_lines, &bound, layout, loading);
        if n_records.is_multiple_of(RECORDS_A_REPORT) {
            let n_bytes_read = records.position().byte();
            progress(Progress {
                file: &input.name,
                n_bytes_read,
                n_bytes,
                n_records,
            });
        }
    }
    let tally = records.into_inner();
    let n_bytes_read = tally.n_bytes();
    progress(Progress {
        file: &input.name,
        n_bytes_read,
        n_bytes,
        n_records,
    });
    let file = SourceFile {
        name: input.name.clone(),
        bytes: n_bytes_read,
    };
    loading.end_file(file, n_records, tally.sha256());
    Ok(())
}

/// Uses a record or sets it aside, and gives its buffer back.
fn take_record(
    bytes: ByteRecord,
    source: SourceRow,
    n_lines: u64,
    plan: &BoundPlan<'_>,
    layout: &Layout,
    loading: &mut Loading<'_>,
) -> ByteRecord {
    match decode(bytes, layout.form.encoding) {
        Ok(record) => {
            let row = Row {
                record: &record,
                form: &layout.form,
                headers: plan.headers,
                source,
            };
            let fault = match shape_fault(&row, n_lines) {
                Some(fault) => Err(fault),
                None => loading.take(plan, &row),
            };
            loading.book(fault, plan.headers, source);
            record.into_byte_record()
        }
        Err(bytes) => {
            let fault = RowFault::new(
                "wrong-encoding",
                "the record is not text in the encoding the layout declares",
            )
            .with_hint("declare encoding = \"windows-1252\" under [file] if the export uses it");
            loading.book(Err(fault), plan.headers, source);
            bytes
        }
    }
}

fn shape_fault(row: &Row<'_>, n_lines: u64) -> Option<RowFault> {
    if row.record.as_slice().contains('\0') {
        return Some(RowFault::new(
            "nul-byte",
            "the record holds a byte that no text holds; the file may be damaged",
        ));
    }
    let fault = match row.record.len().cmp(&row.headers.len()) {
        std::cmp::Ordering::Equal => return None,
        std::cmp::Ordering::Less => RowFault::new(
            "too-few-cells",
            "the record has fewer cells than the header",
        ),
        std::cmp::Ordering::Greater => RowFault::new(
            "too-many-cells",
            "the record has more cells than the header",
        ),
    };
    if n_lines > 1 {
        return Some(fault.with_hint(format!(
            "the record spans {n_lines} lines: a quotation mark may be left open, and further records be lost in it"
        )));
    }
    Some(fault.with_hint("a cell that holds the delimiter must be quoted"))
}

fn headers(bytes: ByteRecord, layout: &Layout, name: &str) -> Result<Vec<String>, LoadError> {
    let record = decode(bytes, layout.form.encoding).map_err(|_| LoadError::NotText {
        file: name.to_owned(),
        looks_like: "text in another encoding than the layout declares",
    })?;
    let headers: Vec<String> = record
        .iter()
        .map(|header| header.trim_start_matches('\u{feff}').trim().to_owned())
        .collect();
    if headers.iter().all(String::is_empty) {
        return Err(LoadError::Empty {
            file: name.to_owned(),
        });
    }
    Ok(headers)
}

fn note_unread_columns(
    plan: &BoundPlan<'_>,
    layout: &Layout,
    file: &str,
    findings: &mut Vec<Finding>,
) {
    for (position, header) in plan.headers.iter().enumerate() {
        let is_used = plan.used.get(position) == Some(&true);
        if is_used || layout.ignore.iter().any(|ignored| ignored == header) {
            continue;
        }
        findings.push(Finding {
            check: "column-not-in-layout",
            severity: Severity::Note,
            source: None,
            column: Some(header.clone()),
            message: format!(
                "{file}: column {} is not in the layout and is not read",
                position + 1
            ),
            hint: Some("map it, or list it under `ignore` in the layout".to_owned()),
        });
    }
}
