//! A result as far as disclosure is concerned: what is counted, and the counts.

use crate::report::{Count, MeasureResult, StackedQuarter, Unit};
use crate::rules::Quarter;
use serde::Deserialize;

/// What one result tells. `None` where a count is not told or is hidden.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Told {
    /// Id of the measure.
    pub measure: String,
    /// Code of the unit.
    pub unit: String,
    /// Which people, in words.
    pub cohort: String,
    /// Quarter, or first and last quarter.
    pub period: String,
    /// Stratum in words.
    pub stratum: String,
    /// Numerator.
    pub numerator: Option<u64>,
    /// Denominator.
    pub denominator: Option<u64>,
    /// Unknown outcomes.
    pub n_unknown: Option<u64>,
    /// Whether an earlier public report hid it.
    pub is_hidden: bool,
    /// Whether the numerator is counted among the denominator, so that the rest is a count too.
    pub is_part_of_denominator: bool,
}

impl Told {
    /// What a result tells.
    pub fn of(result: &MeasureResult) -> Self {
        Self {
            measure: result.measure.clone(),
            unit: result.unit.code().to_owned(),
            cohort: result.cohort.clone(),
            period: result.period.clone(),
            stratum: result.stratum.clone(),
            numerator: shown(result.numerator),
            denominator: shown(result.denominator),
            n_unknown: shown(result.n_unknown),
            is_hidden: false,
            is_part_of_denominator: !matches!(
                result.unit,
                Unit::Per100PersonYears | Unit::Per100People
            ),
        }
    }

    /// What one layer of a bar tells.
    pub(crate) fn of_layer(measure: &str, bar: &StackedQuarter, layer: &str, count: Count) -> Self {
        Self {
            measure: measure.to_owned(),
            unit: Unit::Share.code().to_owned(),
            cohort: format!("bars of {measure} at the end of {}", bar.quarter),
            period: bar.quarter.clone(),
            stratum: layer.to_owned(),
            numerator: shown(Some(count)),
            denominator: shown(Some(bar.n)),
            n_unknown: None,
            is_hidden: count == Count::Suppressed,
            is_part_of_denominator: true,
        }
    }

    /// The stratum without the day it is read on: `all` for `within 14 days`.
    pub(super) fn base(&self) -> &str {
        split(&self.stratum).0
    }

    /// The day it is read on, where the stratum names one: 14 for `within 14 days`.
    pub(super) fn day(&self) -> Option<u32> {
        split(&self.stratum).1
    }
}

impl Told {
    /// Whether it may not be printed because an earlier public report gave the same stratum for a period that overlaps this one
    /// without being the same: the difference of the two would be a few people of a known stratum.
    pub(super) fn is_barred_by(&self, earlier: &[Self]) -> bool {
        let own = quarters(&self.period);
        let overlaps = |other: &Self| {
            other.period != self.period
                && quarters(&other.period)
                    .iter()
                    .any(|quarter| own.contains(quarter))
        };
        own.len() > 1
            && self.base() != "all"
            && earlier
                .iter()
                .any(|other| other.base() == self.base() && overlaps(other))
    }

    /// The day on which it is read: the one its stratum names, or the horizon in the measure's id
    /// (`healed-within-12-weeks` is day 84).
    pub(super) fn horizon_days(&self) -> Option<u32> {
        self.day().or_else(|| self.stem().map(|(_, days)| days))
    }

    /// The measure's id without its horizon, and the horizon in days; a month counts 30.
    pub(super) fn stem(&self) -> Option<(&str, u32)> {
        let (stem, tail) = self.measure.split_once("-within-")?;
        let (number, unit) = tail.split_once('-')?;
        let days = match unit {
            "days" => 1,
            "weeks" => 7,
            "months" => 30,
            _ => return None,
        };
        Some((stem, number.parse::<u32>().ok()?.checked_mul(days)?))
    }
}

fn shown(count: Option<Count>) -> Option<u64> {
    match count {
        Some(Count::Shown(n)) => Some(n),
        Some(Count::Suppressed) | None => None,
    }
}

fn split(stratum: &str) -> (&str, Option<u32>) {
    let (base, last) = match stratum.rsplit_once(", ") {
        Some(parts) => parts,
        None => ("all", stratum),
    };
    let day = last
        .strip_prefix("within ")
        .and_then(|rest| rest.split_once(" day"))
        .and_then(|(number, _)| number.parse().ok());
    match day {
        Some(day) => (base, Some(day)),
        None => (stratum, None),
    }
}

