//! Every setting that can change a number: default, alternatives, words, source, range.

use crate::coded;
use crate::report::words::fixed;
use serde::{Deserialize, Serialize};
use thiserror::Error;

coded! {
    /// Where the healing clock starts.
    pub enum Clock {
        /// At the first visit here; prevalent ulcers are left out.
        FirstVisit = "first-visit",
        /// At the onset told by the patient, with delayed entry at the first visit here.
        Onset = "onset",
    }
}

coded! {
    /// How an area is made from length and width when none was traced.
    pub enum AreaFormula {
        /// Pi/4 x length x width.
        Ellipse = "ellipse",
        /// Length x width.
        Rectangle = "rectangle",
    }
}

coded! {
    /// Edition of the guideline whose urgent vascular cut-offs are in force.
    pub enum VascularGuideline {
        /// IWGDF 2015.
        Year2015 = "2015",
        /// IWGDF 2019.
        Year2019 = "2019",
        /// IWGDF/ESVS/SVS 2023.
        Year2023 = "2023",
    }
}

macro_rules! deserialize_coded {
    ($($name:ident),+) => {$(
        impl<'de> Deserialize<'de> for $name {
            fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
                let text = String::deserialize(deserializer)?;
                Self::from_code(&text).ok_or_else(|| {
                    let known: Vec<String> = Self::ALL.iter().map(|value| format!("`{}`", value.code())).collect();
                    serde::de::Error::custom(format!("unknown variant `{text}`, expected one of {}", known.join(", ")))
                })
            }
        }
    )+};
}
deserialize_coded!(Clock, AreaFormula, VascularGuideline);

