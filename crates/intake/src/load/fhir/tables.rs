//! The rows under construction, and their way into the canonical tables.

use super::super::cells::CellFault;
use super::super::tables::Loading;
use super::part::{Lesion, ignored};
use super::rows::Answers;
use crate::dates::WrittenDate;
use crate::fields::{ExamDraft, UlcerDraft, VisitDraft};
use crate::layout::{FhirProfile, Target};
use chrono::NaiveDate;
use outcomes::finding::Finding;
use outcomes::tables::{
    Attendance, Dated, FootExam, FootSite, NameId, Names, Onset, PatientKey, Setting, Side,
    SourceRow, TissueDepth, UlcerObservation, UlcerState, Visit,
};
use std::collections::HashMap;

#[derive(Debug)]
pub(super) struct VisitRow {
    pub(super) patient: PatientKey,
    pub(super) date: NaiveDate,
    pub(super) source: SourceRow,
    pub(super) encounter: Option<String>,
    pub(super) attendance: Attendance,
    pub(super) setting: Option<Setting>,
    pub(super) clinic_site: Option<String>,
    pub(super) clinician: Option<String>,
    pub(super) role: Option<String>,
    pub(super) planned_return: Option<NaiveDate>,
    pub(super) answers: Answers,
}

#[derive(Debug)]
pub(super) struct ExamRow {
    patient: PatientKey,
    date: NaiveDate,
    side: Side,
    source: SourceRow,
    has_charcot: bool,
    pub(super) answers: Answers,
    pub(super) findings: Vec<Finding>,
}

#[derive(Debug)]
pub(super) struct UlcerRow {
    patient: PatientKey,
    date: NaiveDate,
    side: Side,
    site: Option<FootSite>,
    label: String,
    onset: Option<WrittenDate>,
    depth: Option<TissueDepth>,
    source: SourceRow,
    /// Said by the record of the lesion, where no observation says it.
    pub(super) state: Option<UlcerState>,
    pub(super) is_debrided: bool,
    pub(super) answers: Answers,
    pub(super) findings: Vec<Finding>,
}

/// All rows under construction, each kind in the order of its first resource. Hash maps are only looked into.
#[derive(Debug, Default)]
pub(super) struct Rows {
    pub(super) visits: Vec<VisitRow>,
    exams: Vec<ExamRow>,
    ulcers: Vec<UlcerRow>,
    visit_by_encounter: HashMap<String, usize>,
    visit_by_day: HashMap<(PatientKey, NaiveDate), usize>,
    exam_by_day: HashMap<(PatientKey, NaiveDate, Side), usize>,
    ulcer_by_day: HashMap<(PatientKey, NaiveDate, String), usize>,
}

impl Rows {
    /// Makes the visit pushed last findable; of several visits of a day the first kept one is found.
    pub(super) fn enter_visit(&mut self) {
        let Some(position) = self.visits.len().checked_sub(1) else {
            return;
        };
        let Some(visit) = self.visits.get(position) else {
            return;
        };
        if let Some(encounter) = &visit.encounter {
            self.visit_by_encounter.insert(encounter.clone(), position);
        }
        let day = (visit.patient, visit.date);
        let known = self
            .visit_by_day
            .get(&day)
            .and_then(|known| self.visits.get(*known));
        let is_better = known.is_none_or(|known| {
            known.attendance != Attendance::Kept && visit.attendance == Attendance::Kept
        });
        if is_better {
            self.visit_by_day.insert(day, position);
        }
    }

    /// The visit of an encounter, or of a person on a day.
    pub(super) fn visit_of(
        &mut self,
        encounter: Option<&str>,
        patient: PatientKey,
        date: NaiveDate,
    ) -> Option<&mut VisitRow> {
        let of_encounter = encounter
            .and_then(|id| self.visit_by_encounter.get(id))
            .copied();
        let of_day = || self.visit_by_day.get(&(patient, date)).copied();
        let position = of_encounter.or_else(of_day)?;
        self.visits
            .get_mut(position)
            .filter(|visit| visit.patient == patient)
    }

    pub(super) fn visit_on(
        &mut self,
        patient: PatientKey,
        date: NaiveDate,
    ) -> Option<&mut VisitRow> {
        self.visit_of(None, patient, date)
    }

    /// The examination of a foot on a day, begun when there is none.
    pub(super) fn exam(
        &mut self,
        patient: PatientKey,
        date: NaiveDate,
        side: Side,
        source: SourceRow,
    ) -> &mut ExamRow {
        let position = *self
            .exam_by_day
            .entry((patient, date, side))
            .or_insert(self.exams.len());
        if position >= self.exams.len() {
            self.exams.push(ExamRow {
                patient,
                date,
                side,
                source,
                has_charcot: false,
                answers: Answers::default(),
                findings: Vec::new(),
            });
        }
        &mut self.exams[position]
    }

