//! Uncertainty of weighted contrasts by drawing the clusters again: the model of the propensity is fitted anew each time.

use serde::Serialize;

use super::contrast::arms;
use super::{
    BootstrapEstimate, BootstrapOptions, Target, WeightOptions, bootstrap_by_cluster,
    propensity_weights,
};
use crate::content::ContentKeys;
use crate::regression::{BinaryOutcomes, Covariate, Covariates, LogisticOptions, logistic};
use crate::sample::check_length;
use crate::{Sample, SurvivalError};

/// A contrast with standard errors and percentile limits from drawn samples.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DrawnContrast {
    /// What is compared.
    pub target: Target,
    /// The treated.
    pub treated: BootstrapEstimate,
    /// The others.
    pub untreated: BootstrapEstimate,
    /// Treated minus others.
    pub difference: BootstrapEstimate,
}

/// Bootstrap of contrasts under propensity weights: clusters, or rows where none are given, are drawn with replacement, and in
/// each drawn sample the propensity is fitted, the weights are made and the curves are estimated again.
///
/// A drawn sample in which a group is empty, the model has no finite estimate or a target lies past the last observation counts as
/// not estimable. Rows are taken in the order of what they hold, so their order in the file changes no digit.
///
/// # Errors
/// Columns of unequal length, fewer than two clusters, no repetition or more than 10 million, the level out of range.
///
/// Source: Davison and Hinkley, Bootstrap Methods and their Application, 1997, section 3.8; for weights that are estimated, Austin,
/// Stat Med 2016;35:5642-5655 (both from memory).
pub fn bootstrap_contrasts(
    sample: &Sample,
    is_treated: &[bool],
    covariates: &Covariates,
    weights: &WeightOptions,
    targets: &[Target],
    options: &BootstrapOptions,
) -> Result<Vec<DrawnContrast>, SurvivalError> {
    check_length("treated", is_treated.len(), sample.len())?;
    check_length("covariates", covariates.n_rows(), sample.len())?;
    let cluster = match sample.cluster() {
        Some(cluster) => cluster.to_vec(),
        None => places_by_content(sample, is_treated, covariates),
    };
    let statistics = |rows: &[usize]| {
        let estimates = contrasts_of(sample, is_treated, covariates, weights, targets, rows);
        estimates.unwrap_or_else(|| vec![None; 3 * targets.len()])
    };
    let found = bootstrap_by_cluster(&cluster, statistics, options)?;
    let contrasts = targets.iter().zip(found.chunks_exact(3));
    Ok(contrasts
        .filter_map(|(&target, found)| match found {
            &[treated, untreated, difference] => Some(DrawnContrast {
                target,
                treated,
                untreated,
                difference,
            }),
            _ => None,
        })
        .collect())
}

/// Each row's place in the order of what rows hold.
fn places_by_content(sample: &Sample, is_treated: &[bool], covariates: &Covariates) -> Vec<u32> {
    let treated: Vec<u32> = is_treated.iter().map(|&treated| treated.into()).collect();
    let keys = ContentKeys::of(sample)
        .with_labels(&treated)
        .with_covariates(covariates.columns());
    let mut places = vec![0; sample.len()];
    for (place, row) in (0_u32..).zip(keys.order()) {
        if let Some(of_row) = places.get_mut(row as usize) {
            *of_row = place;
        }
    }
    places
}

/// For each target the treated, the others and their difference, in a sample of these rows; `None` where it can have no weights.
fn contrasts_of(
    sample: &Sample,
    is_treated: &[bool],
    covariates: &Covariates,
    options: &WeightOptions,
    targets: &[Target],
    rows: &[usize],
) -> Option<Vec<Option<f64>>> {
    let treated = picked(is_treated, rows);
    let columns = covariates.columns().iter().map(|column| Covariate {
        name: column.name.clone(),
        values: picked(&column.values, rows),
    });
    let covariates = Covariates::new(rows.len(), columns.collect()).ok()?;
    let mut drawn = Sample::new(picked(sample.exit(), rows), picked(sample.cause(), rows)).ok()?;
    if let Some(entry) = sample.entry() {
        drawn = drawn.with_entry(picked(entry, rows)).ok()?;
    }
    if let Some(weight) = sample.weight() {
        drawn = drawn.with_weight(picked(weight, rows)).ok()?;
    }
    let outcomes = BinaryOutcomes::new(treated.clone()).ok()?;
    let model = logistic(&outcomes, &covariates, &LogisticOptions::default()).ok()?;
    let weights = propensity_weights(&treated, &model.fitted, options).ok()?;
    let mut estimates = Vec::with_capacity(3 * targets.len());
    for &target in targets {
        let arms = arms(&drawn, &treated, &weights, target).ok().flatten();
        let both = arms.map(|arms| (arms.treated.estimate, arms.untreated.estimate));
        estimates.push(both.map(|(treated, _)| treated));
        estimates.push(both.map(|(_, untreated)| untreated));
        estimates.push(both.map(|(treated, untreated)| treated - untreated));
    }
    Some(estimates)
}

fn picked<T: Copy>(column: &[T], rows: &[usize]) -> Vec<T> {
    rows.iter()
        .filter_map(|&row| column.get(row).copied())
        .collect()
}
