//! The list of all measures, their families, and which are versions of which.

use super::Measure;
use super::measures;

/// A family of measures and what it answers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct FamilyWords {
    /// Kebab-case id.
    pub id: &'static str,
    /// Title.
    pub title: &'static str,
    /// One paragraph on what it answers.
    pub lead: &'static str,
}

/// The families, in the order of the report.
pub const FAMILIES: &[FamilyWords] = &[
    FamilyWords {
        id: "healing",
        title: "Healing",
        lead: "How many ulcers close, and how soon. Amputation and death can come first, so the shares are \
               cumulative incidences that allow for them. Healing is seen at visits: the true day lies between the last \
               visit that found the ulcer open and the first that found it closed.",
    },
    FamilyWords {
        id: "recurrence",
        title: "Recurrence",
        lead: "How many people have a new ulcer after all their wounds had closed. Any site on either foot counts, \
               because the whole foot stays at risk.",
    },
    FamilyWords {
        id: "limbs",
        title: "Limbs",
        lead: "How many legs are kept. Amputations done elsewhere are counted as far as this practice was told.",
    },
    FamilyWords {
        id: "vascular",
        title: "Vascular pathway",
        lead: "How long a limb with signs of poor blood supply waits for each step: screen, study, imaging, referral, being \
               seen, revascularisation. Every step is timed from the first sign, in whatever order it came, because healing, \
               amputation and death can come first.",
    },
    FamilyWords {
        id: "process",
        title: "Presentation and process",
        lead: "How ulcers come to this practice and what is done and written down in the first weeks. A share counts what was \
               recorded: care that nobody wrote down is not in it.",
    },
    FamilyWords {
        id: "risk",
        title: "Risk tiers",
        lead: "How the people under care are spread over the risk tiers that decide how often feet should be looked at.",
    },
    FamilyWords {
        id: "data",
        title: "How far the data carry",
        lead: "How many outcomes are known at all. A figure made from few known outcomes says little.",
    },
];

/// Every measure; its place here is its place in the report.
pub const MEASURES: &[&Measure] = &[
    &measures::healed_within_12_weeks::MEASURE,
    &measures::healed_within_24_weeks::MEASURE,
    &measures::ulcer_free_at_12_weeks::MEASURE,
    &measures::ulcer_free_at_24_weeks::MEASURE,
    &measures::median_time_to_healing::MEASURE,
    &measures::healed_within_20_weeks::MEASURE,
    &measures::healed_confirmed_within_12_weeks::MEASURE,
    &measures::healed_confirmed_within_24_weeks::MEASURE,
    &measures::healed_with_amputation_within_12_weeks::MEASURE,
    &measures::healed_with_amputation_within_24_weeks::MEASURE,
    &measures::every_ulcer_healed_within_12_weeks::MEASURE,
    &measures::every_ulcer_healed_within_24_weeks::MEASURE,
    &measures::healed_between_visits_within_12_weeks::MEASURE,
    &measures::healed_between_visits_within_24_weeks::MEASURE,
    &measures::healed_weighted_for_loss_within_12_weeks::MEASURE,
    &measures::healed_weighted_for_loss_within_24_weeks::MEASURE,
    &measures::quartiles_of_time_to_healing::MEASURE,
    &measures::mean_days_to_healing_within_24_weeks::MEASURE,
    &measures::area_halved_at_4_weeks::MEASURE,
    &measures::area_reduction_at_4_weeks::MEASURE,
    &measures::edge_advance_in_4_weeks::MEASURE,
    &measures::shrinking_rate_in_4_weeks::MEASURE,
    &measures::ulcer_free_days_in_6_months::MEASURE,
    &measures::ulcer_free_days_in_12_months::MEASURE,
    &measures::healed_against_published_strata::MEASURE,
    &measures::healed_against_own_past::MEASURE,
    &measures::recurrence_within_3_months::MEASURE,
    &measures::recurrence_within_12_months::MEASURE,
    &measures::recurrence_within_36_months::MEASURE,
    &measures::recurrence_same_site_within_12_months::MEASURE,
    &measures::recurrence_same_foot_within_12_months::MEASURE,
    &measures::recurrence_other_foot_within_12_months::MEASURE,
    &measures::new_ulcers_per_100_person_years::MEASURE,
    &measures::mean_new_ulcers_by_12_months::MEASURE,
    &measures::new_ulcer_soon_after_closure::MEASURE,
    &measures::threatened_limbs_kept_at_12_months::MEASURE,
    &measures::limbs_kept_at_12_months::MEASURE,
    &measures::amputation_free_survival_at_12_months::MEASURE,
    &measures::minor_amputation_within_12_months::MEASURE,
    &measures::repeat_amputation_within_12_months::MEASURE,
    &measures::major_amputations::MEASURE,
    &measures::minor_amputations::MEASURE,
    &measures::major_to_minor_ratio::MEASURE,
    &measures::vascular_referral_after_trigger::MEASURE,
    &measures::never_referred_after_trigger::MEASURE,
    &measures::vascular_screen_after_trigger::MEASURE,
    &measures::vascular_study_after_trigger::MEASURE,
    &measures::vascular_imaging_after_trigger::MEASURE,
    &measures::vascular_seen_after_trigger::MEASURE,
    &measures::vascular_seen_after_referral::MEASURE,
    &measures::revascularisation_after_trigger::MEASURE,
    &measures::revascularisation_after_referral::MEASURE,
    &measures::palpation_against_measurement::MEASURE,
    &measures::onset_to_first_visit_bands::MEASURE,
    &measures::severe_at_presentation::MEASURE,
    &measures::infection_graded_at_first_visit::MEASURE,
    &measures::area_measured_at_every_visit::MEASURE,
    &measures::sensation_tested::MEASURE,
    &measures::perfusion_measured_at_presentation::MEASURE,
    &measures::offloading_prescribed_for_plantar_ulcers::MEASURE,
    &measures::offloading_dispensed_for_plantar_ulcers::MEASURE,
    &measures::offloading_started_after_prescription::MEASURE,
    &measures::dressing_carer_recorded::MEASURE,
    &measures::footwear_measured::MEASURE,
    &measures::footwear_fit::MEASURE,
    &measures::footwear_outgrown::MEASURE,
    &measures::culture_before_repeat_antibiotic::MEASURE,
    &measures::visits_kept::MEASURE,
    &measures::patient_delay_within_14_days::MEASURE,
    &measures::patient_delay_bands::MEASURE,
    &measures::system_delay_within_14_days::MEASURE,
    &measures::system_delay_bands::MEASURE,
    &measures::risk_tier_distribution::MEASURE,
    &measures::tier_movement::MEASURE,
    &measures::foot_exam_overdue::MEASURE,
    &measures::outcome_known_at_12_weeks::MEASURE,
    &measures::lost_from_sight_within_24_weeks::MEASURE,
    &measures::visit_spacing_of_open_ulcers::MEASURE,
    &measures::first_visit_recorded_in_full::MEASURE,
    &measures::onset_recorded::MEASURE,
    &measures::site_recorded::MEASURE,
    &measures::area_recorded::MEASURE,
    &measures::depth_recorded::MEASURE,
    &measures::gangrene_recorded::MEASURE,
    &measures::pulses_recorded::MEASURE,
    &measures::sinbad_gradable::MEASURE,
    &measures::wifi_gradable::MEASURE,
    &measures::tier_gradable::MEASURE,
];

