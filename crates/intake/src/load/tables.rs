//! The tables under construction.

use super::after;
use super::bind::BoundPlan;
use super::cells::Row;
use super::door::{Cells, Closed};
use super::joined::{JoinedTables, set_aside_unnamed};
use super::meanings::Meanings;
use super::overlap::{Overlap, Telling};
use super::people::People;
use super::places::{Mixer, Places, mix, next_place};
use super::placing::{Carried, place_in_quarters};
use super::profile::FileProfile;
use super::row::{Notes, RowContent, RowFault, is_before_birth, read_row, set_aside};
use super::{FileDigest, Input, LoadError, Loaded};
use crate::fields::PatientFacts;
use crate::units::Numbers;
use chrono::NaiveDate;
use outcomes::finding::{ByteAccount, FileAccount, Finding, Listing, Severity};
use outcomes::rules::DataHorizon;
use outcomes::tables::{
    Dated, Event, EventKind, FootExam, PatientKey, SourceFile, SourceRow, Tables, Visit,
};
use std::collections::{BTreeMap, HashSet};
use std::hash::{BuildHasherDefault, Hash};
use std::sync::Arc;

/// Everything loaded so far. Hash maps here are only looked into, never walked.
pub(super) struct Loading<'h> {
    pub(super) horizon: &'h DataHorizon,
    pub(super) tables: Tables,
    pub(super) people: People,
    pub(super) findings: Vec<Finding>,
    /// What of them is listed.
    pub(super) listing: Listing,
    pub(super) accounts: Vec<FileAccount>,
    pub(super) digests: Vec<FileDigest>,
    /// How long each record was, file by file, for those set aside when everything is known.
    pub(super) record_bytes: Vec<RecordBytes>,
    /// The day from which rows are counted apart, where columns are counted at all.
    pub(super) profile_since: Option<NaiveDate>,
    pub(super) profiles: Vec<FileProfile>,
    /// Numbers of the file being read, as written.
    pub(super) numbers: Numbers,
    /// Rows without attendance that tell no death, for the check against death.
    pub(super) administrative: Vec<(PatientKey, Dated)>,
    /// Rows that carry their quarter.
    pub(super) carried: Vec<Carried>,
    /// Most days by which dates were shifted, where rows carry their quarters.
    pub(super) placed_within_days: Option<u32>,
    /// What the files of the kind being read hold in common.
    pub(super) overlap: Overlap,
    /// Rows of other files that rows may name.
    pub(super) joined: Arc<JoinedTables>,
    seen_records: HashSet<Fingerprint, BuildHasherDefault<Mixer>>,
    n_used: u64,
    n_set_aside: BTreeMap<&'static str, u64>,
    /// The last attendance of a person on a day, the last examination of a foot on a day, and events told.
    last_visit: Places,
    last_exam: Places,
    seen_events: Places,
}

/// Bytes of each record of a file, in their order, line ends included.
#[derive(Debug, Default)]
pub(super) struct RecordBytes(Vec<u32>);

impl RecordBytes {
    pub(super) fn push(&mut self, n_bytes: u64) {
        self.0.push(u32::try_from(n_bytes).unwrap_or(u32::MAX));
    }

    /// Bytes that turned out to belong to the record before.
    pub(super) fn add_to_last(&mut self, n_bytes: u64) {
        if let Some(last) = self.0.last_mut() {
            *last = last.saturating_add(u32::try_from(n_bytes).unwrap_or(u32::MAX));
        }
    }

    /// Of a record by its number, from 1.
    pub(super) fn of(&self, record: u32) -> u64 {
        let place = (record as usize).checked_sub(1);
        let found = place.and_then(|place| self.0.get(place));
        found.copied().map_or(0, u64::from)
    }
}

/// Whom a record that was used is about, and its day.
#[derive(Debug, Clone, Copy)]
pub(super) struct Taken {
    pub(super) person: PatientKey,
    pub(super) date: Option<NaiveDate>,
}

/// Two records are taken as identical when their hashes agree.
pub(super) type Fingerprint = u64;

impl<'h> Loading<'h> {
    pub(super) fn new(horizon: &'h DataHorizon) -> Self {
        Self {
            horizon,
            tables: Tables::default(),
            people: People::default(),
            findings: Vec::new(),
            listing: Listing::default(),
            accounts: Vec::new(),
            digests: Vec::new(),
            record_bytes: Vec::new(),
            profile_since: None,
            profiles: Vec::new(),
            numbers: Numbers::default(),
            administrative: Vec::new(),
            carried: Vec::new(),
            placed_within_days: None,
            overlap: Overlap::default(),
            joined: Arc::default(),
            seen_records: HashSet::default(),
            n_used: 0,
            n_set_aside: BTreeMap::new(),
            last_visit: Places::default(),
            last_exam: Places::default(),
            seen_events: Places::default(),
        }
    }

