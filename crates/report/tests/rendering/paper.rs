//! The PDF: its standards, its bytes, and words that are hard to set.

use crate::equality::{AUDIENCES, made};
use crate::fixture;
use outcomes::report::{Audience, Report};
use std::sync::OnceLock;

/// The invented report of an audience on paper, set once for all tests.
pub(crate) fn pdf(audience: Audience) -> &'static [u8] {
    static PDFS: [OnceLock<Vec<u8>>; AUDIENCES.len()] =
        [const { OnceLock::new() }; AUDIENCES.len()];
    let place = AUDIENCES.iter().position(|own| *own == audience).unwrap();
    PDFS[place].get_or_init(|| report::pdf(&made(audience)).unwrap())
}

#[test]
fn every_copy_becomes_a_tagged_archivable_pdf_of_the_same_bytes() {
    for audience in AUDIENCES {
        let pdf = pdf(audience);
        assert!(pdf.starts_with(b"%PDF-1.7"));
        let text = String::from_utf8_lossy(pdf);
        for mark in [
            "/StructTreeRoot",
            "/Outlines",
            "pdfuaid:part",
            "pdfaid:part",
        ] {
            assert!(text.contains(mark), "{audience}: no {mark}");
        }
        assert!(report::pdf(&made(audience)).unwrap() == pdf, "{audience}");
    }
}

#[test]
fn hostile_words_and_letters_without_a_shape_are_set_and_do_not_fail_the_page() {
    let practice = "#pagebreak() $x$ <b> \u{202e}כף رجل 足 ".to_owned() + &"x".repeat(10_000);
    let report = Report {
        practice,
        ..fixture::report(Audience::Clinic)
    };
    assert!(report::pdf(&report).unwrap().starts_with(b"%PDF-1.7"));
}
