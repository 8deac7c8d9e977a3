//! Reading one cell: missing, readable, or a fault that becomes a finding.

use super::bind::{Bound, BoundCell, BoundStratum};
use super::door::Cells;
use super::meanings::{Meaning, meaning, put};
use super::row::Notes;
use super::sizes::BETWEEN;
use crate::dates::{DateFault, WrittenDate, read_date};
use crate::fields::{Codes, Kind};
use crate::layout::{Cell, CellPlace, DecimalMark, Form};
use crate::quantity::{Quantity, Unit};
use chrono::{Datelike as _, NaiveDate};
use outcomes::finding::{Finding, Severity};
use outcomes::tables::{DatePrecision, NameId, SourceRow};

/// A date that tells more than the year in an export that is declared to tell years only.
pub(crate) const FINER_THAN_DECLARED: &str = "date-finer-than-declared";

/// One record of a file.
#[derive(Clone, Copy)]
pub(crate) struct Row<'r> {
    pub(crate) record: &'r Cells,
    /// Which cells came with a type of their own; see `Record::typed`.
    pub(crate) typed: &'r [bool],
    pub(crate) form: &'r Form,
    pub(crate) headers: &'r [String],
    pub(crate) source: SourceRow,
}

/// Why a cell counts as missing although something is in it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct CellFault {
    pub(crate) check: &'static str,
    pub(crate) message: &'static str,
    pub(crate) hint: Option<String>,
}

impl CellFault {
    pub(super) const fn new(check: &'static str, message: &'static str) -> Self {
        Self {
            check,
            message,
            hint: None,
        }
    }

    pub(super) fn with_hint(self, hint: impl Into<String>) -> Self {
        Self {
            hint: Some(hint.into()),
            ..self
        }
    }
}

/// A cell that tells records of one day apart.
#[derive(Clone, Copy)]
pub(crate) struct BoundPart<'l> {
    cell: BoundCell<'l>,
    codes: Option<Codes>,
    is_date: bool,
    /// Without it the record names nothing.
    is_needed: bool,
}

