//! Scenarios to start from.

use crate::scenario::{Hazards, People, Recording, Scenario, Typing, Ulcers, Visits};

impl Scenario {
    /// The default practice without measurement error, missing items and typing mistakes.
    pub fn without_noise(mut self) -> Self {
        self.recording = Recording {
            area_cv: 0.0,
            pressure_sd_mmhg: 0.0,
            share_item_missing: 0.0,
            share_fact_missing: 0.0,
        };
        self.typing = Typing {
            missing_spellings: vec![String::new()],
            share_other_spelling: 0.0,
            wrong_unit: 0.0,
            impossible_date: 0.0,
            unknown_code: 0.0,
            wrong_side: 0.0,
            repeated_row: 0.0,
            impossible_value: 0.0,
            onset_after_visit: 0.0,
        };
        self
    }

    /// A practice for sharp tests: single new ulcers, constant hazards of healing, amputation and death that no patient
    /// fact changes, fixed visits that are all kept, nobody lost, every event told, no noise.
    ///
    /// With it, [`crate::truth::constant_hazard_incidence`] of the same hazards is exact.
    pub fn with_constant_hazards() -> Self {
        Self {
            people: People {
                share_under_care_at_start: 0.0,
                share_without_ulcer: 0.0,
                share_transferred_in: 0.0,
                share_prior_major_amputation: 0.0,
                ..People::default()
            },
            ulcers: Ulcers {
                share_second_at_start: 0.0,
                share_pre_ulcerative: 0.0,
                max_open: 1,
                ..Ulcers::default()
            },
            hazards: Hazards {
                healing_per_year: 3.0,
                healing_ratio_area_doubling: 1.0,
                healing_ratio_deep: 1.0,
                healing_ratio_infected: 1.0,
                healing_ratio_pad_moderate: 1.0,
                healing_ratio_pad_severe: 1.0,
                healing_ratio_renal: 1.0,
                healing_frailty_log_sd: 0.0,
                share_dehiscence: 0.0,
                minor_amputation_per_year: 0.3,
                minor_amputation_ratio_each: 1.0,
                minor_amputation_any_site: true,
                major_amputation_per_year: 0.15,
                major_amputation_ratio_each: 1.0,
                major_amputation_without_ulcer_per_year: 0.0,
                death_per_year: 0.2,
                death_ratio_ten_years: 1.0,
                death_ratio_renal: 1.0,
                death_ratio_open_ulcer: 1.0,
                split_per_year: 0.0,
                merge_per_year: 0.0,
                ..Hazards::default()
            },
            visits: Visits {
                fixed_open_gap_days: Some(14),
                confirmation_gap_days: 14,
                jitter_days: 0,
                weekdays_only: false,
                share_missed: 0.0,
                share_cancelled: 0.0,
                share_home: 0.0,
                share_remote: 0.0,
                lapse_per_year: 0.0,
                loss_per_year: 0.0,
                transfer_out_per_year: 0.0,
                share_deaths_known: 1.0,
                share_amputations_known: 1.0,
                ..Visits::default()
            },
            ..Self::default()
        }
        .without_noise()
    }

    /// Whole days from data start to the cut-off.
    pub(crate) fn last_day(&self) -> i32 {
        i32::try_from((self.cut_off - self.data_start).num_days()).unwrap_or(i32::MAX)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_setting_that_is_left_out_has_its_default_and_one_that_is_unknown_is_refused() {
        let read = |text: &str| serde_json::from_str::<Scenario>(text);
        let few = Scenario {
            n_patients: 12,
            ..Scenario::default()
        };
        assert_eq!(read(r#"{"n_patients": 12}"#).ok(), Some(few));
        let mut faster = Scenario::default();
        faster.hazards.healing_per_year = 9.5;
        assert_eq!(
            read(r#"{"hazards": {"healing_per_year": 9.5}}"#).ok(),
            Some(faster)
        );
        assert!(read(r#"{"hazards": {"healing_per_week": 1}}"#).is_err());
    }
}
