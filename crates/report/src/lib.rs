//! Turns a finished report value into one self-contained HTML file with charts, a PDF, a workbook, and stable JSON.
//!
//! [`html()`], [`json()`], [`pdf()`] and [`workbook()`] give the files of a copy; [`result_tables`], [`data()`] and
//! [`data_dictionary`] what stands under `data/`; [`check_html`] and [`check_json`] what `check` says of an export.
//!
//! Nothing here computes a number that a reader might quote: values are formatted, laid out and drawn.
//! The same value gives the same bytes on every machine. No file is written and no clock is read.

mod chart;
mod data;
mod error;
mod inert;
mod json;
mod page;
mod pdf;
mod tables;
mod wording;
mod workbook;

pub use data::DataFormat;
pub use error::RenderError;

use outcomes::check::overview::Overview;
use outcomes::dataset::DataTable;
use outcomes::report::{Audience, Report};
use std::borrow::Cow;

/// The report as one HTML file that needs no script, no network and no other file.
///
/// The action list appears in the clinic copy only, whatever the value carries. Control and
/// bidirectional characters in any string become visible marks.
///
/// # Errors
/// [`RenderError::Figure`] when the parts of a figure do not fit together, for example when numbers
/// at risk and ticks differ in length.
pub fn html(report: &Report) -> Result<String, RenderError> {
    let report = for_its_audience(report);
    Ok(inert::visible(&page::document(&report)?.into_string()))
}

/// Everything on the page as indented JSON, with at most ten significant digits a number.
///
/// A number that is not finite becomes `null`. The action list is empty unless the copy is the clinic's.
///
/// # Errors
/// [`RenderError::Json`] when the value cannot be written as JSON.
pub fn json(report: &Report) -> Result<String, RenderError> {
    json::pretty(for_its_audience(report).as_ref())
}

/// The overview that `check` makes of an export, as one HTML file that needs no script, no network and no other file.
pub fn check_html(overview: &Overview) -> String {
    inert::visible(&page::check::document(overview).into_string())
}

/// The overview that `check` makes of an export, as indented JSON.
///
/// # Errors
/// [`RenderError::Json`] when the value cannot be written as JSON.
pub fn check_json(overview: &Overview) -> Result<String, RenderError> {
    json::pretty(overview)
}

/// The report as PDF on A4: PDF/UA-1 and PDF/A-2a, with bookmarks, its fonts and no clock inside.
///
/// The front takes at most two pages. Outside the auditor's copy each measure shows its newest results and the action list
/// its first lines; report.json has them all. A letter that the fonts lack is written as its number.
///
/// # Errors
/// [`RenderError::Figure`] as for [`html()`]; [`RenderError::Pdf`] when the pages would break one of the two standards,
/// for example by a picture without words.
pub fn pdf(report: &Report) -> Result<Vec<u8>, RenderError> {
    pdf::document(&for_its_audience(report))
}

/// What the pages of [`pdf()`] say, in reading order, as JSON: the words and tables that the page template is given.
///
/// Nothing is laid out, so this is quick; it lets a test or a reader without a PDF reader see what paper says.
///
/// # Errors
/// [`RenderError::Figure`] as for [`html()`]; [`RenderError::Json`] when it cannot be written as JSON.
pub fn paper_words(report: &Report) -> Result<String, RenderError> {
    pdf::words(&for_its_audience(report))
}

/// The report as a workbook: a first sheet that says what it is, then a sheet a table, with frozen headings, filters, real
/// numbers and dates, and a note on every heading.
///
/// Every number is the one of report.json. A text is written as a text whatever it looks like, with misleading characters
/// spelt out; there is no formula, no link out of the workbook and no clock. Hidden counts say `suppressed`.
///
/// # Errors
/// [`RenderError::Workbook`] when the library refuses a sheet.
pub fn workbook(report: &Report) -> Result<Vec<u8>, RenderError> {
    workbook::document(&for_its_audience(report))
}

/// The tables of a report as they go into data files, those without a row left out.
///
/// In a public copy each has a last column that names the counts a row hides.
pub fn result_tables(report: &Report) -> Vec<DataTable> {
    data::result_tables(&for_its_audience(report))
}

/// A table as one data file. Texts have misleading characters spelt out; the same table gives the same bytes.
///
/// # Errors
/// [`RenderError::Data`] when a library refuses the table.
pub fn data(table: &DataTable, format: DataFormat) -> Result<Vec<u8>, RenderError> {
    data::bytes(table, format)
}

/// The data dictionary of tables, each with its place in the folder: name of the file and its bytes, as a page, as
/// delimited text and as JSON.
///
/// # Errors
/// [`RenderError::Data`] and [`RenderError::Json`] when a library refuses it.
pub fn data_dictionary(
    tables: &[(String, &DataTable)],
) -> Result<[(&'static str, Vec<u8>); 3], RenderError> {
    Ok([
        (
            "dictionary.html",
            inert::visible(&data::page(tables)).into_bytes(),
        ),
        (
            "dictionary.csv",
            data::bytes(&data::dictionary(tables), DataFormat::Csv)?,
        ),
        (
            "dictionary.json",
            inert::visible(&data::plain(tables)?).into_bytes(),
        ),
    ])
}

fn for_its_audience(report: &Report) -> Cow<'_, Report> {
    if report.audience == Audience::Clinic || report.action_list.is_empty() {
        return Cow::Borrowed(report);
    }
    let mut copy = report.clone();
    copy.action_list.clear();
    Cow::Owned(copy)
}
