use crate::coded;
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
deserialize_coded!(Clock, AreaFormula);

/// Every setting that changes a number. Each is printed in the report; the defaults are the rules of this project.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Rules {
    /// Days between the first closed visit and the visit that confirms it.
    pub confirmation_gap_days: i64,
    /// A reopening of the same site up to this many days after the first closed visit cancels the closure.
    pub reopening_window_days: i64,
    /// Open and unseen for more than this many days before the cut-off is lost.
    pub lost_after_days: i64,
    /// Ulcers first seen up to this many days after data start are prevalent.
    pub prevalent_window_days: i64,
    /// Days after a horizon from which rows are still read.
    pub evidence_days: i64,
    /// A death more than this many days after the last known state does not compete.
    pub death_link_days: i64,
    /// A referral up to this many days before the trigger counts, as day 0.
    pub referral_look_back_days: i64,
    /// Staged amputations and closures up to this many days apart on one limb count once.
    pub staged_amputation_days: i64,
    /// An ulcer open for more than this many days without measured perfusion is a vascular trigger.
    pub perfusion_unmeasured_days: i64,
    /// Discharged with every wound closed and unseen in the status window counts as ulcer-free.
    pub discharged_healed_counts_as_ulcer_free: bool,
    /// An exam up to this many days after the first visit still describes the presentation.
    pub presentation_window_days: i64,
    /// A person counts for the tier distribution when seen in this many months before the quarter's end.
    pub seen_within_months: u32,
    /// An exam item stays known for this many months.
    pub exam_item_valid_months: u32,
    /// An ABI above this is not compressible and measures nothing.
    pub abi_non_compressible_above: f64,
    /// How an area is made from length and width.
    pub area_formula: AreaFormula,
    /// Where the healing clock starts.
    pub clock: Clock,
    /// Level of confidence intervals.
    pub confidence_level: f64,
    /// Share of known outcomes under which a follow-up figure is marked as not to be relied on.
    pub known_outcome_gate: f64,
    /// Open for more than this many days puts an ulcer on the action list.
    pub action_open_days: i64,
    /// Open and unseen for this many days puts an ulcer on the action list.
    pub action_unseen_days: i64,
}

impl Default for Rules {
    fn default() -> Self {
        Self {
            confirmation_gap_days: 14,
            reopening_window_days: 28,
            lost_after_days: 90,
            prevalent_window_days: 90,
            evidence_days: 28,
            death_link_days: 90,
            referral_look_back_days: 90,
            staged_amputation_days: 90,
            perfusion_unmeasured_days: 42,
            discharged_healed_counts_as_ulcer_free: true,
            presentation_window_days: 14,
            seen_within_months: 12,
            exam_item_valid_months: 12,
            abi_non_compressible_above: 1.3,
            area_formula: AreaFormula::Ellipse,
            clock: Clock::FirstVisit,
            confidence_level: 0.95,
            known_outcome_gate: 0.75,
            action_open_days: 84,
            action_unseen_days: 28,
        }
    }
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
            ("presentation_window_days", self.presentation_window_days),
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
        if self.evidence_days < self.reopening_window_days {
            return Err(RulesError {
                setting: "evidence_days",
                range: "at least `reopening_window_days`, or a matured figure could still change",
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
        if !(0.0..=1.0).contains(&self.known_outcome_gate) {
            return Err(RulesError {
                setting: "known_outcome_gate",
                range: "between 0 and 1",
            });
        }
        Ok(())
    }
}

/// A setting and what it decides.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SettingWords {
    /// Name as in the pipeline file.
    pub name: &'static str,
    /// What it decides, in plain words.
    pub words: &'static str,
    /// Where the default comes from.
    pub source: &'static str,
}

const OURS: &str = "rule of this project";

/// One entry a field of [`Rules`], in the same order.
pub const SETTINGS: &[SettingWords] = &[
    SettingWords {
        name: "confirmation_gap_days",
        words: "days between the first closed visit and the visit that confirms the closure (strict variant)",
        source: "FDA guidance on chronic cutaneous ulcers, 2006: two visits two weeks apart (from memory)",
    },
    SettingWords {
        name: "reopening_window_days",
        words: "a reopening of the same site up to this many days after the first closed visit cancels the closure",
        source: OURS,
    },
    SettingWords {
        name: "lost_after_days",
        words: "an ulcer open and unseen for more than this many days before the cut-off is lost to follow-up",
        source: OURS,
    },
    SettingWords {
        name: "prevalent_window_days",
        words: "an ulcer first seen up to this many days after data start may be older than it looks, and is left out of cohorts that start at the first visit",
        source: OURS,
    },
    SettingWords {
        name: "evidence_days",
        words: "days beyond a horizon from which rows are still read; later rows never change a matured figure",
        source: OURS,
    },
    SettingWords {
        name: "death_link_days",
        words: "a death more than this many days after the last known state of an ulcer does not compete with its healing",
        source: OURS,
    },
    SettingWords {
        name: "referral_look_back_days",
        words: "a vascular referral up to this many days before the trigger counts, as day 0",
        source: OURS,
    },
    SettingWords {
        name: "staged_amputation_days",
        words: "planned stages and closures of an amputation up to this many days apart on one limb count once",
        source: "common practice, no source",
    },
    SettingWords {
        name: "perfusion_unmeasured_days",
        words: "an ulcer open for more than this many days without measured perfusion is a vascular trigger",
        source: "IWGDF 2019: 4 to 6 weeks (from memory)",
    },
    SettingWords {
        name: "discharged_healed_counts_as_ulcer_free",
        words: "a person discharged with every wound closed and not seen in the status window counts as ulcer-free",
        source: OURS,
    },
    SettingWords {
        name: "presentation_window_days",
        words: "an examination up to this many days after the first visit still describes the presentation",
        source: OURS,
    },
    SettingWords {
        name: "seen_within_months",
        words: "a person counts in the tier distribution when seen in this many months before the quarter's end",
        source: OURS,
    },
    SettingWords {
        name: "exam_item_valid_months",
        words: "an item of the foot examination stays known for this many months",
        source: "IWGDF 2023 prevention guideline: screening at least every 12 months",
    },
    SettingWords {
        name: "abi_non_compressible_above",
        words: "an ankle-brachial index above this comes from stiff arteries and measures nothing",
        source: "IWGDF: above 1.3 use the toe (from memory); other guidelines use 1.4",
    },
    SettingWords {
        name: "area_formula",
        words: "how an area is made from length and width where none was traced",
        source: "ellipse, pi/4 x length x width: plane geometry",
    },
    SettingWords {
        name: "clock",
        words: "where the healing clock starts: at the first visit here, or at the onset with delayed entry",
        source: OURS,
    },
    SettingWords {
        name: "confidence_level",
        words: "level of all confidence intervals",
        source: "common practice, no source",
    },
    SettingWords {
        name: "known_outcome_gate",
        words: "share of known outcomes below which a follow-up figure is marked as not to be relied on",
        source: "Jeffcoate et al., Lancet Diabetes Endocrinol 2016;4:781: at least 75%",
    },
    SettingWords {
        name: "action_open_days",
        words: "an ulcer open for more than this many days goes on the action list",
        source: OURS,
    },
    SettingWords {
        name: "action_unseen_days",
        words: "an open ulcer unseen for this many days goes on the action list",
        source: OURS,
    },
];
