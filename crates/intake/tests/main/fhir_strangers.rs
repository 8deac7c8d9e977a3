//! HL7 FHIR R4 as other writers make it: references without a type, times in UTC, a Bundle in place of a bulk export.

use crate::fhir::{LAYOUT, aside, lesion, load_text, ndjson, patient, visit, wound};
use outcomes::tables::Attendance;
use serde_json::{Value, json};

/// An appointment that nobody came to, with these actors.
fn missed(id: &str, actors: &Value) -> Value {
    let participant: Vec<Value> = actors
        .as_array()
        .into_iter()
        .flatten()
        .map(|actor| json!({"actor": actor, "status": "accepted"}))
        .collect();
    json!({
        "resourceType": "Appointment",
        "id": id,
        "status": "noshow",
        "start": "2025-03-01",
        "participant": participant,
    })
}

/// (the actors, what becomes of the appointment). `Reference.type`: HL7 FHIR R4 (4.0.1), "References".
#[test]
fn the_patient_of_an_appointment_is_told_by_type_or_by_being_the_only_one() {
    for (actors, reasons) in [
        (json!([{"reference": "urn:uuid:P1"}]), vec![]),
        (
            json!([{"reference": "urn:uuid:P1"}, {"reference": "Practitioner/C1"}]),
            vec![],
        ),
        (
            json!([{"reference": "urn:uuid:C1"}, {"reference": "urn:uuid:P1", "type": "Patient"}]),
            vec![],
        ),
        (
            json!([{"reference": "urn:uuid:C1"}, {"reference": "urn:uuid:P1"}]),
            vec!["no-patient-id 1"],
        ),
        (
            json!([{"reference": "Practitioner/C1"}]),
            vec!["no-patient-id 1"],
        ),
    ] {
        let loaded = load_text(LAYOUT, &ndjson(&[patient(), missed("A1", &actors)]));
        assert_eq!(aside(&loaded), reasons, "{actors}");
        let n_missed = (loaded.tables.visits.iter())
            .filter(|visit| visit.attendance == Attendance::Missed)
            .count();
        assert_eq!(n_missed, usize::from(reasons.is_empty()), "{actors}");
    }
}

/// Half past five in the afternoon on a clock eight hours behind UTC is the next day there.
#[test]
fn a_time_in_utc_has_the_day_of_the_declared_clock() {
    let text = ndjson(&[
        patient(),
        lesion(),
        visit("E1", "2025-02-02T01:30:00Z"),
        wound("O1", "2025-02-02T01:30:00Z", "O"),
    ]);
    for (dates, day) in [
        ("", "2025-02-02"),
        ("[dates]\nutc_offset = \"-08:00\"\n", "2025-02-01"),
    ] {
        let loaded = load_text(&format!("{LAYOUT}{dates}"), &text);
        assert_eq!(loaded.tables.visits[0].date.to_string(), day);
        assert_eq!(loaded.tables.ulcer_observations[0].date.to_string(), day);
    }
}

#[test]
fn a_bundle_says_its_way_out() {
    let bundle = json!({"resourceType": "Bundle", "entry": [{"resource": patient()}]});
    let loaded = load_text(LAYOUT, &ndjson(&[patient(), bundle]));
    assert_eq!(aside(&loaded), ["unknown-resource-type 1"]);
    let hints = loaded
        .findings
        .iter()
        .filter_map(|finding| finding.hint.as_deref());
    assert!(hints.into_iter().any(|hint| hint.contains("each entry")));
}
