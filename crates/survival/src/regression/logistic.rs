//! Logistic regression: the log odds of an outcome as a sum of covariates.

use serde::Serialize;

use crate::SurvivalError;
use crate::content::ContentKeys;
use crate::distribution::check_level;
use crate::regression::logistic_likelihood::{Known, Rows, inverse_logit};
use crate::regression::{
    BinaryOutcomes, ClusterIndex, CoefficientCovariance, Convergence, Covariates, Estimability,
    INTERCEPT, Maximum, ModelTest, Standardised, Term, TermStates, cluster_variance, estimability,
    maximise, require_finite,
};
use crate::sample::check_length;

/// What is added to the log likelihood.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Penalty {
    /// Nothing: maximum likelihood.
    #[default]
    None,
    /// Half the log determinant of the information (Firth, Biometrika 1993;80:27-38): less biased in small samples and finite
    /// under separation (Heinze and Schemper, Stat Med 2002;21:2409-2419).
    Firth,
}

/// Settings of a logistic model.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LogisticOptions {
    /// Penalty.
    pub penalty: Penalty,
    /// Confidence level of the limits, in (0, 1).
    pub level: f64,
}

impl Default for LogisticOptions {
    fn default() -> LogisticOptions {
        LogisticOptions {
            penalty: Penalty::None,
            level: 0.95,
        }
    }
}

/// What the reader of a fit must know.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "note")]
pub enum LogisticNote {
    /// A term left out because it does not vary or repeats the terms before it.
    Redundant {
        /// Name of the term.
        term: String,
    },
    /// A term whose likelihood rises for ever (separation); Firth's penalty keeps it finite.
    Separation {
        /// Name of the term.
        term: String,
    },
}

impl std::fmt::Display for LogisticNote {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            LogisticNote::Redundant { term } => write!(
                out,
                "{term} is left out: it does not vary, or repeats the terms before it"
            ),
            LogisticNote::Separation { term } => write!(
                out,
                "{term} has no finite estimate: the likelihood rises for ever (separation); Firth's penalty would keep it finite"
            ),
        }
    }
}

/// A fitted model: ln(p/(1-p)) = intercept + sum of coefficient times covariate.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LogisticFit {
    /// Settings in force.
    pub options: LogisticOptions,
    /// Rows of positive weight.
    pub n: usize,
    /// Those of them with the outcome.
    pub n_events: usize,
    /// Intercept, then log odds ratios for one unit. Limits are Wald's.
    pub terms: Vec<Term>,
    /// Inverse of the information (without the penalty) at the estimate.
    pub covariance: CoefficientCovariance,
    /// Sandwich with scores summed within clusters, no small-sample factor. Given where clusters or weights were.
    pub robust_covariance: Option<CoefficientCovariance>,
    /// Log likelihood at the estimate, penalty included (its limit under separation).
    pub log_likelihood: f64,
    /// Log likelihood of the intercept alone, its own penalty included.
    pub log_likelihood_null: f64,
    /// Twice the gain in log likelihood; not given with a penalty, where the two do not carry the same one, and not valid
    /// where rows depend on one another.
    pub likelihood_ratio_test: Option<ModelTest>,
    /// Fitted probability of each row, in row order, rows of weight 0 included.
    pub fitted: Vec<f64>,
    /// What the reader must know.
    pub notes: Vec<LogisticNote>,
}

