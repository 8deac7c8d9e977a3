//! How often the identifier screen is right: columns that hold an identifier and columns that do not, each under a header
//! that does not give it away unless the case is about headers.
//!
//! The cases were written by hand beside the screen, so the figures say what it knows, not what it will meet. Numbers lie
//! in ranges kept free for fiction, or are printed as examples by their issuers.

use crate::identifiers::{stops, with_column};
use crate::support::WIDE;
use outcomes::finding::Severity;

/// Header, cells (repeated in turn over thirty rows), the check that must stop the run.
#[rustfmt::skip]
const HOSTILE: &[(&str, &[&str], &str)] = &[
    ("c1", &["x.y@example.org"], "email"),
    ("c1", &["ok", "ask x.y@example.org"], "email"),
    ("c1", &["000-12-3456"], "social-security-number"),
    ("c1", &["AB123456C"], "social-security-number"),
    ("c1", &["202-555-0143"], "phone-number"),
    ("c1", &["-", "-", "call 202-555-0143"], "phone-number"),
    ("c1", &["+44 1632 960123"], "phone-number"),
    ("c1", &["01632 960123"], "phone-number"),
    ("c1", &["943 476 5919"], "record-number"),
    ("c1", &["1EG4-TE5-MK73"], "record-number"),
    ("c1", &["MRN 004512"], "record-number"),
    ("c1", &["9434765910", "9434765911"], "record-number"),
    ("c1", &["03/04/1941", "17/09/1952"], "birth-date"),
    ("c1", &["3 Apr 1941", "17 Sep 1952"], "birth-date"),
    ("c1", &["1941-04-03", "1952-09-17"], "birth-date"),
    ("c1", &["03/04/41", "17/09/52"], "birth-date"),
    ("c1", &["90210", "90211"], "address"),
    ("c1", &["QQ1 1AA"], "address"),
    ("c1", &["Y", "12 Harbour Street"], "address"),
    ("c1", &["PO Box 12"], "address"),
    ("c1", &["Y", "Mary Pellam"], "name"),
    ("c1", &["HARROW, JOHN"], "name"),
    ("c1", &["Y", "Y", "Mrs Pellam"], "name"),
    ("c1", &["Mary", "John", "Susan", "Peter", "Karen"], "name"),
    ("c1", &["N", "came with her son and feels much better"], "free-text"),
    ("c1", &["https://example.org/p/1"], "link-or-device"),
    ("c1", &["192.0.2.1"], "link-or-device"),
    ("c1", &["00:1B:44:11:3A:B7"], "link-or-device"),
    ("age", &["64", "90"], "age-over-89"),
    ("age", &["64", "90-94"], "age-over-89"),
    ("year_of_birth", &["1961", "1931"], "age-over-89"),
    ("DATEOFBIRTH", &[""], "birth-date"),
    ("PatientName", &[""], "name"),
    ("homephone", &[""], "phone-number"),
    ("post code", &[""], "address"),
    ("health_plan_id", &[""], "record-number"),
    ("wound photo", &[""], "link-or-device"),
    ("clinical notes", &[""], "free-text"),
];

/// Header and cells of columns that identify nobody.
#[rustfmt::skip]
const BENIGN: &[(&str, &[&str])] = &[
    ("c1", &["General Practice", "Community Nurse", "Hospital"]),
    ("c1", &["Left Heel", "Right Great Toe", "First Metatarsal Head"]),
    ("c1", &["03/11/2025", "17/09/2024"]),
    ("c1", &["2025-11-03 14:30:00"]),
    ("c1", &["03-11-2025 2:30 PM"]),
    ("c1", &["14:30:00", "09:15:00"]),
    ("c1", &["E11.621", "L97.512", "I70.234"]),
    ("cpt_code", &["93922", "37228", "28820"]),
    ("c1", &["0Y6M0Z0"]),
    ("c1", &["130/80", "110/70"]),
    ("c1", &["12.5", "0.46", "7.25"]),
    ("c1", &["TW-00042", "TW-00043"]),
    ("c1", &["110 mmHg", "2 x 3 cm"]),
    ("c1", &["Total Contact Cast", "Removable Walker", "Felt"]),
    ("c1", &["general-practice", "community-nurse"]),
    ("c1", &["MR Angiography", "Duplex"]),
    ("age", &["64", "89", "89.9"]),
    ("age", &["64", "90+"]),
    ("ulcer_age", &["95", "120"]),
    ("wound age days", &["400"]),
    ("year_of_birth", &["1961", "1936"]),
    ("clinic_name", &["Quay", "Hill"]),
    ("drug name", &["Flucloxacillin", "Doxycycline"]),
    ("photo_taken", &["Y", "N"]),
    ("telephone_review", &["Y", "N"]),
    ("c1", &["Quay", "Hill"]),
    ("c1", &["12", "12", "12", "90210"]),
    ("c1", &["moderate infection", "mild infection"]),
];

