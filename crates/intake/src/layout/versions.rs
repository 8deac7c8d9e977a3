//! Versions of a layout: what is otherwise in some files, or from some day on.

use super::compile::compile_one;
use super::dates::Written;
use super::raw::{RawLayout, RawMapping, RawSection, RawVersion};
use super::{Applies, Cell, Layout, Role, Version};
use crate::config::ConfigError;
use crate::load::LoadError;
use chrono::NaiveDate;
use std::collections::BTreeMap;
use std::ops::Range;
use toml::Spanned;

/// Turns a layout as written, with its versions, into one that can be applied.
pub(super) fn compile(
    mut raw: RawLayout,
    text: &str,
    file_name: &str,
) -> Result<Layout, ConfigError> {
    let fault =
        |span: &Range<usize>, message: String| ConfigError::at(text, file_name, span, message);
    let versions = std::mem::take(&mut raw.version);
    let mut layout = compile_one(raw.clone(), text, file_name)?;
    for written in versions {
        let span = written.span();
        let version = written.into_inner();
        let applies = applies(&version, &span, &fault)?;
        let name = version.name.clone();
        let of_version = version.dates.as_ref().map(Spanned::get_ref);
        if let Some(place) = of_version.and_then(|dates| Written::from(dates).place()) {
            let message =
                "what the dates of an export are is declared once, in [dates] of the layout";
            return Err(fault(&place, message.to_owned()));
        }
        let whole = compile_one(merged(raw.clone(), version), text, file_name)?;
        if whole.roles() != layout.roles() {
            let message = format!("version `{name}` reads other tables than the layout");
            return Err(fault(&span, message));
        }
        if let Applies::From(from) = applies {
            if !is_dated_alike(&layout, &whole) {
                let message = format!(
                    "version `{name}` begins on a day of the rows, so it cannot change how the day of a row is told, the delimiter or the encoding"
                );
                return Err(fault(&span, message)
                    .with_hint("give it `files` in place of `from`, and export both apart"));
            }
            let is_same_day =
                |version: &Version| matches!(version.applies, Applies::From(day) if day == from);
            if layout.versions.iter().any(is_same_day) {
                return Err(fault(&span, format!("two versions begin on {from}")));
            }
        }
        if layout.versions.iter().any(|version| version.name == name) {
            return Err(fault(&span, format!("two versions are called `{name}`")));
        }
        layout.versions.push(Version {
            name,
            applies,
            layout: whole,
        });
    }
    Ok(layout)
}

impl Layout {
    /// What a file of this name is read by.
    ///
    /// # Errors
    /// Two versions apply to it.
    pub(crate) fn for_file(&self, name: &str) -> Result<&Self, LoadError> {
        let mut known = self.versions.iter().filter(|version| version.is_of(name));
        match (known.next(), known.next()) {
            (None, _) => Ok(self),
            (Some(version), None) => Ok(&version.layout),
            (Some(one), Some(other)) => Err(LoadError::VersionUnclear {
                file: name.to_owned(),
                versions: [one.name.clone(), other.name.clone()],
            }),
        }
    }

    /// Versions that begin on a day of the rows, in the order of that day.
    pub(crate) fn dated(&self) -> Vec<(NaiveDate, &Self)> {
        let mut dated: Vec<_> = self
            .versions
            .iter()
            .filter_map(|version| match version.applies {
                Applies::From(day) => Some((day, &version.layout)),
                Applies::Files(_) => None,
            })
            .collect();
        dated.sort_by_key(|(day, _)| *day);
        dated
    }
}

impl Version {
    fn is_of(&self, name: &str) -> bool {
        let last = name.rsplit(['/', '\\']).next().unwrap_or(name);
        match &self.applies {
            Applies::Files(patterns) => patterns.iter().any(|pattern| matches(pattern, last)),
            Applies::From(_) => false,
        }
    }
}

/// Whether a name matches a pattern, in which `*` stands for any letters.
fn matches(pattern: &str, name: &str) -> bool {
    let mut parts = pattern.split('*');
    let first = parts.next().unwrap_or_default();
    let Some(mut rest) = name.strip_prefix(first) else {
        return false;
    };
    let mut is_whole = !pattern.contains('*');
    let mut parts = parts.peekable();
    while let Some(part) = parts.next() {
        if parts.peek().is_none() {
            return rest.ends_with(part);
        }
        let Some(at) = rest.find(part) else {
            return false;
        };
        rest = rest.get(at + part.len()..).unwrap_or_default();
    }
    is_whole &= rest.is_empty();
    is_whole
}

/// Makes an error at a place of the layout.
type Fault<'a> = dyn Fn(&Range<usize>, String) -> ConfigError + 'a;

