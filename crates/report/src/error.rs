//! Why a report could not be rendered.

use thiserror::Error;

/// Why a report could not be rendered.
#[derive(Debug, Error)]
pub enum RenderError {
    /// The parts of a figure do not fit together.
    #[error("figure `{figure}`: {reason}")]
    Figure {
        /// Id of the figure.
        figure: String,
        /// What does not fit, in words.
        reason: String,
    },
    /// The pages could not be set.
    #[error("the pages could not be set: {0}")]
    Pdf(String),
    /// The workbook could not be written.
    #[error("the workbook could not be written: {0}")]
    Workbook(String),
    /// A table could not be written as a data file.
    #[error("table `{table}` could not be written as {format}")]
    Data {
        /// Name of the table.
        table: String,
        /// Word of the format.
        format: &'static str,
    },
    /// The value could not be written as JSON.
    #[error("the report could not be written as JSON")]
    Json(#[from] serde_json::Error),
}
