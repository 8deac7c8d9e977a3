//! Accelerated failure time regression of interval-censored times.

use serde::Serialize;

use crate::SurvivalError;
use crate::content::ContentKeys;
use crate::distribution::check_level;
use crate::interval::IntervalSample;
use crate::interval::error_law::Distribution;
use crate::interval::regression_likelihood::{LogEnds, Rows};
use crate::regression::{
    ClusterIndex, CoefficientCovariance, Convergence, Covariates, INTERCEPT, Maximum, ModelTest,
    SquareMatrix, Standardised, Term, TermStates, cluster_variance, estimability, maximise,
    require_finite,
};
use crate::sample::check_length;

/// Settings of an accelerated failure time model.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct IntervalRegressionOptions {
    /// Distribution of the time.
    pub distribution: Distribution,
    /// Confidence level of the limits, in (0, 1).
    pub level: f64,
}

impl Default for IntervalRegressionOptions {
    fn default() -> IntervalRegressionOptions {
        IntervalRegressionOptions {
            distribution: Distribution::Weibull,
            level: 0.95,
        }
    }
}

/// What the reader of a fit must know.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "note")]
pub enum IntervalRegressionNote {
    /// Rows left out because their event may lie at any time, or because they weigh nothing.
    NoInformation {
        /// Number of such rows.
        n_rows: usize,
    },
    /// A term left out because it does not vary or repeats the terms before it.
    Redundant {
        /// Name of the term.
        term: String,
    },
    /// A term whose likelihood rises for ever (separation).
    Separation {
        /// Name of the term.
        term: String,
    },
}

impl std::fmt::Display for IntervalRegressionNote {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            IntervalRegressionNote::NoInformation { n_rows } => write!(
                out,
                "{n_rows} rows are left out: their event may lie at any time, or they weigh nothing"
            ),
            IntervalRegressionNote::Redundant { term } => write!(
                out,
                "{term} is left out: it does not vary, or repeats the terms before it"
            ),
            IntervalRegressionNote::Separation { term } => write!(
                out,
                "{term} has no finite estimate: the likelihood rises for ever (separation)"
            ),
        }
    }
}

/// A fitted model: ln T = intercept + sum of coefficient times covariate + scale times W.
///
/// W follows the law of smallest extremes (Weibull; shape = 1/scale) or the standard normal. A positive coefficient
/// lengthens the time. The likelihood is that of the time itself, not of its logarithm.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct IntervalRegressionFit {
    /// Settings in force.
    pub options: IntervalRegressionOptions,
    /// Rows used.
    pub n: usize,
    /// Intercept, then the coefficients in the order of the covariates, then the log of the scale (but for exponential).
    pub terms: Vec<Term>,
    /// Inverse of the observed information, in the order of `terms`.
    pub covariance: CoefficientCovariance,
    /// Sandwich of it with scores summed within clusters, no small-sample factor (White, Econometrica 1982;50:1-25). Given
    /// where clusters or weights were.
    pub robust_covariance: Option<CoefficientCovariance>,
    /// Scale; 1 for exponential.
    pub scale: f64,
    /// Log likelihood at the estimate (its limit under separation).
    pub log_likelihood: f64,
    /// Log likelihood of the model with intercept and scale only.
    pub log_likelihood_null: f64,
    /// Twice the gain in log likelihood over the model without covariates; not valid where rows depend on one another.
    pub likelihood_ratio_test: ModelTest,
    /// What the reader must know.
    pub notes: Vec<IntervalRegressionNote>,
}

/// The name under which the log of the scale is reported.
pub const LOG_SCALE: &str = "(log scale)";

