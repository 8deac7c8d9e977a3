//! Texts from outside made harmless for what shows them: a terminal, or a spreadsheet that opens a data file.

/// Letters of a name that a message shows.
const SHOWN: usize = 80;

/// Letters of a text that a cell of a data file keeps.
const KEPT: usize = 200;

/// A name from outside, such as a header of an export, as it may stand in a message.
pub(crate) fn for_terminal(text: &str) -> String {
    text.chars().map(visible).take(SHOWN).collect()
}

/// A text of the export as a cell of a data file: its start only, and nothing that a spreadsheet takes for a formula.
pub(crate) fn for_cell(text: &str) -> String {
    let clean: String = text.chars().take(KEPT).map(visible).collect();
    if outcomes::dataset::reads_as_formula(&clean) {
        format!("'{clean}")
    } else {
        clean
    }
}

/// A cell of a table that is written back whole: a mark before what a spreadsheet would take for a formula; numbers and dashes
/// pass as they are.
pub(crate) fn kept_cell(cell: &str) -> String {
    let is_formula = outcomes::dataset::reads_as_formula(cell)
        && cell.trim().parse::<f64>().is_err()
        && cell != "-"
        && cell != "--";
    if is_formula {
        format!("'{cell}")
    } else {
        cell.to_owned()
    }
}

/// A letter as it may be shown: control and direction marks become a replacement mark.
fn visible(letter: char) -> char {
    let is_direction = matches!(letter, '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}');
    if letter.is_control() || is_direction {
        '\u{fffd}'
    } else {
        letter
    }
}
