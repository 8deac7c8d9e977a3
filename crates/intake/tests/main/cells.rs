//! What happens to single cells: the row is used, the cell counts as missing.

use crate::support::{account, export, lines, load_wide, row};

/// The cells that matter of one row.
type Cells = &'static [(&'static str, &'static str)];

#[test]
fn each_cell_fault_is_named_and_the_row_is_used() {
    let cases = [
        ("died", "30/02/2025", "unreadable-date"),
        ("died", "03/11/25", "ambiguous-year"),
        ("died", "11/2025", "date-without-day"),
        ("yob", "195", "unreadable-year"),
        ("sex", "Q", "unknown-code"),
        ("type", "???", "unknown-code"),
        ("hba1c", "fifty", "unreadable-number"),
        ("hba1c", "5e1", "unreadable-number"),
        ("hba1c", "7.4", "value-out-of-range"),
        ("l_mono", "2", "unknown-code"),
    ];
    for (column, value, check) in cases {
        let loaded = load_wide(&export(&[row(&[
            ("pid", "TW-00001"),
            ("seen", "03/11/2025"),
            (column, value),
        ])]));
        assert_eq!(
            lines(&loaded),
            [format!("cell-ignored {check} record 1 {column}")],
            "{value}"
        );
        assert_eq!(account(&loaded), "read 1 used 1");
        let finding = &loaded.findings[0];
        assert!(
            !format!("{}{:?}", finding.message, finding.hint).contains(value),
            "{value}"
        );
    }
}

#[test]
fn lengths_beyond_belief_are_ignored() {
    // limits: 0 to 35 cm, above 0 when open; the column is in mm
    for (length, state, is_kept) in [
        ("350", "O", true),
        ("351", "O", false),
        ("-1", "O", false),
        ("0", "O", false),
        ("0", "C", true),
    ] {
        let loaded = load_wide(&export(&[row(&[
            ("pid", "TW-00001"),
            ("seen", "03/11/2025"),
            ("w1", "A"),
            ("w1_side", "R"),
            ("w1_state", state),
            ("w1_len", length),
        ])]));
        assert_eq!(
            loaded.tables.ulcer_observations[0].length_cm.is_some(),
            is_kept,
            "{length} {state}"
        );
        let expected: &[&str] = if is_kept {
            &[]
        } else {
            &["cell-ignored value-out-of-range record 1 w1_len"]
        };
        assert_eq!(lines(&loaded), expected);
    }
}

#[test]
fn missing_is_written_in_every_declared_way() {
    for missing in ["", " ", "-", "UNK", "n/a", "N/A "] {
        let loaded = load_wide(&export(&[row(&[
            ("pid", "TW-00001"),
            ("seen", "03/11/2025"),
            ("sex", missing),
        ])]));
        assert_eq!(lines(&loaded), Vec::<String>::new(), "{missing}");
        assert_eq!(loaded.tables.patients[0].sex, None);
    }
}

#[test]
fn an_ulcer_that_cannot_be_followed_or_placed_is_left_out() {
    let cases: [(Cells, &str); 2] = [
        (&[("w1_side", "R"), ("w1_state", "O")], "no-ulcer-label"),
        (&[("w1", "A"), ("w1_state", "O")], "no-side"),
    ];
    for (cells, check) in cases {
        let all = [&[("pid", "TW-00001"), ("seen", "03/11/2025")], cells].concat();
        let loaded = load_wide(&export(&[row(&all)]));
        assert_eq!(lines(&loaded), [format!("cell-ignored {check} record 1")]);
        assert!(loaded.tables.ulcer_observations.is_empty());
        assert_eq!(loaded.tables.visits.len(), 1);
    }
}

#[test]
fn an_event_without_kind_or_date_or_after_the_cut_off_is_left_out() {
    let cases: [(Cells, &[&str]); 4] = [
        (
            &[("e1_date", "01/11/2025")],
            &["cell-ignored no-event-kind record 1"],
        ),
        (&[("e1", "VREF")], &["cell-ignored no-event-date record 1"]),
        (
            &[("e1", "VREF"), ("e1_date", "1st")],
            &[
                "cell-ignored unreadable-date record 1 e1_date",
                "cell-ignored no-event-date record 1",
            ],
        ),
        (
            &[("e1", "VREF"), ("e1_date", "01/01/2026")],
            &["cell-ignored event-after-data-cut-off record 1"],
        ),
    ];
    for (cells, expected) in cases {
        let all = [&[("pid", "TW-00001"), ("seen", "03/11/2025")], cells].concat();
        let loaded = load_wide(&export(&[row(&all)]));
        assert_eq!(lines(&loaded), expected);
        assert!(loaded.tables.events.is_empty());
    }
}
