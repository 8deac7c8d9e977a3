//! From what the resources say to rows: references are followed, and every resource is used or set aside.

use super::super::coding::add_history;
use super::super::row::RowFault;
use super::super::tables::Loading;
use super::dating::Dating;
use super::part::{Appointment, Body, Day, Encounter, Event, Lesion, Part, State};
use super::repeats::{Files, repeats};
use super::rows::Answers;
use super::tables::{Rows, VisitRow};
use crate::code_tables::Meaning;
use crate::fields::PatientFacts;
use crate::layout::{EncounterMeaning, FhirProfile};
use chrono::{Datelike, NaiveDate};
use outcomes::tables::{
    Attendance, Dated, Event as EventRow, EventKind, PatientKey, Side, SourceRow,
};
use std::collections::{HashMap, HashSet};

/// What becomes of a resource: used, or the one reason it is not.
pub(super) type Outcome = Result<(), RowFault>;

/// Everything that references may lead to. Hash maps here are only looked into, never walked.
pub(super) struct Building<'b, 'h> {
    pub(super) profile: &'b FhirProfile,
    pub(super) loading: &'b mut Loading<'h>,
    patients: HashMap<String, PatientKey>,
    encounters: HashMap<String, Day>,
    pub(super) lesions: HashMap<String, Lesion>,
    /// Whose each lesion is, as its resource says.
    pub(super) lesion_subjects: HashMap<String, String>,
    /// Sides that observations name, for reports that rest on them.
    sides: HashMap<String, Side>,
    /// Observations from which a report has its side.
    side_givers: HashSet<String>,
    pub(super) observed: HashSet<String>,
    pub(super) rows: Rows,
}

/// A person and a day.
#[derive(Clone, Copy)]
pub(super) struct At {
    pub(super) patient: PatientKey,
    pub(super) date: NaiveDate,
    pub(super) source: SourceRow,
}

