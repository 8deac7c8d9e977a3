//! What a cell of a table answers, and how it is read.

use super::item::{Item, ItemKind};
use crate::tables::{FootSite, Region};
use chrono::{Datelike as _, NaiveDate};

/// What one cell says about an item.
#[derive(Debug, Clone, PartialEq)]
pub enum Answer {
    /// Not recorded.
    Missing,
    /// Yes or no.
    YesNo(bool),
    /// A number in our unit.
    Number(f64),
    /// A word, as the item spells it.
    Word(&'static str),
    /// A name.
    Label(String),
    /// A day, counted from some day that is the same for all.
    Day(i64),
}

/// How "not recorded" may be written, besides an empty cell.
const MISSING: &[&str] = &[
    "-",
    "--",
    ".",
    "?",
    "na",
    "n/a",
    "nan",
    "null",
    "nd",
    "unk",
    "unknown",
    "missing",
    "not recorded",
    "not tested",
    "not done",
    "not measured",
    "not known",
];

const YES: &[&str] = &["yes", "y", "true", "t", "1", "present", "positive", "pos"];
const NO: &[&str] = &[
    "no", "n", "false", "f", "0", "none", "absent", "negative", "neg",
];

/// Reads one cell; `None` when it is none of what the item accepts.
///
/// Case, surrounding blanks, and the difference between blank, `_` and `-` within words do not matter. `times` brings a
/// number into our unit.
pub fn read_answer(item: &Item, cell: &str, times: f64) -> Option<Answer> {
    let text = cell.trim();
    let lower = text.to_lowercase();
    if lower.is_empty() || MISSING.contains(&lower.as_str()) {
        return Some(Answer::Missing);
    }
    let word = lower.replace(['_', ' '], "-");
    let is_in = |list: &[&str]| list.contains(&word.as_str());
    match item.kind {
        ItemKind::YesNo { yes, no } => {
            // An item's own words come first: no sensation is a "yes" for its loss.
            if is_in(yes) {
                Some(Answer::YesNo(true))
            } else if is_in(no) {
                Some(Answer::YesNo(false))
            } else if is_in(YES) {
                Some(Answer::YesNo(true))
            } else if is_in(NO) {
                Some(Answer::YesNo(false))
            } else {
                None
            }
        }
        ItemKind::Number {
            lowest,
            has_lowest,
            highest,
        } => {
            let number = text.parse::<f64>().ok()? * times;
            let is_credible = number <= highest
                && if has_lowest {
                    number >= lowest
                } else {
                    number > lowest
                };
            is_credible.then_some(Answer::Number(number))
        }
        ItemKind::Word(lists) => lists
            .iter()
            .flat_map(|list| list.iter())
            .find(|spelling| spelling.code == word || is_in(spelling.also))
            .map(|spelling| Answer::Word(spelling.code)),
        ItemKind::Site => site(&word).map(Answer::Word),
        ItemKind::Label => Some(Answer::Label(text.to_owned())),
        ItemKind::Day => day(text).map(Answer::Day),
    }
}

/// Somewhere behind the forefoot, as a score of 1 tells.
pub(super) const BEHIND_FOREFOOT: &str = "behind-forefoot";

fn site(word: &str) -> Option<&'static str> {
    let region = match word {
        "0" | "toes" | "hallux" | "digit" | "digits" | "metatarsal" | "metatarsal-head" => {
            Region::Forefoot
        }
        "1" | "midfoot-or-hindfoot" | "hindfoot-or-midfoot" | "mid/hindfoot" => {
            return Some(BEHIND_FOREFOOT);
        }
        "rearfoot" => Region::Hindfoot,
        "calcaneus" => Region::Heel,
        code => FootSite::from_code(code)?.region,
    };
    Some(region.code())
}

fn day(text: &str) -> Option<i64> {
    match text.parse::<i64>() {
        Ok(days) => (-100_000..=100_000).contains(&days).then_some(days),
        Err(_) => NaiveDate::parse_from_str(text, "%Y-%m-%d")
            .ok()
            .map(|date| i64::from(date.num_days_from_ce())),
    }
}

/// The answers of one row to the items of a scale, in the order of its items.
#[derive(Debug, Clone, Copy)]
pub struct Answers<'a> {
    items: &'static [Item],
    answers: &'a [Answer],
}

impl<'a> Answers<'a> {
    /// The answers of one row; an item beyond the end of the list is missing.
    pub const fn new(items: &'static [Item], answers: &'a [Answer]) -> Self {
        Self { items, answers }
    }

    fn of(&self, name: &str) -> Option<&'a Answer> {
        let position = self.items.iter().position(|item| item.name == name)?;
        self.answers.get(position)
    }

    /// Yes, no, or not recorded.
    pub fn is(&self, name: &str) -> Option<bool> {
        match self.of(name) {
            Some(Answer::YesNo(is_yes)) => Some(*is_yes),
            _ => None,
        }
    }

    /// A number, where recorded.
    pub fn number(&self, name: &str) -> Option<f64> {
        match self.of(name) {
            Some(Answer::Number(number)) => Some(*number),
            _ => None,
        }
    }

    /// A word, where recorded.
    pub fn word(&self, name: &str) -> Option<&'static str> {
        match self.of(name) {
            Some(Answer::Word(word)) => Some(word),
            _ => None,
        }
    }

    /// A name, where recorded.
    pub fn label(&self, name: &str) -> Option<&'a str> {
        match self.of(name) {
            Some(Answer::Label(label)) => Some(label),
            _ => None,
        }
    }

    /// A day, where recorded.
    pub fn day(&self, name: &str) -> Option<i64> {
        match self.of(name) {
            Some(Answer::Day(day)) => Some(*day),
            _ => None,
        }
    }
}