/// Measures that say the same thing by another rule, unit or estimator, or one part of it, each with the measure whose version it is. The report
/// keeps them beside that one, folded.
const VERSIONS: &[(&str, &str)] = &[
    ("healed-within-20-weeks", "healed-within-12-weeks"),
    ("healed-confirmed-within-12-weeks", "healed-within-12-weeks"),
    ("healed-confirmed-within-24-weeks", "healed-within-24-weeks"),
    (
        "healed-including-minor-amputation-within-12-weeks",
        "healed-within-12-weeks",
    ),
    (
        "healed-including-minor-amputation-within-24-weeks",
        "healed-within-24-weeks",
    ),
    (
        "every-ulcer-healed-within-12-weeks",
        "healed-within-12-weeks",
    ),
    (
        "every-ulcer-healed-within-24-weeks",
        "healed-within-24-weeks",
    ),
    (
        "healed-between-visits-within-12-weeks",
        "healed-within-12-weeks",
    ),
    (
        "healed-between-visits-within-24-weeks",
        "healed-within-24-weeks",
    ),
    (
        "healed-weighted-for-loss-within-12-weeks",
        "healed-within-12-weeks",
    ),
    (
        "healed-weighted-for-loss-within-24-weeks",
        "healed-within-24-weeks",
    ),
    (
        "mean-days-to-healing-within-24-weeks",
        "median-time-to-healing",
    ),
    ("area-reduction-at-4-weeks", "area-halved-at-4-weeks"),
    ("edge-advance-in-4-weeks", "area-halved-at-4-weeks"),
    ("shrinking-rate-in-4-weeks", "area-halved-at-4-weeks"),
    (
        "ulcer-free-days-in-12-months",
        "ulcer-free-days-in-6-months",
    ),
    ("quartiles-of-time-to-healing", "median-time-to-healing"),
    ("onset-recorded", "first-visit-recorded-in-full"),
    ("site-recorded", "first-visit-recorded-in-full"),
    ("area-recorded", "first-visit-recorded-in-full"),
    ("depth-recorded", "first-visit-recorded-in-full"),
    ("gangrene-recorded", "first-visit-recorded-in-full"),
    ("pulses-recorded", "first-visit-recorded-in-full"),
];

/// The measure whose version this one is.
pub(crate) fn main_version(id: &str) -> Option<&'static str> {
    let mut versions = VERSIONS.iter();
    let (_, main) = versions.find(|(version, _)| *version == id)?;
    Some(main)
}

/// The measure with this id.
pub fn find_measure(id: &str) -> Option<&'static Measure> {
    MEASURES.iter().copied().find(|measure| measure.id == id)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    #[test]
    fn a_version_and_its_main_measure_exist_in_one_family_and_no_version_has_versions() {
        for (version, main) in VERSIONS {
            let (version, main) = (find_measure(version).unwrap(), find_measure(main).unwrap());
            assert_eq!(version.family, main.family, "{}", version.id);
            assert_eq!(main_version(main.id), None, "{}", main.id);
        }
    }

    #[test]
    fn every_measure_has_its_own_id_a_family_and_words_for_every_question() {
        let mut ids = BTreeSet::new();
        for measure in MEASURES {
            assert!(ids.insert(measure.id), "{} is used twice", measure.id);
            assert!(
                FAMILIES.iter().any(|family| family.id == measure.family),
                "{}",
                measure.id
            );
            for words in [
                measure.title,
                measure.words,
                measure.numerator,
                measure.denominator,
                measure.exclusions,
                measure.source,
                measure.caution,
                measure.reading,
            ] {
                assert!(!words.trim().is_empty(), "{} lacks words", measure.id);
            }
            assert!(
                ["better", "worse", "neither"].contains(&measure.direction),
                "{}",
                measure.id
            );
            assert!(measure.id.chars().all(|letter| letter.is_ascii_lowercase()
                || letter.is_ascii_digit()
                || letter == '-'));
        }
    }
}
