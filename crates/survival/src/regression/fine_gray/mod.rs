//! Regression of a cumulative incidence through its sub-distribution hazard (Fine and Gray, JASA 1999;94:496-509).

mod observation;
mod predict;
mod risk_sets;
mod variance;

use serde::Serialize;

use crate::distribution::check_level;
use crate::regression::cox::sweep::partial_likelihood;
use crate::regression::cox::{Arranged, EmptiedRiskSets, Ties, emptied_risk_sets};
use crate::regression::{
    CoefficientCovariance, Convergence, Covariates, Maximum, ModelTest, SquareMatrix, Term,
    TermStates, cluster_variance, estimability, maximise, require_finite,
};
use crate::{Sample, SurvivalError};
pub use predict::{PredictedIncidence, SubdistributionStep};
use risk_sets::Subdistribution;
use variance::scores;

/// Who is at risk of being censored at a time when events happen too. It moves the weights only where censorings and events
/// share a time.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum CensoringOrder {
    /// Events come first: those with an event at the time are no longer at risk of being censored. The order in force
    /// everywhere else in this crate.
    #[default]
    EventsFirst,
    /// Everyone who reaches the time is at risk of being censored, as in the software of the method's authors.
    Together,
}

/// Which of the two sandwich variances the terms carry.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum WeightVariance {
    /// With the term for the estimated censoring distribution (Fine and Gray 1999, eq. 7 and 8).
    #[default]
    Estimated,
    /// With the weights taken as known.
    Known,
}

/// Settings of a sub-distribution model.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FineGrayOptions {
    /// The cause of interest; every other cause competes.
    pub cause: u32,
    /// Treatment of tied events of interest; `Exact` is not defined.
    pub ties: Ties,
    /// Order of censorings and events at one time.
    pub censoring_order: CensoringOrder,
    /// Variance the terms carry; the fit holds both.
    pub weight_variance: WeightVariance,
    /// Confidence level of the limits, in (0, 1).
    pub level: f64,
}

impl Default for FineGrayOptions {
    fn default() -> FineGrayOptions {
        FineGrayOptions {
            cause: 1,
            ties: Ties::Breslow,
            censoring_order: CensoringOrder::EventsFirst,
            weight_variance: WeightVariance::Estimated,
            level: 0.95,
        }
    }
}

/// What the reader of a fit must know.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "note")]
pub enum FineGrayNote {
    /// Delayed entry leaves nobody at risk for a while, before any competing event.
    RiskSetsEmptied(EmptiedRiskSets),
    /// Rows at risk at no time, or of no weight: counted here and nowhere else.
    NeverAtRisk {
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
    /// No competing event: the model is the proportional hazards model of the cause.
    NothingCompetes,
    /// Delayed entry: the terms carry the variance with the weights taken as known, the only one worked out for it.
    WeightsTakenAsKnown,
}

impl std::fmt::Display for FineGrayNote {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            FineGrayNote::RiskSetsEmptied(emptied) => emptied.fmt(out),
            FineGrayNote::NeverAtRisk { n_rows } => write!(
                out,
                "{n_rows} rows are never at risk: empty follow-up or no weight"
            ),
            FineGrayNote::Redundant { term } => write!(
                out,
                "{term} is left out: it does not vary, or repeats the terms before it"
            ),
            FineGrayNote::Separation { term } => write!(
                out,
                "{term} has no finite estimate: the likelihood rises for ever (separation)"
            ),
            FineGrayNote::NothingCompetes => out.write_str(
                "no competing event: the model is the proportional hazards model of the cause",
            ),
            FineGrayNote::WeightsTakenAsKnown => out.write_str(
                "with delayed entry the standard errors take the weights for censoring and entry as known",
            ),
        }
    }
}

/// A fitted model. A coefficient is the log ratio of sub-distribution hazards for one unit: its sign is that of the effect on
/// the cumulative incidence, its size has no simple reading. The log likelihoods are those of weighted rows: no test of their
/// difference is given.
#[derive(Debug, Clone, Serialize)]
pub struct FineGrayFit {
    /// Settings in force.
    pub options: FineGrayOptions,
    /// Rows used.
    pub n: usize,
    /// Rows with the event of interest.
    pub n_events: usize,
    /// Rows with a competing event.
    pub n_competing: usize,
    /// The coefficients; `robust_std_error` is by `options.weight_variance`.
    pub terms: Vec<Term>,
    /// Inverse of the information: too small, since the weighted rows are not independent. Given for comparison.
    pub covariance: CoefficientCovariance,
    /// Sandwich with the weights taken as known, summed within clusters where clusters were given.
    pub covariance_weights_known: CoefficientCovariance,
    /// Sandwich with the term for the estimated censoring distribution, summed within clusters where clusters were given; `None`
    /// with delayed entry.
    pub covariance_weights_estimated: Option<CoefficientCovariance>,
    /// Weighted log partial likelihood at the estimate.
    pub log_likelihood: f64,
    /// The same with all coefficients 0.
    pub log_likelihood_null: f64,
    /// Wald test by `options.weight_variance`; `None` under separation.
    pub wald_test: Option<ModelTest>,
    /// Newton steps.
    pub n_iterations: usize,
    /// What the reader must know.
    pub notes: Vec<FineGrayNote>,
    #[serde(skip)]
    subdistribution: Subdistribution,
    #[serde(skip)]
    coefficients: Vec<f64>,
    /// On the scale of the standardised covariates.
    #[serde(skip)]
    covariance_in_use: SquareMatrix,
}

