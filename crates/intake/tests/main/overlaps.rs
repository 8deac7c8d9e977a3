//! Exports that overlap: the same record counts once, and the newest telling of it wins.

use crate::support::{WIDE, day, export, horizon, row};
use intake::{Input, LoadError, Loaded, Role, layout, load};

/// A file of an export: name, day of export, text.
type File<'f> = (&'f str, Option<&'f str>, String);

fn try_load(layout: &str, role: Option<Role>, files: &[File<'_>]) -> Result<Loaded, LoadError> {
    let layout = layout::parse(layout, "layout.toml").unwrap();
    let kept: Vec<_> = files
        .iter()
        .map(|(_, _, text)| crate::support::TestFile::new(text.as_bytes()))
        .collect();
    let inputs: Vec<Input> = files
        .iter()
        .zip(&kept)
        .map(|((name, exported, _), file)| Input {
            name: (*name).to_owned(),
            path: file.path.clone(),
            role,
            joined: None,
            exported: exported.map(day),
        })
        .collect();
    load(&inputs, &layout, &horizon(), &|_| ())
}

fn wide(files: &[File<'_>]) -> Loaded {
    try_load(WIDE, None, files).unwrap()
}

/// One visit of a person with one ulcer.
fn visit(id: &str, seen: &str, state: &str) -> String {
    row(&[
        ("pid", id),
        ("seen", seen),
        ("type", "ATT"),
        ("w1", "A"),
        ("w1_side", "L"),
        ("w1_state", state),
    ])
}

/// Date and state of each ulcer observation, in reading order.
fn states(loaded: &Loaded) -> Vec<String> {
    let seen = loaded.tables.ulcer_observations.iter();
    seen.map(|seen| {
        let state = seen.state.map_or("none", |state| state.code());
        format!("{} {state}", seen.date)
    })
    .collect()
}

/// Account of each file: used, and set aside by reason.
fn accounts(loaded: &Loaded) -> Vec<String> {
    let words = |account: &outcomes::finding::FileAccount| {
        assert!(account.is_balanced());
        assert_eq!(account.text_bytes.total(), account.bytes);
        let reasons = account.set_aside.iter();
        let reasons: Vec<String> = reasons.map(|(why, n)| format!(", {n} {why}")).collect();
        format!("{} used{}", account.n_used, reasons.concat())
    };
    loaded.accounts.iter().map(words).collect()
}

/// Check and message of each finding.
fn found(loaded: &Loaded) -> Vec<String> {
    crate::support::lines(loaded);
    let findings = loaded.findings.iter();
    findings
        .map(|finding| format!("{}: {}", finding.check, finding.message))
        .collect()
}

/// Three visits of two persons, as the first year's export tells them.
fn year_one() -> String {
    export(&[
        visit("TW-00001", "03/11/2024", "O"),
        visit("TW-00001", "17/11/2024", "C"),
        visit("TW-00002", "04/11/2024", "O"),
    ])
}

/// The second year's export repeats the first year, corrects one visit and adds one.
fn year_two() -> String {
    export(&[
        visit("TW-00001", "03/11/2024", "O"),
        visit("TW-00001", "17/11/2024", "O"),
        visit("TW-00002", "04/11/2024", "O"),
        visit("TW-00001", "01/12/2024", "C"),
    ])
}

/// The ulcer was written down as closed on 17 November and later corrected to open; it closed on 1 December.
const CORRECTED: [&str; 4] = [
    "2024-11-03 open",
    "2024-11-04 open",
    "2024-11-17 open",
    "2024-12-01 closed",
];

#[test]
fn a_corrected_visit_counts_once_as_the_newer_export_tells_it() {
    let dated = wide(&[
        ("one.csv", Some("2024-12-31"), year_one()),
        ("two.csv", Some("2025-12-31"), year_two()),
    ]);
    let mut seen = states(&dated);
    seen.sort();
    assert_eq!(seen, CORRECTED);
    assert_eq!(dated.tables.visits.len(), 4);
    assert_eq!(
        accounts(&dated),
        ["2 used, 1 superseded-row", "2 used, 2 repeated-row"]
    );
    assert_eq!(
        found(&dated),
        [
            "superseded-row: a newer export tells this row differently: record 2 of two.csv is used instead",
            "repeated-row: the row is identical to an earlier one",
            "repeated-row: the row is identical to an earlier one",
        ]
    );
}

#[test]
fn the_day_of_export_decides_whatever_the_order_of_the_files() {
    let turned = wide(&[
        ("two.csv", Some("2025-12-31"), year_two()),
        ("one.csv", Some("2024-12-31"), year_one()),
    ]);
    let mut seen = states(&turned);
    seen.sort();
    assert_eq!(seen, CORRECTED);
    assert_eq!(
        accounts(&turned),
        ["4 used", "0 used, 2 repeated-row, 1 superseded-row"]
    );
}

#[test]
fn without_days_the_later_listed_is_newer_and_the_report_says_so() {
    let listed = wide(&[("one.csv", None, year_one()), ("two.csv", None, year_two())]);
    assert_eq!(
        accounts(&listed),
        ["2 used, 1 superseded-row", "2 used, 2 repeated-row"]
    );
    assert!(found(&listed)[0].starts_with("exports-in-listed-order: one.csv, two.csv: 1 rows"));
    let error = try_load(
        WIDE,
        None,
        &[
            ("one.csv", Some("2024-12-31"), year_one()),
            ("two.csv", None, year_two()),
        ],
    );
    assert_eq!(
        error.unwrap_err().to_string(),
        "two.csv: does not say when it was exported, and other files of its kind do"
    );
}

#[test]
fn exports_of_one_day_that_disagree_are_both_kept_and_named() {
    let equal = wide(&[
        ("a.csv", Some("2025-12-31"), year_one()),
        ("b.csv", Some("2025-12-31"), year_two()),
    ]);
    assert_eq!(accounts(&equal), ["3 used", "2 used, 2 repeated-row"]);
    let expected = "exports-disagree: record 2 of a.csv, exported on the same day, tells this row differently; both are used";
    assert!(found(&equal).iter().any(|line| line == expected));
}

#[test]
fn two_visits_on_one_day_of_one_file_are_never_merged() {
    let twice = export(&[
        visit("TW-00001", "03/11/2024", "O"),
        visit("TW-00001", "03/11/2024", "C"),
    ]);
    let alone = wide(&[("a.csv", None, twice.clone())]);
    assert_eq!(accounts(&alone), ["2 used"]);
    let corrected = twice.replace(",C,", ",O,").replacen(",ATT,", ",DNA,", 1);
    let both = wide(&[("a.csv", None, twice), ("b.csv", None, corrected)]);
    // the first visit of the older file is told identically by the second of the newer
    assert_eq!(
        accounts(&both),
        ["1 used, 1 superseded-row", "1 used, 1 repeated-row"]
    );
}

#[test]
fn a_broken_or_later_row_takes_the_place_of_none() {
    let broken = format!(
        "{}{}\n",
        export(&[visit("TW-00001", "17/11/2024", "O") + ",one too many"]),
        visit("TW-00002", "31/02/2024", "O")
    );
    let loaded = wide(&[("one.csv", None, year_one()), ("two.csv", None, broken)]);
    assert_eq!(accounts(&loaded)[0], "3 used", "{:?}", found(&loaded));
}

#[test]
fn a_row_that_the_newer_export_should_hold_is_used_and_told() {
    let newer = export(&[
        visit("TW-00001", "03/11/2024", "O"),
        visit("TW-00001", "18/11/2024", "C"),
    ]);
    let loaded = wide(&[
        ("one.csv", None, year_one()),
        ("two.csv", None, newer.clone()),
    ]);
    assert!(
        found(&loaded)[0].starts_with("not-in-newer-export: one.csv: 2 rows lie within"),
        "{:?}",
        found(&loaded)
    );
    // with a number for each row the moved visit is known again
    let with_ids = WIDE.replace("date = \"seen\"", "date = \"seen\"\nrow_id = \"remark\"");
    let numbered = |text: String| {
        let lines = text.lines().enumerate().map(|(number, line)| match number {
            0 => format!("{line}\n"),
            _ => format!("{line}V{number}\n"),
        });
        lines.collect::<String>()
    };
    let layout = with_ids.replace("ignore = [\"remark\"]", "");
    let files = [
        ("one.csv", None, numbered(year_one())),
        ("two.csv", None, numbered(newer)),
    ];
    let loaded = try_load(&layout, None, &files).unwrap();
    assert_eq!(
        states(&loaded),
        ["2024-11-03 open", "2024-11-04 open", "2024-11-18 closed"]
    );
}

#[test]
fn three_exports_give_the_last_word_also_when_it_is_the_first() {
    let first = export(&[visit("TW-00001", "03/11/2024", "O")]);
    let second = export(&[visit("TW-00001", "03/11/2024", "C")]);
    let files = [
        ("a.csv", None, first.clone()),
        ("b.csv", None, second),
        ("c.csv", None, first),
    ];
    let loaded = wide(&files);
    assert_eq!(states(&loaded), ["2024-11-03 open"]);
    assert_eq!(
        accounts(&loaded),
        [
            "1 used",
            "0 used, 1 superseded-row",
            "0 used, 1 repeated-row"
        ]
    );
}

/// A layout of ulcers and events in files of their own.
const LONG: &str = r#"
name = "small-long"
[file]
shape = "long"
[dates]
format = "iso"
[patient]
id = "pid"
death = "died"
[ulcer]
patient = "pid"
date = "seen"
side = "side"
label = "label"
state = "state"
[event]
patient = "pid"
date = "date"
kind = "kind"
side = "side"
height = "height"
"#;

#[test]
fn each_kind_of_file_has_its_own_names_for_a_record() {
    let role = |role, header: &str, one: &str, two: &str| {
        let file = |rows: &str| format!("{header}\n{}\n", rows.replace('|', "\n"));
        let files = [("one.csv", None, file(one)), ("two.csv", None, file(two))];
        accounts(&try_load(LONG, Some(role), &files).unwrap())
    };
    // another ulcer of the day stays, the corrected one is replaced
    assert_eq!(
        role(
            Role::UlcerObservations,
            "pid,seen,side,label,state",
            "P1,2024-11-03,left,A,open|P1,2024-11-03,left,B,open",
            "P1,2024-11-03,left,A,closed",
        ),
        ["1 used, 1 superseded-row", "1 used"]
    );
    // a corrected height is the same amputation, another side another one
    assert_eq!(
        role(
            Role::Events,
            "pid,date,kind,side,height",
            "P1,2024-11-03,minor-amputation,left,toe|P1,2024-11-03,minor-amputation,right,toe",
            "P1,2024-11-03,minor-amputation,left,ray",
        ),
        ["1 used, 1 superseded-row", "1 used"]
    );
    // of a person, the newest row
    assert_eq!(
        role(Role::Patients, "pid,died", "P1,2024-11-03|P2,", "P1,"),
        ["1 used, 1 superseded-row", "1 used"]
    );
}

#[test]
fn files_that_share_nothing_are_read_as_one() {
    let rows: Vec<String> = (1..=20)
        .map(|day| {
            visit(
                ["TW-00001", "TW-00002"][day % 2],
                &format!("{day}/11/2024"),
                "O",
            )
        })
        .collect();
    let whole = wide(&[("all.csv", None, export(&rows))]);
    let parts = wide(&[
        ("a.csv", None, export(&rows[..7])),
        ("b.csv", None, export(&rows[7..])),
    ]);
    assert_eq!(states(&whole), states(&parts));
    assert_eq!(accounts(&parts), ["7 used", "13 used"]);
    assert!(parts.findings.is_empty());
}

/// Two attendances of one person in one year, told in two files: a year does not say whether they are one.
#[test]
fn rows_that_tell_years_only_never_take_the_place_of_others() {
    let layout = WIDE.replace("[dates]\n", "[dates]\nkind = \"year-only\"\n");
    assert_ne!(layout, WIDE);
    let old = export(&[visit("P1", "2024", "O"), visit("P2", "2024", "O")]);
    let new = export(&[visit("P1", "2024", "C"), visit("P2", "2024", "O")]);
    let loaded = try_load(
        &layout,
        None,
        &[
            ("old.csv", Some("2025-01-05"), old),
            ("new.csv", Some("2026-01-05"), new),
        ],
    )
    .unwrap();
    assert_eq!(accounts(&loaded), ["2 used", "1 used, 1 repeated-row"]);
    let told = loaded
        .findings
        .iter()
        .filter(|finding| finding.check == "years-name-no-row");
    assert_eq!(told.count(), 1);
}
