//! From the JSON of one resource to what it says.

use super::super::coding;
use super::super::row::RowFault;
use super::json::{Coding, Reference, codings, date, each, reference, text};
use super::observation;
use super::part::{Appointment, Body, Day, Encounter, Lesion, State, fault, ignored, noticed};
use crate::code_tables::{CodeEntry, CodeSystem, Found, Meaning, look_up};
use crate::dates::WrittenDate;
use crate::fields::PatientFacts;
use crate::layout::FhirProfile;
use chrono::{Datelike, NaiveDate};
use outcomes::finding::{Finding, Severity};
use outcomes::tables::{Attendance, DatePrecision, FootSite, Sex, Side, SourceRow};
use serde_json::Value as Json;

/// What a resource is read with, and where what is noticed goes.
pub(super) struct Reader<'r> {
    pub(super) profile: &'r FhirProfile,
    pub(super) source: SourceRow,
    pub(super) findings: Vec<Finding>,
}

/// What a resource says, and the day it says it of.
pub(super) struct Said {
    pub(super) day: Day,
    pub(super) body: Result<Body, RowFault>,
}

/// The element that names the person: `patient` in some resources, a participant of an appointment, else `subject`.
pub(super) fn subject(kind: &str, resource: &Json) -> Option<String> {
    let is_patient = |kind: &str| kind.is_empty() || kind == "Patient";
    let found = match kind {
        "Patient" => return text(resource, "id").map(str::to_owned),
        "Appointment" => patient_among(
            each(resource, "participant")
                .filter_map(|part| reference(part, "actor"))
                .collect(),
        ),
        _ => reference(resource, "subject").or_else(|| reference(resource, "patient")),
    };
    found
        .filter(|found| is_patient(&found.kind))
        .map(|found| found.id)
}

/// The patient among the actors of an appointment: the one that says so, or the only one that does not say what it is.
fn patient_among(actors: Vec<Reference>) -> Option<Reference> {
    let of_no_kind = || actors.iter().filter(|actor| actor.kind.is_empty());
    let patient = actors.iter().find(|actor| actor.kind == "Patient");
    let only = of_no_kind().next().filter(|_| of_no_kind().count() == 1);
    patient.or(only).cloned()
}

/// Reads a resource of a known type.
pub(super) fn read(kind: &str, resource: &Json, reader: &mut Reader<'_>) -> Said {
    match kind {
        "Patient" => reader.patient(resource),
        "Encounter" => reader.encounter(resource),
        "Appointment" => reader.appointment(resource),
        "Condition" => reader.condition(resource),
        "Observation" => observation::read(resource, reader),
        "Procedure" => reader.procedure(resource),
        "ServiceRequest" => reader.request(resource),
        "DiagnosticReport" => reader.report(resource),
        "Bundle" => Said {
            day: Day::Absent,
            body: Err(RowFault::new(
                "unknown-resource-type",
                "a Bundle, which holds resources in its entries; nothing of them is read",
            )
            .with_hint("export in bulk, or write the resource of each entry on a line of its own")),
        },
        _ => aside(
            Day::Absent,
            "unknown-resource-type",
            "a resource of a type that nothing is read from",
        ),
    }
}

pub(super) fn aside(day: Day, check: &'static str, message: &'static str) -> Said {
    Said {
        day,
        body: Err(RowFault::new(check, message)),
    }
}

/// Why a status keeps a resource out: it was a mistake, it did not happen, or the status does not say that it did.
pub(super) fn status_fault(status: Option<&str>, good: &[&str]) -> Option<RowFault> {
    let status = status.unwrap_or("");
    if good.contains(&status) {
        return None;
    }
    Some(match status {
        "entered-in-error" => RowFault::new(
            "entered-in-error",
            "the status says that the resource was entered in error",
        ),
        "not-done" | "cancelled" | "revoked" | "refuted" | "stopped" => RowFault::new(
            "not-done",
            "the status says that it did not happen or does not hold",
        ),
        _ => RowFault::new(
            "status-tells-nothing",
            "the status is absent, or does not say that it has happened",
        ),
    })
}

