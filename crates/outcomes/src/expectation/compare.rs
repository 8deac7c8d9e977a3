//! Observed against expected, over people with a known outcome and a known chance, with what the unknown ones allow.

use crate::tables::{Dated, PatientKey};
use survival::counts::{ObservedExpected, observed_against_expected};

/// One subject with its outcome and its chance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Judged {
    /// The person, as the cluster number.
    pub cluster: PatientKey,
    /// The day that decides the cohort, and its row.
    pub index: Dated,
    /// Whether the outcome happened; `None` when unknown.
    pub is_yes: Option<bool>,
    /// Lowest chance that the recorded items allow, 0 to 1.
    pub lowest_chance: f64,
    /// Highest chance that they allow.
    pub highest_chance: f64,
}

impl Judged {
    /// The chance, when the items tell it exactly.
    pub(crate) fn chance(&self) -> Option<f64> {
        (self.lowest_chance == self.highest_chance).then_some(self.lowest_chance)
    }
}

/// Observed events against the sum of chances.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Comparison {
    /// Everybody, known or not.
    pub n: usize,
    /// Of these, whose outcome is unknown.
    pub n_unknown_outcome: usize,
    /// Of these, whose chance is not exactly known.
    pub n_unknown_chance: usize,
    /// The comparison over those of whom both are known; `None` where nobody is.
    pub known: Option<ObservedExpected>,
    /// Lowest ratio over everybody: no unknown outcome happened, every chance as high as the items allow. `None` where
    /// nothing is expected.
    pub lowest_ratio: Option<f64>,
    /// Highest ratio over everybody: every unknown outcome happened, every chance as low as the items allow.
    pub highest_ratio: Option<f64>,
}

/// Compares by the exact Poisson-binomial law, which common outcomes such as healing need.
///
/// `None` for nobody. Source of the law: [`observed_against_expected`].
pub(crate) fn compare(subjects: &[Judged], level: f64) -> Option<Comparison> {
    if subjects.is_empty() {
        return None;
    }
    let known: Vec<(bool, f64)> = subjects
        .iter()
        .filter_map(|subject| Some((subject.is_yes?, subject.chance()?)))
        .collect();
    let chances: Vec<f64> = known.iter().map(|(_, chance)| *chance).collect();
    let observed = known.iter().filter(|(is_yes, _)| *is_yes).count() as u64;
    let n_yes = subjects
        .iter()
        .filter(|subject| subject.is_yes == Some(true))
        .count();
    let n_unknown_outcome = subjects
        .iter()
        .filter(|subject| subject.is_yes.is_none())
        .count();
    let over = |events: usize, expected: f64| (expected > 0.0).then(|| events as f64 / expected);
    let sum = |pick: fn(&Judged) -> f64| subjects.iter().map(pick).sum::<f64>();
    Some(Comparison {
        n: subjects.len(),
        n_unknown_outcome,
        n_unknown_chance: subjects
            .iter()
            .filter(|subject| subject.chance().is_none())
            .count(),
        known: if known.is_empty() {
            None
        } else {
            observed_against_expected(observed, &chances, level)
        },
        lowest_ratio: over(n_yes, sum(|subject| subject.highest_chance)),
        highest_ratio: over(
            n_yes + n_unknown_outcome,
            sum(|subject| subject.lowest_chance),
        ),
    })
}

#[cfg(test)]
mod tests {
    use super::super::expected_healing_at_20_weeks;
    use super::*;
    use crate::tables::SourceRow;
    use chrono::NaiveDate;
    use proptest::prelude::*;
    use survival::poisson_exact;

    fn judged(is_yes: Option<bool>, lowest: f64, highest: f64) -> Judged {
        Judged {
            cluster: PatientKey(0),
            index: Dated::new(NaiveDate::MIN, SourceRow::default()),
            is_yes,
            lowest_chance: lowest,
            highest_chance: highest,
        }
    }

