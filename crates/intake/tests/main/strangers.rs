//! Exports as other systems write them: lines above the header, a delimiter too many, other ways of writing days, and words of
//! our own that nobody had to list. Every export is invented.

use crate::support::{
    COLUMNS, WIDE, account, day, export, line, lines, load_files, load_wide, row,
};
use intake::Loaded;
use outcomes::tables::{Attendance, Side};

fn one_visit(seen: &str) -> String {
    row(&[("pid", "TW-00001"), ("seen", seen), ("type", "ATT")])
}

fn load_with(layout: &str, csv: &str) -> Loaded {
    load_files(layout, &[("visits.csv", None, csv.as_bytes())]).unwrap()
}

fn days(loaded: &Loaded) -> Vec<String> {
    let visits = loaded.tables.visits.iter();
    visits.map(|visit| visit.date.to_string()).collect()
}

#[test]
fn lines_above_the_header_are_counted_with_it() {
    let layout = WIDE.replace("shape = \"wide\"", "shape = \"wide\"\ntitle_lines = 2");
    let table = export(&[one_visit("03/11/2025"), one_visit("04/11/2025")]);
    for titles in [
        "Visits\nfrom,2025\n",
        "\"Visits\r\nof a year\"\r\n\r\n;\r\n",
        "sep=,\n\n\nx\n",
    ] {
        let text = format!("{titles}{table}");
        let loaded = load_with(&layout, &text);
        assert_eq!(lines(&loaded), Vec::<String>::new(), "{titles:?}");
        assert_eq!(account(&loaded), "read 2 used 2");
        let bytes = &loaded.accounts[0].text_bytes;
        let all = bytes.header + bytes.used + bytes.set_aside + bytes.blank;
        assert_eq!(all, text.len() as u64, "{titles:?}");
    }
}

/// Rows end with a delimiter and the header does not; one with a delimiter too many inside is still a finding.
#[test]
fn a_delimiter_at_the_end_of_every_row_makes_no_cell() {
    let torn = format!("{},", one_visit("05/11/2025").replacen(",,", ",,,", 1));
    let rows = [
        one_visit("03/11/2025") + ",",
        one_visit("04/11/2025") + ",",
        torn,
    ];
    let loaded = load_with(WIDE, &format!("{COLUMNS}\n{}\n", rows.join("\n")));
    assert_eq!(account(&loaded), "read 3 used 2 too-many-cells 1");
    assert_eq!(days(&loaded), ["2025-11-03", "2025-11-04"]);
}

#[test]
fn our_own_words_of_attendance_need_no_list() {
    let layout = WIDE
        .replace("kept = [\"ATT\"]\n", "")
        .replace("missed = [\"DNA\"]\n", "missed = [\"kept\"]\n");
    let words = ["kept", "Missed", "cancelled", "administrative", "ATT"];
    let rows: Vec<String> = (1..)
        .zip(words)
        .map(|(day, word)| {
            let seen = format!("0{day}/11/2025");
            row(&[("pid", "TW-00001"), ("seen", &seen), ("type", word)])
        })
        .collect();
    let loaded = load_with(&layout, &export(&rows));
    // what the layout says of a word comes first, and a word that nobody knows is a finding
    let kinds: Vec<Attendance> = loaded
        .tables
        .visits
        .iter()
        .map(|visit| visit.attendance)
        .collect();
    let expected = [
        Attendance::Missed,
        Attendance::Missed,
        Attendance::Cancelled,
        Attendance::Kept,
    ];
    assert_eq!(kinds, expected);
    assert_eq!(lines(&loaded), ["cell-ignored unknown-code record 5 type"]);
}

