//! The earlier export that `check --earlier` names: its pipeline file, or what an earlier `check --json` printed.

use super::super::load::profiled;
use super::{files, month_after};
use crate::failure::Failure;
use crate::pipeline::{self, Pipeline};
use crate::progress::Progress;
use chrono::NaiveDate;
use outcomes::check::overview::FileOverview;
use serde::Deserialize;
use std::path::Path;

/// What is known of an earlier export.
#[derive(Debug, Deserialize)]
pub(super) struct Earlier {
    /// Its name in words; set by the reader.
    #[serde(default)]
    pub(super) name: String,
    /// Its files.
    pub(super) files: Vec<FileOverview>,
}

impl Earlier {
    /// The first day of the month after its last row.
    pub(super) fn next_month(&self) -> Option<NaiveDate> {
        let months = self.files.iter().flat_map(|file| &file.months);
        month_after(months.map(|month| month.month.as_str()).max()?)
    }
}

/// Reads an earlier export.
pub(super) fn read(path: &Path, now: &Pipeline) -> Result<Earlier, Failure> {
    let name = path
        .file_name()
        .map_or_else(String::new, |name| name.to_string_lossy().into_owned());
    let is_data = path
        .extension()
        .is_some_and(|extension| extension.eq_ignore_ascii_case("json"));
    let earlier = if is_data {
        from_json(path)?
    } else {
        from_pipeline(path, now)?
    };
    Ok(Earlier { name, ..earlier })
}

fn from_json(path: &Path) -> Result<Earlier, Failure> {
    let fault = |why: String| {
        Failure::with_hint(
            format!("{}: {why}", path.display()),
            "`--earlier` takes a pipeline file, or what `limbledger check PIPELINE --json` printed",
        )
    };
    let bytes = std::fs::read(path).map_err(|error| fault(error.to_string()))?;
    serde_json::from_slice(&bytes).map_err(|_| fault("is no check of an export".to_owned()))
}

fn from_pipeline(path: &Path, now: &Pipeline) -> Result<Earlier, Failure> {
    let pipeline = pipeline::read(path)?;
    let progress = Progress::start();
    // everything of an earlier export is earlier, whatever day divides this one
    let day = pipeline.horizon.cut_off.max(now.horizon.cut_off).succ_opt();
    let made = profiled(&pipeline, day.unwrap_or(NaiveDate::MAX), &progress);
    progress.finish();
    let (export, profiles) = made?;
    Ok(Earlier {
        name: String::new(),
        files: files(&export.accounts, profiles),
    })
}
