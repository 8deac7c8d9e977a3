//! `check`: text, data, page, and what changed since an earlier export.

use crate::support::{Folder, limbledger, printed, root, said};
use std::path::PathBuf;

/// The sample practice with some cells changed, and a pipeline file for it. `change` gets the month as `2025-10`, the header
/// and the cell.
fn changed(
    folder: &Folder,
    name: &str,
    change: impl Fn(&str, &str, &str) -> Option<String>,
) -> PathBuf {
    let sample = std::fs::read_to_string(root().join("sample-data/tarnwick-visits.csv")).unwrap();
    let sample = sample.trim_start_matches('\u{feff}');
    let headers: Vec<&str> = sample.lines().next().unwrap().split(',').collect();
    let day = headers
        .iter()
        .position(|header| *header == "vis_date")
        .unwrap();
    let lines: Vec<String> = sample
        .lines()
        .skip(1)
        .map(|line| {
            let cells: Vec<&str> = line.split(',').collect();
            // dates of the sample are day first
            let date = cells[day];
            let month = format!(
                "{}-{}",
                date.get(6..).unwrap_or(""),
                date.get(3..5).unwrap_or("")
            );
            let cells: Vec<String> = cells
                .iter()
                .zip(&headers)
                .map(|(cell, header)| {
                    change(&month, header, cell).unwrap_or_else(|| (*cell).to_owned())
                })
                .collect();
            cells.join(",")
        })
        .collect();
    folder.write(
        &format!("{name}.csv"),
        &format!("{}\n{}\n", headers.join(","), lines.join("\n")),
    );
    pipeline(folder, name)
}

fn pipeline(folder: &Folder, name: &str) -> PathBuf {
    let text = std::fs::read_to_string(root().join("pipelines/quarterly.toml")).unwrap();
    let layouts = root().join("pipelines/layouts").display().to_string();
    let text = text
        .replace("../sample-data/tarnwick-visits.csv", &format!("{name}.csv"))
        .replace("layouts/", &format!("{layouts}/"));
    folder.write(&format!("{name}.toml"), &text)
}

fn check(pipeline: &std::path::Path, more: &[&str]) -> String {
    let mut arguments = vec!["check".to_owned(), pipeline.display().to_string()];
    arguments.extend(more.iter().map(|word| (*word).to_owned()));
    let output = limbledger(&arguments);
    assert_eq!(output.status.code(), Some(0), "{}", said(&output));
    printed(&output)
}

/// The lines below `What changed`, without the rule.
fn changes(text: &str) -> Vec<String> {
    text.lines()
        .skip_while(|line| !line.starts_with("What changed"))
        .skip(1)
        .take_while(|line| !line.starts_with("  A share counts"))
        .map(|line| line.trim().to_owned())
        .collect()
}

#[test]
fn the_page_is_one_file_that_holds_no_cell_and_loads_nothing() {
    let folder = Folder::new("check-page");
    let page = folder.path("check.html");
    let sample = root().join("pipelines/quarterly.toml");
    let text = check(&sample, &["--html", &page.display().to_string()]);
    let html = std::fs::read_to_string(&page).unwrap();
    for word in ["<script", "http:", "https:", "src=", "@import", "TW-"] {
        assert!(!html.contains(word), "{word}");
    }
    for words in [
        "Rows and bytes",
        "How the patient ids look",
        "Units and dates",
        "What changed",
        "By month",
        "5,124 rows were read",
    ] {
        assert!(html.contains(words), "{words}");
    }
    for words in ["Identifiers", "Patient ids", "Columns of"] {
        assert!(text.contains(words), "{words}");
    }
    assert_eq!(folder.names(), ["check.html"]);
    // the same again gives the same bytes, in the place of the first
    check(&sample, &["--html", &page.display().to_string()]);
    assert_eq!(std::fs::read_to_string(&page).unwrap(), html);
}

#[test]
fn a_page_never_replaces_a_folder() {
    let folder = Folder::new("check-folder");
    let output = limbledger([
        "check".to_owned(),
        "pipelines/quarterly.toml".to_owned(),
        "--html".to_owned(),
        folder.path("").display().to_string(),
    ]);
    assert_eq!(output.status.code(), Some(2));
}