/// The same day in forms of other systems: (line of `[dates]`, the cell, whether a note is due).
#[test]
fn a_day_is_read_as_other_systems_write_it() {
    for (dates, cell, note) in [
        ("format = \"day-first\"", "03-Nov-2025", None),
        ("format = \"iso\"", "3 November 2025", None),
        ("format = \"day-first\"", "3. Nov. 2025", None),
        ("format = \"month-first\"", "11/03/2025 12:00:00 AM", None),
        ("format = \"day-number\"", "45964", None),
        ("format = \"day-number\"", "45964.0", None),
        (
            "format = \"day-first\"\ntwo_digit_years_from = 1970",
            "03/11/25",
            None,
        ),
        ("format = \"iso\"", "2025-11-03T23:30:00-05:00", None),
        (
            "format = \"iso\"\nutc_offset = \"-05:00\"",
            "2025-11-04T02:30:00Z",
            None,
        ),
        (
            "format = \"iso\"",
            "2025-11-03T02:30:00Z",
            Some("note day-taken-in-utc seen"),
        ),
    ] {
        let layout = WIDE.replace("format = \"day-first\"", dates);
        let loaded = load_with(&layout, &export(&[one_visit(cell)]));
        assert_eq!(
            loaded.tables.visits[0].date,
            day("2025-11-03"),
            "{dates} {cell}"
        );
        let expected: Vec<&str> = note.into_iter().collect();
        assert_eq!(lines(&loaded), expected, "{dates} {cell}");
    }
}

#[test]
fn a_year_of_two_digits_is_not_guessed_and_says_its_way_out() {
    let loaded = load_wide(&export(&[one_visit("03/11/25")]));
    assert_eq!(
        line(&loaded.findings[0]),
        "set-aside unreadable-visit-date record 1 seen"
    );
    let hint = loaded.findings[0].hint.as_deref().unwrap_or_default();
    assert!(hint.contains("two_digit_years_from"), "{hint}");
}

/// (the cell, a word of the way out)
#[test]
fn a_number_that_is_none_says_its_way_out() {
    for (cell, way_out) in [
        ("<5", "bound"),
        ("~12", "rough"),
        ("12 x 8", "part"),
        ("12 or so", "unit"),
        ("nil", "[missing]"),
        ("?", "[missing]"),
    ] {
        let rows = [row(&[
            ("pid", "TW-00001"),
            ("seen", "03/11/2025"),
            ("w1", "A"),
            ("w1_side", "L"),
            ("w1_state", "O"),
            ("w1_len", cell),
        ])];
        let loaded = load_wide(&export(&rows));
        assert_eq!(
            lines(&loaded),
            ["cell-ignored unreadable-number record 1 w1_len"],
            "{cell}"
        );
        let hint = loaded.findings[0].hint.as_deref().unwrap_or_default();
        assert!(hint.contains(way_out), "{cell}: {hint}");
    }
}

/// A column of its own tells the unit, or another one does through a code list; without a unit a number is not read.
#[test]
fn the_unit_of_a_number_may_stand_in_another_column() {
    let visit = |day: &str, length: &str, told: &str| {
        row(&[
            ("pid", "TW-00001"),
            ("seen", day),
            ("w1", "A"),
            ("w1_side", "L"),
            ("w1_state", "O"),
            ("w1_len", length),
            ("remark", told),
        ])
    };
    let lengths = |unit: &str, told: [&str; 4]| {
        let layout = WIDE.replace("ignore = [\"remark\"]\n", "").replace(
            "\"w{slot}_len\", unit = \"mm\"",
            &format!("\"w{{slot}}_len\", unit = {unit}"),
        ) + "\n[codes.unit]\nQuay = \"mm\"\nHill = \"cm\"\n";
        let [one, two, three, four] = told;
        let loaded = load_with(
            &layout,
            &export(&[
                visit("03/11/2025", "18", one),
                visit("04/11/2025", "1.8", two),
                visit("05/11/2025", "18 mm", three),
                visit("06/11/2025", "18", four),
            ])
            .replace("remark", "told"),
        );
        let ulcers = loaded.tables.ulcer_observations.iter();
        let lengths: Vec<Option<f32>> = ulcers.map(|ulcer| ulcer.length_cm).collect();
        (lengths, lines(&loaded))
    };
    let expected = (
        vec![Some(1.8), Some(1.8), Some(1.8), None],
        vec!["cell-ignored unreadable-number record 4 w1_len".to_owned()],
    );
    let of_its_own = lengths("{ column = \"told\" }", ["mm", "cm", "cm", ""]);
    assert_eq!(of_its_own, expected);
    let by_site = lengths(
        "{ column = \"told\", codes = \"unit\" }",
        ["Quay", "hill", "Hill", "Moor"],
    );
    assert_eq!(by_site, expected);
}