impl Reader<'_> {
    /// The day under the first of these keys that is there; a period by its start.
    pub(super) fn day_of(&self, resource: &Json, keys: &[&str]) -> Day {
        let form = self.profile.dates;
        keys.iter()
            .find_map(|key| match resource.get(key)? {
                Json::Object(_) => date(resource.get(key)?, "start", form),
                _ => date(resource, key, form),
            })
            .map_or(Day::Absent, |found| Day::of(Some(found)))
    }

    pub(super) fn ignore(&mut self, check: &'static str, message: &'static str, element: &str) {
        let finding = ignored(fault(check, message), element, self.source);
        self.findings.push(finding);
    }

    fn patient(&mut self, resource: &Json) -> Said {
        let mut facts = PatientFacts {
            sex: text(resource, "gender").and_then(Sex::from_code),
            ..PatientFacts::default()
        };
        match date(resource, "birthDate", self.profile.dates) {
            Some(Ok(birth)) => {
                facts.birth_year = Some(birth.date.year());
                facts.is_90_or_over = Some(false);
            }
            Some(Err(())) => self.ignore("unreadable-year", "not a year", "Patient.birthDate"),
            None => {}
        }
        match Day::of(date(resource, "deceasedDateTime", self.profile.dates)) {
            Day::Known(day) => facts.death = Some(day),
            Day::Unreadable => self.ignore(
                "death-without-day",
                "a death whose day is not told; the person counts as not known to have died",
                "Patient.deceasedDateTime",
            ),
            Day::Absent if resource.get("deceasedBoolean") == Some(&Json::Bool(true)) => {
                self.ignore(
                    "death-without-day",
                    "a death whose day is not told; the person counts as not known to have died",
                    "Patient.deceasedBoolean",
                );
            }
            Day::Absent => {}
        }
        Said {
            day: Day::Absent,
            body: Ok(Body::Patient(Box::new(facts))),
        }
    }

    fn encounter(&mut self, resource: &Json) -> Said {
        let day = self.day_of(resource, &["period"]);
        let attendance = match text(resource, "status") {
            Some("arrived" | "triaged" | "in-progress" | "onleave" | "finished") => {
                Attendance::Kept
            }
            Some("cancelled") => Attendance::Cancelled,
            status => {
                let fault = status_fault(status, &[]);
                return Said {
                    day,
                    body: Err(fault.unwrap_or(RowFault::new(
                        "status-tells-nothing",
                        "the status is absent, or does not say that it has happened",
                    ))),
                };
            }
        };
        let class = each(resource, "class").filter_map(Coding::read);
        let codings: Vec<Coding<'_>> = class
            .chain(codings(resource, "serviceType"))
            .chain(codings(resource, "type"))
            .collect();
        // what an encounter was for says more than where it was
        let meaning = codings
            .iter()
            .rev()
            .find_map(|coding| self.profile.encounters.get(&coding.token()))
            .copied();
        if meaning.is_none() && !self.profile.encounters.is_empty() {
            return self.without_meaning(&codings, known_day(day, None), day);
        }
        let participants: Vec<&Json> = each(resource, "participant").collect();
        let clinician = participants
            .iter()
            .filter_map(|part| reference(part, "individual"))
            .find(|who| who.kind != "RelatedPerson");
        let role = participants
            .iter()
            .flat_map(|part| codings_of_types(part))
            .find_map(|coding| self.profile.roles.get(&coding.token()))
            .cloned();
        let place = each(resource, "location").find_map(|part| reference(part, "location"));
        Said {
            day,
            body: Ok(Body::Encounter(Encounter {
                meaning,
                attendance,
                clinic_site: place
                    .or_else(|| reference(resource, "serviceProvider"))
                    .map(|found| found.id),
                clinician: clinician.map(|found| found.id),
                role,
            })),
        }
    }

    fn appointment(&mut self, resource: &Json) -> Said {
        let day = self.day_of(resource, &["start"]);
        let attendance = match text(resource, "status") {
            Some("noshow") => Some(Attendance::Missed),
            Some("cancelled") => Some(Attendance::Cancelled),
            Some("booked" | "arrived" | "fulfilled" | "checked-in" | "pending") => None,
            status => {
                let fault = status_fault(status, &[]);
                return Said {
                    day,
                    body: fault.map_or(
                        Ok(Body::Appointment(Appointment {
                            attendance: None,
                            created: Day::Absent,
                            clinic_site: None,
                        })),
                        Err,
                    ),
                };
            }
        };
        let place = each(resource, "participant")
            .filter_map(|part| reference(part, "actor"))
            .find(|actor| actor.kind == "Location");
        Said {
            day,
            body: Ok(Body::Appointment(Appointment {
                attendance,
                created: self.day_of(resource, &["created"]),
                clinic_site: place.map(|found| found.id),
            })),
        }
    }

    fn condition(&mut self, resource: &Json) -> Said {
        let onset = date(resource, "onsetDateTime", self.profile.dates).or_else(|| {
            resource
                .get("onsetPeriod")
                .and_then(|period| date(period, "start", self.profile.dates))
        });
        let onset = onset.and_then(Result::ok);
        let day = self
            .day_of(resource, &["recordedDate"])
            .or(onset.map_or(Day::Absent, |onset| Day::of(Some(Ok(onset)))));
        let verified = codings(resource, "verificationStatus");
        let unproven = [
            "entered-in-error",
            "refuted",
            "unconfirmed",
            "provisional",
            "differential",
        ];
        if let Some(coding) = verified
            .iter()
            .find(|coding| unproven.contains(&coding.code))
        {
            let fault = status_fault(Some(coding.code), &[]);
            return Said {
                day,
                body: Err(fault.unwrap_or(RowFault::new("status-tells-nothing", ""))),
            };
        }
        let codes = codings(resource, "code");
        let asked = known_day(day, onset);
        let entries = self.published(&codes, asked, "Condition.code");
        let (side, site) = self.place(resource);
        let side = side.or_else(|| self.one_side(&entries, "Condition.code"));
        let is_ulcer = |entry: &&&CodeEntry| entry.meaning == Meaning::FootUlcer;
        let is_lesion = codes
            .iter()
            .any(|coding| self.profile.lesions.contains(&coding.token()))
            || entries.iter().any(|entry| is_ulcer(&entry));
        let states: Vec<State> = entries
            .iter()
            .filter(|entry| is_read(entry))
            .map(|entry| State { entry, side, onset })
            .collect();
        if is_lesion {
            let status = codings(resource, "clinicalStatus");
            return Said {
                day,
                body: Ok(Body::Lesion(Lesion {
                    label: self.label(resource),
                    side,
                    site,
                    onset,
                    depth: entries
                        .iter()
                        .filter(is_ulcer)
                        .find_map(|entry| entry.depth),
                    is_active: status
                        .first()
                        .map(|coding| matches!(coding.code, "active" | "recurrence" | "relapse")),
                    states,
                })),
            };
        }
        if entries.is_empty() {
            return self.without_meaning(&codes, asked, day);
        }
        if !states.is_empty() {
            return Said {
                day,
                body: Ok(Body::State(states)),
            };
        }
        aside(
            day,
            "code-tells-no-event",
            "the codes of the resource date no event and tell no history",
        )
    }

    /// The practice's own label of a lesion, or its id.
    fn label(&self, resource: &Json) -> Option<String> {
        let system = self.profile.label_system.as_deref();
        let own = system.and_then(|system| {
            each(resource, "identifier")
                .find(|identifier| text(identifier, "system") == Some(system))
                .and_then(|identifier| text(identifier, "value"))
        });
        own.or_else(|| text(resource, "id")).map(str::to_owned)
    }

    /// The side that published codes name, where they name one; a finding where they name both.
    pub(super) fn one_side(&mut self, entries: &[&CodeEntry], element: &str) -> Option<Side> {
        let mut sides = entries.iter().filter_map(|entry| entry.side);
        let first = sides.next()?;
        if sides.all(|side| side == first) {
            return Some(first);
        }
        self.ignore(
            "codes-disagree",
            "codes of the resource name both sides; it counts as naming none",
            element,
        );
        None
    }

    /// A resource whose codings mean nothing: of a covered family, of a system that the layout reads, or of no interest.
    pub(super) fn without_meaning(&self, codes: &[Coding<'_>], asked: NaiveDate, day: Day) -> Said {
        let is_unmapped = codes.iter().any(|coding| {
            system_of(coding)
                .is_some_and(|system| look_up(system, coding.code, asked) == Found::Unmapped)
        });
        if is_unmapped {
            let found = coding::unmapped();
            let fault = RowFault::new(found.check, found.message);
            return Said {
                day,
                body: Err(RowFault {
                    hint: found.hint,
                    ..fault
                }),
            };
        }
        if codes.iter().any(|coding| self.profile.should_know(coding)) {
            return aside(
                day,
                "coding-not-in-layout",
                "no coding of the resource is in the layout, which reads other codings of the same system",
            );
        }
        aside(
            day,
            "coding-of-no-interest",
            "no coding of the resource is of a system that the layout reads as the practice's own, or of a covered family",
        )
    }

    /// The lines of the code tables for these codings, in their order, each line once; a finding for every code of a covered
    /// family that no table holds, and for every one out of its days.
    pub(super) fn published(
        &mut self,
        codes: &[Coding<'_>],
        day: NaiveDate,
        element: &str,
    ) -> Vec<&'static CodeEntry> {
        let mut entries: Vec<&'static CodeEntry> = Vec::new();
        for coding in codes {
            let Some(system) = system_of(coding) else {
                continue;
            };
            match look_up(system, coding.code, day) {
                Found::Foreign => {}
                Found::Unmapped => {
                    let finding = ignored(coding::unmapped(), element, self.source);
                    self.findings.push(finding);
                }
                Found::Entry { entry, .. } if entries.contains(&entry) => {}
                Found::Entry { entry, is_in_force } => {
                    if !is_in_force && day != NaiveDate::MIN {
                        let fault = coding::outside_its_dates();
                        let finding = noticed(fault, Severity::Note, element, self.source);
                        self.findings.push(finding);
                    }
                    entries.push(entry);
                }
            }
        }
        entries
    }

    /// Side and site by the body sites of a resource.
    pub(super) fn place(&self, resource: &Json) -> (Option<Side>, Option<FootSite>) {
        let tokens: Vec<String> = codings(resource, "bodySite")
            .into_iter()
            .map(Coding::token)
            .collect();
        let side = tokens
            .iter()
            .find_map(|token| self.profile.sides.get(token));
        let site = tokens
            .iter()
            .find_map(|token| self.profile.sites.get(token));
        (side.copied(), site.copied())
    }
}

/// Whether a published code says something of a person or a foot that is kept.
fn is_read(entry: &CodeEntry) -> bool {
    entry.diabetes.is_some()
        || matches!(
            entry.meaning,
            Meaning::PriorAmputation
                | Meaning::PriorUlcer
                | Meaning::RenalReplacement
                | Meaning::Charcot
        )
}

fn codings_of_types(participant: &Json) -> Vec<Coding<'_>> {
    codings(participant, "type")
}

fn system_of(coding: &Coding<'_>) -> Option<CodeSystem> {
    CodeSystem::ALL
        .iter()
        .copied()
        .find(|system| system.uri() == coding.system)
}

/// The day on which a code is looked up; the earliest there is where none is told, which no table holds.
pub(super) fn known_day(day: Day, onset: Option<WrittenDate>) -> NaiveDate {
    match (day, onset) {
        (Day::Known(day), _) => day,
        (_, Some(onset)) if onset.precision == DatePrecision::Day => onset.date,
        _ => NaiveDate::MIN,
    }
}
