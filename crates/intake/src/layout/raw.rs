//! The shape of a layout file, as written.

use super::Role;
use crate::dates::DateOrder;
use outcomes::rules::DateKind;
use serde::de::{MapAccess, Visitor, value::MapAccessDeserializer};
use serde::{Deserialize, Deserializer};
use std::collections::BTreeMap;
use std::fmt;
use toml::Spanned;

/// A layout file.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawLayout {
    pub(super) name: String,
    #[serde(default)]
    pub(super) description: String,
    pub(super) file: RawFile,
    #[serde(default)]
    pub(super) missing: RawMissing,
    pub(super) dates: RawDates,
    #[serde(default)]
    pub(super) numbers: RawNumbers,
    #[serde(default)]
    pub(super) codes: BTreeMap<String, BTreeMap<String, Spanned<String>>>,
    pub(super) patient: Option<Spanned<RawSection>>,
    pub(super) visit: Option<Spanned<RawSection>>,
    pub(super) attendance: Option<RawAttendance>,
    pub(super) foot_exam: Option<Spanned<RawSection>>,
    pub(super) ulcer: Option<Spanned<RawSection>>,
    pub(super) event: Option<Spanned<RawSection>>,
    #[serde(default)]
    pub(super) strata: BTreeMap<String, Spanned<RawMapping>>,
    #[serde(default)]
    pub(super) joined: BTreeMap<String, Spanned<RawJoined>>,
    #[serde(default)]
    pub(super) ignore: Vec<String>,
    #[serde(default)]
    pub(super) accept: BTreeMap<String, Spanned<String>>,
    #[serde(default)]
    pub(super) version: Vec<Spanned<RawVersion>>,
}

/// Files whose rows other rows name.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawJoined {
    pub(super) key: String,
    pub(super) by: Option<String>,
    pub(super) role: Option<Role>,
}

/// What is otherwise in some files, or from some day on. Everything else is as in the layout.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawVersion {
    pub(super) name: String,
    pub(super) files: Option<Vec<Spanned<String>>>,
    pub(super) from: Option<Spanned<toml::value::Datetime>>,
    pub(super) file: Option<Spanned<RawVersionFile>>,
    pub(super) missing: Option<RawMissing>,
    pub(super) dates: Option<Spanned<RawDates>>,
    pub(super) numbers: Option<RawNumbers>,
    #[serde(default)]
    pub(super) codes: BTreeMap<String, BTreeMap<String, Spanned<String>>>,
    pub(super) patient: Option<Spanned<RawSection>>,
    pub(super) visit: Option<Spanned<RawSection>>,
    pub(super) attendance: Option<RawAttendance>,
    pub(super) foot_exam: Option<Spanned<RawSection>>,
    pub(super) ulcer: Option<Spanned<RawSection>>,
    pub(super) event: Option<Spanned<RawSection>>,
    #[serde(default)]
    pub(super) strata: BTreeMap<String, Spanned<RawMapping>>,
    #[serde(default)]
    pub(super) ignore: Vec<String>,
    #[serde(default)]
    pub(super) accept: BTreeMap<String, Spanned<String>>,
}

/// How the files of a version are built otherwise.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawVersionFile {
    pub(super) delimiter: Option<Spanned<String>>,
    pub(super) encoding: Option<Encoding>,
    pub(super) title_lines: Option<u8>,
}

/// How the files are built.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawFile {
    pub(super) shape: Shape,
    #[serde(default = "comma")]
    pub(super) delimiter: Spanned<String>,
    #[serde(default)]
    pub(super) encoding: Encoding,
    #[serde(default)]
    pub(super) title_lines: u8,
    pub(super) unpacked_mib_at_most: Option<u32>,
    pub(super) unpacked_ratio_at_most: Option<u32>,
}

fn comma() -> Spanned<String> {
    Spanned::new(0..0, ",".to_owned())
}

/// Whether one row carries everything of a visit, or each table has a file of its own.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(super) enum Shape {
    Wide,
    Long,
    #[serde(rename = "fhir-r4")]
    FhirR4,
}

/// How letters are stored.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum Encoding {
    /// UTF-8, with or without a byte-order mark.
    #[default]
    #[serde(rename = "utf-8")]
    Utf8,
    /// Windows code page 1252; Latin-1 exports are read by it too.
    #[serde(rename = "windows-1252")]
    Windows1252,
}

#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawMissing {
    pub(super) spellings: Vec<String>,
}

#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawDates {
    pub(super) format: DateOrder,
    pub(super) utc_offset: Option<Spanned<String>>,
    pub(super) two_digit_years_from: Option<Spanned<i32>>,
    pub(super) kind: Option<Spanned<DateKind>>,
    pub(super) shifted_by_at_most_days: Option<Spanned<u32>>,
    pub(super) agreement: Option<Spanned<String>>,
}

