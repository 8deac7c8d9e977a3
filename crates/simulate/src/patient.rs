//! One patient with everything known and true about them.

use crate::chance::{Chance, Purpose};
use crate::course::{History, history};
use crate::filing::filed_rows;
use crate::person::{Person, person};
use crate::record::Row;
use crate::recording::{Facts, facts, recorded};
use crate::scenario::Scenario;

/// One patient with everything that is known and true about them.
pub(crate) struct Patient {
    pub(crate) person: Person,
    pub(crate) history: History,
    /// Rows of the export as a perfect clinic would have written them: nothing misread, nothing left out.
    pub(crate) perfect_rows: Vec<Row>,
    /// The same rows as written down.
    pub(crate) rows: Vec<Row>,
    pub(crate) facts: Facts,
}

/// Makes the patient with this number; none when no visit falls into the export.
pub(crate) fn patient(scenario: &Scenario, seed: u64, number: u64) -> Option<Patient> {
    let mut chance = Chance::of_patient(seed, number, Purpose::Course);
    let person = person(scenario, seed, number, &mut chance);
    let history = history(scenario, &person, chance);
    let mut perfect_rows = filed_rows(&history, &person, scenario.last_day());
    perfect_rows.retain(|row| row.day >= 0);
    if perfect_rows.is_empty() {
        return None;
    }
    let mut chance = Chance::of_patient(seed, number, Purpose::Recording);
    let facts = facts(&person, &history, &perfect_rows, scenario, &mut chance);
    let rows = perfect_rows
        .iter()
        .map(|row| recorded(row, &scenario.recording, &mut chance))
        .collect();
    Some(Patient {
        person,
        history,
        perfect_rows,
        rows,
        facts,
    })
}

impl Patient {
    /// Pseudonymous key of the clinician of a row; each clinic site has its own.
    pub(crate) fn clinician_key(&self, row: &Row, scenario: &Scenario) -> String {
        let site = u32::try_from(self.person.clinic).unwrap_or(0);
        format!(
            "C{}",
            site * scenario.n_clinicians_per_clinic + row.clinician
        )
    }
}