/// Fits a sub-distribution hazard model to competing risks. Time in proportion to the rows, after the sort.
///
/// Each stratum has a baseline of its own and estimates of its own of censoring and entry. With delayed entry whoever is gone by a
/// competing event keeps the weight of Geskus (Biometrics 2011;67:39-49), G(t-)H(t-)/(G(X-)H(X-)): as others enter, it rises; the
/// terms then carry the variance with the weights taken as known. Case weights count in those estimates too, so that a row of
/// weight 2 equals the row given twice.
///
/// # Errors
/// Columns of unequal length, no event of the cause, a level outside (0, 1), exact ties, a likelihood that
/// does not settle; `RiskSetEmpties` when nobody is at risk between a competing event and a later event of the cause. Redundant columns and separation are said of the term.
pub fn fine_gray(
    sample: &Sample,
    covariates: &Covariates,
    stratum: Option<&[u32]>,
    options: &FineGrayOptions,
) -> Result<FineGrayFit, SurvivalError> {
    check_level(options.level)?;
    if options.ties == Ties::Exact {
        return Err(SurvivalError::NotDefined {
            choice: "the exact likelihood of ties",
            estimator: "the sub-distribution hazard model",
        });
    }
    let arranged = Arranged::of(sample, covariates, stratum, Some(options.cause))?;
    let emptied = emptied_risk_sets(&arranged, sample);
    let subdistribution = Subdistribution::of(arranged, sample, options.censoring_order)?;
    let start = vec![0.0; subdistribution.arranged.n_terms()];
    let maximum = maximise(
        start,
        &subdistribution.arranged.covariates.range,
        Convergence::Quadratic,
        |coefficients| partial_likelihood(&subdistribution, options.ties.sharing(), coefficients),
    );
    if !maximum.has_converged {
        return Err(SurvivalError::NotSettled {
            n_iterations: maximum.n_iterations,
        });
    }
    let mut fit = describe(subdistribution, &maximum, covariates.names(), options);
    fit.notes.extend(emptied.map(FineGrayNote::RiskSetsEmptied));
    require_finite(
        [&fit.covariance, &fit.covariance_weights_known]
            .into_iter()
            .chain(&fit.covariance_weights_estimated),
        &[fit.log_likelihood, fit.log_likelihood_null],
    )?;
    Ok(fit)
}

fn describe(
    subdistribution: Subdistribution,
    maximum: &Maximum,
    names: Vec<String>,
    options: &FineGrayOptions,
) -> FineGrayFit {
    let arranged = &subdistribution.arranged;
    let standardised = &arranged.covariates;
    let terms = TermStates::new(
        names,
        estimability(
            &maximum.is_redundant,
            maximum.endless_step.as_deref(),
            &standardised.range,
        ),
    );
    let model = maximum.model_covariance();
    let scores = scores(
        &subdistribution,
        options.ties.sharing(),
        &maximum.coefficients,
    );
    let sandwich = |scores: &[f64]| {
        model.sandwich(&cluster_variance(
            scores,
            arranged.n_terms(),
            &arranged.clusters,
        ))
    };
    let known = sandwich(&scores.weights_known);
    let estimated = scores.weights_estimated.as_deref().map(sandwich);
    let (weight_variance, in_use) = match (options.weight_variance, &estimated) {
        (WeightVariance::Estimated, Some(estimated)) => (WeightVariance::Estimated, estimated),
        _ => (WeightVariance::Known, &known),
    };
    let model_scaled = standardised.covariance(&model);
    let covariance_of = |matrix| terms.covariance(&standardised.covariance(matrix));
    let n_competing = subdistribution
        .is_competing
        .iter()
        .filter(|&&is_competing| is_competing)
        .count();
    let mut notes = Vec::new();
    if arranged.n_never_at_risk > 0 {
        notes.push(FineGrayNote::NeverAtRisk {
            n_rows: arranged.n_never_at_risk,
        });
    }
    notes.extend(terms.notes(
        |term| FineGrayNote::Redundant { term },
        |term| FineGrayNote::Separation { term },
    ));
    if n_competing == 0 {
        notes.push(FineGrayNote::NothingCompetes);
    }
    if weight_variance != options.weight_variance {
        notes.push(FineGrayNote::WeightsTakenAsKnown);
    }
    FineGrayFit {
        options: FineGrayOptions {
            weight_variance,
            ..options.clone()
        },
        n: arranged.len(),
        n_events: arranged
            .is_event
            .iter()
            .filter(|&&is_event| is_event)
            .count(),
        n_competing,
        terms: terms.terms(
            &standardised.coefficients(&maximum.coefficients),
            &model_scaled,
            Some(&standardised.covariance(in_use)),
            options.level,
        ),
        covariance: terms.covariance(&model_scaled),
        covariance_weights_known: covariance_of(&known),
        covariance_weights_estimated: estimated.as_ref().map(covariance_of),
        log_likelihood: maximum.at_maximum.value,
        log_likelihood_null: maximum.start.value,
        wald_test: maximum.wald_test(in_use),
        n_iterations: maximum.n_iterations,
        notes,
        coefficients: maximum.coefficients.clone(),
        covariance_in_use: in_use.clone(),
        subdistribution,
    }
}
