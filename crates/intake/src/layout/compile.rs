//! From a layout as written to one that can be applied, every name checked.

use super::codes::code_list;
use super::dates::{Written, date_form, declared};
use super::raw::{RawEntry, RawFile, RawLayout, RawMapping, RawSection, Shape};
use super::{Cell, CodeList, ExamBlock, FilePlan, Form, Layout, Mapped, Role, Stratum};
use crate::config::ConfigError;
use crate::dates::DateForm;
use crate::fields::{EVENT_FIELDS, EXAM_FIELDS, Field, PATIENT_FIELDS, ULCER_FIELDS, VISIT_FIELDS};
use crate::load::Unpacking;
use outcomes::tables::Side;
use std::collections::BTreeMap;
use std::ops::Range;
use std::sync::Arc;
use toml::Spanned;

/// More repeats of a block than any export has.
const MOST_SLOTS: i64 = 99;

/// Turns one version of a layout as written into one that can be applied, checking every name.
pub(super) fn compile_one(
    raw: RawLayout,
    text: &str,
    file_name: &str,
) -> Result<Layout, ConfigError> {
    let delimiter = match raw.file.delimiter.get_ref().as_bytes() {
        [byte] if byte.is_ascii() && !b"\"\r\n".contains(byte) => *byte,
        _ => {
            let message = "`file.delimiter` must be one character, such as \",\", \";\" or \"\\t\"";
            return Err(ConfigError::at(
                text,
                file_name,
                &raw.file.delimiter.span(),
                message,
            ));
        }
    };
    let dates = date_form(&raw.dates, &|span, message| {
        ConfigError::at(text, file_name, span, message)
    })?;
    let compiler = Compiler {
        text,
        file_name,
        dates,
        lists: raw
            .codes
            .iter()
            .map(|(name, codes)| (name.as_str(), code_list(codes)))
            .collect(),
        spans: raw
            .codes
            .iter()
            .map(|(name, codes)| (name.as_str(), codes.values().map(Spanned::span).collect()))
            .collect(),
    };
    compiler.check_ambiguous_codes()?;
    let plans = match raw.file.shape {
        Shape::Wide => vec![compiler.wide(&raw)?],
        Shape::Long => compiler.long(&raw)?,
        // told apart before; a layout that gets here has another fault
        Shape::FhirR4 => Vec::new(),
    };
    let quarter = raw.visit.as_ref().and_then(|visit| entry(visit, "quarter"));
    let dates = declared(
        &Written::from(&raw.dates),
        quarter.map(|entry| entry.key.span()),
        &|span, message| compiler.error(span, message),
    )?;
    for (column, reason) in &raw.accept {
        if reason.get_ref().trim().is_empty() {
            let message = format!("`accept.{column}` needs a reason");
            return Err(compiler.error(&reason.span(), message));
        }
    }
    let joined = compiler.joined(&raw, &plans)?;
    Ok(Layout {
        name: raw.name,
        description: raw.description,
        form: Form {
            delimiter,
            encoding: raw.file.encoding,
            title_lines: raw.file.title_lines,
            missing: raw.missing.spellings,
            decimal: raw.numbers.decimal,
            unpacking: unpacking(&raw.file),
            utc_offset_minutes: compiler.dates.utc_offset_minutes,
            is_year_only: dates.is_year_only(),
        },
        dates,
        plans,
        fhir: None,
        joined,
        ignore: raw.ignore,
        accepted: raw
            .accept
            .into_iter()
            .map(|(column, reason)| (column, reason.into_inner()))
            .collect(),
        versions: Vec::new(),
    })
}

/// How far a packed file may unfold, by the layout or by default.
fn unpacking(file: &RawFile) -> Unpacking {
    unpacking_of(file.unpacked_mib_at_most, file.unpacked_ratio_at_most)
}

pub(super) fn unpacking_of(mib_at_most: Option<u32>, ratio_at_most: Option<u32>) -> Unpacking {
    let default = Unpacking::default();
    Unpacking {
        most_bytes: mib_at_most.map_or(default.most_bytes, |mib| u64::from(mib) << 20),
        most_ratio: ratio_at_most.map_or(default.most_ratio, u64::from),
    }
}

/// A layout being compiled.
pub(super) struct Compiler<'t> {
    text: &'t str,
    file_name: &'t str,
    pub(super) dates: DateForm,
    pub(super) lists: BTreeMap<&'t str, Arc<CodeList>>,
    /// Where each code of each list is written, in the order of the list.
    pub(super) spans: BTreeMap<&'t str, Vec<Range<usize>>>,
}

/// What stands in for `{side}` and `{slot}` in column names.
#[derive(Clone, Copy, Default)]
pub(super) struct Blanks<'b> {
    pub(super) side: Option<&'b str>,
    pub(super) slot: Option<i64>,
}

impl Blanks<'_> {
    pub(super) fn fill(self, pattern: &str) -> String {
        let mut filled = pattern.to_owned();
        if let Some(side) = self.side {
            filled = filled.replace("{side}", side);
        }
        if let Some(slot) = self.slot {
            filled = filled.replace("{slot}", &slot.to_string());
        }
        filled
    }
}

