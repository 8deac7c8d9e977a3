//! What perfectly written visits could have shown.

use super::visible_limbs::{VisibleLimb, limb};
use super::visible_people::{VisiblePerson, person};
use super::visible_ulcers::{VisibleUlcer, ulcers};
use super::{TruthFile, csv_file};
use crate::practice::Practice;
use crate::record::Row;
use crate::words::{Attendance, SeenBy, Setting, Side};

/// What a perfect reader could have known from perfectly written visits up to the cut-off: nothing misread or left out.
///
/// Only a clinician can find an ulcer closed; a report that it is open counts whoever gives it. Days count from data start.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct VisibleTruth {
    /// One row a spell of an ulcer from first seen open to its end; surgical wounds included.
    pub ulcers: Vec<VisibleUlcer>,
    /// One row a person.
    pub people: Vec<VisiblePerson>,
    /// Two rows a person, left first.
    pub limbs: Vec<VisibleLimb>,
}

impl VisibleTruth {
    /// The three files of this truth.
    ///
    /// # Errors
    /// When a row cannot be written as CSV.
    pub fn files(&self) -> Result<Vec<TruthFile>, csv::Error> {
        Ok(vec![
            csv_file("visible-ulcers.csv", &self.ulcers)?,
            csv_file("visible-people.csv", &self.people)?,
            csv_file("visible-limbs.csv", &self.limbs)?,
        ])
    }
}

impl Practice {
    /// What perfectly written visits could have shown of each patient in the export.
    pub fn visible_truth(&self) -> VisibleTruth {
        let mut truth = VisibleTruth::default();
        let last_day = self.scenario.last_day();
        for (_, patient) in self.patients() {
            let id = &patient.person.id;
            let rows = &patient.perfect_rows;
            let of_person = ulcers(id, rows, last_day);
            truth.people.push(person(id, rows, &of_person));
            truth.limbs.extend(
                Side::ALL
                    .iter()
                    .map(|side| limb(id, *side, rows, &of_person)),
            );
            truth.ulcers.extend(of_person);
        }
        truth
    }
}

/// Visits at which a clinician examined.
pub(crate) fn examinations(rows: &[Row]) -> impl Iterator<Item = &Row> + Clone {
    rows.iter().filter(|row| {
        row.attendance == Attendance::Kept
            && row.setting != Setting::Remote
            && row
                .ulcers
                .iter()
                .all(|ulcer| ulcer.seen_by == SeenBy::Clinician)
    })
}