    /// A Charcot foot told by a diagnosis.
    pub(super) fn charcot(
        &mut self,
        patient: PatientKey,
        date: NaiveDate,
        side: Side,
        source: SourceRow,
    ) {
        self.exam(patient, date, side, source).has_charcot = true;
    }

    /// A lesion on a day, begun when there is none; `None` where the lesion has no label.
    pub(super) fn ulcer(
        &mut self,
        patient: PatientKey,
        date: NaiveDate,
        (id, lesion): (&str, &Lesion),
        (side, site): (Side, Option<FootSite>),
        source: SourceRow,
    ) -> Option<&mut UlcerRow> {
        let position = *self
            .ulcer_by_day
            .entry((patient, date, id.to_owned()))
            .or_insert(self.ulcers.len());
        if position >= self.ulcers.len() {
            self.ulcers.push(UlcerRow {
                patient,
                date,
                side,
                site,
                label: lesion.label.clone()?,
                onset: lesion.onset,
                depth: lesion.depth,
                source,
                state: None,
                is_debrided: false,
                answers: Answers::default(),
                findings: Vec::new(),
            });
        }
        self.ulcers.get_mut(position)
    }

    /// Turns everything into rows of the canonical tables.
    pub(super) fn finish(self, profile: &FhirProfile, loading: &mut Loading<'_>) {
        for visit in self.visits {
            let row = visit.row(profile, loading);
            loading.add_visit(row);
        }
        for exam in self.exams {
            let row = exam.row(profile, loading);
            loading.add_exam(row);
        }
        for ulcer in self.ulcers {
            let row = ulcer.row(profile, loading);
            loading.tables.ulcer_observations.push(row);
        }
    }
}

impl VisitRow {
    fn row(self, profile: &FhirProfile, loading: &mut Loading<'_>) -> Visit {
        let names = &mut loading.tables.names;
        let mut draft = VisitDraft::default();
        let field_of = |position: usize| match &profile.fields.get(position)?.target {
            Target::Visit(field) => Some(*field),
            _ => None,
        };
        self.answers
            .fill(&mut draft, field_of, names, &mut loading.findings);
        let name = |text: Option<String>, names: &mut Names| text.map(|text| names.intern(&text));
        Visit {
            patient: self.patient,
            date: self.date,
            clinic_site: name(self.clinic_site, names),
            clinician: name(self.clinician, names),
            clinician_role: name(self.role, names),
            setting: self.setting,
            attendance: self.attendance,
            planned_return: self.planned_return,
            hba1c_percent: draft.hba1c_percent,
            source: self.source,
        }
    }
}

impl ExamRow {
    fn row(self, profile: &FhirProfile, loading: &mut Loading<'_>) -> FootExam {
        let exam = FootExam::new(self.patient, self.date, self.side, self.source);
        let mut draft = ExamDraft { side: None, exam };
        let field_of = |position: usize| match &profile.fields.get(position)?.target {
            Target::Exam(field) => Some(*field),
            _ => None,
        };
        let names = &mut loading.tables.names;
        loading.findings.extend(self.findings);
        self.answers
            .fill(&mut draft, field_of, names, &mut loading.findings);
        if self.has_charcot {
            draft.exam.charcot.get_or_insert(true);
        }
        draft.exam
    }
}

impl UlcerRow {
    fn row(self, profile: &FhirProfile, loading: &mut Loading<'_>) -> UlcerObservation {
        let names = &mut loading.tables.names;
        let label: NameId = names.intern(&self.label);
        let seen = UlcerObservation::new(self.patient, self.date, self.side, label, self.source);
        let mut draft = UlcerDraft {
            label: None,
            side: None,
            diagnosis: None,
            seen: UlcerObservation {
                site: self.site,
                onset: self.onset.map(|onset| Onset {
                    dated: Dated::new(onset.date, self.source),
                    precision: onset.precision,
                }),
                state: self.state,
                ..seen
            },
        };
        let field_of = |position: usize| match &profile.fields.get(position)?.target {
            Target::Ulcer(field) => Some(*field),
            _ => None,
        };
        loading.findings.extend(self.findings);
        self.answers
            .fill(&mut draft, field_of, names, &mut loading.findings);
        let mut seen = draft.seen;
        seen.tissue_depth = seen.tissue_depth.or(self.depth);
        if self.is_debrided {
            seen.debrided = Some(true);
        }
        if seen.state == Some(UlcerState::Open) {
            drop_impossible_sizes(&mut seen, &mut loading.findings);
        }
        seen
    }
}

/// An open ulcer has a size.
fn drop_impossible_sizes(seen: &mut UlcerObservation, findings: &mut Vec<Finding>) {
    for size in [&mut seen.length_cm, &mut seen.width_cm, &mut seen.area_cm2] {
        if size.is_some_and(|size| size <= 0.0) {
            *size = None;
            let fault = CellFault {
                check: "value-out-of-range",
                message: "an open ulcer without size; the answer counts as missing",
                hint: Some("a healed ulcer should have the state closed".to_owned()),
            };
            findings.push(ignored(fault, "Observation.component", seen.source));
        }
    }
}
