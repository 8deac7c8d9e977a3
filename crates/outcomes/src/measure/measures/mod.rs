//! One file a measure; what several of them share is in `subjects`.

pub(super) mod healed_within_12_weeks;
pub(super) mod healed_within_24_weeks;
pub(super) mod limbs_kept_at_12_months;
pub(super) mod major_amputations;
pub(super) mod median_time_to_healing;
pub(super) mod minor_amputations;
pub(super) mod never_referred_after_trigger;
pub(super) mod new_ulcer_soon_after_closure;
pub(super) mod outcome_known_at_12_weeks;
pub(super) mod recurrence_within_12_months;
pub(super) mod revascularisation_after_referral;
pub(super) mod revascularisation_after_trigger;
pub(super) mod risk_tier_distribution;
mod subjects;
pub(super) mod threatened_limbs_kept_at_12_months;
pub(super) mod ulcer_free_at_12_weeks;
pub(super) mod ulcer_free_at_24_weeks;
mod ulcer_free_status;
pub(super) mod vascular_imaging_after_trigger;
pub(super) mod vascular_referral_after_trigger;
pub(super) mod vascular_screen_after_trigger;
pub(super) mod vascular_seen_after_referral;
pub(super) mod vascular_seen_after_trigger;
pub(super) mod vascular_study_after_trigger;
mod vascular_waits;