/// Fits an accelerated failure time model (Kalbfleisch and Prentice 2002, The Statistical Analysis of Failure Time Data,
/// section 3.6) to exact, left-, right- and interval-censored times.
///
/// # Errors
/// Columns of unequal length, a level outside (0, 1), an exact time of 0, no row with an upper end, a scale that the rows do
/// not determine, a likelihood that does not settle. Redundant columns and separation are said of the term.
pub fn interval_regression(
    sample: &IntervalSample,
    covariates: &Covariates,
    options: &IntervalRegressionOptions,
) -> Result<IntervalRegressionFit, SurvivalError> {
    check(sample, covariates, options)?;
    // in the order of what the rows hold, so that no sum follows their own
    let keys = ContentKeys::new(sample.len())
        .with_numbers(sample.lower())
        .with_numbers(sample.upper())
        .with_numbers(sample.weight().unwrap_or_default())
        .with_labels(sample.cluster().unwrap_or_default())
        .with_covariates(covariates.columns());
    let mut order = keys.order();
    order.retain(|&row| {
        let row = row as usize;
        sample.weight_of(row) > 0.0
            && (sample.lower()[row] > 0.0 || sample.upper()[row].is_finite())
    });
    if order
        .iter()
        .all(|&row| sample.upper()[row as usize].is_infinite())
    {
        return Err(SurvivalError::NoEvents);
    }
    let standardised = Standardised::of(covariates, &order, sample.weight());
    let ends = LogEnds::of(sample, &order);
    let nothing = Standardised::of(&Covariates::new(sample.len(), Vec::new())?, &order, None);
    let rows_with = |covariates| Rows {
        sample,
        order: &order,
        covariates,
        distribution: options.distribution,
        ends: &ends,
    };
    let null = settle(&rows_with(&nothing), None)?;
    let rows = rows_with(&standardised);
    let maximum = settle(&rows, Some(&null))?;
    let fit = describe(&rows, &maximum, &null, covariates, options);
    require_finite(
        [&fit.covariance].into_iter().chain(&fit.robust_covariance),
        &[fit.log_likelihood, fit.log_likelihood_null, fit.scale],
    )?;
    Ok(fit)
}

fn check(
    sample: &IntervalSample,
    covariates: &Covariates,
    options: &IntervalRegressionOptions,
) -> Result<(), SurvivalError> {
    check_level(options.level)?;
    check_length("covariates", covariates.n_rows(), sample.len())?;
    match sample.upper().iter().position(|&upper| upper == 0.0) {
        Some(index) => Err(SurvivalError::EventAtOrigin { row: index + 1 }),
        None => Ok(()),
    }
}

/// Log times that scatter by less than a millionth do not scatter.
const LARGEST_INVERSE_SCALE: f64 = 1e6;

/// The maximum, from the model without covariates where it is known, otherwise from an exponential one at the middle of the times.
fn settle(rows: &Rows, null: Option<&Maximum>) -> Result<Maximum, SurvivalError> {
    let logs = || rows.ends.iter().flat_map(|ends| ends.known());
    let spread = logs().fold(f64::NEG_INFINITY, f64::max) - logs().fold(f64::INFINITY, f64::min);
    let mut start = vec![0.0; rows.n_parameters()];
    let mut ranges = vec![1.0];
    ranges.extend(&rows.covariates.range);
    start[0] = match null {
        Some(null) => null.coefficients[0],
        None => logs().sum::<f64>() / logs().count().max(1) as f64,
    };
    if rows.distribution.has_scale() {
        ranges.push(spread);
        let of_null = null.and_then(|null| null.coefficients.last());
        start[rows.n_parameters() - 1] = of_null.copied().unwrap_or(1.0);
    }
    let maximum = maximise(start, &ranges, Convergence::Quadratic, |parameters| {
        rows.evaluate(parameters)
    });
    let last = maximum.coefficients.len() - 1;
    if maximum.is_redundant[0] {
        return Err(SurvivalError::ScaleNotEstimable);
    }
    let has_lost_scale = rows.distribution.has_scale()
        && (maximum.is_redundant[last]
            || maximum.coefficients[last] > LARGEST_INVERSE_SCALE
            || maximum
                .endless_step
                .as_ref()
                .is_some_and(|step| (step[last] * spread).abs() > 0.01));
    if has_lost_scale {
        return Err(SurvivalError::ScaleNotEstimable);
    }
    if !maximum.has_converged {
        return Err(SurvivalError::NotSettled {
            n_iterations: maximum.n_iterations,
        });
    }
    Ok(maximum)
}

