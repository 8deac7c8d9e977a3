//! What a layout declares its export's dates to be.

use super::raw::RawDates;
use crate::config::ConfigError;
use crate::dates::DateForm;
use outcomes::rules::{DateKind, DeclaredDates};
use serde::Deserialize;
use std::ops::Range;
use toml::Spanned;

/// Years by which dates may at most be shifted: more would leave nothing of most exports.
const MOST_SHIFT_DAYS: u32 = 1_826;

/// Years that two digits may begin to stand for.
const FIRST_OF_TWO_DIGITS: std::ops::RangeInclusive<i32> = 1900..=2100;

/// `[dates]` of an HL7 FHIR layout, whose dates have one form only.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawFhirDates {
    pub(super) utc_offset: Option<Spanned<String>>,
    pub(super) kind: Option<Spanned<DateKind>>,
    pub(super) shifted_by_at_most_days: Option<Spanned<u32>>,
    pub(super) agreement: Option<Spanned<String>>,
}

/// What was written, whatever the shape of the layout.
pub(super) struct Written<'r> {
    kind: Option<&'r Spanned<DateKind>>,
    days: Option<&'r Spanned<u32>>,
    agreement: Option<&'r Spanned<String>>,
}

impl<'r> From<&'r RawDates> for Written<'r> {
    fn from(raw: &'r RawDates) -> Self {
        Self {
            kind: raw.kind.as_ref(),
            days: raw.shifted_by_at_most_days.as_ref(),
            agreement: raw.agreement.as_ref(),
        }
    }
}

impl<'r> From<&'r RawFhirDates> for Written<'r> {
    fn from(raw: &'r RawFhirDates) -> Self {
        Self {
            kind: raw.kind.as_ref(),
            days: raw.shifted_by_at_most_days.as_ref(),
            agreement: raw.agreement.as_ref(),
        }
    }
}

impl Written<'_> {
    /// Where anything was written, for a version, which may not.
    pub(super) fn place(&self) -> Option<Range<usize>> {
        (self.kind.map(Spanned::span))
            .or_else(|| self.days.map(Spanned::span))
            .or_else(|| self.agreement.map(Spanned::span))
    }
}

/// How dates are written, if every line of it is right.
pub(super) fn date_form(
    raw: &RawDates,
    fault: &dyn Fn(&Range<usize>, String) -> ConfigError,
) -> Result<DateForm, ConfigError> {
    if let Some(first) = &raw.two_digit_years_from
        && !FIRST_OF_TWO_DIGITS.contains(first.get_ref())
    {
        let message = "`dates.two_digit_years_from` must be a year from 1900 to 2100".to_owned();
        return Err(fault(&first.span(), message).with_hint(
            "the first of the hundred years that two digits may stand for: with 1970, `69` is 2069 and `70` is 1970",
        ));
    }
    Ok(DateForm {
        order: raw.format,
        two_digit_years_from: raw
            .two_digit_years_from
            .as_ref()
            .map(|first| *first.get_ref()),
        utc_offset_minutes: utc_offset(raw.utc_offset.as_ref(), fault)?,
    })
}

/// Minutes that the clinic's clocks are ahead of UTC.
pub(super) fn utc_offset(
    written: Option<&Spanned<String>>,
    fault: &dyn Fn(&Range<usize>, String) -> ConfigError,
) -> Result<Option<i32>, ConfigError> {
    let Some(written) = written else {
        return Ok(None);
    };
    let minutes = minutes_ahead(written.get_ref()).ok_or_else(|| {
        let message = "`utc_offset` must be hours and minutes such as \"+10:00\" or \"-05:00\"";
        fault(&written.span(), message.to_owned())
    })?;
    Ok(Some(minutes))
}

/// Minutes ahead of UTC: a sign, two digits, a colon, two digits; at most 14 hours either way, as clocks have.
fn minutes_ahead(written: &str) -> Option<i32> {
    let (sign, rest) = match written.split_at_checked(1)? {
        ("+", rest) => (1, rest),
        ("-", rest) => (-1, rest),
        _ => return None,
    };
    let two = |text: &str| {
        let is_plain = text.len() == 2 && text.bytes().all(|byte| byte.is_ascii_digit());
        text.parse::<i32>().ok().filter(|_| is_plain)
    };
    let (hours, minutes) = rest.split_once(':')?;
    let (hours, minutes) = (two(hours)?, two(minutes)?);
    let total = hours * 60 + minutes;
    (minutes < 60 && total <= 14 * 60).then_some(sign * total)
}

/// The declaration, if it is whole: a shift says how far, a limited data set names its agreement, and nothing is said that
/// the kind of dates does not need. `quarter` is where a carried quarter is mapped.
pub(super) fn declared(
    written: &Written<'_>,
    quarter: Option<Range<usize>>,
    fault: &dyn Fn(&Range<usize>, String) -> ConfigError,
) -> Result<DeclaredDates, ConfigError> {
    let kind = written
        .kind
        .map_or(DateKind::AsRecorded, |kind| *kind.get_ref());
    let at = written.kind.map_or(0..0, Spanned::span);
    let days = match (kind, written.days) {
        (DateKind::Shifted, None) => {
            let message =
                "`dates.kind = \"shifted\"` needs `dates.shifted_by_at_most_days`".to_owned();
            return Err(fault(&at, message).with_hint(
                "the most days by which any person's dates were moved, earlier or later; whoever shifted them knows",
            ));
        }
        (DateKind::Shifted, Some(days)) if (1..=MOST_SHIFT_DAYS).contains(days.get_ref()) => {
            Some(*days.get_ref())
        }
        (DateKind::Shifted, Some(days)) => {
            let message = format!(
                "`dates.shifted_by_at_most_days` must be a whole number from 1 to {MOST_SHIFT_DAYS}"
            );
            return Err(fault(&days.span(), message));
        }
        (_, Some(days)) => {
            let message =
                "`dates.shifted_by_at_most_days` is for `dates.kind = \"shifted\"`".to_owned();
            return Err(fault(&days.span(), message));
        }
        (_, None) => None,
    };
    let agreement = match (kind, written.agreement) {
        (DateKind::LimitedDataSet, Some(name)) if !name.get_ref().trim().is_empty() => {
            Some(name.get_ref().trim().to_owned())
        }
        (DateKind::LimitedDataSet, _) => {
            let message = "`dates.kind = \"limited-data-set\"` needs `dates.agreement`".to_owned();
            return Err(fault(&at, message).with_hint(
                "name the data use agreement as your records name it; the manifest keeps it",
            ));
        }
        (_, Some(name)) => {
            let message = "`dates.agreement` is for `dates.kind = \"limited-data-set\"`".to_owned();
            return Err(fault(&name.span(), message));
        }
        (_, None) => None,
    };
    if let (Some(place), false) = (&quarter, kind == DateKind::Shifted) {
        let message = "`visit.quarter` is read only where `dates.kind = \"shifted\"`".to_owned();
        return Err(
            fault(place, message).with_hint("other dates say themselves which quarter they are in")
        );
    }
    Ok(DeclaredDates {
        kind,
        shifted_by_at_most_days: days,
        has_quarters: quarter.is_some(),
        agreement,
    })
}
