//! Files made to do harm, through every door: no panic, no cell in a message, every row and byte accounted for or a named error.
//!
//! A property-based substitute for a fuzzer on the stable compiler. The seeds are small files; each is damaged at random by
//! changing, cutting, repeating and joining. `LIMBLEDGER_HOSTILE=100000 cargo test -p intake hostile` runs longer. The
//! file of a case that fails, hangs or kills the run stays in the target folder.

use crate::columns::{LAYOUT as COLUMNS_LAYOUT, stored};
use crate::doors::{in_json_lines, packed};
use crate::fhir::damaged::story;
use crate::fhir::{LAYOUT as FHIR_LAYOUT, ndjson};
use crate::support::{WIDE, export, horizon, row};
use intake::{Input, Loaded, layout, load};
use serde_json::Value;
use std::fmt::Debug;
use std::io::Read as _;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;

/// What stands in cells and nowhere else. No message may hold it.
const SECRET: &str = "Zq7Vx9Kw";

/// A generator of numbers that is the same everywhere: SplitMix64, from memory.
struct Dice(u64);

impl Dice {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        mixed ^ (mixed >> 31)
    }

    fn below(&mut self, n: usize) -> usize {
        usize::try_from(self.next() % (n as u64).max(1)).unwrap_or(0)
    }
}

/// Bytes that mean something to one door or another.
const SPICE: &[&[u8]] = &[
    b"\"",
    b",",
    b"\n",
    b"\r\n",
    b"\0",
    b"\xff",
    b"\xef\xbb\xbf",
    b"{",
    b"}",
    b"[",
    b"]",
    b":",
    b"\\u0000",
    b"null",
    b"1e999",
    b"-",
    b"\x1f\x8b",
    b"PAR1",
    b"\x80\x80\x80\x80\x08",
    b"\xff\xff\xff\x7f",
    b"\x00\x00\x00\x00",
    b"=",
    b"'''",
    b"0001-01-01",
    b"99999999999999999999",
    b"\xff\xff\xff\xff\xff\xff\xff\xff\x7f",
];

/// A damaged copy of a file.
fn damaged(bytes: &[u8], dice: &mut Dice) -> Vec<u8> {
    let mut bytes = bytes.to_vec();
    for _ in 0..=dice.below(4) {
        let at = dice.below(bytes.len() + 1);
        let to = (at + dice.below(24)).min(bytes.len());
        match dice.below(8) {
            0 | 1 => {
                if let Some(byte) = bytes.get_mut(at) {
                    *byte ^= 1 << dice.below(8);
                }
            }
            2 => {
                if let Some(byte) = bytes.get_mut(at) {
                    *byte = u8::try_from(dice.below(256)).unwrap_or(0);
                }
            }
            3 => drop(bytes.drain(at..to)),
            4 => bytes.truncate(at),
            5 => {
                let part = bytes[at..to].to_vec();
                bytes.splice(at..at, part);
            }
            6 => drop(bytes.splice(at..at, SPICE[dice.below(SPICE.len())].iter().copied())),
            _ => drop(bytes.splice(at..to, SPICE[dice.below(SPICE.len())].iter().copied())),
        }
    }
    bytes
}

fn n_cases() -> u64 {
    let asked = std::env::var("LIMBLEDGER_HOSTILE").ok();
    asked.and_then(|n| n.parse().ok()).unwrap_or(250)
}

/// Damages the seeds again and again.
fn attack(name: &str, seeds: &[Vec<u8>], judge: impl Fn(&[u8])) {
    for case in 0..n_cases() {
        let mut dice = Dice(case);
        let seed = dice.below(seeds.len());
        let bytes = damaged(&seeds[seed], &mut dice);
        let kept = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("hostile-{name}-{case}"));
        std::fs::write(&kept, &bytes).unwrap();
        let outcome = catch_unwind(AssertUnwindSafe(|| judge(&bytes)));
        assert!(
            outcome.is_ok(),
            "{name}, seed {seed}, case {case}: {}",
            kept.display()
        );
        std::fs::remove_file(&kept).unwrap();
    }
}

/// Whether damage made the header of cells: a line break lost, a first line that is no JSON. Headers may be named.
fn is_secret_in_header(bytes: &[u8]) -> bool {
    let mut text = Vec::new();
    if flate2::read::MultiGzDecoder::new(bytes)
        .read_to_end(&mut text)
        .is_err()
        && text.is_empty()
    {
        text = bytes.to_vec();
    }
    let start = text.strip_prefix(b"\xef\xbb\xbf").unwrap_or(&text);
    if start.trim_ascii_start().starts_with(b"{") {
        return text.split(|byte| *byte == b'\n').any(|line| {
            serde_json::from_slice(line).is_ok_and(|object: Value| is_secret_in_keys(&object))
        });
    }
    let mut rows = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .from_reader(text.as_slice());
    let mut header = csv::ByteRecord::new();
    let is_read = rows.read_byte_record(&mut header).is_ok();
    let holds = |text: &[u8]| {
        text.windows(SECRET.len())
            .any(|part| part == SECRET.as_bytes())
    };
    is_read && holds(header.as_slice())
}

