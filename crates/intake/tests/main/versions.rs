//! A layout with versions: files of another records system, and rows from some day on.

use crate::support::{WIDE, account, export, lines, load_files, row};
use intake::layout;

/// A version for files of a new system: other headers, codes, dates and units.
const NEW_FILES: &str = r#"
[[version]]
name = "new-system"
files = ["*-new.csv"]
[version.file]
delimiter = ";"
[version.dates]
format = "iso"
[version.visit]
date = "seen_on"
[version.ulcer]
length = { column = "w{slot}_cm", unit = "cm" }
[version.codes.state]
OPN = "open"
"#;

fn one_visit(id: &str, seen: &str, state: &str, length: &str) -> String {
    row(&[
        ("pid", id),
        ("seen", seen),
        ("type", "ATT"),
        ("w1", "A"),
        ("w1_side", "L"),
        ("w1_state", state),
        ("w1_len", length),
    ])
}

#[test]
fn files_of_a_new_system_are_read_by_their_version_and_others_by_the_layout() {
    let old = export(&[one_visit("TW-00001", "03/11/2024", "O", "12")]);
    let new = export(&[one_visit("TW-00001", "2024-11-17", "OPN", "1.1")])
        .replace("seen", "seen_on")
        .replace("_len", "_cm")
        .replace(',', ";");
    let layout = format!("{WIDE}{NEW_FILES}");
    let files = [
        ("a/visits-old.csv", None, old.as_bytes()),
        ("a/visits-new.csv", None, new.as_bytes()),
    ];
    let loaded = load_files(&layout, &files).unwrap();
    assert_eq!(lines(&loaded), Vec::<String>::new());
    let seen: Vec<String> = loaded
        .tables
        .ulcer_observations
        .iter()
        .map(|seen| format!("{} {:?} {:?}", seen.date, seen.state, seen.length_cm))
        .collect();
    assert_eq!(
        seen,
        [
            "2024-11-03 Some(Open) Some(1.2)",
            "2024-11-17 Some(Open) Some(1.1)"
        ]
    );
    // the same visit in both systems counts once
    let again = export(&[one_visit("TW-00001", "2024-11-03", "C", "")])
        .replace("seen", "seen_on")
        .replace("_len", "_cm")
        .replace(',', ";");
    let files = [
        ("visits-old.csv", None, old.as_bytes()),
        ("visits-new.csv", None, again.as_bytes()),
    ];
    let loaded = load_files(&layout, &files).unwrap();
    assert_eq!(account(&loaded), "read 1 used 0 superseded-row 1");
    assert_eq!(loaded.tables.ulcer_observations.len(), 1);
}

#[test]
fn a_version_from_a_day_reads_the_rows_of_that_day_and_later() {
    let version = "\n[[version]]\nname = \"cm\"\nfrom = 2024-11-10\n[version.ulcer]\nlength = { column = \"w{slot}_len\", unit = \"cm\" }\n[version.codes.state]\nSHUT = \"closed\"\n";
    let text = export(&[
        one_visit("TW-00001", "09/11/2024", "O", "12"),
        one_visit("TW-00001", "10/11/2024", "O", "1.2"),
        one_visit("TW-00001", "24/11/2024", "SHUT", ""),
        one_visit("TW-00002", "09/11/2024", "SHUT", ""),
    ]);
    let loaded = load_files(
        &format!("{WIDE}{version}"),
        &[("visits.csv", None, text.as_bytes())],
    )
    .unwrap();
    let lengths: Vec<Option<f32>> = loaded
        .tables
        .ulcer_observations
        .iter()
        .map(|seen| seen.length_cm)
        .collect();
    assert_eq!(lengths, [Some(1.2), Some(1.2), None, None]);
    // the new code is not known before its day
    assert_eq!(
        lines(&loaded),
        ["cell-ignored unknown-code record 4 w1_state"]
    );
}

#[test]
fn faults_of_a_version_are_pointed_at() {
    for (version, message) in [
        ("name = \"a\"", "version `a` needs either `files` or `from`"),
        (
            "name = \"a\"\nfiles = [\"x\"]\nfrom = 2024-07-01",
            "version `a` needs either `files` or `from`",
        ),
        (
            "name = \"a\"\nfrom = 2024-07-01\n[version.dates]\nformat = \"iso\"",
            "version `a` begins on a day of the rows, so it cannot change how the day of a row is told, the delimiter or the encoding",
        ),
        (
            "name = \"a\"\nfrom = 2024-07-01T10:00:00",
            "`version.from` must be a date such as 2024-07-01, without a time",
        ),
        (
            "name = \"a\"\nfiles = [\"x\"]\n[[version]]\nname = \"a\"\nfiles = [\"y\"]",
            "two versions are called `a`",
        ),
        (
            "name = \"a\"\nfrom = 2024-07-01\n[[version]]\nname = \"b\"\nfrom = 2024-07-01",
            "two versions begin on 2024-07-01",
        ),
        (
            "name = \"a\"\nfiles = [\"x\"]\n[version.visit]\ndates = \"x\"",
            "unknown field `visit.dates`",
        ),
        (
            "name = \"a\"\nfiles = [\"x\"]\n[version.codes.state]\nQ = \"opened\"",
            "`codes.state`: `opened` is no value of `ulcer.state`",
        ),
    ] {
        let error =
            layout::parse(&format!("{WIDE}\n[[version]]\n{version}\n"), "l.toml").unwrap_err();
        assert_eq!(error.message, message);
        assert!(error.line > WIDE.lines().count(), "{error}");
    }
    let two = format!(
        "{WIDE}\n[[version]]\nname = \"a\"\nfiles = [\"v*\"]\n[[version]]\nname = \"b\"\nfiles = [\"*.csv\"]\n"
    );
    let error = load_files(&two, &[("visits.csv", None, b"x")]).unwrap_err();
    assert_eq!(
        error.to_string(),
        "visits.csv: two versions of the layout apply to it, `a` and `b`"
    );
}
