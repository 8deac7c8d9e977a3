//! The data types of the standard that the export uses: codings, references, components with their values.

use crate::naming::date;
use crate::scenario::Scenario;
use serde_json::{Value, json};

/// The invented practice's own codes. The domain is one that nobody can own.
pub(super) const OWN: &str = "https://tarnwick.example/codes";
/// The system of its labels of lesions.
pub(super) const LESIONS: &str = "https://tarnwick.example/lesions";
pub(super) const LOINC: &str = "http://loinc.org";
pub(super) const SNOMED: &str = "http://snomed.info/sct";
pub(super) const CPT: &str = "http://www.ama-assn.org/go/cpt";
pub(super) const ICD_10_CM: &str = "http://hl7.org/fhir/sid/icd-10-cm";
const UCUM: &str = "http://unitsofmeasure.org";

/// A concept of one coding.
pub(super) fn concept(system: &str, code: &str) -> Value {
    json!({ "coding": [{ "system": system, "code": code }] })
}

pub(super) fn reference(kind: &str, id: &str) -> Value {
    json!({ "reference": format!("{kind}/{id}") })
}

/// A calendar day.
pub(super) fn day(scenario: &Scenario, day: i32) -> String {
    date(scenario, day).to_string()
}

/// The components of a panel.
#[derive(Default)]
pub(super) struct Components {
    pub(super) list: Vec<Value>,
}

impl Components {
    fn push(&mut self, code: Value, key: &str, value: Value) {
        self.list.push(json!({ "code": code, key: value }));
    }

    /// An answer by one of the practice's own codes.
    pub(super) fn word(&mut self, code: &str, answer: Option<&str>) {
        if let Some(answer) = answer {
            let code = concept(OWN, code);
            self.push(code, "valueCodeableConcept", concept(OWN, answer));
        }
    }

    /// A label of another lesion.
    pub(super) fn label(&mut self, code: &str, label: Option<String>) {
        if let Some(label) = label {
            let code = concept(OWN, code);
            self.push(code, "valueCodeableConcept", concept(LESIONS, &label));
        }
    }

    pub(super) fn flag(&mut self, code: &str, answer: Option<bool>) {
        if let Some(answer) = answer {
            self.push(concept(OWN, code), "valueBoolean", json!(answer));
        }
    }

    pub(super) fn date(&mut self, code: &str, answer: Option<String>) {
        if let Some(answer) = answer {
            self.push(concept(OWN, code), "valueDateTime", json!(answer));
        }
    }

    pub(super) fn number(&mut self, (system, code): (&str, &str), unit: &str, answer: Option<f64>) {
        if let Some(answer) = answer {
            self.push(
                concept(system, code),
                "valueQuantity",
                quantity(answer, unit),
            );
        }
    }
}

/// A number with its UCUM unit.
pub(super) fn quantity(value: f64, unit: &str) -> Value {
    json!({ "value": value, "unit": unit, "system": UCUM, "code": unit })
}