fn applies(
    version: &RawVersion,
    span: &Range<usize>,
    fault: &Fault<'_>,
) -> Result<Applies, ConfigError> {
    match (&version.files, &version.from) {
        (Some(files), None) if !files.is_empty() => Ok(Applies::Files(
            files.iter().map(|file| file.get_ref().clone()).collect(),
        )),
        (None, Some(from)) => day(from.get_ref()).map(Applies::From).ok_or_else(|| {
            fault(
                &from.span(),
                "`version.from` must be a date such as 2024-07-01, without a time".to_owned(),
            )
        }),
        _ => Err(fault(
            span,
            format!("version `{}` needs either `files` or `from`", version.name),
        )
        .with_hint(
            "`files = [\"*-2024.csv\"]` for whole files, `from = 2024-07-01` for rows of that day and later",
        )),
    }
}

fn day(written: &toml::value::Datetime) -> Option<NaiveDate> {
    match written {
        toml::value::Datetime {
            date: Some(date),
            time: None,
            offset: None,
        } => NaiveDate::from_ymd_opt(
            i32::from(date.year),
            u32::from(date.month),
            u32::from(date.day),
        ),
        _ => None,
    }
}

/// The layout as written with what a version writes otherwise: lines of a section and codes of a list replace those of
/// the same name, the rest stays.
fn merged(mut raw: RawLayout, version: RawVersion) -> RawLayout {
    if let Some(file) = version.file.map(Spanned::into_inner) {
        raw.file.delimiter = file.delimiter.unwrap_or(raw.file.delimiter);
        raw.file.encoding = file.encoding.unwrap_or(raw.file.encoding);
        raw.file.title_lines = file.title_lines.unwrap_or(raw.file.title_lines);
    }
    raw.missing = version.missing.unwrap_or(raw.missing);
    if let Some(dates) = version.dates {
        let dates = dates.into_inner();
        raw.dates.format = dates.format;
        raw.dates.utc_offset = dates.utc_offset.or(raw.dates.utc_offset);
        raw.dates.two_digit_years_from = dates
            .two_digit_years_from
            .or(raw.dates.two_digit_years_from);
    }
    raw.numbers = version.numbers.unwrap_or(raw.numbers);
    for (name, codes) in version.codes {
        raw.codes.entry(name).or_default().extend(codes);
    }
    merge_section(&mut raw.patient, version.patient);
    merge_section(&mut raw.visit, version.visit);
    merge_section(&mut raw.foot_exam, version.foot_exam);
    merge_section(&mut raw.ulcer, version.ulcer);
    merge_section(&mut raw.event, version.event);
    raw.attendance = version.attendance.or(raw.attendance);
    let strata: BTreeMap<String, Spanned<RawMapping>> = version.strata;
    raw.strata.extend(strata);
    raw.ignore.extend(version.ignore);
    raw.accept.extend(version.accept);
    raw
}

fn merge_section(base: &mut Option<Spanned<RawSection>>, over: Option<Spanned<RawSection>>) {
    let Some(over) = over else { return };
    let span = over.span();
    let mut entries = base
        .take()
        .map_or(Vec::new(), |base| base.into_inner().entries);
    for entry in over.into_inner().entries {
        let is_same = |known: &super::raw::RawEntry| known.key.get_ref() == entry.key.get_ref();
        match entries.iter_mut().find(|known| is_same(known)) {
            Some(known) => *known = entry,
            None => entries.push(entry),
        }
    }
    *base = Some(Spanned::new(span, RawSection { entries }));
}

/// Whether both tell the day of a row alike, and are written alike.
fn is_dated_alike(one: &Layout, other: &Layout) -> bool {
    let dates = |layout: &Layout| -> Vec<(Role, Option<Cell>)> {
        let plans = layout.plans.iter();
        plans.map(|plan| (plan.role, plan.date.clone())).collect()
    };
    let is_alike = |one: &Option<Cell>, other: &Option<Cell>| match (one, other) {
        (None, None) => true,
        (Some(one), Some(other)) => one.place == other.place && one.dates == other.dates,
        _ => false,
    };
    one.form.delimiter == other.form.delimiter
        && one.form.encoding == other.form.encoding
        && dates(one)
            .iter()
            .zip(&dates(other))
            .all(|((_, one), (_, other))| is_alike(one, other))
}

#[cfg(test)]
mod tests {
    use super::matches;

    #[test]
    fn a_star_stands_for_any_letters() {
        for (pattern, name, is_match) in [
            ("visits.csv", "visits.csv", true),
            ("visits.csv", "visits.csv.gz", false),
            ("*.csv", "visits.csv", true),
            ("visits-*", "visits-2024.csv", true),
            ("*-2024*.csv", "visits-2024H2.csv", true),
            ("*-2024*.csv", "visits-2023.csv", false),
            ("a*a", "a", false),
            ("a*b*c", "axxbyyc", true),
            ("a*b*c", "acb", false),
            ("*", "", true),
            ("", "", true),
        ] {
            assert_eq!(matches(pattern, name), is_match, "{pattern} {name}");
        }
    }
}
