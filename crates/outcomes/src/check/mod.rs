//! Checks that need more than one row: what cannot all be true at once, and what is worth a second look.
//!
//! A check never stops a run and never loses a row; it notes, or turns one impossible cell into a missing one.

mod ends;
mod ids;
mod labels;
mod limbs;
mod magnitudes;
mod onsets;
mod order;
pub mod overview;
mod parts;
mod people;
mod pressures;
mod sides;
mod sightings;
mod sizes;
mod words;

pub use ends::check_ends;
pub use ids::check_ids;
pub use magnitudes::{Magnitudes, middle_of};
pub use words::CHECKS;

use crate::blocks::one_by_one;
use crate::finding::{Finding, Listing, Severity};
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

/// Runs every check. The tables must be in reading order. Of very many findings of one kind the first are listed, and one
/// says how many more there are.
pub fn check(mut tables: Tables) -> (Tables, Vec<Finding>) {
    let mut listing = Listing::default();
    let mut findings = Vec::new();
    // changes of cells come before whatever reads them
    let changing: [fn(&mut Tables, &mut Vec<Finding>); 4] = [
        sides::sides_of_open_ulcers,
        order::onset_after_first_visit,
        sizes::sizes_of_open_ulcers,
        people::years_of_diabetes,
    ];
    for check in changing {
        check(&mut tables, &mut findings);
        listing.settle(&mut findings);
    }
    let reading: [fn(&Tables, &mut Vec<Finding>); 12] = [
        order::rows_after_death,
        order::amputations_without_side,
        order::visits,
        people::check_people,
        sizes::check_sizes,
        parts::sizes_of_another_unit,
        pressures::check_exams,
        limbs::feet_seen_after_major_amputation,
        limbs::removed_without_amputation_row,
        sightings::check_ulcers,
        labels::check_labels,
        onsets::heaped_onsets,
    ];
    let found_by_each = one_by_one(&reading, |check| {
        let mut own = Vec::new();
        check(&tables, &mut own);
        own
    });
    for found in found_by_each {
        findings.extend(found);
        listing.settle(&mut findings);
    }
    findings.extend(listing.more(|file| tables.file_name(file).to_owned()));
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
