//! Persons, attendances, lesions and what was seen.

use super::Resources;
use super::answers::{
    Components, ICD_10_CM, LESIONS, LOINC, OWN, SNOMED, concept, day, quantity, reference,
};
use crate::naming::{date, label};
use crate::patient::Patient;
use crate::record::{Foot, Row, Ulcer};
use crate::recording::{BirthYear, PriorAmputation};
use crate::scenario::Scenario;
use crate::words::{Attendance, Diabetes, Level, Precision, SITES, Setting, Side};
use chrono::Datelike;
use serde_json::{Value, json};
use std::collections::BTreeSet;

/// One person of a practice.
pub(super) struct About<'a> {
    pub(super) patient: &'a Patient,
    pub(super) scenario: &'a Scenario,
}

impl About<'_> {
    pub(super) fn id(&self) -> &str {
        &self.patient.person.id
    }

    pub(super) fn subject(&self) -> Value {
        reference("Patient", self.id())
    }

    pub(super) fn day(&self, number: i32) -> String {
        day(self.scenario, number)
    }

    /// The id of a lesion's condition.
    pub(super) fn lesion(&self, label: &str) -> String {
        format!("{}-{label}", self.id())
    }

    pub(super) fn patient(&self) -> Value {
        let facts = &self.patient.facts;
        let mut resource = json!({ "resourceType": "Patient", "id": self.id() });
        if let Some(sex) = facts.sex {
            resource["gender"] = json!(sex.ours());
        }
        if let Some(BirthYear::Year(year)) = facts.birth_year {
            resource["birthDate"] = json!(year.to_string());
        }
        if let Some(death) = facts.death_day {
            resource["deceasedDateTime"] = json!(self.day(death));
        }
        resource
    }

    /// What was asked at the first row: answers as one observation, diseases and status codes as conditions.
    pub(super) fn history(&self, all: &mut Resources) {
        let Some(first) = self.patient.rows.first() else {
            return;
        };
        let facts = &self.patient.facts;
        let mut answers = Components::default();
        answers.word(
            "referral-source",
            facts.referral_source.map(|from| from.ours()),
        );
        answers.date(
            "first-contact",
            facts.first_contact_day.map(|day| self.day(day)),
        );
        answers.date(
            "last-contact",
            facts.last_contact_day.map(|day| self.day(day)),
        );
        let is_oldest = facts.birth_year == Some(BirthYear::NinetyOrOver);
        answers.word("age-group", is_oldest.then_some("90-or-over"));
        answers.flag("renal-replacement", facts.is_on_renal_replacement);
        answers.flag(
            "smoker",
            facts.smoking.map(|smoking| smoking.ours() == "yes"),
        );
        answers.flag("prior-ulcer", facts.had_ulcer);
        for (side, answer) in Side::ALL.into_iter().zip(facts.prior_amputations) {
            let code = format!("prior-amputation-{}", side.ours());
            match answer {
                Some(PriorAmputation::Never) => answers.word(&code, Some("none")),
                Some(PriorAmputation::Had(level)) => {
                    let number = format!("prior-amputation-{}", side.ours());
                    let code = status_code(side, level);
                    let condition = self.condition(&number, concept(ICD_10_CM, &code), first.day);
                    all.conditions.push(condition);
                }
                None => {}
            }
        }
        match (facts.diabetes, facts.diabetes_year) {
            (Some(diabetes), year) => {
                let code = concept(ICD_10_CM, diabetes_code(diabetes));
                let mut condition = self.condition("diabetes", code, first.day);
                if let Some(year) = year {
                    condition["onsetDateTime"] = json!(year.to_string());
                }
                all.conditions.push(condition);
            }
            (None, year) => answers.date("diabetes-since", year.map(|year| year.to_string())),
        }
        if !answers.list.is_empty() {
            let mut panel = self.observation("history", concept(OWN, "history"), first.day);
            panel["component"] = Value::Array(answers.list);
            all.observations.push(panel);
        }
    }

    fn condition(&self, number: &str, code: Value, recorded_day: i32) -> Value {
        const STATUS: &str = "http://terminology.hl7.org/CodeSystem/condition-clinical";
        const VERIFIED: &str = "http://terminology.hl7.org/CodeSystem/condition-ver-status";
        json!({
            "resourceType": "Condition",
            "id": format!("{}-{number}", self.id()),
            "clinicalStatus": concept(STATUS, "active"),
            "verificationStatus": concept(VERIFIED, "confirmed"),
            "code": code,
            "subject": self.subject(),
            "recordedDate": self.day(recorded_day),
        })
    }

    /// A condition for each lesion that a row or an event names.
    pub(super) fn lesions(&self, observed: &BTreeSet<String>, all: &mut Resources) {
        let mut known = BTreeSet::new();
        for row in &self.patient.rows {
            let seen = row.ulcers.iter().map(|ulcer| ulcer.label);
            let named = row.events.iter().filter_map(|event| event.label);
            for position in seen.chain(named) {
                let label = label(position);
                if !known.insert(label.clone()) {
                    continue;
                }
                let code = concept(SNOMED, "371087003");
                let mut condition = self.condition(&label, code, row.day);
                condition["identifier"] = json!([{ "system": LESIONS, "value": label }]);
                if !observed.contains(&label) {
                    condition["clinicalStatus"]["coding"][0]["code"] = json!("inactive");
                }
                all.conditions.push(condition);
            }
        }
    }

    /// A kept appointment is an encounter; a missed or cancelled one, and one made for later, is an appointment.
    pub(super) fn visit(&self, number: usize, row: &Row, all: &mut Resources) {
        match row.attendance {
            Attendance::Kept => all.encounters.push(self.encounter(number, row)),
            Attendance::Missed => {
                let id = format!("missed-{number}");
                all.appointments
                    .push(self.appointment(&id, "noshow", row.day));
            }
            Attendance::Cancelled => {
                let id = format!("cancelled-{number}");
                all.appointments
                    .push(self.appointment(&id, "cancelled", row.day));
            }
            Attendance::Administrative => return,
        }
        if let Some(next_day) = row.next_day {
            let mut next = self.appointment(&format!("next-{number}"), "booked", next_day);
            next["created"] = json!(self.day(row.day));
            all.appointments.push(next);
        }
    }

    fn encounter(&self, number: usize, row: &Row) -> Value {
        const CLASS: &str = "http://terminology.hl7.org/CodeSystem/v3-ActCode";
        let class = match row.setting {
            Setting::Clinic => "AMB",
            Setting::Home => "HH",
            Setting::Remote => "VR",
        };
        let clinician = self.patient.clinician_key(row, self.scenario);
        let mut resource = json!({
            "resourceType": "Encounter",
            "id": self.encounter_id(number),
            "status": "finished",
            "class": { "system": CLASS, "code": class },
            "subject": self.subject(),
            "participant": [{
                "type": [concept(OWN, row.role.ours())],
                "individual": reference("Practitioner", &clinician),
            }],
            "period": { "start": self.day(row.day), "end": self.day(row.day) },
        });
        if let Some(place) = self.clinic() {
            resource["location"] = json!([{ "location": place }]);
        }
        resource
    }

    fn encounter_id(&self, number: usize) -> String {
        format!("{}-visit-{number}", self.id())
    }

    fn clinic(&self) -> Option<Value> {
        let name = self.scenario.clinics.get(self.patient.person.clinic)?;
        Some(reference("Location", name))
    }

    fn appointment(&self, number: &str, status: &str, day: i32) -> Value {
        let mut participants = vec![json!({ "actor": self.subject(), "status": "accepted" })];
        participants.extend(
            self.clinic()
                .map(|place| json!({ "actor": place, "status": "accepted" })),
        );
        let day = self.day(day);
        json!({
            "resourceType": "Appointment",
            "id": format!("{}-{number}", self.id()),
            "status": status,
            "start": format!("{day}T09:00:00Z"),
            "end": format!("{day}T09:30:00Z"),
            "participant": participants,
        })
    }

    pub(super) fn observation(&self, number: &str, code: Value, day: i32) -> Value {
        json!({
            "resourceType": "Observation",
            "id": format!("{}-{number}", self.id()),
            "status": "final",
            "code": code,
            "subject": self.subject(),
            "effectiveDateTime": self.day(day),
        })
    }

    /// Feet, wounds and HbA1c of one row.
    pub(super) fn seen(&self, number: usize, row: &Row, all: &mut Resources) {
        let encounter = (row.attendance == Attendance::Kept)
            .then(|| reference("Encounter", &self.encounter_id(number)));
        let mut push = |mut resource: Value| {
            if let Some(encounter) = &encounter {
                resource["encounter"] = encounter.clone();
            }
            all.observations.push(resource);
        };
        // the line of the IFCC-NGSP master equation, from memory, as in the long export
        if let Some(mmol) = row.hba1c_mmol {
            let code = concept(LOINC, "4548-4");
            let mut resource = self.observation(&format!("hba1c-{number}"), code, row.day);
            resource["valueQuantity"] = quantity(mmol / 10.929 + 2.15, "%");
            push(resource);
        }
        for (side, foot) in Side::ALL.into_iter().zip(&row.feet) {
            if let Some(foot) = foot {
                let id = format!("foot-{number}-{}", side.ours());
                let code = concept(OWN, "foot-examination");
                let mut resource = self.observation(&id, code, row.day);
                resource["bodySite"] = body_site(side, None);
                with_components(&mut resource, foot_components(foot));
                push(resource);
            }
        }
        for ulcer in &row.ulcers {
            let name = label(ulcer.label);
            let id = format!("wound-{number}-{name}");
            let mut resource = self.observation(&id, concept(LOINC, "72287-6"), row.day);
            resource["focus"] = json!([reference("Condition", &self.lesion(&name))]);
            resource["bodySite"] = body_site(ulcer.side, Some(SITES[ulcer.site].clinic));
            with_components(&mut resource, self.wound_components(ulcer));
            push(resource);
        }
    }

    fn wound_components(&self, ulcer: &Ulcer) -> Components {
        let mut answers = Components::default();
        let onset = ulcer.onset_day.map(|day| date(self.scenario, day));
        answers.date(
            "onset",
            onset.map(|onset| match ulcer.precision {
                Some(Precision::Month) => format!("{:04}-{:02}", onset.year(), onset.month()),
                _ => onset.to_string(),
            }),
        );
        let is_week = onset.is_some() && ulcer.precision == Some(Precision::Week);
        answers.word("onset-precision", is_week.then_some("week"));
        answers.word("origin", ulcer.origin.map(|origin| origin.ours()));
        answers.label("came-from", ulcer.parent.map(label));
        answers.label("went-into", ulcer.merged_into.map(label));
        let cm = |mm: Option<f64>| mm.map(|mm| mm / 10.0);
        answers.number((LOINC, "39126-8"), "cm", cm(ulcer.length_mm));
        answers.number((LOINC, "39125-0"), "cm", cm(ulcer.width_mm));
        answers.number((LOINC, "39127-6"), "cm", cm(ulcer.depth_mm));
        answers.number((LOINC, "89260-4"), "cm2", ulcer.area_cm2);
        answers.flag("after-debridement", ulcer.after_debridement);
        answers.word("tissue", ulcer.tissue.map(|tissue| tissue.ours()));
        answers.word("gangrene", ulcer.gangrene.map(|gangrene| gangrene.ours()));
        answers.word(
            "infection",
            ulcer.infection.map(|infection| infection.ours()),
        );
        answers.flag("probe-to-bone", ulcer.probe_to_bone);
        answers.flag("osteomyelitis", ulcer.osteomyelitis);
        answers.word("state", ulcer.state.map(|state| state.ours()));
        answers.word("seen-by", Some(ulcer.seen_by.ours()));
        answers.flag("debrided", ulcer.debrided);
        answers.flag("cultured", ulcer.cultured);
        answers.flag("antibiotic", ulcer.antibiotic);
        answers.flag("offloading-prescribed", ulcer.offloading_prescribed);
        answers.flag("offloading-dispensed", ulcer.offloading_dispensed);
        answers.flag("dressing-on-arrival", ulcer.dressing_on_arrival);
        answers.word(
            "dressing-carer",
            ulcer.dressing_carer.map(|carer| carer.ours()),
        );
        answers
    }
}

