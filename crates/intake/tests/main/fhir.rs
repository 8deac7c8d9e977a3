//! HL7 FHIR R4 as a second door: small exports, resource by resource. Elements and codes: HL7 FHIR R4 (4.0.1).

use crate::support::{day, line, lines, load_files};
use intake::{Loaded, layout};
use outcomes::finding::Severity;
use outcomes::tables::{AmputationHeight, DatePrecision, EventKind, Side, UlcerState};
use serde_json::{Value, json};

pub(crate) const LAYOUT: &str = r#"
name = "small-fhir"
[file]
shape = "fhir-r4"
[systems]
own = "https://clinic.example/codes"
[lesion]
codes = ["own|ulcer"]
[encounter]
"own|foot" = "clinic"
"own|ward" = "admission"
[side]
"own|L" = "left"
"own|R" = "right"
[site]
"own|HEEL" = "heel"
[event]
"own|referral" = "vascular-referral"
"own|toe-off" = "minor-amputation toe"
[patient]
smoker = "own|smoker"
[visit]
hba1c = "own|hba1c"
[foot_exam]
panel = "own|foot-exam"
sensation = { code = "own|sensation", answers = "sensation" }
toe_pressure = "own|toe-pressure"
[ulcer]
panel = "own|wound"
state = { code = "own|state", answers = "states" }
length = "own|length"
onset_date = "own|onset"
[answers]
sensation = { "own|1" = "intact", "own|0" = "lost", "own|9" = "missing" }
states = { "own|O" = "open", "own|C" = "closed" }
"#;

pub(crate) const OWN: &str = "https://clinic.example/codes";

pub(crate) fn own(code: &str) -> Value {
    json!({"coding": [{"system": OWN, "code": code}]})
}

fn of(kind: &str, id: &str) -> Value {
    json!({"reference": format!("{kind}/{id}")})
}

/// A resource of person P1 with some elements more.
pub(crate) fn resource(kind: &str, id: &str, more: Value) -> Value {
    let mut resource = json!({"resourceType": kind, "id": id, "subject": of("Patient", "P1")});
    if let (Some(resource), Value::Object(more)) = (resource.as_object_mut(), more) {
        resource.extend(more);
    }
    resource
}

pub(crate) fn patient() -> Value {
    json!({"resourceType": "Patient", "id": "P1", "gender": "female", "birthDate": "1951"})
}

pub(crate) fn visit(id: &str, date: &str) -> Value {
    resource(
        "Encounter",
        id,
        json!({"status": "finished", "type": [own("foot")], "period": {"start": date}}),
    )
}

pub(crate) fn lesion() -> Value {
    resource(
        "Condition",
        "U1",
        json!({
            "code": own("ulcer"),
            "bodySite": [{"coding": [{"system": OWN, "code": "L"}, {"system": OWN, "code": "HEEL"}]}],
            "recordedDate": "2025-02-01",
        }),
    )
}

pub(crate) fn answer(id: &str, code: &str, date: &str, more: Value) -> Value {
    let mut said = resource(
        "Observation",
        id,
        json!({"status": "final", "code": own(code), "effectiveDateTime": date}),
    );
    if let (Some(said), Value::Object(more)) = (said.as_object_mut(), more) {
        said.extend(more);
    }
    said
}

pub(crate) fn wound(id: &str, date: &str, state: &str) -> Value {
    answer(
        id,
        "wound",
        date,
        json!({
            "focus": [of("Condition", "U1")],
            "component": [{"code": own("state"), "valueCodeableConcept": own(state)}],
        }),
    )
}

pub(crate) fn ndjson(resources: &[Value]) -> String {
    resources.iter().map(|one| format!("{one}\n")).collect()
}

pub(crate) fn load_text(layout: &str, text: &str) -> Loaded {
    let loaded = load_files(layout, &[("export.ndjson", None, text.as_bytes())]).unwrap();
    for account in &loaded.accounts {
        assert!(account.is_balanced(), "{account:?}");
        assert_eq!(account.text_bytes.total(), account.bytes, "{account:?}");
    }
    loaded
}

pub(crate) fn load(resources: &[Value]) -> Loaded {
    load_text(LAYOUT, &ndjson(resources))
}

