//! Tables of plain typed cells: the one shape in which anything leaves as data, whatever the file format.
//!
//! A column is declared once, with its words and the way to fill it, so that no cell can stand under another's name.

use crate::report::{Count, Unit};
use crate::tables::Dated;
use chrono::NaiveDate;
use serde::Serialize;

/// Digits that a number keeps, here as in report.json, so that no format shows the last bits of a machine.
const SIGNIFICANT_DIGITS: usize = 10;

/// Signs with which a spreadsheet lets a formula begin, and the blanks that it drops before them. The wide ones are read
/// like the narrow ones where writing is set in wide letters. Source: OWASP, CSV Injection (from memory).
const FORMULA_SIGNS: [char; 11] = [
    '=', '+', '-', '@', '\t', '\r', '\n', '\u{ff1d}', '\u{ff0b}', '\u{ff0d}', '\u{ff20}',
];

/// Whether a spreadsheet could take a text for a formula. Whoever writes one decides what to do about it.
pub fn reads_as_formula(text: &str) -> bool {
    text.starts_with(FORMULA_SIGNS)
}

/// A table with its own description.
#[derive(Debug, Clone, PartialEq)]
pub struct DataTable {
    /// Kebab-case name, unique in a folder; the file's name without its ending.
    pub name: &'static str,
    /// Title, at most 31 characters.
    pub title: &'static str,
    /// What one row is, and what the table does and does not show.
    pub words: &'static str,
    /// Columns in order.
    pub fields: Vec<Field>,
    /// Rows; every row has one cell a field.
    pub rows: Vec<Vec<Cell>>,
}

/// What a column holds.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Field {
    /// Name in files: lower case, words joined by `_`.
    pub name: &'static str,
    /// Heading for people.
    pub title: &'static str,
    /// Type of its cells.
    pub kind: FieldKind,
    /// Unit, or empty where the cells have none.
    pub unit: &'static str,
    /// What it means, and what an empty cell means where that is not plain.
    pub words: &'static str,
}

/// Type of the cells of a column.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum FieldKind {
    /// Words or a code.
    Text,
    /// A whole number.
    Whole,
    /// A number.
    Number,
    /// A calendar date.
    Date,
    /// Yes or no.
    YesNo,
}

/// One cell. Nothing here can hold a hidden number.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell {
    /// Not known, or not defined for this row.
    Absent,
    /// Hidden to protect patients.
    Hidden,
    /// Words or a code.
    Text(String),
    /// A whole number.
    Whole(i64),
    /// A finite number, with the unit it is shown in where a column holds several.
    Number(f64, Option<Unit>),
    /// A calendar date.
    Date(NaiveDate),
    /// Yes or no.
    YesNo(bool),
}

/// A column and the way to fill it.
pub struct Column<T> {
    field: Field,
    cell: fn(&T) -> Cell,
}

impl<T> Column<T> {
    /// A column of any kind.
    pub fn new(kind: FieldKind, words: [&'static str; 4], cell: fn(&T) -> Cell) -> Self {
        let [name, title, unit, words] = words;
        let field = Field {
            name,
            title,
            kind,
            unit,
            words,
        };
        Self { field, cell }
    }
}

/// A column of words: name, title and meaning.
pub fn text<T>(
    name: &'static str,
    title: &'static str,
    words: &'static str,
    cell: fn(&T) -> Cell,
) -> Column<T> {
    Column::new(FieldKind::Text, [name, title, "", words], cell)
}

/// A column of whole numbers: name, title, unit and meaning.
pub fn whole<T>(
    name: &'static str,
    title: &'static str,
    unit: &'static str,
    words: &'static str,
    cell: fn(&T) -> Cell,
) -> Column<T> {
    Column::new(FieldKind::Whole, [name, title, unit, words], cell)
}

/// A column of numbers: name, title, unit and meaning.
pub fn number<T>(
    name: &'static str,
    title: &'static str,
    unit: &'static str,
    words: &'static str,
    cell: fn(&T) -> Cell,
) -> Column<T> {
    Column::new(FieldKind::Number, [name, title, unit, words], cell)
}

/// A column of dates: name, title and meaning.
pub fn date<T>(
    name: &'static str,
    title: &'static str,
    words: &'static str,
    cell: fn(&T) -> Cell,
) -> Column<T> {
    Column::new(FieldKind::Date, [name, title, "", words], cell)
}

/// A column of yes and no: name, title and meaning.
pub fn yes_no<T>(
    name: &'static str,
    title: &'static str,
    words: &'static str,
    cell: fn(&T) -> Cell,
) -> Column<T> {
    Column::new(FieldKind::YesNo, [name, title, "", words], cell)
}

impl DataTable {
    /// Fills a table: name, title and meaning, then a row for every item.
    pub fn new<T>(
        [name, title, words]: [&'static str; 3],
        columns: Vec<Column<T>>,
        items: impl IntoIterator<Item = T>,
    ) -> Self {
        let rows = items
            .into_iter()
            .map(|item| columns.iter().map(|column| (column.cell)(&item)).collect())
            .collect();
        Self {
            name,
            title,
            words,
            fields: columns.into_iter().map(|column| column.field).collect(),
            rows,
        }
    }

    /// Whether a cell of this column is hidden in any row.
    pub fn hides(&self, column: usize) -> bool {
        self.rows
            .iter()
            .any(|row| row.get(column) == Some(&Cell::Hidden))
    }
}

impl Cell {
    /// A number in a unit, with ten significant digits; one that is not finite is absent.
    pub fn measured(value: impl Into<Option<f64>>, unit: Unit) -> Self {
        match Self::from(value.into()) {
            Self::Number(value, _) => Self::Number(value, Some(unit)),
            other => other,
        }
    }

