//! Chances made from the practice's own past.

use super::Judged;
use super::refusal::Refusal;
use super::severity::SeverityItems;
use crate::tables::PatientKey;
use survival::regression::{
    BinaryOutcomes, Calibration, Covariate, Covariates, Estimability, LogisticFit, LogisticOptions,
    calibration, logistic,
};

/// Names of the model's terms, in the order of the items.
const TERMS: [&str; 3] = [
    "older than 2 months",
    "larger than 2 square cm",
    "grade 3 or more",
];

/// A model of healing by the three severity items, fitted on earlier ulcers of the practice.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct OwnModel {
    /// The fit.
    pub fit: LogisticFit,
}

/// Fits a logistic model of the outcome on the three items, over ulcers with everything known.
///
/// # Errors
/// Refused with fewer than `n_per_term` outcomes of either kind for each of the three terms (ten: Peduzzi et al., J Clin
/// Epidemiol 1996;49:1373-1379, from memory), or where a term does not vary or separates the outcomes.
pub(crate) fn own_model(
    earlier: &[(SeverityItems, bool, PatientKey)],
    n_per_term: usize,
    level: f64,
) -> Result<OwnModel, Refusal> {
    let rows: Vec<([bool; 3], bool, PatientKey)> = earlier
        .iter()
        .filter_map(|(items, is_yes, person)| Some((items.known()?, *is_yes, *person)))
        .collect();
    let n_yes = rows.iter().filter(|(_, is_yes, _)| *is_yes).count();
    let n_no = rows.len() - n_yes;
    let n_needed = n_per_term * TERMS.len();
    if n_yes.min(n_no) < n_needed {
        return Err(Refusal::new(format!(
            "too few earlier outcomes: {} terms need {n_needed} ulcers that healed and {n_needed} that did not, with all \
                 items known; there were {n_yes} and {n_no}",
            TERMS.len()
        )));
    }
    let columns = TERMS.iter().enumerate().map(|(place, name)| Covariate {
        name: (*name).to_owned(),
        values: rows
            .iter()
            .map(|(items, ..)| f64::from(u8::from(items.get(place) == Some(&true))))
            .collect(),
    });
    let options = LogisticOptions {
        level,
        ..LogisticOptions::default()
    };
    let fit = outcomes(rows.iter().map(|(_, is_yes, person)| (*is_yes, *person)))
        .and_then(|outcomes| {
            let covariates = Covariates::new(rows.len(), columns.collect()).ok()?;
            logistic(&outcomes, &covariates, &options).ok()
        })
        .ok_or_else(|| {
            Refusal::new("the model could not be fitted to the earlier outcomes".to_owned())
        })?;
    let lacking = fit
        .terms
        .iter()
        .find(|term| term.estimability != Estimability::Estimated);
    match lacking {
        Some(term) => Err(Refusal::new(format!(
            "the earlier outcomes cannot tell what the item `{}` changes",
            term.term
        ))),
        None => Ok(OwnModel { fit }),
    }
}

fn outcomes(rows: impl Iterator<Item = (bool, PatientKey)>) -> Option<BinaryOutcomes> {
    let (has_outcome, cluster): (Vec<bool>, Vec<u32>) =
        rows.map(|(is_yes, person)| (is_yes, person.0)).unzip();
    BinaryOutcomes::new(has_outcome)
        .and_then(|outcomes| outcomes.with_cluster(cluster))
        .ok()
}

impl OwnModel {
    /// Chance of the outcome with these items, 0 to 1.
    pub(crate) fn chance(&self, items: [bool; 3]) -> Option<f64> {
        let profile = items.map(|item| f64::from(u8::from(item)));
        self.fit.probability(&profile).ok()
    }
}

/// How far earlier outcomes of the practice lay from chances made elsewhere, as one factor of the odds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Recalibration {
    /// Log of the factor of the odds; 0 when the chances fitted.
    pub log_odds_shift: f64,
    /// Ulcers it was made from.
    pub n: usize,
}

impl Recalibration {
    /// A chance with its odds moved by the factor; 0 and 1 stay what they are.
    pub(crate) fn moved(&self, chance: f64) -> f64 {
        if chance <= 0.0 || chance >= 1.0 {
            return chance;
        }
        let log_odds = chance.ln() - (-chance).ln_1p() + self.log_odds_shift;
        1.0 / (1.0 + (-log_odds).exp())
    }
}

/// One factor of the odds that makes the expected sum of earlier outcomes the observed one.
///
/// # Errors
/// Refused with fewer than `n_least` earlier outcomes of either kind.
pub(crate) fn recalibrate(
    earlier: &[Judged],
    n_least: usize,
    level: f64,
) -> Result<Recalibration, Refusal> {
    let rows: Vec<(bool, f64, PatientKey)> = earlier
        .iter()
        .filter_map(|subject| Some((subject.is_yes?, subject.chance()?, subject.cluster)))
        .collect();
    let n_yes = rows.iter().filter(|(is_yes, ..)| *is_yes).count();
    let n_no = rows.len() - n_yes;
    if n_yes.min(n_no) < n_least {
        return Err(Refusal::new(format!(
            "too few earlier outcomes: {n_least} ulcers that healed and {n_least} that did not are needed; there were \
                 {n_yes} and {n_no}"
        )));
    }
    calibrated(&rows, level)
        .and_then(|calibration| calibration.in_the_large.estimate)
        .map(|log_odds_shift| Recalibration {
            log_odds_shift,
            n: rows.len(),
        })
        .ok_or_else(|| {
            Refusal::new(
                "the earlier outcomes could not be set against the published chances".to_owned(),
            )
        })
}

