//! What happens to whole rows.

use crate::support::{account, export, lines, load_wide, row};
use outcomes::finding::Finding;
use outcomes::tables::{Attendance, EventKind};

#[test]
fn a_clean_row_fills_every_table() {
    let loaded = load_wide(&export(&[row(&[
        ("pid", "TW-00001"),
        ("yob", "1950"),
        ("sex", "F"),
        ("prior", "Y"),
        ("seen", "03/11/2025"),
        ("type", "ATT"),
        ("hba1c", "58"),
        ("l_mono", "0"),
        ("w1", "A"),
        ("w1_side", "L"),
        ("w1_state", "O"),
        ("w1_len", "12"),
        ("e1", "VREF"),
        ("e1_date", "04/11/2025"),
        ("e1_side", "L"),
    ])]));
    assert_eq!(lines(&loaded), Vec::<String>::new());
    let tables = &loaded.tables;
    assert_eq!(tables.patients[0].id, "TW-00001");
    assert_eq!(
        tables.patients[0].prior_ulcer.unwrap().date.to_string(),
        "2025-11-03"
    );
    assert_eq!(tables.visits[0].date.to_string(), "2025-11-03");
    // 58 mmol/mol is 7.46 %: NGSP/IFCC master equation, 0.09148 x 58 + 2.152 = 7.458
    assert!((tables.visits[0].hba1c_percent.unwrap() - 7.458).abs() < 0.01);
    assert_eq!(tables.foot_exams.len(), 1);
    assert_eq!(tables.ulcer_observations.len(), 1);
    assert_eq!(tables.ulcer_observations[0].length_cm, Some(1.2));
    assert_eq!(tables.names.get(tables.ulcer_observations[0].label), "A");
    assert_eq!(tables.events[0].kind, EventKind::VascularReferral);
    assert_eq!(account(&loaded), "read 1 used 1");
}

#[test]
fn each_row_fault_sets_the_row_aside_with_one_reason() {
    let with = |cells: &[(&str, &str)]| {
        row(&[&[("pid", "TW-00001"), ("seen", "03/11/2025")], cells].concat())
    };
    let cases: Vec<(String, &str)> = vec![
        (row(&[("seen", "03/11/2025")]), "no-patient-id"),
        (
            row(&[("pid", "unk"), ("seen", "03/11/2025")]),
            "no-patient-id",
        ),
        (row(&[("pid", "TW-00001")]), "no-visit-date"),
        (
            row(&[("pid", "TW-00001"), ("seen", "31/02/2025")]),
            "unreadable-visit-date",
        ),
        (
            row(&[("pid", "TW-00001"), ("seen", "2025-11-03")]),
            "unreadable-visit-date",
        ),
        (
            row(&[("pid", "TW-00001"), ("seen", "01/01/2026")]),
            "visit-after-data-cut-off",
        ),
        (
            row(&[("pid", "TW-00001"), ("seen", "03/11/1949"), ("yob", "1950")]),
            "visit-before-birth",
        ),
        (with(&[("died", "01/11/2025")]), "visit-after-death"),
        (with(&[]) + ",x", "too-many-cells"),
        ("TW-00001,1950".to_owned(), "too-few-cells"),
        (with(&[("remark", "a\0b")]), "nul-byte"),
    ];
    for (bad, reason) in cases {
        let loaded = load_wide(&export(&[
            bad,
            row(&[("pid", "TW-00002"), ("seen", "31/12/2025")]),
        ]));
        assert_eq!(account(&loaded), format!("read 2 used 1 {reason} 1"));
        let about: Vec<String> = lines(&loaded)
            .into_iter()
            .filter(|line| line.starts_with("set-aside"))
            .collect();
        assert_eq!(about.len(), 1, "{reason}: {about:?}");
        assert_eq!(loaded.tables.visits.len(), 1, "{reason}");
    }
}

#[test]
fn an_identical_row_is_used_once_even_from_another_file() {
    let same = row(&[("pid", "TW-00001"), ("seen", "03/11/2025")]);
    let first = export(&[same.clone(), same.clone()]);
    let second = export(&[same]);
    let files = [
        ("a.csv", None, first.as_bytes()),
        ("b.csv", None, second.as_bytes()),
    ];
    let loaded = crate::support::load_files(crate::support::WIDE, &files).unwrap();
    assert_eq!(loaded.tables.visits.len(), 1);
    assert_eq!(
        loaded.accounts[0].set_aside,
        [("repeated-row".to_owned(), 1)]
    );
    assert_eq!(
        loaded.accounts[1].set_aside,
        [("repeated-row".to_owned(), 1)]
    );
}

#[test]
fn rows_with_the_same_text_in_other_cells_are_not_repeated() {
    let loaded = load_wide(&export(&[
        row(&[
            ("pid", "TW-00001"),
            ("seen", "03/11/2025"),
            ("w1", "AB"),
            ("w1_side", "L"),
        ]),
        row(&[
            ("pid", "TW-00001"),
            ("seen", "03/11/2025"),
            ("w1", "A"),
            ("w1_side", "L"),
        ]),
    ]));
    assert_eq!(account(&loaded), "read 2 used 2");
}