/// The reasons for which resources were set aside.
pub(crate) fn aside(loaded: &Loaded) -> Vec<String> {
    let all = loaded
        .accounts
        .iter()
        .flat_map(|account| &account.set_aside);
    all.map(|(check, n)| format!("{check} {n}")).collect()
}

#[test]
fn a_small_story_becomes_rows_of_every_table() {
    let loaded = load(&[
        patient(),
        visit("E1", "2025-02-01T10:30:00+01:00"),
        lesion(),
        wound("O1", "2025-02-01", "O"),
        answer(
            "O2",
            "sensation",
            "2025-02-01",
            json!({"bodySite": own("L"), "valueCodeableConcept": own("0")}),
        ),
        answer(
            "O3",
            "toe-pressure",
            "2025-02-01",
            json!({"bodySite": own("L"), "valueQuantity": {"value": 4.0, "code": "kPa"}}),
        ),
        answer(
            "O4",
            "hba1c",
            "2025-02-01",
            json!({"encounter": of("Encounter", "E1"), "valueQuantity": {"value": 8.1, "code": "%"}}),
        ),
        answer("O5", "smoker", "2025-02-01", json!({"valueBoolean": false})),
        resource(
            "Procedure",
            "R1",
            json!({"status": "completed", "code": own("toe-off"), "performedPeriod": {"start": "2025-03-01"}, "reasonReference": [of("Condition", "U1")]}),
        ),
        resource(
            "ServiceRequest",
            "S1",
            json!({"status": "active", "intent": "order", "code": own("referral"), "authoredOn": "2025-02-02", "bodySite": [own("R")]}),
        ),
    ]);
    assert_eq!(lines(&loaded), Vec::<String>::new());
    let tables = &loaded.tables;
    let person = &tables.patients[0];
    assert_eq!(
        (person.id.as_str(), person.birth_year, person.smoker),
        ("P1", Some(1951), Some(false))
    );
    assert_eq!(
        (tables.visits.len(), tables.visits[0].date),
        (1, day("2025-02-01"))
    );
    assert_eq!(tables.visits[0].hba1c_percent, Some(8.1));
    // two observations of one foot and day are one examination; 4 kPa is 30.0 mmHg
    assert_eq!(tables.foot_exams.len(), 1);
    assert_eq!(tables.foot_exams[0].side, Side::Left);
    assert!((tables.foot_exams[0].toe_mmhg.unwrap() - 30.0).abs() < 0.01);
    let ulcer = &tables.ulcer_observations[0];
    assert_eq!(
        (ulcer.side, ulcer.state),
        (Side::Left, Some(UlcerState::Open))
    );
    assert_eq!(ulcer.site.unwrap().code(), "heel");
    assert_eq!(tables.names.get(ulcer.label), "U1");
    let events: Vec<_> = tables
        .events
        .iter()
        .map(|event| (event.kind, event.date, event.side, event.height))
        .collect();
    assert_eq!(
        events,
        [
            (
                EventKind::MinorAmputation,
                day("2025-03-01"),
                Some(Side::Left),
                Some(AmputationHeight::Toe)
            ),
            (
                EventKind::VascularReferral,
                day("2025-02-02"),
                Some(Side::Right),
                None
            ),
        ]
    );
}

#[test]
fn files_and_lines_may_come_in_any_order() {
    let story = [
        patient(),
        visit("E1", "2025-02-01"),
        lesion(),
        wound("O1", "2025-02-01", "O"),
        wound("O2", "2025-03-01", "C"),
        answer(
            "O4",
            "hba1c",
            "2025-02-01",
            json!({"valueQuantity": {"value": 8.1, "code": "%"}}),
        ),
    ];
    let words = |loaded: &Loaded| {
        let tables = &loaded.tables;
        let mut states: Vec<_> = tables
            .ulcer_observations
            .iter()
            .map(|row| (row.date, row.state))
            .collect();
        states.sort();
        (states, tables.visits[0].hba1c_percent, lines(loaded))
    };
    let forwards = load(&story);
    let mut backwards = story.to_vec();
    backwards.reverse();
    assert_eq!(words(&forwards), words(&load(&backwards)));
    let parts: Vec<String> = backwards.iter().map(|one| format!("{one}\n")).collect();
    let files: Vec<_> = parts
        .iter()
        .map(|text| ("part.ndjson", None, text.as_bytes()))
        .collect();
    let apart = load_files(LAYOUT, &files).unwrap();
    assert_eq!(words(&forwards), words(&apart));
}

