//! The report as a workbook: a sheet a table, with real numbers and dates and no formula anywhere.

use crate::page::{BANNER, audience_words};
use crate::{RenderError, inert, tables, wording};
use chrono::{Datelike, NaiveDate};
use outcomes::dataset::{Cell, DataTable, Field, FieldKind, reads_as_formula};
use outcomes::report::{Report, Unit};
use rust_xlsxwriter::{
    DocProperties, ExcelDateTime, Format, FormatAlign, FormatBorder, FormatUnderline, Note, Url,
    Workbook, Worksheet, XlsxError,
};

/// Rows that a sheet can hold below its header.
const MAX_ROWS: usize = 1_048_575;
/// Characters kept of one text; a cell of a workbook holds 32,767.
const MAX_TEXT: usize = 30_000;
/// Widest column, in characters; longer words wrap.
const WIDEST: usize = 44;
/// A sheet up to this wide, in characters, is shrunk to the width of a page.
const FITS_A_PAGE: usize = 190;
/// Height of a line in points, and of the tallest row a workbook may have.
const LINE: usize = 15;
const TALLEST: usize = 400;
const FIRST_SHEET: &str = "Read me";

/// The bytes of the workbook.
pub(crate) fn document(report: &Report) -> Result<Vec<u8>, RenderError> {
    let tables = tables::tables(report);
    workbook(report, &tables).map_err(|error| RenderError::Workbook(in_words(&error)))
}

/// Why the library refused, without any words of the report.
fn in_words(error: &XlsxError) -> String {
    match error {
        XlsxError::RowColumnLimitError => "a sheet is too large".to_owned(),
        XlsxError::MaxStringLengthExceeded => "a text is too long".to_owned(),
        XlsxError::IoError(_) | XlsxError::ZipError(_) => "it could not be packed".to_owned(),
        _ => "a sheet was refused".to_owned(),
    }
}

fn workbook(report: &Report, tables: &[DataTable]) -> Result<Vec<u8>, XlsxError> {
    let looks = Looks::new();
    let mut book = Workbook::new();
    book.set_properties(&properties(report)?);
    read_me(book.add_worksheet(), report, tables, &looks)?;
    for table in tables {
        sheet(book.add_worksheet(), table, &looks)?;
    }
    book.save_to_buffer()
}

/// What a file manager shows. The date is the data cut-off: there is no clock here.
fn properties(report: &Report) -> Result<DocProperties, XlsxError> {
    let title = format!("{}: {}, {}", report.practice, report.title, report.quarter);
    Ok(DocProperties::new()
        .set_title(short(&title, 250))
        .set_author(report.provenance.program.as_str())
        .set_comment(audience_words(report.audience))
        .set_creation_datetime(&day(report.horizon.cut_off)?))
}

/// A day of the calendar; years before 1900 do not exist in a workbook.
fn day(date: NaiveDate) -> Result<ExcelDateTime, XlsxError> {
    let year = u16::try_from(date.year()).unwrap_or_default();
    let part = |n: u32| u8::try_from(n).unwrap_or_default();
    ExcelDateTime::from_ymd(year, part(date.month()), part(date.day()))
}

/// How cells look.
struct Looks {
    heading: Format,
    title: Format,
    words: Format,
    /// A text that a spreadsheet might take for a formula keeps its mark of being a text when edited.
    marked: Format,
    hidden: Format,
    link: Format,
    date: Format,
    whole: Format,
    plain: Format,
    share: Format,
    days: Format,
    part_days: Format,
    tenth: Format,
    ratio: Format,
}

impl Looks {
    fn new() -> Self {
        let top = || Format::new().set_align(FormatAlign::Top);
        let number = |code: &str| top().set_num_format(code);
        let words = top().set_text_wrap();
        Self {
            heading: Format::new()
                .set_bold()
                .set_text_wrap()
                .set_align(FormatAlign::Bottom)
                .set_background_color(0x00E9_EEF0)
                .set_border_bottom(FormatBorder::Thin),
            title: top().set_bold().set_font_size(16).set_text_wrap(),
            marked: words.clone().set_quote_prefix(),
            words,
            hidden: top().set_italic(),
            link: top()
                .set_font_color(0x0024_5A8C)
                .set_underline(FormatUnderline::Single),
            date: number("d mmm yyyy").set_align(FormatAlign::Left),
            whole: number("#,##0"),
            plain: number("#,##0.####"),
            share: number("0.0%"),
            days: number("#,##0\" days\""),
            part_days: number("#,##0.0\" days\""),
            tenth: number("#,##0.0"),
            ratio: number("0.00"),
        }
    }