    /// The number in the cell, where it holds one.
    pub fn as_number(&self) -> Option<f64> {
        match self {
            Self::Number(value, _) => Some(*value),
            Self::Whole(value) => Some(*value as f64),
            _ => None,
        }
    }
}

/// The same number with ten significant digits; minus zero becomes zero.
pub fn rounded(value: f64) -> f64 {
    let digits = SIGNIFICANT_DIGITS - 1;
    let rounded: f64 = format!("{value:.digits$e}").parse().unwrap_or(value);
    if rounded == 0.0 { 0.0 } else { rounded }
}

impl From<f64> for Cell {
    fn from(value: f64) -> Self {
        if value.is_finite() {
            Self::Number(rounded(value), None)
        } else {
            Self::Absent
        }
    }
}

impl From<f32> for Cell {
    /// As the nearest number with seven significant digits: a recorded 1.2 stays 1.2.
    fn from(value: f32) -> Self {
        Self::from(format!("{value}").parse::<f64>().unwrap_or(f64::NAN))
    }
}

impl From<i64> for Cell {
    fn from(value: i64) -> Self {
        Self::Whole(value)
    }
}

impl From<u64> for Cell {
    fn from(value: u64) -> Self {
        Self::Whole(i64::try_from(value).unwrap_or(i64::MAX))
    }
}

impl From<u32> for Cell {
    fn from(value: u32) -> Self {
        Self::Whole(i64::from(value))
    }
}

impl From<bool> for Cell {
    fn from(value: bool) -> Self {
        Self::YesNo(value)
    }
}

impl From<NaiveDate> for Cell {
    fn from(value: NaiveDate) -> Self {
        Self::Date(value)
    }
}

impl From<Dated> for Cell {
    fn from(value: Dated) -> Self {
        Self::Date(value.date)
    }
}

impl From<&str> for Cell {
    /// Empty words are an absent cell.
    fn from(value: &str) -> Self {
        if value.is_empty() {
            Self::Absent
        } else {
            Self::Text(value.to_owned())
        }
    }
}

impl From<&String> for Cell {
    fn from(value: &String) -> Self {
        Self::from(value.as_str())
    }
}

impl From<String> for Cell {
    fn from(value: String) -> Self {
        Self::from(value.as_str())
    }
}

impl From<Count> for Cell {
    fn from(value: Count) -> Self {
        match value {
            Count::Shown(n) => Self::from(n),
            Count::Suppressed => Self::Hidden,
        }
    }
}

impl<T: Into<Cell>> From<Option<T>> for Cell {
    fn from(value: Option<T>) -> Self {
        value.map_or(Self::Absent, Into::into)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cell_holds_no_number_that_is_not_one_and_none_that_is_hidden() {
        assert_eq!(Cell::from(f64::NAN), Cell::Absent);
        assert_eq!(Cell::measured(f64::INFINITY, Unit::Days), Cell::Absent);
        assert_eq!(Cell::from(-0.0), Cell::Number(0.0, None));
        assert_eq!(Cell::from(0.1 + 0.2), Cell::Number(0.3, None));
        assert_eq!(Cell::from(1.2_f32), Cell::Number(1.2, None));
        assert_eq!(Cell::from(Count::Suppressed), Cell::Hidden);
        assert_eq!(Cell::from(None::<f64>), Cell::Absent);
        assert_eq!(Cell::from(u64::MAX), Cell::Whole(i64::MAX));
    }

    #[test]
    fn cells_stand_under_the_column_that_filled_them() {
        let columns = vec![
            whole("n", "Number", "", "the number", |n: &u64| Cell::from(*n)),
            yes_no("is_even", "Even", "whether it is even", |n: &u64| {
                Cell::from(n.is_multiple_of(2))
            }),
        ];
        let table = DataTable::new(["numbers", "Numbers", "A row a number."], columns, [1, 2]);
        let expected = [
            [Cell::Whole(1), Cell::YesNo(false)],
            [Cell::Whole(2), Cell::YesNo(true)],
        ];
        assert_eq!(table.rows, expected);
        assert_eq!(table.fields[1].name, "is_even");
    }
}