fn with_components(resource: &mut Value, components: Components) {
    if !components.list.is_empty() {
        resource["component"] = Value::Array(components.list);
    }
}

fn foot_components(foot: &Foot) -> Components {
    let mut answers = Components::default();
    answers.word(
        "sensation",
        foot.sensation.map(|sensation| sensation.ours()),
    );
    answers.word("pulses", foot.pulses.map(|pulses| pulses.ours()));
    answers.word("waveform", foot.waveform.map(|waveform| waveform.ours()));
    answers.number((OWN, "ankle-pressure"), "mm[Hg]", foot.ankle_mmhg);
    answers.number((OWN, "brachial-pressure"), "mm[Hg]", foot.brachial_mmhg);
    answers.number((OWN, "toe-pressure"), "mm[Hg]", foot.toe_mmhg);
    answers.number((OWN, "ankle-brachial-index"), "1", foot.abi);
    answers.number((OWN, "toe-brachial-index"), "1", foot.tbi);
    answers.number((OWN, "oxygen-pressure"), "mm[Hg]", foot.tcpo2_mmhg);
    answers.flag("deformity", foot.deformity);
    answers.flag("charcot", foot.charcot);
    answers.number((OWN, "size-worn"), "{us-size}", foot.worn_size);
    answers.number((OWN, "size-measured"), "{us-size}", foot.measured_size);
    answers.flag("footwear-suitable", foot.shoe_suitable);
    answers
}

/// A side by SNOMED CT's qualifiers (from memory), and a site by the practice's own code.
pub(super) fn body_site(side: Side, site: Option<&str>) -> Value {
    let code = match side {
        Side::Left => "7771000",
        Side::Right => "24028007",
    };
    let mut codings = vec![json!({ "system": SNOMED, "code": code })];
    codings.extend(site.map(|site| json!({ "system": OWN, "code": site })));
    json!({ "coding": codings })
}

/// Acquired absence of another toe, or of a leg below the knee; 1 right, 2 left (ICD-10-CM code list of April 2026).
fn status_code(side: Side, level: Level) -> String {
    let last = match side {
        Side::Right => '1',
        Side::Left => '2',
    };
    match level {
        Level::Minor => format!("Z89.42{last}"),
        Level::Major => format!("Z89.51{last}"),
    }
}

/// Diabetes of each type without complications (ICD-10-CM code list of April 2026).
const fn diabetes_code(diabetes: Diabetes) -> &'static str {
    match diabetes {
        Diabetes::Type1 => "E10.9",
        Diabetes::Type2 => "E11.9",
        Diabetes::Other => "E13.9",
    }
}