/// Statuses: HL7 FHIR R4 value sets of each resource.
#[test]
fn only_what_has_happened_counts() {
    let procedure = |status: &str| {
        resource(
            "Procedure",
            "R",
            json!({"status": status, "code": own("toe-off"), "performedDateTime": "2025-03-01", "bodySite": [own("L")]}),
        )
    };
    let request = |status: &str, intent: &str| {
        resource(
            "ServiceRequest",
            "S",
            json!({"status": status, "intent": intent, "code": own("referral"), "authoredOn": "2025-03-01"}),
        )
    };
    let observation = |status: &str| {
        answer(
            "O",
            "smoker",
            "2025-03-01",
            json!({"status": status, "valueBoolean": true}),
        )
    };
    let encounter = |status: &str| {
        resource(
            "Encounter",
            "E",
            json!({"status": status, "type": [own("foot")], "period": {"start": "2025-03-01"}}),
        )
    };
    let condition = |verified: &str| {
        resource(
            "Condition",
            "C",
            json!({"code": {"coding": [{"system": "http://hl7.org/fhir/sid/icd-10-cm", "code": "Z89.511"}]}, "recordedDate": "2025-03-01", "verificationStatus": {"coding": [{"code": verified}]}}),
        )
    };
    for (said, expected) in [
        (procedure("completed"), ""),
        (procedure("not-done"), "not-done 1"),
        (procedure("entered-in-error"), "entered-in-error 1"),
        (procedure("preparation"), "status-tells-nothing 1"),
        (procedure("unknown"), "status-tells-nothing 1"),
        (request("active", "order"), ""),
        (request("completed", "original-order"), ""),
        (request("revoked", "order"), "not-done 1"),
        (request("draft", "order"), "status-tells-nothing 1"),
        (request("active", "proposal"), "status-tells-nothing 1"),
        (observation("amended"), ""),
        (observation("registered"), "status-tells-nothing 1"),
        (observation("cancelled"), "not-done 1"),
        (observation("entered-in-error"), "entered-in-error 1"),
        (encounter("finished"), ""),
        (encounter("cancelled"), ""),
        (encounter("planned"), "status-tells-nothing 1"),
        (encounter("entered-in-error"), "entered-in-error 1"),
        (condition("confirmed"), ""),
        (condition("refuted"), "not-done 1"),
        (condition("differential"), "status-tells-nothing 1"),
        (condition("entered-in-error"), "entered-in-error 1"),
    ] {
        let loaded = load(&[patient(), said.clone()]);
        assert_eq!(aside(&loaded).join(", "), expected, "{said}");
    }
}

#[test]
fn a_date_that_is_not_exact_is_told_and_never_filled_in() {
    let procedure = |date: &str| {
        resource(
            "Procedure",
            "R",
            json!({"status": "completed", "code": own("toe-off"), "performedDateTime": date, "bodySite": [own("L")]}),
        )
    };
    for (date, expected) in [
        ("2025-03-01", ""),
        ("2025-03-01T23:59:00-08:00", ""),
        ("2025-03", "unreadable-event-date 1"),
        ("2025", "unreadable-event-date 1"),
        ("March", "unreadable-event-date 1"),
        ("2026-01-01", "event-after-data-cut-off 1"),
    ] {
        assert_eq!(
            aside(&load(&[patient(), procedure(date)])).join(", "),
            expected,
            "{date}"
        );
    }
    let mut dead = patient();
    dead["deceasedDateTime"] = json!("2025-06");
    let loaded = load(&[dead]);
    assert_eq!(
        lines(&loaded),
        ["cell-ignored death-without-day record 1 Patient.deceasedDateTime"]
    );
    assert_eq!(loaded.tables.patients[0].death, None);
    let mut told = wound("O1", "2025-02-01", "O");
    told["component"]
        .as_array_mut()
        .unwrap()
        .push(json!({"code": own("onset"), "valueDateTime": "2025-01"}));
    let loaded = load(&[patient(), lesion(), told]);
    let onset = loaded.tables.ulcer_observations[0].onset.unwrap();
    assert_eq!(
        (onset.dated.date, onset.precision),
        (day("2025-01-01"), DatePrecision::Month)
    );
}

