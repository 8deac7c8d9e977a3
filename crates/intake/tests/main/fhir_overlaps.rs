//! HL7 FHIR R4: several codes in one resource, versions of one resource in several files, and codings nobody named.

use crate::fhir::{
    LAYOUT, OWN, answer, aside, lesion, load, load_text, ndjson, own, patient, resource, visit,
    wound,
};
use crate::support::{TestFile, day, horizon, lines};
use intake::{Input, LoadError, layout};
use outcomes::tables::{AmputationHeight, DiabetesType, EventKind, Side, TissueDepth, UlcerState};
use serde_json::{Value, json};

fn published(codes: &[(&str, &str)]) -> Value {
    let address = |system: &str| match system {
        "cm" => "http://hl7.org/fhir/sid/icd-10-cm",
        "cpt" => "http://www.ama-assn.org/go/cpt",
        "own" => OWN,
        other => panic!("no system {other}"),
    };
    let codings: Vec<Value> = codes
        .iter()
        .map(|(system, code)| json!({"system": address(system), "code": code}))
        .collect();
    json!({"coding": codings})
}

fn condition(codes: &[(&str, &str)]) -> Value {
    resource(
        "Condition",
        "C1",
        json!({"code": published(codes), "recordedDate": "2025-02-01"}),
    )
}

/// ICD-10-CM codes the diabetes before the ulcer, so the ulcer is seldom the first code.
/// Source: ICD-10-CM, note at E11.621 "use additional code to identify site of ulcer (L97.4-, L97.5-)".
#[test]
fn every_published_code_of_a_condition_counts_whatever_its_place() {
    for codes in [
        [("cm", "E11.621"), ("cm", "L97.421")],
        [("cm", "L97.421"), ("cm", "E11.621")],
    ] {
        let loaded = load(&[patient(), visit("E1", "2025-02-01"), condition(&codes)]);
        let ulcer = &loaded.tables.ulcer_observations[0];
        assert_eq!(
            (ulcer.side, ulcer.state),
            (Side::Left, Some(UlcerState::Open))
        );
        assert_eq!(
            loaded.tables.patients[0].diabetes_type,
            Some(DiabetesType::Type2)
        );
    }
    let deep = load(&[patient(), condition(&[("cm", "E11.69"), ("cm", "L97.514")])]);
    assert_eq!(
        deep.tables.ulcer_observations[0].tissue_depth,
        Some(TissueDepth::BoneOrJoint)
    );
    // two kinds of history in one resource
    let history = load(&[patient(), condition(&[("cm", "Z89.512"), ("cm", "N18.6")])]);
    let person = &history.tables.patients[0];
    assert_eq!(person.prior_amputations.len(), 1);
    assert!(person.renal_replacement.unwrap().is_yes);
}

#[test]
fn codes_that_contradict_each_other_or_are_unknown_are_told() {
    let both = load(&[
        patient(),
        condition(&[("cm", "L97.421"), ("cm", "L97.411")]),
    ]);
    assert_eq!(both.tables.ulcer_observations.len(), 0);
    assert_eq!(aside(&both), ["no-side 1"]);

    let operation = |codes: &[(&str, &str)]| {
        let said = json!({"status": "completed", "code": published(codes), "performedDateTime": "2025-03-01", "bodySite": [own("L")]});
        load(&[patient(), resource("Procedure", "R1", said)])
    };
    // the practice says a toe, the code says below the knee: the practice's word stands alone, and it is told
    let toe = operation(&[("own", "toe-off"), ("cpt", "27880")]);
    let event = &toe.tables.events[0];
    assert_eq!(
        (event.kind, event.height, event.is_staged),
        (
            EventKind::MinorAmputation,
            Some(AmputationHeight::Toe),
            false
        )
    );
    assert_eq!(lines(&toe), ["note codes-disagree record 2 Procedure.code"]);
    // a stage of another level lends nothing either
    let stage = operation(&[("own", "toe-off"), ("cpt", "27884")]);
    assert!(!stage.tables.events[0].is_staged);
    assert_eq!(
        lines(&stage),
        ["note codes-disagree record 2 Procedure.code"]
    );
    // alike: nothing to tell
    assert_eq!(
        lines(&operation(&[("own", "toe-off"), ("cpt", "28820")])),
        Vec::<String>::new()
    );
    // a referral is no revascularisation, whatever code stands beside it
    let referral = operation(&[("own", "referral"), ("cpt", "37228")]);
    assert_eq!(referral.tables.events[0].kind, EventKind::VascularReferral);
    assert_eq!(
        lines(&referral),
        ["note codes-disagree record 2 Procedure.code"]
    );
}

fn at(mut said: Value, updated: &str) -> Value {
    said["meta"] = json!({"lastUpdated": updated});
    said
}

