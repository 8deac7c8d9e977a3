//! The report as one plain value: everything a page will say, before anything is drawn.
//!
//! A renderer lays this out; it computes nothing that a reader might quote.

mod changes;
mod dates;
mod figure;
mod monitoring;
mod research;
mod sensitivity;
mod style;
mod value;
pub mod words;

pub use changes::{Cause, ChangeCount, ChangedResult, Changes};
pub use dates::DatesDeclared;
pub use figure::{
    AreaLine, AreaPoint, AtRiskRow, BandPoint, ControlChart, ControlPoint, Figure, FigureFrame,
    FollowUpCalendar, FollowUpSpan, Forest, ForestRow, Funnel, FunnelLimit, FunnelLimits,
    FunnelUnit, IncidenceCurve, IncidenceStack, IntervalBeside, IntervalMass, Movement,
    MovementFlow, NamedSignal, Pathway, PathwayStep, SmallMultiples, SmallPanel, StackedQuarter,
    Trajectories, TrendPoint,
};
pub use monitoring::{Monitoring, WatchedSeries};
pub use research::{ChecklistItem, CohortCell, CohortGroup, CohortRow, CohortTable};
pub use sensitivity::{SensitiveFigure, Sensitivity};
pub use style::{DateOrder, DecimalMark, Style, choose_style};
pub use value::{Bounds, Count, Estimate, Interval, Unit, Value};

use crate::coded;
use crate::disclose::SuppressionLine;
use crate::finding::FileAccount;
use chrono::NaiveDate;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

coded! {
    /// Who a copy of the report is for.
    pub enum Audience {
        /// The practice: action list, nothing hidden.
        Clinic = "clinic",
        /// The auditor: full tables and traces.
        Auditor = "auditor",
        /// The public: small counts hidden.
        Public = "public",
    }
}

/// Everything one report says.
#[derive(Debug, Clone, PartialEq, JsonSchema, Serialize)]
pub struct Report {
    /// Version of this value's shape.
    pub format: u32,
    /// Report title.
    pub title: String,
    /// Name of the practice.
    pub practice: String,
    /// Whom this copy is for.
    pub audience: Audience,
    /// The reporting quarter, for example `2025 Q3`.
    pub quarter: String,
    /// Its first day.
    pub quarter_start: NaiveDate,
    /// Its last day (included).
    pub quarter_end: NaiveDate,
    /// Dates that bound what the export can know.
    pub horizon: Horizon,
    /// What the dates of the export are declared to be, where they are not simply the days on which things happened.
    #[serde(default, skip_serializing_if = "DatesDeclared::is_plain")]
    pub dates: DatesDeclared,
    /// The plain-words page.
    pub front_page: FrontPage,
    /// What became of the figures of an earlier report, where one was named; never in a public copy.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub changes: Option<Changes>,
    /// Every measure, by family, in catalogue order.
    pub families: Vec<Family>,
    /// Charts, each beside the family it belongs to.
    pub figures: Vec<Figure>,
    /// What the charts over the quarters say; empty in a public copy.
    pub monitoring: Monitoring,
    /// People to look at, most urgent first (clinic copy only).
    pub action_list: Vec<ActionItem>,
    /// From rows read to the cohorts counted.
    pub flow: Vec<FlowStep>,
    /// What became of every row, by file.
    pub accounts: Vec<FileAccount>,
    /// Findings by check.
    pub findings: Vec<FindingTally>,
    /// Share of rows that carry each field.
    pub completeness: Vec<FieldCompleteness>,
    /// What the public copy made beside this one hides (auditor copy only).
    pub suppressions: Vec<SuppressionLine>,
    /// What the headline figures would be if one rule were another (auditor copy only).
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub sensitivity: Vec<Sensitivity>,
    /// Who was followed, as they were at the first visit (auditor copy only).
    #[serde(default, skip_serializing_if = "CohortTable::is_empty")]
    pub cohort_table: CohortTable,
    /// Where the reporting statements are answered (auditor copy only).
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub checklist: Vec<ChecklistItem>,
    /// Every setting in force.
    pub settings: Vec<SettingLine>,
    /// The rules table, a row a measure.
    pub rules: Vec<RuleLine>,
    /// Words used.
    pub glossary: Vec<(String, String)>,
    /// What must be kept in mind.
    pub cautions: Vec<String>,
    /// What made this report.
    pub provenance: Provenance,
}

