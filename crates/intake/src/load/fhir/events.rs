//! Procedures, requests and reports: what happened.

use super::super::row::RowFault;
use super::json::{codings, reference, references, text};
use super::part::{Body, Day, Event};
use super::read::{Reader, Said, aside, day_of, known_day, status_fault};
use crate::code_tables::Meaning;
use serde_json::Value as Json;

impl Reader<'_> {
    pub(super) fn procedure(&mut self, resource: &Json) -> Said {
        let day = day_of(resource, &["performedDateTime", "performedPeriod"]);
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
        let day = day_of(resource, &["authoredOn"]);
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
        let day = day_of(resource, &["effectiveDateTime", "effectivePeriod"]);
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
        let entry = self.published(&codes, asked, element);
        let of_code = entry.and_then(|entry| Some((entry.event()?, entry.height)));
        let Some((kind, height)) = own.or(of_code) else {
            return match entry {
                Some(entry) if entry.meaning == Meaning::Debridement => Err(NoEvent::Debridement),
                _ => {
                    let said = match entry {
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
        let (side, _) = self.place(resource);
        Ok(Event {
            kind,
            height: height.or(entry.and_then(|entry| entry.height)),
            side: side.or(entry.and_then(|entry| entry.side)),
            lesion: None,
            is_staged: entry.is_some_and(|entry| entry.meaning == Meaning::AmputationStage),
            results: Vec::new(),
        })
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