#[test]
fn the_last_change_is_an_instant_and_not_a_text() {
    // 23:30 at -05:00 is 04:30 the next day in UTC, later than 03:00 UTC although its text sorts before
    let later = at(wound("O1", "2025-02-01", "C"), "2025-02-01T23:30:00-05:00");
    let earlier = at(wound("O1", "2025-02-01", "O"), "2025-02-02T03:00:00Z");
    for story in [[&later, &earlier], [&earlier, &later]] {
        let loaded = load(&[patient(), lesion(), story[0].clone(), story[1].clone()]);
        assert_eq!(aside(&loaded), ["older-version 1"]);
        assert_eq!(
            loaded.tables.ulcer_observations[0].state,
            Some(UlcerState::Closed)
        );
    }
}

#[test]
fn of_files_that_overlap_the_newer_one_counts_and_it_is_said() {
    let first = ndjson(&[patient(), lesion(), wound("O1", "2025-02-01", "O")]);
    let second = ndjson(&[patient(), wound("O1", "2025-02-01", "C")]);
    let load = |days: [Option<&str>; 2]| {
        let layout = layout::parse(LAYOUT, "small.toml").unwrap();
        let files = [("first.ndjson", &first), ("second.ndjson", &second)];
        let kept: Vec<TestFile> = files
            .iter()
            .map(|(_, text)| TestFile::new(text.as_bytes()))
            .collect();
        let inputs: Vec<Input> = files
            .iter()
            .zip(&kept)
            .zip(days)
            .map(|(((name, _), file), exported)| Input {
                name: (*name).to_owned(),
                path: file.path.clone(),
                role: None,
                joined: None,
                exported: exported.map(day),
            })
            .collect();
        intake::load(&inputs, &layout, &horizon(), &|_| {})
    };
    // the file listed first was exported later
    let loaded = load([Some("2025-05-01"), Some("2025-04-01")]).unwrap();
    assert_eq!(
        loaded.tables.ulcer_observations[0].state,
        Some(UlcerState::Open)
    );
    let said = loaded
        .findings
        .iter()
        .find(|finding| finding.check == "older-version")
        .unwrap();
    assert!(
        said.message
            .contains("first.ndjson, record 3 is used instead"),
        "{}",
        said.message
    );
    // nothing says which is newer: the last read is taken, and that is said
    let loaded = load([None, None]).unwrap();
    assert_eq!(
        loaded.tables.ulcer_observations[0].state,
        Some(UlcerState::Closed)
    );
    let said = loaded
        .findings
        .iter()
        .find(|finding| finding.check == "older-version")
        .unwrap();
    assert!(
        said.message
            .contains("second.ndjson, record 2, read last, is used"),
        "{}",
        said.message
    );
    for account in &loaded.accounts {
        assert!(account.is_balanced());
        assert_eq!(account.text_bytes.total(), account.bytes);
    }
    let error = load([Some("2025-05-01"), None]).unwrap_err();
    assert!(matches!(error, LoadError::ExportDayMissing { .. }));
}

#[test]
fn a_coding_of_the_practice_that_the_layout_forgot_may_be_a_loss_and_one_of_a_public_system_is_none()
 {
    let other = |system: &str, code: &str| {
        let mut said = answer("O1", "x", "2025-02-01", json!({"valueBoolean": true}));
        said["code"] = json!({"coding": [{"system": system, "code": code}]});
        said
    };
    let story = |said: Value| [patient(), lesion(), wound("O9", "2025-02-01", "O"), said];
    let forgotten = load(&story(other(OWN, "lenght")));
    assert_eq!(aside(&forgotten), ["coding-not-in-layout 1"]);
    assert_eq!(forgotten.accounts[0].faults().count(), 1);
    let foreign = load(&story(other("http://loinc.org", "2345-7")));
    assert_eq!(aside(&foreign), ["coding-of-no-interest 1"]);
    assert_eq!(foreign.accounts[0].faults().count(), 0);
    // declared to be of no use, one coding or a whole system
    for ignored in ["own|lenght", "own|*"] {
        let layout = format!("ignore = [\"{ignored}\"]\n{LAYOUT}");
        let loaded = load_text(&layout, &ndjson(&story(other(OWN, "lenght"))));
        assert_eq!(aside(&loaded), ["coding-of-no-interest 1"], "{ignored}");
    }
}

/// An observation that only says on which leg a study was made is used by the report that rests on it.
#[test]
fn a_result_from_which_a_report_has_its_side_is_used() {
    let mut result = answer("O1", "study-result", "2025-02-02", json!({}));
    result["bodySite"] = own("R");
    let said = json!({"status": "final", "code": published(&[("cpt", "93925")]), "effectiveDateTime": "2025-02-02", "result": [{"reference": "Observation/O1"}]});
    let loaded = load(&[patient(), result, resource("DiagnosticReport", "D1", said)]);
    assert_eq!(loaded.tables.events[0].side, Some(Side::Right));
    assert_eq!(aside(&loaded), Vec::<String>::new());
    assert_eq!(loaded.accounts[0].n_used, 3);
}
