//! Every figure that paper must hold, found again in the text that an independent reader takes out of the finished PDF.
//!
//! The reader is `pdftotext` of poppler-utils; where it is not installed the test says so and checks nothing, unless
//! `LIMBLEDGER_PDFTOTEXT=required`.
#![allow(clippy::print_stderr, reason = "a skipped check must say so")]

use crate::equality::{AUDIENCES, json, result, results_of, sheets, texts, value_words, wanted};
use crate::paper::pdf;
use outcomes::report::words::limits;
use outcomes::report::{Audience, MeasureResult, Value};
use std::io::Write as _;
use std::process::{Command, Stdio};

/// How far behind the name of a row its last figure may stand, in letters.
const LONGEST_ROW: usize = 600;

/// The text of a PDF in the order in which it was written, so that a cell of several lines stays in one piece. `None` without a
/// reader.
fn extracted(pdf: &[u8]) -> Option<String> {
    let mut reader = Command::new("pdftotext")
        .args(["-raw", "-enc", "UTF-8", "-", "-"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .ok()?;
    let mut input = reader.stdin.take().unwrap();
    let pdf = pdf.to_vec();
    let writer = std::thread::spawn(move || input.write_all(&pdf));
    let output = reader.wait_with_output().unwrap();
    writer.join().unwrap().unwrap();
    assert!(output.status.success(), "the reader refuses the file");
    Some(close(&String::from_utf8(output.stdout).unwrap()))
}

/// Without spaces, line ends and places to break: a page may break anywhere.
fn close(words: &str) -> String {
    let is_kept =
        |letter: &char| !letter.is_whitespace() && !['\u{200b}', '\u{ad}'].contains(letter);
    words.chars().filter(is_kept).collect()
}

/// Whether some row tells this result: its cohort or stratum, and behind it every figure in order.
fn is_told(text: &str, result: &MeasureResult) -> bool {
    let name = if result.stratum == "all" {
        &result.cohort
    } else {
        &result.stratum
    };
    let name = close(name);
    let wanted: Vec<String> = wanted(result).iter().map(|words| close(words)).collect();
    text.match_indices(&name).any(|(place, _)| {
        let mut rest = &text[place + name.len()..];
        let mut room = LONGEST_ROW;
        wanted.iter().all(|words| {
            let end = rest
                .char_indices()
                .map(|(at, _)| at)
                .find(|at| *at >= room)
                .unwrap_or(rest.len());
            let Some(at) = rest[..end].find(words.as_str()) else {
                return false;
            };
            rest = &rest[at + words.len()..];
            room = room.saturating_sub(at);
            true
        })
    })
}

#[test]
fn an_independent_reader_finds_every_figure_in_the_finished_pdf() {
    for audience in AUDIENCES {
        let Some(text) = extracted(pdf(audience)) else {
            let is_required =
                std::env::var("LIMBLEDGER_PDFTOTEXT").is_ok_and(|word| word == "required");
            assert!(!is_required, "pdftotext is not installed");
            eprintln!("NOT CHECKED: pdftotext (poppler-utils) is not installed");
            return;
        };
        let report = json(audience);
        let is_full = audience == Audience::Auditor;
        let mut n_found = 0;
        for sheet in sheets(&report) {
            let results = results_of(sheet);
            let own = sheet["results"].as_array().unwrap().len();
            let n = if is_full { results.len() } else { own.min(8) };
            for result in results.iter().take(n) {
                assert!(is_told(&text, result), "{audience}: {result:?}");
                n_found += 1;
            }
        }
        assert!(n_found > 15, "{audience}: {n_found}");
        for headline in report["front_page"]["headlines"].as_array().unwrap() {
            let result = result(&headline["result"]);
            assert!(text.contains(&close(&value_words(&result))), "{result:?}");
            if let Value::Known(estimate) = &result.value
                && let Some(limits) = limits(result.unit, estimate)
            {
                assert!(text.contains(&close(&limits)), "{audience}: {limits}");
            }
        }
        let said = [
            "front_page.sentences.*",
            "front_page.headlines.*.expectation",
            "figures.*.frame.title",
            "figures.*.frame.caption",
            "settings.*.value",
            "cautions.*",
        ];
        // What became of the rows is not in a public copy.
        let flow: &[&str] = match audience {
            Audience::Public => &[],
            Audience::Clinic | Audience::Auditor => &["flow.*.label"],
        };
        for words in texts(&report, &said)
            .into_iter()
            .chain(texts(&report, flow))
        {
            assert!(text.contains(&close(words)), "{audience}: {words}");
        }
    }
}
