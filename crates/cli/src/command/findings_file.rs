//! `findings.csv`: every finding of a run, a row each.

use super::load::Export;
use crate::inert::for_cell;

/// Its name within the copies that are kept inside.
pub(super) const FINDINGS: &str = "findings.csv";

/// The file. Headers of an export that a spreadsheet would take for a formula are made inert.
pub(super) fn findings_file(export: &Export) -> anyhow::Result<Vec<u8>> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record([
        "check", "severity", "file", "record", "column", "message", "hint",
    ])?;
    for finding in &export.findings {
        let file = finding
            .source
            .and_then(|source| export.tables.files.get(usize::from(source.file)))
            .map_or("", |file| file.name.as_str());
        let record = finding
            .source
            .map_or(String::new(), |source| source.record.to_string());
        writer.write_record([
            finding.check,
            finding.severity.code(),
            &for_cell(file),
            &record,
            &for_cell(finding.column.as_deref().unwrap_or_default()),
            &for_cell(&finding.message),
            &for_cell(finding.hint.as_deref().unwrap_or_default()),
        ])?;
    }
    writer
        .into_inner()
        .map_err(|error| anyhow::anyhow!("{FINDINGS}: {}", error.error()))
}
