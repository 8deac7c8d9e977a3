//! Characters that could mislead a reader are made visible; everything else passes.

use std::fmt::Write;

/// The same text with control, bidirectional and invisible characters spelt out, for example `⟨U+202E⟩`.
///
/// Line feeds and tabs pass. Run once over the finished page, so no string can be forgotten.
pub(crate) fn visible(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for character in text.chars() {
        if is_hidden(character) {
            // Writing to a string cannot fail.
            let _ = write!(out, "⟨U+{:04X}⟩", u32::from(character));
        } else {
            out.push(character);
        }
    }
    out
}

fn is_hidden(character: char) -> bool {
    match character {
        '\n' | '\t' => false,
        // Soft hyphen, Arabic letter mark, Hangul and Mongolian fillers, zero-width and
        // directional marks, line and paragraph separators, variation selectors, tags.
        '\u{ad}'
        | '\u{61c}'
        | '\u{115f}'..='\u{1160}'
        | '\u{180b}'..='\u{180f}'
        | '\u{200b}'..='\u{200f}'
        | '\u{2028}'..='\u{202e}'
        | '\u{2060}'..='\u{206f}'
        | '\u{3164}'
        | '\u{fe00}'..='\u{fe0f}'
        | '\u{feff}'
        | '\u{fff9}'..='\u{fffb}'
        | '\u{e0000}'..='\u{e0fff}' => true,
        other => other.is_control(),
    }
}

#[cfg(test)]
mod tests {
    use super::visible;

    #[test]
    fn direction_overrides_and_nulls_become_visible_marks() {
        assert_eq!(
            visible("a\u{202e}b\u{0}c\u{1b}"),
            "a⟨U+202E⟩b⟨U+0000⟩c⟨U+001B⟩"
        );
    }

    #[test]
    fn ordinary_words_accents_and_line_feeds_pass() {
        let text = "Plantar – größer\n\t≥ 2 cm²";
        assert_eq!(visible(text), text);
    }
}
