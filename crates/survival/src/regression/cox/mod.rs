//! Proportional hazards regression (Cox, JRSS B 1972;34:187-220).
//!
//! Follow-up is (entry, exit], so that time-dependent covariates are several rows of one subject, each with the values in
//! force. At equal times events come before censorings, and a row that enters at an event time is not yet at risk.

mod arrange;
mod baseline;
mod exact;
mod gaps;
pub(crate) mod influence;
mod predict;
mod proportionality;
mod residuals;
mod slots;
pub(crate) mod sweep;

use serde::Serialize;

pub use baseline::{Baseline, BaselineStep};
pub use gaps::EmptiedRiskSets;
pub(crate) use gaps::emptied_risk_sets;
pub use predict::{HazardCurve, HazardPoint};
pub use proportionality::{ProportionalityTest, TermTest, TimeTransform};
pub use residuals::{CoxResiduals, EventResidual};

use crate::distribution::check_level;
use crate::regression::moments::Sharing;
use crate::regression::{
    Cholesky, CoefficientCovariance, Convergence, Covariates, Estimability, Maximum, ModelTest,
    SquareMatrix, Term, TermStates, estimability, maximise, require_finite,
};
use crate::{Sample, SurvivalError};
pub(crate) use arrange::{Arranged, Part};

/// What to do with events tied at one time.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Ties {
    /// Efron's approximation (JASA 1977;72:557-565): close to the exact likelihood at the price of the plain one.
    #[default]
    Efron,
    /// Breslow's approximation (Biometrics 1974;30:89-99). The only one under which a row repeated equals a row of weight 2.
    Breslow,
    /// The exact likelihood of truly discrete times (Cox 1972, section 6). No weights, no clusters, no baseline.
    Exact,
}

/// Settings of a proportional hazards model.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CoxOptions {
    /// Treatment of ties.
    pub ties: Ties,
    /// Confidence level of the limits, in (0, 1).
    pub level: f64,
    /// The cause that is the event, every other being censored (a cause-specific hazard); `None`: any cause.
    pub cause: Option<u32>,
}

impl Default for CoxOptions {
    fn default() -> CoxOptions {
        CoxOptions {
            ties: Ties::Efron,
            level: 0.95,
            cause: None,
        }
    }
}

/// What the reader of a fit must know.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "note")]
pub enum CoxNote {
    /// Delayed entry leaves nobody at risk for a while.
    RiskSetsEmptied(EmptiedRiskSets),
    /// Rows that enter and leave at one time are at risk at no time; they are counted here and nowhere else.
    NeverAtRisk {
        /// Number of such rows.
        n_rows: usize,
    },
    /// A term left out because it does not vary among the rows compared or repeats the terms before it.
    Redundant {
        /// Name of the term.
        term: String,
    },
    /// A term whose likelihood rises for ever (separation).
    Separation {
        /// Name of the term.
        term: String,
    },
    /// Fewer clusters than twice the terms: the robust variance is unreliable (common practice, no source).
    FewClusters {
        /// Clusters with a row at risk.
        n_clusters: usize,
    },
}

impl std::fmt::Display for CoxNote {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            CoxNote::RiskSetsEmptied(emptied) => emptied.fmt(out),
            CoxNote::NeverAtRisk { n_rows } => write!(
                out,
                "{n_rows} rows are never at risk: empty follow-up or no weight"
            ),
            CoxNote::Redundant { term } => write!(
                out,
                "{term} is left out: it does not vary among the rows compared, or repeats the terms before it"
            ),
            CoxNote::Separation { term } => write!(
                out,
                "{term} has no finite estimate: the likelihood rises for ever (separation)"
            ),
            CoxNote::FewClusters { n_clusters } => write!(
                out,
                "{n_clusters} clusters are few for so many terms: the robust variance is unreliable"
            ),
        }
    }
}

