//! Parquet: what independent libraries write is read as the same rows of text, and what is not read is refused by name.
//!
//! The files in `tests/parquet/` were written by pyarrow 26.0.1 and polars 2.1.0 (`tests/scripts/parquet_files.py`).

use crate::support::{account, lines, load_files};
use chrono::Days;
use intake::{LoadError, Loaded};
use outcomes::finding::ByteAccount;

pub(crate) const LAYOUT: &str = r#"
name = "columns"

[file]
shape = "wide"

[dates]
format = "day-first"

[numbers]
decimal = "comma"

[codes.sex]
F = "female"
M = "male"

[codes.side]
L = "left"
R = "right"

[codes.state]
O = "open"
C = "closed"

[patient]
id = "pid"
birth_year = "yob"
sex = { column = "sex", codes = "sex" }
prior_ulcer = "prior"

[visit]
date = "seen"

[ulcer]
slots = 1
label = "w{slot}"
side = { column = "w{slot}_side", codes = "side" }
state = { column = "w{slot}_state", codes = "state" }
length = { column = "w{slot}_len", unit = "mm" }
"#;

/// The rows of the files.
const TEXT: &str = "pid,yob,prior,seen,w1_len,sex,w1,w1_side,w1_state
TW-00001,1950,yes,03/11/2025,\"12,0\",F,A,L,O
TW-00002,1961,,04/11/2025,,M,,,
TW-00001,1950,yes,05/11/2025,\"11,5\",F,A,L,C
TW-00003,1944,no,06/11/2025,\"7,25\",,B,R,O
TW-00003,1944,no,,,,,,
TW-00002,1961,,07/11/2025,,M,,,
";

pub(crate) fn stored(name: &str) -> Vec<u8> {
    let path = format!(
        "{}/tests/parquet/{name}.parquet",
        env!("CARGO_MANIFEST_DIR")
    );
    std::fs::read(path).unwrap()
}

fn load_with(layout: &str, bytes: &[u8]) -> Result<Loaded, LoadError> {
    load_files(layout, &[("visits", None, bytes)])
}

fn loaded(name: &str) -> Loaded {
    load_with(LAYOUT, &stored(name)).unwrap()
}

fn text() -> Loaded {
    load_with(LAYOUT, TEXT.as_bytes()).unwrap()
}

/// Dates and numbers with types are read whatever order and mark the layout declares.
#[test]
fn every_way_to_write_the_rows_gives_the_tables_of_the_text() {
    let text = text();
    assert_eq!(account(&text), "read 6 used 5 no-visit-date 1");
    for name in [
        "usual",
        "plain-gzip",
        "second-pages",
        "bare",
        "small-groups",
        "moments",
        "narrow",
        "single",
        "required",
        "polars",
        "polars-snappy",
    ] {
        let other = loaded(name);
        assert_eq!(other.tables.patients, text.tables.patients, "{name}");
        assert_eq!(other.tables.visits, text.tables.visits, "{name}");
        assert_eq!(
            other.tables.ulcer_observations, text.tables.ulcer_observations,
            "{name}"
        );
        assert_eq!(lines(&other), lines(&text), "{name}");
        assert_eq!(account(&other), account(&text), "{name}");
        assert_eq!(other.accounts[0].bytes, stored(name).len() as u64);
    }
}

/// The digest is that of the file as stored: `sha256sum` of coreutils says the same.
#[test]
fn the_digest_is_of_the_file_and_bytes_are_those_of_the_cells_as_text() {
    let loaded = loaded("usual");
    assert_eq!(
        loaded.digests[0].sha256,
        "44386f7a4233cfb233d246c1947ba7413822aea0efd1a1038d4532bbc089a20c"
    );
    // header: nine names; rows: cells as written here, a byte for the end of each
    let header = "pid,yob,prior,seen,w1_len,sex,w1,w1_side,w1_state\n".len() as u64;
    let rows = "TW-00001,1950,true,2025-11-03,12,F,A,L,O
TW-00002,1961,,2025-11-04,,M,,,
TW-00001,1950,true,2025-11-05,11.5,F,A,L,C
TW-00003,1944,false,2025-11-06,7.25,,B,R,O
TW-00002,1961,,2025-11-07,,M,,,
";
    let expected = ByteAccount {
        header,
        used: rows.len() as u64,
        set_aside: "TW-00003,1944,false,,,,,,\n".len() as u64,
        blank: 0,
    };
    assert_eq!(loaded.accounts[0].text_bytes, expected);
}

