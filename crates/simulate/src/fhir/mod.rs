//! The same practice as HL7 FHIR R4: one file of newline-delimited JSON for each type, as a bulk export writes them.
//!
//! It holds what the long export holds. Standard codes are used where the trade has them (LOINC for sizes and HbA1c, SNOMED
//! CT for sides and the ulcer, CPT numbers and ICD-10-CM for procedures and diagnoses); everything else carries the
//! invented practice's own codes. No name, no narrative, no birth date. Source of the elements: HL7 FHIR R4 (4.0.1).

mod answers;
mod events;
mod resources;

use crate::naming::label;
use crate::patient::Patient;
use crate::practice::Practice;
use serde_json::Value;
use std::collections::BTreeSet;
use std::io::{self, Write};

/// One writer or one buffer for each file of the export.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct FhirFiles<T> {
    /// Persons.
    pub patients: T,
    /// Attendances kept, and admissions.
    pub encounters: T,
    /// Appointments made, missed and cancelled.
    pub appointments: T,
    /// Lesions, diabetes, status codes.
    pub conditions: T,
    /// Feet, wounds, laboratory values and history.
    pub observations: T,
    /// What was done.
    pub procedures: T,
    /// Referrals and handovers.
    pub service_requests: T,
    /// Studies of arteries.
    pub diagnostic_reports: T,
}

/// Resources of one person, file by file.
type Resources = FhirFiles<Vec<Value>>;

impl<T> FhirFiles<T> {
    /// The files with their names, in the order of the standard's references.
    pub fn named(self) -> [(&'static str, T); 8] {
        [
            ("Patient.ndjson", self.patients),
            ("Encounter.ndjson", self.encounters),
            ("Appointment.ndjson", self.appointments),
            ("Condition.ndjson", self.conditions),
            ("Observation.ndjson", self.observations),
            ("Procedure.ndjson", self.procedures),
            ("ServiceRequest.ndjson", self.service_requests),
            ("DiagnosticReport.ndjson", self.diagnostic_reports),
        ]
    }
}

impl Practice {
    /// Writes the export as HL7 FHIR R4.
    ///
    /// # Errors
    /// Those of the writers.
    pub fn write_fhir<W: Write>(&self, files: FhirFiles<W>) -> io::Result<()> {
        let mut files = files.named().map(|(_, file)| file);
        for (_, patient) in self.patients() {
            let resources = self.resources(&patient).named();
            for (file, (_, resources)) in files.iter_mut().zip(resources) {
                for resource in resources {
                    serde_json::to_writer(&mut *file, &resource)?;
                    file.write_all(b"\n")?;
                }
            }
        }
        files.iter_mut().try_for_each(Write::flush)
    }

    /// The export as HL7 FHIR R4 in memory.
    ///
    /// # Errors
    /// When a resource cannot be written as JSON.
    pub fn export_fhir(&self) -> io::Result<FhirFiles<Vec<u8>>> {
        let mut files = FhirFiles::default();
        self.write_fhir(FhirFiles {
            patients: &mut files.patients,
            encounters: &mut files.encounters,
            appointments: &mut files.appointments,
            conditions: &mut files.conditions,
            observations: &mut files.observations,
            procedures: &mut files.procedures,
            service_requests: &mut files.service_requests,
            diagnostic_reports: &mut files.diagnostic_reports,
        })?;
        Ok(files)
    }

    fn resources(&self, patient: &Patient) -> Resources {
        let scenario = &self.scenario;
        let mut all = Resources::default();
        let person = resources::About { patient, scenario };
        all.patients.push(person.patient());
        person.history(&mut all);
        person.lesions(&observed_labels(patient), &mut all);
        for (number, row) in patient.rows.iter().enumerate() {
            person.visit(number, row, &mut all);
            person.seen(number, row, &mut all);
            for (place, event) in row.events.iter().enumerate() {
                person.event((number, place), event, &mut all);
            }
        }
        all
    }
}

/// Labels of the lesions that some row of the export looks at.
fn observed_labels(patient: &Patient) -> BTreeSet<String> {
    patient
        .rows
        .iter()
        .flat_map(|row| &row.ulcers)
        .map(|ulcer| label(ulcer.label))
        .collect()
}
