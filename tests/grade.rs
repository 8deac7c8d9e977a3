//! Clinical scales through the program: the tables of `sample-data/grade/`, published anchors, and tables that cannot be read.

use crate::support::{Folder, limbledger, printed, root, said};
use serde_json::Value;

fn grade(scale: &str, file: &std::path::Path, more: &[&str]) -> std::process::Output {
    let mut arguments = vec!["grade".as_ref(), scale.as_ref(), file.as_os_str()];
    arguments.extend(more.iter().map(AsRef::<std::ffi::OsStr>::as_ref));
    limbledger(arguments)
}

#[test]
fn every_sample_table_is_graded_row_for_row() {
    let folder = root().join("sample-data/grade");
    let mut n_tables = 0;
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let scale = path.file_stem().unwrap().to_string_lossy().into_owned();
        let n_rows = |text: &str| {
            let mut reader = csv::Reader::from_reader(text.as_bytes());
            reader.records().count()
        };
        let output = grade(&scale, &path, &[]);
        assert_eq!(output.status.code(), Some(0), "{scale}: {}", said(&output));
        let before = std::fs::read_to_string(&path).unwrap();
        assert_eq!(n_rows(&printed(&output)), n_rows(&before), "{scale}");
        let json = grade(&scale, &path, &["--json"]);
        let value: Value = serde_json::from_str(&printed(&json)).unwrap();
        assert!(value.is_object() || value.is_array(), "{scale}");
        n_tables += 1;
    }
    assert_eq!(n_tables, 12);
}

/// Anchors of the published grid (Mills et al., J Vasc Surg 2014;59:220, as transcribed in several public copies): digits are
/// wound, ischaemia and infection.
#[test]
fn the_stage_of_a_threatened_limb_is_looked_up_and_never_a_sum() {
    let anchors = [
        ("0,0,0", "1"),
        ("0,0,3", "3"),
        ("0,1,2", "3"),
        ("1,1,0", "1"),
        ("1,3,0", "3"),
        ("2,0,0", "2"),
        ("2,2,1", "4"),
        ("3,0,2", "4"),
        ("3,3,3", "4"),
    ];
    let folder = Folder::new("grade-wifi");
    let rows: Vec<&str> = anchors.iter().map(|(row, _)| *row).collect();
    let text = format!("wound,ischaemia,infection\n{}\n", rows.join("\n"));
    let output = grade("wifi", &folder.write("w.csv", &text), &[]);
    assert_eq!(output.status.code(), Some(0), "{}", said(&output));
    let text = printed(&output);
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let place = reader
        .headers()
        .unwrap()
        .iter()
        .position(|name| name == "grade")
        .unwrap();
    let found: Vec<String> = reader
        .records()
        .map(|row| row.unwrap()[place].to_owned())
        .collect();
    let wanted: Vec<&str> = anchors.iter().map(|(_, stage)| *stage).collect();
    assert_eq!(found, wanted);
}

#[test]
fn a_table_that_cannot_be_graded_is_refused_without_a_cell_of_it() {
    let folder = Folder::new("grade-refusals");
    let cases = [
        ("ragged.csv", "wound,ischaemia,infection\n1,1\n", 1),
        ("empty.csv", "", 1),
        ("other.csv", "secretword\nsecretcell\n", 2),
    ];
    for (name, text, code) in cases {
        let output = grade("wifi", &folder.write(name, text), &[]);
        let found = output.status.code();
        assert!(
            matches!(found, Some(1 | 2)),
            "{name}: {found:?}, {code} expected"
        );
        assert!(
            !said(&output).contains("secretcell"),
            "{name}: {}",
            said(&output)
        );
        assert!(printed(&output).is_empty(), "{name}");
    }
}