#[test]
fn an_administrative_row_after_death_carries_its_event_and_is_no_visit() {
    let loaded = load_wide(&export(&[
        row(&[("pid", "TW-00001"), ("seen", "03/11/2025"), ("type", "ATT")]),
        row(&[
            ("pid", "TW-00001"),
            ("seen", "20/11/2025"),
            ("type", "ADM"),
            ("e1", "RIP"),
            ("e1_date", "10/11/2025"),
        ]),
    ]));
    assert_eq!(lines(&loaded), Vec::<String>::new());
    assert_eq!(loaded.tables.visits.len(), 1);
    let death = loaded.tables.patients[0].death.unwrap();
    assert_eq!(
        (death.date.to_string().as_str(), death.source.record),
        ("2025-11-10", 2)
    );
    assert_eq!(account(&loaded), "read 2 used 2");
}

#[test]
fn a_missed_visit_examines_nobody() {
    let loaded = load_wide(&export(&[row(&[
        ("pid", "TW-00001"),
        ("seen", "03/11/2025"),
        ("type", "DNA"),
        ("l_mono", "1"),
    ])]));
    assert_eq!(
        lines(&loaded),
        ["cell-ignored examination-without-attendance record 1"]
    );
    assert_eq!(loaded.tables.visits[0].attendance, Attendance::Missed);
    assert!(loaded.tables.foot_exams.is_empty());
}

#[test]
fn the_first_answer_stands_and_a_contradiction_is_reported_once() {
    let visit = |date: &str, sex: &str| row(&[("pid", "TW-00001"), ("seen", date), ("sex", sex)]);
    let loaded = load_wide(&export(&[
        visit("01/03/2025", ""),
        visit("02/03/2025", "F"),
        visit("03/03/2025", "M"),
        visit("04/03/2025", "M"),
    ]));
    assert_eq!(lines(&loaded), ["note contradicting-sex record 3"]);
    assert_eq!(loaded.tables.patients[0].sex.unwrap().code(), "female");
}

#[test]
fn history_carries_the_row_that_first_said_yes() {
    let visit =
        |date: &str, prior: &str| row(&[("pid", "TW-00001"), ("seen", date), ("prior", prior)]);
    let loaded = load_wide(&export(&[
        visit("01/03/2025", "N"),
        visit("02/03/2025", "Y"),
        visit("03/03/2025", "Y"),
    ]));
    let patient = &loaded.tables.patients[0];
    assert_eq!(patient.prior_ulcer.unwrap().source.record, 2);
    assert_eq!(patient.prior_ulcer_denied.unwrap().source.record, 1);
    assert_eq!(lines(&loaded), ["note contradicting-prior-ulcer record 2"]);
}

#[test]
fn the_earliest_death_stands() {
    let loaded = load_wide(&export(&[
        row(&[
            ("pid", "TW-00001"),
            ("seen", "01/03/2025"),
            ("died", "09/10/2025"),
        ]),
        row(&[
            ("pid", "TW-00001"),
            ("seen", "02/03/2025"),
            ("died", "08/10/2025"),
        ]),
    ]));
    assert_eq!(
        loaded.tables.patients[0].death.unwrap().date.to_string(),
        "2025-10-08"
    );
    assert_eq!(lines(&loaded), ["note contradicting-death-date record 2"]);
}

/// A finding in every row: the first thousand are listed, all are counted, and rows still add up.
#[test]
fn of_very_many_findings_the_first_are_listed_and_all_are_counted() {
    let of = |number: u32| {
        let id = format!("TW-{number:05}");
        match number % 3 {
            0 => row(&[("pid", &id), ("seen", "someday")]),
            _ => row(&[("pid", &id), ("seen", "03/11/2025"), ("hba1c", "high")]),
        }
    };
    let rows: Vec<String> = (1..=6_000).map(of).collect();
    let loaded = load_wide(&export(&rows));
    assert_eq!(
        account(&loaded),
        "read 6000 used 4000 unreadable-visit-date 2000"
    );
    let of_check = |check: &str| {
        let all: Vec<&Finding> = loaded
            .findings
            .iter()
            .filter(|finding| finding.check == check)
            .collect();
        (all.len(), all.iter().map(|finding| finding.n).sum::<u64>())
    };
    assert_eq!(of_check("unreadable-number"), (1_001, 4_000));
    assert_eq!(of_check("unreadable-visit-date"), (1_001, 2_000));
    let more = loaded
        .findings
        .iter()
        .find(|finding| finding.n > 1)
        .unwrap();
    assert_eq!(
        more.message,
        "visits.csv: 3000 more of these, counted but not listed"
    );
}

#[test]
fn bytes_of_rows_set_aside_after_a_death_count_as_set_aside() {
    let late = row(&[("pid", "P1"), ("seen", "01/11/2025"), ("type", "ATT")]);
    let told = row(&[
        ("pid", "P1"),
        ("seen", "01/02/2025"),
        ("type", "ATT"),
        ("died", "01/03/2025"),
    ]);
    let text = export(&[late.clone(), told.clone()]);
    let loaded = load_wide(&text);
    let account = &loaded.accounts[0];
    assert_eq!(account.set_aside, [("visit-after-death".to_owned(), 1)]);
    assert_eq!(account.text_bytes.set_aside, late.len() as u64 + 1);
    assert_eq!(account.text_bytes.used, told.len() as u64 + 1);
    assert_eq!(account.text_bytes.total(), account.bytes);
}
