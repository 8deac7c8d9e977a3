//! Whole files: how they are written, and what cannot be loaded at all.

use crate::support::{
    COLUMNS, WIDE, account, export, horizon, line, lines, load_files, load_wide, row,
};
use intake::{Input, LoadError, Role, layout, load};
use std::path::PathBuf;

fn one_visit() -> String {
    row(&[("pid", "TW-00001"), ("seen", "03/11/2025"), ("hba1c", "58")])
}

#[test]
fn byte_order_mark_crlf_quotes_and_blank_lines_change_nothing() {
    let plain = load_wide(&export(&[one_visit()]));
    let quoted_row = one_visit()
        .replace("TW-00001", "\" TW-00001\"")
        .replace("58", "\"58\"");
    for text in [
        format!("\u{feff}{COLUMNS}\r\n{}\r\n", one_visit()),
        format!("{COLUMNS}\n\n{quoted_row}\n\n"),
        format!("{COLUMNS}\n{}", one_visit()),
    ] {
        let loaded = load_wide(&text);
        assert_eq!(loaded.tables.visits, plain.tables.visits);
        assert_eq!(loaded.tables.patients, plain.tables.patients);
        assert_eq!(lines(&loaded), Vec::<String>::new());
    }
}

#[test]
fn a_quoted_line_break_stays_within_its_record() {
    let first = one_visit().replace("58", "\"\n58\n\"");
    let second = row(&[("pid", "TW-00002"), ("seen", "03/11/2025"), ("sex", "Q")]);
    let loaded = load_wide(&export(&[first, second]));
    assert_eq!(account(&loaded), "read 2 used 2");
    assert_eq!(
        lines(&loaded).last().unwrap(),
        "cell-ignored unknown-code record 2 sex"
    );
}

#[test]
fn a_quotation_mark_left_open_is_told_by_the_lines_it_swallows() {
    let rows = [
        one_visit(),
        one_visit().replace("58", "\"58"),
        one_visit(),
        one_visit(),
    ];
    let loaded = load_wide(&export(&rows));
    assert_eq!(account(&loaded), "read 2 used 1 too-few-cells 1");
    let hint = loaded.findings[0].hint.as_deref().unwrap();
    assert!(hint.contains("spans 3 lines"), "{hint}");
}

#[test]
fn windows_1252_is_read_when_declared_and_set_aside_when_not() {
    let mut bytes = export(&[one_visit()]).into_bytes();
    let place = bytes
        .windows(8)
        .position(|window| window == b"TW-00001")
        .unwrap();
    bytes[place + 3] = 0xE9; // e with acute accent
    bytes[place + 4] = 0x80; // euro sign, in the range where Latin-1 has none
    let loaded = load_files(WIDE, &[("visits.csv", None, &bytes)]).unwrap();
    assert_eq!(account(&loaded), "read 1 used 0 wrong-encoding 1");

    let declared = WIDE.replace(
        "shape = \"wide\"",
        "shape = \"wide\"\nencoding = \"windows-1252\"",
    );
    let loaded = load_files(&declared, &[("visits.csv", None, &bytes)]).unwrap();
    assert_eq!(loaded.tables.patients[0].id, "TW-\u{e9}\u{20ac}001");

    bytes[place] = 0x81; // a byte without a letter
    let loaded = load_files(&declared, &[("visits.csv", None, &bytes)]).unwrap();
    assert_eq!(account(&loaded), "read 1 used 0 wrong-encoding 1");
}

#[test]
fn another_delimiter_and_decimal_commas_are_declared() {
    let layout = WIDE.replace("shape = \"wide\"", "shape = \"wide\"\ndelimiter = \";\"")
        + "[numbers]\ndecimal = \"comma\"\n";
    let csv = export(&[one_visit()])
        .replace(',', ";")
        .replace("58", "58,5");
    let loaded = load_files(&layout, &[("visits.csv", None, csv.as_bytes())]).unwrap();
    assert!((loaded.tables.visits[0].hba1c_percent.unwrap() - 7.503).abs() < 0.001);
}

#[test]
fn a_column_the_layout_does_not_know_is_named_once() {
    let csv = export(&[one_visit(), one_visit() + "z"])
        .replace(COLUMNS, &COLUMNS.replace("remark", "shoe_brand"));
    let loaded = load_wide(&csv);
    assert_eq!(lines(&loaded)[0], "note column-not-in-layout shoe_brand");
    assert_eq!(loaded.findings[0].source, None);
    assert!(
        loaded.findings[0].message.contains("visits.csv"),
        "{}",
        loaded.findings[0].message
    );
}

