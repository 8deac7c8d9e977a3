//! Words made fit for paper: every letter has a shape in the fonts, and no word is wider than a column.

use crate::inert;
use serde_json::Value;
use typst::text::Font;

/// Letters in a row after which a word may break.
const LONGEST_RUN: usize = 24;

/// Every text inside a value, made fit.
pub(super) fn value(value: &mut Value, fonts: &[Font]) {
    match value {
        Value::String(words) => *words = breakable(&text(words, fonts)),
        Value::Array(items) => items.iter_mut().for_each(|item| self::value(item, fonts)),
        Value::Object(fields) => fields
            .values_mut()
            .for_each(|item| self::value(item, fonts)),
        Value::Null | Value::Bool(_) | Value::Number(_) => {}
    }
}

/// The same text without letters that act unseen or that a font lacks; each is named by its number instead.
pub(super) fn text(words: &str, fonts: &[Font]) -> String {
    let mut out = String::with_capacity(words.len());
    for letter in inert::visible(words).chars() {
        // Both fonts have every ASCII letter, and asking for each would cost more than laying out the page.
        let is_drawn = letter.is_ascii()
            || fonts
                .iter()
                .all(|font| font.info().coverage.contains(u32::from(letter)));
        match letter {
            '⟨' if !is_drawn => out.push('['),
            '⟩' if !is_drawn => out.push(']'),
            _ if is_drawn => out.push(letter),
            _ => out.push_str(&format!("[U+{:04X}]", u32::from(letter))),
        }
    }
    out
}

/// The same words with places to break inside the very long ones.
fn breakable(words: &str) -> String {
    let mut out = String::with_capacity(words.len());
    let mut run = 0;
    for letter in words.chars() {
        if letter.is_whitespace() || letter == '-' {
            run = 0;
        } else {
            if run == LONGEST_RUN {
                out.push('\u{200b}');
                run = 0;
            }
            run += 1;
        }
        out.push(letter);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::breakable;

    #[test]
    fn only_a_word_longer_than_a_column_gets_a_place_to_break() {
        assert_eq!(
            breakable("healed within 12 weeks"),
            "healed within 12 weeks"
        );
        let long = "x".repeat(60);
        let parts: Vec<usize> = breakable(&long).split('\u{200b}').map(str::len).collect();
        assert_eq!(parts, [24, 24, 12]);
    }
}
