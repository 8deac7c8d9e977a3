//! What a mapping can say beyond "this column".

use crate::support::{lines, load_files};

fn layout(lines: &str) -> String {
    format!(
        "name = \"m\"\n[file]\nshape = \"wide\"\n[dates]\nformat = \"iso\"\n[patient]\nid = \"pid\"\n[visit]\ndate = \"seen\"\n{lines}"
    )
}

/// One row an ulcer a visit: the attendance is repeated on each row and kept once.
#[test]
fn an_export_with_one_row_an_ulcer_gives_one_visit() {
    let layout = layout(
        "clinic_site = \"site\"\n[ulcer]\nlabel = \"ulcer\"\nside = \"side\"\nstate = \"state\"\n[foot_exam]\nside = \"side\"\npulses = \"pulse\"\n",
    );
    let csv = "pid,seen,site,ulcer,side,state,pulse\n\
               TW-00001,2025-03-01,Quay,A,left,open,absent\n\
               TW-00001,2025-03-01,Quay,B,left,open,absent\n\
               TW-00001,2025-03-01,Quay,C,right,closed,palpable\n\
               TW-00001,2025-03-01,Hill,,,,\n";
    let loaded = load_files(&layout, &[("v.csv", None, csv.as_bytes())]).unwrap();
    let tables = &loaded.tables;
    assert_eq!(lines(&loaded), Vec::<String>::new());
    assert_eq!(
        (
            tables.visits.len(),
            tables.ulcer_observations.len(),
            tables.foot_exams.len()
        ),
        (2, 3, 2)
    );
}

#[test]
fn a_constant_fills_a_field_but_makes_no_row_of_itself() {
    let layout = layout(
        "setting = { value = \"home\" }\n[ulcer]\nslots = 2\nlabel = { value = \"slot {slot}\" }\nside = \"side{slot}\"\nseen_by = { value = \"home-nurse\" }\n",
    );
    let csv = "pid,seen,side1,side2\nTW-00001,2025-03-01,,right\n";
    let loaded = load_files(&layout, &[("v.csv", None, csv.as_bytes())]).unwrap();
    let ulcers = &loaded.tables.ulcer_observations;
    assert_eq!(ulcers.len(), 1);
    assert_eq!(loaded.tables.names.get(ulcers[0].label), "slot 2");
    assert_eq!(ulcers[0].seen_by.code(), "home-nurse");
    assert_eq!(loaded.tables.visits[0].setting.unwrap().code(), "home");
}

#[test]
fn strata_and_code_lists_translate_and_pass_over_missing() {
    let layout = layout(
        "clinic_site = { column = \"site\", codes = \"sites\" }\n[strata]\npayer = { column = \"pay\", codes = \"payers\" }\n\
         [codes]\nsites = { Q = \"Quay\", X = \"missing\" }\npayers = { 1 = \"public\", 2 = \"private\" }\n",
    );
    let csv = "pid,seen,site,pay\nTW-00001,2025-03-01,q,1\nTW-00002,2025-03-01,X,9\nTW-00001,2025-03-02,Z,2\n";
    let loaded = load_files(&layout, &[("v.csv", None, csv.as_bytes())]).unwrap();
    assert_eq!(
        lines(&loaded),
        [
            "cell-ignored unknown-code record 2 pay",
            "cell-ignored unknown-code record 3 site",
            "note contradicting-stratum record 3",
        ]
    );
    let tables = &loaded.tables;
    let sites: Vec<&str> = tables
        .visits
        .iter()
        .map(|visit| tables.name_or_unrecorded(visit.clinic_site))
        .collect();
    assert_eq!(sites, ["Quay", "not recorded", "not recorded"]);
    let (stratum, value) = tables.patients[0].strata[0];
    assert_eq!(
        (tables.names.get(stratum), tables.names.get(value)),
        ("payer", "public")
    );
}

#[test]
fn an_onset_is_as_exact_as_it_was_written() {
    let layout = layout(
        "[ulcer]\nlabel = \"u\"\nside = \"side\"\nonset_date = \"onset\"\nonset_precision = \"exact\"\n",
    );
    let cases = [
        ("2025-01-17,day", "2025-01-17 day"),
        ("2025-01-17,month", "2025-01-01 month"),
        ("2025-01-13,week", "2025-01-13 week"),
        ("2025-01,", "2025-01-01 month"),
        ("2025-01,day", "2025-01-01 month"),
        ("2024,", "2024-01-01 year"),
    ];
    for (cells, expected) in cases {
        let csv = format!("pid,seen,u,side,onset,exact\nTW-00001,2025-03-01,A,left,{cells}\n");
        let loaded = load_files(&layout, &[("v.csv", None, csv.as_bytes())]).unwrap();
        let onset = loaded.tables.ulcer_observations[0].onset.unwrap();
        assert_eq!(
            format!("{} {}", onset.dated.date, onset.precision),
            expected,
            "{cells}"
        );
    }
}

#[test]
fn an_amputation_whose_level_contradicts_its_kind_is_noted_and_the_kind_stands() {
    let layout = layout(
        "[event]\nkind = \"what\"\nside = \"side\"\nlevel = \"level\"\nheight = \"height\"\n",
    );
    for (cells, is_noted) in [
        ("minor-amputation,left,minor,toe", false),
        ("minor-amputation,left,major,", true),
        ("minor-amputation,left,,below-knee", true),
        ("major-amputation,left,major,below-knee", false),
        ("admission,left,,", false),
    ] {
        let csv = format!("pid,seen,what,side,level,height\nTW-00001,2025-03-01,{cells}\n");
        let loaded = load_files(&layout, &[("v.csv", None, csv.as_bytes())]).unwrap();
        assert_eq!(
            lines(&loaded) == ["note contradicting-amputation-level record 1"],
            is_noted,
            "{cells}"
        );
        assert!(cells.starts_with(loaded.tables.events[0].kind.code()));
        assert_eq!(
            loaded.tables.events[0].date.to_string(),
            "2025-03-01",
            "no date column: the row's date"
        );
    }
}
