//! HL7 FHIR R4 as a second door: newline-delimited JSON, one resource a line, as bulk exports write it.
//!
//! Every line is read once into what its resource says. Then references are followed and rows are built, so files and
//! lines may come in any order. Each resource ends as used or set aside with one reason. Narrative, notes and display names
//! are never read. Source: HL7 FHIR R4 (4.0.1) and its page on newline-delimited JSON.

mod build;
mod dating;
mod events;
mod json;
mod observation;
mod part;
mod profile;
mod read;
mod repeats;
mod rows;
mod screen;
mod seen;
mod tables;

use super::door::PlainLines;
use super::row::{RowFault, set_aside};
use super::tables::{Loading, RecordBytes};
use super::{FileDigest, Input, LoadError, Progress};
use crate::layout::{FhirProfile, Layout};
use chrono::{DateTime, NaiveDate};
pub(crate) use json::Coding;
use json::{reference, text};
use outcomes::finding::{ByteAccount, FileAccount};
use outcomes::tables::{SourceFile, SourceRow};
use part::{Day, Part};
use read::{Reader, Said, aside};
use screen::ResourceScreen;
use serde_json::Value as Json;
use std::hash::{DefaultHasher, Hasher};

/// Resources between two reports of progress.
const RESOURCES_A_REPORT: u64 = 4096;

