//! What looks like an identifier stops the run, by file and column, with nothing of the cell shown.

use crate::support::{COLUMNS, WIDE, export, line, load_files, row};
use intake::Loaded;
use outcomes::finding::Severity;

/// Loads rows whose `remark` column, under another header, holds these cells.
pub(crate) fn with_column(layout: &str, header: &str, cells: &[String]) -> Loaded {
    let rows: Vec<String> = cells
        .iter()
        .enumerate()
        .map(|(number, cell)| {
            let id = format!("TW-{number:05}");
            row(&[("pid", id.as_str()), ("seen", "03/11/2025")]) + &format!("\"{cell}\"")
        })
        .collect();
    let csv = export(&rows).replace(COLUMNS, &COLUMNS.replace("remark", header));
    load_files(layout, &[("visits.csv", None, csv.as_bytes())]).unwrap()
}

pub(crate) fn stops(loaded: &Loaded) -> Vec<String> {
    loaded
        .findings
        .iter()
        .filter(|finding| finding.severity == Severity::Stop)
        .map(line)
        .collect()
}

fn thirty(cell: impl Fn(usize) -> String) -> Vec<String> {
    (0..30).map(cell).collect()
}

#[test]
fn each_kind_of_identifier_stops_the_run() {
    let letter = |number: usize| char::from(b'a' + u8::try_from(number % 26).unwrap());
    let cases: Vec<(&str, Vec<String>, &str)> = vec![
        (
            "extra",
            vec!["x.y@example.org".to_owned()],
            "stop looks-like-email record 1 extra",
        ),
        (
            "extra",
            vec!["000-12-3456".to_owned()],
            "stop looks-like-social-security-number record 1 extra",
        ),
        (
            "extra",
            vec!["202-555-0143".to_owned()],
            "stop looks-like-phone-number record 1 extra",
        ),
        (
            "extra",
            thirty(|number| format!("94347659{number:02}")),
            "stop looks-like-record-number record 1 extra",
        ),
        (
            "extra",
            thirty(|number| format!("{}/02/1941", number % 28 + 1)),
            "stop looks-like-birth-date record 1 extra",
        ),
        (
            "extra",
            thirty(|number| format!("902{number:02}")),
            "stop looks-like-address record 1 extra",
        ),
        (
            "extra",
            thirty(|number| format!("Ann Ex{}{}ample", letter(number), letter(number / 9))),
            "stop looks-like-name record 1 extra",
        ),
        (
            "extra",
            vec!["was brought in by her neighbour from church".to_owned()],
            "stop looks-like-free-text record 1 extra",
        ),
        (
            "age",
            vec!["93".to_owned()],
            "stop age-over-89 record 1 age",
        ),
        (
            "last_name",
            vec![String::new()],
            "stop looks-like-name last_name",
        ),
        (
            "dateOfBirth",
            vec![String::new()],
            "stop looks-like-birth-date dateOfBirth",
        ),
        ("zip5", vec![String::new()], "stop looks-like-address zip5"),
        (
            "MRN",
            vec![String::new()],
            "stop looks-like-record-number MRN",
        ),
        (
            "notes",
            vec![String::new()],
            "stop looks-like-free-text notes",
        ),
    ];
    for (header, cells, expected) in cases {
        let loaded = with_column(WIDE, header, &cells);
        assert_eq!(stops(&loaded), [expected], "{header}");
        for finding in &loaded.findings {
            let words = format!("{} {:?}", finding.message, finding.hint);
            assert!(
                cells
                    .iter()
                    .all(|cell| cell.len() < 3 || !words.contains(cell.as_str())),
                "{words}"
            );
        }
    }
}

#[test]
fn ordinary_cells_stop_nothing() {
    for cells in [
        thirty(|number| format!("General Practice {}", number % 3)),
        thirty(|number| ["Community Nurse", "General Practice"][number % 2].to_owned()),
        thirty(|number| format!("{}/02/2024", number % 28 + 1)),
        thirty(|number| format!("{}.5", number)),
        thirty(|number| {
            if number == 7 {
                "90210".to_owned()
            } else {
                "12".to_owned()
            }
        }),
    ] {
        assert_eq!(
            stops(&with_column(WIDE, "extra", &cells)),
            Vec::<String>::new(),
            "{cells:?}"
        );
    }
}

#[test]
fn a_column_that_is_ignored_or_declared_with_a_reason_does_not_stop() {
    let cells = vec!["x.y@example.org".to_owned()];
    let ignored = WIDE.replace("ignore = [\"remark\"]", "ignore = [\"mail_box\"]");
    assert_eq!(
        stops(&with_column(&ignored, "mail_box", &cells)),
        Vec::<String>::new()
    );
    let declared = format!(
        "{WIDE}\n[accept]\nmail_box = \"the practice's own address, the same on every row\"\n"
    );
    assert_eq!(
        stops(&with_column(&declared, "mail_box", &cells)),
        Vec::<String>::new()
    );
}

#[test]
fn a_year_of_birth_that_tells_an_age_over_89_stops() {
    // cut-off 31 December 2025: everybody born in 1935 is 90 by then, nobody born in 1936 is
    let loaded = |year: &str| {
        let csv = export(&[row(&[
            ("pid", "TW-00001"),
            ("seen", "03/11/2025"),
            ("yob", year),
        ])]);
        load_files(WIDE, &[("visits.csv", None, csv.as_bytes())]).unwrap()
    };
    assert_eq!(stops(&loaded("1934")), ["stop age-over-89 record 1 yob"]);
    assert_eq!(stops(&loaded("1935")), ["stop age-over-89 record 1 yob"]);
    assert_eq!(stops(&loaded("1936")), Vec::<String>::new());
    assert_eq!(
        stops(&loaded("03/04/1950")),
        ["stop looks-like-birth-date record 1 yob"]
    );
}