#[test]
fn a_quarter_like_those_before_it_raises_no_alarm_and_a_changed_one_does() {
    let folder = Folder::new("check-drift");
    assert_eq!(
        changes(&check(&root().join("pipelines/quarterly.toml"), &[])),
        ["nothing beyond chance"]
    );
    let pipeline = changed(&folder, "changed", |month, header, cell| {
        if !["2025-10", "2025-11", "2025-12"].contains(&month) {
            return None;
        }
        match header {
            // a column is no longer filled, codes are new, millimetres become centimetres
            "smoke" => Some(String::new()),
            "setting" if !cell.is_empty() => Some("NEW".to_owned()),
            "w1_len" => cell
                .parse::<f64>()
                .ok()
                .map(|length| (length / 10.0).to_string()),
            _ => None,
        }
    });
    let text = check(&pipeline, &[]);
    let found = changes(&text);
    let kinds: Vec<&str> = found
        .iter()
        .filter_map(|line| line.split(": ").next())
        .collect();
    assert_eq!(
        kinds,
        [
            "share-missing-changed `smoke`",
            "code-gone `setting`",
            "undeclared-codes-more-often `setting`",
            "middle-of-numbers-moved `w1_len`"
        ],
        "{found:?}"
    );
    assert!(
        !text.contains("NEW"),
        "a code that the layout does not declare was printed"
    );
}

#[test]
fn an_export_is_held_against_the_data_of_an_earlier_check() {
    let folder = Folder::new("check-earlier");
    let sample = root().join("pipelines/quarterly.toml");
    let earlier = folder.write("earlier.json", &check(&sample, &["--json"]));
    let csv = std::fs::read_to_string(root().join("sample-data/tarnwick-visits.csv")).unwrap();
    // forty rows are gone, and so is the column of rooms
    let place = csv
        .lines()
        .next()
        .unwrap()
        .split(',')
        .position(|header| header == "room")
        .unwrap();
    let lines: Vec<String> = csv
        .lines()
        .enumerate()
        .filter(|(number, _)| !(101..=140).contains(number))
        .map(|(_, line)| {
            let cells: Vec<&str> = line.split(',').collect();
            let kept = cells
                .iter()
                .enumerate()
                .filter(|(position, _)| *position != place);
            kept.map(|(_, cell)| *cell).collect::<Vec<_>>().join(",")
        })
        .collect();
    folder.write("later.csv", &lines.join("\n"));
    let later = pipeline(&folder, "later");
    let found = changes(&check(
        &later,
        &["--earlier", &earlier.display().to_string()],
    ));
    assert_eq!(found.len(), 2, "{found:?}");
    assert!(found[0].starts_with("column-vanished `room`"), "{found:?}");
    assert!(
        found[1].starts_with("rows-vanished: 40 rows of"),
        "{found:?}"
    );
    // the pipeline file of the earlier export says the same
    let again = changes(&check(
        &later,
        &["--earlier", &sample.display().to_string()],
    ));
    assert_eq!(found, again);
}

#[test]
fn what_is_no_earlier_export_is_refused() {
    let folder = Folder::new("check-refused");
    let nothing = folder.write("earlier.json", "[1, 2");
    let output = limbledger([
        "check".to_owned(),
        "pipelines/quarterly.toml".to_owned(),
        "--earlier".to_owned(),
        nothing.display().to_string(),
    ]);
    assert_eq!(output.status.code(), Some(2));
    assert!(
        said(&output).contains("is no check of an export"),
        "{}",
        said(&output)
    );
}

/// The unit of every column of sizes is declared wrongly; the middle of each gives it away.
#[test]
fn a_wrong_unit_is_doubted_column_by_column() {
    let folder = Folder::new("check-units");
    let layout =
        std::fs::read_to_string(root().join("pipelines/layouts/tarnwick-wide.toml")).unwrap();
    folder.write(
        "layouts/tarnwick-wide.toml",
        &layout
            .replace("unit = \"mm\"", "unit = \"cm\"")
            .replace("mmol/mol", "%"),
    );
    let text = std::fs::read_to_string(root().join("pipelines/quarterly.toml")).unwrap();
    let sample = root()
        .join("sample-data/tarnwick-visits.csv")
        .display()
        .to_string();
    let pipeline = folder.write(
        "wrong.toml",
        &text.replace("../sample-data/tarnwick-visits.csv", &sample),
    );
    let text = check(&pipeline, &[]);
    let doubted: Vec<&str> = text
        .lines()
        .filter(|line| line.contains("unit-suspected"))
        .filter_map(|line| line.split('`').nth(1))
        .collect();
    for column in ["w1_len", "w1_wid", "w1_dep", "hba1c"] {
        assert!(doubted.contains(&column), "{column} {doubted:?}");
    }
    assert!(text.contains("declare unit = \"mm\""), "{text}");
}
