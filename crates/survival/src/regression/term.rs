//! What a regression says of each of its terms.

use serde::Serialize;

use crate::SurvivalError;
use crate::distribution::{Tail, chi_squared_probability, normal_multiplier, two_sided_p_value};
use crate::regression::{Cholesky, SquareMatrix};

/// The name under which an intercept is reported.
pub const INTERCEPT: &str = "(intercept)";

/// Whether the rows could estimate a coefficient.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Estimability {
    /// A finite estimate exists.
    Estimated,
    /// The column does not vary among the rows compared, or repeats a combination of the columns before it. It is left
    /// out; the other terms are those of the model without it.
    Redundant,
    /// The likelihood rises for ever as the coefficient grows (separation): the estimate is plus infinity.
    GrowsWithoutBound,
    /// The likelihood rises for ever as the coefficient falls (separation): the estimate is minus infinity.
    FallsWithoutBound,
}

/// One coefficient. Where it is not estimable every number is `None` and `estimability` says why.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Term {
    /// Name of the covariate.
    pub term: String,
    /// Coefficient for one unit of the covariate, on the log scale of the model.
    pub estimate: Option<f64>,
    /// Model-based standard error.
    pub std_error: Option<f64>,
    /// Standard error from influences summed within clusters, where clusters or weights were given.
    pub robust_std_error: Option<f64>,
    /// Lower limit, from the robust standard error where there is one.
    pub lower: Option<f64>,
    /// Upper limit.
    pub upper: Option<f64>,
    /// Two-sided Wald p-value, from the robust standard error where there is one.
    pub p_value: Option<f64>,
    /// Whether the rows could estimate it.
    pub estimability: Estimability,
}

/// Covariance matrix of the coefficients, rows and columns in the order of `terms`; zero for a term that is not estimable.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CoefficientCovariance {
    /// Names of rows and columns.
    pub terms: Vec<String>,
    /// The matrix by rows.
    pub rows: Vec<Vec<f64>>,
}

/// A chi-squared test of a model or of a part of it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ModelTest {
    /// Test statistic, 0 or more.
    pub statistic: f64,
    /// Degrees of freedom: the number of terms tested.
    pub df: usize,
    /// Upper tail probability; `None` with 0 degrees of freedom.
    pub p_value: Option<f64>,
}

impl ModelTest {
    pub(crate) fn of(statistic: f64, df: usize) -> ModelTest {
        let p_value = if df == 0 {
            None
        } else {
            chi_squared_probability(statistic.max(0.0), Tail::Upper, df as f64)
        };
        ModelTest {
            statistic,
            df,
            p_value,
        }
    }
}

/// The names of a fit's terms, and whether the rows could estimate each.
pub(crate) struct TermStates {
    names: Vec<String>,
    states: Vec<Estimability>,
}

impl TermStates {
    pub(crate) fn new(names: Vec<String>, states: Vec<Estimability>) -> Self {
        Self { names, states }
    }

    pub(crate) fn names(&self) -> &[String] {
        &self.names
    }

    /// A covariance matrix under these names.
    pub(crate) fn covariance(&self, matrix: &SquareMatrix) -> CoefficientCovariance {
        let is_known = |place: usize| self.states[place] == Estimability::Estimated;
        let cell = |row: usize, column: usize| {
            if is_known(row) && is_known(column) {
                matrix.get(row, column)
            } else {
                0.0
            }
        };
        let rows = (0..matrix.dimension)
            .map(|row| {
                (0..matrix.dimension)
                    .map(|column| cell(row, column))
                    .collect()
            })
            .collect();
        CoefficientCovariance {
            terms: self.names.clone(),
            rows,
        }
    }

    /// The terms from coefficients and covariances on the scale of the input.
    pub(crate) fn terms(
        &self,
        coefficients: &[f64],
        model_based: &SquareMatrix,
        robust: Option<&SquareMatrix>,
        level: f64,
    ) -> Vec<Term> {
        let multiplier = normal_multiplier(level);
        let one = |(position, (name, &state)): (usize, (&String, &Estimability))| {
            let keep = |value: f64| {
                (state == Estimability::Estimated && value.is_finite()).then_some(value)
            };
            let error_of =
                |matrix: &SquareMatrix| keep(matrix.get(position, position).max(0.0).sqrt());
            let estimate = keep(coefficients[position]);
            let std_error = error_of(model_based);
            let robust_std_error = robust.and_then(error_of);
            let in_use = robust_std_error.or(std_error);
            let reach = in_use
                .zip(multiplier)
                .map(|(std_error, multiplier)| std_error * multiplier);
            Term {
                term: name.clone(),
                estimate,
                std_error,
                robust_std_error,
                lower: estimate
                    .zip(reach)
                    .map(|(estimate, reach)| estimate - reach),
                upper: estimate
                    .zip(reach)
                    .map(|(estimate, reach)| estimate + reach),
                p_value: estimate
                    .zip(in_use)
                    .filter(|&(_, std_error)| std_error > 0.0)
                    .map(|(estimate, std_error)| two_sided_p_value(estimate / std_error)),
                estimability: state,
            }
        };
        self.names
            .iter()
            .zip(&self.states)
            .enumerate()
            .map(one)
            .collect()
    }

    /// A note for each term that could not be estimated, in the order of the terms.
    pub(crate) fn notes<N>(
        &self,
        redundant: impl Fn(String) -> N,
        separation: impl Fn(String) -> N,
    ) -> impl Iterator<Item = N> {
        let terms = self.names.iter().zip(&self.states);
        terms.filter_map(move |(name, state)| match state {
            Estimability::Estimated => None,
            Estimability::Redundant => Some(redundant(name.clone())),
            Estimability::GrowsWithoutBound | Estimability::FallsWithoutBound => {
                Some(separation(name.clone()))
            }
        })
    }
}

/// Quadratic form of the coefficients in the inverse of their covariance.
pub(crate) fn wald_test(
    coefficients: &[f64],
    covariance: &SquareMatrix,
    is_redundant: &[bool],
) -> ModelTest {
    let factor = Cholesky::of(covariance, 1e-12, is_redundant);
    let statistic = factor
        .solve(coefficients)
        .iter()
        .zip(coefficients)
        .map(|(a, b)| a * b)
        .sum();
    ModelTest::of(statistic, factor.rank())
}

/// Refuses a fit in which a number left the range of the numbers: covariates or weights of too different sizes.
pub(crate) fn require_finite<'a>(
    covariances: impl IntoIterator<Item = &'a CoefficientCovariance>,
    numbers: &[f64],
) -> Result<(), SurvivalError> {
    let mut cells = covariances
        .into_iter()
        .flat_map(|covariance| covariance.rows.iter().flatten());
    if cells.all(|cell| cell.is_finite()) && numbers.iter().all(|number| number.is_finite()) {
        Ok(())
    } else {
        Err(SurvivalError::OutOfRange)
    }
}
