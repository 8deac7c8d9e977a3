//! Hostile words in what is not the page: rows of people, the dictionary, the page of `check`, paper and the workbook.

use crate::hostile::poisoned;
use arrow_array::cast::AsArray;
use arrow_ipc::reader::FileReader;
use outcomes::check::overview::{Overview, TableLine};
use outcomes::dataset::{Cell, DataTable, text};
use outcomes::rules::DeclaredDates;
use report::DataFormat;
use std::io::Cursor;

/// Words that would act if anything took them for more than words: elements, formulas in narrow and wide letters, letters
/// that turn the direction of reading, nothing at all, and the mark that stands for a broken letter.
fn hostile() -> Vec<String> {
    let short = [
        "</td></table><script>alert(1)</script>",
        "\"><img src=x onerror=alert(1)>",
        "=HYPERLINK(\"http://x\",\"y\")",
        "+1+1",
        "-2+3",
        "@SUM(A1)",
        "\t=1+1",
        "\n=1+1",
        "\r=1+1",
        "\u{ff1d}1+1",
        "a\u{202e}b\u{2066}c\u{200f}",
        "a\u{0}b\u{1b}[31m",
        "\u{fffd}\u{feff}",
        "#pagebreak() $x$ @ref <label> \\u{41} // *b* _e_",
    ];
    let mut words: Vec<String> = short.iter().map(|word| (*word).to_owned()).collect();
    words.push("W".repeat(10_000));
    words
}

/// A table as rows of people are: a pseudonym and a place from an export.
fn rows_of(words: &str) -> DataTable {
    let columns = vec![
        text("patient", "Patient", "Pseudonymous id.", |row: &&str| {
            Cell::from(*row)
        }),
        text("place", "Place", "As the export says it.", |row| {
            Cell::from(*row)
        }),
    ];
    DataTable::new(["people", "People", "A row a person."], columns, [words])
}

/// Whether a letter acts unseen: control and direction marks, blanks of no width.
fn acts(letter: char) -> bool {
    (letter.is_control() && letter != '\n' && letter != '\t')
        || matches!(letter, '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' | '\u{feff}')
}

#[test]
fn rows_of_people_hold_words_in_every_data_file() {
    for words in hostile() {
        let table = rows_of(&words);
        let bytes = report::data(&table, DataFormat::Csv).unwrap();
        let mut reader = csv::Reader::from_reader(bytes.as_slice());
        let records: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
        assert_eq!(records.len(), 1);
        for cell in &records[0] {
            assert!(!outcomes::dataset::reads_as_formula(cell), "{words:.40}");
            assert!(!cell.chars().any(acts), "{words:.40}");
        }
        let bytes = report::data(&table, DataFormat::Arrow).unwrap();
        let mut reader = FileReader::try_new(Cursor::new(bytes), None).unwrap();
        let batch = reader.next().unwrap().unwrap();
        let cell = batch.column(0).as_string::<i32>().value(0);
        assert!(!cell.chars().any(acts), "{words:.40}");
        report::data(&table, DataFormat::Parquet).unwrap();
    }
}

/// Elements of a page: places where a mark opens.
fn n_marks(page: &str) -> usize {
    page.matches('<').count()
}

#[test]
fn the_dictionary_and_the_page_of_check_hold_words() {
    let table = rows_of("plain");
    let dictionary = |place: &str| report::data_dictionary(&[(place.to_owned(), &table)]).unwrap();
    let overview = |words: &str| Overview {
        program: "limbledger".to_owned(),
        practice: words.to_owned(),
        layout: words.to_owned(),
        data_start: crate::fixture::date(2023, 1, 1),
        cut_off: crate::fixture::date(2025, 12, 31),
        dates: DeclaredDates {
            agreement: Some(words.to_owned()),
            ..DeclaredDates::AS_RECORDED
        },
        stops: vec![words.to_owned()],
        tables: vec![TableLine {
            table: words.to_owned(),
            n_rows: 1,
            n_persons: 1,
        }],
        files: Vec::new(),
        findings: Vec::new(),
        comparison: None,
    };
    let plain_page = n_marks(&report::check_html(&overview("plain")));
    let plain_dictionary = dictionary("plain");
    let plain_marks = n_marks(std::str::from_utf8(&plain_dictionary[0].1).unwrap());
    for words in hostile() {
        let page = report::check_html(&overview(&words));
        assert_eq!(n_marks(&page), plain_page, "{words:.40}");
        assert!(!page.chars().any(acts), "{words:.40}");
        for (name, bytes) in dictionary(&words) {
            let file = String::from_utf8(bytes).unwrap();
            assert!(!file.chars().any(acts), "{name}: {words:.40}");
            if name == "dictionary.html" {
                assert_eq!(n_marks(&file), plain_marks, "{words:.40}");
            }
        }
    }
}

#[test]
fn paper_is_given_words_and_nothing_to_run() {
    // Laying out pages takes long in tests, so all hostile words but the longest stand on one paper.
    let short: Vec<String> = hostile()
        .into_iter()
        .filter(|word| word.len() < 100)
        .collect();
    let pdf = report::pdf(&poisoned(&short.join(" "))).unwrap();
    let text = String::from_utf8_lossy(&pdf);
    for action in [
        "/JavaScript",
        "/JS",
        "/Launch",
        "/SubmitForm",
        "/EmbeddedFile",
        "/URI",
    ] {
        assert!(!text.contains(action), "{action}");
    }
}