/// CPT numbers as billing writes them: (cell, column of the side, side that counts, findings).
/// Modifiers: HCPCS Level II, Centers for Medicare & Medicaid Services, from memory.
#[test]
fn a_procedure_number_may_have_its_side_behind_it() {
    let layout = WIDE.replace(
        "kind = { column = \"e{slot}\", codes = \"kind\" }",
        "cpt = \"e{slot}\"",
    );
    let fault = |check: &str| vec![format!("{check} record 1 e1")];
    for (cell, column, side, findings) in [
        ("28820", "L", Some(Side::Left), vec![]),
        ("28820-LT", "", Some(Side::Left), vec![]),
        ("28820 RT", "", Some(Side::Right), vec![]),
        ("28820TA", "", Some(Side::Left), vec![]),
        ("2882059", "", None, fault("cell-ignored unmapped-code")),
        ("28820-TA", "", Some(Side::Left), vec![]),
        ("28820-59-T5", "", Some(Side::Right), vec![]),
        ("28820-LT-RT", "", None, vec![]),
        ("28820-50", "", None, vec![]),
        ("28820.0", "R", Some(Side::Right), vec![]),
        (
            "28820-RT",
            "L",
            Some(Side::Left),
            fault("note side-contradicts-code"),
        ),
        (
            "28820 28810",
            "L",
            None,
            fault("cell-ignored unmapped-code"),
        ),
    ] {
        let rows = [row(&[
            ("pid", "TW-00001"),
            ("seen", "03/11/2025"),
            ("e1", cell),
            ("e1_side", column),
            ("e1_date", "03/11/2025"),
        ])];
        let loaded = load_with(&layout, &export(&rows));
        let event = loaded.tables.events.first();
        assert_eq!(event.and_then(|event| event.side), side, "{cell}");
        let is_mapped = !findings.iter().any(|finding| finding.contains("unmapped"));
        assert_eq!(event.is_some(), is_mapped, "{cell}");
        assert_eq!(lines(&loaded), findings, "{cell}");
    }
}

/// Forms of identifiers found missing on columns made up for it, and what looks like them and is none: (header, cell, stops).
#[test]
fn further_forms_of_identifiers_stop_the_run() {
    for (header, cell, stops) in [
        ("kontakt2", "0123/456789", true),
        ("ratio", "0123/4567", false),
        ("t5", "756.1234.5678.97", true),
        ("t5", "757.1234.5678.97", false),
        ("t7", "mrs okonkwo", true),
        ("t7", "ms okonkwo", false),
        ("t9", "94 yrs", true),
        ("t9", "84 yrs", false),
        ("t9", "94 min", false),
        ("ort2", "Lindenstraße 5", true),
        ("room2", "Platz 3", false),
        ("sct", "371087003", false),
    ] {
        let rows: Vec<String> = (0..30)
            .map(|_| {
                row(&[
                    ("pid", "TW-00001"),
                    ("seen", "03/11/2025"),
                    ("remark", cell),
                ])
            })
            .collect();
        let loaded = load_wide(&export(&rows).replace("remark", header));
        let is_stopped = lines(&loaded).iter().any(|line| line.starts_with("stop "));
        assert_eq!(is_stopped, stops, "{header}: {cell}");
    }
}