/// An observation without a day of its own is of the day of its encounter.
#[test]
fn an_encounter_dates_what_belongs_to_it() {
    let mut said = wound("O1", "", "O");
    said["encounter"] = of("Encounter", "E1");
    let loaded = load(&[patient(), visit("E1", "2025-02-01"), lesion(), said.clone()]);
    assert_eq!(loaded.tables.ulcer_observations[0].date, day("2025-02-01"));
    let loaded = load(&[patient(), lesion(), said]);
    assert_eq!(aside(&loaded), ["no-visit-date 1"]);
}

#[test]
fn a_reference_that_leads_nowhere_is_told() {
    let mut of_nobody = visit("E1", "2025-02-01");
    of_nobody["subject"] = of("Patient", "P2");
    let mut without_subject = visit("E2", "2025-02-01");
    without_subject["subject"] = Value::Null;
    let loaded = load(&[
        patient(),
        of_nobody,
        without_subject,
        wound("O1", "2025-02-01", "O"),
    ]);
    assert_eq!(aside(&loaded), ["no-patient-id 1", "reference-not-found 2"]);
}

#[test]
fn the_newest_version_of_a_resource_counts_once() {
    let at = |mut said: Value, updated: &str| {
        said["meta"] = json!({"lastUpdated": updated});
        said
    };
    let first = at(wound("O1", "2025-02-01", "O"), "2025-02-01T10:00:00Z");
    let second = at(wound("O1", "2025-02-01", "C"), "2025-02-03T10:00:00Z");
    for order in [
        [first.clone(), second.clone()],
        [second.clone(), first.clone()],
    ] {
        let [one, two] = order;
        let loaded = load(&[patient(), lesion(), one, two]);
        assert_eq!(aside(&loaded), ["older-version 1"]);
        assert_eq!(
            loaded.tables.ulcer_observations[0].state,
            Some(UlcerState::Closed)
        );
    }
    let loaded = load(&[patient(), lesion(), first.clone(), first]);
    assert_eq!(aside(&loaded), ["repeated-row 1"]);
}

#[test]
fn an_answer_that_cannot_be_read_counts_as_missing() {
    let feeling = |value: Value| answer("O1", "sensation", "2025-02-01", value);
    let pressure = |value: Value| answer("O1", "toe-pressure", "2025-02-01", value);
    let left = |mut said: Value| {
        said["bodySite"] = own("L");
        said
    };
    for (said, expected) in [
        (
            left(feeling(json!({"valueCodeableConcept": own("7")}))),
            "cell-ignored unknown-code record 2 Observation",
        ),
        (left(feeling(json!({"valueCodeableConcept": own("9")}))), ""),
        (
            left(feeling(json!({"dataAbsentReason": own("unknown")}))),
            "",
        ),
        (
            left(feeling(json!({"valueBoolean": true}))),
            "cell-ignored answer-of-another-kind record 2 Observation",
        ),
        (
            left(pressure(
                json!({"valueQuantity": {"value": 50, "code": "mm[Hg]"}}),
            )),
            "",
        ),
        (
            left(pressure(json!({"valueQuantity": {"value": 50}}))),
            "cell-ignored unknown-unit record 2 Observation",
        ),
        (
            left(pressure(
                json!({"valueQuantity": {"value": 50, "code": "cm"}}),
            )),
            "cell-ignored unknown-unit record 2 Observation",
        ),
        (
            left(pressure(
                json!({"valueQuantity": {"value": 500, "code": "mm[Hg]"}}),
            )),
            "cell-ignored value-out-of-range record 2 Observation",
        ),
        (
            left(pressure(
                json!({"valueQuantity": {"value": 30, "comparator": "<", "code": "mm[Hg]"}}),
            )),
            "cell-ignored inexact-number record 2 Observation",
        ),
        (
            left(pressure(json!({"valueString": "about fifty"}))),
            "cell-ignored text-not-read record 2 Observation",
        ),
        (
            pressure(json!({"valueQuantity": {"value": 50, "code": "mm[Hg]"}})),
            "set-aside no-side record 2",
        ),
    ] {
        let loaded = load(&[patient(), said.clone()]);
        assert_eq!(lines(&loaded).join(", "), expected, "{said}");
    }
    let loaded = load(&[
        patient(),
        left(answer(
            "O1",
            "sensation",
            "2025-02-01",
            json!({"valueCodeableConcept": own("1")}),
        )),
        left(answer(
            "O2",
            "sensation",
            "2025-02-01",
            json!({"valueCodeableConcept": own("0")}),
        )),
    ]);
    assert_eq!(
        lines(&loaded),
        ["note contradicting-observation record 3 Observation"]
    );
}