fn is_secret_in_keys(json: &Value) -> bool {
    match json {
        Value::Object(entries) => entries
            .iter()
            .any(|(key, value)| key.contains(SECRET) || is_secret_in_keys(value)),
        Value::Array(items) => items.iter().any(is_secret_in_keys),
        _ => false,
    }
}

fn assert_silent(said: &impl Debug) {
    let said = format!("{said:?}");
    assert!(!said.contains(SECRET), "a message holds a cell");
}

/// Loads and looks at everything that may be said.
fn judge(layout: &str, bytes: &[u8]) {
    let file = crate::support::TestFile::new(bytes);
    let layout = layout::parse(layout, "layout.toml").unwrap();
    let input = Input {
        name: "visits".to_owned(),
        path: file.path.clone(),
        role: None,
        joined: None,
        exported: None,
    };
    let may_be_named = is_secret_in_header(bytes);
    match load(&[input], &layout, &horizon(), &|_| ()) {
        Ok(loaded) => {
            judge_loaded(&loaded, bytes);
            if !may_be_named {
                assert_silent(&loaded.findings);
                assert_silent(&loaded.accounts);
            }
        }
        Err(error) => {
            if !may_be_named {
                assert_silent(&error);
                assert_silent(&error.to_string());
            }
            assert!(error.hint().is_some());
            assert!(
                !error.to_string().contains("are accounted for"),
                "bytes do not add up"
            );
        }
    }
}

fn judge_loaded(loaded: &Loaded, bytes: &[u8]) {
    let account = &loaded.accounts[0];
    assert!(account.is_balanced());
    assert_eq!(account.bytes, bytes.len() as u64);
    let n_set_aside: u64 = loaded
        .findings
        .iter()
        .filter(|finding| finding.severity.code() == "set-aside")
        .map(|finding| finding.n)
        .sum();
    assert_eq!(account.n_set_aside(), n_set_aside);
}

/// Rows with the secret in cells of every kind.
fn rows() -> String {
    let of = |id: &str, day: &str| {
        row(&[
            ("pid", id),
            ("seen", day),
            ("yob", "1950"),
            ("sex", SECRET),
            ("hba1c", SECRET),
            ("type", SECRET),
            ("w1", "A"),
            ("w1_side", "L"),
            ("w1_state", SECRET),
            ("w1_len", "12"),
            ("e1", SECRET),
            ("e1_date", SECRET),
            ("remark", SECRET),
        ])
    };
    let secret = format!("{SECRET}-1");
    export(&[
        of(&secret, "03/11/2025"),
        of(&secret, "04/11/2025"),
        of("TW-00002", SECRET),
        of(&secret, "03/11/2025"),
    ])
}

#[test]
fn hostile_delimited_text() {
    let quoted = rows().replace(SECRET, &format!("\"{SECRET}\n,{SECRET}\""));
    let seeds = [rows(), rows().replace('\n', "\r\n"), quoted].map(String::into_bytes);
    attack("delimited", &seeds, |bytes| judge(WIDE, bytes));
}

#[test]
fn hostile_json_lines() {
    let seeds = [in_json_lines(&rows()).into_bytes()];
    attack("lines", &seeds, |bytes| judge(WIDE, bytes));
}

#[test]
fn hostile_packed_text() {
    let seeds = [
        packed(rows().as_bytes()),
        packed(in_json_lines(&rows()).as_bytes()),
    ];
    attack("packed", &seeds, |bytes| judge(WIDE, bytes));
}

/// Every form of page that is read, and those that are not.
#[test]
fn hostile_parquet() {
    let names = [
        "usual",
        "plain-gzip",
        "second-pages",
        "bare",
        "small-groups",
        "instants",
        "old-instants",
        "narrow",
        "required",
        "polars",
        "lists",
        "no-rows",
        "secret",
    ];
    let seeds = names.map(stored);
    attack("parquet", &seeds, |bytes| judge(COLUMNS_LAYOUT, bytes));
}

/// The whole story of the FHIR tests, one file, with the secret in values.
#[test]
fn hostile_fhir() {
    let text = ndjson(&story()).replace("\"O\"", &format!("\"{SECRET}\""));
    let text = text.replace("P1", SECRET);
    attack("fhir", &[text.into_bytes()], |bytes| {
        judge(FHIR_LAYOUT, bytes)
    });
}

#[test]
fn hostile_layouts() {
    let seeds = [WIDE, COLUMNS_LAYOUT, FHIR_LAYOUT].map(|text| text.as_bytes().to_vec());
    attack("layout", &seeds, |bytes| {
        let text = String::from_utf8_lossy(bytes);
        match layout::parse(&text, "layout.toml") {
            Ok(layout) => drop(layout.roles()),
            Err(error) => assert!((1..=text.matches('\n').count() + 1).contains(&error.line)),
        }
    });
}
