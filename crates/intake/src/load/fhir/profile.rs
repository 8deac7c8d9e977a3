//! What a file of resources comes to, by month and by person, for the overview of an export.

use super::super::profile::FileProfile;
use super::part::{Day, Part};
use chrono::{Datelike, NaiveDate};
use outcomes::check::overview::{Extent, MonthRows, Worth};
use std::collections::BTreeMap;

/// Types that are read; a bulk export has a file for each.
const TYPES: [&str; 8] = [
    "Patient",
    "Encounter",
    "Appointment",
    "Condition",
    "Observation",
    "Procedure",
    "ServiceRequest",
    "DiagnosticReport",
];

/// Counts the resources of one file, before and from a day on. Those without a day, such as persons, count from it on.
/// Resources have no columns, so none are described.
pub(super) fn profile(parts: &[Part], since: NaiveDate) -> FileProfile {
    let mut months: BTreeMap<(i32, u32), u64> = BTreeMap::new();
    let mut people: [BTreeMap<&str, u64>; 2] = Default::default();
    let mut n_rows = [0_u64; 2];
    for part in parts {
        let mut place = 1;
        if let Day::Known(day) = part.day {
            *months.entry((day.year(), day.month())).or_default() += 1;
            place = usize::from(day >= since);
        }
        n_rows[place] += 1;
        if let Some(subject) = &part.subject {
            *people[place].entry(subject).or_default() += 1;
        }
    }
    let extent = |place: usize| Extent {
        n_rows: n_rows[place],
        n_people: people[place].len() as u64,
        n_independent: people[place].values().copied().collect::<Worth>().rows(),
    };
    FileProfile {
        role: kind(parts),
        months: months
            .iter()
            .map(|((year, month), n_rows)| MonthRows {
                month: format!("{year:04}-{month:02}"),
                n_rows: *n_rows,
            })
            .collect(),
        before: extent(0),
        since: extent(1),
        columns: Vec::new(),
    }
}

/// The type of all resources of a file, or "resources" where there are several.
fn kind(parts: &[Part]) -> &'static str {
    let mut kinds = parts.iter().filter_map(|part| part.identity.as_ref());
    let first = kinds.next().map(|(kind, _)| kind.as_str());
    let is_one = kinds.all(|(kind, _)| Some(kind.as_str()) == first);
    TYPES
        .into_iter()
        .find(|known| is_one && Some(*known) == first)
        .unwrap_or("resources")
}
