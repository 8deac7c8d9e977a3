//! The same rows through every door, where their bytes went, and what is not let in.

use crate::support::{COLUMNS, WIDE, account, export, horizon, lines, load_files, load_wide, row};
use flate2::{Compression, write::GzEncoder};
use intake::{Input, LoadError, Loaded, layout, load};
use outcomes::finding::ByteAccount;
use std::io::Write as _;
use std::path::{Path, PathBuf};

/// A text as a gzip file.
pub(crate) fn packed(text: &[u8]) -> Vec<u8> {
    let mut packer = GzEncoder::new(Vec::new(), Compression::best());
    packer.write_all(text).unwrap();
    packer.finish().unwrap()
}

/// A plain CSV text without quoted cells as JSON lines.
pub(crate) fn in_json_lines(csv: &str) -> String {
    let mut rows = csv.lines();
    let headers: Vec<&str> = rows.next().unwrap().split(',').collect();
    let object = |row: &str| {
        let entries = headers
            .iter()
            .zip(row.split(','))
            .map(|(key, cell)| format!("\"{key}\":\"{cell}\""));
        format!("{{{}}}\n", entries.collect::<Vec<_>>().join(","))
    };
    rows.map(object).collect()
}

fn small() -> String {
    let of = |id, day| {
        row(&[
            ("pid", id),
            ("seen", day),
            ("prior", "Y"),
            ("hba1c", "58"),
            ("w1", "A"),
            ("w1_side", "L"),
            ("w1_state", "O"),
            ("w1_len", "12"),
        ])
    };
    export(&[of("TW-00001", "03/11/2025"), of("TW-00002", "04/11/2025")])
}

fn loaded(bytes: &[u8]) -> Loaded {
    load_files(WIDE, &[("visits", None, bytes)]).unwrap()
}

#[test]
fn packed_text_and_json_lines_give_the_tables_of_the_plain_text() {
    let plain = load_wide(&small());
    let json = in_json_lines(&small());
    let two_members = [
        packed(&small().as_bytes()[..40]),
        packed(&small().as_bytes()[40..]),
    ]
    .concat();
    for bytes in [
        packed(small().as_bytes()),
        two_members,
        json.clone().into_bytes(),
        packed(json.as_bytes()),
        format!("\u{feff}\n{json}\r\n").into_bytes(),
    ] {
        let other = loaded(&bytes);
        assert_eq!(other.tables.patients, plain.tables.patients);
        assert_eq!(other.tables.visits, plain.tables.visits);
        assert_eq!(
            other.tables.ulcer_observations,
            plain.tables.ulcer_observations
        );
        assert_eq!(lines(&other), lines(&plain));
        assert_eq!(other.accounts[0].bytes, bytes.len() as u64);
    }
}

#[test]
fn json_numbers_and_answers_are_read_whatever_mark_and_codes_the_layout_declares() {
    let keys: Vec<String> = COLUMNS
        .split(',')
        .map(|key| format!("\"{key}\":null"))
        .collect();
    let line = format!("{{{}}}\n", keys.join(","))
        .replace("\"pid\":null", "\"pid\":17")
        .replace("\"seen\":null", "\"seen\":\"03/11/2025\"")
        .replace("\"hba1c\":null", "\"hba1c\":58.5")
        .replace("\"prior\":null", "\"prior\":true");
    let comma = WIDE.replace(
        "prior_ulcer = { column = \"prior\", codes = \"yesno\" }",
        "prior_ulcer = \"prior\"",
    ) + "[numbers]\ndecimal = \"comma\"\n";
    let loaded = load_files(&comma, &[("visits", None, line.as_bytes())]).unwrap();
    assert_eq!(loaded.tables.patients[0].id, "17");
    assert!(loaded.tables.patients[0].prior_ulcer.is_some());
    // 58.5 / 10.929 + 2.15
    assert!((loaded.tables.visits[0].hba1c_percent.unwrap() - 7.503).abs() < 0.001);
}

