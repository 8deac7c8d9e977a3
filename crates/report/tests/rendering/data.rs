//! The data files, opened again with the readers of their formats.

use crate::{fixture, hostile, privacy};
use arrow_array::cast::AsArray;
use arrow_array::types::{Date32Type, Float64Type, Int64Type};
use arrow_array::{Array, RecordBatch};
use arrow_ipc::reader::FileReader;
use chrono::NaiveDate;
use outcomes::dataset::{Cell, DataTable, FieldKind};
use outcomes::report::Audience;
use parquet::arrow::arrow_reader::ParquetRecordBatchReaderBuilder;
use report::DataFormat;
use std::io::Cursor;

const AUDIENCES: [Audience; 3] = [Audience::Clinic, Audience::Auditor, Audience::Public];

fn batches(table: &DataTable) -> [RecordBatch; 2] {
    let bytes = |format| report::data(table, format).unwrap();
    let parquet = bytes::Bytes::from(bytes(DataFormat::Parquet));
    let parquet = ParquetRecordBatchReaderBuilder::try_new(parquet).unwrap();
    assert_eq!(
        parquet.schema().metadata().get("title").map(String::as_str),
        Some(table.title)
    );
    let mut parquet = parquet.with_batch_size(1_000_000).build().unwrap();
    let mut arrow = FileReader::try_new(Cursor::new(bytes(DataFormat::Arrow)), None).unwrap();
    [
        parquet.next().unwrap().unwrap(),
        arrow.next().unwrap().unwrap(),
    ]
}

/// A cell of a file in the form of a table's, `None` where it is null.
fn read(column: &dyn Array, kind: FieldKind, row: usize) -> Option<Cell> {
    if column.is_null(row) {
        return None;
    }
    Some(match kind {
        FieldKind::Text => Cell::Text(column.as_string::<i32>().value(row).to_owned()),
        FieldKind::Whole => Cell::Whole(column.as_primitive::<Int64Type>().value(row)),
        FieldKind::Number => Cell::Number(column.as_primitive::<Float64Type>().value(row), None),
        FieldKind::YesNo => Cell::YesNo(column.as_boolean().value(row)),
        FieldKind::Date => {
            let day = column.as_primitive::<Date32Type>().value(row);
            let first = NaiveDate::from_ymd_opt(1970, 1, 1).unwrap();
            Cell::Date(first + chrono::Days::new(u64::try_from(day).unwrap()))
        }
    })
}

fn wanted(cell: &Cell) -> Option<Cell> {
    match cell {
        Cell::Absent | Cell::Hidden => None,
        Cell::Number(value, _) => Some(Cell::Number(*value, None)),
        other => Some(other.clone()),
    }
}

#[test]
fn every_cell_of_every_table_comes_back_from_parquet_and_arrow_with_its_words() {
    for audience in AUDIENCES {
        let tables = report::result_tables(&fixture::report(audience));
        assert!(tables.len() > 15);
        for table in &tables {
            for batch in batches(table) {
                assert_eq!(batch.num_rows(), table.rows.len(), "{}", table.name);
                for (place, field) in table.fields.iter().enumerate() {
                    let column = batch.column(place);
                    for (row, cells) in table.rows.iter().enumerate() {
                        let found = read(column, field.kind, row);
                        assert_eq!(
                            found,
                            wanted(&cells[place]),
                            "{}.{}",
                            table.name,
                            field.name
                        );
                    }
                    let schema = batch.schema();
                    let described = schema.field(place);
                    assert_eq!(described.name(), field.name);
                    assert_eq!(described.metadata()["meaning"], field.words);
                    let unit = described.metadata().get("unit").map_or("", String::as_str);
                    assert_eq!(unit, field.unit);
                }
            }
        }
    }
}

fn csv_rows(table: &DataTable) -> Vec<Vec<String>> {
    let bytes = report::data(table, DataFormat::Csv).unwrap();
    let mut reader = csv::Reader::from_reader(bytes.as_slice());
    let names: Vec<String> = reader
        .headers()
        .unwrap()
        .iter()
        .map(str::to_owned)
        .collect();
    assert_eq!(
        names,
        table
            .fields
            .iter()
            .map(|field| field.name)
            .collect::<Vec<_>>()
    );
    let rows = reader.records();
    rows.map(|row| row.unwrap().iter().map(str::to_owned).collect())
        .collect()
}