/// Fits a logistic model by Newton's method.
///
/// # Errors
/// Columns of unequal length, a level outside (0, 1), rows that all have or all lack the outcome, a likelihood that does not
/// settle. Redundant columns and separation are said of the term; under separation the fitted values are those at the
/// place where less than 1e-8 was to be gained.
///
/// # Example
/// ```
/// use survival::regression::{BinaryOutcomes, Covariate, Covariates, LogisticOptions, logistic};
///
/// // 1 of 4 unexposed and 3 of 4 exposed: the log odds ratio is ln 9
/// let outcomes = BinaryOutcomes::new(vec![true, false, false, false, true, true, true, false])?;
/// let exposed = Covariate { name: "exposed".into(), values: vec![0.0, 0.0, 0.0, 0.0, 1.0, 1.0, 1.0, 1.0] };
/// let fit = logistic(&outcomes, &Covariates::new(8, vec![exposed])?, &LogisticOptions::default())?;
/// assert!(fit.terms[1].estimate.is_some_and(|estimate| (estimate - 9.0_f64.ln()).abs() < 1e-9));
/// # Ok::<(), survival::SurvivalError>(())
/// ```
pub fn logistic(
    outcomes: &BinaryOutcomes,
    covariates: &Covariates,
    options: &LogisticOptions,
) -> Result<LogisticFit, SurvivalError> {
    fit_with_offset(outcomes, covariates, None, options)
}

/// The same with a known part of the linear predictor, by row.
pub(crate) fn fit_with_offset(
    outcomes: &BinaryOutcomes,
    covariates: &Covariates,
    offset: Option<&[f64]>,
    options: &LogisticOptions,
) -> Result<LogisticFit, SurvivalError> {
    check_level(options.level)?;
    check_length("covariates", covariates.n_rows(), outcomes.len())?;
    let mut order = content_keys(outcomes, covariates, offset).order();
    order.retain(|&row| outcomes.weight_of(row as usize) > 0.0);
    let n_events = order
        .iter()
        .filter(|&&row| outcomes.has_outcome()[row as usize])
        .count();
    if n_events == 0 || n_events == order.len() {
        return Err(SurvivalError::OneOutcomeOnly);
    }
    let standardised = Standardised::of(covariates, &order, outcomes.weight());
    let nothing = Standardised::of(&Covariates::new(outcomes.len(), Vec::new())?, &order, None);
    let known = Known::of(outcomes, &order, offset);
    let rows = |covariates| Rows {
        outcomes,
        order: &order,
        covariates,
        known: &known,
        offset,
        penalty: options.penalty,
    };
    let null = settle(&rows(&nothing))?;
    let maximum = settle(&rows(&standardised))?;
    let fit = describe(
        &rows(&standardised),
        &maximum,
        null.at_maximum.value,
        covariates,
        options,
    );
    require_finite(
        [&fit.covariance].into_iter().chain(&fit.robust_covariance),
        &[fit.log_likelihood, fit.log_likelihood_null],
    )?;
    Ok(fit)
}

/// What the rows hold, so that no sum follows their order.
fn content_keys(
    outcomes: &BinaryOutcomes,
    covariates: &Covariates,
    offset: Option<&[f64]>,
) -> ContentKeys {
    let has_outcome: Vec<u32> = outcomes
        .has_outcome()
        .iter()
        .map(|&has_outcome| u32::from(has_outcome))
        .collect();
    let keys = [outcomes.weight(), offset]
        .into_iter()
        .flatten()
        .fold(ContentKeys::new(outcomes.len()), ContentKeys::with_numbers)
        .with_covariates(covariates.columns())
        .with_labels(&has_outcome);
    match outcomes.cluster() {
        Some(cluster) => keys.with_labels(cluster),
        None => keys,
    }
}

fn settle(rows: &Rows) -> Result<Maximum, SurvivalError> {
    let mut ranges = vec![1.0];
    ranges.extend(&rows.covariates.range);
    // with the penalty the steps are not quite Newton's
    let convergence = match rows.penalty {
        Penalty::None => Convergence::Quadratic,
        Penalty::Firth => Convergence::Linear,
    };
    let maximum = maximise(
        vec![0.0; rows.n_parameters()],
        &ranges,
        convergence,
        |parameters| rows.evaluate(parameters),
    );
    if maximum.has_converged {
        Ok(maximum)
    } else {
        Err(SurvivalError::NotSettled {
            n_iterations: maximum.n_iterations,
        })
    }
}

