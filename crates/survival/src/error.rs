//! What can be wrong with the columns or the settings handed to an estimator.

use thiserror::Error;

/// Why an estimate was refused. Rows are counted from 1; no value of a cell is ever shown.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum SurvivalError {
    /// There is no row at all.
    #[error("there are no rows to estimate from")]
    NoRows,
    /// More rows than a row number can count.
    #[error("there are {n_rows} rows; at most 4294967294 can be handled")]
    TooManyRows {
        /// Rows given.
        n_rows: usize,
    },
    /// A column is shorter or longer than the column of exit times.
    #[error("column `{column}` has {n_found} rows where {n_expected} were expected")]
    UnequalColumns {
        /// Name of the column.
        column: &'static str,
        /// Rows of the exit column.
        n_expected: usize,
        /// Rows of this column.
        n_found: usize,
    },
    /// A number that is missing, infinite or not a number.
    #[error("column `{column}`, row {row}: not a finite number")]
    NotFinite {
        /// Name of the column.
        column: &'static str,
        /// Row, from 1.
        row: usize,
    },
    /// A time or a weight below zero.
    #[error("column `{column}`, row {row}: below zero")]
    Negative {
        /// Name of the column.
        column: &'static str,
        /// Row, from 1.
        row: usize,
    },
    /// Follow-up that ends before it begins.
    #[error("row {row}: exit lies before entry")]
    ExitBeforeEntry {
        /// Row, from 1.
        row: usize,
    },
    /// An event on the very time of a delayed entry: nobody is at risk there, since follow-up is (entry, exit].
    #[error("row {row}: an event at the time of entry, when the row is not yet at risk")]
    EventAtEntry {
        /// Row, from 1.
        row: usize,
    },
    /// Two rows of one subject cover the same time.
    #[error("row {row}: begins before an earlier row of the same subject ends")]
    OverlappingRows {
        /// The later row, from 1.
        row: usize,
    },
    /// A row of a subject begins in another state than the one before it left the subject in.
    #[error("row {row}: begins in another state than the row before it ended in")]
    StateWithoutTransition {
        /// The later row, from 1.
        row: usize,
    },
    /// A row of a subject after an event that ends observation.
    #[error("row {row}: follows an event that ends the observation of its subject")]
    RowAfterEnd {
        /// The later row, from 1.
        row: usize,
    },
    /// All weights are zero.
    #[error("all weights are zero")]
    NoWeight,
    /// A confidence level outside (0, 1).
    #[error("the confidence level must lie between 0 and 1, both excluded")]
    LevelOutOfRange,
    /// Limits or a variance that this estimator does not define.
    #[error("{choice} is not defined for {estimator}")]
    NotDefined {
        /// The setting asked for.
        choice: &'static str,
        /// The estimator.
        estimator: &'static str,
    },
    /// A setting outside its range.
    #[error("`{setting}` {rule}")]
    SettingOutOfRange {
        /// Name of the setting.
        setting: &'static str,
        /// What it must be.
        rule: &'static str,
    },
    /// A chance outside [0, 1].
    #[error("column `{column}`, row {row}: not a probability between 0 and 1")]
    NotAProbability {
        /// Name of the column.
        column: &'static str,
        /// Row, from 1.
        row: usize,
    },
    /// A count above the number it was counted among.
    #[error("column `{column}`, row {row}: exceeds its denominator")]
    AboveDenominator {
        /// Name of the column.
        column: &'static str,
        /// Row, from 1.
        row: usize,
    },
    /// Fewer usable values than the method needs.
    #[error("{n_found} usable values where at least {n_needed} are needed")]
    TooFewValues {
        /// Usable values.
        n_found: usize,
        /// Values needed.
        n_needed: usize,
    },
    /// No row has the event, so nothing can be compared.
    #[error("no row has the event")]
    NoEvents,
    /// A covariate is shorter or longer than the columns it explains.
    #[error("covariate `{term}` has {n_found} rows where {n_expected} were expected")]
    UnequalCovariate {
        /// Name of the covariate.
        term: String,
        /// Rows of the outcome.
        n_expected: usize,
        /// Rows of this covariate.
        n_found: usize,
    },
    /// A covariate value that is missing, infinite or not a number.
    #[error("covariate `{term}`, row {row}: not a finite number")]
    CovariateNotFinite {
        /// Name of the covariate.
        term: String,
        /// Row, from 1.
        row: usize,
    },
    /// Two covariates of one name.
    #[error("covariate `{term}` is given twice")]
    RepeatedTerm {
        /// Name of the covariate.
        term: String,
    },
    /// A name that no covariate of the model has.
    #[error("the model has no covariate `{term}`")]
    UnknownTerm {
        /// Name asked for.
        term: String,
    },
    /// A covariate profile of the wrong length.
    #[error("a profile has {n_found} values where the model has {n_expected} covariates")]
    UnequalProfile {
        /// Covariates of the model.
        n_expected: usize,
        /// Values given.
        n_found: usize,
    },
    /// A risk set that empties although rows enter later, where an estimate must reach across the gap.
    #[error(
        "nobody is at risk for a while after a competing event, although rows enter and have the event later: start at a later time"
    )]
    RiskSetEmpties,
    /// Ties so large that the exact likelihood cannot be summed.
    #[error("too many tied events for the exact likelihood")]
    TiesTooLarge,
    /// The likelihood did not settle.
    #[error("the likelihood did not settle within {n_iterations} iterations")]
    NotSettled {
        /// Iterations made.
        n_iterations: usize,
    },
    /// A quantity that needs finite coefficients, asked of a fit whose likelihood rises for ever.
    #[error("a covariate separates the rows: the coefficient has no finite estimate")]
    NoFiniteEstimate,
    /// An interval that ends before it begins.
    #[error("row {row}: the upper end lies below the lower")]
    UpperBelowLower {
        /// Row, from 1.
        row: usize,
    },
    /// A chance of 0 or 1 that leaves a row without a counterpart in the other group.
    #[error(
        "row {row}: its modelled chance leaves it without counterpart in the other group, so its weight is infinite"
    )]
    NoOverlap {
        /// Row, from 1.
        row: usize,
    },
    /// A time of exactly 0, which has no logarithm.
    #[error("row {row}: an event at time 0 cannot enter a model of the log time")]
    EventAtOrigin {
        /// Row, from 1.
        row: usize,
    },
    /// Rows that fit without scatter, or that say nothing of it.
    #[error("the rows do not determine the level and the scale of the times")]
    ScaleNotEstimable,
    /// Rows that are all alike in the outcome.
    #[error("all rows have the outcome, or none has it")]
    OneOutcomeOnly,
    /// Times of one subject that do not ascend or leave its observation.
    #[error("history {history}: times must ascend and lie after entry and not after exit")]
    HistoryOutOfOrder {
        /// Subject or row, from 1.
        history: usize,
    },
    /// Columns of such different sizes that sums leave the range of the numbers.
    #[error("the values are of too different sizes to be reckoned with")]
    OutOfRange,
}