/// (what the file holds, the error, the hint)
#[test]
fn what_cannot_be_loaded_says_file_fact_and_advice() {
    let headed = |header: &str| export(&[one_visit()]).replace(COLUMNS, header).into_bytes();
    let cases: Vec<(Vec<u8>, &str, &str)> = vec![
        (
            vec![],
            "visits.csv: the file is empty",
            "export again; a file needs at least a header row",
        ),
        (
            b"\n\n".to_vec(),
            "visits.csv: the file is empty",
            "export again; a file needs at least a header row",
        ),
        (
            b"PK\x03\x04....".to_vec(),
            "visits.csv: looks like a workbook or archive, which is not read",
            "save the sheet of a workbook as comma-separated text; unpack an archive first",
        ),
        (
            b"\xff\xfep\0i\0d\0".to_vec(),
            "visits.csv: looks like UTF-16 text, which is not read",
            "save it again as text in UTF-8, in the program that wrote it or in a text editor",
        ),
        (
            b"\0p\0i\0d\0,\0s".to_vec(),
            "visits.csv: looks like UTF-16 text without a byte-order mark, which is not read",
            "save it again as text in UTF-8, in the program that wrote it or in a text editor",
        ),
        (
            b"BZh91AY&SY".to_vec(),
            "visits.csv: looks like a file packed by another program than gzip, which is not read",
            "unpack it first; text may be packed with gzip",
        ),
        (
            b"<!DOCTYPE html><table>".to_vec(),
            "visits.csv: looks like a web page or XML, which is not read",
            "export as comma-separated text in UTF-8 or Windows-1252",
        ),
        (
            b"[\n {\"pid\": 1}]".to_vec(),
            "visits.csv: looks like a list in JSON, which is not read",
            "export newline-delimited JSON: one object a line, no list around them",
        ),
        (
            b"{\n  \"pid\": 1\n}".to_vec(),
            "visits.csv: looks like one JSON object over many lines, which is not read",
            "export newline-delimited JSON: one object a line, no list around them",
        ),
        (
            [&b"\x1f\x8b\x08\0\0\0\0\0\0\x03"[..], b"cut short"].concat(),
            "visits.csv: is damaged: it is packed, and cut short or changed since",
            "copy or export it again",
        ),
        (
            headed(
                &COLUMNS
                    .replace("l_mono", "l_monofil")
                    .replace("died", "dod"),
            ),
            "visits.csv: no column `died`, `l_mono`",
            "`l_mono` may be `l_monofil`: correct the column in the layout",
        ),
        (
            headed(&COLUMNS.replace("died", "sex")),
            "visits.csv: columns 3 and 5 have the same header, `sex`",
            "rename one of them in the export",
        ),
        (
            b"TW-00009,Ann,1950\nTW-00010,Bob,1951\n".to_vec(),
            "visits.csv: none of the layout's 21 columns is in the first row",
            "the layout is for another export, the delimiter differs, or the first row is not a header",
        ),
    ];
    for (bytes, message, hint) in cases {
        let error = load_files(WIDE, &[("visits.csv", None, &bytes)]).unwrap_err();
        assert_eq!(error.to_string(), message);
        assert_eq!(error.hint().unwrap(), hint);
    }
}

#[test]
fn a_missing_file_a_folder_and_an_address_are_refused() {
    let layout = layout::parse(WIDE, "layout.toml").unwrap();
    let refused = |path: &str| {
        let input = Input {
            name: "visits.csv".to_owned(),
            path: PathBuf::from(path),
            role: None,
            joined: None,
            exported: None,
        };
        load(&[input], &layout, &horizon(), &|_| ()).unwrap_err()
    };
    assert!(matches!(
        refused("no/such/file.csv"),
        LoadError::Unreadable { .. }
    ));
    assert!(matches!(
        refused(env!("CARGO_TARGET_TMPDIR")),
        LoadError::IsFolder { .. }
    ));
    assert!(matches!(
        refused("https://example.org/visits.csv"),
        LoadError::IsAddress { .. }
    ));
}

#[test]
fn a_role_the_layout_does_not_read_is_refused() {
    let csv = export(&[one_visit()]);
    let error =
        load_files(WIDE, &[("visits.csv", Some(Role::Events), csv.as_bytes())]).unwrap_err();
    assert_eq!(
        error.to_string(),
        "visits.csv: the layout `small-wide` reads no file of events"
    );
    assert_eq!(error.hint().unwrap(), "roles of this layout: visits");
}

#[test]
fn an_optional_column_may_be_absent() {
    let layout = WIDE.replace(
        "death = \"died\"",
        "death = { column = \"died\", optional = true }",
    );
    let csv =
        export(&[row(&[("pid", "TW-00001"), ("seen", "03/11/2025")])]).replace(",died,", ",spare,");
    let loaded = load_files(&layout, &[("visits.csv", None, csv.as_bytes())]).unwrap();
    assert_eq!(
        loaded.findings.iter().map(line).collect::<Vec<_>>(),
        ["note column-not-in-layout spare"]
    );
}

#[test]
fn the_digest_is_that_of_the_bytes_read() {
    // a file with nothing but the header; digest made with sha256sum of GNU coreutils
    let loaded = load_files(
        WIDE,
        &[("visits.csv", None, format!("{COLUMNS}\n").as_bytes())],
    )
    .unwrap();
    assert_eq!(
        loaded.digests[0].sha256,
        "6732841fc0e5ab022e03b584172c28b94e36d6dd1dd58ec2e2eb52192a55e882"
    );
    assert_eq!(account(&loaded), "read 0 used 0");
}

#[test]
fn a_quotation_mark_that_swallows_many_records_stops_the_run() {
    let mut rows = vec![one_visit().replace("58", "\"58")];
    rows.extend((0..20).map(|_| one_visit()));
    let loaded = load_wide(&export(&rows));
    assert_eq!(
        lines(&loaded),
        [
            "stop quotation-mark-left-open record 1",
            "set-aside too-few-cells record 1"
        ]
    );
}

#[test]
fn progress_ends_at_the_end_of_the_file() {
    let csv = export(&[one_visit()]);
    let file = crate::support::TestFile::new(csv.as_bytes());
    let input = Input {
        name: "visits.csv".to_owned(),
        path: file.path.clone(),
        role: None,
        joined: None,
        exported: None,
    };
    let last = std::cell::RefCell::new(Vec::new());
    let layout = layout::parse(WIDE, "layout.toml").unwrap();
    load(&[input], &layout, &horizon(), &|step| {
        last.borrow_mut().push((
            step.file.to_owned(),
            step.n_bytes_read,
            step.n_bytes,
            step.n_records,
        ))
    })
    .unwrap();
    let n_bytes = csv.len() as u64;
    assert_eq!(
        *last.borrow(),
        [("visits.csv".to_owned(), n_bytes, n_bytes, 1)]
    );
}
