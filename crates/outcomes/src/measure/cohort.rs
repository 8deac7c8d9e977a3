//! What a measure may look at, and which quarters a cohort takes.

use crate::derive::{PersonOutcomes, View};
use crate::rules::{DataHorizon, Quarter, Rules, days_after};
use chrono::{Datelike as _, NaiveDate};

/// Everything a measure may look at.
#[derive(Debug, Clone, Copy)]
pub struct Study<'a> {
    /// Everybody, derived.
    pub people: &'a [PersonOutcomes<'a>],
    /// The settings.
    pub rules: &'a Rules,
    /// What the export can know.
    pub horizon: &'a DataHorizon,
}

impl<'a> Study<'a> {
    /// The last day of every quarter of the export that it holds in full, oldest first.
    pub(crate) fn quarter_ends(&self) -> Vec<NaiveDate> {
        let mut quarter = Quarter::of(self.horizon.data_start);
        let mut ends = Vec::new();
        while quarter.end() <= self.horizon.cut_off {
            ends.push(quarter.end());
            quarter = quarter.next();
        }
        ends
    }

    /// The view from which a figure with this horizon reads a subject that began on `index`: rows dated up to
    /// index + horizon + evidence days, so that later exports never change the figure.
    pub(crate) fn view(&self, index: NaiveDate, horizon_days: i64) -> View<'a> {
        View {
            until: days_after(index, horizon_days + self.rules.evidence_days)
                .min(self.horizon.cut_off),
            rules: self.rules,
            horizon: self.horizon,
        }
    }
}

/// One quarter, or several in a row, by the day on which their subjects began.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Cohort {
    /// First quarter.
    pub first: Quarter,
    /// Last quarter, included.
    pub last: Quarter,
}

impl Cohort {
    /// One quarter.
    pub fn quarter(quarter: Quarter) -> Self {
        Self {
            first: quarter,
            last: quarter,
        }
    }

    /// The year that ends with a quarter, as far as the export reaches back.
    pub fn year_to(quarter: Quarter, data_start: NaiveDate) -> Self {
        Self {
            first: quarter.back(3).max(Quarter::of(data_start)).min(quarter),
            last: quarter,
        }
    }

    /// Whether a day lies in it.
    pub fn contains(&self, date: NaiveDate) -> bool {
        let quarter = Quarter::of(date);
        self.first <= quarter && quarter <= self.last
    }

    /// Whether it consists of whole calendar years.
    pub(crate) fn is_of_whole_years(&self) -> bool {
        self.first.start().month0() == 0 && self.last.next().start().month0() == 0
    }

    /// Label: `2025 Q1`, or `2024 Q2 to 2025 Q1`.
    pub fn label(&self) -> String {
        if self.first == self.last {
            self.first.to_string()
        } else {
            format!("{} to {}", self.first, self.last)
        }
    }

    /// The cohort with this label.
    pub fn parse(label: &str) -> Option<Self> {
        let (first, last) = label.split_once(" to ").unwrap_or((label, label));
        let (first, last) = (Quarter::parse(first)?, Quarter::parse(last)?);
        (first <= last).then_some(Self { first, last })
    }

    /// First cut-off at which a figure with this horizon is mature for the last subject that can begin in it.
    pub fn matures_on(&self, horizon_days: i64, rules: &Rules) -> NaiveDate {
        days_after(self.last.end(), horizon_days + rules.evidence_days)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_label_is_read_back_as_the_cohort_it_names() {
        let last = Quarter::parse("2025Q1").unwrap();
        let year = Cohort::year_to(last, NaiveDate::MIN);
        for cohort in [Cohort::quarter(last), year] {
            assert_eq!(Cohort::parse(&cohort.label()), Some(cohort));
        }
        for label in ["all quarters", "2025 Q1 to 2024 Q1", "2025 Q9", ""] {
            assert_eq!(Cohort::parse(label), None, "{label}");
        }
    }
}