impl SurvivalError {
    /// The row it speaks of, from 1, among the rows given to the estimator.
    pub fn row(&self) -> Option<usize> {
        match self {
            SurvivalError::NotFinite { row, .. }
            | SurvivalError::Negative { row, .. }
            | SurvivalError::ExitBeforeEntry { row }
            | SurvivalError::EventAtEntry { row }
            | SurvivalError::OverlappingRows { row }
            | SurvivalError::StateWithoutTransition { row }
            | SurvivalError::RowAfterEnd { row }
            | SurvivalError::NotAProbability { row, .. }
            | SurvivalError::AboveDenominator { row, .. }
            | SurvivalError::CovariateNotFinite { row, .. }
            | SurvivalError::UpperBelowLower { row }
            | SurvivalError::NoOverlap { row }
            | SurvivalError::EventAtOrigin { row } => Some(*row),
            _ => None,
        }
    }

    /// Whether a setting is wrong, rather than the data.
    pub fn is_of_settings(&self) -> bool {
        matches!(
            self,
            SurvivalError::LevelOutOfRange
                | SurvivalError::NotDefined { .. }
                | SurvivalError::SettingOutOfRange { .. }
                | SurvivalError::RepeatedTerm { .. }
                | SurvivalError::UnknownTerm { .. }
        )
    }
}
