//! The shape of a pipeline file, key by key; what its values may be is judged in `checked.rs`.

use chrono::NaiveDate;
use intake::Role;
use outcomes::rules::Rules;
use serde::{Deserialize, Deserializer};
use toml::Spanned;

/// The whole file.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct PipelineFile {
    pub(super) title: Spanned<String>,
    pub(super) practice: Spanned<String>,
    pub(super) export: ExportPart,
    pub(super) known: KnownPart,
    pub(super) report: ReportPart,
    pub(super) rules: Option<Spanned<Rules>>,
}

/// `[export]`: what to load.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct ExportPart {
    pub(super) layout: String,
    pub(super) file: Spanned<Vec<FilePart>>,
}

/// `[[export.file]]`: one file of the export.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct FilePart {
    pub(super) path: String,
    pub(super) role: Option<Role>,
    pub(super) joined: Option<String>,
    pub(super) exported: Option<Day>,
}

/// `[known]`: what the export can know.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct KnownPart {
    pub(super) data_start: Day,
    pub(super) cut_off: Spanned<Day>,
    pub(super) deaths_known_to: Option<Spanned<Day>>,
    pub(super) procedures_known_to: Option<Spanned<Day>>,
}

/// `[report]`: what to say of it, and to whom.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct ReportPart {
    pub(super) quarter: Spanned<String>,
    #[serde(default = "default_trend")]
    pub(super) trend_quarters: Spanned<u32>,
    pub(super) audiences: Option<Spanned<Vec<Spanned<String>>>>,
    #[serde(default)]
    pub(super) pdf: bool,
    pub(super) decimal_mark: Option<Spanned<String>>,
    pub(super) date_order: Option<Spanned<String>>,
    #[serde(default)]
    pub(super) workbook: bool,
    #[serde(default)]
    pub(super) tables: Vec<Spanned<String>>,
    pub(super) measures: Option<Spanned<Vec<Spanned<String>>>>,
    #[serde(default)]
    pub(super) strata: Vec<Spanned<String>>,
    pub(super) folder: Option<String>,
    #[serde(default)]
    pub(super) earlier_public: Vec<String>,
}

/// Three years: what one page of a trend holds.
fn default_trend() -> Spanned<u32> {
    Spanned::new(0..0, 12)
}

/// A TOML date without a time of day.
#[derive(Debug, Clone, Copy)]
pub(super) struct Day(pub(super) NaiveDate);

impl<'de> Deserialize<'de> for Day {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let wanted = "expected a date without quotation marks or a time, such as 2025-12-31";
        let value = toml::value::Datetime::deserialize(deserializer)
            .map_err(|_| serde::de::Error::custom(wanted))?;
        let date = match value {
            toml::value::Datetime {
                date: Some(date),
                time: None,
                offset: None,
            } => date,
            _ => {
                return Err(serde::de::Error::custom(
                    "expected a date such as 2025-12-31, without a time",
                ));
            }
        };
        NaiveDate::from_ymd_opt(
            i32::from(date.year),
            u32::from(date.month),
            u32::from(date.day),
        )
        .map(Self)
        .ok_or_else(|| serde::de::Error::custom("expected a date that exists"))
    }
}