    fn of_number(&self, value: f64, unit: Option<Unit>) -> &Format {
        let is_whole = value.fract() == 0.0;
        match unit {
            Some(Unit::Share) => &self.share,
            Some(Unit::Ratio | Unit::PerWeek) => &self.ratio,
            Some(Unit::Per100PersonYears | Unit::Per100People | Unit::MillimetresPerWeek) => {
                &self.tenth
            }
            Some(Unit::Days) if is_whole => &self.days,
            Some(Unit::Days) => &self.part_days,
            Some(Unit::Count) | None if is_whole => &self.whole,
            Some(Unit::Count) => &self.tenth,
            None => &self.plain,
        }
    }
}

/// What the workbook is, its cautions, and where to find what.
fn read_me(
    sheet: &mut Worksheet,
    report: &Report,
    tables: &[DataTable],
    looks: &Looks,
) -> Result<(), XlsxError> {
    sheet.set_name(FIRST_SHEET)?;
    sheet
        .set_column_width(0, 30)?
        .set_column_width(1, 10)?
        .set_column_width(2, 90)?;
    let horizon = &report.horizon;
    let title = format!("{} {}", report.title, report.quarter);
    put_text(sheet, 0, 0, &report.practice, looks)?;
    sheet.merge_range(1, 0, 1, 2, &clean(&title), &looks.title)?;
    let lines = [
        audience_words(report.audience).to_owned(),
        format!(
            "{} to {}. Visits from {} to {}. Deaths known to {}, hospital procedures to {}.",
            wording::date(report.quarter_start),
            wording::date(report.quarter_end),
            wording::date(horizon.data_start),
            wording::date(horizon.cut_off),
            wording::date(horizon.deaths_known_to),
            wording::date(horizon.procedures_known_to),
        ),
        BANNER.to_owned(),
        "Every number is the one of report.json. Shares are numbers between 0 and 1, shown as percentages. An empty cell is not known or not defined and is never a zero; column State says why a value is missing; “suppressed” hides a count to protect patients. The note on each heading says what the column means.".to_owned(),
        report.front_page.chance.clone(),
    ];
    sheet.set_row_height(1, 24)?;
    let mut row = 2;
    for line in lines.iter().chain(&report.front_page.sentences) {
        sheet.merge_range(row, 0, row, 2, &clean(line), &looks.words)?;
        // A merged cell does not grow with its words.
        sheet.set_row_height(row, height(line.chars().count(), 115) as f64)?;
        row += 1;
    }
    row += 1;
    for (column, heading) in (0..).zip(["Sheet", "Rows", "What a row is"]) {
        sheet.write_string_with_format(row, column, heading, &looks.heading)?;
    }
    for table in tables {
        row += 1;
        let link = Url::new(format!("internal:'{}'!A1", table.title)).set_text(table.title);
        sheet.write_url_with_format(row, 0, link, &looks.link)?;
        sheet.write_number_with_format(row, 1, table.rows.len() as f64, &looks.whole)?;
        put_text(sheet, row, 2, table.words, looks)?;
        sheet.set_row_height(row, height(table.words.chars().count(), 85) as f64)?;
    }
    for_paper(sheet, 130)
}

/// Height in points of so many characters in a column of this width.
fn height(n_characters: usize, width: usize) -> usize {
    (n_characters.div_ceil(width.max(1)).max(1) * LINE).min(TALLEST)
}

/// Prints on A4 across with page numbers: shrunk to the page's width where the letters stay legible.
fn for_paper(sheet: &mut Worksheet, width: usize) -> Result<(), XlsxError> {
    sheet
        .set_landscape()
        .set_paper_size(9)
        .set_footer("&C&A, page &P of &N");
    if width <= FITS_A_PAGE {
        sheet.set_print_fit_to_pages(1, 0);
    } else {
        sheet.set_print_scale(60);
        sheet.set_repeat_columns(0, 0)?;
    }
    Ok(())
}