/// Reads every file of an export into the tables.
pub(super) fn load(
    inputs: &[Input],
    layout: &Layout,
    profile: &FhirProfile,
    loading: &mut Loading<'_>,
    progress: &dyn Fn(Progress<'_>),
) -> Result<(), LoadError> {
    let mut parts = Vec::new();
    let is_dated = inputs.iter().any(|input| input.exported.is_some());
    let undated = inputs.iter().find(|input| input.exported.is_none());
    if let (true, Some(input)) = (is_dated, undated) {
        return Err(LoadError::ExportDayMissing {
            file: input.name.clone(),
        });
    }
    for input in inputs {
        if let Some(role) = input.role {
            return Err(LoadError::RoleUnknown {
                file: input.name.clone(),
                layout: layout.name.clone(),
                role,
                roles: Vec::new(),
            });
        }
        read_file(input, layout, profile, loading, &mut parts, progress)?;
    }
    let read: Vec<(SourceRow, u64)> = parts
        .iter()
        .map(|part| (part.source, part.n_bytes))
        .collect();
    let exported: Vec<Option<NaiveDate>> = inputs.iter().map(|input| input.exported).collect();
    let outcomes = build::build(parts, profile, &exported, loading);
    for ((source, n_bytes), outcome) in read.into_iter().zip(outcomes) {
        book(source, n_bytes, outcome, loading);
    }
    for account in &mut loading.accounts {
        account.set_aside.sort();
    }
    Ok(())
}

fn read_file(
    input: &Input,
    layout: &Layout,
    profile: &FhirProfile,
    loading: &mut Loading<'_>,
    parts: &mut Vec<Part>,
    progress: &dyn Fn(Progress<'_>),
) -> Result<(), LoadError> {
    let name = input.name.as_str();
    let file = loading.next_file(input)?;
    let source = input.source();
    let n_bytes = source.size()?;
    let mut lines = PlainLines::open(&source, &layout.form)?;
    let mut screen = ResourceScreen::new(layout, loading.horizon);
    let n_before = parts.len();
    let mut record_bytes = RecordBytes::default();
    let mut blank = 0;
    let mut n_records = 0_u64;
    while lines.next_line()? {
        let n_line_bytes = lines.n_line_bytes();
        if lines.content().is_empty() {
            blank += n_line_bytes;
            continue;
        }
        n_records += 1;
        let record = u32::try_from(n_records).map_err(|_| input.too_many("records"))?;
        let source = SourceRow { file, record };
        record_bytes.push(n_line_bytes);
        parts.push(part(
            lines.content(),
            n_line_bytes,
            source,
            profile,
            &mut screen,
        ));
        if n_records.is_multiple_of(RESOURCES_A_REPORT) {
            progress(Progress {
                file: name,
                n_bytes_read: lines.n_bytes_read(),
                n_bytes,
                n_records,
            });
        }
    }
    if let Some(since) = loading.profile_since {
        let of_file = parts.get(n_before..).unwrap_or_default();
        loading.profiles.push(profile::profile(of_file, since));
    }
    loading.record_bytes.push(record_bytes);
    let closed = lines.close();
    progress(Progress {
        file: name,
        n_bytes_read: closed.n_bytes,
        n_bytes: closed.n_bytes,
        n_records,
    });
    loading.findings.extend(screen.findings(name));
    loading.digests.push(FileDigest {
        file: name.to_owned(),
        sha256: closed.sha256,
    });
    loading.accounts.push(FileAccount {
        file: name.to_owned(),
        bytes: closed.n_bytes,
        text_bytes: ByteAccount {
            blank,
            ..ByteAccount::default()
        },
        n_read: n_records,
        ..FileAccount::default()
    });
    loading.tables.files.push(SourceFile {
        name: name.to_owned(),
        bytes: closed.n_bytes,
    });
    Ok(())
}

/// Reads one line.
fn part(
    line: &[u8],
    n_bytes: u64,
    source: SourceRow,
    profile: &FhirProfile,
    screen: &mut ResourceScreen<'_>,
) -> Part {
    let mut hasher = DefaultHasher::new();
    hasher.write(line);
    let mut part = Part {
        source,
        n_bytes,
        identity: None,
        last_updated: None,
        line: hasher.finish(),
        subject: None,
        encounter: None,
        day: Day::Absent,
        side: None,
        body: Err(RowFault::new(
            "unreadable-line",
            "the line is no JSON object, or not UTF-8",
        )),
        findings: Vec::new(),
    };
    let Ok(resource) = serde_json::from_slice::<Json>(line) else {
        return part;
    };
    if !resource.is_object() {
        return part;
    }
    let kind = text(&resource, "resourceType").unwrap_or("");
    screen.look(kind_name(kind), &resource, source);
    part.identity = text(&resource, "id").map(|id| (kind.to_owned(), id.to_owned()));
    part.last_updated = resource
        .get("meta")
        .and_then(|meta| text(meta, "lastUpdated"))
        .and_then(|written| DateTime::parse_from_rfc3339(written).ok());
    part.subject = read::subject(kind, &resource);
    part.encounter = reference(&resource, "encounter").map(|found| found.id);
    let mut reader = Reader {
        profile,
        source,
        findings: Vec::new(),
    };
    let Said { day, body } = match kind {
        "" => aside(
            Day::Absent,
            "unknown-resource-type",
            "a resource of a type that nothing is read from",
        ),
        kind => read::read(kind, &resource, &mut reader),
    };
    part.side = reader.place(&resource).0;
    part.day = day;
    part.body = body;
    part.findings = reader.findings;
    part
}

/// A type as it may stand in a message: letters only, as the standard has it.
fn kind_name(kind: &str) -> &str {
    let is_plain =
        !kind.is_empty() && kind.len() <= 64 && kind.bytes().all(|byte| byte.is_ascii_alphabetic());
    if is_plain { kind } else { "resource" }
}

/// Books what became of a resource.
fn book(source: SourceRow, n_bytes: u64, outcome: Result<(), RowFault>, loading: &mut Loading<'_>) {
    let Some(account) = loading.accounts.get_mut(usize::from(source.file)) else {
        return;
    };
    match outcome {
        Ok(()) => {
            account.n_used += 1;
            account.text_bytes.used += n_bytes;
        }
        Err(fault) => {
            account.text_bytes.set_aside += n_bytes;
            match account
                .set_aside
                .iter_mut()
                .find(|(check, _)| check == fault.check)
            {
                Some((_, n)) => *n += 1,
                None => account.set_aside.push((fault.check.to_owned(), 1)),
            }
            loading.findings.push(set_aside(fault, &[], source));
        }
    }
    loading.listing.settle(&mut loading.findings);
}
