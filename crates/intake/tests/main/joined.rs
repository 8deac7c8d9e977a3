//! Rows that name a row of another file, by hand: what such a row then says, and what becomes of rows that do not fit.

use crate::support::{TestFile, day, horizon, lines};
use intake::{Input, LoadError, Loaded, Role, layout, load};

const LAYOUT: &str = r#"
name = "joined"
[file]
shape = "long"
[dates]
format = "iso"
[missing]
spellings = ["-"]

[joined.visit]
key = "encounter"
role = "visits"

[joined.wound]
key = "id"
by = "wound_id"

[patient]
birth_year = "yob"

[visit]
patient = "person"
date = "seen_on"

[ulcer]
patient = "visit.person"
date = "visit.seen_on"
label = "wound_id"
side = { column = "wound.foot", codes = "sides" }
site = { column = "wound.place", codes = "places" }
length = { column = "len_mm", unit = "mm" }
state = "state"

[codes.sides]
L = "left"
R = "right"

[codes.places]
"big toe" = "toe-1"
heel = "heel"
"#;

const VISITS: &str = "\
encounter,person,seen_on,yob
E1,P1,2024-02-01,1950
E2,P1,2024-02-15,1950
E3,P2,2024-03-01,1961
";

const WOUNDS: &str = "\
id,foot,place
W1,L,big toe
W2,R,heel
";

/// Name, role, join, text.
type File<'f> = (&'f str, Option<Role>, Option<&'f str>, &'f str);

