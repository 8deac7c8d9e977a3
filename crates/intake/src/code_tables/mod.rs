//! What the codes of three published classifications mean to this program, with the days between which each is in force.
//!
//! The tables are data files under `code-tables/`, each with its edition and sources in its first lines. A code is read
//! without regard to case, dots and space around it. A table may hold one code several times, for different days.

mod entry;
mod modifier;

pub use entry::{CodeEntry, Meaning};

use chrono::NaiveDate;
use outcomes::coded;
use outcomes::tables::Side;
use serde::Serialize;
use std::sync::LazyLock;

coded! {
    /// A published classification of diagnoses or procedures.
    pub enum CodeSystem {
        /// Diagnoses, United States.
        Icd10Cm = "icd-10-cm",
        /// Procedures of hospitals, United States.
        Icd10Pcs = "icd-10-pcs",
        /// Procedures of clinicians, United States; numbers only.
        Cpt = "cpt",
    }
}

impl CodeSystem {
    /// The address by which HL7 FHIR names this classification.
    /// Source: HL7 FHIR R4, "Using Code Systems" (terminologies-systems), and the HL7 terminology pages, from memory.
    pub const fn uri(self) -> &'static str {
        match self {
            Self::Icd10Cm => "http://hl7.org/fhir/sid/icd-10-cm",
            Self::Icd10Pcs => "http://www.cms.gov/Medicare/Coding/ICD10",
            Self::Cpt => "http://www.ama-assn.org/go/cpt",
        }
    }

    const fn text(self) -> &'static str {
        match self {
            Self::Icd10Cm => include_str!("../../code-tables/icd-10-cm.csv"),
            Self::Icd10Pcs => include_str!("../../code-tables/icd-10-pcs.csv"),
            Self::Cpt => include_str!("../../code-tables/cpt.csv"),
        }
    }
}

/// One table.
#[derive(Debug)]
pub struct CodeTable {
    /// The classification.
    pub system: CodeSystem,
    /// Which state of it was read.
    pub edition: String,
    /// Where its lines come from.
    pub sources: Vec<String>,
    /// Its lines; a code before the codes it begins, in file order otherwise.
    pub entries: Vec<CodeEntry>,
    /// SHA-256 of the data file, in hexadecimal.
    pub sha256: String,
    /// Lines that could not be read; a test holds that there is none.
    pub n_unreadable: usize,
}

/// A table in a line, for a manifest.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct CodeTableVersion {
    /// The classification.
    pub system: CodeSystem,
    /// Which state of it was read.
    pub edition: String,
    /// SHA-256 of the data file, in hexadecimal.
    pub sha256: String,
}

/// What a table says about a code on a day.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Found<'t> {
    /// A line, and whether it is in force on that day.
    Entry {
        /// The line.
        entry: &'t CodeEntry,
        /// In force on the day asked about.
        is_in_force: bool,
    },
    /// No line, but of a family that the table should cover: something may be lost.
    Unmapped,
    /// A code that has nothing to do with feet, or is no code.
    Foreign,
}

static TABLES: LazyLock<Vec<CodeTable>> = LazyLock::new(|| {
    CodeSystem::ALL
        .iter()
        .map(|system| read(*system, system.text()))
        .collect()
});

/// The tables that come with the program.
pub fn code_tables() -> &'static [CodeTable] {
    &TABLES
}

/// Every table in a line.
pub fn code_table_versions() -> Vec<CodeTableVersion> {
    TABLES
        .iter()
        .map(|table| CodeTableVersion {
            system: table.system,
            edition: table.edition.clone(),
            sha256: table.sha256.clone(),
        })
        .collect()
}

/// What a code means on a day. Among lines of one code the one in force is taken, else the last; among codes that end in
/// `*` the longest.
pub fn look_up(system: CodeSystem, code: &str, day: NaiveDate) -> Found<'static> {
    let Some(table) = TABLES.iter().find(|table| table.system == system) else {
        return Found::Foreign;
    };
    let code = plain(system, code);
    let best = table
        .entries
        .iter()
        .filter(|entry| entry.covers(&code))
        .max_by_key(|entry| (entry.rank(), entry.is_in_force(day)));
    match best {
        None => Found::Foreign,
        Some(entry) if entry.meaning == Meaning::Family => Found::Unmapped,
        Some(entry) => Found::Entry {
            entry,
            is_in_force: entry.is_in_force(day),
        },
    }
}

/// The side that a code's own cell names besides its meaning: a CPT number may have modifiers behind it.
pub(crate) fn side_by_modifier(system: CodeSystem, code: &str) -> Option<Side> {
    let code = code.trim().to_ascii_uppercase();
    let (_, modifiers) = modifier::parted(&code).filter(|_| system == CodeSystem::Cpt)?;
    modifier::side(modifiers)
}

/// A code as the tables write it: capital letters, no dot, no space around it, no modifier behind it.
fn plain(system: CodeSystem, code: &str) -> String {
    let code = code.trim().to_ascii_uppercase();
    if system == CodeSystem::Cpt
        && let Some((number, _)) = modifier::parted(&code)
    {
        return number.to_owned();
    }
    code.replace('.', "")
}

fn read(system: CodeSystem, text: &str) -> CodeTable {
    let digest = <sha2::Sha256 as sha2::Digest>::digest(text.as_bytes());
    let mut table = CodeTable {
        system,
        edition: String::new(),
        sources: Vec::new(),
        entries: Vec::new(),
        sha256: digest.iter().map(|byte| format!("{byte:02x}")).collect(),
        n_unreadable: 0,
    };
    for line in text.lines() {
        match line.strip_prefix("# ") {
            Some(remark) => match remark.split_once(": ") {
                Some(("edition", edition)) => table.edition = edition.to_owned(),
                Some(("source", source)) => table.sources.push(source.to_owned()),
                _ => {}
            },
            None if line.starts_with("code,") => {}
            None => match CodeEntry::read(line) {
                Some(entry) => table.entries.push(entry),
                None => table.n_unreadable += 1,
            },
        }
    }
    table
}
