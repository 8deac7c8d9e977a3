//! Whether the cells of a column fit the field that its header names, and how its line of the layout reads.

use super::codes::{Meaning, meaning};
use super::orders::Orders;
use super::sample::Sampled;
use super::shape::Group;
use super::words::{Fit, Section};
use crate::fields::{
    Codes, EVENT_FIELDS, EXAM_FIELDS, Field, Kind, PATIENT_FIELDS, ULCER_FIELDS, VISIT_FIELDS,
    YES_NO,
};
use crate::load::sizes::BETWEEN;
use crate::quantity::{Quantity, Unit};
use crate::units::fitting_units;
use outcomes::check::Magnitudes;
use outcomes::coded;
use std::collections::BTreeMap;

coded! {
    /// How sure a line is.
    pub enum Sureness { Sure = "sure", Likely = "likely", Unsure = "unsure" }
}

/// What the cells of a field must hold.
#[derive(Clone, Copy)]
pub(super) enum Expect {
    Id,
    Name,
    Date,
    Number(Quantity),
    Year,
    BirthYear,
    /// Codes; true where they are yes and no.
    Codes(Codes, bool),
}

/// Spellings of "missing" that are looked for. `nil` is not among them: it may be an answer, as for a pulse or a wave.
pub(super) const MISSING: [&str; 15] = [
    "-",
    "--",
    ".",
    "?",
    "n/a",
    "na",
    "null",
    "none recorded",
    "not recorded",
    "nr",
    "unk",
    "unknown",
    "not known",
    "nk",
    "#n/a",
];

/// The fields of attendance are codes of their own.
const ATTENDANCE: Codes = Codes {
    is_known: |code| matches!(code, "kept" | "missed" | "cancelled" | "administrative"),
    spellings: || vec!["kept", "missed", "cancelled", "administrative"],
};

/// What a field of a section expects.
pub(super) fn expect(section: Section, field: &str) -> Expect {
    match (section, field) {
        (Section::Attendance, _) => Expect::Codes(ATTENDANCE, false),
        (Section::Patient, "id") | (_, "patient") => Expect::Id,
        (Section::Visit | Section::FootExam | Section::Ulcer, "date") => Expect::Date,
        (Section::Patient, _) => of(PATIENT_FIELDS, field.trim_end_matches("_{side}")),
        (Section::Visit, _) => of(VISIT_FIELDS, field),
        (Section::FootExam, _) => of(EXAM_FIELDS, field),
        (Section::Ulcer, _) => of(ULCER_FIELDS, field),
        (Section::Event, _) => of(EVENT_FIELDS, field),
    }
}

fn of<R>(fields: &[Field<R>], name: &str) -> Expect {
    match fields
        .iter()
        .find(|field| field.name == name)
        .map(|field| &field.kind)
    {
        Some(Kind::Date(_) | Kind::PartialDate(_)) => Expect::Date,
        Some(Kind::Number(quantity, _)) => Expect::Number(*quantity),
        Some(Kind::Year(_)) => Expect::Year,
        Some(Kind::BirthYear(_)) => Expect::BirthYear,
        Some(Kind::Flag(_)) => Expect::Codes(YES_NO, true),
        Some(Kind::Code(codes, _)) => Expect::Codes(*codes, false),
        Some(Kind::Name(_) | Kind::Published(..)) | None => Expect::Name,
    }
}

/// A code of a column and what it is taken for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct CodeLine {
    pub(super) code: String,
    pub(super) meaning: Meaning,
    pub(super) n_cells: u64,
}

/// A line of the layout.
#[derive(Clone)]
pub(super) struct Line {
    pub(super) section: Section,
    pub(super) field: &'static str,
    pub(super) pattern: String,
    pub(super) unit: Option<Unit>,
    pub(super) sureness: Sureness,
    pub(super) reason: String,
    /// Codes that need a list, most frequent first; empty where none is needed.
    pub(super) codes: Vec<CodeLine>,
    /// Kinds of cells too rare to be written down.
    pub(super) n_rare_codes: usize,
    /// What a coded field may be.
    pub(super) spellings: Vec<&'static str>,
    /// Whether nearly every cell is a code whose meaning is sure.
    pub(super) is_understood: bool,
    /// Positions of its columns.
    pub(super) columns: Vec<usize>,
    /// Dates of its cells, where it expects dates.
    pub(super) orders: Option<Orders>,
    pub(super) n_slots: usize,
    pub(super) sides: Option<(String, String)>,
}

/// A code in fewer rows is not written down: it may be the mark of one person.
const FEWEST_ROWS: u64 = 5;
/// A longer cell is no code.
const LONGEST_CODE: usize = 24;
/// More kinds of cells are no codes.
const MOST_CODES: usize = 80;