/// A fitted model. `score_test` and `likelihood_ratio_test` are model-based and not valid where rows of one cluster depend on
/// one another; `wald_test` is then the robust one and [`CoxFit::robust_score_test`] goes with it.
#[derive(Debug, Clone, Serialize)]
pub struct CoxFit {
    /// Settings in force.
    pub options: CoxOptions,
    /// Rows used.
    pub n: usize,
    /// Rows with the event.
    pub n_events: usize,
    /// Clusters, where clusters were given.
    pub n_clusters: Option<usize>,
    /// The coefficients: log hazard ratios for one unit.
    pub terms: Vec<Term>,
    /// Inverse of the observed information.
    pub covariance: CoefficientCovariance,
    /// Infinitesimal jackknife: influences summed within clusters, without a small-sample factor (Lin and Wei, JASA
    /// 1989;84:1074-1078, eq. 2.4). Given where clusters or weights were.
    pub robust_covariance: Option<CoefficientCovariance>,
    /// Log partial likelihood at the estimate (its limit under separation).
    pub log_likelihood: f64,
    /// Log partial likelihood with all coefficients 0.
    pub log_likelihood_null: f64,
    /// Twice the gain in log likelihood.
    pub likelihood_ratio_test: ModelTest,
    /// Score test at coefficients 0.
    pub score_test: ModelTest,
    /// Wald test, robust where there is a robust covariance; `None` under separation.
    pub wald_test: Option<ModelTest>,
    /// Wald test from the model-based covariance; `None` under separation.
    pub model_based_wald_test: Option<ModelTest>,
    /// Newton steps.
    pub n_iterations: usize,
    /// What the reader must know.
    pub notes: Vec<CoxNote>,
    #[serde(skip)]
    pub(crate) arranged: Arranged,
    /// On the scale of the standardised covariates.
    #[serde(skip)]
    pub(crate) coefficients: Vec<f64>,
    #[serde(skip)]
    pub(crate) model_covariance: SquareMatrix,
    #[serde(skip)]
    pub(crate) covariance_in_use: SquareMatrix,
}

/// Fits a proportional hazards model. Weights, delayed entry and clusters come with the sample; each stratum has a baseline
/// hazard of its own.
///
/// # Errors
/// Columns of unequal length, no event, a confidence level outside (0, 1), exact ties with weights, clusters or too many
/// tied events, a likelihood that does not settle. A redundant column and separation are no errors: they are said of the
/// term and in the notes.
///
/// # Example
/// ```
/// use survival::Sample;
/// use survival::regression::{Covariate, Covariates, cox::{CoxOptions, cox}};
///
/// let sample = Sample::new(vec![1.0, 2.0, 3.0, 4.0], vec![1, 1, 0, 1])?;
/// let treated = Covariate { name: "treated".into(), values: vec![0.0, 1.0, 1.0, 0.0] };
/// let fit = cox(&sample, &Covariates::new(4, vec![treated])?, None, &CoxOptions::default())?;
/// assert_eq!(fit.n_events, 3);
/// # Ok::<(), survival::SurvivalError>(())
/// ```
pub fn cox(
    sample: &Sample,
    covariates: &Covariates,
    stratum: Option<&[u32]>,
    options: &CoxOptions,
) -> Result<CoxFit, SurvivalError> {
    check_level(options.level)?;
    let arranged = Arranged::of(sample, covariates, stratum, options.cause)?;
    let is_robust = sample.cluster().is_some() || sample.weight().is_some();
    if options.ties == Ties::Exact {
        if is_robust {
            return Err(SurvivalError::NotDefined {
                choice: "a weight or a cluster",
                estimator: "the exact likelihood of ties",
            });
        }
        exact::check_size(&arranged)?;
    }
    let start = vec![0.0; arranged.n_terms()];
    // kept on the way where many rows share few times, so that it costs little
    let is_kept = is_robust && MANY_ROWS_A_TIME * arranged.slots.len() <= arranged.len();
    let mut kept = None;
    let maximum = maximise(
        start,
        &arranged.covariates.range,
        Convergence::Quadratic,
        |coefficients| match options.ties {
            Ties::Exact => exact::exact_likelihood(&arranged, coefficients),
            Ties::Efron | Ties::Breslow => {
                let sharing = options.ties.sharing();
                let (evaluation, met) =
                    sweep::partial_likelihood_keeping(&arranged, sharing, coefficients, is_kept);
                kept = met;
                evaluation
            }
        },
    );
    if !maximum.start.value.is_finite() {
        return Err(SurvivalError::TiesTooLarge);
    }
    if !maximum.has_converged {
        return Err(SurvivalError::NotSettled {
            n_iterations: maximum.n_iterations,
        });
    }
    let kept = (is_robust, kept);
    let fit = describe(sample, covariates, options, arranged, &maximum, kept);
    require_finite(
        [&fit.covariance].into_iter().chain(&fit.robust_covariance),
        &[
            fit.log_likelihood,
            fit.log_likelihood_null,
            fit.score_test.statistic,
        ],
    )?;
    Ok(fit)
}

/// Rows for each time from which a pass may keep what it meets.
const MANY_ROWS_A_TIME: usize = 8;