fn sheet(sheet: &mut Worksheet, table: &DataTable, looks: &Looks) -> Result<(), XlsxError> {
    sheet.set_name(table.title)?;
    let widths: Vec<usize> = (table.fields.iter().enumerate())
        .map(|(place, field)| width(table, field, place))
        .collect();
    for ((column, field), width) in (0..).zip(&table.fields).zip(&widths) {
        sheet.write_string_with_format(0, column, field.title, &looks.heading)?;
        sheet.insert_note(0, column, &note(field))?;
        sheet.set_column_width(column, *width as f64)?;
    }
    for (row, cells) in (1..).zip(table.rows.iter().take(MAX_ROWS)) {
        let heights = cells.iter().zip(&widths).map(|(cell, width)| match cell {
            Cell::Text(text) => height(text.chars().count() + 2, *width),
            _ => LINE,
        });
        let tallest = heights.max().unwrap_or(LINE);
        if tallest > LINE {
            sheet.set_row_height(row, tallest as f64)?;
        }
        for (column, cell) in (0..).zip(cells) {
            put(sheet, row, column, cell, looks)?;
        }
    }
    let last_row = u32::try_from(table.rows.len().min(MAX_ROWS)).unwrap_or(u32::MAX);
    let last_column = u16::try_from(table.fields.len().saturating_sub(1)).unwrap_or(u16::MAX);
    sheet.set_freeze_panes(1, 0)?;
    sheet.autofilter(0, 0, last_row, last_column)?;
    sheet.set_repeat_rows(0, 0)?;
    for_paper(sheet, widths.iter().sum())
}

fn note(field: &Field) -> Note {
    let unit = if field.unit.is_empty() {
        String::new()
    } else {
        format!("\nUnit: {}.", field.unit)
    };
    let words = format!("{}{unit}\nName in data files: {}", field.words, field.name);
    let n_lines = u32::try_from(words.chars().count() / 36 + words.lines().count()).unwrap_or(20);
    Note::new(words)
        .add_author_prefix(false)
        .set_width(240)
        .set_height(20 + 16 * n_lines)
}

fn put(
    sheet: &mut Worksheet,
    row: u32,
    column: u16,
    cell: &Cell,
    looks: &Looks,
) -> Result<(), XlsxError> {
    match cell {
        Cell::Absent => {}
        Cell::Hidden => {
            sheet.write_string_with_format(row, column, "suppressed", &looks.hidden)?;
        }
        Cell::Text(text) => put_text(sheet, row, column, text, looks)?,
        Cell::Whole(n) => {
            sheet.write_number_with_format(row, column, *n as f64, &looks.whole)?;
        }
        Cell::Number(value, unit) => {
            let look = looks.of_number(*value, *unit);
            sheet.write_number_with_format(row, column, *value, look)?;
        }
        Cell::Date(date) => match day(*date) {
            Ok(day) => {
                sheet.write_datetime_with_format(row, column, day, &looks.date)?;
            }
            Err(_) => put_text(sheet, row, column, &date.to_string(), looks)?,
        },
        Cell::YesNo(is_yes) => {
            let word = if *is_yes { "yes" } else { "no" };
            sheet.write_string_with_format(row, column, word, &looks.words)?;
        }
    }
    Ok(())
}

/// Writes a text as a text, whatever it looks like.
fn put_text(
    sheet: &mut Worksheet,
    row: u32,
    column: u16,
    text: &str,
    looks: &Looks,
) -> Result<(), XlsxError> {
    let look = if reads_as_formula(text) {
        &looks.marked
    } else {
        &looks.words
    };
    sheet.write_string_with_format(row, column, clean(text), look)?;
    Ok(())
}

/// The text with misleading characters spelt out, cut to what a cell holds.
fn clean(text: &str) -> String {
    short(&inert::visible(text), MAX_TEXT)
}

fn short(text: &str, n_at_most: usize) -> String {
    match text.char_indices().nth(n_at_most) {
        Some((end, _)) => format!("{}…", text.get(..end).unwrap_or_default()),
        None => text.to_owned(),
    }
}

/// Width of a column in characters: that of its longest cell, within reason.
fn width(table: &DataTable, field: &Field, place: usize) -> usize {
    let longest = table
        .rows
        .iter()
        .take(MAX_ROWS)
        .filter_map(|row| row.get(place))
        .map(n_characters);
    let least = match field.kind {
        FieldKind::Date => 12,
        _ => 9,
    };
    longest
        .max()
        .unwrap_or(0)
        .max(field.title.chars().count().min(18))
        .clamp(least, WIDEST)
        + 2
}

fn n_characters(cell: &Cell) -> usize {
    match cell {
        Cell::Text(text) => text.chars().take(WIDEST).count(),
        Cell::Number(..) | Cell::Whole(_) | Cell::Date(_) => 11,
        Cell::Hidden => 10,
        Cell::Absent | Cell::YesNo(_) => 3,
    }
}
