//! A small invented export, and short ways to load one and to write down what came of it.

use intake::{Input, LoadError, Loaded, Role, layout, load};
use outcomes::finding::Finding;
use outcomes::rules::DataHorizon;
use std::path::PathBuf;
use std::sync::atomic::{AtomicU32, Ordering};

/// A layout of the small export, with one of everything.
pub(crate) const WIDE: &str = r#"
name = "small-wide"
description = "One row a visit"
ignore = ["remark"]

[file]
shape = "wide"

[missing]
spellings = ["-", "unk", "N/A"]

[dates]
format = "day-first"

[codes.side]
L = "left"
R = "right"

[codes.yesno]
Y = "yes"
N = "no"

[codes.state]
O = "open"
C = "closed"

[codes.feeling]
1 = "intact"
0 = "lost"

[codes.kind]
VREF = "vascular-referral"
RIP = "death"

[patient]
id = "pid"
birth_year = "yob"
sex = { column = "sex", codes = "sex" }
prior_ulcer = { column = "prior", codes = "yesno" }
death = "died"

[codes.sex]
F = "female"
M = "male"

[visit]
date = "seen"
hba1c = { column = "hba1c", unit = "mmol/mol" }

[attendance]
column = "type"
kept = ["ATT"]
missed = ["DNA"]
administrative = ["ADM"]

[foot_exam]
left_is = "l"
right_is = "r"
sensation = { column = "{side}_mono", codes = "feeling" }

[ulcer]
slots = 2
label = "w{slot}"
side = { column = "w{slot}_side", codes = "side" }
state = { column = "w{slot}_state", codes = "state" }
length = { column = "w{slot}_len", unit = "mm" }

[event]
slots = 1
kind = { column = "e{slot}", codes = "kind" }
date = "e{slot}_date"
side = { column = "e{slot}_side", codes = "side" }
"#;

/// The columns of the small export.
pub(crate) const COLUMNS: &str = "pid,yob,sex,prior,died,seen,type,hba1c,l_mono,r_mono,w1,w1_side,w1_state,w1_len,w2,w2_side,w2_state,w2_len,e1,e1_date,e1_side,remark";

/// A row of the small export from the cells that matter; the others are empty.
pub(crate) fn row(cells: &[(&str, &str)]) -> String {
    let columns: Vec<&str> = COLUMNS.split(',').collect();
    for (column, _) in cells {
        assert!(columns.contains(column), "no column {column}");
    }
    let values: Vec<&str> = columns
        .iter()
        .map(|column| {
            cells
                .iter()
                .find(|(name, _)| name == column)
                .map_or("", |(_, value)| value)
        })
        .collect();
    values.join(",")
}

/// The small export of these rows.
pub(crate) fn export(rows: &[String]) -> String {
    format!("{COLUMNS}\n{}\n", rows.join("\n"))
}

pub(crate) fn day(text: &str) -> chrono::NaiveDate {
    text.parse().unwrap()
}

pub(crate) fn horizon() -> DataHorizon {
    DataHorizon {
        data_start: day("2024-01-01"),
        cut_off: day("2025-12-31"),
        deaths_known_to: day("2025-12-31"),
        procedures_known_to: day("2025-12-31"),
    }
}

/// A file of a test, removed at its end.
pub(crate) struct TestFile {
    pub(crate) path: PathBuf,
}

impl TestFile {
    pub(crate) fn new(bytes: &[u8]) -> Self {
        static NEXT: AtomicU32 = AtomicU32::new(0);
        let number = NEXT.fetch_add(1, Ordering::Relaxed);
        let path = PathBuf::from(env!("CARGO_TARGET_TMPDIR"))
            .join(format!("{}-{number}.csv", std::process::id()));
        std::fs::write(&path, bytes).unwrap();
        Self { path }
    }
}

impl Drop for TestFile {
    fn drop(&mut self) {
        let _ = std::fs::remove_file(&self.path);
    }
}

/// Loads files of (name, role, bytes) through a layout.
pub(crate) fn load_files(
    layout: &str,
    files: &[(&str, Option<Role>, &[u8])],
) -> Result<Loaded, LoadError> {
    let layout = layout::parse(layout, "layout.toml").unwrap();
    let kept: Vec<TestFile> = files
        .iter()
        .map(|(_, _, bytes)| TestFile::new(bytes))
        .collect();
    let inputs: Vec<Input> = files
        .iter()
        .zip(&kept)
        .map(|((name, role, _), file)| Input {
            name: (*name).to_owned(),
            path: file.path.clone(),
            role: *role,
            joined: None,
            exported: None,
        })
        .collect();
    load(&inputs, &layout, &horizon(), &|_| ())
}

/// Loads one file through the small layout.
pub(crate) fn load_wide(csv: &str) -> Loaded {
    load_files(WIDE, &[("visits.csv", None, csv.as_bytes())]).unwrap()
}

/// A finding in a line: severity, check, record, column.
pub(crate) fn line(finding: &Finding) -> String {
    let record = finding
        .source
        .map_or(String::new(), |source| format!(" record {}", source.record));
    let column = finding
        .column
        .as_ref()
        .map_or(String::new(), |column| format!(" {column}"));
    format!("{} {}{record}{column}", finding.severity, finding.check)
}

/// All findings, a line each. Every check made must be one that the program can explain.
pub(crate) fn lines(loaded: &Loaded) -> Vec<String> {
    for finding in &loaded.findings {
        assert!(
            intake::CHECKS
                .iter()
                .any(|check| check.name == finding.check),
            "{}",
            finding.check
        );
    }
    loaded.findings.iter().map(line).collect()
}

/// The account of the only file: read, used, set aside by reason.
pub(crate) fn account(loaded: &Loaded) -> String {
    let account = loaded.accounts.first().unwrap();
    assert!(account.is_balanced());
    let reasons: Vec<String> = account
        .set_aside
        .iter()
        .map(|(check, n)| format!(" {check} {n}"))
        .collect();
    format!(
        "read {} used {}{}",
        account.n_read,
        account.n_used,
        reasons.concat()
    )
}

/// The root of the repository.
pub(crate) fn repository() -> PathBuf {
    std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

/// A layout that comes with the program.
pub(crate) fn shipped_layout(name: &str) -> intake::Layout {
    let text = std::fs::read_to_string(repository().join("pipelines/layouts").join(name)).unwrap();
    layout::parse(&text, name).unwrap()
}