    /// Records of different kinds of file are not compared with each other.
    pub(super) fn begin_role(&mut self, overlap: Overlap) {
        self.overlap = overlap;
        self.seen_records.clear();
    }

    /// Uses a record, or gives the reason it cannot be used; then nothing of it stays.
    pub(super) fn take<'r>(
        &mut self,
        plan: &BoundPlan<'r>,
        row: &Row<'r>,
        meanings: &mut Meanings,
    ) -> Result<Taken, RowFault> {
        let n_findings = self.findings.len();
        let outcome = self.try_take(plan, row, meanings);
        if outcome.is_err() {
            self.findings.truncate(n_findings);
        }
        outcome
    }

    fn try_take<'r>(
        &mut self,
        plan: &BoundPlan<'r>,
        row: &Row<'r>,
        meanings: &mut Meanings,
    ) -> Result<Taken, RowFault> {
        let cell = plan.patient_id.as_ref();
        let id = cell.and_then(|cell| row.text(cell)).ok_or_else(|| {
            let position = cell.and_then(|cell| cell.position);
            RowFault::new("no-patient-id", "the row names no patient").at(position)
        })?;
        if !self
            .seen_records
            .insert(fingerprint(row.record, plan.headers_hash))
        {
            return Err(RowFault::new(
                "repeated-row",
                "the row is identical to an earlier one",
            ));
        }
        match self.overlap.telling(plan, row, self.horizon) {
            Telling::Stands => {}
            Telling::Superseded(newer) => {
                let newer = self.overlap.place_of(newer, row.source);
                return Err(RowFault::told(
                    "superseded-row",
                    format!("a newer export tells this row differently: {newer} is used instead"),
                ));
            }
            Telling::Disputed(other) => {
                let other = self.overlap.place_of(other, row.source);
                self.findings.push(
                    Finding::on_row(
                        "exports-disagree",
                        Severity::Note,
                        row.source,
                        format!("{other}, exported on the same day, tells this row differently; both are used"),
                    )
                    .with_hint("find out which is right, and leave the other file out"),
                );
            }
        }
        let mut notes = Notes {
            names: &mut self.tables.names,
            findings: &mut self.findings,
            numbers: &mut self.numbers,
            meanings,
        };
        let content = read_row(plan, row, self.horizon, &mut notes)?;
        let key = self.people.find(id);
        let known = key
            .and_then(|key| self.people.get(key))
            .and_then(|patient| patient.birth_year);
        if content
            .date
            .is_some_and(|date| is_before_birth(date, known.or(content.facts.birth_year)))
        {
            return Err(RowFault::new(
                "visit-before-birth",
                "the row is dated before the year of birth",
            ));
        }
        let date = content.date;
        let person = key.unwrap_or_else(|| self.people.add(id, row.source));
        self.add(person, content, row.source);
        Ok(Taken { person, date })
    }

    fn add(&mut self, key: PatientKey, content: RowContent, source: SourceRow) {
        let asked = content
            .facts
            .history_date
            .or(content.date)
            .unwrap_or(self.horizon.data_start);
        self.people.merge(
            key,
            &content.facts,
            Dated::new(asked, source),
            &mut self.findings,
        );
        let Some(date) = content.date else { return };
        if let Some(quarter) = content.quarter {
            self.carried.push(Carried {
                patient: key,
                date,
                quarter,
                source,
            });
        }
        if content.is_administrative && !content.tells_death() {
            self.administrative.push((key, Dated::new(date, source)));
        }
        if let Some(visit) = content.visit {
            self.add_visit(Visit {
                patient: key,
                date,
                clinic_site: visit.draft.clinic_site,
                clinician: visit.draft.clinician,
                clinician_role: visit.draft.clinician_role,
                setting: visit.draft.setting,
                attendance: visit.attendance,
                planned_return: visit.draft.planned_return,
                hba1c_percent: visit.draft.hba1c_percent,
                source,
            });
        }
        for exam in content.exams {
            self.add_exam(FootExam {
                patient: key,
                ..exam
            });
        }
        self.tables
            .ulcer_observations
            .extend(content.ulcers.into_iter().map(|mut seen| {
                seen.patient = key;
                seen
            }));
        for event in content.events {
            self.add_event(Event {
                patient: key,
                ..event
            });
        }
    }

    /// An export with one row an ulcer repeats the attendance on each; it is kept once.
    pub(super) fn add_visit(&mut self, visit: Visit) {
        fn about(visit: &Visit) -> impl PartialEq + Hash + use<> {
            (visit.patient, visit.date)
        }
        let place = self.last_visit.place(&visit, &self.tables.visits, about);
        if let Some(earlier) = self.tables.visits.get(*place as usize) {
            let again = Visit {
                source: earlier.source,
                ..visit.clone()
            };
            if again == *earlier {
                return;
            }
        }
        *place = next_place(&self.tables.visits);
        self.tables.visits.push(visit);
    }

    pub(super) fn add_exam(&mut self, exam: FootExam) {
        fn about(exam: &FootExam) -> impl PartialEq + Hash + use<> {
            (exam.patient, exam.date, exam.side)
        }
        let place = (self.last_exam).place(&exam, &self.tables.foot_exams, about);
        if let Some(earlier) = self.tables.foot_exams.get(*place as usize) {
            let again = FootExam {
                source: earlier.source,
                ..exam.clone()
            };
            if again == *earlier {
                return;
            }
        }
        *place = next_place(&self.tables.foot_exams);
        self.tables.foot_exams.push(exam);
    }

    pub(super) fn add_event(&mut self, event: Event) {
        fn about(event: &Event) -> impl PartialEq + Hash + use<> {
            let what = (event.kind, event.side, event.ulcer_label, event.height);
            (event.patient, event.date, what)
        }
        let place = (self.seen_events).place(&event, &self.tables.events, about);
        if (*place as usize) < self.tables.events.len() {
            let message = "an event told before is counted once";
            self.findings.push(Finding::on_row(
                "repeated-event",
                Severity::Note,
                event.source,
                message,
            ));
            return;
        }
        *place = next_place(&self.tables.events);
        if event.kind == EventKind::Death {
            let facts = PatientFacts {
                death: Some(event.date),
                ..PatientFacts::default()
            };
            self.people.merge(
                event.patient,
                &facts,
                Dated::new(event.date, event.source),
                &mut self.findings,
            );
        }
        self.tables.events.push(event);
    }

    /// Books what became of a record.
    pub(super) fn book(
        &mut self,
        outcome: Result<(), RowFault>,
        headers: &[String],
        source: SourceRow,
    ) {
        match outcome {
            Ok(()) => self.n_used += 1,
            Err(fault) => {
                *self.n_set_aside.entry(fault.check).or_default() += 1;
                self.findings.push(set_aside(fault, headers, source));
            }
        }
        self.listing.settle(&mut self.findings);
    }

    /// The number of the file that is read next.
    pub(super) fn next_file(&self, input: &Input) -> Result<u16, LoadError> {
        u16::try_from(self.tables.files.len()).map_err(|_| input.too_many("files"))
    }

    /// Closes the books of a file, whose text must come to header, rows and blank lines.
    pub(super) fn end_file(
        &mut self,
        name: &str,
        n_read: u64,
        mut text_bytes: ByteAccount,
        closed: Closed,
    ) -> Result<(), LoadError> {
        text_bytes.header += closed.bytes.header;
        text_bytes.blank += closed.bytes.blank;
        if text_bytes.total() != closed.n_text_bytes {
            return Err(LoadError::Unreconciled {
                file: name.to_owned(),
                n_text_bytes: closed.n_text_bytes,
                n_accounted: text_bytes.total(),
            });
        }
        self.digests.push(FileDigest {
            file: name.to_owned(),
            sha256: closed.sha256,
        });
        self.accounts.push(FileAccount {
            file: name.to_owned(),
            bytes: closed.n_bytes,
            text_bytes,
            n_read,
            n_used: std::mem::take(&mut self.n_used),
            set_aside: std::mem::take(&mut self.n_set_aside)
                .into_iter()
                .map(|(check, n)| (check.to_owned(), n))
                .collect(),
        });
        self.tables.files.push(SourceFile {
            name: name.to_owned(),
            bytes: closed.n_bytes,
        });
        Ok(())
    }

    /// Closes the books of a file whose rows others name: all of them count as used until it is known which are named.
    pub(super) fn end_joined_file(
        &mut self,
        name: &str,
        n_read: u64,
        text_bytes: ByteAccount,
        closed: Closed,
    ) -> Result<(), LoadError> {
        self.n_used = n_read;
        self.end_file(name, n_read, text_bytes, closed)
    }

    pub(super) fn finish(mut self) -> Loaded {
        set_aside_unnamed(&mut self);
        self.tables.patients = std::mem::take(&mut self.people.patients);
        if let Some(most_days) = self.placed_within_days {
            place_in_quarters(&mut self, most_days);
        }
        after::stop_at_finer_dates(&mut self);
        after::in_order_of_id(&mut self);
        after::set_aside_after_death(&mut self);
        self.listing.settle(&mut self.findings);
        let name = |file| self.tables.file_name(file).to_owned();
        self.findings.extend(self.listing.more(name));
        self.findings.sort_by_key(|finding| finding.source);
        Loaded {
            tables: self.tables,
            findings: self.findings,
            accounts: self.accounts,
            digests: self.digests,
        }
    }
}

/// Headers, cells and cell boundaries, hashed without a random seed.
pub(super) fn fingerprint(record: &Cells, headers_hash: u64) -> Fingerprint {
    mix(headers_hash, record.print())
}
