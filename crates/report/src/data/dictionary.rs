//! The data dictionary: what every file and every column means, as a page, as a table and as data.

use crate::page::{BANNER, cell, scrolling, words};
use crate::{RenderError, json};
use maud::{DOCTYPE, Markup, PreEscaped, html};
use outcomes::dataset::{Cell, DataTable, Field, text};
use serde::Serialize;

/// Where a table lies in its folder, without the ending, and the table.
pub(crate) type Placed<'t> = (String, &'t DataTable);

/// What holds for every file.
const CONVENTIONS: [&str; 5] = [
    "Files are UTF-8. Dates are ISO 8601. Shares are numbers between 0 and 1. Numbers have ten significant digits and are those of report.json.",
    "An empty cell (a null in Parquet and Arrow) is not known or not defined for the row; it is never a zero and never a no.",
    "In a public copy the column suppressed names the counts of a row that are hidden to protect patients.",
    "In delimited text a text that a spreadsheet would take for a formula begins with an apostrophe, which is not part of it. In every format control and direction characters are spelt out, for example ⟨U+202E⟩.",
    "Tables under rows/ carry one row a person, visit or ulcer with pseudonyms and dates. Privacy law and local policy decide where they may go.",
];

/// The dictionary as a table: a row a column.
pub(crate) fn table(tables: &[Placed<'_>]) -> DataTable {
    type Row<'t> = (&'t str, &'t DataTable, &'t Field);
    let columns = vec![
        text(
            "table",
            "Table",
            "File without its ending.",
            |row: &Row<'_>| Cell::from(row.0),
        ),
        text(
            "table_meaning",
            "What a row is",
            "What one row of the table is.",
            |row| Cell::from(row.1.words),
        ),
        text("column", "Column", "Name of the column.", |row| {
            Cell::from(row.2.name)
        }),
        text("title", "Title", "Heading for people.", |row| {
            Cell::from(row.2.title)
        }),
        text(
            "kind",
            "Kind",
            "text, whole, number, date or yes-no.",
            |row| Cell::from(kind(row.2)),
        ),
        text(
            "unit",
            "Unit",
            "Unit, or empty where the cells have none.",
            |row| Cell::from(row.2.unit),
        ),
        text("meaning", "Meaning", "What the column means.", |row| {
            Cell::from(row.2.words)
        }),
    ];
    let rows = tables.iter().flat_map(|(place, table)| {
        table
            .fields
            .iter()
            .map(move |field| (place.as_str(), *table, field))
    });
    let meaning = "A row a column of the data files.";
    DataTable::new(["dictionary", "Data dictionary", meaning], columns, rows)
}

fn kind(field: &Field) -> &'static str {
    use outcomes::dataset::FieldKind::{Date, Number, Text, Whole, YesNo};
    match field.kind {
        Text => "text",
        Whole => "whole",
        Number => "number",
        Date => "date",
        YesNo => "yes-no",
    }
}

#[derive(Serialize)]
struct Dictionary<'t> {
    conventions: [&'static str; 5],
    tables: Vec<Described<'t>>,
}

#[derive(Serialize)]
struct Described<'t> {
    table: &'t str,
    title: &'t str,
    meaning: &'t str,
    n_rows: usize,
    columns: &'t [Field],
}

/// The dictionary as indented JSON.
pub(crate) fn plain(tables: &[Placed<'_>]) -> Result<String, RenderError> {
    let described = tables.iter().map(|(place, table)| Described {
        table: place,
        title: table.title,
        meaning: table.words,
        n_rows: table.rows.len(),
        columns: &table.fields,
    });
    json::pretty(&Dictionary {
        conventions: CONVENTIONS,
        tables: described.collect(),
    })
}

/// The dictionary as a page that needs no other file.
pub(crate) fn page(tables: &[Placed<'_>]) -> String {
    let page = html! {
        (DOCTYPE)
        html lang="en-GB" {
            head {
                meta charset="utf-8";
                meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { "Data dictionary" }
                style { (PreEscaped(include_str!("../page/style.css"))) }
            }
            body {
                main {
                    h1 { "Data dictionary" }
                    p.banner role="note" { (BANNER) }
                    ul { @for line in CONVENTIONS { li { (line) } } }
                    @for (place, table) in tables { (section(place, table)) }
                }
            }
        }
    };
    page.into_string()
}

fn section(place: &str, table: &DataTable) -> Markup {
    let rows: Vec<Vec<Markup>> = table
        .fields
        .iter()
        .map(|field| {
            let texts = [
                field.name,
                field.title,
                kind(field),
                field.unit,
                field.words,
            ];
            texts.map(cell).into()
        })
        .collect();
    let columns = ["Column", "Title", "Kind", "Unit", "Meaning"].map(words);
    html! {
        section {
            h2 { (table.title) }
            p { code { (place) } ": " (table.words) " Rows: " (table.rows.len()) "." }
            (scrolling(table.title, &columns, &rows))
        }
    }
}