fn describe(
    sample: &Sample,
    covariates: &Covariates,
    options: &CoxOptions,
    arranged: Arranged,
    maximum: &Maximum,
    (is_robust, kept): (bool, Option<sweep::Kept>),
) -> CoxFit {
    let terms = TermStates::new(
        covariates.names(),
        estimability(
            &maximum.is_redundant,
            maximum.endless_step.as_deref(),
            &arranged.covariates.range,
        ),
    );
    let sharing = options.ties.sharing();
    let model_covariance = maximum.model_covariance();
    let robust = is_robust.then(|| {
        let coefficients = &maximum.coefficients;
        influence::robust_covariance(&arranged, sharing, coefficients, kept, &model_covariance)
    });
    let covariance_in_use = robust.clone().unwrap_or_else(|| model_covariance.clone());
    let model_based = arranged.covariates.covariance(&model_covariance);
    let robust_scaled = robust
        .as_ref()
        .map(|matrix| arranged.covariates.covariance(matrix));
    let n_tested = maximum.n_estimable_from(0);
    let n_clusters = sample.cluster().map(|_| arranged.clusters.n_with_rows());
    CoxFit {
        options: options.clone(),
        n: arranged.len(),
        n_events: arranged
            .is_event
            .iter()
            .filter(|&&is_event| is_event)
            .count(),
        n_clusters,
        terms: terms.terms(
            &arranged.covariates.coefficients(&maximum.coefficients),
            &model_based,
            robust_scaled.as_ref(),
            options.level,
        ),
        covariance: terms.covariance(&model_based),
        robust_covariance: robust_scaled
            .as_ref()
            .map(|matrix| terms.covariance(matrix)),
        log_likelihood: maximum.at_maximum.value,
        log_likelihood_null: maximum.start.value,
        likelihood_ratio_test: ModelTest::of(
            maximum.likelihood_ratio(maximum.start.value),
            n_tested,
        ),
        score_test: ModelTest::of(score_at_start(maximum), n_tested),
        wald_test: maximum.wald_test(&covariance_in_use),
        model_based_wald_test: maximum.wald_test(&model_covariance),
        n_iterations: maximum.n_iterations,
        notes: notes(&terms, &arranged, sample, n_clusters),
        coefficients: maximum.coefficients.clone(),
        model_covariance,
        covariance_in_use,
        arranged,
    }
}

/// Quadratic form of the gradient at the start in the inverse of the information there.
fn score_at_start(maximum: &Maximum) -> f64 {
    let start = Cholesky::of(&maximum.start.information, 0.0, &maximum.is_redundant);
    start
        .solve(&maximum.start.gradient)
        .iter()
        .zip(&maximum.start.gradient)
        .map(|(a, b)| a * b)
        .sum()
}

fn notes(
    terms: &TermStates,
    arranged: &Arranged,
    sample: &Sample,
    n_clusters: Option<usize>,
) -> Vec<CoxNote> {
    let emptied = emptied_risk_sets(arranged, sample).map(CoxNote::RiskSetsEmptied);
    let mut notes: Vec<CoxNote> = emptied.into_iter().collect();
    if arranged.n_never_at_risk > 0 {
        notes.push(CoxNote::NeverAtRisk {
            n_rows: arranged.n_never_at_risk,
        });
    }
    notes.extend(terms.notes(
        |term| CoxNote::Redundant { term },
        |term| CoxNote::Separation { term },
    ));
    if let Some(n_clusters) = n_clusters.filter(|&n_clusters| n_clusters < 2 * terms.names().len())
    {
        notes.push(CoxNote::FewClusters { n_clusters });
    }
    notes
}

impl Ties {
    pub(crate) fn sharing(self) -> Sharing {
        match self {
            Ties::Efron => Sharing::Shrinking,
            Ties::Breslow | Ties::Exact => Sharing::Whole,
        }
    }
}

impl CoxFit {
    /// Whether every term that varies has a finite estimate.
    pub fn has_finite_estimates(&self) -> bool {
        self.terms.iter().all(|term| {
            matches!(
                term.estimability,
                Estimability::Estimated | Estimability::Redundant
            )
        })
    }

    /// Score test at coefficients 0 with the variance of the score summed within clusters, valid where rows of one cluster
    /// depend on one another (Lin and Wei, JASA 1989;84:1074-1078). Without clusters each row is its own.
    ///
    /// # Errors
    /// The exact likelihood of ties.
    pub fn robust_score_test(&self) -> Result<ModelTest, SurvivalError> {
        if self.options.ties == Ties::Exact {
            return Err(SurvivalError::NotDefined {
                choice: "a robust test",
                estimator: "the exact likelihood of ties",
            });
        }
        let is_redundant: Vec<bool> = self
            .terms
            .iter()
            .map(|term| term.estimability == Estimability::Redundant)
            .collect();
        Ok(influence::robust_score_test(
            &self.arranged,
            self.sharing(),
            &is_redundant,
        ))
    }

    /// What rests on the baseline hazard needs finite coefficients and a likelihood with a baseline.
    fn require_baseline(&self) -> Result<(), SurvivalError> {
        if self.options.ties == Ties::Exact {
            return Err(SurvivalError::NotDefined {
                choice: "a baseline or a residual",
                estimator: "the exact likelihood of ties",
            });
        }
        if self.has_finite_estimates() {
            Ok(())
        } else {
            Err(SurvivalError::NoFiniteEstimate)
        }
    }

    fn sharing(&self) -> Sharing {
        self.options.ties.sharing()
    }
}
