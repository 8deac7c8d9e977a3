//! What the program says when something is wrong: the place, the fact, a hint; nothing written; the right exit code.

use crate::support::{Folder, limbledger, printed, root, said};
use std::path::Path;

const HEADER: &str = "pat_ref,vis_date,attend";

/// A pipeline in a folder that reads `export.csv` through the sample's wide layout.
fn pipeline(folder: &Folder, change: impl Fn(String) -> String) -> std::path::PathBuf {
    let layout = root().join("pipelines/layouts/tarnwick-wide.toml");
    let layout = std::fs::canonicalize(layout).unwrap();
    let text = format!(
        "title = \"Report\"\npractice = \"Made-up\"\n\n[export]\nlayout = \"{}\"\n\n[[export.file]]\npath = \"export.csv\"\n\n\
         [known]\ndata_start = 2023-01-01\ncut_off = 2025-12-31\n\n[report]\nquarter = \"2025Q4\"\nfolder = \"out\"\n",
        layout.display()
    );
    folder.write("pipeline.toml", &change(text))
}

fn refused(folder: &Folder, pipeline: &Path, wanted: &[&str]) {
    let output = limbledger(["run".as_ref(), pipeline.as_os_str()]);
    let words = said(&output);
    assert_eq!(output.status.code(), Some(2), "{words}");
    for part in wanted {
        assert!(words.contains(part), "`{part}` is not in:\n{words}");
    }
    assert!(words.contains("hint: "), "no hint in:\n{words}");
    assert_eq!(printed(&output), "");
    assert!(
        folder.names().iter().all(|name| name != "out"),
        "{:?}",
        folder.names()
    );
}

#[test]
fn a_missing_pipeline_file_is_said_with_its_name() {
    let folder = Folder::new("no-pipeline");
    refused(
        &folder,
        &folder.path("nowhere.toml"),
        &["nowhere.toml: could not read the pipeline file"],
    );
}

#[test]
fn an_export_that_is_not_there_a_folder_or_empty_stops_before_anything_is_written() {
    let folder = Folder::new("bad-export");
    let path = pipeline(&folder, |text| text);
    refused(&folder, &path, &["export.csv"]);
    std::fs::create_dir(folder.path("export.csv")).unwrap();
    refused(&folder, &path, &["export.csv", "folder"]);
    std::fs::remove_dir(folder.path("export.csv")).unwrap();
    folder.write("export.csv", "");
    refused(&folder, &path, &["export.csv", "empty"]);
}

#[test]
fn a_missing_required_column_is_named() {
    let folder = Folder::new("missing-column");
    let path = pipeline(&folder, |text| text);
    let sample = std::fs::read_to_string(root().join("sample-data/tarnwick-visits.csv")).unwrap();
    let header = sample
        .lines()
        .next()
        .unwrap()
        .replace("vis_date", "visdate");
    folder.write("export.csv", &header);
    refused(&folder, &path, &["export.csv", "`vis_date`", "visdate"]);
}

#[test]
fn a_layout_for_another_export_is_recognised() {
    let folder = Folder::new("other-export");
    let path = pipeline(&folder, |text| text);
    folder.write("export.csv", "alpha,beta,gamma\n1,2,3\n");
    refused(&folder, &path, &["export.csv", "columns"]);
}

#[test]
fn a_misspelt_key_or_measure_is_refused_with_line_and_column() {
    let folder = Folder::new("misspelt");
    folder.write("export.csv", HEADER);
    let path = pipeline(&folder, |text| text.replace("cut_off", "cutoff"));
    refused(
        &folder,
        &path,
        &[
            "pipeline.toml:12:1: unknown key `known.cutoff`",
            "did you mean `cut_off`?",
        ],
    );
    let path = pipeline(&folder, |text| {
        text.replace(
            "folder =",
            "measures = [\"limbs-kept-at-12-month\"]\nfolder =",
        )
    });
    refused(
        &folder,
        &path,
        &[
            "pipeline.toml:16:13: unknown measure `limbs-kept-at-12-month`",
            "did you mean `limbs-kept-at-12-months`?",
        ],
    );
}

#[test]
fn a_folder_that_is_no_run_is_left_alone() {
    let folder = Folder::new("foreign");
    let out = folder.path("precious");
    std::fs::create_dir(&out).unwrap();
    std::fs::write(out.join("thesis.txt"), "mine").unwrap();
    let output = limbledger([
        "run".as_ref(),
        "pipelines/quarterly.toml".as_ref(),
        "--out".as_ref(),
        out.as_os_str(),
    ]);
    assert_eq!(output.status.code(), Some(2));
    assert!(said(&output).contains("is not a run folder"));
    assert_eq!(std::fs::read_dir(&out).unwrap().count(), 1);
}

