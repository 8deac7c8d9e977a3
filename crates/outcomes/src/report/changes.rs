//! What became of the figures of an earlier report, as data.

use super::MeasureResult;
use crate::coded;
use chrono::NaiveDate;
use schemars::JsonSchema;
use serde::Serialize;

coded! {
    /// Why a figure of an earlier report is another one now.
    pub enum Cause {
        /// The program computes it otherwise.
        ChangedProgram = "changed program",
        /// Rows dated up to the earlier cut-off were added, taken away or put right.
        CorrectedData = "corrected data",
        /// One of these two; the export of then is needed to tell which.
        CorrectedDataOrProgram = "corrected data or changed program",
        /// A rule has another value.
        ChangedSettings = "changed settings",
        /// Rows, deaths and procedures known only since.
        NewData = "new data",
        /// Several things differ, and without the export they cannot be told apart.
        NotToldApart = "cannot be told apart",
    }
}

/// What became of the figures of an earlier report.
#[derive(Debug, Clone, PartialEq, JsonSchema, Serialize)]
pub struct Changes {
    /// Reporting quarter of the earlier report.
    pub earlier_quarter: String,
    /// Its data cut-off.
    pub earlier_cut_off: NaiveDate,
    /// What changed, in sentences.
    pub sentences: Vec<String>,
    /// What is different between the two runs, a sentence each; empty when nothing is.
    pub differences: Vec<String>,
    /// Changed figures by measure and cause, in catalogue order.
    pub counts: Vec<ChangeCount>,
    /// Every figure that had a value then and has another now, in catalogue order.
    pub restatements: Vec<ChangedResult>,
    /// Every figure that could not be given then and can be now, or the other way round.
    pub others: Vec<ChangedResult>,
}

/// How many figures of one measure changed for one reason.
#[derive(Debug, Clone, PartialEq, Eq, JsonSchema, Serialize)]
pub struct ChangeCount {
    /// Id of the measure.
    pub measure: String,
    /// The causes, in the order in which they were tried: `corrected data, changed settings`.
    pub causes: String,
    /// Figures that had a value then and have another now.
    pub n_restated: u64,
    /// Figures that had none then and have one now.
    pub n_new: u64,
    /// Figures that have no value any more, or none for another reason.
    pub n_gone: u64,
}

/// One figure of the earlier report and what it is now.
#[derive(Debug, Clone, PartialEq, JsonSchema, Serialize)]
pub struct ChangedResult {
    /// The figure as printed then.
    pub before: MeasureResult,
    /// The figure now; none when it is not made any more.
    pub after: Option<MeasureResult>,
    /// Why, in the order in which the causes were tried.
    pub causes: Vec<Cause>,
}