fn loaded_from(layout_text: &str, files: &[File<'_>]) -> Result<Loaded, LoadError> {
    let layout = layout::parse(layout_text, "layout.toml").unwrap();
    let kept: Vec<TestFile> = (files.iter())
        .map(|(_, _, _, text)| TestFile::new(text.as_bytes()))
        .collect();
    let inputs: Vec<Input> = (files.iter().zip(&kept))
        .map(|((name, role, joined, _), file)| Input {
            name: (*name).to_owned(),
            path: file.path.clone(),
            role: *role,
            joined: joined.map(str::to_owned),
            exported: None,
        })
        .collect();
    load(&inputs, &layout, &horizon(), &|_| ())
}

fn loaded(visits: &str, wounds: &str, seen: &str) -> Result<Loaded, LoadError> {
    loaded_from(
        LAYOUT,
        &[
            ("seen.csv", Some(Role::UlcerObservations), None, seen),
            ("visits.csv", Some(Role::Visits), None, visits),
            ("wounds.csv", None, Some("wound"), wounds),
        ],
    )
}

/// Person, day, label, side, site, length.
fn told(loaded: &Loaded) -> Vec<String> {
    let rows = loaded.tables.ulcer_observations.iter();
    rows.map(|row| {
        let person = &loaded.tables.patients[row.patient.0 as usize].id;
        let label = loaded.tables.names.get(row.label);
        let site = row.site.map(|site| site.region.to_string());
        format!(
            "{person} {} {label} {} {} {:?}",
            row.date,
            row.side,
            site.unwrap_or_default(),
            row.length_cm
        )
    })
    .collect()
}

fn accounts(loaded: &Loaded) -> Vec<String> {
    (loaded.accounts.iter())
        .map(|account| {
            assert!(account.is_balanced(), "{}", account.file);
            let (file, used, read) = (&account.file, account.n_used, account.n_read);
            format!("{file} {used}/{read} {:?}", account.set_aside)
        })
        .collect()
}

#[test]
fn a_row_says_what_the_rows_it_names_say() {
    let seen = "encounter,wound_id,len_mm,state\nE1,W1,12,open\nE2,W1,9,open\nE3,W2,20,open\n";
    let loaded = loaded(VISITS, WOUNDS, seen).unwrap();
    assert_eq!(lines(&loaded), [""; 0]);
    assert_eq!(
        told(&loaded),
        [
            "P1 2024-02-01 W1 left toe Some(1.2)",
            "P1 2024-02-15 W1 left toe Some(0.9)",
            "P2 2024-03-01 W2 right heel Some(2.0)",
        ]
    );
    assert_eq!(
        accounts(&loaded),
        ["wounds.csv 2/2 []", "visits.csv 3/3 []", "seen.csv 3/3 []"]
    );
    // facts about the person stand on the rows of visits
    let born: Vec<_> = (loaded.tables.patients.iter())
        .map(|patient| patient.birth_year)
        .collect();
    assert_eq!(born, [Some(1950), Some(1961)]);
    assert_eq!(loaded.tables.visits[0].date, day("2024-02-01"));
}

#[test]
fn a_row_whose_visit_is_not_there_is_set_aside_and_one_without_its_wound_lacks_what_that_says() {
    let seen = "encounter,wound_id,len_mm,state\nE9,W1,12,open\nE1,W9,9,open\n-,W1,9,open\n";
    let loaded = loaded(VISITS, WOUNDS, seen).unwrap();
    // without the wound's row there is no side, which the table cannot do without
    assert_eq!(
        lines(&loaded),
        [
            "set-aside joined-row-not-named record 2",
            "set-aside no-row-to-join record 1 encounter",
            "set-aside no-row-to-join record 2 wound_id",
            "set-aside no-patient-id record 3 visit.person",
        ]
    );
    assert_eq!(told(&loaded), [""; 0]);
}

#[test]
fn what_is_not_needed_of_a_row_that_is_not_there_is_noted_and_missing() {
    let layout = LAYOUT.replace(
        "side = { column = \"wound.foot\", codes = \"sides\" }",
        "side = { column = \"foot\", codes = \"sides\" }",
    );
    let files = [
        ("visits.csv", Some(Role::Visits), None, VISITS),
        ("wounds.csv", None, Some("wound"), WOUNDS),
        (
            "seen.csv",
            Some(Role::UlcerObservations),
            None,
            "encounter,wound_id,foot,len_mm,state\nE1,W9,L,9,open\n",
        ),
    ];
    let loaded = loaded_from(&layout, &files).unwrap();
    assert_eq!(told(&loaded), ["P1 2024-02-01 W9 left  Some(0.9)"]);
    let found = lines(&loaded);
    assert!(
        found.contains(&"note no-row-to-join record 1 wound_id".to_owned()),
        "{found:?}"
    );
}

#[test]
fn a_key_names_one_row_and_rows_that_are_not_used_are_accounted_for() {
    let wounds = "id,foot,place\nW1,L,big toe\nW1,L,big toe\nW1,R,heel\n,R,heel\nW3,R\nW4,R,heel\n";
    let seen = "encounter,wound_id,len_mm,state\nE1,W1,12,open\n";
    let loaded = loaded(VISITS, wounds, seen).unwrap();
    assert_eq!(told(&loaded), ["P1 2024-02-01 W1 left toe Some(1.2)"]);
    assert_eq!(
        lines(&loaded),
        [
            "set-aside repeated-row record 2",
            "set-aside key-names-two-rows record 3",
            "set-aside no-key-to-join record 4",
            "set-aside too-few-cells record 5",
            "set-aside joined-row-not-named record 6",
        ]
    );
    assert_eq!(
        accounts(&loaded)[0],
        "wounds.csv 1/6 [(\"joined-row-not-named\", 1), (\"key-names-two-rows\", 1), (\"no-key-to-join\", 1), (\"repeated-row\", 1), (\"too-few-cells\", 1)]"
    );
    let wounds_file = &loaded.accounts[0].text_bytes;
    assert_eq!(wounds_file.header, "id,foot,place\n".len() as u64);
    assert_eq!(wounds_file.used, "W1,L,big toe\n".len() as u64);
    assert_eq!(wounds_file.total(), wounds.len() as u64);
}

#[test]
fn cells_too_many_are_not_taken_for_cells_of_the_row_that_is_named() {
    let seen = "encounter,wound_id,len_mm,state\nE1,W1,12,open,P9,2024-05-05,R,heel\nE1,W1,12,open,P9\nE1,W1\n";
    let loaded = loaded(VISITS, WOUNDS, seen).unwrap();
    assert_eq!(told(&loaded), [""; 0]);
    assert_eq!(
        accounts(&loaded)[2],
        "seen.csv 0/3 [(\"too-few-cells\", 1), (\"too-many-cells\", 2)]"
    );
}

#[test]
fn of_two_exports_of_a_joined_file_the_later_counts() {
    let files = [
        ("visits.csv", Some(Role::Visits), None, VISITS),
        ("old.csv", None, Some("wound"), WOUNDS),
        ("new.csv", None, Some("wound"), "place,id,foot\nheel,W1,R\n"),
        (
            "seen.csv",
            Some(Role::UlcerObservations),
            None,
            "encounter,wound_id,len_mm,state\nE1,W1,9,open\nE3,W2,9,open\n",
        ),
    ];
    let loaded = loaded_from(LAYOUT, &files).unwrap();
    assert_eq!(
        told(&loaded),
        [
            "P1 2024-02-01 W1 right heel Some(0.9)",
            "P2 2024-03-01 W2 right heel Some(0.9)"
        ]
    );
    assert_eq!(lines(&loaded), ["set-aside superseded-row record 1"]);
}

#[test]
fn every_column_of_a_joined_file_is_screened() {
    let seen = "encounter,wound_id,len_mm,state\nE1,W1,12,open\n";
    // a column that nothing reads, also in rows that nothing names
    let wounds = "id,foot,place,patient_name\nW1,L,big toe,\nW2,R,heel,Oswin Partridge\n";
    let found = lines(&loaded(VISITS, wounds, seen).unwrap());
    for line in [
        "stop looks-like-name patient_name",
        "note column-not-in-layout patient_name",
    ] {
        assert!(found.contains(&line.to_owned()), "{found:?}");
    }
    let ignored = LAYOUT.replace("[file]", "ignore = [\"wound.patient_name\"]\n[file]");
    let files = [
        ("seen.csv", Some(Role::UlcerObservations), None, seen),
        ("visits.csv", Some(Role::Visits), None, VISITS),
        ("wounds.csv", None, Some("wound"), wounds),
    ];
    let found = lines(&loaded_from(&ignored, &files).unwrap());
    assert!(
        !found.iter().any(|line| line.ends_with("patient_name")),
        "{found:?}"
    );
    // one that is read, with the rows that name it
    let wounds = "id,foot,place\nW1,L,Mary Pellam\n";
    let found = lines(&loaded(VISITS, wounds, seen).unwrap());
    let is_told = |line: &String| line.starts_with("stop ") && line.ends_with(" wound.place");
    assert!(found.iter().any(is_told), "{found:?}");
}

#[test]
fn the_attendance_of_a_visit_may_be_joined_too() {
    let layout = LAYOUT
        .replace(
            "[ulcer]",
            "[attendance]\ncolumn = \"slot.status\"\nmissed = [\"DNA\"]\n[ulcer]",
        )
        .replace(
            "[joined.wound]",
            "[joined.slot]\nkey = \"encounter\"\n[joined.wound]",
        );
    let files = [
        ("visits.csv", Some(Role::Visits), None, VISITS),
        ("wounds.csv", None, Some("wound"), WOUNDS),
        (
            "slots.csv",
            None,
            Some("slot"),
            "encounter,status\nE1,ok\nE2,DNA\nE3,ok\n",
        ),
        (
            "seen.csv",
            Some(Role::UlcerObservations),
            None,
            "encounter,wound_id,len_mm,state\nE1,W1,9,open\n",
        ),
    ];
    let loaded = loaded_from(&layout.replace("missed", "kept = [\"ok\"]\nmissed"), &files).unwrap();
    let kept: Vec<&str> = (loaded.tables.visits.iter())
        .map(|visit| visit.attendance.code())
        .collect();
    assert_eq!(kept, ["kept", "missed", "kept"]);
}

#[test]
fn a_join_that_cannot_be_made_says_why() {
    let seen = "encounter,wound_id,len_mm,state\nE1,W1,12,open\n";
    let error = loaded(VISITS, "wound,foot,place\nW1,L,heel\n", seen).unwrap_err();
    assert_eq!(error.to_string(), "wounds.csv: no column `id`");
    let error = loaded(VISITS, "id,foot,place,foot\nW1,L,heel,R\n", seen).unwrap_err();
    assert_eq!(
        error.to_string(),
        "wounds.csv: columns 2 and 4 have the same header, `foot`"
    );
    let without = [
        ("visits.csv", Some(Role::Visits), None, VISITS),
        ("seen.csv", Some(Role::UlcerObservations), None, seen),
    ];
    let error = loaded_from(LAYOUT, &without).unwrap_err();
    assert_eq!(
        (error.to_string().as_str(), error.hint().as_deref()),
        (
            "the layout `joined` joins rows as `wound`, and no file of them is given",
            Some("add it under [[export.file]] with joined = \"wound\"")
        )
    );
    let unknown = [("wounds.csv", None, Some("lesion"), WOUNDS)];
    let error = loaded_from(LAYOUT, &unknown).unwrap_err();
    assert_eq!(
        error.to_string(),
        "wounds.csv: the layout `joined` joins no file of that name"
    );
    let error = layout::parse(
        &LAYOUT.replace("role = \"visits\"", "role = \"events\""),
        "layout.toml",
    )
    .unwrap_err();
    assert!(
        error
            .to_string()
            .contains("`joined.visit.role`: the layout reads no file of events"),
        "{error}"
    );
}

#[test]
fn sizes_in_one_cell_are_parted_and_a_unit_in_the_cell_is_its_own() {
    let layout = LAYOUT.replace(
        "length = { column = \"len_mm\", unit = \"mm\" }",
        "length = { column = \"size\", part = 1, unit = \"mm\" }\nwidth = { column = \"size\", part = 2, unit = \"mm\" }",
    );
    let seen = "encounter,wound_id,size,state\nE1,W1,12 x 8,open\nE2,W1,1.1 x 0.7 cm,open\nE3,W2,9,open\nE3,W1,9 x wide,open\n";
    let files = [
        ("visits.csv", Some(Role::Visits), None, VISITS),
        ("wounds.csv", None, Some("wound"), WOUNDS),
        ("seen.csv", Some(Role::UlcerObservations), None, seen),
    ];
    let loaded = loaded_from(&layout, &files).unwrap();
    let rows = loaded.tables.ulcer_observations.iter();
    let sizes: Vec<_> = rows.map(|row| (row.length_cm, row.width_cm)).collect();
    assert_eq!(
        sizes,
        [
            (Some(1.2), Some(0.8)),
            (Some(1.1), Some(0.7)),
            (Some(0.9), None),
            // what stands behind the last number may be a unit of both, so neither is believed
            (None, None),
        ]
    );
    assert_eq!(
        lines(&loaded),
        ["cell-ignored unreadable-number record 4 size"; 2]
    );
    let error = layout::parse(&layout.replace("part = 2", "part = 4"), "layout.toml").unwrap_err();
    assert!(
        error
            .to_string()
            .contains("`ulcer.width.part` must be 1, 2 or 3"),
        "{error}"
    );
    let error = layout::parse(
        &layout.replace(
            "state = \"state\"",
            "state = { column = \"state\", part = 1 }",
        ),
        "layout.toml",
    )
    .unwrap_err();
    assert!(
        error.to_string().contains("`ulcer.state` is no quantity"),
        "{error}"
    );
}
