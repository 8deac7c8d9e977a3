//! Graded rows as they are written: the table with its grades, or the grades as JSON.

use super::CellFinding;
use super::bind::{Bound, items_without_column, plain};
use super::table::Table;
use crate::failure::Failure;
use crate::inert::kept_cell;
use outcomes::grade::scale::{Cell, GradeOptions, Graded, Scale};
use serde_json::{Map, Value, json};

/// Headers of the columns that are added; with the scale's name before them where the table has one of them already.
fn added_headers(scale: &Scale, headers: &[String]) -> Vec<String> {
    let own = scale.columns.iter().map(|column| column.name);
    let names: Vec<&str> = ["grade", "lowest", "highest"]
        .into_iter()
        .chain(own)
        .chain(["why"])
        .collect();
    let prefix = scale.id.replace('-', "_");
    let is_taken = names
        .iter()
        .any(|name| headers.iter().any(|header| plain(header) == *name));
    names
        .into_iter()
        .map(|name| {
            if is_taken {
                format!("{prefix}_{name}")
            } else {
                name.to_owned()
            }
        })
        .collect()
}

/// The table as it came, with the columns of the grades behind its own.
pub(super) fn as_csv(scale: &Scale, table: &Table, graded: &[Graded]) -> Result<String, Failure> {
    let added = added_headers(scale, &table.headers);
    if let Some(taken) = added.iter().find(|name| table.headers.contains(name)) {
        return Err(Failure::with_hint(
            format!("{}: there is a column `{taken}` already", table.file),
            "the table has been graded by this scale; remove those columns, or use --json",
        ));
    }
    let failed =
        |error: csv::Error| Failure::CannotRun(format!("could not write the table: {error}"));
    let mut writer = csv::Writer::from_writer(Vec::new());
    let headers = table.headers.iter().chain(&added);
    writer
        .write_record(headers.map(|header| kept_cell(header)))
        .map_err(failed)?;
    for (record, graded) in table.records.iter().zip(graded) {
        let mut cells: Vec<String> = record.iter().map(kept_cell).collect();
        cells.push(graded.shown.clone());
        cells.push(graded.lowest.to_string());
        cells.push(graded.highest.to_string());
        cells.extend(graded.more.iter().map(Cell::to_string));
        cells.push(graded.why.clone());
        writer.write_record(&cells).map_err(failed)?;
    }
    let bytes = writer.into_inner().map_err(|error| {
        Failure::CannotRun(format!("could not write the table: {}", error.error()))
    })?;
    String::from_utf8(bytes)
        .map_err(|_| Failure::CannotRun("could not write the table: not UTF-8".to_owned()))
}

/// The grades alone, with everything that decided them.
pub(super) fn as_json(
    scale: &Scale,
    options: &GradeOptions,
    bound: &[Bound],
    findings: &[CellFinding],
    graded: &[Graded],
) -> Value {
    let rows: Vec<Value> = graded
        .iter()
        .enumerate()
        .map(|(position, graded)| {
            let mut row = Map::new();
            row.insert("record".to_owned(), json!(position + 1));
            row.insert("grade".to_owned(), json!(graded.grade));
            row.insert("shown".to_owned(), json!(graded.shown));
            row.insert("lowest".to_owned(), json!(graded.lowest));
            row.insert("highest".to_owned(), json!(graded.highest));
            for (column, cell) in scale.columns.iter().zip(&graded.more) {
                row.insert(column.name.to_owned(), json!(cell));
            }
            row.insert("why".to_owned(), json!(graded.why));
            Value::Object(row)
        })
        .collect();
    let not_accepted: Vec<Value> = findings
        .iter()
        .map(|finding| json!({ "record": finding.record, "item": finding.item.name, "accepted": finding.item.kind.accepts() }))
        .collect();
    json!({
        "scale": scale.id,
        "n": graded.len(),
        "options": {
            "abi_limit": options.abi_limit,
            "index_decimals": options.index_decimals,
            "guideline": options.guideline,
            "infection_criteria": options.infection_criteria,
            "area_formula": options.area_formula,
            "smallest_first_area_cm2": options.smallest_first_area_cm2,
        },
        "source": scale.source,
        "caution": scale.caution,
        "items_without_column": items_without_column(bound),
        "not_accepted": not_accepted,
        "rows": rows,
    })
}