/// Each visit was at 22:20 UTC: ten hours ahead that is the next day.
#[test]
fn an_instant_has_the_day_of_the_declared_offset_and_of_utc_with_a_note() {
    let declared = |offset: &str| {
        LAYOUT.replace(
            "format = \"day-first\"",
            &format!("format = \"day-first\"\nutc_offset = \"{offset}\""),
        )
    };
    let text = text();
    let days = |loaded: &Loaded, more: u64| -> Vec<_> {
        let visits = loaded.tables.visits.iter();
        visits.map(|visit| visit.date + Days::new(more)).collect()
    };
    for name in ["instants", "old-instants"] {
        let undeclared = loaded(name);
        assert_eq!(days(&undeclared, 0), days(&text, 0), "{name}");
        assert!(lines(&undeclared).contains(&"note day-taken-in-utc seen".to_owned()));
        let behind = load_with(&declared("-05:00"), &stored(name)).unwrap();
        assert_eq!(days(&behind, 0), days(&text, 0), "{name}");
        assert_eq!(lines(&behind), lines(&text));
        let ahead = load_with(&declared("+10:00"), &stored(name)).unwrap();
        assert_eq!(days(&ahead, 0), days(&text, 1), "{name}");
    }
    for wrong in ["10:00", "+1:00", "+15:00", "+10:60", "Sydney", ""] {
        let error = intake::layout::parse(&declared(wrong), "layout.toml").unwrap_err();
        assert!(
            error.to_string().contains("`utc_offset` must be"),
            "{error}"
        );
    }
}

#[test]
fn what_is_not_read_is_refused_by_name() {
    for (name, expected) in [
        (
            "packed-lz4",
            "column `pid` is packed with LZ4, which is not read here",
        ),
        (
            "packed-brotli",
            "column `pid` is packed with Brotli, which is not read here",
        ),
        (
            "delta",
            "column `pid` is written in an encoding that this program does not read",
        ),
        (
            "lists",
            "column `seen` holds lists or groups, which a cell cannot hold",
        ),
        (
            "groups",
            "column `w1` holds lists or groups, which a cell cannot hold",
        ),
        ("no-columns", "the file is empty"),
        ("double", "columns 1 and 2 have the same header, `pid`"),
    ] {
        let error = load_with(LAYOUT, &stored(name)).unwrap_err();
        assert_eq!(error.to_string(), format!("visits: {expected}"), "{name}");
        assert!(error.hint().is_some());
    }
    let empty = loaded("no-rows");
    assert_eq!(account(&empty), "read 0 used 0");
}

/// A file of one row group and its footer, with bytes of the footer replaced.
fn changed(name: &str, from: &[u8], to: &[u8]) -> Vec<u8> {
    let mut bytes = stored(name);
    let at = bytes
        .windows(from.len())
        .rposition(|part| part == from)
        .unwrap();
    bytes.splice(at..at + from.len(), to.iter().copied());
    bytes
}

#[test]
fn a_damaged_file_is_refused_with_what_is_wrong() {
    let whole = stored("usual");
    let end = whole.len() - 8;
    let with_length = |length: u32| {
        let mut bytes = whole.clone();
        bytes[end..end + 4].copy_from_slice(&length.to_le_bytes());
        bytes
    };
    let encrypted = changed("usual", b"PAR1", b"PARE");
    for (bytes, expected) in [
        (whole[..whole.len() - 1].to_vec(), "its end is missing"),
        (whole[..10].to_vec(), "its end is missing"),
        (encrypted, "its end is missing"),
        (with_length(u32::MAX), "its footer is longer than the file"),
        (with_length(0), "its footer cannot be read"),
        (with_length(20), "its footer cannot be read"),
    ] {
        let error = load_with(LAYOUT, &bytes).unwrap_err().to_string();
        assert!(error.contains(expected), "{error}");
    }
    let hidden = [b"PARE".as_slice(), &whole[4..]].concat();
    let error = load_with(LAYOUT, &hidden).unwrap_err().to_string();
    assert!(error.contains("an encrypted Parquet file"), "{error}");
    let twice = load_with(LAYOUT, &crate::doors::packed(&whole)).unwrap_err();
    assert!(twice.to_string().contains("packed with gzip"), "{twice}");
    // a page whose checksum no longer holds
    let mut flipped = stored("small-groups");
    let at = flipped
        .windows(8)
        .position(|part| part == b"TW-00001")
        .unwrap();
    flipped[at] ^= 1;
    let error = load_with(LAYOUT, &flipped).unwrap_err().to_string();
    assert!(error.contains("not what its checksum says"), "{error}");
}