/// The quarters of a period: `2024 Q3 to 2025 Q2` has four, `2025 Q1` one, `all quarters` none.
pub(super) fn quarters(period: &str) -> Vec<Quarter> {
    let (first, last) = period.split_once(" to ").unwrap_or((period, period));
    let (Some(first), Some(last)) = (Quarter::parse(first), Quarter::parse(last)) else {
        return Vec::new();
    };
    let mut quarters: Vec<Quarter> = (0..400)
        .map(|n| last.back(n))
        .take_while(|quarter| *quarter >= first)
        .collect();
    quarters.reverse();
    quarters
}

/// An earlier public report, as far as it is needed: what its results and its bars told.
#[derive(Debug, Clone, Deserialize)]
pub struct EarlierPublicReport {
    families: Vec<EarlierFamily>,
    #[serde(default)]
    figures: Vec<EarlierFigure>,
}

#[derive(Debug, Clone, Deserialize)]
struct EarlierFamily {
    measures: Vec<EarlierSheet>,
}

#[derive(Debug, Clone, Deserialize)]
struct EarlierSheet {
    results: Vec<EarlierResult>,
}

#[derive(Debug, Clone, Deserialize)]
struct EarlierResult {
    measure: String,
    cohort: String,
    period: String,
    stratum: String,
    unit: String,
    numerator: Option<Count>,
    denominator: Option<Count>,
}

#[derive(Debug, Clone, Deserialize)]
struct EarlierFigure {
    frame: EarlierFrame,
    #[serde(default)]
    layers: Vec<String>,
    #[serde(default)]
    quarters: Vec<StackedQuarter>,
}

#[derive(Debug, Clone, Deserialize)]
struct EarlierFrame {
    id: String,
}

impl EarlierResult {
    fn is_hidden(&self) -> bool {
        [self.numerator, self.denominator].contains(&Some(Count::Suppressed))
    }
}

impl EarlierPublicReport {
    /// What it told. `measure_of` names the measure that a chart of bars shows.
    pub fn told(&self, measure_of: impl Fn(&str) -> Option<String>) -> Vec<Told> {
        let results = self
            .families
            .iter()
            .flat_map(|family| &family.measures)
            .flat_map(|sheet| &sheet.results)
            .map(|result| Told {
                measure: result.measure.clone(),
                unit: result.unit.clone(),
                cohort: result.cohort.clone(),
                period: result.period.clone(),
                stratum: result.stratum.clone(),
                numerator: shown(result.numerator),
                denominator: shown(result.denominator),
                n_unknown: None,
                is_hidden: result.is_hidden(),
                is_part_of_denominator: ![
                    Unit::Per100PersonYears.code(),
                    Unit::Per100People.code(),
                ]
                .contains(&result.unit.as_str()),
            });
        let with_measure = self
            .figures
            .iter()
            .filter_map(|figure| Some((measure_of(&figure.frame.id)?, figure)));
        let bars = with_measure.flat_map(|(measure, figure)| {
            figure.quarters.iter().flat_map(move |bar| {
                let measure = measure.clone();
                let layers = figure.layers.iter().zip(&bar.counts);
                layers.map(move |(layer, count)| Told::of_layer(&measure, bar, layer, *count))
            })
        });
        results.chain(bars).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stratum_may_end_in_the_day_it_is_read_on() {
        let cases = [
            ("all", "all", None),
            ("within 14 days", "all", Some(14)),
            ("within 1 day", "all", Some(1)),
            ("severity: severe", "severity: severe", None),
            (
                "severity: severe, within 84 days",
                "severity: severe",
                Some(84),
            ),
            ("toes, midfoot", "toes, midfoot", None),
        ];
        for (text, base, day) in cases {
            assert_eq!(split(text), (base, day), "{text}");
        }
    }

    #[test]
    fn a_period_names_its_quarters() {
        let said = |period: &str| {
            let quarters = quarters(period);
            quarters.iter().map(ToString::to_string).collect::<Vec<_>>()
        };
        assert_eq!(
            said("2024 Q3 to 2025 Q2"),
            ["2024 Q3", "2024 Q4", "2025 Q1", "2025 Q2"]
        );
        assert_eq!(said("2025 Q1"), ["2025 Q1"]);
        assert!(said("all quarters").is_empty());
    }
}
