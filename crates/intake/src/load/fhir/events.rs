//! Procedures, requests and reports: what happened.

use super::super::row::RowFault;
use super::json::{codings, reference, references, text};
use super::part::{Body, Day, Event};
use super::part::{fault, noticed};
use super::read::{Reader, Said, aside, known_day, status_fault};
use crate::code_tables::{CodeEntry, Meaning};
use outcomes::finding::Severity;
use serde_json::Value as Json;

impl Reader<'_> {
    pub(super) fn procedure(&mut self, resource: &Json) -> Said {
        let day = self.day_of(resource, &["performedDateTime", "performedPeriod"]);
        if let Some(fault) = status_fault(text(resource, "status"), &["completed"]) {
            return Said {
                day,
                body: Err(fault),
            };
        }
        let lesion = lesion_of(resource, "reasonReference");
        let said = self.event(resource, day, "Procedure.code");
        match said {
            Ok(mut event) => {
                event.lesion = lesion;
                event.is_staged |= reference(resource, "partOf").is_some();
                Said {
                    day,
                    body: Ok(Body::Event(event)),
                }
            }
            Err(NoEvent::Debridement) => Said {
                day,
                body: Ok(Body::Debridement(lesion)),
            },
            Err(NoEvent::Aside(fault)) => Said {
                day,
                body: Err(fault),
            },
        }
    }

    pub(super) fn request(&mut self, resource: &Json) -> Said {
        let day = self.day_of(resource, &["authoredOn"]);
        let orders = [
            "order",
            "original-order",
            "reflex-order",
            "filler-order",
            "instance-order",
        ];
        let fault = status_fault(
            text(resource, "status"),
            &["active", "on-hold", "completed"],
        )
        .or_else(|| status_fault(text(resource, "intent"), &orders));
        if let Some(fault) = fault {
            return Said {
                day,
                body: Err(fault),
            };
        }
        self.plain_event(resource, day, "ServiceRequest.code", "reasonReference")
    }

    pub(super) fn report(&mut self, resource: &Json) -> Said {
        let day = self.day_of(resource, &["effectiveDateTime", "effectivePeriod"]);
        let good = [
            "preliminary",
            "partial",
            "final",
            "amended",
            "corrected",
            "appended",
        ];
        if let Some(fault) = status_fault(text(resource, "status"), &good) {
            return Said {
                day,
                body: Err(fault),
            };
        }
        let mut said = self.plain_event(resource, day, "DiagnosticReport.code", "reasonReference");
        if let Ok(Body::Event(event)) = &mut said.body {
            event.results = references(resource, "result")
                .into_iter()
                .map(|found| found.id)
                .collect();
        }
        said
    }

    fn plain_event(&mut self, resource: &Json, day: Day, element: &str, reason: &str) -> Said {
        let body = match self.event(resource, day, element) {
            Ok(mut event) => {
                event.lesion = lesion_of(resource, reason);
                Ok(Body::Event(event))
            }
            Err(NoEvent::Debridement) => Err(RowFault::new(
                "code-tells-no-event",
                "the codes of the resource date no event and tell no history",
            )),
            Err(NoEvent::Aside(fault)) => Err(fault),
        };
        Said { day, body }
    }

    /// What happened, by the layout's codings first and the published codes then.
    fn event(&mut self, resource: &Json, day: Day, element: &str) -> Result<Event, NoEvent> {
        let codes = codings(resource, "code");
        let own = codes
            .iter()
            .find_map(|coding| self.profile.events.get(&coding.token()))
            .copied();
        let asked = known_day(day, None);
        let entries = self.published(&codes, asked, element);
        let mut of_codes = entries.iter().filter_map(|entry| entry.event());
        let Some((kind, own_height)) = own.or_else(|| Some((of_codes.next()?, None))) else {
            let is_debridement = |entry: &&'static CodeEntry| entry.meaning == Meaning::Debridement;
            return match entries.first() {
                Some(_) if entries.iter().any(is_debridement) => Err(NoEvent::Debridement),
                first => {
                    let said = match first {
                        Some(_) => aside(
                            day,
                            "code-tells-no-event",
                            "the codes of the resource date no event and tell no history",
                        ),
                        None => self.without_meaning(&codes, asked, day),
                    };
                    Err(NoEvent::Aside(said.body.err().unwrap_or(RowFault::new(
                        "coding-not-in-layout",
                        "no coding of the resource is in the layout or the code tables",
                    ))))
                }
            };
        };
        // what a code says of one event is never said of another
        let alike: Vec<&CodeEntry> = (entries.iter().copied())
            .filter(|entry| entry.event() == Some(kind))
            .collect();
        let height = alike.iter().find_map(|entry| entry.height);
        let is_other =
            |entry: &&'static CodeEntry| entry.event().is_some_and(|other| other != kind);
        let has_other_height =
            matches!((own_height, height), (Some(own), Some(other)) if own != other);
        if has_other_height || entries.iter().any(is_other) {
            self.note_disagreement(element);
        }
        let (side, _) = self.place(resource);
        Ok(Event {
            kind,
            height: own_height.or(height),
            side: side.or_else(|| self.one_side(&alike, element)),
            lesion: None,
            is_staged: (alike.first())
                .is_some_and(|entry| entry.meaning == Meaning::AmputationStage),
            results: Vec::new(),
        })
    }

    fn note_disagreement(&mut self, element: &str) {
        let found = fault(
            "codes-disagree",
            "codes of the resource tell different events or heights; the layout's coding stands, or else the first code",
        );
        let finding = noticed(found, Severity::Note, element, self.source);
        self.findings.push(finding);
    }
}

enum NoEvent {
    Debridement,
    Aside(RowFault),
}

/// The lesion that a resource names as its reason.
fn lesion_of(resource: &Json, key: &str) -> Option<String> {
    references(resource, key)
        .into_iter()
        .find(|found| found.kind == "Condition")
        .map(|found| found.id)
}