#[test]
fn a_json_line_that_is_no_flat_object_is_set_aside_with_its_reason() {
    let good = in_json_lines(&small());
    let with = |from: &str, to: &str| good.lines().next().unwrap().replacen(from, to, 1);
    let text = [
        good.as_str(),
        &with("\"prior\":\"Y\"", "\"prior\":[1]"),
        "\n",
        &with("\"prior\":\"Y\"", "\"prior\":\"Y\",\"prior\":\"N\""),
        "\n[1,2]\n{\"pid\":\n",
    ]
    .concat();
    let loaded = loaded(text.as_bytes());
    assert_eq!(
        account(&loaded),
        "read 6 used 2 nested-value 1 repeated-key 1 unreadable-line 2"
    );
    assert_eq!(loaded.accounts[0].text_bytes.total(), text.len() as u64);
}

#[test]
fn every_byte_of_a_text_is_header_row_or_blank_line() {
    let good = row(&[("pid", "TW-00001"), ("seen", "03/11/2025")]);
    let n_header = COLUMNS.len() as u64;
    let n_row = good.len() as u64;
    for (text, header, used, set_aside, blank) in [
        (
            format!("{COLUMNS}\n{good}\nx\n"),
            n_header + 1,
            n_row + 1,
            2,
            0,
        ),
        (
            format!("{COLUMNS}\r\n{good}\r\nx\r\n"),
            n_header + 2,
            n_row + 2,
            3,
            0,
        ),
        (
            format!("\u{feff}{COLUMNS}\n{good}"),
            n_header + 4,
            n_row,
            0,
            0,
        ),
        (
            format!("\n{COLUMNS}\n\n\n{good}\n\n"),
            n_header + 1,
            n_row + 1,
            0,
            4,
        ),
        (
            format!("{COLUMNS}\r\n\r\n{good}\r\n\r\n"),
            n_header + 2,
            n_row + 2,
            0,
            4,
        ),
    ] {
        let account = loaded(text.as_bytes()).accounts.remove(0);
        let expected = ByteAccount {
            header,
            used,
            set_aside,
            blank,
        };
        assert_eq!(account.text_bytes, expected, "{text:?}");
        assert_eq!(account.text_bytes.total(), text.len() as u64);
        assert_eq!(account.bytes, text.len() as u64);
    }
}

fn refused(path: &Path) -> LoadError {
    let layout = layout::parse(WIDE, "layout.toml").unwrap();
    let input = Input {
        name: "visits.csv".to_owned(),
        path: path.to_owned(),
        role: None,
        joined: None,
        exported: None,
    };
    load(&[input], &layout, &horizon(), &|_| ()).unwrap_err()
}

#[cfg(unix)]
#[test]
fn a_link_and_a_device_are_refused_unopened() {
    let file = crate::support::TestFile::new(small().as_bytes());
    let link = file.path.with_extension("link");
    std::os::unix::fs::symlink(&file.path, &link).unwrap();
    let error = refused(&link);
    std::fs::remove_file(&link).unwrap();
    assert_eq!(error.to_string(), "visits.csv: is a link, not a plain file");
    assert_eq!(
        refused(&PathBuf::from("/dev/zero")).to_string(),
        "visits.csv: is a device or a pipe, not a plain file"
    );
}

#[test]
fn a_record_without_end_is_refused_before_it_fills_the_memory() {
    let endless = [COLUMNS.as_bytes(), b"\n", &vec![b'x'; 40 << 20]].concat();
    for bytes in [endless.clone(), packed(&endless)] {
        let layout = WIDE.replace(
            "shape = \"wide\"",
            "shape = \"wide\"\nunpacked_ratio_at_most = 5000",
        );
        let error = load_files(&layout, &[("visits.csv", None, &bytes)]).unwrap_err();
        assert_eq!(
            error.to_string(),
            "visits.csv: record 1 is longer than 16 MiB"
        );
    }
}

#[test]
fn a_packed_file_that_unfolds_too_far_is_refused() {
    let rows = format!("{COLUMNS}\n{}", ",\n".repeat(20 << 20));
    let error = load_files(WIDE, &[("visits.csv", None, &packed(rows.as_bytes()))]).unwrap_err();
    assert!(
        error.to_string().contains("more than 250 times its size"),
        "{error}"
    );
    let small_limit = WIDE.replace(
        "shape = \"wide\"",
        "shape = \"wide\"\nunpacked_mib_at_most = 0",
    );
    let error = load_files(
        &small_limit,
        &[("visits.csv", None, &packed(small().as_bytes()))],
    )
    .unwrap_err();
    assert!(error.to_string().contains("more than 0 MiB"), "{error}");
}