impl<'l> BoundPart<'l> {
    /// The cell of a field, where the layout maps it.
    pub(crate) fn find<R>(fields: &[Bound<'l, R>], name: &str, is_needed: bool) -> Option<Self> {
        let bound = fields.iter().find(|bound| bound.field.name == name)?;
        Some(Self {
            cell: bound.cell,
            codes: bound.field.kind.codes(),
            is_date: matches!(bound.field.kind, Kind::Date(_)),
            is_needed,
        })
    }
}

/// What a part holds.
#[derive(PartialEq, Eq, Hash)]
pub(crate) enum Part<'r> {
    Absent,
    Text(&'r str),
    Day(NaiveDate),
}

impl<'r> Row<'r> {
    /// What a part holds, as we understand it; `None` when it is needed and cannot be understood.
    pub(crate) fn part(&self, part: &BoundPart<'r>) -> Option<Part<'r>> {
        let text = self.text(&part.cell);
        let spelt = text.and_then(|text| spelling(part.cell.cell, text).ok().flatten());
        let known = spelt.filter(|text| part.codes.is_none_or(|codes| (codes.is_known)(text)));
        match known {
            Some(text) if part.is_date => {
                let date = self.date(&part.cell, text);
                Some(date.map_or(Part::Absent, Part::Day))
            }
            Some(text) => Some(Part::Text(text)),
            None if part.is_needed => None,
            None => Some(Part::Absent),
        }
    }

    /// The text of a cell without surrounding space; `None` when it is empty or spelt as missing.
    pub(crate) fn text(&self, bound: &BoundCell<'r>) -> Option<&'r str> {
        match bound.position {
            Some(position) => self.at(position),
            None => match &bound.cell.place {
                CellPlace::Constant(value) => Some(value),
                CellPlace::Column { .. } => None,
            },
        }
    }

    /// The text at a position; `None` when it is empty or spelt as missing.
    #[inline]
    pub(crate) fn at(&self, position: usize) -> Option<&'r str> {
        if self.record.is_empty_at(position) {
            return None;
        }
        self.told(self.record.get(position)?)
    }

    /// The text of a cell that holds something; `None` when that is space, or spelt as missing.
    pub(crate) fn told(&self, cell: &'r str) -> Option<&'r str> {
        let text = trimmed(cell);
        let is_missing = text.is_empty()
            || self
                .form
                .missing
                .iter()
                .any(|spelling| spelling.eq_ignore_ascii_case(text));
        (!is_missing).then_some(text)
    }

    /// The decimal mark of the number at a position: a number with a type of its own has a point.
    pub(crate) fn decimal(&self, position: Option<usize>) -> DecimalMark {
        let is_typed = position.and_then(|position| self.typed.get(position)) == Some(&true);
        if is_typed {
            DecimalMark::Point
        } else {
            self.form.decimal
        }
    }

    /// A whole date.
    pub(crate) fn date(&self, bound: &BoundCell<'_>, text: &str) -> Result<NaiveDate, CellFault> {
        let written = self.written_date(bound, text)?;
        if written.precision == DatePrecision::Day || self.form.is_year_only {
            return Ok(written.date);
        }
        Err(CellFault::new(
            "date-without-day",
            "the date names no day; the cell counts as missing",
        ))
    }

    pub(super) fn written_date(
        &self,
        bound: &BoundCell<'_>,
        text: &str,
    ) -> Result<WrittenDate, CellFault> {
        let written = read_date(text, bound.dates);
        if self.form.is_year_only
            && let Ok(written) = written
        {
            return year_of(written);
        }
        written.map_err(|fault| match fault {
            DateFault::Unreadable => {
                CellFault::new("unreadable-date", "not a date; the cell counts as missing")
                    .with_hint(format!("dates of this column are declared {}", bound.dates.order))
            }
            DateFault::AmbiguousYear => CellFault::new(
                "ambiguous-year",
                "the year has two digits; the cell counts as missing",
            )
            .with_hint("export years with four digits, or say under [dates] of the layout from which year on two digits count: two_digit_years_from = 1970"),
        })
    }

    /// A finding about a cell of this row.
    pub(crate) fn cell_finding(&self, position: Option<usize>, fault: CellFault) -> Finding {
        let finding = Finding::on_row(
            fault.check,
            Severity::CellIgnored,
            self.source,
            fault.message,
        );
        let finding = match position.and_then(|position| self.headers.get(position)) {
            Some(header) => finding.in_column(header.as_str()),
            None => finding,
        };
        Finding {
            hint: fault.hint,
            ..finding
        }
    }
}

/// The year of a date where only years may be told. The first of January is how a year is written where a whole date is asked
/// for, and counts as one.
pub(crate) fn year_of(written: WrittenDate) -> Result<WrittenDate, CellFault> {
    let is_year = written.precision == DatePrecision::Year;
    let is_first_day = written.precision == DatePrecision::Day && written.date.ordinal() == 1;
    if is_year || is_first_day {
        return Ok(WrittenDate {
            precision: DatePrecision::Year,
            ..written
        });
    }
    Err(CellFault::new(
        FINER_THAN_DECLARED,
        "the date tells more than the year, although the layout declares years only",
    )
    .with_hint(
        "cut dates to the year in the export, or declare in [dates] of the layout what they are",
    ))
}

/// A cell without surrounding space. Most have none, which two bytes show.
fn trimmed(cell: &str) -> &str {
    match (cell.as_bytes().first(), cell.as_bytes().last()) {
        (None, _) | (_, None) => cell,
        (Some(first), Some(last)) if first.is_ascii_graphic() && last.is_ascii_graphic() => cell,
        _ => cell.trim_matches([' ', '\t', '\u{a0}']),
    }
}

/// Fills a draft from a row. Gives how many cells of the file held something, readable or not.
pub(crate) fn fill<'r, R>(
    draft: &mut R,
    fields: &[Bound<'r, R>],
    row: &Row<'r>,
    notes: &mut Notes<'_>,
) -> usize {
    let mut n_present = 0;
    for bound in fields {
        let cell = &bound.cell;
        if cell.position.is_some_and(|at| row.record.is_empty_at(at)) {
            continue;
        }
        let meaning = meaning(&bound.field.kind, cell, row, notes);
        if meaning == Ok(Meaning::Missing) {
            continue;
        }
        n_present += usize::from(cell.position.is_some());
        let put =
            meaning.and_then(|meaning| put(draft, &bound.field.kind, cell, meaning, row, notes));
        if let Err(fault) = put {
            notes.findings.push(row.cell_finding(cell.position, fault));
        }
    }
    n_present
}

/// The extra strata of a row.
pub(crate) fn strata<'r>(
    strata: &[BoundStratum<'r>],
    row: &Row<'r>,
    notes: &mut Notes<'_>,
) -> Vec<(NameId, NameId)> {
    let mut values = Vec::new();
    for stratum in strata {
        let Some(text) = row.text(&stratum.cell) else {
            continue;
        };
        match spelling(stratum.cell.cell, text) {
            Ok(None) => {}
            Ok(Some(value)) => values.push((stratum.name, notes.names.intern(value))),
            Err(fault) => notes
                .findings
                .push(row.cell_finding(stratum.cell.position, fault)),
        }
    }
    values
}

/// Our spelling of a cell through the layout's code list; `None` when the code means missing.
fn spelling<'c>(cell: &'c Cell, text: &'c str) -> Result<Option<&'c str>, CellFault> {
    match listed(cell, text) {
        None => Ok(Some(text)),
        Some(found) => found.map(|(_, ours)| ours),
    }
}

/// The place of a text in the layout's code list and our spelling of it, or that the list does not know it; `None` without a list.
pub(super) fn listed<'c>(
    cell: &'c Cell,
    text: &str,
) -> Option<Result<(usize, Option<&'c str>), CellFault>> {
    let list = cell.codes.as_ref()?;
    let found = list
        .find(text)
        .map(|(place, pair)| (place, pair.ours.as_deref()));
    Some(found.ok_or_else(|| {
        unknown_code("add it to the layout's code list, or correct it in the clinic's records")
    }))
}

pub(super) fn unknown_code(hint: impl Into<String>) -> CellFault {
    CellFault::new(
        "unknown-code",
        "a code that the layout does not know; the cell counts as missing",
    )
    .with_hint(hint)
}

pub(super) fn year(text: &str) -> Result<i32, CellFault> {
    text.parse()
        .ok()
        .filter(|year| text.len() == 4 && (1900..=2200).contains(year))
        .ok_or(CellFault::new(
            "unreadable-year",
            "not a year; the cell counts as missing",
        ))
}

/// Why a text is no number, with the way out that its form suggests.
pub(super) fn no_number(text: &str) -> CellFault {
    let starts = |marks: &[char]| text.starts_with(marks);
    let has_digit = text.bytes().any(|byte| byte.is_ascii_digit());
    let hint = if starts(&['<', '>', '≤', '≥']) {
        "a bound is no measurement; export what was measured"
    } else if starts(&['~', '≈', '±']) {
        "a rough number is not read; export the number alone, if it is to count as measured"
    } else if has_digit && text.contains(BETWEEN) {
        "several numbers in one cell are read with part = 1, 2 or 3 in the layout"
    } else if has_digit {
        "only a number, or a number with a unit of this field behind it, is read"
    } else {
        "if it stands for `not recorded`, list it under [missing] in the layout"
    };
    CellFault::new(
        "unreadable-number",
        "not a number; the cell counts as missing",
    )
    .with_hint(hint)
}

/// Digits with at most one decimal mark and a sign; nothing else is a number.
pub(crate) fn number(text: &str, decimal: DecimalMark) -> Result<f64, CellFault> {
    let unreadable = || {
        CellFault::new(
            "unreadable-number",
            "not a number; the cell counts as missing",
        )
    };
    let is_plain = text
        .bytes()
        .all(|byte| byte.is_ascii_digit() || b"+-.,".contains(&byte));
    if !is_plain || !text.bytes().any(|byte| byte.is_ascii_digit()) {
        return Err(no_number(text));
    }
    let value: Result<f64, _> = match decimal {
        DecimalMark::Point if text.contains(',') => {
            return Err(unreadable().with_hint(
                "if the export writes decimal commas, say so under [numbers] in the layout",
            ));
        }
        DecimalMark::Comma if text.contains('.') => {
            return Err(unreadable().with_hint(
                "the layout declares decimal commas; a point as a decimal mark, or between thousands, is not read",
            ));
        }
        DecimalMark::Comma => text.replace(',', ".").parse(),
        DecimalMark::Point => text.parse(),
    };
    value.map_err(|_| unreadable())
}

/// A number in our unit, where it can be true.
pub(super) fn credible(
    value: f64,
    quantity: Quantity,
    unit: Option<Unit>,
) -> Result<f32, CellFault> {
    let ours = unit.map_or(value, |unit| unit.to_ours(value));
    if quantity.is_credible(ours) {
        #[expect(
            clippy::cast_possible_truncation,
            reason = "credible values are small; tables keep single precision"
        )]
        return Ok(ours as f32);
    }
    let other = (quantity.units().iter())
        .find(|other| Some(**other) != unit && quantity.is_credible(other.to_ours(value)));
    let advice = match other {
        Some(unit) => format!("a decimal mark may be wrong, or the value be in {unit}"),
        None => "a unit or a decimal mark may be wrong".to_owned(),
    };
    Err(CellFault::new(
        "value-out-of-range",
        "a value that cannot be true; the cell counts as missing",
    )
    .with_hint(format!("possible: {}; {advice}", quantity.limits())))
}