impl Compiler<'_> {
    pub(super) fn error(&self, span: &Range<usize>, message: impl Into<String>) -> ConfigError {
        ConfigError::at(self.text, self.file_name, span, message)
    }

    fn wide(&self, raw: &RawLayout) -> Result<FilePlan, ConfigError> {
        let patient = self.needed(raw.patient.as_ref(), "patient")?;
        let visit = self.needed(raw.visit.as_ref(), "visit")?;
        Ok(FilePlan {
            role: Role::Visits,
            patient_id: self.key(patient, "patient", "id")?,
            date: Some(self.key(visit, "visit", "date")?),
            quarter: self.quarter(visit)?,
            row_id: self.row_id(visit, "visit")?,
            attendance: self.attendance(raw)?,
            patient: self.fields(
                patient,
                "patient",
                &["id"],
                PATIENT_FIELDS,
                Blanks::default(),
            )?,
            strata: self.strata(raw)?,
            visit: Some(self.fields(
                visit,
                "visit",
                &["date", "quarter", "row_id"],
                VISIT_FIELDS,
                Blanks::default(),
            )?),
            exams: raw
                .foot_exam
                .as_ref()
                .map_or(Ok(Vec::new()), |section| self.exam_blocks(section))?,
            ulcers: raw.ulcer.as_ref().map_or(Ok(Vec::new()), |section| {
                self.needs(section, "ulcer", &["label", "side"])?;
                self.slots(section, "ulcer", ULCER_FIELDS)
            })?,
            events: raw.event.as_ref().map_or(Ok(Vec::new()), |section| {
                self.needs_event(section)?;
                self.slots(section, "event", EVENT_FIELDS)
            })?,
        })
    }

    fn long(&self, raw: &RawLayout) -> Result<Vec<FilePlan>, ConfigError> {
        let mut plans = Vec::new();
        let none = Blanks::default();
        let keys = ["patient", "date", "row_id"];
        // facts about the person that stand on the rows of visits
        let on_visits = raw
            .patient
            .as_ref()
            .filter(|section| entry(section, "id").is_none() && raw.visit.is_some());
        let of_people = raw.patient.as_ref().filter(|_| on_visits.is_none());
        if let Some(section) = of_people {
            let mut plan = self.empty_plan(Role::Patients, section, "patient", "id")?;
            plan.patient = self.fields(section, "patient", &["id"], PATIENT_FIELDS, none)?;
            plan.strata = self.strata(raw)?;
            plans.push(plan);
        }
        if let Some(section) = &raw.visit {
            let mut plan = self.empty_plan(Role::Visits, section, "visit", "patient")?;
            plan.date = Some(self.key(section, "visit", "date")?);
            plan.quarter = self.quarter(section)?;
            plan.attendance = self.attendance(raw)?;
            let keys = ["patient", "date", "quarter", "row_id"];
            plan.visit = Some(self.fields(section, "visit", &keys, VISIT_FIELDS, none)?);
            if let Some(section) = on_visits {
                plan.patient = self.fields(section, "patient", &[], PATIENT_FIELDS, none)?;
            }
            if of_people.is_none() {
                plan.strata = self.strata(raw)?;
            }
            plans.push(plan);
        }
        if let Some(section) = &raw.foot_exam {
            let mut plan = self.empty_plan(Role::FootExams, section, "foot_exam", "patient")?;
            plan.date = Some(self.key(section, "foot_exam", "date")?);
            self.needs(section, "foot_exam", &["side"])?;
            let fields = self.fields(section, "foot_exam", &keys, EXAM_FIELDS, none)?;
            plan.exams = vec![ExamBlock { side: None, fields }];
            plans.push(plan);
        }
        if let Some(section) = &raw.ulcer {
            let mut plan = self.empty_plan(Role::UlcerObservations, section, "ulcer", "patient")?;
            plan.date = Some(self.key(section, "ulcer", "date")?);
            self.needs(section, "ulcer", &["label", "side"])?;
            plan.ulcers = vec![self.fields(section, "ulcer", &keys, ULCER_FIELDS, none)?];
            plans.push(plan);
        }
        if let Some(section) = &raw.event {
            let mut plan = self.empty_plan(Role::Events, section, "event", "patient")?;
            plan.date = Some(self.key(section, "event", "date")?);
            self.needs_event(section)?;
            plan.events = vec![self.fields(section, "event", &keys, EVENT_FIELDS, none)?];
            plans.push(plan);
        }
        if plans.is_empty() {
            return Err(self.error(
                &(0..0),
                "the layout describes no table: `patient`, `visit`, `foot_exam`, `ulcer`, `event`",
            ));
        }
        Ok(plans)
    }

    fn empty_plan(
        &self,
        role: Role,
        section: &Spanned<RawSection>,
        name: &str,
        id: &str,
    ) -> Result<FilePlan, ConfigError> {
        Ok(FilePlan {
            role,
            patient_id: self.key(section, name, id)?,
            date: None,
            quarter: None,
            row_id: self.row_id(section, name)?,
            attendance: None,
            patient: Vec::new(),
            strata: Vec::new(),
            visit: None,
            exams: Vec::new(),
            ulcers: Vec::new(),
            events: Vec::new(),
        })
    }

    fn needed<'r>(
        &self,
        section: Option<&'r Spanned<RawSection>>,
        name: &str,
    ) -> Result<&'r Spanned<RawSection>, ConfigError> {
        section.ok_or_else(|| self.error(&(0..0), format!("missing table `[{name}]`")))
    }

    fn needs(
        &self,
        section: &Spanned<RawSection>,
        name: &str,
        fields: &[&str],
    ) -> Result<(), ConfigError> {
        match fields.iter().find(|field| entry(section, field).is_none()) {
            None => Ok(()),
            Some(field) => {
                Err(self.error(&section.span(), format!("missing key `{name}.{field}`")))
            }
        }
    }

    /// An event says what happened, in a word or in a code.
    fn needs_event(&self, section: &Spanned<RawSection>) -> Result<(), ConfigError> {
        let codes = ["cpt", "icd_10_pcs", "icd_10_cm"];
        if codes.iter().any(|field| entry(section, field).is_some()) {
            return Ok(());
        }
        self.needs(section, "event", &["kind"])
    }

    /// The cell of a key that the table cannot do without.
    fn key(
        &self,
        section: &Spanned<RawSection>,
        name: &str,
        key: &str,
    ) -> Result<Cell, ConfigError> {
        self.needs(section, name, &[key])?;
        let entry = entry(section, key)
            .ok_or_else(|| self.error(&section.span(), format!("missing key `{name}.{key}`")))?;
        self.cell(&entry.mapping, &format!("{name}.{key}"), Blanks::default())
    }

    /// The cell that names a record in every export, where the section has one.
    fn row_id(
        &self,
        section: &Spanned<RawSection>,
        name: &str,
    ) -> Result<Option<Cell>, ConfigError> {
        entry(section, "row_id").map_or(Ok(None), |_| self.key(section, name, "row_id").map(Some))
    }

    /// The cell of the carried quarter, where the section has one.
    fn quarter(&self, visit: &Spanned<RawSection>) -> Result<Option<Cell>, ConfigError> {
        entry(visit, "quarter").map_or(Ok(None), |_| self.key(visit, "visit", "quarter").map(Some))
    }

    fn strata(&self, raw: &RawLayout) -> Result<Vec<Stratum>, ConfigError> {
        raw.strata
            .iter()
            .map(|(name, mapping)| {
                let path = format!("strata.{name}");
                Ok(Stratum {
                    name: name.clone(),
                    cell: self.cell(mapping, &path, Blanks::default())?,
                })
            })
            .collect()
    }

    /// One block a side when the section names the sides' spellings, else one whose side is read.
    fn exam_blocks(&self, section: &Spanned<RawSection>) -> Result<Vec<ExamBlock>, ConfigError> {
        let mut blocks = Vec::new();
        for (key, side) in [("left_is", Side::Left), ("right_is", Side::Right)] {
            let Some(entry) = entry(section, key) else {
                continue;
            };
            let RawMapping::Column(word) = entry.mapping.get_ref() else {
                return Err(self.error(
                    &entry.mapping.span(),
                    format!("`foot_exam.{key}` must be the text that stands for {{side}}"),
                ));
            };
            let blanks = Blanks {
                side: Some(word),
                slot: None,
            };
            let fields = self.fields(
                section,
                "foot_exam",
                &["left_is", "right_is", "side"],
                EXAM_FIELDS,
                blanks,
            )?;
            blocks.push(ExamBlock {
                side: Some(side),
                fields,
            });
        }
        if blocks.is_empty() {
            self.needs(section, "foot_exam", &["side"])
                .map_err(|error| {
                    error.with_hint(
                        "name the sides' spellings with `left_is` and `right_is`, or map `side`",
                    )
                })?;
            let fields = self.fields(section, "foot_exam", &[], EXAM_FIELDS, Blanks::default())?;
            blocks.push(ExamBlock { side: None, fields });
        }
        Ok(blocks)
    }

    fn slots<R>(
        &self,
        section: &Spanned<RawSection>,
        name: &str,
        known: &'static [Field<R>],
    ) -> Result<Vec<Vec<Mapped<R>>>, ConfigError> {
        let slots = match entry(section, "slots") {
            None => vec![None],
            Some(entry) => match entry.mapping.get_ref() {
                RawMapping::Number(n) if (1..=MOST_SLOTS).contains(n) => {
                    (1..=*n).map(Some).collect()
                }
                _ => {
                    let message =
                        format!("`{name}.slots` must be a whole number from 1 to {MOST_SLOTS}");
                    return Err(self.error(&entry.mapping.span(), message));
                }
            },
        };
        slots
            .into_iter()
            .map(|slot| {
                self.fields(
                    section,
                    name,
                    &["slots"],
                    known,
                    Blanks { side: None, slot },
                )
            })
            .collect()
    }
}

fn entry<'s>(section: &'s Spanned<RawSection>, key: &str) -> Option<&'s RawEntry> {
    section
        .get_ref()
        .entries
        .iter()
        .find(|entry| entry.key.get_ref() == key)
}