/// Codes: crates/intake/code-tables.
#[test]
fn published_codes_need_no_line_in_the_layout() {
    let coded = |kind: &str, id: &str, system: &str, code: &str, more: Value| {
        let mut said = resource(kind, id, more);
        said["code"] = json!({"coding": [{"system": system, "code": code}]});
        said
    };
    const CM: &str = "http://hl7.org/fhir/sid/icd-10-cm";
    const CPT: &str = "http://www.ama-assn.org/go/cpt";
    let done = |date: &str| json!({"status": "completed", "performedDateTime": date, "bodySite": [own("R")]});
    let recorded = |date: &str| json!({"recordedDate": date});
    let loaded = load(&[
        patient(),
        coded("Procedure", "R1", CPT, "27880", done("2025-02-01")),
        coded("Procedure", "R2", CPT, "27884", done("2025-02-10")),
        coded("Procedure", "R3", CPT, "37280", done("2025-05-01")),
        coded("Procedure", "R4", CPT, "28899", done("2025-05-01")),
        coded("Procedure", "R5", CPT, "99213", done("2025-05-01")),
        coded("Condition", "C1", CM, "Z89.512", recorded("2025-04-01")),
        coded(
            "Condition",
            "C2",
            CM,
            "E11.9",
            json!({"recordedDate": "2025-04-01", "onsetDateTime": "1999"}),
        ),
        coded("Condition", "C3", CM, "N18.6", recorded("2025-04-01")),
        coded("Condition", "C4", CM, "M14.671", recorded("2025-04-01")),
        coded(
            "Condition",
            "C5",
            CM,
            "L97.423",
            json!({"recordedDate": "2025-04-01", "clinicalStatus": {"coding": [{"code": "active"}]}}),
        ),
        coded("Condition", "C6", CM, "J45.909", recorded("2025-04-01")),
    ]);
    let events: Vec<_> = loaded
        .tables
        .events
        .iter()
        .map(|event| (event.kind, event.is_staged))
        .collect();
    assert_eq!(
        events,
        [
            (EventKind::MajorAmputation, false),
            (EventKind::MajorAmputation, true),
            (EventKind::Revascularisation, false),
        ]
    );
    let person = &loaded.tables.patients[0];
    assert_eq!(person.prior_amputations.len(), 1);
    assert_eq!(person.prior_amputations[0].recorded.date, day("2025-04-01"));
    assert_eq!(
        (
            person.diabetes_year,
            person.renal_replacement.unwrap().is_yes
        ),
        (Some(1999), true)
    );
    assert_eq!(
        (
            loaded.tables.foot_exams[0].side,
            loaded.tables.foot_exams[0].charcot
        ),
        (Side::Right, Some(true))
    );
    let ulcer = &loaded.tables.ulcer_observations[0];
    assert_eq!(
        (ulcer.side, ulcer.date, ulcer.state),
        (Side::Left, day("2025-04-01"), Some(UlcerState::Open))
    );
    assert_eq!(
        lines(&loaded),
        [
            "note code-outside-its-dates record 4 Procedure.code",
            "set-aside unmapped-code record 5",
            "set-aside coding-of-no-interest record 6",
            "note lesion-without-observation record 11",
            "set-aside coding-of-no-interest record 12",
        ]
    );
}