fn thirty(cells: &[&str]) -> Vec<String> {
    let cells = cells.iter().cycle().take(30);
    cells.map(|cell| (*cell).to_owned()).collect()
}

#[test]
fn every_hostile_column_is_stopped_for_what_it_is_and_no_benign_one_is() {
    let missed: Vec<_> = HOSTILE
        .iter()
        .filter(|(header, cells, kind)| {
            let found = stops(&with_column(WIDE, header, &thirty(cells)));
            !found.iter().any(|line| line.contains(kind))
        })
        .collect();
    let alarms: Vec<_> = BENIGN
        .iter()
        .map(|(header, cells)| {
            (
                header,
                cells,
                stops(&with_column(WIDE, header, &thirty(cells))),
            )
        })
        .filter(|(.., found)| !found.is_empty())
        .collect();
    assert!(
        missed.is_empty() && alarms.is_empty(),
        "recall {} of {}, missed {missed:?}; false alarms {} of {}, {alarms:?}",
        HOSTILE.len() - missed.len(),
        HOSTILE.len(),
        alarms.len(),
        BENIGN.len()
    );
}

#[test]
fn a_year_of_birth_is_allowed_under_any_header_that_says_so_and_a_day_is_not() {
    for header in ["Patient.birthDate.year", "year_born", "annee_naissance"] {
        let found = |cells: &[&str]| stops(&with_column(WIDE, header, &thirty(cells)));
        assert_eq!(found(&["1948", "1961"]), [""; 0], "{header}");
        assert_eq!(found(&["1948-03-02", "1961"]).len(), 1, "{header}");
        assert_eq!(found(&["1903", "1961"]).len(), 1, "{header}");
    }
}

#[test]
fn the_synthetic_export_raises_no_alarm() {
    let found = crate::sample::sample()
        .findings
        .iter()
        .filter(|finding| finding.severity == Severity::Stop)
        .count();
    assert_eq!(found, 0);
}

#[test]
fn a_declared_column_is_still_looked_at_and_noted_with_its_reason() {
    let layout = format!("{WIDE}\n[accept]\nmail_box = \"the practice's own address\"\n");
    let loaded = with_column(&layout, "mail_box", &thirty(&["x.y@example.org"]));
    let noted: Vec<_> = loaded
        .findings
        .iter()
        .filter(|finding| finding.check == "declared-not-identifying")
        .collect();
    let [noted] = noted.as_slice() else {
        panic!("{noted:?}")
    };
    assert_eq!(noted.severity, Severity::Note);
    assert!(noted.message.contains("the practice's own address"));
    assert!(
        noted.message.contains("looks-like-email"),
        "{}",
        noted.message
    );
    assert!(!noted.message.contains("example.org"));
}

#[test]
fn an_identifier_in_a_column_of_codes_or_numbers_stops_the_run() {
    for cell in ["000-12-3456", "202-555-0143", "a@b.org.uk", "Mary Pellam"] {
        let csv = crate::support::export(&[crate::support::row(&[
            ("pid", "TW-00001"),
            ("seen", "03/11/2025"),
            ("w1_len", cell),
        ])]);
        let files = [("visits.csv", None, csv.as_bytes())];
        let loaded = crate::support::load_files(WIDE, &files).unwrap();
        assert_eq!(stops(&loaded).len(), 1, "{cell}");
    }
}