    /// 20, 30, 25 and 10 ulcers with 0 to 3 points, 50 of them healed: 39.3 were expected, the ratio is 1.272. Poisson
    /// limits (0.944 to 1.677) hide what the Poisson-binomial law shows (variance 19.172, z 2.444). Computed with scipy.
    #[test]
    fn the_worked_example_of_healing_is_a_signal_that_poisson_limits_miss() {
        let strata = [20, 30, 25, 10];
        let chances = strata.iter().zip(0u8..).flat_map(|(n, count)| {
            std::iter::repeat_n(expected_healing_at_20_weeks(count).unwrap(), *n)
        });
        let subjects: Vec<Judged> = chances
            .enumerate()
            .map(|(place, chance)| judged(Some(place < 50), chance, chance))
            .collect();
        let comparison = compare(&subjects, 0.95).unwrap();
        let known = comparison.known.unwrap();
        assert_eq!((known.observed, known.n), (50, 85));
        assert!((known.expected - 39.3).abs() < 1e-9);
        assert!((known.variance - 19.172).abs() < 5e-4);
        assert!((known.ratio.unwrap() - 1.272).abs() < 5e-4);
        assert!((known.z.unwrap() - 2.444).abs() < 5e-4);
        let limits = known.limits.unwrap();
        assert!(limits.lower > 1.0, "{limits:?}");
        let poisson = poisson_exact(50, 0.95).unwrap();
        assert!((poisson.lower / 39.3 - 0.944).abs() < 5e-4);
        assert!((poisson.upper / 39.3 - 1.677).abs() < 5e-4);
    }

    #[test]
    fn unknown_outcomes_and_chances_stay_out_of_the_ratio_and_widen_its_bounds() {
        let subjects = [
            judged(Some(true), 0.5, 0.5),
            judged(Some(false), 0.5, 0.5),
            judged(None, 0.5, 0.5),
            judged(Some(true), 0.2, 0.6),
        ];
        let comparison = compare(&subjects, 0.95).unwrap();
        let known = comparison.known.as_ref().unwrap();
        assert_eq!((known.observed, known.n), (1, 2));
        assert!((known.ratio.unwrap() - 1.0).abs() < 1e-12);
        assert_eq!(
            (comparison.n_unknown_outcome, comparison.n_unknown_chance),
            (1, 1)
        );
        // 2 of 2.1 at the lowest, 3 of 1.7 at the highest.
        assert!((comparison.lowest_ratio.unwrap() - 2.0 / 2.1).abs() < 1e-12);
        assert!((comparison.highest_ratio.unwrap() - 3.0 / 1.7).abs() < 1e-12);
        assert_eq!(compare(&[], 0.95), None);
        assert_eq!(
            compare(&[judged(None, 0.5, 0.5)], 0.95).unwrap().known,
            None
        );
    }

    proptest! {
        #[test]
        fn whatever_the_unknown_outcomes_are_the_ratio_lies_within_the_bounds(
            people in prop::collection::vec((any::<bool>(), any::<bool>(), 0.01f64..0.99, 0.0f64..0.5), 1..40)
        ) {
            let unknown: Vec<Judged> = people
                .iter()
                .map(|(is_yes, is_known, low, more)| {
                    judged(is_known.then_some(*is_yes), *low, (low + more).min(1.0))
                })
                .collect();
            let truth: Vec<Judged> = people
                .iter()
                .map(|(is_yes, _, low, more)| {
                    let chance = (low + (low + more).min(1.0)) / 2.0;
                    judged(Some(*is_yes), chance, chance)
                })
                .collect();
            let bounds = compare(&unknown, 0.95).unwrap();
            let known = compare(&truth, 0.95).unwrap().known.unwrap();
            let ratio = known.ratio.unwrap();
            prop_assert!(bounds.lowest_ratio.unwrap() <= ratio + 1e-9);
            prop_assert!(bounds.highest_ratio.unwrap() >= ratio - 1e-9);
        }
    }
}