fn describe(
    rows: &Rows,
    maximum: &Maximum,
    log_likelihood_null: f64,
    covariates: &Covariates,
    options: &LogisticOptions,
) -> LogisticFit {
    let outcomes = rows.outcomes;
    let map = rows.covariates.with_intercept();
    let model = maximum.model_covariance();
    let is_robust = outcomes.cluster().is_some() || outcomes.weight().is_some();
    let robust = is_robust.then(|| {
        let clusters = ClusterIndex::of(outcomes.cluster(), outcomes.len(), rows.order);
        let scores = rows.weighted_scores(&maximum.coefficients);
        map.sandwich(&model.sandwich(&cluster_variance(&scores, rows.n_parameters(), &clusters)))
    });
    let mut names = vec![INTERCEPT.to_owned()];
    names.extend(covariates.names());
    let endless_step = maximum
        .endless_step
        .as_ref()
        .map(|step| map.times_vector(step));
    let terms = TermStates::new(
        names,
        estimability(
            &maximum.is_redundant,
            endless_step.as_deref(),
            &rows.covariates.ranges_with_intercept(),
        ),
    );
    let coefficients = map.times_vector(&maximum.coefficients);
    let covariance = map.sandwich(&model);
    let every_row: Vec<u32> = (0..outcomes.len() as u32).collect();
    let notes = terms.notes(
        |term| LogisticNote::Redundant { term },
        |term| LogisticNote::Separation { term },
    );
    LogisticFit {
        options: options.clone(),
        n: rows.order.len(),
        n_events: rows
            .order
            .iter()
            .filter(|&&row| outcomes.has_outcome()[row as usize])
            .count(),
        terms: terms.terms(&coefficients, &covariance, robust.as_ref(), options.level),
        covariance: terms.covariance(&covariance),
        robust_covariance: robust.map(|matrix| terms.covariance(&matrix)),
        log_likelihood: log_likelihood(rows, maximum),
        log_likelihood_null,
        likelihood_ratio_test: (options.penalty == Penalty::None).then(|| {
            ModelTest::of(
                maximum.likelihood_ratio(log_likelihood_null),
                maximum.n_estimable_from(1),
            )
        }),
        fitted: every_row
            .iter()
            .map(|&row| {
                let known = rows.offset.map_or(0.0, |offset| offset[row as usize]);
                let x = covariates
                    .columns()
                    .iter()
                    .map(|column| column.values[row as usize]);
                inverse_logit(
                    known
                        + coefficients[0]
                        + x.zip(&coefficients[1..])
                            .map(|(x, slope)| x * slope)
                            .sum::<f64>(),
                )
            })
            .collect(),
        notes: notes.collect(),
    }
}

/// The largest log likelihood, with the penalty of the model in the units of the input: the determinant of the information takes
/// up the scales.
fn log_likelihood(rows: &Rows, maximum: &Maximum) -> f64 {
    let value = maximum.at_maximum.value;
    if rows.penalty == Penalty::None {
        return value;
    }
    let scales = rows
        .covariates
        .scale
        .iter()
        .zip(maximum.is_redundant.iter().skip(1));
    let of_scales: f64 = scales
        .filter(|&(_, is_redundant)| !is_redundant)
        .map(|(scale, _)| scale.ln())
        .sum();
    value + of_scales
}

impl LogisticFit {
    /// Probability of the outcome for a row with these covariates; redundant columns take no part.
    ///
    /// # Errors
    /// A profile of another length, separation.
    pub fn probability(&self, profile: &[f64]) -> Result<f64, SurvivalError> {
        let n_expected = self.terms.len() - 1;
        if profile.len() != n_expected {
            return Err(SurvivalError::UnequalProfile {
                n_expected,
                n_found: profile.len(),
            });
        }
        if self.terms.iter().any(|term| {
            matches!(
                term.estimability,
                Estimability::GrowsWithoutBound | Estimability::FallsWithoutBound
            )
        }) {
            return Err(SurvivalError::NoFiniteEstimate);
        }
        let slopes = self.terms.iter().map(|term| term.estimate.unwrap_or(0.0));
        Ok(inverse_logit(
            slopes
                .zip(std::iter::once(&1.0).chain(profile))
                .map(|(slope, x)| slope * x)
                .sum(),
        ))
    }
}