#[test]
fn a_run_folder_with_something_added_or_an_input_inside_is_left_alone() {
    let folder = Folder::new("added");
    let out = folder.path("run");
    let run = || {
        limbledger([
            "run".as_ref(),
            "pipelines/quarterly.toml".as_ref(),
            "--out".as_ref(),
            out.as_os_str(),
        ])
    };
    assert_eq!(run().status.code(), Some(0));
    for name in ["my-notes.txt", "clinic/my-notes.txt"] {
        std::fs::write(out.join(name), "mine").unwrap();
        let output = run();
        assert_eq!(output.status.code(), Some(2));
        assert!(
            said(&output).contains(&format!("it also holds `{name}`")),
            "{}",
            said(&output)
        );
        std::fs::remove_file(out.join(name)).unwrap();
    }
    std::fs::create_dir(out.join("empty")).unwrap();
    assert_eq!(run().status.code(), Some(2));
    assert!(out.join("empty").exists());
    // A manifest of another program does not make a folder ours.
    let foreign = folder.path("app");
    std::fs::create_dir(&foreign).unwrap();
    std::fs::write(foreign.join("manifest.json"), "{\"name\":\"web app\"}").unwrap();
    let output = limbledger([
        "run".as_ref(),
        "pipelines/quarterly.toml".as_ref(),
        "--out".as_ref(),
        foreign.as_os_str(),
    ]);
    assert_eq!(output.status.code(), Some(2));
}

/// The sample export with some text replaced, in a folder with its pipeline.
fn changed_sample(folder: &Folder, change: impl Fn(String) -> String) -> std::path::PathBuf {
    let sample = std::fs::read_to_string(root().join("sample-data/tarnwick-visits.csv")).unwrap();
    folder.write("export.csv", &change(sample));
    pipeline(folder, |text| text)
}

#[test]
fn an_export_of_which_no_row_can_be_used_stops_the_run_with_1() {
    let folder = Folder::new("unusable");
    let header_only = changed_sample(&folder, |text| {
        format!("{}\r\n", text.lines().next().unwrap())
    });
    let output = limbledger(["run".as_ref(), header_only.as_os_str()]);
    assert_eq!(output.status.code(), Some(1), "{}", said(&output));
    let unreadable = changed_sample(&folder, |text| text.replace("/20", "~20"));
    let output = limbledger(["check".as_ref(), unreadable.as_os_str()]);
    assert_eq!(output.status.code(), Some(1), "{}", said(&output));
    assert!(
        said(&output).contains("most often: unreadable-visit-date"),
        "{}",
        said(&output)
    );
    assert!(!folder.path("out").exists());
}

#[test]
fn a_pair_of_stray_quotation_marks_does_not_swallow_rows_in_silence() {
    let folder = Folder::new("quotes");
    let path = changed_sample(&folder, |text| {
        let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
        let room = lines[0]
            .split(',')
            .position(|header| header == "room")
            .unwrap();
        let quote = |line: &str, is_first: bool| {
            let mut cells: Vec<String> = line.split(',').map(str::to_owned).collect();
            cells[room] = if is_first {
                format!("\"{}", cells[room])
            } else {
                format!("{}\"", cells[room])
            };
            cells.join(",")
        };
        lines[10] = quote(&lines[10], true);
        lines[400] = quote(&lines[400], false);
        lines.join("\r\n")
    });
    let output = limbledger(["run".as_ref(), path.as_os_str()]);
    assert_eq!(output.status.code(), Some(1), "{}", said(&output));
    assert!(
        said(&output).contains("quotation-mark-left-open"),
        "{}",
        said(&output)
    );
}

#[test]
fn a_kind_of_file_that_is_not_given_does_not_read_as_nothing_happened() {
    let folder = Folder::new("roles");
    let out = folder.path("practice");
    let made = limbledger([
        "simulate",
        "--patients",
        "20",
        "--out",
        &out.display().to_string(),
    ]);
    assert_eq!(made.status.code(), Some(0), "{}", said(&made));
    let path = pipeline(&folder, |text| {
        let roles = [
            ("patients", "patients"),
            ("visits", "visits"),
            ("foot-exams", "foot-exams"),
            ("ulcer-observations", "ulcer-observations"),
        ];
        let files: Vec<String> = roles
            .iter()
            .map(|(file, role)| {
                format!("[[export.file]]\npath = \"practice/long/{file}.csv\"\nrole = \"{role}\"\n")
            })
            .collect();
        text.replace("tarnwick-wide", "tarnwick-long").replace(
            "[[export.file]]\npath = \"export.csv\"\n",
            &files.join("\n"),
        )
    });
    refused(
        &folder,
        &path,
        &["reads files of events, and none is given"],
    );
}

#[test]
fn explain_suggests_the_nearest_name() {
    let output = limbledger(["explain", "healed-within-12-week"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(said(&output).contains("did you mean `healed-within-12-weeks`?"));
}

#[test]
fn an_unknown_command_or_option_ends_with_2_and_no_command_shows_help() {
    assert_eq!(limbledger(["runn"]).status.code(), Some(2));
    assert_eq!(limbledger(["run", "--fast"]).status.code(), Some(2));
    let help = limbledger(["--help"]);
    assert_eq!(help.status.code(), Some(0));
    assert!(
        printed(&help).contains("Exit codes: 0 done, 1 the data stopped the run, 2 could not run.")
    );
}

#[test]
fn everything_that_is_listed_can_be_explained() {
    for what in ["measures", "checks", "settings"] {
        let listed = printed(&limbledger(["list", what]));
        let names = listed
            .lines()
            .filter(|line| what != "measures" || line.starts_with("  "));
        for name in names.filter_map(|line| line.split_whitespace().next()) {
            let output = limbledger(["explain", name]);
            assert_eq!(output.status.code(), Some(0), "{name}");
            assert!(printed(&output).lines().count() > 3, "{name}");
        }
    }
}
