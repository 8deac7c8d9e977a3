//! The data files of a copy: tables in the formats asked for, and what their columns mean.

use crate::pipeline::Pipeline;
use crate::run_folder::RunFolder;
use anyhow::Context as _;
use outcomes::dataset::DataTable;
use outcomes::report::{Audience, Report};

/// Writes `data/` of one copy; nothing when no format is asked for. Row-level tables stay out of a public copy.
pub(super) fn write_data(
    folder: &mut RunFolder,
    report: &Report,
    rows: &[DataTable],
    pipeline: &Pipeline,
) -> anyhow::Result<()> {
    if pipeline.tables.is_empty() {
        return Ok(());
    }
    let results = report::result_tables(report);
    let rows = match report.audience {
        Audience::Clinic | Audience::Auditor => rows,
        Audience::Public => &[],
    };
    let placed: Vec<(String, &DataTable)> = (results.iter())
        .map(|table| (table.name.to_owned(), table))
        .chain(
            rows.iter()
                .map(|table| (format!("rows/{}", table.name), table)),
        )
        .collect();
    let name = |file: &str| format!("{}/data/{file}", report.audience.code());
    for (place, table) in &placed {
        for format in &pipeline.tables {
            let file = format!("{place}.{}", format.code());
            let bytes = report::data(table, *format).with_context(|| file.clone())?;
            folder.write(&name(&file), &bytes)?;
        }
    }
    let dictionary = report::data_dictionary(&placed).context("data dictionary")?;
    for (file, bytes) in dictionary {
        folder.write(&name(file), &bytes)?;
    }
    Ok(())
}
