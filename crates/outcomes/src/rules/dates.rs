//! What an export's dates are declared to be, and how far that lets a report speak.

use super::{DataHorizon, Quarter, days_after};
use crate::coded;
use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

coded! {
    /// What the dates of an export are, as its layout declares.
    pub enum DateKind {
        /// The days on which things happened.
        AsRecorded = "as-recorded",
        /// All dates of one person moved by the same number of days, each person by a number of their own.
        Shifted = "shifted",
        /// Years without month and day.
        YearOnly = "year-only",
        /// The days on which things happened, in a limited data set under an agreement (45 CFR 164.514(e)).
        LimitedDataSet = "limited-data-set",
    }
}

impl<'de> Deserialize<'de> for DateKind {
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        Self::from_code(&text).ok_or_else(|| {
            let known: Vec<String> = Self::ALL.iter().map(|kind| format!("`{kind}`")).collect();
            serde::de::Error::custom(format!(
                "unknown variant `{text}`, expected one of {}",
                known.join(", ")
            ))
        })
    }
}

/// What a layout declares about the dates of its export.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct DeclaredDates {
    /// What they are.
    pub kind: DateKind,
    /// Most days by which a person's dates were moved, earlier or later; declared for shifted dates only.
    pub shifted_by_at_most_days: Option<u32>,
    /// Whether the rows carry the quarter they truly lie in; for shifted dates only.
    pub has_quarters: bool,
    /// The agreement under which a limited data set is used; declared for one only.
    pub agreement: Option<String>,
}

impl Default for DeclaredDates {
    fn default() -> Self {
        Self::AS_RECORDED
    }
}

impl DeclaredDates {
    /// The days on which things happened.
    pub const AS_RECORDED: Self = Self {
        kind: DateKind::AsRecorded,
        shifted_by_at_most_days: None,
        has_quarters: false,
        agreement: None,
    };

    /// Whether dates were shifted.
    pub fn is_shifted(&self) -> bool {
        self.kind == DateKind::Shifted
    }

    /// Whether a quarter of the report is one of shifted dates, and so holds rows of other quarters.
    pub fn has_shifted_quarters(&self) -> bool {
        self.is_shifted() && !self.has_quarters
    }

    /// Whether dates tell years only.
    pub fn is_year_only(&self) -> bool {
        self.kind == DateKind::YearOnly
    }

    fn most_days(&self) -> i64 {
        i64::from(self.shifted_by_at_most_days.unwrap_or(0))
    }

    /// The last day on which a row of an export that is complete to `cut_off` may be dated.
    pub fn latest_date(&self, cut_off: NaiveDate) -> NaiveDate {
        days_after(cut_off, self.most_days())
    }

    /// The part of the declared horizon that the export covers for everybody, whatever their shift: a person's rows begin
    /// at most so many days after its start and end at least so many days before its end. Rows placed in their carried
    /// quarters, and dates that were not shifted, are read up to the declared horizon.
    pub fn certain(&self, declared: &DataHorizon) -> DataHorizon {
        if !self.has_shifted_quarters() {
            return *declared;
        }
        let earlier = |date: NaiveDate| days_after(date, -self.most_days());
        DataHorizon {
            data_start: days_after(declared.data_start, self.most_days()),
            cut_off: earlier(declared.cut_off),
            deaths_known_to: earlier(declared.deaths_known_to),
            procedures_known_to: earlier(declared.procedures_known_to),
        }
    }
}

/// The number of days by which dates of one person that were all shifted alike lie too late, as far as the quarters that the
/// rows carry tell it: taken off, it puts the most dates into their quarters, and of several such numbers it is the nearest to
/// none, so that no more is undone than the quarters ask. Never more than `most_days` either way.
///
/// `None` without rows. Of two numbers equally near, the positive one.
pub fn days_too_late(rows: &[(NaiveDate, Quarter)], most_days: u32) -> Option<i64> {
    if rows.is_empty() {
        return None;
    }
    let most = i64::from(most_days);
    // A date lies in its quarter after taking off any number from the first to the last, both included.
    let mut edges: Vec<(i64, i64)> = Vec::with_capacity(rows.len() * 2);
    let mut wanted: Vec<i64> = vec![0];
    for (date, quarter) in rows {
        let first = (*date - quarter.end()).num_days();
        let last = (*date - quarter.start()).num_days();
        edges.push((first, 1));
        edges.push((last + 1, -1));
        wanted.extend([first, last]);
    }
    edges.sort_unstable();
    wanted.retain(|days| (-most..=most).contains(days));
    wanted.sort_unstable();
    wanted.dedup();
    let (mut n, mut next) = (0_i64, 0_usize);
    let mut best: Option<(i64, i64)> = None;
    for days in wanted {
        while let Some((at, change)) = edges.get(next)
            && *at <= days
        {
            n += change;
            next += 1;
        }
        let rank = (n, -days.abs(), days);
        if best.is_none_or(|(n, days)| rank > (n, -days.abs(), days)) {
            best = Some((n, days));
        }
    }
    best.map(|(_, days)| days)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(text: &str) -> NaiveDate {
        text.parse().unwrap()
    }

    fn rows(written: &[(&str, &str)]) -> Vec<(NaiveDate, Quarter)> {
        written
            .iter()
            .map(|(date, quarter)| (day(date), Quarter::parse(quarter).unwrap()))
            .collect()
    }

    #[test]
    fn the_fewest_days_that_put_every_row_into_its_quarter_are_taken_off() {
        for (written, most, expected) in [
            // already inside
            (&[("2025-02-10", "2025Q1")][..], 60, 0),
            // 3 April belongs to the first quarter: three days at least
            (&[("2025-04-03", "2025Q1")], 60, 3),
            // 20 December belongs to the first quarter of the next year: twelve days too early
            (&[("2024-12-20", "2025Q1")], 60, -12),
            // the first row asks for at least 3, the second allows at most 4: 5 July less 4 days is still the third quarter
            (&[("2025-04-03", "2025Q1"), ("2025-07-05", "2025Q3")], 60, 3),
            // two rows fit ten days too late, the third, wrong one, fits nothing near
            (
                &[
                    ("2025-04-10", "2025Q1"),
                    ("2025-07-09", "2025Q2"),
                    ("2025-02-01", "2023Q1"),
                ],
                60,
                10,
            ),
            // never beyond what was declared
            (&[("2025-06-20", "2025Q1")], 30, 0),
        ] {
            assert_eq!(
                days_too_late(&rows(written), most),
                Some(expected),
                "{written:?}"
            );
        }
        assert_eq!(days_too_late(&[], 60), None);
    }

    #[test]
    fn a_shift_makes_the_part_that_is_complete_for_everybody_smaller() {
        let declared = DataHorizon {
            data_start: day("2023-01-01"),
            cut_off: day("2025-12-31"),
            deaths_known_to: day("2025-12-31"),
            procedures_known_to: day("2025-11-30"),
        };
        let shifted = DeclaredDates {
            kind: DateKind::Shifted,
            shifted_by_at_most_days: Some(30),
            ..DeclaredDates::AS_RECORDED
        };
        let certain = shifted.certain(&declared);
        assert_eq!(certain.data_start, day("2023-01-31"));
        assert_eq!(certain.cut_off, day("2025-12-01"));
        assert_eq!(certain.procedures_known_to, day("2025-10-31"));
        assert_eq!(shifted.latest_date(declared.cut_off), day("2026-01-30"));
        let placed = DeclaredDates {
            has_quarters: true,
            ..shifted
        };
        assert_eq!(placed.certain(&declared), declared);
        assert_eq!(DeclaredDates::default().certain(&declared), declared);
    }
}
