//! The report on paper: pages set in process from the report value, never from the web page.
//!
//! The text is laid out by a page-setting library from a fixed template that reads the content as data, so no word of the
//! report is ever read as markup. Fonts are part of the program; no file, network or clock is touched.

mod attention;
mod block;
mod changes;
mod content;
mod drawing;
mod legible;
mod making;
mod method;
mod research;
mod sheets;
mod shelf;
mod versions;
mod watch;

use crate::RenderError;
use outcomes::report::Report;
use typst::diag::SourceDiagnostic;
use typst::foundations::Smart;
use typst_layout::PagedDocument;
use typst_pdf::{PdfOptions, PdfStandard, PdfStandards};

/// The report as PDF: tagged for assistive technology, with bookmarks and embedded fonts.
pub(crate) fn document(report: &Report) -> Result<Vec<u8>, RenderError> {
    let content = content::content(report)?;
    let shelf = shelf::Shelf::new(&content)?;
    let pages = typst::compile::<PagedDocument>(&shelf)
        .output
        .map_err(|faults| fault(&faults));
    let options = PdfOptions {
        ident: Smart::Custom(identity(report)),
        creator: Smart::Custom(Some(report.provenance.program.clone())),
        standards: standards()?,
        ..PdfOptions::default()
    };
    // What the library remembers of laid-out parts is left to it: another copy may be set at the same time.
    pages.and_then(|pages| typst_pdf::pdf(&pages, &options).map_err(|faults| fault(&faults)))
}

/// What the pages say in reading order, as JSON: what the page template reads before it lays anything out.
pub(crate) fn words(report: &Report) -> Result<String, RenderError> {
    crate::json::pretty(&content::content(report)?.paper)
}

/// PDF/UA-1 and PDF/A-2a: the library refuses a document that would break either.
fn standards() -> Result<PdfStandards, RenderError> {
    PdfStandards::new(&[PdfStandard::A_2a, PdfStandard::Ua_1])
        .map_err(|fault| RenderError::Pdf(fault.message().to_string()))
}

/// What makes this document the same document: its report, not the moment it was made.
fn identity(report: &Report) -> String {
    let inputs: Vec<&str> = report
        .provenance
        .inputs
        .iter()
        .map(|(_, _, sha256)| sha256.as_str())
        .collect();
    format!(
        "{} {} {} {}",
        report.practice,
        report.quarter,
        report.audience,
        inputs.join(" ")
    )
}

/// The library's first complaint, up to where it would quote words of the report.
fn fault(faults: &[SourceDiagnostic]) -> RenderError {
    let said = faults
        .first()
        .map_or("no reason given", |fault| fault.message.as_str());
    let words = said.split(['`', '"', '“']).next().unwrap_or_default();
    RenderError::Pdf(words.trim().to_owned())
}
