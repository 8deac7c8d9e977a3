//! A graded row: the grade, its range, and why.

use serde::Serialize;
use std::fmt;

/// One cell of an answer.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(untagged)]
pub enum Cell {
    /// Nothing.
    Empty,
    /// A grade.
    Whole(u8),
    /// A measurement.
    Number(f64),
    /// Words.
    Text(String),
}

impl Cell {
    /// Words.
    pub fn text(words: impl Into<String>) -> Self {
        Self::Text(words.into())
    }

    /// Yes, no, or unknown.
    pub fn answer(answer: Option<bool>) -> Self {
        Self::text(match answer {
            Some(true) => "yes",
            Some(false) => "no",
            None => "unknown",
        })
    }

    /// A measurement, where there is one.
    pub fn number(number: Option<f64>) -> Self {
        number.map_or(Self::Empty, Self::Number)
    }
}

impl fmt::Display for Cell {
    /// Numbers with at most six decimals, without trailing zeros.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Empty => Ok(()),
            Self::Whole(grade) => write!(f, "{grade}"),
            Self::Number(number) => {
                let text = format!("{number:.6}");
                let short = text.trim_end_matches('0').trim_end_matches('.');
                f.write_str(if short == "-0" { "0" } else { short })
            }
            Self::Text(words) => f.write_str(words),
        }
    }
}

/// A grade, the range it may lie in, and why.
#[derive(Debug, Clone, PartialEq)]
pub struct Graded {
    /// The grade where it is known; empty otherwise.
    pub grade: Cell,
    /// The grade in words: the grade itself, a range, or "not gradable".
    pub shown: String,
    /// Lowest grade the recorded items allow.
    pub lowest: Cell,
    /// Highest grade they allow.
    pub highest: Cell,
    /// Further columns, in the order the scale names them.
    pub more: Vec<Cell>,
    /// What it was made from, and what was missing.
    pub why: String,
}

/// The words of a grade that nothing recorded narrows down.
pub(super) const NOT_GRADABLE: &str = "not gradable";

impl Graded {
    /// A grade in numbers, from every grade that is possible (ascending) and the number of grades of the scale.
    pub(super) fn ordinal(possible: &[u8], n_grades: usize, more: Vec<Cell>, why: String) -> Self {
        let words: Vec<String> = possible.iter().map(u8::to_string).collect();
        let is_run = possible
            .windows(2)
            .all(|pair| matches!(pair, [one, next] if one + 1 == *next));
        let whole = |grade: Option<&u8>| grade.map_or(Cell::Empty, |grade| Cell::Whole(*grade));
        Self {
            grade: match possible {
                [grade] => Cell::Whole(*grade),
                _ => Cell::Empty,
            },
            shown: shown(&words, possible.len() == n_grades, is_run),
            lowest: whole(possible.first()),
            highest: whole(possible.last()),
            more,
            why,
        }
    }

    /// A grade in words, from every one that is possible (in order) and the number of grades of the scale.
    pub(super) fn named(possible: &[&str], n_grades: usize, more: Vec<Cell>, why: String) -> Self {
        let words: Vec<String> = possible.iter().map(|word| (*word).to_owned()).collect();
        let text = |word: Option<&&str>| word.map_or(Cell::Empty, |word| Cell::text(*word));
        Self {
            grade: match possible {
                [grade] => Cell::text(*grade),
                _ => Cell::Empty,
            },
            shown: shown(&words, possible.len() == n_grades, false),
            lowest: text(possible.first()),
            highest: text(possible.last()),
            more,
            why,
        }
    }

    /// A measurement; not gradable where there is none.
    pub(super) fn measured(number: Option<f64>, more: Vec<Cell>, why: String) -> Self {
        let cell = Cell::number(number);
        Self {
            grade: cell.clone(),
            shown: number.map_or(NOT_GRADABLE.to_owned(), |_| cell.to_string()),
            lowest: cell.clone(),
            highest: cell,
            more,
            why,
        }
    }
}

/// "3", "1 or 3", "2 to 5", or "not gradable".
fn shown(words: &[String], is_everything: bool, is_run: bool) -> String {
    match words {
        [] => NOT_GRADABLE.to_owned(),
        [grade] => grade.clone(),
        _ if is_everything => NOT_GRADABLE.to_owned(),
        [first, .., last] if is_run && words.len() > 2 => format!("{first} to {last}"),
        _ => words.join(" or "),
    }
}

/// A list of reasons as one sentence.
pub(super) fn because(reasons: &[String]) -> String {
    if reasons.is_empty() {
        "nothing recorded".to_owned()
    } else {
        reasons.join("; ")
    }
}

/// "name yes", "name no" or "name not recorded".
pub(super) fn said(name: &str, answer: Option<bool>) -> String {
    match answer {
        Some(true) => format!("{name} yes"),
        Some(false) => format!("{name} no"),
        None => format!("{name} not recorded"),
    }
}
