//! Observations and lesions on their way into rows.

use super::super::row::RowFault;
use super::build::{At, Building, Outcome, not_found};
use super::dating::Dating;
use super::part::{Item, Lesion, Observation, Part, ignored};
use super::tables::{ExamRow, UlcerRow};
use crate::fields::PatientFacts;
use crate::layout::{Panel, Target};
use outcomes::finding::{Finding, Severity};
use outcomes::tables::{Dated, PatientKey, SourceRow, UlcerState};

impl Building<'_, '_> {
    pub(super) fn observation(&mut self, part: &Part, said: &Observation, at: At) -> Outcome {
        let mut facts = PatientFacts::default();
        let mut has_facts = false;
        let mut unused: Option<RowFault> = None;
        let mut is_used = false;
        if let Some(panel) = said.panel {
            let opened = match panel {
                Panel::FootExam => self.exam(said, at).map(|_| ()),
                Panel::Ulcer => self.ulcer(said.lesion.as_deref(), said, at).map(|_| ()),
            };
            match opened {
                Ok(()) => is_used = true,
                Err(fault) => unused = Some(fault),
            }
        }
        for item in &said.items {
            let Some(field) = self.profile.fields.get(item.field) else {
                continue;
            };
            let outcome = match &field.target {
                Target::Patient(_) => {
                    has_facts = true;
                    self.fact(&mut facts, item, at.source);
                    Ok(())
                }
                Target::Visit(_) => self.visit_item(part, item, at),
                Target::Exam(_) => self.exam(said, at).map(|row| {
                    row.answers.add(item.clone(), at.source, &mut row.findings);
                }),
                Target::Ulcer(_) => self.ulcer(said.lesion.as_deref(), said, at).map(|row| {
                    row.answers.add(item.clone(), at.source, &mut row.findings);
                }),
            };
            match outcome {
                Ok(()) => is_used = true,
                Err(fault) => unused = unused.or(Some(fault)),
            }
        }
        if has_facts {
            self.merge(at.patient, &facts, Dated::new(at.date, at.source));
        }
        match unused {
            Some(fault) if is_used => {
                let finding =
                    Finding::on_row(fault.check, Severity::CellIgnored, at.source, fault.message);
                self.loading.findings.push(finding);
                Ok(())
            }
            Some(fault) => Err(fault),
            None => Ok(()),
        }
    }

    fn fact(&mut self, facts: &mut PatientFacts, item: &Item, source: SourceRow) {
        let Some(Target::Patient(field)) = self
            .profile
            .fields
            .get(item.field)
            .map(|field| &field.target)
        else {
            return;
        };
        let names = &mut self.loading.tables.names;
        if let Err(fault) = super::rows::put(facts, &field.kind, &item.value, names) {
            let finding = ignored(fault, item.element, source);
            self.loading.findings.push(finding);
        }
    }

    fn visit_item(&mut self, part: &Part, item: &Item, at: At) -> Outcome {
        let of_encounter = part.encounter.as_deref();
        let found = self.rows.visit_of(of_encounter, at.patient, at.date);
        let visit = found.ok_or_else(|| {
            RowFault::new(
                "observation-of-no-visit",
                "an observation of a visit that is not in the export",
            )
        })?;
        let findings = &mut self.loading.findings;
        visit.answers.add(item.clone(), at.source, findings);
        Ok(())
    }

    fn exam(&mut self, said: &Observation, at: At) -> Result<&mut ExamRow, RowFault> {
        let side = said.side.ok_or_else(|| {
            RowFault::new("no-side", "an examination that names no foot is left out")
        })?;
        Ok(self.rows.exam(at.patient, at.date, side, at.source))
    }

    fn ulcer(
        &mut self,
        lesion: Option<&str>,
        said: &Observation,
        at: At,
    ) -> Result<&mut UlcerRow, RowFault> {
        let id = lesion.ok_or_else(|| {
            RowFault::new(
                "no-ulcer-label",
                "an ulcer without a label cannot be followed and is left out",
            )
        })?;
        if !self.is_lesion_of(id, at.patient) {
            return Err(not_found("the resource names a lesion of another person"));
        }
        let lesion = self
            .lesions
            .get(id)
            .ok_or_else(|| not_found("the resource names a lesion that is not in the export"))?;
        let side = said.side.or(lesion.side).ok_or_else(|| {
            RowFault::new(
                "no-side",
                "an ulcer without a side cannot be placed and is left out",
            )
            .with_hint("code the body site, and name its codes under [side] or [site] of the layout; a site in words is not read")
        })?;
        self.observed.insert(id.to_owned());
        let place = (side, said.site.or(lesion.site));
        self.rows
            .ulcer(at.patient, at.date, (id, lesion), place, at.source)
            .ok_or_else(|| {
                RowFault::new(
                    "no-ulcer-label",
                    "an ulcer without a label cannot be followed and is left out",
                )
            })
    }

    pub(super) fn debridement(&mut self, lesion: Option<&str>, at: At) -> Outcome {
        let nowhere = Observation::default();
        let row = self.ulcer(lesion, &nowhere, at)?;
        row.is_debrided = true;
        Ok(())
    }

    /// A lesion that was looked at has said all it has to say; one that never was is an ulcer all the same.
    pub(super) fn lesion(&mut self, part: &Part, lesion: &Lesion, patient: PatientKey) -> Outcome {
        let id = part.identity.as_ref().map(|(_, id)| id.clone());
        if id.as_ref().is_some_and(|id| self.observed.contains(id)) {
            return Ok(());
        }
        if lesion.is_active == Some(false) || id.is_none() {
            return Err(RowFault::new(
                "lesion-without-observation",
                "an ulcer that no observation describes and that the record does not call active",
            ));
        }
        let at = self.at(part, patient, Dating::Seen)?;
        let nowhere = Observation::default();
        let row = self.ulcer(id.as_deref(), &nowhere, at)?;
        row.state = Some(UlcerState::Open);
        let message = "an ulcer that no observation describes; it counts as seen open on the day it was recorded";
        let check = "lesion-without-observation";
        let finding = Finding::on_row(check, Severity::Note, part.source, message);
        self.loading.findings.push(finding);
        Ok(())
    }
}
