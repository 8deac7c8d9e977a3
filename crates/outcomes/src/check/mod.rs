//! Checks that need more than one row: what cannot all be true at once, and what is worth a second look.
//!
//! A check never stops a run and never loses a row; it notes, or turns one impossible cell into a missing one.

mod order;
mod sightings;

use crate::finding::{Finding, Severity};
use crate::tables::Tables;

/// A check and what it means, for `list`, `explain` and the report.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct CheckWords {
    /// Name, in the words of the fault.
    pub name: &'static str,
    /// What it does to the row.
    pub severity: Severity,
    /// What it means.
    pub words: &'static str,
}

/// Every check of this crate.
pub const CHECKS: &[CheckWords] = &[
    CheckWords {
        name: "onset-after-first-visit",
        severity: Severity::CellIgnored,
        words: "an onset dated after the visit that recorded it; the onset counts as missing",
    },
    CheckWords {
        name: "row-after-death",
        severity: Severity::Note,
        words: "something was recorded as seen or done after the recorded death; one of the two dates is wrong",
    },
    CheckWords {
        name: "open-and-closed-on-one-day",
        severity: Severity::Note,
        words: "two rows of one day disagree about an ulcer; it counts as open",
    },
    CheckWords {
        name: "closure-not-seen-by-clinician",
        severity: Severity::Note,
        words: "a closure told by a patient, a home nurse or a photograph; only a clinician's examination closes an ulcer",
    },
    CheckWords {
        name: "never-seen-open",
        severity: Severity::Note,
        words: "an ulcer that was only ever recorded as closed or pre-ulcerative; it begins no episode",
    },
    CheckWords {
        name: "area-grew-fourfold",
        severity: Severity::Note,
        words: "length times width grew more than four times between two visits; a unit may have changed",
    },
    CheckWords {
        name: "amputation-without-side",
        severity: Severity::Note,
        words: "an amputation without a side; it cannot be given to a limb and is not counted",
    },
    CheckWords {
        name: "side-changed",
        severity: Severity::Note,
        words: "one label appears on both feet; a side may be mistyped",
    },
];

/// Runs every check. The tables must be in reading order.
pub fn check(mut tables: Tables) -> (Tables, Vec<Finding>) {
    let mut findings = Vec::new();
    order::onset_after_first_visit(&mut tables, &mut findings);
    order::rows_after_death(&tables, &mut findings);
    order::amputations_without_side(&tables, &mut findings);
    sightings::check_ulcers(&tables, &mut findings);
    findings.sort_by_key(|finding| (finding.source, finding.check));
    (tables, findings)
}

fn severity(name: &str) -> Severity {
    CHECKS
        .iter()
        .find(|check| check.name == name)
        .map_or(Severity::Note, |check| check.severity)
}
