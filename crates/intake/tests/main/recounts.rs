//! The recount agrees with counts worked by hand, and with the books of the loader.

use crate::support::{export, load_wide, row};
use intake::recount;
use outcomes::tables::Tables;

#[test]
fn the_recount_of_nothing_is_nothing() {
    let counted = recount(&Tables::default()).unwrap();
    assert_eq!(
        (
            counted.n_ulcers,
            counted.quarters.len(),
            counted.files.len()
        ),
        (0, 0, 0)
    );
    assert!(
        counted
            .tables
            .iter()
            .all(|table| table.n_rows == 0 && table.n_persons == 0)
    );
    assert!(
        counted
            .completeness
            .iter()
            .all(|field| field.n_rows == 0 && field.quarters.is_empty())
    );
}

/// person | seen | type | hba1c | ulcers (label side state length)
/// 1 | 2025 Q1 | kept | 58 | A left open 12; A right open -
/// 1 | 2025 Q2 | kept | -  | A left closed -
/// 2 | 2025 Q2 | missed | - |
/// 3 | 2025 Q2 | administrative, death |
#[test]
fn the_recount_of_four_rows_is_as_worked_by_hand() {
    let loaded = load_wide(&export(&[
        row(&[
            ("pid", "TW-00001"),
            ("seen", "31/03/2025"),
            ("type", "ATT"),
            ("hba1c", "58"),
            ("w1", "A"),
            ("w1_side", "L"),
            ("w1_state", "O"),
            ("w1_len", "12"),
            ("w2", "A"),
            ("w2_side", "R"),
            ("w2_state", "O"),
        ]),
        row(&[
            ("pid", "TW-00001"),
            ("seen", "01/04/2025"),
            ("w1", "A"),
            ("w1_side", "L"),
            ("w1_state", "C"),
        ]),
        row(&[("pid", "TW-00002"), ("seen", "30/06/2025"), ("type", "DNA")]),
        row(&[
            ("pid", "TW-00003"),
            ("seen", "30/06/2025"),
            ("type", "ADM"),
            ("e1", "RIP"),
            ("e1_date", "29/06/2025"),
        ]),
    ]));
    let counted = recount(&loaded.tables).unwrap();
    let tables: Vec<String> = counted
        .tables
        .iter()
        .map(|table| format!("{} {} {}", table.table, table.n_rows, table.n_persons))
        .collect();
    assert_eq!(
        tables,
        [
            "patients 3 3",
            "visits 3 2",
            "foot-exams 0 0",
            "ulcer-observations 3 1",
            "events 1 1"
        ]
    );
    assert_eq!(counted.n_ulcers, 2);
    let quarters: Vec<String> = counted
        .quarters
        .iter()
        .map(|count| format!("{} {} {}", count.quarter, count.n_visits, count.n_kept))
        .collect();
    assert_eq!(quarters, ["2025 Q1 1 1", "2025 Q2 2 1"]);
    assert_eq!(counted.files[0].n_records, 4);

    let field = |name: &str| {
        counted
            .completeness
            .iter()
            .find(|field| field.field == name)
            .unwrap()
            .clone()
    };
    let hba1c = field("hba1c_percent");
    assert_eq!(
        (hba1c.n_present, hba1c.n_rows),
        (1, 2),
        "a missed visit could not have it"
    );
    assert_eq!(
        hba1c.quarters,
        [("2025 Q1".to_owned(), 1, 1), ("2025 Q2".to_owned(), 0, 1)]
    );
    let length = field("length_cm");
    assert_eq!(
        (length.n_present, length.n_rows),
        (1, 2),
        "a closed ulcer could not have it"
    );
    let sex = field("sex");
    assert_eq!(
        (sex.n_present, sex.n_rows, sex.quarters.len()),
        (0, 3, 2),
        "a person without visit has no quarter"
    );
}

#[test]
fn every_record_used_of_the_sample_left_a_row_or_told_of_a_person() {
    let loaded = crate::sample::sample();
    let counted = recount(&loaded.tables).unwrap();
    let account = &loaded.accounts[0];
    assert!(counted.files[0].n_records <= account.n_used);
    assert!(counted.files[0].n_records >= loaded.tables.visits.len() as u64);
    let n_visits: u64 = counted.quarters.iter().map(|count| count.n_visits).sum();
    assert_eq!(n_visits, loaded.tables.visits.len() as u64);
}