/// Judges a column, or a group of them, against a field.
pub(super) fn line(
    sampled: &Sampled,
    group: &Group,
    section: Section,
    field: &'static str,
    fit: Fit,
) -> Line {
    let mut line = Line {
        section,
        field,
        pattern: group.pattern.clone(),
        unit: None,
        sureness: Sureness::Unsure,
        reason: String::new(),
        codes: Vec::new(),
        n_rare_codes: 0,
        spellings: Vec::new(),
        is_understood: false,
        columns: group.columns.clone(),
        orders: None,
        n_slots: group.n_slots,
        sides: group.sides.clone(),
    };
    let cells: Vec<&str> = sampled
        .cells(&group.columns)
        .filter(|cell| !MISSING.contains(&cell.to_lowercase().as_str()))
        .collect();
    let header = match fit {
        Fit::Wholly => "the header says so",
        Fit::Partly(_) => "the header holds the word",
    };
    let n = cells.len();
    if n == 0 {
        line.sureness = if fit == Fit::Wholly {
            Sureness::Likely
        } else {
            Sureness::Unsure
        };
        line.reason = format!("{header}; no row read holds anything in it");
        return line;
    }
    let (fits, words) = judge(&mut line, sampled, &cells);
    line.sureness = match (fit, fits) {
        (Fit::Wholly, Some(true)) => Sureness::Sure,
        (Fit::Wholly, None) | (Fit::Partly(_), Some(true)) => Sureness::Likely,
        _ => Sureness::Unsure,
    };
    line.reason = format!("{header}; {words}");
    line
}

/// Whether the cells fit (not told: undecided), and why in words.
fn judge(line: &mut Line, sampled: &Sampled, cells: &[&str]) -> (Option<bool>, String) {
    let n = cells.len();
    let share = |fits: &dyn Fn(&str) -> bool| {
        let n_fit = cells.iter().filter(|cell| fits(cell)).count();
        (10 * n_fit >= 9 * n, n_fit)
    };
    match expect(line.section, line.field) {
        Expect::Id => {
            let (n_rows, n_known) = (sampled.rows.len(), distinct(cells).len());
            (
                Some(100 * n >= 95 * n_rows && n_known > 1),
                format!("{n} of {n_rows} rows hold one, {n_known} different"),
            )
        }
        Expect::Name => (Some(true), format!("{n} cells, any spelling is kept")),
        Expect::Date => {
            let orders = Orders::of(cells.iter().copied());
            let (n_dates, words) = (orders.n_with_day_numbers(), orders.words());
            line.orders = Some(orders);
            (
                Some(10 * n_dates >= 9 * n as u64),
                format!("{n_dates} of {n} cells are dates: {words}"),
            )
        }
        Expect::Year | Expect::BirthYear => {
            let is_year = |cell: &str| {
                cell.len() == 4
                    && cell
                        .parse::<i32>()
                        .is_ok_and(|year| (1900..=2100).contains(&year))
            };
            let is_birth = matches!(expect(line.section, line.field), Expect::BirthYear);
            if is_birth {
                let others: Vec<&str> = cells
                    .iter()
                    .copied()
                    .filter(|cell| !is_year(cell))
                    .collect();
                codes(line, &others, &|code| code == crate::fields::OVER_90, false);
                line.spellings = vec![crate::fields::OVER_90];
            }
            let (fits, n_fit) = share(&|cell| is_year(cell) || is_birth && cell.starts_with("90"));
            (Some(fits), format!("{n_fit} of {n} cells are years"))
        }
        Expect::Number(quantity) => number(line, quantity, cells),
        Expect::Codes(known, is_flag) => {
            line.spellings = (known.spellings)();
            let n_kinds = distinct(cells).len();
            codes(line, cells, &|code| (known.is_known)(code), is_flag);
            let n_sure: u64 = line
                .codes
                .iter()
                .filter(|code| code.meaning.is_settled())
                .map(|code| code.n_cells)
                .sum();
            line.is_understood = 10 * n_sure >= 9 * n as u64;
            let words = format!(
                "{n_kinds} kinds of cells, of which the meaning of {n_sure} of {n} cells is sure"
            );
            if line.codes.iter().all(|code| code.meaning == Meaning::Ours) {
                line.codes.clear();
            }
            let are_codes =
                n_kinds <= MOST_CODES && cells.iter().all(|cell| cell.len() <= LONGEST_CODE);
            let fits = if is_flag && 10 * n_sure < 9 * n as u64 && n_kinds > 4 {
                Some(false)
            } else {
                Some(are_codes)
            };
            (fits, words)
        }
    }
}

