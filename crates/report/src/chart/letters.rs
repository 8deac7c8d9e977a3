//! How wide words are, so that labels can be placed without asking the machine's fonts.

/// Advance widths of the printable ASCII characters, space first, in thousandths of the font size.
///
/// Those of the common plain sans faces with one set of metrics (Arial, Liberation Sans, Nimbus Sans);
/// compared with the `hmtx` table of Liberation Sans Regular, all 95 agree.
#[rustfmt::skip]
const ADVANCES: [u16; 95] = [
    278, 278, 355, 556, 556, 889, 667, 191, 333, 333, 389, 584, 278, 333, 278, 278,
    556, 556, 556, 556, 556, 556, 556, 556, 556, 556, 278, 278, 584, 584, 584, 556,
    1015, 667, 667, 722, 722, 667, 611, 778, 722, 278, 500, 667, 556, 833, 722, 778,
    667, 778, 722, 667, 611, 722, 667, 944, 667, 667, 611, 278, 278, 278, 469, 556,
    333, 556, 556, 500, 556, 556, 278, 556, 556, 222, 222, 500, 222, 833, 556, 556,
    556, 556, 333, 500, 278, 556, 500, 722, 500, 500, 500, 334, 260, 334, 584,
];

/// Width of any other character: that of a wide capital, so that nothing is cut.
const OTHER_ADVANCE: u16 = 1000;

/// Width of a line of text at this font size, in the units of the size.
pub(crate) fn width(text: &str, size: f64) -> f64 {
    let thousandths: f64 = text
        .chars()
        .map(|character| f64::from(advance(character)))
        .sum();
    thousandths * size / 1000.0
}

fn advance(character: char) -> u16 {
    u32::from(character)
        .checked_sub(32)
        .and_then(|place| ADVANCES.get(place as usize))
        .copied()
        .unwrap_or(OTHER_ADVANCE)
}

/// The words of `text` in at most `max_lines` lines no wider than `max_width`; what does not fit ends in `…`.
pub(crate) fn wrap(text: &str, size: f64, max_width: f64, max_lines: usize) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    let mut line = String::new();
    for word in text.split_whitespace() {
        let longer = if line.is_empty() {
            word.to_owned()
        } else {
            format!("{line} {word}")
        };
        if line.is_empty() || width(&longer, size) <= max_width {
            line = longer;
        } else {
            lines.push(std::mem::replace(&mut line, word.to_owned()));
        }
        if lines.len() > max_lines {
            break;
        }
    }
    lines.push(line);
    let is_cut = lines.len() > max_lines;
    lines.truncate(max_lines);
    if is_cut && let Some(last) = lines.last_mut() {
        last.push('…');
    }
    lines
        .iter()
        .map(|line| clip(line, size, max_width))
        .collect()
}

/// The text itself if it fits, else its beginning and `…`.
pub(crate) fn clip(text: &str, size: f64, max_width: f64) -> String {
    if width(text, size) <= max_width {
        return text.to_owned();
    }
    let mut room = max_width - width("…", size);
    let mut kept = String::new();
    for character in text.chars() {
        room -= f64::from(advance(character)) * size / 1000.0;
        if room < 0.0 {
            break;
        }
        kept.push(character);
    }
    kept.push('…');
    kept
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_as_wide_as_the_sum_of_their_letters() {
        assert_eq!(width("Wi", 1000.0), 944.0 + 222.0);
        assert_eq!(width("100%", 10.0), 25.57);
    }

    #[test]
    fn a_long_label_wraps_between_words_and_ends_in_dots_when_there_is_no_room() {
        assert_eq!(
            wrap("Healed without amputation", 10.0, 75.0, 3),
            ["Healed without", "amputation"]
        );
        assert_eq!(wrap("one two three four", 10.0, 30.0, 2), ["one", "two…"]);
        assert_eq!(wrap("", 10.0, 30.0, 2), [""]);
    }

    #[test]
    fn a_word_without_end_is_cut_to_the_width() {
        let lines = wrap(&"x".repeat(10_000), 10.0, 50.0, 3);
        assert_eq!(lines.len(), 1);
        assert!(width(&lines[0], 10.0) <= 50.0);
    }
}