/// Dates declared by the pipeline file.
#[derive(Debug, Clone, PartialEq, Eq, JsonSchema, Serialize)]
pub struct Horizon {
    /// First day the export covers.
    pub data_start: NaiveDate,
    /// Last day the export is complete.
    pub cut_off: NaiveDate,
    /// Deaths are known up to this day.
    pub deaths_known_to: NaiveDate,
    /// Hospital procedures are known up to this day.
    pub procedures_known_to: NaiveDate,
}

/// The plain-words page.
#[derive(Debug, Clone, PartialEq, JsonSchema, Serialize)]
pub struct FrontPage {
    /// What happened, in sentences with numbers in them.
    pub sentences: Vec<String>,
    /// Six to eight headline measures.
    pub headlines: Vec<Headline>,
    /// One honest line on chance.
    pub chance: String,
}

/// A headline: one measure result and how to read it.
#[derive(Debug, Clone, PartialEq, JsonSchema, Serialize)]
pub struct Headline {
    /// Short plain title.
    pub title: String,
    /// The result.
    pub result: MeasureResult,
    /// Earlier values, oldest first, for a small trend line.
    pub trend: Vec<TrendPoint>,
    /// What would have been expected of these people or what is published for context, in a sentence; never a target.
    pub expectation: Option<String>,
    /// One line on how to read it.
    pub reading: String,
}

/// Measures of one family.
#[derive(Debug, Clone, PartialEq, JsonSchema, Serialize)]
pub struct Family {
    /// Kebab-case id, for example `healing`.
    pub id: String,
    /// Title.
    pub title: String,
    /// One paragraph on what this family answers.
    pub lead: String,
    /// Results, in catalogue order.
    pub measures: Vec<MeasureSheet>,
}

/// One measure: what it means and what it came to.
#[derive(Debug, Clone, PartialEq, JsonSchema, Serialize)]
pub struct MeasureSheet {
    /// Kebab-case id.
    pub id: String,
    /// Title.
    pub title: String,
    /// Id of the measure of which this is another version; `None` for a measure that stands by itself.
    pub version_of: Option<String>,
    /// Of whom the newest figure speaks, and who is not in it yet.
    pub speaks_of: String,
    /// The definition in plain words.
    pub words: String,
    /// Who counts in the numerator.
    pub numerator: String,
    /// Who is in the denominator.
    pub denominator: String,
    /// Who is left out and why.
    pub exclusions: String,
    /// When a figure is mature.
    pub maturity: String,
    /// Where the definition comes from.
    pub source: String,
    /// What the number does not show.
    pub caution: String,
    /// Published figures for context, each with its citation; never a target.
    pub context: Vec<String>,
    /// Whether a higher figure is `better`, `worse` or `neither`.
    pub direction: String,
    /// Results, most recent first.
    pub results: Vec<MeasureResult>,
    /// The year to the newest mature quarter, split by what the pipeline file names; empty in a public copy.
    pub splits: Vec<Split>,
}

/// A measure split by one thing that was known on the day each of those counted began.
#[derive(Debug, Clone, PartialEq, JsonSchema, Serialize)]
pub struct Split {
    /// What it is split by, as in the pipeline file.
    pub by: String,
    /// Title, for example `By site`.
    pub title: String,
    /// How the stratum is decided.
    pub words: String,
    /// One result a stratum in the order of the strata, "not recorded" last. Nobody is ranked.
    pub results: Vec<MeasureResult>,
}

/// What a measure came to for one cohort.
#[derive(Debug, Clone, PartialEq, JsonSchema, Serialize, Deserialize)]
pub struct MeasureResult {
    /// Id of the measure.
    pub measure: String,
    /// Which people, in words: `ulcers first seen in 2025 Q1`.
    pub cohort: String,
    /// The quarter label of the cohort, or `all quarters`.
    pub period: String,
    /// Stratum, in words, or `all`.
    pub stratum: String,
    /// Unit of the value.
    pub unit: Unit,
    /// The value or why there is none.
    pub value: Value,
    /// Numerator.
    pub numerator: Option<Count>,
    /// Denominator.
    pub denominator: Option<Count>,
    /// How many had an unknown outcome.
    pub n_unknown: Option<Count>,
    /// Lowest and highest value the unknown outcomes allow.
    pub bounds: Option<Bounds>,
    /// Short remarks that belong beside the number.
    pub notes: Vec<String>,
}