fn describe(
    rows: &Rows,
    maximum: &Maximum,
    null: &Maximum,
    covariates: &Covariates,
    options: &IntervalRegressionOptions,
) -> IntervalRegressionFit {
    let n_terms = rows.covariates.n_terms;
    let has_scale = options.distribution.has_scale();
    let inverse_scale = if has_scale {
        maximum.coefficients[n_terms + 1]
    } else {
        1.0
    };
    let scale = 1.0 / inverse_scale;
    let model = maximum.model_covariance();
    let is_robust = rows.sample.cluster().is_some() || rows.sample.weight().is_some();
    let robust = is_robust.then(|| {
        let clusters = ClusterIndex::of(rows.sample.cluster(), rows.sample.len(), rows.order);
        model.sandwich(&cluster_variance(
            &rows.weighted_scores(&maximum.coefficients),
            maximum.coefficients.len(),
            &clusters,
        ))
    });
    let jacobian = jacobian(rows, &maximum.coefficients, inverse_scale);
    // what the endless step means for the coefficients as reported: an intercept may stand still though the level at the
    // centre of the covariates does not
    let endless_step = maximum
        .endless_step
        .as_ref()
        .map(|step| jacobian.times_vector(step));
    let mut ranges = rows.covariates.ranges_with_intercept();
    ranges.resize(maximum.coefficients.len(), 1.0);
    let states = estimability(&maximum.is_redundant, endless_step.as_deref(), &ranges);
    let mut estimates: Vec<f64> = rows
        .covariates
        .with_intercept()
        .times_vector(&maximum.coefficients[..=n_terms])
        .iter()
        .map(|shift| shift * scale)
        .collect();
    let mut names = vec![INTERCEPT.to_owned()];
    names.extend(covariates.names());
    if has_scale {
        estimates.push(scale.ln());
        names.push(LOG_SCALE.to_owned());
    }
    let covariance = jacobian.sandwich(&model);
    let robust = robust.map(|robust| jacobian.sandwich(&robust));
    let terms = TermStates::new(names, states);
    let n_tested = maximum.n_estimable_from(0) - 1 - usize::from(has_scale);
    let mut notes = Vec::new();
    if rows.order.len() < rows.sample.len() {
        notes.push(IntervalRegressionNote::NoInformation {
            n_rows: rows.sample.len() - rows.order.len(),
        });
    }
    notes.extend(terms.notes(
        |term| IntervalRegressionNote::Redundant { term },
        |term| IntervalRegressionNote::Separation { term },
    ));
    IntervalRegressionFit {
        options: options.clone(),
        n: rows.order.len(),
        terms: terms.terms(&estimates, &covariance, robust.as_ref(), options.level),
        covariance: terms.covariance(&covariance),
        robust_covariance: robust.map(|matrix| terms.covariance(&matrix)),
        scale,
        log_likelihood: maximum.at_maximum.value,
        log_likelihood_null: null.at_maximum.value,
        likelihood_ratio_test: ModelTest::of(
            maximum.likelihood_ratio(null.at_maximum.value),
            n_tested,
        ),
        notes,
    }
}

/// Derivatives of (intercept, coefficients, log scale) on the scale of the input in the concave parameters: a shift d is
/// d/a, and the log scale is -ln a.
fn jacobian(rows: &Rows, parameters: &[f64], inverse_scale: f64) -> SquareMatrix {
    let n_shifts = rows.covariates.n_terms + 1;
    let map = rows.covariates.with_intercept();
    let mapped = map.times_vector(&parameters[..n_shifts]);
    let mut matrix = SquareMatrix::zero(parameters.len());
    for (row, shift) in mapped.iter().enumerate() {
        for column in 0..n_shifts {
            matrix.set(row, column, map.get(row, column) / inverse_scale);
        }
        if parameters.len() > n_shifts {
            matrix.set(row, n_shifts, -shift / (inverse_scale * inverse_scale));
        }
    }
    if parameters.len() > n_shifts {
        matrix.set(n_shifts, n_shifts, -1.0 / inverse_scale);
    }
    matrix
}