/// Declares [`Rules`] and [`SETTINGS`] from one list: name, type, default, alternatives for the auditor's copy if there are any,
/// what it decides, where the default comes from.
macro_rules! settings {
    ($($name:ident: $kind:ty = $default:expr, $(or [$($other:expr),+],)? $words:literal, $source:expr;)+) => {
        /// Every setting that changes a number. Each is printed in the report; the defaults are the rules of this project.
        #[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
        #[serde(deny_unknown_fields, default)]
        pub struct Rules { $(#[doc = $words] pub $name: $kind),+ }

        impl Default for Rules {
            fn default() -> Self { Self { $($name: $default),+ } }
        }

        /// One entry a field of [`Rules`], in the same order.
        pub const SETTINGS: &[SettingWords] = &[$(SettingWords {
            name: stringify!($name),
            words: $words,
            source: $source,
            value: |rules| rules.$name.to_string(),
            alternatives: &[$($(|rules| Rules { $name: $other, ..rules.clone() }),+)?],
        }),+];
    };
}

const OURS: &str = "rule of this project";

settings! {
    confirmation_gap_days: i64 = 14,
        "days between the first closed visit and the visit that confirms the closure (strict variant)",
        "FDA guidance on chronic cutaneous ulcers, 2006: two visits two weeks apart (from memory)";
    reopening_window_days: i64 = 28, or [14],
        "a reopening of the same site up to this many days after the first closed visit cancels the closure", OURS;
    lost_after_days: i64 = 90, or [60],
        "an ulcer open and unseen for more than this many days before the cut-off is lost to follow-up", OURS;
    prevalent_window_days: i64 = 90, or [180],
        "an ulcer first seen up to this many days after data start may be older than it looks, and is left out of cohorts that start at the first visit", OURS;
    evidence_days: i64 = 28, or [56],
        "days beyond a horizon from which rows are still read; later rows never change a matured figure", OURS;
    death_link_days: i64 = 90, or [180],
        "a death more than this many days after the last known state of an ulcer does not compete with its healing", OURS;
    referral_look_back_days: i64 = 90, or [0],
        "a vascular referral up to this many days before the trigger counts, as day 0", OURS;
    staged_amputation_days: i64 = 90,
        "planned stages and closures of an amputation up to this many days apart on one limb count once",
        "common practice, no source";
    perfusion_unmeasured_days: i64 = 42, or [28],
        "an ulcer open for more than this many days without measured perfusion is a vascular trigger",
        "IWGDF 2019: 4 to 6 weeks (from memory)";
    presentation_window_days: i64 = 14, or [0],
        "an examination up to this many days after the first visit still describes the presentation", OURS;
    discharged_healed_counts_as_ulcer_free: bool = true, or [false],
        "a person discharged with every wound closed and not seen in the status window counts as ulcer-free", OURS;
    seen_within_months: u32 = 12,
        "a person counts in the tier distribution when seen in this many months before the quarter's end", OURS;
    exam_item_valid_months: u32 = 12,
        "an item of the foot examination stays known for this many months",
        "IWGDF prevention guideline 2023: screening at least every 12 months";
    abi_non_compressible_above: f64 = 1.3, or [1.4],
        "an ankle-brachial index above this comes from stiff arteries and measures nothing",
        "IWGDF: above 1.3 use the toe (from memory); other guidelines use 1.4";
    vascular_guideline: VascularGuideline = VascularGuideline::Year2023,
        or [VascularGuideline::Year2019],
        "edition of the guideline whose urgent cut-offs trigger a vascular referral: \"2015\", \"2019\" or \"2023\"",
        "IWGDF 2015 and 2019 (from memory); IWGDF/ESVS/SVS 2023 (pressures as printed in PMC11279131, table 2; waveform from memory)";
    area_formula: AreaFormula = AreaFormula::Ellipse,
        "how an area is made from length and width where none was traced",
        "ellipse, pi/4 x length x width: plane geometry";
    clock: Clock = Clock::FirstVisit, or [Clock::Onset],
        "where the healing clock starts: at the first visit here, or at the onset with delayed entry", OURS;
    healing_date_draws: i64 = 20,
        "how many times dates of healing are drawn between the visits that they are known to lie between", OURS;
    healing_date_seed: u64 = 84,
        "where the random numbers of those draws begin; the same number gives the same dates", OURS;
    confidence_level: f64 = 0.95, "level of all confidence intervals", "common practice, no source";
    known_outcome_gate: f64 = 0.75,
        "share of known outcomes below which a follow-up figure is marked as not to be relied on",
        "Jeffcoate et al., Lancet Diabetes Endocrinol 2016;4:781: at least 75%";
    model_events_per_term: i64 = 10,
        "a model of the practice's own past needs this many earlier outcomes of either kind for each of its terms",
        "Peduzzi et al., J Clin Epidemiol 1996;49:1373-1379 (from memory)";
    ratio_events_at_least: i64 = 5,
        "a ratio of two counts of amputations is printed with at least this many of each", OURS;
    chart_baseline_quarters: i64 = 8,
        "centre and limits of a control chart come from this many first mature quarters, and a chart needs as many",
        "at least 8 points: common practice, no source";
    sum_odds_ratio: f64 = 2.0,
        "a cumulative sum looks for odds of staying open this many times the expected ones, and for odds as much lower", OURS;
    sum_ulcers_per_false_signal: i64 = 500,
        "a cumulative sum may give one false signal in this many ulcers on average", OURS;
    funnel_least: i64 = 10,
        "sites and clinicians with fewer known outcomes than this are named as too few, not compared", OURS;
    set_aside_limit: f64 = 0.05,
        "share of rows set aside, repeats of other rows not counted, above which the report says first that no figure can be relied on", OURS;
    public_small_count: u64 = 10,
        "counts from 1 to this are hidden in the public copy, with everything that would give them away",
        "CMS cell size suppression policy: no cell of 1 to 10";
    public_curve_days: u32 = 28,
        "days between the points of a curve in the public copy, at least", OURS;
    action_open_days: i64 = 84, "an ulcer open for more than this many days goes on the action list", OURS;
    action_unseen_days: i64 = 28, "an open ulcer unseen for at least this many days goes on the action list", OURS;
    action_seen_within_months: u32 = 24,
        "the action list holds people seen in this many months before the cut-off", OURS;
}

/// A setting, what it decides and how to read its value.
#[derive(Debug, Clone, Copy)]
pub struct SettingWords {
    /// Name as in the pipeline file.
    pub name: &'static str,
    /// What it decides, in plain words.
    pub words: &'static str,
    /// Where the default comes from.
    pub source: &'static str,
    /// Its value in a set of rules, as written in the pipeline file.
    pub value: fn(&Rules) -> String,
    /// Rules with this setting at an alternative that others would defend; empty where there is none.
    pub alternatives: &'static [fn(&Rules) -> Rules],
}

/// A setting outside its range.
#[derive(Debug, Clone, PartialEq, Error)]
#[error("`{setting}` must be {range}")]
pub struct RulesError {
    /// Name of the setting.
    pub setting: &'static str,
    /// What it must be.
    pub range: &'static str,
}

impl Rules {
    /// Words in which `{name}` stands for a setting, with the values in force: a sentence never states a default that
    /// is not in force. Decimals are written as the report writes them.
    pub fn fill(&self, words: &str) -> String {
        if !words.contains('{') {
            return fixed(words);
        }
        let filled = SETTINGS.iter().fold(words.to_owned(), |words, setting| {
            words.replace(&format!("{{{}}}", setting.name), &(setting.value)(self))
        });
        fixed(&filled)
    }

    /// Refuses settings outside their range.
    ///
    /// # Errors
    /// The first setting, in declaration order, that is out of range.
    pub fn check(&self) -> Result<(), RulesError> {
        let days = "a number of days from 0 to 3650";
        for (setting, value) in [
            ("confirmation_gap_days", self.confirmation_gap_days),
            ("reopening_window_days", self.reopening_window_days),
            ("lost_after_days", self.lost_after_days),
            ("prevalent_window_days", self.prevalent_window_days),
            ("evidence_days", self.evidence_days),
            ("death_link_days", self.death_link_days),
            ("referral_look_back_days", self.referral_look_back_days),
            ("staged_amputation_days", self.staged_amputation_days),
            ("perfusion_unmeasured_days", self.perfusion_unmeasured_days),
            ("action_open_days", self.action_open_days),
            ("action_unseen_days", self.action_unseen_days),
        ] {
            if !(0..=3650).contains(&value) {
                return Err(RulesError {
                    setting,
                    range: days,
                });
            }
        }
        // the measures that use it read rows up to day 14 and the evidence days
        if !(0..=14 + self.evidence_days).contains(&self.presentation_window_days) {
            return Err(RulesError {
                setting: "presentation_window_days",
                range: "a number of days from 0 to 14 more than `evidence_days`",
            });
        }
        if self.evidence_days < self.reopening_window_days {
            return Err(RulesError {
                setting: "evidence_days",
                range: "at least `reopening_window_days`, or a matured figure could still change",
            });
        }
        for (setting, value, allowed, range) in [
            (
                "model_events_per_term",
                self.model_events_per_term,
                1..=1000,
                "a number from 1 to 1000",
            ),
            (
                "ratio_events_at_least",
                self.ratio_events_at_least,
                1..=1000,
                "a number from 1 to 1000",
            ),
            (
                "chart_baseline_quarters",
                self.chart_baseline_quarters,
                8..=40,
                "a number of quarters from 8 to 40",
            ),
            (
                "sum_ulcers_per_false_signal",
                self.sum_ulcers_per_false_signal,
                50..=5000,
                "a number from 50 to 5000",
            ),
            (
                "healing_date_draws",
                self.healing_date_draws,
                2..=1000,
                "a number from 2 to 1000",
            ),
            (
                "funnel_least",
                self.funnel_least,
                10..=1000,
                "a number from 10 to 1000",
            ),
        ] {
            if !allowed.contains(&value) {
                return Err(RulesError { setting, range });
            }
        }
        if !(1.1..=10.0).contains(&self.sum_odds_ratio) {
            return Err(RulesError {
                setting: "sum_odds_ratio",
                range: "between 1.1 and 10",
            });
        }
        for (setting, value) in [
            ("seen_within_months", self.seen_within_months),
            ("exam_item_valid_months", self.exam_item_valid_months),
        ] {
            if !(1..=120).contains(&value) {
                return Err(RulesError {
                    setting,
                    range: "a number of months from 1 to 120",
                });
            }
        }
        if !(1.0..=2.0).contains(&self.abi_non_compressible_above) {
            return Err(RulesError {
                setting: "abi_non_compressible_above",
                range: "between 1.0 and 2.0",
            });
        }
        if !(0.5..1.0).contains(&self.confidence_level) {
            return Err(RulesError {
                setting: "confidence_level",
                range: "at least 0.5 and below 1",
            });
        }
        if !(1..=1_000).contains(&self.public_small_count) {
            return Err(RulesError {
                setting: "public_small_count",
                range: "from 1 to 1000",
            });
        }
        if !(7..=366).contains(&self.public_curve_days) {
            return Err(RulesError {
                setting: "public_curve_days",
                range: "from 7 to 366",
            });
        }
        if !(0.0..=1.0).contains(&self.set_aside_limit) {
            return Err(RulesError {
                setting: "set_aside_limit",
                range: "between 0 and 1",
            });
        }
        if !(0.0..=1.0).contains(&self.known_outcome_gate) {
            return Err(RulesError {
                setting: "known_outcome_gate",
                range: "between 0 and 1",
            });
        }
        Ok(())
    }
}
