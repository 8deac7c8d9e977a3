//! How the files of the export are built and written: shape, delimiter, encoding, missing, dates, decimal mark.

use super::{Pages, quoted};
use crate::dates::DateOrder;
use crate::draft::assign::Plan;
use crate::draft::judge::{Expect, Line, MISSING, Sureness, as_number, expect};
use crate::draft::leftover::Look;
use crate::draft::orders::{Orders, TWO_DIGIT_YEARS_FROM};
use crate::draft::sample::Sampled;
use crate::layout::Encoding;
use std::collections::BTreeSet;

pub(super) fn form(pages: &mut Pages, files: &[Sampled], lines: &[&Line], dates: &Dates) {
    let Some(first) = files.first() else { return };
    pages.say("\n[file]");
    let shape = if dates.is_long { "long" } else { "wide" };
    let why = if dates.is_long {
        "each file holds another table"
    } else {
        "one kind of file"
    };
    pages.line(Sureness::Sure, &format!("shape = \"{shape}\""), why);
    let delimiter = char::from(first.delimiter);
    let n_columns = first.headers.len();
    let sureness = if n_columns > 1 {
        Sureness::Sure
    } else {
        Sureness::Unsure
    };
    pages.line(
        sureness,
        &format!("delimiter = {}", quoted(&delimiter.to_string())),
        &format!("{n_columns} columns"),
    );
    let encoding = match first.encoding {
        Encoding::Utf8 => "utf-8",
        Encoding::Windows1252 => "windows-1252",
    };
    pages.line(
        Sureness::Sure,
        &format!("encoding = \"{encoding}\""),
        "every row read is text in it",
    );
    if first.title_lines > 0 {
        pages.line(
            Sureness::Sure,
            &format!("title_lines = {}", first.title_lines),
            "lines above the header that are no part of the table; blank lines do not count",
        );
    }
    let built = |file: &Sampled| (file.delimiter, file.encoding, file.title_lines);
    for other in files.iter().filter(|other| built(other) != built(first)) {
        pages.left.push(format!(
            "{} has another delimiter, encoding or number of lines above its header than {}: say so in a [[version]] for it",
            quoted(&other.name),
            quoted(&first.name)
        ));
    }

    let missing = missing(files, lines);
    pages.say("\n[missing]");
    let list: Vec<String> = missing.iter().map(|word| quoted(word)).collect();
    pages.line(
        Sureness::Sure,
        &format!("spellings = [{}]", list.join(", ")),
        "words for `missing` in columns of dates, numbers and codes",
    );

    pages.say("\n[dates]");
    match dates.common {
        Some(order) => {
            pages.line(
                dates.sureness,
                &format!("format = \"{order}\""),
                &dates.words,
            );
            if dates.sureness != Sureness::Sure {
                pages.left.push(format!(
                    "[dates] format: confirm that dates are written {order}"
                ));
            }
        }
        None => {
            pages.line(Sureness::Unsure, "format = \"day-first\"", &dates.words);
            pages.left.push(
                "[dates] format: say whether day or month comes first; the dates do not tell"
                    .to_owned(),
            );
        }
    }
    if dates.has_two_digit_years {
        pages.line(
            Sureness::Likely,
            &format!("two_digit_years_from = {TWO_DIGIT_YEARS_FROM}"),
            "some years have two digits; this is the first of the hundred years they may stand for",
        );
        pages.left.push(
            "[dates] two_digit_years_from: say which hundred years two digits stand for; until then such dates are not read"
                .to_owned(),
        );
    }
    let (n_commas, n_points) = decimals(files, lines);
    if n_commas > 0 && n_points == 0 {
        pages.say("\n[numbers]");
        pages.line(
            Sureness::Sure,
            "decimal = \"comma\"",
            &format!("{n_commas} numbers have a comma and none a point"),
        );
    } else if n_commas > 0 {
        pages.say("\n[numbers]");
        pages.line(
            Sureness::Unsure,
            "decimal = \"comma\"",
            &format!("{n_commas} numbers have a comma and {n_points} a point"),
        );
        pages
            .left
            .push("[numbers] decimal: some numbers have a comma, some a point".to_owned());
    }
}

/// Words for "missing" that occur in columns that hold no open text.
fn missing(files: &[Sampled], lines: &[&Line]) -> Vec<String> {
    let mut found = BTreeSet::new();
    for file in files {
        let columns: Vec<usize> = lines
            .iter()
            .filter(|line| !matches!(expect(line.section, line.field), Expect::Name | Expect::Id))
            .flat_map(|line| line.columns.iter().copied())
            .filter(|place| *place < file.headers.len())
            .collect();
        for cell in file.cells(&columns) {
            let lower = cell.to_lowercase();
            if MISSING.contains(&lower.as_str()) {
                found.insert(lower);
            }
        }
    }
    found.into_iter().collect()
}

fn decimals(files: &[Sampled], lines: &[&Line]) -> (usize, usize) {
    let mut n = (0, 0);
    for file in files {
        let columns: Vec<usize> = lines
            .iter()
            .filter(|line| matches!(expect(line.section, line.field), Expect::Number(_)))
            .flat_map(|line| line.columns.iter().copied())
            .filter(|place| *place < file.headers.len())
            .collect();
        for cell in file.cells(&columns) {
            if as_number(cell).is_some() {
                n.0 += usize::from(cell.contains(','));
                n.1 += usize::from(cell.contains('.'));
            }
        }
    }
    n
}

/// In which order dates are written.
pub(super) struct Dates {
    pub(super) is_long: bool,
    pub(super) common: Option<DateOrder>,
    sureness: Sureness,
    words: String,
    has_two_digit_years: bool,
}

pub(super) fn dates(lines: &[&Line], files: &[Sampled], plan: &Plan) -> Dates {
    let of = |is_among: &dyn Fn(&Line) -> bool| {
        let among = lines.iter().filter(|line| is_among(line));
        (among.filter_map(|line| line.orders)).fold(Orders::default(), Orders::plus)
    };
    let sure = of(&|line| line.sureness == Sureness::Sure);
    // where no column of dates is sure, those that are likely tell how dates are written, too, and those without a field
    let (all, sureness) = match (sure.n_with_day_numbers(), of(&|_| true)) {
        (0, likely) if likely.n_with_day_numbers() == 0 => {
            (unmatched_dates(files, plan), Sureness::Likely)
        }
        (0, likely) => (likely, Sureness::Likely),
        _ => (sure, Sureness::Sure),
    };
    let words = match all.n_with_day_numbers() {
        0 => "no column of dates was found".to_owned(),
        n => format!("of {n} dates: {}", all.words()),
    };
    Dates {
        is_long: plan.is_long,
        common: all.decided(),
        sureness,
        words,
        has_two_digit_years: all.has_two_digit_years(),
    }
}

/// Dates in columns for which no field was found.
fn unmatched_dates(files: &[Sampled], plan: &Plan) -> Orders {
    let looks = plan.unmatched.iter().filter_map(|leftover| {
        match leftover.look(files.get(leftover.file)?) {
            Look::Dates(orders) => Some(orders),
            _ => None,
        }
    });
    looks.fold(Orders::default(), Orders::plus)
}
