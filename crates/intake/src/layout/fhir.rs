//! The layout of an HL7 FHIR R4 export: which codings fill which of our fields.
//!
//! A coding is written as the standard writes a token, `system|code`; `[systems]` gives short names for the systems. What
//! the elements of a resource mean is fixed by the standard, so a layout only speaks of codings.

use super::dates::{RawFhirDates, Written, declared, utc_offset};
use super::{CodeList, CodePair, Form};
use crate::code_tables::CodeSystem;
use crate::config::{self, ConfigError, name_hint};
use crate::dates::{DateForm, DateOrder};
use crate::fields::{
    Codes, EXAM_FIELDS, ExamDraft, Field, Kind, PATIENT_FIELDS, PatientFacts, ULCER_FIELDS,
    UlcerDraft, VISIT_FIELDS, VisitDraft,
};
use outcomes::tables::{AmputationHeight, EventKind, FootSite, Setting, Side};
use serde::Deserialize;
use std::collections::{BTreeMap, HashMap, HashSet};
use toml::Spanned;

/// What the codings of an export mean.
#[derive(Debug)]
pub(crate) struct FhirProfile {
    /// How dates are written, and the clock of the clinic.
    pub(crate) dates: DateForm,
    /// Fields filled by observations, table by table in the order of our lists; a coding leads to one of them.
    pub(crate) fields: Vec<FhirField>,
    /// Coding -> position in `fields`.
    pub(crate) by_coding: HashMap<String, usize>,
    /// Codings of observations that say by themselves that an ulcer or a foot was looked at.
    pub(crate) panels: HashMap<String, Panel>,
    /// Codings of conditions that are followed as ulcers.
    pub(crate) lesions: HashSet<String>,
    /// System of the identifiers that are labels of lesions; without it a lesion is labelled by its id.
    pub(crate) label_system: Option<String>,
    /// Codings of encounters.
    pub(crate) encounters: HashMap<String, EncounterMeaning>,
    /// Codings of the participants of encounters.
    pub(crate) roles: HashMap<String, String>,
    /// Codings of body sites that name a side.
    pub(crate) sides: HashMap<String, Side>,
    /// Codings of body sites that name a site.
    pub(crate) sites: HashMap<String, FootSite>,
    /// Codings of procedures, requests and reports.
    pub(crate) events: HashMap<String, (EventKind, Option<AmputationHeight>)>,
    /// Systems of the practice's own from which codings are read.
    own_systems: HashSet<String>,
    /// Codings of those systems, and whole systems as `system|*`, that are declared to be of no use.
    ignored: HashSet<String>,
}

/// Where standards bodies publish code systems. A records system exports many codes of theirs that have nothing to do with
/// feet. Source: HL7 FHIR R4 (4.0.1), "Using Code Systems"; the last from memory.
const PUBLIC_SYSTEMS: [&str; 6] = [
    "http://loinc.org",
    "http://snomed.info/",
    "http://terminology.hl7.org/",
    "http://hl7.org/fhir/",
    "http://unitsofmeasure.org",
    "http://www.nlm.nih.gov/",
];

impl FhirProfile {
    /// Whether a coding that the layout does not name is one of the practice's own, and so may be one that it forgot.
    pub(crate) fn should_know(&self, coding: &crate::load::Coding<'_>) -> bool {
        self.own_systems.contains(coding.system)
            && !self.ignored.contains(&coding.token())
            && !self.ignored.contains(&format!("{}|*", coding.system))
    }
}

/// The systems among these tokens that no standards body publishes.
fn own_systems<'t>(tokens: impl Iterator<Item = &'t String>) -> HashSet<String> {
    tokens
        .filter_map(|token| token.split_once('|'))
        .map(|(system, _)| system)
        .filter(|system| {
            let is_public = PUBLIC_SYSTEMS
                .iter()
                .any(|public| system.starts_with(public));
            let is_coded = CodeSystem::ALL.iter().any(|known| known.uri() == *system);
            !is_public && !is_coded
        })
        .map(str::to_owned)
        .collect()
}

/// What an observation without values still says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Panel {
    Ulcer,
    FootExam,
}

/// What an encounter is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum EncounterMeaning {
    /// An attendance of the practice.
    Visit(Setting),
    /// Something that happened elsewhere.
    Event(EventKind),
}

/// A field and the answers that its observations may give.
#[derive(Debug)]
pub(crate) struct FhirField {
    pub(crate) target: Target,
    /// Answer codings and our words; `None` where an answer is kept as its code.
    pub(crate) values: Option<CodeList>,
}

