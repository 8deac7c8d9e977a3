//! A first layout for an export that nobody has described yet: every line says how sure it is and why, and what is not
//! sure stays a comment. Nothing is guessed in silence, and no cell is written but codes that many rows share.

mod assign;
mod codes;
mod german;
mod judge;
mod leftover;
mod orders;
mod sample;
mod screened;
mod shape;
mod words;
mod write;

use crate::load::LoadError;
use std::path::PathBuf;

/// A file to be described.
#[derive(Debug, Clone)]
pub struct DraftFile {
    /// Its name, for messages.
    pub name: String,
    /// Where it is.
    pub path: PathBuf,
}

/// A layout to be finished by a person.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Draft {
    /// The layout file.
    pub text: String,
    /// Columns that look like what identifies a person: file, header, check.
    pub identifying: Vec<(String, String, &'static str)>,
    /// Lines that stand.
    pub n_sure: usize,
    /// Lines that are comments.
    pub n_left: usize,
    /// What each file holds, where the export has a file for each table.
    pub roles: Vec<(String, &'static str)>,
}

/// Drafts a layout from the first rows of some files.
///
/// # Errors
/// A file that cannot be read.
pub fn draft(files: &[DraftFile]) -> Result<Draft, LoadError> {
    let sampled = files
        .iter()
        .map(|file| sample::sample(&file.name, &file.path))
        .collect::<Result<Vec<_>, _>>()?;
    let plan = assign::assign(&sampled);
    let identifying = screened::identifying(&sampled, &plan);
    Ok(write::write(&sampled, plan, identifying))
}