/// One line of the action list.
#[derive(Debug, Clone, PartialEq, JsonSchema, Serialize)]
pub struct ActionItem {
    /// Pseudonymous patient id.
    pub patient: String,
    /// Side, site or limb, in words.
    pub place: String,
    /// Rule that put it here, kebab-case.
    pub rule: String,
    /// The reason in words.
    pub reason: String,
    /// Days since the rule began to apply.
    pub days: i64,
    /// What would clear it.
    pub clears_when: String,
    /// Whether the rule is an urgent one.
    pub is_urgent: bool,
    /// File and record of the last relevant row.
    pub trace: String,
}

/// One step from rows to cohorts.
#[derive(Debug, Clone, PartialEq, Eq, JsonSchema, Serialize)]
pub struct FlowStep {
    /// What is counted.
    pub label: String,
    /// How many.
    pub n: Count,
    /// Indent level in the flow, 0 for the top.
    pub depth: u8,
}

/// How often a check spoke.
#[derive(Debug, Clone, PartialEq, Eq, JsonSchema, Serialize)]
pub struct FindingTally {
    /// Name of the check.
    pub check: String,
    /// What it does to its row.
    pub severity: String,
    /// What it means.
    pub words: String,
    /// How many times.
    pub n: Count,
    /// Up to three places to look, `file, record n`.
    pub examples: Vec<String>,
}

/// How complete one field is.
#[derive(Debug, Clone, PartialEq, JsonSchema, Serialize)]
pub struct FieldCompleteness {
    /// Table.
    pub table: String,
    /// Field.
    pub field: String,
    /// Rows where it could have been recorded.
    pub n_rows: u64,
    /// Rows where it was.
    pub n_present: u64,
    /// Share by quarter, oldest first: (quarter, present, rows).
    pub quarters: Vec<(String, u64, u64)>,
}

/// One setting in force.
#[derive(Debug, Clone, PartialEq, Eq, JsonSchema, Serialize)]
pub struct SettingLine {
    /// Name as in the pipeline file.
    pub name: String,
    /// Value.
    pub value: String,
    /// The default, when the value differs from it.
    pub default: Option<String>,
    /// What it decides.
    pub words: String,
}

/// One row of the rules table.
#[derive(Debug, Clone, PartialEq, Eq, JsonSchema, Serialize)]
pub struct RuleLine {
    /// Measure id.
    pub measure: String,
    /// Unit of analysis.
    pub unit: String,
    /// Where the clock starts.
    pub clock: String,
    /// When one enters the risk set.
    pub entry: String,
    /// The event.
    pub event: String,
    /// What makes the event impossible.
    pub competing: String,
    /// Where follow-up ends.
    pub censoring: String,
    /// Order of things on the same day.
    pub same_day: String,
    /// When the outcome counts as known.
    pub known: String,
}

/// What made this report.
#[derive(Debug, Clone, Default, PartialEq, Eq, JsonSchema, Serialize)]
pub struct Provenance {
    /// Program and version.
    pub program: String,
    /// Pipeline file and its SHA-256.
    pub pipeline: (String, String),
    /// Layout file and its SHA-256.
    pub layout: (String, String),
    /// Input files: name, bytes, SHA-256.
    pub inputs: Vec<(String, u64, String)>,
    /// Tables of published codes built into the program: classification and edition, SHA-256.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub code_tables: Vec<(String, String)>,
    /// Columns that look like identifiers and that the layout declares to identify nobody, with its reasons.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub accepted_columns: Vec<(String, String)>,
}

/// The schema of a code: one of its spellings.
macro_rules! coded_schema {
    ($($name:ident),+) => { $(
        impl JsonSchema for $name {
            fn schema_name() -> std::borrow::Cow<'static, str> {
                stringify!($name).into()
            }

            fn json_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
                let codes: Vec<&str> = Self::ALL.iter().map(|value| value.code()).collect();
                schemars::json_schema!({ "type": "string", "enum": codes })
            }
        }
    )+ };
}

coded_schema!(Audience, Unit, Cause);