/// Kinds of identifiers: 45 CFR 164.514(b)(2)(i).
#[test]
fn whoever_can_be_recognised_stops_the_run() {
    let with = |element: &str, value: Value| {
        let mut person = patient();
        person[element] = value;
        person
    };
    let masked = json!([{"extension": [{"url": "http://hl7.org/fhir/StructureDefinition/data-absent-reason", "valueCode": "masked"}]}]);
    let mut noted = wound("O1", "2025-02-01", "O");
    noted["note"] = json!([{"text": "seen at home"}]);
    let mut named = visit("E1", "2025-02-01");
    named["subject"]["display"] = json!("somebody");
    let mut numbered = visit("E1", "2025-02-01");
    numbered["identifier"] = json!([{"system": "urn:q", "value": "7"}]);
    let mut aged = lesion();
    aged["onsetAge"] = json!({"value": 90, "unit": "years", "code": "a"});
    let mut younger = lesion();
    younger["onsetAge"] = json!({"value": 89, "unit": "years", "code": "a"});
    let mut pictured = wound("O1", "2025-02-01", "O");
    pictured["extension"] =
        json!([{"valueAttachment": {"contentType": "image/png", "data": "AAAA"}}]);
    let mut told = visit("E1", "2025-02-01");
    told["text"] = json!({"status": "generated", "div": "<div>seen in the clinic</div>"});
    for (said, expected) in [
        (
            with("name", json!([{"family": "Q", "given": ["R"]}])),
            "looks-like-name record 1 Patient.name",
        ),
        (with("name", masked), ""),
        (
            with("telecom", json!([{"system": "phone", "value": "1"}])),
            "looks-like-phone-number record 1 Patient.telecom",
        ),
        (
            with("address", json!([{"city": "Q"}])),
            "looks-like-address record 1 Patient.address",
        ),
        (with("address", json!([{"state": "Q", "country": "R"}])), ""),
        (
            with("identifier", json!([{"system": "urn:q", "value": "7"}])),
            "looks-like-record-number record 1 Patient.identifier",
        ),
        (
            with("photo", json!([{"contentType": "image/png"}])),
            "looks-like-link-or-device record 1 Patient.photo",
        ),
        (
            with("birthDate", json!("1951-04-30")),
            "looks-like-birth-date record 1 Patient.birthDate",
        ),
        (
            with("birthDate", json!("1930")),
            "age-over-89 record 1 Patient.birthDate",
        ),
        (with("birthDate", json!("1951")), ""),
        (named, "looks-like-name record 1 Encounter.subject.display"),
        (noted, "looks-like-free-text record 1 Observation.note"),
        (told, "looks-like-free-text record 1 Encounter.text"),
        (
            numbered,
            "looks-like-record-number record 1 Encounter.identifier",
        ),
        (aged, "age-over-89 record 1 Condition.onsetAge"),
        (younger, ""),
        (
            pictured,
            "looks-like-link-or-device record 1 Observation.extension.valueAttachment",
        ),
    ] {
        let loaded = load(std::slice::from_ref(&said));
        let stops: Vec<String> = loaded
            .findings
            .iter()
            .filter(|finding| finding.severity == Severity::Stop)
            .map(|finding| line(finding).replacen("stop ", "", 1))
            .collect();
        assert_eq!(stops.first().map_or("", String::as_str), expected, "{said}");
    }
    let listed = LAYOUT.replace("[file]", "ignore = [\"note\", \"Encounter.text\"]\n[file]");
    let mut noted = wound("O1", "2025-02-01", "O");
    noted["note"] = json!([{"text": "seen at home by somebody who lives there"}]);
    let loaded = load_text(&listed, &ndjson(&[patient(), lesion(), noted]));
    assert_eq!(lines(&loaded), Vec::<String>::new());
    let accepted =
        format!("{LAYOUT}\n[accept]\n\"Patient.identifier\" = \"a study number, drawn by lot\"\n");
    let loaded = load_text(
        &accepted,
        &ndjson(&[with("identifier", json!([{"value": "7"}]))]),
    );
    assert!(
        lines(&loaded)
            .iter()
            .all(|line| line.starts_with("note declared-not-identifying"))
    );
}

#[test]
fn lines_that_are_no_resource_are_set_aside_one_by_one() {
    let text = format!(
        "{}\n\n[]\nnonsense\n{{\"id\": 1}}\n{{\"resourceType\": \"Medication\", \"id\": \"M\"}}\n{{\"resourceType\": 7}}\n{}\u{0}\n",
        patient(),
        "{\"a\":".repeat(5000)
    );
    let loaded = load_text(LAYOUT, &text);
    assert_eq!(
        aside(&loaded),
        ["unknown-resource-type 3", "unreadable-line 3"]
    );
}