#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawNumbers {
    #[serde(default)]
    pub(super) decimal: DecimalMark,
}

/// The decimal mark of numbers.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum DecimalMark {
    #[default]
    Point,
    Comma,
}

#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawAttendance {
    pub(super) column: String,
    #[serde(default)]
    pub(super) kept: Vec<Spanned<String>>,
    #[serde(default)]
    pub(super) missed: Vec<Spanned<String>>,
    #[serde(default)]
    pub(super) cancelled: Vec<Spanned<String>>,
    #[serde(default)]
    pub(super) administrative: Vec<Spanned<String>>,
}

/// One of our tables: its fields, and how often the block repeats.
#[derive(Debug, Clone)]
pub(super) struct RawSection {
    pub(super) entries: Vec<RawEntry>,
}

/// One line of a section.
#[derive(Debug, Clone)]
pub(super) struct RawEntry {
    pub(super) key: Spanned<String>,
    pub(super) mapping: Spanned<RawMapping>,
}

impl<'de> Deserialize<'de> for RawSection {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Entries;
        impl<'de> Visitor<'de> for Entries {
            type Value = RawSection;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a table of fields")
            }
            fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<RawSection, A::Error> {
                let mut entries = Vec::new();
                while let Some(key) = map.next_key::<Spanned<String>>()? {
                    let mapping = map.next_value::<Spanned<RawMapping>>()?;
                    entries.push(RawEntry { key, mapping });
                }
                entries.sort_by_key(|entry| entry.key.span().start);
                Ok(RawSection { entries })
            }
        }
        deserializer.deserialize_map(Entries)
    }
}

/// Where a field comes from.
#[derive(Debug, Clone)]
pub(super) enum RawMapping {
    /// `slots = 4`
    Number(i64),
    /// `field = "column"`
    Column(String),
    /// `field = { column = "...", ... }`
    Table(Box<RawMappingTable>),
}

/// The unit of a column, or where each row says it.
#[derive(Debug, Clone)]
pub(super) enum RawUnit {
    /// `unit = "mm"`
    Named(String),
    /// `unit = { column = "...", codes = "..." }`
    Told(RawUnitColumn),
}

/// A column that tells the unit of another.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawUnitColumn {
    pub(super) column: String,
    pub(super) codes: Option<Spanned<String>>,
}

impl<'de> Deserialize<'de> for RawUnit {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Units;
        impl<'de> Visitor<'de> for Units {
            type Value = RawUnit;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str(
                    "a unit such as \"mm\", or the column that tells it: { column = \"...\" }",
                )
            }
            fn visit_str<E>(self, unit: &str) -> Result<RawUnit, E> {
                Ok(RawUnit::Named(unit.to_owned()))
            }
            fn visit_map<A: MapAccess<'de>>(self, map: A) -> Result<RawUnit, A::Error> {
                RawUnitColumn::deserialize(MapAccessDeserializer::new(map)).map(RawUnit::Told)
            }
        }
        deserializer.deserialize_any(Units)
    }
}

/// The long form of a mapping.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawMappingTable {
    pub(super) column: Option<String>,
    pub(super) value: Option<Spanned<String>>,
    pub(super) unit: Option<Spanned<RawUnit>>,
    pub(super) codes: Option<Spanned<String>>,
    pub(super) format: Option<DateOrder>,
    pub(super) part: Option<Spanned<i64>>,
    #[serde(default)]
    pub(super) optional: bool,
}

impl<'de> Deserialize<'de> for RawMapping {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Mapping;
        impl<'de> Visitor<'de> for Mapping {
            type Value = RawMapping;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a column name, or a table such as { column = \"...\", unit = \"mm\" }")
            }
            fn visit_i64<E>(self, number: i64) -> Result<RawMapping, E> {
                Ok(RawMapping::Number(number))
            }
            fn visit_str<E>(self, column: &str) -> Result<RawMapping, E> {
                Ok(RawMapping::Column(column.to_owned()))
            }
            fn visit_map<A: MapAccess<'de>>(self, map: A) -> Result<RawMapping, A::Error> {
                RawMappingTable::deserialize(MapAccessDeserializer::new(map))
                    .map(|table| RawMapping::Table(Box::new(table)))
            }
        }
        deserializer.deserialize_any(Mapping)
    }
}

impl<'de> Deserialize<'de> for DateOrder {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        Self::from_code(&text).ok_or_else(|| {
            let known: Vec<String> = Self::ALL.iter().map(|order| format!("`{order}`")).collect();
            serde::de::Error::custom(format!(
                "unknown variant `{text}`, expected one of {}",
                known.join(", ")
            ))
        })
    }
}
