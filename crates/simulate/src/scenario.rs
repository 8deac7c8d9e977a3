//! The settings of a scenario.

use chrono::NaiveDate;
use serde::Deserialize;

macro_rules! settings {
    ($(#[$meta:meta])* $name:ident { $($(#[$field_meta:meta])* $field:ident : $type:ty = $default:expr),+ $(,)? }) => {
        $(#[$meta])*
        #[derive(Debug, Clone, PartialEq, Deserialize)]
        #[serde(deny_unknown_fields, default)]
        pub struct $name { $($(#[$field_meta])* pub $field: $type),+ }

        impl $name {
            /// Every setting that is a plain number, with its name.
            pub(crate) fn numbers(&self) -> Vec<(&'static str, f64)> {
                use crate::scenario_check::AsNumber;
                [$((stringify!($field), self.$field.as_number())),+]
                    .into_iter()
                    .filter_map(|(name, number)| Some((name, number?)))
                    .collect()
            }
        }

        impl Default for $name {
            fn default() -> Self { Self { $($field: $default),+ } }
        }
    };
}

settings! {
    /// Everything that can be set about a synthetic practice. All values are invented.
    Scenario {
        /// First day of the export; day 0 of every truth file.
        data_start: NaiveDate = NaiveDate::from_ymd_opt(2023, 1, 1).unwrap_or_default(),
        /// Last day of the export.
        cut_off: NaiveDate = NaiveDate::from_ymd_opt(2025, 12, 31).unwrap_or_default(),
        /// Patients made; those without a row in the export appear in no file.
        n_patients: u64 = 340,
        /// Names of the clinic sites.
        clinics: Vec<String> = vec!["Quay".to_owned(), "Hill".to_owned()],
        /// Clinicians a site.
        n_clinicians_per_clinic: u32 = 3,
        /// Days after the cut-off for which the latent course goes on, for the truth only.
        follow_on_days: i32 = 365,
        /// Who comes.
        people: People = People::default(),
        /// What ulcers are like when they begin.
        ulcers: Ulcers = Ulcers::default(),
        /// What befalls ulcers, limbs and people.
        hazards: Hazards = Hazards::default(),
        /// How long each step to a vascular service takes.
        pathway: Pathway = Pathway::default(),
        /// When patients are seen.
        visits: Visits = Visits::default(),
        /// How exactly a visit is written down.
        recording: Recording = Recording::default(),
        /// Mistakes of the typist, in the wide export only.
        typing: Typing = Typing::default(),
    }
}

settings! {
    /// Who comes to the practice. Shares are from 0 to 1.
    People {
        /// Came in the two years before data start, so that their first visits are not in the export.
        share_under_care_at_start: f64 = 0.15,
        /// Come for surveillance, without an ulcer.
        share_without_ulcer: f64 = 0.18,
        /// Of those with an ulcer: already under treatment elsewhere.
        share_transferred_in: f64 = 0.08,
        /// Median age at first visit, years; standard deviation 11.
        median_age_years: f64 = 67.0,
        /// On renal replacement.
        share_renal: f64 = 0.06,
        /// Smoke.
        share_smokers: f64 = 0.17,
        /// Had a foot ulcer before.
        share_prior_ulcer: f64 = 0.40,
        /// Of those, lost a toe or ray before.
        share_prior_minor_amputation: f64 = 0.15,
        /// Of those, lost the other leg before.
        share_prior_major_amputation: f64 = 0.03,
        /// Have neuropathy of both feet; one foot alone is a tenth as common.
        share_neuropathy: f64 = 0.78,
        /// Arterial disease of a limb: mild.
        share_pad_mild: f64 = 0.18,
        /// Arterial disease of a limb: moderate.
        share_pad_moderate: f64 = 0.13,
        /// Arterial disease of a limb: severe.
        share_pad_severe: f64 = 0.06,
        /// Ankle arteries too stiff to be compressed.
        share_calcified: f64 = 0.15,
        /// Foot deformity.
        share_deformity: f64 = 0.45,
        /// Charcot foot.
        share_charcot: f64 = 0.03,
        /// Wear a shoe that does not fit.
        share_wrong_shoe: f64 = 0.45,
    }
}

settings! {
    /// What ulcers are like when they are first presented.
    Ulcers {
        /// A second ulcer at the first visit.
        share_second_at_start: f64 = 0.22,
        /// Median area, square cm.
        median_area_cm2: f64 = 1.5,
        /// Standard deviation of the logarithm of the area.
        area_log_sd: f64 = 1.0,
        /// Median days from onset to the first visit.
        median_delay_days: f64 = 24.0,
        /// Standard deviation of the logarithm of that delay.
        delay_log_sd: f64 = 1.1,
        /// Onset told to the week; the rest to the day or month.
        share_onset_by_week: f64 = 0.35,
        /// Onset told to the month.
        share_onset_by_month: f64 = 0.25,
        /// Reaches tendon, muscle, bone or joint.
        share_deep: f64 = 0.22,
        /// Infected at presentation.
        share_infected: f64 = 0.33,
        /// Gangrene in a limb with severe arterial disease.
        share_gangrene_if_severe_pad: f64 = 0.30,
        /// New ulcers under care that are noticed as a pre-ulcerative lesion first.
        share_pre_ulcerative: f64 = 0.12,
        /// Most ulcers open at one time in one person, 4 at most.
        max_open: usize = 3,
    }
}

settings! {
    /// Hazards, as events in a year of being at risk, and the ratios that multiply them.
    ///
    /// With every ratio 1, `healing_frailty_log_sd` 0, one healing band and no dehiscence, all hazards are constant
    /// and the cumulative incidences have the closed form of `truth::constant_hazard_incidence`.
    Hazards {
        /// An open ulcer closes.
        healing_per_year: f64 = 4.7,
        /// Ratio for the healing hazard by days since onset: from each day on, that ratio.
        healing_bands: Vec<Band> = Vec::new(),
        /// An open ulcer closes, by how many of three hold when it is first presented: open for more than 2 calendar months,
        /// larger than 2 square cm, gangrene or bone infection. Four hazards, for none to three of them, each in the place of
        /// `healing_per_year`; the ratios below multiply them too. Empty: one hazard for all.
        healing_per_year_by_severity: Vec<f64> = Vec::new(),
        /// For each doubling of the starting area over 1 square cm.
        healing_ratio_area_doubling: f64 = 0.87,
        /// Tendon, muscle, bone or joint reached.
        healing_ratio_deep: f64 = 0.65,
        /// Moderate or severe infection.
        healing_ratio_infected: f64 = 0.7,
        /// Moderate arterial disease of the limb.
        healing_ratio_pad_moderate: f64 = 0.65,
        /// Severe arterial disease of the limb, until revascularised.
        healing_ratio_pad_severe: f64 = 0.3,
        /// Renal replacement.
        healing_ratio_renal: f64 = 0.65,
        /// Spread between people: standard deviation of the logarithm of a person's own ratio.
        healing_frailty_log_sd: f64 = 0.4,
        /// Closures that break open again within four weeks.
        share_dehiscence: f64 = 0.05,
        /// Minor amputation of an open forefoot ulcer.
        minor_amputation_per_year: f64 = 0.14,
        /// For bone or joint reached, gangrene, and moderate or severe infection, each.
        minor_amputation_ratio_each: f64 = 3.0,
        /// Every site counts as forefoot for minor amputation.
        minor_amputation_any_site: bool = false,
        /// Major amputation of a limb with an open ulcer.
        major_amputation_per_year: f64 = 0.016,
        /// For gangrene, severe arterial disease and severe infection, each.
        major_amputation_ratio_each: f64 = 3.5,
        /// Major amputation of a limb without an open ulcer.
        major_amputation_without_ulcer_per_year: f64 = 0.002,
        /// Death at age 67, without renal replacement.
        death_per_year: f64 = 0.042,
        /// For each ten years of age.
        death_ratio_ten_years: f64 = 1.6,
        /// Renal replacement.
        death_ratio_renal: f64 = 2.2,
        /// While an ulcer is open.
        death_ratio_open_ulcer: f64 = 1.2,
        /// A new ulcer in a person with all ulcers closed.
        recurrence_per_year: f64 = 0.66,
        /// A first ulcer in a person who never had one.
        first_ulcer_per_year: f64 = 0.15,
        /// A further ulcer while another is open.
        further_ulcer_per_year: f64 = 0.12,
        /// Recurrences at the site of the last ulcer; the rest are elsewhere.
        share_same_site: f64 = 0.35,
        /// Recurrences on the same foot at another site.
        share_same_foot: f64 = 0.35,
        /// Infection of an uninfected open ulcer.
        infection_per_year: f64 = 0.9,
        /// End of an infection.
        infection_end_per_year: f64 = 10.0,
        /// An open ulcer splits in two.
        split_per_year: f64 = 0.02,
        /// Two open ulcers of one foot become one.
        merge_per_year: f64 = 0.05,
    }
}

/// From this many days after onset on, the healing hazard is multiplied by the ratio.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Band {
    /// Days since onset, rising from band to band.
    pub from_day: f64,
    /// Ratio, above 0; before the first band it is 1.
    pub ratio: f64,
}

settings! {
    /// The way to a vascular service, once a visit has seen a trigger on a limb with an open ulcer.
    Pathway {
        /// Referred already before the trigger was seen.
        share_before: f64 = 0.08,
        /// Referred on the day.
        share_same_day: f64 = 0.37,
        /// Referred later; the rest are never referred.
        share_late: f64 = 0.35,
        /// Mean days to a late referral.
        mean_late_days: f64 = 24.0,
        /// Mean days from referral to being seen.
        mean_seen_days: f64 = 18.0,
        /// Mean days from referral to the physiologic study.
        mean_study_days: f64 = 14.0,
        /// Mean days from being seen to imaging.
        mean_imaging_days: f64 = 12.0,
        /// Revascularised, of those imaged with moderate or severe disease.
        share_revascularised: f64 = 0.6,
        /// Mean days from imaging to revascularisation.
        mean_revascularisation_days: f64 = 16.0,
    }
}

settings! {
    /// When patients are seen.
    Visits {
        /// Share of patients seen every 7 days while an ulcer is open; the rest every 14 or 28.
        share_weekly: f64 = 0.10,
        /// Share seen every 14 days.
        share_two_weekly: f64 = 0.48,
        /// A fixed gap while an ulcer is open, days; none means by the shares above.
        fixed_open_gap_days: Option<i32> = None,
        /// Days from a first closed visit to the next.
        confirmation_gap_days: i32 = 16,
        /// Days between visits without an ulcer: high risk.
        high_risk_gap_days: i32 = 60,
        /// Days between visits without an ulcer: others.
        low_risk_gap_days: i32 = 180,
        /// Appointments differ by up to this many days from the plan.
        jitter_days: i32 = 2,
        /// No visits on Saturday and Sunday.
        weekdays_only: bool = true,
        /// Missed appointments.
        share_missed: f64 = 0.055,
        /// Cancelled appointments.
        share_cancelled: f64 = 0.035,
        /// Seen at home.
        share_home: f64 = 0.06,
        /// Seen by telephone: the patient's word or a photograph, no examination.
        share_remote: f64 = 0.025,
        /// Spells of 60 to 150 days without coming, in a year.
        lapse_per_year: f64 = 0.08,
        /// Lost for good, in a year.
        loss_per_year: f64 = 0.09,
        /// Ratio for loss in people whose ulcer would not heal within 12 weeks: above 1 non-healers leave, below 1 healers do.
        loss_ratio_slow_healing: f64 = 1.4,
        /// Transferred elsewhere, in a year.
        transfer_out_per_year: f64 = 0.025,
        /// Mean days from the onset of a new ulcer under care to an extra visit; a planned visit may come first.
        mean_presentation_days: f64 = 16.0,
        /// Days between full foot examinations.
        exam_gap_days: i32 = 90,
        /// Ulcers whose limb gets pressures measured at the first visit, and again at later exams.
        share_pressures: f64 = 0.55,
        /// Deaths the practice is told of.
        share_deaths_known: f64 = 0.9,
        /// Hospital amputations the practice is told of by letter; the rest are seen at the next visit, if any.
        share_amputations_known: f64 = 0.85,
    }
}

settings! {
    /// How exactly a visit is written down.
    Recording {
        /// Coefficient of variation of a measured area.
        area_cv: f64 = 0.15,
        /// Standard deviation of a pressure, mmHg.
        pressure_sd_mmhg: f64 = 5.0,
        /// An item of an examination that is left out, each.
        share_item_missing: f64 = 0.017,
        /// A fact about the patient that is never recorded, each.
        share_fact_missing: f64 = 0.03,
    }
}

settings! {
    /// Mistakes of the typist. Each rate is the share of rows that get that mistake.
    Typing {
        /// Ways a missing value is written; the first is the usual one.
        missing_spellings: Vec<String> = vec![String::new(), "-".to_owned(), "unk".to_owned(), "N/A".to_owned()],
        /// Missing values not written the usual way.
        share_other_spelling: f64 = 0.3,
        /// A length in cm where mm is asked for.
        wrong_unit: f64 = 0.003,
        /// Day and month swapped into a date that does not exist.
        impossible_date: f64 = 0.002,
        /// A code that is in no list.
        unknown_code: f64 = 0.004,
        /// The other foot.
        wrong_side: f64 = 0.001,
        /// The row comes twice.
        repeated_row: f64 = 0.003,
        /// A value no patient can have.
        impossible_value: f64 = 0.002,
        /// An onset after the visit.
        onset_after_visit: f64 = 0.002,
    }
}