#[test]
fn numbers_and_dates_of_the_text_files_are_those_of_the_tables() {
    for table in report::result_tables(&fixture::report(Audience::Auditor)) {
        let rows = csv_rows(&table);
        assert_eq!(rows.len(), table.rows.len());
        for (found, cells) in rows.iter().zip(&table.rows) {
            for (word, cell) in found.iter().zip(cells) {
                match cell {
                    Cell::Absent | Cell::Hidden => assert_eq!(word, ""),
                    Cell::Whole(n) => assert_eq!(word.parse::<i64>().unwrap(), *n),
                    Cell::Number(value, _) => assert_eq!(word.parse::<f64>().unwrap(), *value),
                    Cell::Date(date) => assert_eq!(word.parse::<NaiveDate>().unwrap(), *date),
                    Cell::YesNo(is_yes) => assert_eq!(word.parse::<bool>().unwrap(), *is_yes),
                    Cell::Text(text) => assert!(word.trim_start_matches('\'') == text),
                }
            }
        }
    }
}

#[test]
fn hidden_counts_are_empty_and_named_and_the_action_list_is_the_clinic_s() {
    let tables = report::result_tables(&privacy::hidden());
    let results = tables.iter().find(|table| table.name == "results").unwrap();
    let place = |name| {
        results
            .fields
            .iter()
            .position(|field| field.name == name)
            .unwrap()
    };
    for row in csv_rows(results) {
        assert_eq!(row[place("numerator")], "");
        assert_eq!(row[place("value")], "");
        assert_eq!(row[place("suppressed")], "numerator denominator unknown");
        assert_eq!(row[place("state")], "suppressed");
    }
    for audience in AUDIENCES {
        let report = outcomes::report::Report {
            audience,
            ..fixture::report(Audience::Clinic)
        };
        let has_list = report::result_tables(&report)
            .iter()
            .any(|table| table.name == "action-list");
        assert_eq!(has_list, audience == Audience::Clinic);
    }
}

#[test]
fn words_of_an_export_stay_words_in_every_file() {
    for text in [
        "=1+1",
        "+1",
        "-1+2",
        "@A1",
        "\t=1",
        "a,\"b\"\nc",
        "</td><script>",
        "a\u{202e}b\u{0}",
    ] {
        let visible = text
            .replace('\u{202e}', "⟨U+202E⟩")
            .replace('\u{0}', "⟨U+0000⟩");
        let tables = report::result_tables(&hostile::poisoned(text));
        let results = tables.iter().find(|table| table.name == "results").unwrap();
        let place = results
            .fields
            .iter()
            .position(|field| field.name == "stratum")
            .unwrap();
        for row in csv_rows(results) {
            assert!(
                !row.iter().any(|cell| cell.starts_with(['=', '@', '\t'])),
                "{text}"
            );
            assert_eq!(row[place].trim_start_matches('\''), visible);
        }
        for batch in batches(results) {
            assert_eq!(batch.column(place).as_string::<i32>().value(0), visible);
        }
    }
    let long = report::result_tables(&hostile::poisoned(&"W".repeat(10_000)));
    for table in &long {
        batches(table);
        csv_rows(table);
    }
}

#[test]
fn the_same_table_gives_the_same_bytes_and_the_dictionary_names_every_column() {
    let tables = report::result_tables(&fixture::report(Audience::Clinic));
    for table in &tables {
        for format in DataFormat::ALL {
            let bytes = || report::data(&table.clone(), format).unwrap();
            assert!(bytes() == bytes(), "{} as {}", table.name, format.code());
        }
    }
    let placed: Vec<(String, &DataTable)> = tables
        .iter()
        .map(|table| (table.name.to_owned(), table))
        .collect();
    let dictionary = report::data_dictionary(&placed).unwrap();
    for (name, bytes) in dictionary {
        let text = String::from_utf8(bytes).unwrap();
        for table in &tables {
            assert!(text.contains(table.name), "{name}: {}", table.name);
            assert!(
                table.fields.iter().all(|field| text.contains(field.name)),
                "{name}"
            );
        }
        assert!(!text.contains("<script"));
    }
}

#[test]
fn names_are_unique_and_every_column_says_what_it_means() {
    let tables = report::result_tables(&fixture::report(Audience::Clinic));
    for table in &tables {
        assert!(
            table.title.len() <= 31 && table.words.ends_with('.'),
            "{}",
            table.name
        );
        for (place, field) in table.fields.iter().enumerate() {
            assert!(field.words.ends_with('.'), "{}.{}", table.name, field.name);
            let is_first = table
                .fields
                .iter()
                .position(|other| other.name == field.name)
                == Some(place);
            assert!(is_first, "{}.{} twice", table.name, field.name);
        }
    }
    let mut names: Vec<&str> = tables.iter().map(|table| table.name).collect();
    names.sort_unstable();
    names.dedup();
    assert_eq!(names.len(), tables.len());
}