fn calibrated(rows: &[(bool, f64, PatientKey)], level: f64) -> Option<Calibration> {
    let predicted: Vec<f64> = rows.iter().map(|(_, chance, _)| *chance).collect();
    let outcomes = outcomes(rows.iter().map(|(is_yes, _, person)| (*is_yes, *person)))?;
    calibration(&outcomes, &predicted, level).ok()
}

/// Calibration of chances on outcomes they were not made from, over subjects with both known; `None` where the outcomes
/// are all alike or the chances are.
pub(crate) fn calibration_of(subjects: &[Judged], level: f64) -> Option<Calibration> {
    let rows: Vec<(bool, f64, PatientKey)> = subjects
        .iter()
        .filter_map(|subject| Some((subject.is_yes?, subject.chance()?, subject.cluster)))
        .collect();
    calibrated(&rows, level)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tables::{Dated, SourceRow};
    use chrono::NaiveDate;

    fn items(age: bool, size: bool, grade: bool) -> SeverityItems {
        SeverityItems {
            is_older_than_2_months: Some(age),
            is_larger_than_2_cm2: Some(size),
            is_grade_3_or_more: Some(grade),
        }
    }

    /// A practice whose odds of healing are 3, divided by 3 for each item: shares 3/4, 1/2, 1/4, 1/10.
    fn past(n_each: usize) -> Vec<(SeverityItems, bool, PatientKey)> {
        let mut rows = Vec::new();
        for bits in 0..8u8 {
            let own = [0, 1, 2].map(|place| bits >> place & 1 == 1);
            let count = own.iter().filter(|item| **item).count() as i32;
            let odds = 3.0 / 3.0_f64.powi(count);
            let n_healed = (n_each as f64 * odds / (1.0 + odds)).round() as usize;
            for place in 0..n_each {
                let person = PatientKey(rows.len() as u32);
                rows.push((items(own[0], own[1], own[2]), place < n_healed, person));
            }
        }
        rows
    }

    #[test]
    fn the_model_finds_the_odds_the_past_was_made_with() {
        let model = own_model(&past(40), 10, 0.95).unwrap();
        for (items, wanted) in [
            ([false, false, false], 0.75),
            ([true, false, false], 0.5),
            ([false, true, true], 0.25),
            ([true, true, true], 0.1),
        ] {
            let chance = model.chance(items).unwrap();
            assert!((chance - wanted).abs() < 1e-6, "{items:?}: {chance}");
        }
    }

    #[test]
    fn a_model_needs_ten_outcomes_of_either_kind_for_each_term() {
        let mut rows = Vec::new();
        for place in 0..60u32 {
            let own = items(place % 2 == 0, place % 3 == 0, place % 5 == 0);
            rows.push((own, place < 30, PatientKey(place)));
        }
        assert!(own_model(&rows, 10, 0.95).is_ok());
        rows.pop();
        let refused = own_model(&rows, 10, 0.95).unwrap_err();
        assert!(
            refused.reason.ends_with("there were 30 and 29"),
            "{}",
            refused.reason
        );
        // An ulcer with an unknown item is not counted.
        rows.push((SeverityItems::default(), false, PatientKey(99)));
        assert!(own_model(&rows, 10, 0.95).is_err());
    }

    #[test]
    fn a_term_that_never_varies_is_refused_and_not_guessed() {
        let rows: Vec<_> = (0..80u32)
            .map(|place| {
                (
                    items(place % 2 == 0, place % 3 == 0, false),
                    place % 4 < 2,
                    PatientKey(place),
                )
            })
            .collect();
        let refused = own_model(&rows, 10, 0.95).unwrap_err();
        assert!(
            refused.reason.contains("grade 3 or more"),
            "{}",
            refused.reason
        );
    }

    #[test]
    fn recalibration_makes_the_expected_sum_the_observed_one() {
        let subjects: Vec<Judged> = (0..100)
            .map(|place| {
                let chance = if place % 2 == 0 { 0.3 } else { 0.6 };
                Judged {
                    cluster: PatientKey(place),
                    index: Dated::new(NaiveDate::MIN, SourceRow::default()),
                    is_yes: Some(place < 70),
                    lowest_chance: chance,
                    highest_chance: chance,
                }
            })
            .collect();
        let shift = recalibrate(&subjects, 10, 0.95).unwrap();
        let sum: f64 = subjects
            .iter()
            .map(|subject| shift.moved(subject.lowest_chance))
            .sum();
        assert!((sum - 70.0).abs() < 1e-6, "{sum}");
        assert!(recalibrate(&subjects, 31, 0.95).is_err());
        assert_eq!(shift.moved(0.0), 0.0);
        assert_eq!(shift.moved(1.0), 1.0);
    }
}
