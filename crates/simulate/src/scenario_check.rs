//! The range of every setting of a scenario.

use crate::scenario::{Band, Scenario};
use thiserror::Error;

/// A setting outside its range.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("`{setting}` must be {range}")]
pub struct ScenarioError {
    /// Name of the setting, with its group.
    pub setting: String,
    /// What it must be.
    pub range: &'static str,
}

/// A setting seen as a plain number, if it is one.
pub(crate) trait AsNumber {
    fn as_number(&self) -> Option<f64>;
}

macro_rules! numbers {
    ($($type:ty),+) => {$(
        impl AsNumber for $type {
            fn as_number(&self) -> Option<f64> {
                Some(*self as f64)
            }
        }
    )+};
}
macro_rules! no_numbers {
    ($($type:ty),+) => {$(
        impl AsNumber for $type {
            fn as_number(&self) -> Option<f64> {
                None
            }
        }
    )+};
}
numbers!(f64, i32, u32, usize);
no_numbers!(
    u64,
    bool,
    Option<i32>,
    Vec<String>,
    Vec<Band>,
    Vec<f64>,
    chrono::NaiveDate,
    crate::scenario::People,
    crate::scenario::Ulcers,
    crate::scenario::Hazards,
    crate::scenario::Pathway,
    crate::scenario::Visits,
    crate::scenario::Recording,
    crate::scenario::Typing
);

impl Scenario {
    /// Refuses settings outside their range, so that the course always moves on and ends.
    pub(crate) fn check(&self) -> Result<(), ScenarioError> {
        let groups = [
            ("", self.numbers()),
            ("people.", self.people.numbers()),
            ("ulcers.", self.ulcers.numbers()),
            ("hazards.", self.hazards.numbers()),
            ("pathway.", self.pathway.numbers()),
            ("visits.", self.visits.numbers()),
            ("recording.", self.recording.numbers()),
            ("typing.", self.typing.numbers()),
        ];
        for (group, numbers) in groups {
            for (name, number) in numbers {
                let range = range_of(group, name);
                if !range.holds(number) {
                    return refuse(format!("{group}{name}"), range.words);
                }
            }
        }
        if self.cut_off < self.data_start || self.last_day() > 36_525 {
            return refuse(
                "cut_off".to_owned(),
                "on or after `data_start`, at most 100 years later",
            );
        }
        if self.clinics.is_empty() {
            return refuse("clinics".to_owned(), "at least one name");
        }
        if self
            .visits
            .fixed_open_gap_days
            .is_some_and(|gap| !(1..=366).contains(&gap))
        {
            return refuse(
                "visits.fixed_open_gap_days".to_owned(),
                "from 1 to 366 days",
            );
        }
        let bands = &self.hazards.healing_bands;
        let is_rising = bands
            .windows(2)
            .all(|pair| pair[0].from_day < pair[1].from_day);
        let is_positive = |band: &Band| {
            (0.0..=36_525.0).contains(&band.from_day) && (1e-3..=1e3).contains(&band.ratio)
        };
        if !is_rising || !bands.iter().all(is_positive) {
            let words = "rising days from 0 on, with ratios from 0.001 to 1000";
            return refuse("hazards.healing_bands".to_owned(), words);
        }
        let by_severity = &self.hazards.healing_per_year_by_severity;
        let is_hazard = |hazard: &f64| (0.0..=1000.0).contains(hazard);
        if !matches!(by_severity.len(), 0 | 4) || !by_severity.iter().all(is_hazard) {
            let words = "none, or four hazards from 0 to 1000 events a year";
            return refuse("hazards.healing_per_year_by_severity".to_owned(), words);
        }
        Ok(())
    }
}

fn refuse(setting: String, range: &'static str) -> Result<(), ScenarioError> {
    Err(ScenarioError { setting, range })
}

struct Range {
    low: f64,
    high: f64,
    words: &'static str,
}

impl Range {
    fn holds(&self, number: f64) -> bool {
        (self.low..=self.high).contains(&number)
    }
}

/// The range of a setting follows from the word its name begins or ends with.
fn range_of(group: &str, name: &str) -> Range {
    let range = |low, high, words| Range { low, high, words };
    if name.starts_with("share_") || group == "typing." {
        range(0.0, 1.0, "a share from 0 to 1")
    } else if name.ends_with("_per_year") {
        range(0.0, 1000.0, "from 0 to 1000 events a year")
    } else if name.contains("_ratio_") {
        range(1e-3, 1e3, "a ratio from 0.001 to 1000")
    } else if name.starts_with("mean_")
        || name.ends_with("_gap_days")
        || name.starts_with("median_")
    {
        range(1e-3, 3650.0, "above 0, at most 3650")
    } else if name.starts_with("n_") || name == "max_open" {
        range(1.0, 1000.0, "from 1 to 1000")
    } else if name.ends_with("_log_sd") {
        range(0.0, 5.0, "from 0 to 5")
    } else if name.ends_with("_days") {
        range(0.0, 3650.0, "from 0 to 3650 days")
    } else {
        range(0.0, 100.0, "from 0 to 100")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn refused(change: impl Fn(&mut Scenario)) -> Option<String> {
        let mut scenario = Scenario::default();
        change(&mut scenario);
        scenario.check().err().map(|error| error.setting)
    }

    #[test]
    fn the_default_practice_is_within_its_ranges() {
        assert_eq!(refused(|_| ()), None);
    }

    #[test]
    fn hazards_by_severity_are_none_or_four() {
        for (hazards, is_refused) in [
            (vec![], false),
            (vec![3.0, 2.0, 1.0, 0.5], false),
            (vec![3.0], true),
            (vec![3.0, 2.0, 1.0, f64::NAN], true),
        ] {
            let refused = refused(|s| s.hazards.healing_per_year_by_severity = hazards.clone());
            assert_eq!(refused.is_some(), is_refused, "{hazards:?}");
        }
    }

    #[test]
    fn a_setting_out_of_range_is_named_with_its_group() {
        assert_eq!(
            refused(|s| s.people.share_renal = 1.1).as_deref(),
            Some("people.share_renal")
        );
        assert_eq!(
            refused(|s| s.hazards.death_per_year = f64::NAN).as_deref(),
            Some("hazards.death_per_year")
        );
        assert_eq!(
            refused(|s| s.hazards.healing_ratio_deep = 0.0).as_deref(),
            Some("hazards.healing_ratio_deep")
        );
        assert_eq!(
            refused(|s| s.typing.wrong_unit = -0.1).as_deref(),
            Some("typing.wrong_unit")
        );
        assert_eq!(
            refused(|s| s.visits.fixed_open_gap_days = Some(0)).as_deref(),
            Some("visits.fixed_open_gap_days")
        );
        assert_eq!(
            refused(|s| s.visits.exam_gap_days = 0).as_deref(),
            Some("visits.exam_gap_days")
        );
        assert_eq!(refused(|s| s.clinics.clear()).as_deref(), Some("clinics"));
        assert_eq!(
            refused(|s| s.cut_off = s.data_start - chrono::Days::new(1)).as_deref(),
            Some("cut_off")
        );
        let bands = [10.0, 5.0].map(|from_day| Band {
            from_day,
            ratio: 2.0,
        });
        assert_eq!(
            refused(|s| s.hazards.healing_bands = bands.to_vec()).as_deref(),
            Some("hazards.healing_bands")
        );
    }
}