fn distinct<'c>(cells: &[&'c str]) -> BTreeMap<&'c str, u64> {
    let mut kinds = BTreeMap::new();
    for cell in cells {
        *kinds.entry(*cell).or_default() += 1;
    }
    kinds
}

/// Notes the codes of a column that are frequent enough to be written down.
fn codes(line: &mut Line, cells: &[&str], is_known: &dyn Fn(&str) -> bool, is_flag: bool) {
    let mut kinds: Vec<(&str, u64)> = distinct(cells).into_iter().collect();
    kinds.sort_by(|left, right| right.1.cmp(&left.1).then_with(|| left.0.cmp(right.0)));
    let is_written = |(code, n): &(&str, u64)| {
        *n >= FEWEST_ROWS && code.len() <= LONGEST_CODE && !code.chars().any(char::is_control)
    };
    line.n_rare_codes = kinds.iter().filter(|kind| !is_written(kind)).count();
    line.codes = kinds
        .into_iter()
        .filter(is_written)
        .take(MOST_CODES)
        .map(|(code, n_cells)| CodeLine {
            meaning: meaning(line.meaning_field(), is_flag, is_known, code),
            code: code.to_owned(),
            n_cells,
        })
        .collect();
}

impl Line {
    /// The name under which the meanings of codes are kept.
    const fn meaning_field(&self) -> &'static str {
        match self.section {
            Section::Attendance => "attendance",
            _ => self.field,
        }
    }
}

fn number(line: &mut Line, quantity: Quantity, cells: &[&str]) -> (Option<bool>, String) {
    let mut sizes = Magnitudes::default();
    let mut n_numbers = 0;
    for cell in cells {
        if let Some(value) = as_number(cell) {
            n_numbers += 1;
            sizes.add(value);
        }
    }
    let n = cells.len();
    let words = format!("{n_numbers} of {n} cells are numbers");
    if 10 * n_numbers < 9 * n {
        let n_sizes = cells.iter().filter(|cell| is_several(cell)).count();
        if 10 * n_sizes >= 9 * n {
            let words = format!(
                "{n_sizes} of {n} cells hold several numbers such as `a x b`: map length, width and depth to it with part = 1, 2 and 3"
            );
            return (Some(false), words);
        }
        return (Some(false), words);
    }
    let units = quantity.units();
    if units.len() == 1 {
        let fits = !fitting_units(quantity, &sizes).is_empty();
        let middle = if fits { "usual" } else { "unusual" };
        return (
            fits.then_some(true),
            format!("{words}, their middle is {middle}"),
        );
    }
    let fitting = fitting_units(quantity, &sizes);
    let named = units
        .iter()
        .copied()
        .find(|unit| names_unit(&line.pattern, *unit));
    let list: Vec<&str> = fitting.iter().map(|unit| unit.code()).collect();
    let (unit, fits, why) = match (named, fitting.as_slice()) {
        (Some(unit), fitting) if fitting.contains(&unit) => (
            Some(unit),
            Some(true),
            format!("the header names {unit} and their middle fits it"),
        ),
        (None, [unit]) => (
            Some(*unit),
            Some(true),
            format!("their middle fits {unit} only"),
        ),
        (Some(unit), _) => (
            Some(unit),
            None,
            format!("the header names {unit}, but their middle does not fit it"),
        ),
        (None, []) => (None, None, "their middle fits no unit".to_owned()),
        (None, [unit, ..]) => (
            Some(*unit),
            None,
            format!("their middle fits {}", list.join(" and ")),
        ),
    };
    line.unit = unit;
    (fits, format!("{words}; {why}"))
}

/// A number with a decimal point or comma.
pub(super) fn as_number(cell: &str) -> Option<f64> {
    let is_plain = cell
        .bytes()
        .all(|byte| byte.is_ascii_digit() || b".,-+".contains(&byte));
    is_plain
        .then(|| cell.replacen(',', ".", 1).parse().ok())
        .flatten()
}

/// Whether a cell holds several numbers, as sizes are written.
pub(super) fn is_several(cell: &str) -> bool {
    let mut parts = cell.split(BETWEEN).map(str::trim);
    let is_number = |part: &str| part.starts_with(|first: char| first.is_ascii_digit());
    parts.clone().count() > 1 && parts.all(is_number)
}

fn names_unit(pattern: &str, unit: Unit) -> bool {
    let words = super::shape::words(pattern);
    let has = |word: &str| words.iter().any(|known| known == word);
    let is_written = words
        .iter()
        .any(|word| Unit::from_written(word) == Some(unit));
    is_written
        || match unit {
            Unit::Percent => pattern.contains('%') || has("ngsp"),
            Unit::MillimolePerMole => has("mmol") || has("ifcc"),
            other => has(other.code()),
        }
}
