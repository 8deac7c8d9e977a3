//! What a layout declares its export's dates to be.

use super::raw::RawDates;
use crate::config::ConfigError;
use outcomes::rules::{DateKind, DeclaredDates};
use serde::Deserialize;
use std::ops::Range;
use toml::Spanned;

/// Years by which dates may at most be shifted: more would leave nothing of most exports.
const MOST_SHIFT_DAYS: u32 = 1_826;

/// `[dates]` of an HL7 FHIR layout, whose dates have one form only.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawFhirDates {
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