/// Builds the tables from all parts. Gives what became of each, in their order.
pub(super) fn build(
    parts: Vec<Part>,
    profile: &FhirProfile,
    exported: &[Option<NaiveDate>],
    loading: &mut Loading<'_>,
) -> Vec<Outcome> {
    let files = Files {
        files: &loading.tables.files,
        exported,
    };
    let mut outcomes: Vec<Option<Outcome>> = repeats(&parts, files)
        .into_iter()
        .map(|repeat| repeat.map(Err))
        .collect();
    let mut building = Building {
        profile,
        loading,
        patients: HashMap::new(),
        encounters: HashMap::new(),
        lesions: HashMap::new(),
        lesion_subjects: HashMap::new(),
        sides: HashMap::new(),
        side_givers: HashSet::new(),
        observed: HashSet::new(),
        rows: Rows::default(),
    };
    for (part, outcome) in parts.iter().zip(&mut outcomes) {
        if outcome.is_none() {
            *outcome = building.index(part);
        }
    }
    // attendances first: other resources belong to them; lesions last, when it is known which were looked at
    for stage in [Stage::Attendances, Stage::Middle, Stage::Lesions] {
        for (part, outcome) in parts.iter().zip(&mut outcomes) {
            if outcome.is_some() {
                continue;
            }
            if let Ok(body) = &part.body
                && Stage::of(body) == stage
            {
                *outcome = Some(building.use_part(part, body));
            }
        }
    }
    let mut told = Vec::with_capacity(parts.len());
    for (part, outcome) in parts.into_iter().zip(outcomes) {
        let gave_side = building.gave_side(&part);
        let outcome = match (outcome, part.body) {
            // it says nothing itself, but where the study that rests on it was made
            (Some(Err(_)), Err(fault)) if gave_side && is_of_unknown_coding(&fault) => Ok(()),
            (Some(outcome), _) => outcome,
            (None, Err(fault)) => Err(fault),
            (None, Ok(_)) => Ok(()),
        };
        if outcome.is_ok() {
            building.loading.findings.extend(part.findings);
        }
        told.push(outcome);
    }
    let Building { loading, rows, .. } = building;
    rows.finish(profile, loading);
    told
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Stage {
    Attendances,
    Middle,
    Lesions,
}

impl Stage {
    const fn of(body: &Body) -> Self {
        match body {
            Body::Encounter(_)
            | Body::Appointment(Appointment {
                attendance: Some(_),
                ..
            }) => Self::Attendances,
            Body::Lesion(_) => Self::Lesions,
            _ => Self::Middle,
        }
    }
}

impl Building<'_, '_> {
    /// Enters what others refer to; settles persons and what has been set aside while reading.
    fn index(&mut self, part: &Part) -> Option<Outcome> {
        let id = part.identity.as_ref().map(|(_, id)| id.clone());
        if let (Some((kind, id)), Some(side)) = (&part.identity, part.side)
            && kind == "Observation"
        {
            self.sides.insert(id.clone(), side);
        }
        let body = match &part.body {
            Ok(body) => body,
            Err(fault) => return Some(Err(fault.clone())),
        };
        match (body, id) {
            (Body::Patient(facts), Some(id)) => {
                let key = self.loading.people.find_or_add(&id, part.source);
                let recorded = Dated::new(self.loading.horizon.data_start, part.source);
                self.merge(key, facts, recorded);
                self.patients.insert(id, key);
                return Some(Ok(()));
            }
            (Body::Patient(_), None) => {
                return Some(Err(RowFault::new(
                    "no-patient-id",
                    "the row names no patient",
                )));
            }
            (Body::Encounter(_), Some(id)) => {
                self.encounters.insert(id, part.day);
            }
            (Body::Lesion(lesion), Some(id)) => {
                // names are ranked by their first appearance, and labels should be ranked as the records rank them
                if let Some(label) = &lesion.label {
                    self.loading.tables.names.intern(label);
                }
                self.lesions.insert(id.clone(), lesion.clone());
                if let Some(subject) = &part.subject {
                    self.lesion_subjects.insert(id, subject.clone());
                }
            }
            _ => {}
        }
        None
    }

    pub(super) fn merge(&mut self, key: PatientKey, facts: &PatientFacts, recorded: Dated) {
        let findings = &mut self.loading.findings;
        self.loading.people.merge(key, facts, recorded, findings);
    }

    fn use_part(&mut self, part: &Part, body: &Body) -> Outcome {
        let patient = self.person(part)?;
        match body {
            // settled when it was entered
            Body::Patient(_) => Ok(()),
            Body::State(states) => self.states(part, states, patient),
            Body::Lesion(lesion) => {
                let outcome = self.lesion(part, lesion, patient);
                if outcome.is_ok() {
                    self.states(part, &lesion.states, patient)?;
                }
                outcome
            }
            Body::Appointment(appointment) => self.appointment(part, appointment, patient),
            Body::Encounter(encounter) => self.encounter(part, encounter, patient),
            Body::Observation(observation) => {
                let at = self.at(part, patient, Dating::Seen)?;
                self.observation(part, observation, at)
            }
            Body::Debridement(lesion) => {
                let at = self.at(part, patient, Dating::Seen)?;
                self.debridement(lesion.as_deref(), at)
            }
            Body::Event(event) => {
                let at = self.at(part, patient, Dating::Happened)?;
                self.event(event, at);
                Ok(())
            }
        }
    }

    fn person(&self, part: &Part) -> Result<PatientKey, RowFault> {
        let id = part
            .subject
            .as_ref()
            .ok_or_else(|| RowFault::new("no-patient-id", "the row names no patient"))?;
        self.patients
            .get(id)
            .copied()
            .ok_or_else(|| not_found("the resource names a patient who is not in the export"))
    }

    /// The day of a resource, or of its encounter, if it can be used.
    pub(super) fn at(
        &self,
        part: &Part,
        patient: PatientKey,
        dating: Dating,
    ) -> Result<At, RowFault> {
        let of_encounter = part
            .encounter
            .as_ref()
            .and_then(|id| self.encounters.get(id))
            .copied();
        let day = match part.day {
            Day::Known(_) => part.day,
            other => of_encounter.unwrap_or(Day::Absent).or(other),
        };
        let date = dating.day(day)?;
        self.check_day(date, patient, dating)?;
        Ok(At {
            patient,
            date,
            source: part.source,
        })
    }

    fn check_day(&self, date: NaiveDate, patient: PatientKey, dating: Dating) -> Outcome {
        let person = self.loading.people.get(patient);
        dating.check(date, person, self.loading.horizon)
    }

    fn encounter(&mut self, part: &Part, encounter: &Encounter, patient: PatientKey) -> Outcome {
        let setting = match encounter.meaning {
            Some(EncounterMeaning::Event(kind)) if encounter.attendance == Attendance::Kept => {
                let at = self.at(part, patient, Dating::Happened)?;
                self.event(&told(kind), at);
                return Ok(());
            }
            Some(EncounterMeaning::Event(_)) => {
                let message = "the status says that it did not happen or does not hold";
                return Err(RowFault::new("not-done", message));
            }
            Some(EncounterMeaning::Visit(setting)) => Some(setting),
            // a layout without codings of encounters takes all of them; else they were set aside when read
            None => None,
        };
        let at = self.at(part, patient, Dating::Seen)?;
        let is_kept = encounter.attendance == Attendance::Kept;
        self.rows.visits.push(VisitRow {
            patient,
            date: at.date,
            source: at.source,
            encounter: part.identity.as_ref().map(|(_, id)| id.clone()),
            attendance: encounter.attendance,
            setting: setting.filter(|_| is_kept),
            clinic_site: encounter.clinic_site.clone(),
            clinician: encounter.clinician.clone().filter(|_| is_kept),
            role: encounter.role.clone().filter(|_| is_kept),
            planned_return: None,
            answers: Answers::default(),
        });
        self.rows.enter_visit();
        Ok(())
    }

    /// A missed or cancelled appointment is an attendance that did not take place; any other was planned at the visit of
    /// the day it was made.
    fn appointment(&mut self, part: &Part, said: &Appointment, patient: PatientKey) -> Outcome {
        if let Some(attendance) = said.attendance {
            let at = self.at(part, patient, Dating::Seen)?;
            self.rows.visits.push(VisitRow {
                patient,
                date: at.date,
                source: at.source,
                encounter: None,
                attendance,
                setting: None,
                clinic_site: said.clinic_site.clone(),
                clinician: None,
                role: None,
                planned_return: None,
                answers: Answers::default(),
            });
            self.rows.enter_visit();
            return Ok(());
        }
        let planned = Dating::Seen.day(part.day)?;
        let made = Dating::Seen.day(said.created)?;
        let visit = self.rows.visit_on(patient, made).ok_or_else(|| {
            RowFault::new(
                "appointment-of-no-visit",
                "an appointment that no visit made and that was not missed",
            )
        })?;
        visit.planned_return.get_or_insert(planned);
        Ok(())
    }

    fn states(&mut self, part: &Part, states: &[State], patient: PatientKey) -> Outcome {
        for state in states {
            self.state(part, state, patient)?;
        }
        Ok(())
    }

    fn state(&mut self, part: &Part, state: &State, patient: PatientKey) -> Outcome {
        let date = match part.day {
            Day::Known(date) => {
                self.check_day(date, patient, Dating::Happened)?;
                date
            }
            Day::Absent => self.loading.horizon.data_start,
            // told for some time that cannot be read to the day: known at the latest at the cut-off
            Day::Unreadable => self.loading.horizon.cut_off,
        };
        let at = At {
            patient,
            date,
            source: part.source,
        };
        let mut facts = PatientFacts::default();
        add_history(&mut facts, state.entry);
        if let Some(diabetes) = state.entry.diabetes {
            facts.diabetes_type = Some(diabetes);
            facts.diabetes_year = state.onset.map(|onset| onset.date.year());
        }
        self.merge(patient, &facts, Dated::new(date, part.source));
        // without its day nobody can be said to have looked at the foot on one
        if state.entry.meaning == Meaning::Charcot
            && matches!(part.day, Day::Known(_))
            && let Some(side) = state.side
        {
            self.rows.charcot(at.patient, at.date, side, at.source);
        }
        Ok(())
    }

    /// Whether a report has its side from this observation.
    fn gave_side(&self, part: &Part) -> bool {
        let identity = part.identity.as_ref();
        identity.is_some_and(|(kind, id)| kind == "Observation" && self.side_givers.contains(id))
    }

    /// Whether a lesion is this person's, as far as its resource says whose it is.
    pub(super) fn is_lesion_of(&self, id: &str, patient: PatientKey) -> bool {
        let subject = self.lesion_subjects.get(id);
        let whose = subject.and_then(|subject| self.patients.get(subject));
        whose.is_none_or(|whose| *whose == patient)
    }

    fn event(&mut self, event: &Event, at: At) {
        let own = |id: &&String| self.is_lesion_of(id, at.patient);
        let lesion = event.lesion.as_ref().filter(own);
        let lesion = lesion.and_then(|id| self.lesions.get(id));
        let label = lesion.and_then(|lesion| lesion.label.clone());
        let of_results = || {
            let mut sides = event.results.iter().map(|id| self.sides.get(id).copied());
            let first = sides.next().flatten()?;
            sides.all(|side| side == Some(first)).then_some(first)
        };
        let own = event.side.or(lesion.and_then(|lesion| lesion.side));
        let side = own.or_else(of_results);
        if own.is_none() && side.is_some() {
            self.side_givers.extend(event.results.iter().cloned());
        }
        let ulcer_label = label.map(|label| self.loading.tables.names.intern(&label));
        self.loading.add_event(EventRow {
            patient: at.patient,
            date: at.date,
            kind: event.kind,
            side,
            ulcer_label,
            is_staged: event.is_staged,
            height: event.height,
            source: at.source,
        });
    }
}

fn is_of_unknown_coding(fault: &RowFault) -> bool {
    matches!(
        fault.check,
        "coding-not-in-layout" | "coding-of-no-interest"
    )
}

const fn told(kind: EventKind) -> Event {
    Event {
        kind,
        height: None,
        side: None,
        lesion: None,
        is_staged: false,
        results: Vec::new(),
    }
}

pub(super) fn not_found(message: &'static str) -> RowFault {
    RowFault::new("reference-not-found", message)
        .with_hint("export everything of one group of patients, all types together")
}
