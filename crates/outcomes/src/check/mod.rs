//! Checks that need more than one row: what cannot all be true at once, and what is worth a second look.
//!
//! A check never stops a run and never loses a row; it notes, or turns one impossible cell into a missing one.

mod ids;
mod labels;
mod limbs;
mod magnitudes;
mod onsets;
mod order;
pub mod overview;
mod people;
mod pressures;
mod sightings;
mod sizes;
mod words;

pub use ids::check_ids;
pub use magnitudes::{Magnitudes, middle_of};
pub use words::CHECKS;

use crate::finding::{Finding, Severity};
use crate::tables::{SourceRow, Tables};

/// A check and what it means, for `list`, `explain` and the report.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct CheckWords {
    /// Name, in the words of the fault.
    pub name: &'static str,
    /// What it does to the row.
    pub severity: Severity,
    /// What it means.
    pub words: &'static str,
    /// Where a limit in it comes from; empty where it holds none.
    pub source: &'static str,
}

/// Runs every check. The tables must be in reading order.
pub fn check(mut tables: Tables) -> (Tables, Vec<Finding>) {
    let mut findings = Vec::new();
    order::onset_after_first_visit(&mut tables, &mut findings);
    sizes::sizes_of_open_ulcers(&mut tables, &mut findings);
    people::years_of_diabetes(&mut tables, &mut findings);
    order::rows_after_death(&tables, &mut findings);
    order::amputations_without_side(&tables, &mut findings);
    order::visits(&tables, &mut findings);
    people::check_people(&tables, &mut findings);
    sizes::check_sizes(&tables, &mut findings);
    pressures::check_exams(&tables, &mut findings);
    limbs::feet_seen_after_major_amputation(&tables, &mut findings);
    sightings::check_ulcers(&tables, &mut findings);
    labels::check_labels(&tables, &mut findings);
    onsets::heaped_onsets(&tables, &mut findings);
    findings.sort_by_key(|finding| (finding.source, finding.check));
    (tables, findings)
}

fn severity(name: &str) -> Severity {
    CHECKS
        .iter()
        .find(|check| check.name == name)
        .map_or(Severity::Note, |check| check.severity)
}

/// A finding of one row with the severity its check declares.
fn found(check: &'static str, source: SourceRow, message: &'static str) -> Finding {
    Finding::on_row(check, severity(check), source, message)
}
