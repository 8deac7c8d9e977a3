//! Resources that stand in the export more than once, in one file or in files that overlap.

use super::super::row::RowFault;
use super::part::Part;
use chrono::NaiveDate;
use outcomes::tables::{SourceFile, SourceRow};
use std::cmp::Ordering;
use std::collections::HashMap;

/// The files of an export: their names, and the day each was exported, where the pipeline file says it.
#[derive(Clone, Copy)]
pub(super) struct Files<'f> {
    pub(super) files: &'f [SourceFile],
    pub(super) exported: &'f [Option<NaiveDate>],
}

impl Files<'_> {
    fn exported(&self, source: SourceRow) -> Option<NaiveDate> {
        let day = self.exported.get(usize::from(source.file));
        day.copied().flatten()
    }

    fn place(&self, of: SourceRow, seen_from: SourceRow) -> String {
        if of.file == seen_from.file {
            return format!("record {}", of.record);
        }
        let file = self.files.get(usize::from(of.file));
        let name = file.map_or("another file", |file| file.name.as_str());
        format!("{name}, record {}", of.record)
    }
}

/// What tells which of two versions is newer.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Newer {
    /// When the records changed.
    LastUpdated,
    /// When the files were exported.
    Exported,
    /// Nothing does; the one read later is taken.
    Nothing,
}

/// Of the versions of a resource the newest counts: by the instant of its last change where both tell it, else by the day of
/// export of its file, else the one read last. The others are set aside, each with the record that is used instead.
pub(super) fn repeats(parts: &[Part], files: Files<'_>) -> Vec<Option<RowFault>> {
    let mut kept: HashMap<&(String, String), usize> = HashMap::new();
    for (position, part) in parts.iter().enumerate() {
        let Some(identity) = &part.identity else {
            continue;
        };
        let known = kept.get(identity).and_then(|known| parts.get(*known));
        let is_kept = known.is_none_or(|known| {
            known.line != part.line && order(known, part, files).0 != Ordering::Greater
        });
        if is_kept {
            kept.insert(identity, position);
        }
    }
    parts
        .iter()
        .enumerate()
        .map(|(position, part)| {
            let known = *kept.get(part.identity.as_ref()?)?;
            let other = parts.get(known).filter(|_| known != position)?;
            let place = files.place(other.source, part.source);
            if other.line == part.line {
                return Some(RowFault::told(
                    "repeated-row",
                    format!("the row is identical to another one: {place} is used"),
                ));
            }
            Some(RowFault::told(
                "older-version",
                match order(part, other, files).1 {
                    Newer::LastUpdated | Newer::Exported => {
                        format!("the export holds a newer version of the resource: {place} is used instead")
                    }
                    Newer::Nothing => format!(
                        "the export holds another version of the resource, and neither its last change nor the day of export \
                         says which is newer: {place}, read last, is used"
                    ),
                },
            ))
        })
        .collect()
}

fn order(one: &Part, other: &Part, files: Files<'_>) -> (Ordering, Newer) {
    if let (Some(one), Some(other)) = (one.last_updated, other.last_updated)
        && one != other
    {
        return (one.cmp(&other), Newer::LastUpdated);
    }
    let days = (files.exported(one.source), files.exported(other.source));
    if let (Some(one), Some(other)) = days
        && one != other
    {
        return (one.cmp(&other), Newer::Exported);
    }
    (Ordering::Equal, Newer::Nothing)
}
