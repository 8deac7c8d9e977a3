//! TOML with errors that say where: file, line, column, the full key and the nearest right name.

use serde::de::DeserializeOwned;
use std::fmt;
use std::ops::Range;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// A fault in a TOML file, at a place a reader can go to. Lines and columns count from 1, columns in characters.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ConfigError {
    /// The file's name as given.
    pub file: String,
    /// Line of the fault.
    pub line: usize,
    /// Column of the fault.
    pub column: usize,
    /// The fact.
    pub message: String,
    /// What may be meant.
    pub hint: Option<String>,
}

impl fmt::Display for ConfigError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "{}:{}:{}: {}",
            self.file, self.line, self.column, self.message
        )
    }
}

impl std::error::Error for ConfigError {}

impl ConfigError {
    /// A fault at a byte range of `text`, for checks that a type alone cannot make.
    pub fn at(
        text: &str,
        file_name: &str,
        span: &Range<usize>,
        message: impl Into<String>,
    ) -> Self {
        let place = place(text, span.start);
        Self {
            file: file_name.to_owned(),
            line: place.line,
            column: place.column,
            message: message.into(),
            hint: None,
        }
    }

    /// The same error with advice.
    pub fn with_hint(mut self, hint: impl Into<String>) -> Self {
        self.hint = Some(hint.into());
        self
    }
}

/// Reads any TOML file into a type.
///
/// # Errors
/// Broken TOML, an unknown key, a missing key or a value of the wrong type.
pub fn parse<T: DeserializeOwned>(text: &str, file_name: &str) -> Result<T, ConfigError> {
    toml::from_str(text).map_err(|error| {
        let span = error.span().unwrap_or(0..0);
        let path = DeTable::parse(text)
            .ok()
            .and_then(|table| key_path(table.get_ref(), span.start))
            .map(|keys| keys.join("."));
        let (message, hint) = reword(error.message(), path.as_deref());
        ConfigError {
            hint,
            ..ConfigError::at(text, file_name, &span, message)
        }
    })
}

/// The candidate most like `name`, when one is like enough to be a slip of the pen.
pub fn nearest<'a>(name: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let name = name.to_lowercase();
    let likeness = |candidate: &str| {
        let candidate = candidate.to_lowercase();
        let alike = strsim::jaro_winkler(&name, &candidate);
        let is_one_slip = strsim::osa_distance(&name, &candidate) <= 1;
        if is_one_slip {
            alike.max(0.8 + 0.1 * alike)
        } else {
            alike
        }
    };
    candidates
        .into_iter()
        .map(|candidate| (likeness(candidate), candidate))
        .filter(|(likeness, _)| *likeness >= 0.8)
        .max_by(|left, right| left.0.total_cmp(&right.0).then_with(|| right.1.cmp(left.1)))
        .map(|(_, candidate)| candidate)
}

/// "did you mean ...", or the known names when none is near.
pub(crate) fn name_hint(name: &str, known: &[&str]) -> Option<String> {
    match nearest(name, known.iter().copied()) {
        Some(near) => Some(format!("did you mean `{near}`?")),
        None if known.is_empty() => None,
        None => Some(format!("known here: {}", known.join(", "))),
    }
}

struct Place {
    line: usize,
    column: usize,
}

fn place(text: &str, offset: usize) -> Place {
    let before: &str = text.get(..offset.min(text.len())).unwrap_or_default();
    Place {
        line: before.matches('\n').count() + 1,
        column: before
            .rsplit('\n')
            .next()
            .unwrap_or_default()
            .chars()
            .count()
            + 1,
    }
}

/// The keys that lead to the value or key written at `offset`.
fn key_path(table: &DeTable<'_>, offset: usize) -> Option<Vec<String>> {
    for (key, value) in table {
        let below = match value.get_ref() {
            DeValue::Table(inner) => key_path(inner, offset),
            DeValue::Array(items) => items.iter().find_map(|item| match item.get_ref() {
                DeValue::Table(inner) => key_path(inner, offset),
                _ => covers(item, offset).then(Vec::new),
            }),
            _ => None,
        };
        if let Some(mut path) = below {
            path.insert(0, key.get_ref().to_string());
            return Some(path);
        }
        if covers(key, offset) || covers(value, offset) {
            return Some(vec![key.get_ref().to_string()]);
        }
    }
    None
}

fn covers<T>(part: &Spanned<T>, offset: usize) -> bool {
    part.span().contains(&offset)
}

/// Says a reader's error in the words of a configuration file, and finds the hint in it.
fn reword(message: &str, path: Option<&str>) -> (String, Option<String>) {
    let named = || path.map_or(String::new(), |path| format!("`{path}`: "));
    let mut quoted = message.split('`').skip(1).step_by(2);
    if let Some(rest) = message.strip_prefix("unknown field ") {
        let name = quoted.next().unwrap_or(rest);
        let known: Vec<&str> = quoted.collect();
        let shown = path.unwrap_or(name);
        return (format!("unknown key `{shown}`"), name_hint(name, &known));
    }
    if message.starts_with("unknown variant ") {
        let name = quoted.next().unwrap_or_default();
        let known: Vec<&str> = quoted.collect();
        return (
            format!("{}unknown value `{name}`", named()),
            name_hint(name, &known),
        );
    }
    if let Some(rest) = message.strip_prefix("missing field ") {
        let within = path.map_or(String::new(), |path| format!(" in `{path}`"));
        return (format!("missing key {rest}{within}"), None);
    }
    let plain = [
        ("expected struct ", "expected a table "),
        ("expected a map", "expected a table"),
        ("expected a sequence", "expected a list"),
        ("expected a boolean", "expected true or false"),
    ];
    let mut message = message.to_owned();
    for (from, to) in plain {
        message = message.replace(from, to);
    }
    for whole in [
        "u8", "u16", "u32", "u64", "usize", "i8", "i16", "i32", "i64", "isize",
    ] {
        if let Some(start) = message.strip_suffix(&format!("expected {whole}")) {
            message = format!("{start}expected a whole number");
        }
    }
    for real in ["f32", "f64"] {
        if let Some(start) = message.strip_suffix(&format!("expected {real}")) {
            message = format!("{start}expected a number");
        }
    }
    (format!("{}{message}", named()), None)
}