#[test]
fn a_layout_for_resources_is_checked_name_by_name() {
    for (from, to, message) in [
        (
            "\"own|ulcer\"",
            "\"mine|ulcer\"",
            "`mine` is not in [systems]",
        ),
        ("\"own|ulcer\"", "\"ulcer\"", "`ulcer` is no coding"),
        (
            "\"clinic\"",
            "\"hospital\"",
            "`hospital` is no value of `encounter`",
        ),
        (
            "minor-amputation toe",
            "minor-amputation knees",
            "`minor-amputation knees` is no value of `event`",
        ),
        ("smoker =", "smokes =", "unknown field `patient.smokes`"),
        (
            "answers = \"states\"",
            "answers = \"state\"",
            "unknown list `answers.state`",
        ),
        (
            "\"open\"",
            "\"opened\"",
            "`answers.states`: `opened` is no value of `state`",
        ),
        (
            "\"own|length\"",
            "\"own|onset\"",
            "`ulcer.length`: the coding already fills another field",
        ),
        (
            "\"fhir-r4\"",
            "\"fhir-r5\"",
            "`file.shape`: unknown value `fhir-r5`",
        ),
    ] {
        assert!(LAYOUT.contains(from), "{from}");
        let error = layout::parse(&LAYOUT.replacen(from, to, 1), "small.toml").unwrap_err();
        assert_eq!(error.message, message);
    }
}

pub(crate) mod damaged {
    use super::*;
    use proptest::prelude::*;

    pub(crate) fn story() -> Vec<Value> {
        vec![
            patient(),
            visit("E1", "2025-02-01"),
            lesion(),
            wound("O1", "2025-02-01", "O"),
            answer(
                "O2",
                "toe-pressure",
                "2025-02-01",
                json!({"bodySite": own("L"), "valueQuantity": {"value": 4.0, "code": "kPa"}}),
            ),
            resource(
                "Procedure",
                "R1",
                json!({"status": "completed", "code": own("toe-off"), "performedDateTime": "2025-03-01"}),
            ),
            resource(
                "DiagnosticReport",
                "D1",
                json!({"status": "final", "code": own("referral"), "effectiveDateTime": "2025-03-01", "result": [of("Observation", "O2")]}),
            ),
        ]
    }

    /// Every place of a resource, as a path of keys and positions.
    fn places(json: &Value, path: String, found: &mut Vec<String>) {
        found.push(path.clone());
        match json {
            Value::Object(entries) => {
                for (key, value) in entries {
                    places(value, format!("{path}/{key}"), found);
                }
            }
            Value::Array(items) => {
                for (position, value) in items.iter().enumerate() {
                    places(value, format!("{path}/{position}"), found);
                }
            }
            _ => {}
        }
    }

    fn odd() -> impl Strategy<Value = Value> {
        prop_oneof![
            Just(Value::Null),
            Just(json!([])),
            Just(json!({})),
            Just(json!([null, {"coding": 7}, [[]]])),
            Just(json!({"reference": "//", "coding": [{"code": ""}]})),
            Just(json!(-1e308)),
            Just(json!(true)),
            "\\PC{0,12}".prop_map(Value::String),
            "[0-9T:+-]{0,12}".prop_map(Value::String),
        ]
    }

    proptest! {
        #![proptest_config(ProptestConfig { cases: 200, ..ProptestConfig::default() })]

        /// Whatever stands in whatever place, every line is used or set aside, and no message shows it.
        #[test]
        fn any_element_may_hold_anything(which in 0..7_usize, place in any::<prop::sample::Index>(), value in odd()) {
            let mut resources = story();
            resources.insert(0, json!({"resourceType": "Basic"}));
            let which = which + 1;
            let mut found = Vec::new();
            places(&resources[which], String::new(), &mut found);
            let path = place.get(&found).clone();
            if let Some(target) = resources[which].pointer_mut(&path) {
                *target = value;
            }
            let loaded = load(&resources);
            let n_read: u64 = loaded.accounts.iter().map(|account| account.n_read).sum();
            prop_assert_eq!(n_read, 8);
        }

        #[test]
        fn any_cut_of_the_text_is_accounted_for(start in 0..2000_usize, end in 0..2000_usize) {
            let text = ndjson(&story());
            let bytes = text.as_bytes();
            let (start, end) = (start.min(bytes.len()), end.min(bytes.len()));
            let mut cut = b"{\"resourceType\":\"Basic\"}\n".to_vec();
            cut.extend(&bytes[..start.min(end)]);
            cut.extend(&bytes[start.max(end)..]);
            let loaded = load_files(LAYOUT, &[("cut.ndjson", None, &cut)]).unwrap();
            prop_assert!(loaded.accounts.iter().all(|account| account.is_balanced() && account.text_bytes.total() == account.bytes));
        }
    }
}
