//! What happened: procedures, requests, reports and admissions.

use super::Resources;
use super::answers::{CPT, OWN, concept, reference};
use super::resources::{About, body_site};
use crate::naming::{date, label};
use crate::record::Event;
use crate::words::{Height, Kind};
use chrono::Datelike;
use serde_json::{Value, json};

impl About<'_> {
    /// One event, in the type of resource that the standard has for it. Deaths are told by the patient.
    pub(super) fn event(&self, place: (usize, usize), event: &Event, all: &mut Resources) {
        let id = format!("{}-event-{}-{}", self.id(), place.0, place.1);
        match event.kind {
            Kind::Death => {}
            Kind::Admission => all.encounters.push(self.admission(&id, event)),
            Kind::VascularReferral => {
                let request = self.request(&id, "vascular-referral", event);
                all.service_requests.push(request);
            }
            Kind::TransferOut => {
                let request = self.request(&id, "transfer-of-care", event);
                all.service_requests.push(request);
            }
            Kind::PhysiologicStudy => self.study(&id, "93923", event, all),
            Kind::VascularImaging => self.study(&id, "93925", event, all),
            _ => {
                let procedure = self.procedure(&id, event);
                all.procedures.push(procedure);
            }
        }
    }

    fn procedure(&self, id: &str, event: &Event) -> Value {
        let mut resource = json!({
            "resourceType": "Procedure",
            "id": id,
            "status": "completed",
            "code": self.code(event),
            "subject": self.subject(),
            "performedDateTime": self.day(event.day),
        });
        if event.is_staged {
            // what it is a stage of may lie before the export
            resource["partOf"] = json!([reference("Procedure", &format!("{id}-whole"))]);
        }
        self.place(&mut resource, event);
        resource
    }

    fn request(&self, id: &str, code: &str, event: &Event) -> Value {
        let mut resource = json!({
            "resourceType": "ServiceRequest",
            "id": id,
            "status": "active",
            "intent": "order",
            "code": concept(OWN, code),
            "subject": self.subject(),
            "authoredOn": self.day(event.day),
        });
        self.place(&mut resource, event);
        resource
    }

    /// A report has no body site: its side is that of the observation it rests on.
    fn study(&self, id: &str, number: &str, event: &Event, all: &mut Resources) {
        let mut report = json!({
            "resourceType": "DiagnosticReport",
            "id": id,
            "status": "final",
            "code": concept(CPT, number),
            "subject": self.subject(),
            "effectiveDateTime": self.day(event.day),
        });
        if let Some(side) = event.side {
            let result = format!("{id}-result").replacen(&format!("{}-", self.id()), "", 1);
            let code = concept(OWN, "study-result");
            let mut observation = self.observation(&result, code, event.day);
            observation["bodySite"] = body_site(side, None);
            all.observations.push(observation);
            report["result"] = json!([reference("Observation", &format!("{id}-result"))]);
        }
        all.diagnostic_reports.push(report);
    }

    fn admission(&self, id: &str, event: &Event) -> Value {
        const CLASS: &str = "http://terminology.hl7.org/CodeSystem/v3-ActCode";
        json!({
            "resourceType": "Encounter",
            "id": id,
            "status": "finished",
            "class": { "system": CLASS, "code": "IMP" },
            "subject": self.subject(),
            "period": { "start": self.day(event.day) },
        })
    }

    fn place(&self, resource: &mut Value, event: &Event) {
        if let Some(side) = event.side {
            let site = body_site(side, None);
            resource["bodySite"] = json!([site]);
        }
        if let Some(position) = event.label {
            let lesion = self.lesion(&label(position));
            resource["reasonReference"] = json!([reference("Condition", &lesion)]);
        }
    }

    /// A CPT number where one says it all, else the practice's own code.
    fn code(&self, event: &Event) -> Value {
        let number = match (event.kind, event.height) {
            (Kind::MinorAmputation, Some(Height::Toe)) => "28820",
            (Kind::MinorAmputation, Some(Height::Ray)) => "28810",
            (Kind::MinorAmputation, Some(Height::Transmetatarsal)) => "28805",
            (Kind::MajorAmputation, Some(Height::BelowKnee)) => "27880",
            (Kind::MajorAmputation, Some(Height::AboveKnee)) => "27590",
            (Kind::OffloadingSupplied, _) => "29445",
            // the numbers for opening tibial arteries changed at the turn of 2026
            (Kind::Revascularisation, _) => match date(self.scenario, event.day).year() {
                ..2026 => "37228",
                _ => "37280",
            },
            (kind, _) => return concept(OWN, kind.ours()),
        };
        concept(CPT, number)
    }
}
