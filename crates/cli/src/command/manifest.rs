//! What a run was made from and what it made: for the report, and for `manifest.json`.

use super::PROGRAM;
use super::load::Export;
use crate::inert::for_cell;
use crate::pipeline::Pipeline;
use crate::run_folder::{Output, sha256};
use intake::{CodeTableVersion, FileDigest, code_table_versions};
use outcomes::finding::FileAccount;
use outcomes::report::{Audience, Provenance};
use outcomes::rules::{DeclaredDates, Rules};
use serde::Serialize;
use std::collections::BTreeMap;
use std::path::Path;

/// What made a report, as the report says it.
pub(super) fn provenance(pipeline: &Pipeline, export: &Export) -> Provenance {
    let inputs = export
        .accounts
        .iter()
        .zip(&export.digests)
        .map(|(account, digest)| (account.file.clone(), account.bytes, digest.sha256.clone()));
    Provenance {
        program: PROGRAM.to_owned(),
        pipeline: (file_name(&pipeline.name), sha256(pipeline.text.as_bytes())),
        layout: (
            pipeline.layout.written.clone(),
            export.layout_sha256.clone(),
        ),
        inputs: inputs.collect(),
        accepted_columns: (export.accepted.iter())
            .map(|(column, reason)| (for_cell(column), for_cell(reason)))
            .collect(),
        code_tables: code_table_versions()
            .into_iter()
            .map(|table| (format!("{}, {}", table.system, table.edition), table.sha256))
            .collect(),
    }
}

/// The manifest, which stays with the practice.
#[derive(Debug, Serialize)]
pub(super) struct Manifest<'a> {
    program: &'static str,
    pipeline: FileDigest,
    layout: FileDigest,
    inputs: &'a [FileDigest],
    quarter: String,
    data_start: chrono::NaiveDate,
    cut_off: chrono::NaiveDate,
    deaths_known_to: chrono::NaiveDate,
    procedures_known_to: chrono::NaiveDate,
    /// What the layout declares the dates to be.
    dates: &'a DeclaredDates,
    /// The days between which the export is read: fewer than declared where dates were shifted.
    read_from: chrono::NaiveDate,
    read_to: chrono::NaiveDate,
    audiences: &'a [Audience],
    measures: Vec<&'static str>,
    rules: &'a Rules,
    code_tables: Vec<CodeTableVersion>,
    /// Columns the layout declares to identify nobody, with its reasons.
    accepted_columns: &'a BTreeMap<String, String>,
    accounts: &'a [FileAccount],
    outputs: &'a [Output],
}

/// The manifest of a run that wrote these files.
pub(super) fn manifest<'a>(
    pipeline: &'a Pipeline,
    export: &'a Export,
    outputs: &'a [Output],
) -> Manifest<'a> {
    let digest = |file: String, sha256: String| FileDigest { file, sha256 };
    Manifest {
        program: PROGRAM,
        pipeline: digest(file_name(&pipeline.name), sha256(pipeline.text.as_bytes())),
        layout: digest(
            pipeline.layout.written.clone(),
            export.layout_sha256.clone(),
        ),
        inputs: &export.digests,
        quarter: pipeline.quarter.to_string(),
        data_start: pipeline.horizon.data_start,
        cut_off: pipeline.horizon.cut_off,
        deaths_known_to: pipeline.horizon.deaths_known_to,
        procedures_known_to: pipeline.horizon.procedures_known_to,
        dates: &export.dates,
        read_from: export.horizon.data_start,
        read_to: export.horizon.cut_off,
        audiences: &pipeline.audiences,
        measures: pipeline.measures.iter().map(|measure| measure.id).collect(),
        rules: &pipeline.rules,
        code_tables: code_table_versions(),
        accepted_columns: &export.accepted,
        accounts: &export.accounts,
        outputs,
    }
}

/// The last part of a path: a report names files, not the folders of a machine.
fn file_name(path: &str) -> String {
    Path::new(path)
        .file_name()
        .map_or_else(String::new, |name| name.to_string_lossy().into_owned())
}