/// The table a field belongs to.
pub(crate) enum Target {
    Patient(&'static Field<PatientFacts>),
    Visit(&'static Field<VisitDraft>),
    Exam(&'static Field<ExamDraft>),
    Ulcer(&'static Field<UlcerDraft>),
}

impl std::fmt::Debug for Target {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.name())
    }
}

impl Target {
    pub(crate) const fn name(&self) -> &'static str {
        match self {
            Self::Patient(field) => field.name,
            Self::Visit(field) => field.name,
            Self::Exam(field) => field.name,
            Self::Ulcer(field) => field.name,
        }
    }

    fn codes(&self) -> Option<Codes> {
        match self {
            Self::Patient(field) => field.kind.codes(),
            Self::Visit(field) => field.kind.codes(),
            Self::Exam(field) => field.kind.codes(),
            Self::Ulcer(field) => field.kind.codes(),
        }
    }
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct RawFhir {
    name: String,
    #[serde(default)]
    description: String,
    file: RawFhirFile,
    #[serde(default)]
    dates: RawFhirDates,
    #[serde(default)]
    systems: BTreeMap<String, String>,
    #[serde(default)]
    lesion: RawLesion,
    #[serde(default)]
    encounter: BTreeMap<String, Spanned<String>>,
    #[serde(default)]
    role: BTreeMap<String, Spanned<String>>,
    #[serde(default)]
    side: BTreeMap<String, Spanned<String>>,
    #[serde(default)]
    site: BTreeMap<String, Spanned<String>>,
    #[serde(default)]
    event: BTreeMap<String, Spanned<String>>,
    #[serde(default)]
    patient: BTreeMap<String, Spanned<RawSource>>,
    #[serde(default)]
    visit: BTreeMap<String, Spanned<RawSource>>,
    #[serde(default)]
    foot_exam: BTreeMap<String, Spanned<RawSource>>,
    #[serde(default)]
    ulcer: BTreeMap<String, Spanned<RawSource>>,
    #[serde(default)]
    answers: BTreeMap<String, BTreeMap<String, Spanned<String>>>,
    #[serde(default)]
    ignore: Vec<Spanned<String>>,
    #[serde(default)]
    accept: BTreeMap<String, Spanned<String>>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct RawFhirFile {
    shape: Spanned<String>,
    unpacked_mib_at_most: Option<u32>,
    unpacked_ratio_at_most: Option<u32>,
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
struct RawLesion {
    #[serde(default)]
    codes: Vec<Spanned<String>>,
    labels: Option<String>,
}

/// `field = "system|code"`, or with a list of answers.
#[derive(Debug, Deserialize)]
#[serde(untagged)]
enum RawSource {
    Coding(String),
    Table(RawSourceTable),
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct RawSourceTable {
    code: String,
    answers: Option<String>,
}

#[derive(Debug, Deserialize)]
struct Peek {
    file: Option<PeekFile>,
}

#[derive(Debug, Deserialize)]
struct PeekFile {
    shape: Option<String>,
}

/// The shape of layouts for HL7 FHIR R4.
pub(super) const SHAPE: &str = "fhir-r4";

/// Whether a layout says that it is one for HL7 FHIR, of this release or another.
pub(super) fn is_fhir(text: &str) -> bool {
    toml::from_str::<Peek>(text)
        .ok()
        .and_then(|peek| peek.file?.shape)
        .is_some_and(|shape| shape.starts_with("fhir"))
}

/// Reads the layout of an HL7 FHIR R4 export.
pub(super) fn parse(text: &str, file_name: &str) -> Result<super::Layout, ConfigError> {
    let raw: RawFhir = config::parse(text, file_name)?;
    let compiler = Compiler {
        text,
        file_name,
        systems: &raw.systems,
    };
    if raw.file.shape.get_ref() != SHAPE {
        let message = format!("`file.shape`: unknown value `{}`", raw.file.shape.get_ref());
        return Err(compiler
            .error(&raw.file.shape, message)
            .with_hint(format!("release 4 is read: `{SHAPE}`")));
    }
    let profile = compiler.profile(&raw)?;
    let dates = declared(&Written::from(&raw.dates), None, &|span, message| {
        ConfigError::at(text, file_name, span, message)
    })?;
    if let (true, Some(kind)) = (dates.is_year_only(), &raw.dates.kind) {
        let message = "an HL7 FHIR export is read by days, so that years only cannot be read";
        return Err(compiler.error(kind, message).with_hint(
            "export the yearly counts as a table, and read it with a layout of shape `wide` or `long`",
        ));
    }
    for (path, reason) in &raw.accept {
        if reason.get_ref().trim().is_empty() {
            let message = format!("`accept.{path}` needs a reason");
            return Err(compiler.error(reason, message));
        }
    }
    let unpacking = super::compile::unpacking_of(
        raw.file.unpacked_mib_at_most,
        raw.file.unpacked_ratio_at_most,
    );
    Ok(super::Layout {
        name: raw.name,
        description: raw.description,
        form: Form {
            is_year_only: dates.is_year_only(),
            ..Form::of_json(unpacking)
        },
        dates,
        plans: Vec::new(),
        joined: Vec::new(),
        versions: Vec::new(),
        fhir: Some(Box::new(profile)),
        ignore: (raw.ignore.into_iter())
            .map(Spanned::into_inner)
            .filter(|path| !path.contains('|'))
            .collect(),
        accepted: raw
            .accept
            .into_iter()
            .map(|(path, reason)| (path, reason.into_inner()))
            .collect(),
    })
}

struct Compiler<'t> {
    text: &'t str,
    file_name: &'t str,
    systems: &'t BTreeMap<String, String>,
}

impl Compiler<'_> {
    fn error<T>(&self, at: &Spanned<T>, message: impl Into<String>) -> ConfigError {
        ConfigError::at(self.text, self.file_name, &at.span(), message)
    }

    fn profile(&self, raw: &RawFhir) -> Result<FhirProfile, ConfigError> {
        let mut fields = Fields::default();
        let known = |field: &'static Field<PatientFacts>| Target::Patient(field);
        self.fields(
            raw,
            "patient",
            &raw.patient,
            PATIENT_FIELDS,
            known,
            &mut fields,
        )?;
        self.fields(
            raw,
            "visit",
            &raw.visit,
            VISIT_FIELDS,
            Target::Visit,
            &mut fields,
        )?;
        self.fields(
            raw,
            "foot_exam",
            &raw.foot_exam,
            EXAM_FIELDS,
            Target::Exam,
            &mut fields,
        )?;
        self.fields(
            raw,
            "ulcer",
            &raw.ulcer,
            ULCER_FIELDS,
            Target::Ulcer,
            &mut fields,
        )?;
        let mut lesions = HashSet::new();
        for code in &raw.lesion.codes {
            lesions.insert(self.token(code.get_ref(), code)?);
        }
        let mut ignored = HashSet::new();
        for coding in raw
            .ignore
            .iter()
            .filter(|path| path.get_ref().contains('|'))
        {
            ignored.insert(self.token(coding.get_ref(), coding)?);
        }
        let mut profile = FhirProfile {
            dates: DateForm {
                utc_offset_minutes: utc_offset(raw.dates.utc_offset.as_ref(), &|span, message| {
                    ConfigError::at(self.text, self.file_name, span, message)
                })?,
                ..DateForm::from(DateOrder::Iso)
            },
            own_systems: HashSet::new(),
            ignored,
            fields: fields.list,
            by_coding: fields.by_coding,
            panels: fields.panels,
            lesions,
            label_system: raw.lesion.labels.as_ref().map(|system| {
                let address = self.systems.get(system);
                address.unwrap_or(system).clone()
            }),
            encounters: self.meanings("encounter", &raw.encounter, |word| {
                Setting::from_code(word)
                    .map(EncounterMeaning::Visit)
                    .or_else(|| EventKind::from_code(word).map(EncounterMeaning::Event))
            })?,
            roles: self.meanings("role", &raw.role, |word| Some(word.to_owned()))?,
            sides: self.meanings("side", &raw.side, Side::from_code)?,
            sites: self.meanings("site", &raw.site, FootSite::from_code)?,
            events: self.meanings("event", &raw.event, event)?,
        };
        profile.own_systems = own_systems(
            (profile.by_coding.keys())
                .chain(profile.panels.keys())
                .chain(&profile.lesions)
                .chain(profile.encounters.keys())
                .chain(profile.events.keys()),
        );
        Ok(profile)
    }

    /// A list of codings, each with one of our words.
    fn meanings<T>(
        &self,
        section: &str,
        raw: &BTreeMap<String, Spanned<String>>,
        read: impl Fn(&str) -> Option<T>,
    ) -> Result<HashMap<String, T>, ConfigError> {
        let mut meanings = HashMap::new();
        for (coding, word) in raw {
            let meaning = read(word.get_ref()).ok_or_else(|| {
                let message = format!("`{}` is no value of `{section}`", word.get_ref());
                self.error(word, message)
                    .with_hint("`limbledger list codes` shows our words")
            })?;
            meanings.insert(self.token(coding, word)?, meaning);
        }
        Ok(meanings)
    }

    fn fields<R>(
        &self,
        raw: &RawFhir,
        section: &str,
        mapped: &BTreeMap<String, Spanned<RawSource>>,
        known: &'static [Field<R>],
        target: impl Fn(&'static Field<R>) -> Target,
        fields: &mut Fields,
    ) -> Result<(), ConfigError> {
        let mut found = Vec::new();
        for (name, source) in mapped {
            let (code, answers) = match source.get_ref() {
                RawSource::Coding(code) => (code, None),
                RawSource::Table(table) => (&table.code, table.answers.as_ref()),
            };
            let token = self.token(code, source)?;
            let panel = match (name.as_str(), section) {
                ("panel", "ulcer") => Some(Panel::Ulcer),
                ("panel", "foot_exam") => Some(Panel::FootExam),
                _ => None,
            };
            if let Some(panel) = panel {
                fields.panels.insert(token, panel);
                continue;
            }
            let place = known
                .iter()
                .position(|field| is_open(section, field) && field.name == name);
            let Some((place, field)) = place.and_then(|place| Some((place, known.get(place)?)))
            else {
                let names: Vec<&str> = known
                    .iter()
                    .filter(|field| is_open(section, field))
                    .map(|field| field.name)
                    .collect();
                let error = self.error(source, format!("unknown field `{section}.{name}`"));
                return Err(ConfigError {
                    hint: name_hint(name, &names),
                    ..error
                });
            };
            let target = target(field);
            let values = match answers {
                None => None,
                Some(list) => Some(self.answers(raw, list, &target, source)?),
            };
            found.push((place, token, FhirField { target, values }, source));
        }
        found.sort_by_key(|(place, ..)| *place);
        for (_, token, field, source) in found {
            let name = field.target.name();
            if fields.by_coding.contains_key(&token) {
                let message = format!("`{section}.{name}`: the coding already fills another field");
                return Err(self.error(source, message));
            }
            fields.by_coding.insert(token, fields.list.len());
            fields.list.push(field);
        }
        Ok(())
    }

    fn answers(
        &self,
        raw: &RawFhir,
        name: &str,
        target: &Target,
        at: &Spanned<RawSource>,
    ) -> Result<CodeList, ConfigError> {
        let Some(list) = raw.answers.get(name) else {
            let known: Vec<&str> = raw.answers.keys().map(String::as_str).collect();
            let error = self.error(at, format!("unknown list `answers.{name}`"));
            return Err(ConfigError {
                hint: name_hint(name, &known),
                ..error
            });
        };
        let mut codes = Vec::new();
        for (coding, word) in list {
            let ours = (word.get_ref() != "missing").then(|| word.get_ref().clone());
            if let (Some(ours), Some(expected)) = (&ours, target.codes())
                && !(expected.is_known)(ours)
            {
                let known = (expected.spellings)();
                let message = format!(
                    "`answers.{name}`: `{ours}` is no value of `{}`",
                    target.name()
                );
                return Err(ConfigError {
                    hint: name_hint(ours, &known),
                    ..self.error(word, message)
                });
            }
            codes.push(CodePair {
                theirs: self.token(coding, word)?,
                ours,
            });
        }
        Ok(CodeList { codes })
    }

    /// `system|code` with the system's address in full.
    fn token<T>(&self, written: &str, at: &Spanned<T>) -> Result<String, ConfigError> {
        let wrong = |message: String| {
            self.error(at, message)
                .with_hint("write `system|code`, with a system of [systems] or its whole address")
        };
        let (system, code) = written
            .split_once('|')
            .filter(|(_, code)| !code.is_empty())
            .ok_or_else(|| wrong(format!("`{written}` is no coding")))?;
        if let Some(address) = self.systems.get(system) {
            return Ok(format!("{address}|{code}"));
        }
        let published = CodeSystem::from_code(system).map(CodeSystem::uri);
        match published {
            Some(address) => Ok(format!("{address}|{code}")),
            None if system.is_empty() || system.contains(':') => Ok(written.to_owned()),
            None => Err(wrong(format!("`{system}` is not in [systems]"))),
        }
    }
}

#[derive(Default)]
struct Fields {
    list: Vec<FhirField>,
    by_coding: HashMap<String, usize>,
    panels: HashMap<String, Panel>,
}

/// Fields that an observation may fill; the others come from elements of the standard.
fn is_open<R>(section: &str, field: &Field<R>) -> bool {
    let fixed: &[&str] = match section {
        "patient" => &["history_date", "death"],
        "visit" => &[
            "clinic_site",
            "clinician",
            "clinician_role",
            "setting",
            "planned_return",
        ],
        "foot_exam" => &["side"],
        _ => &["label", "side"],
    };
    !fixed.contains(&field.name) && !matches!(field.kind, Kind::Published(..))
}

/// `kind`, or `kind height` for an amputation.
fn event(word: &str) -> Option<(EventKind, Option<AmputationHeight>)> {
    match word.split_once(' ') {
        None => Some((EventKind::from_code(word)?, None)),
        Some((kind, height)) => Some((
            EventKind::from_code(kind)?,
            Some(AmputationHeight::from_code(height)?),
        )),
    }
}
