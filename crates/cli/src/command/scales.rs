//! The scales of `grade` in words: `grade --help`, `list scales` and `explain`.

use outcomes::grade::scale::{SCALES, Scale, find_scale};
use std::fmt::Write as _;

/// Ids of the scales.
pub(crate) fn scale_names() -> Vec<&'static str> {
    SCALES.iter().map(|scale| scale.id).collect()
}

/// Every scale, a line each.
pub(super) fn list_of_scales() -> String {
    let mut text = String::new();
    for scale in SCALES {
        let _ = writeln!(text, "{:<18} {}: {}", scale.id, scale.title, scale.words);
    }
    text
}

/// Everything known about one scale.
pub(super) fn explained_scale(name: &str) -> Option<String> {
    let scale = find_scale(name)?;
    let mut text = format!("{}\n{}\n\n{}\n", scale.id, scale.title, scale.words);
    if !scale.also.is_empty() {
        let _ = writeln!(text, "\nAlso called\n  {}", scale.also.join(", "));
    }
    let _ = writeln!(text, "\nRules");
    for rule in scale.rules {
        let _ = writeln!(text, "  {rule}");
    }
    let _ = writeln!(
        text,
        "\nColumns it reads (every one may be missing or empty)"
    );
    text.push_str(&items(scale));
    let _ = writeln!(
        text,
        "\nNot recorded may be written as\n  an empty cell, NA, N/A, -, ?, unk, unknown, not recorded, not tested, not done"
    );
    let _ = writeln!(
        text,
        "\nColumns it adds\n  grade: the grade, a range (1 or 3; 2 to 5), or \"not gradable\"\n  lowest, highest: ends of the range, both included"
    );
    for column in scale.columns {
        let _ = writeln!(text, "  {}: {}", column.name, column.words);
    }
    let _ = writeln!(text, "  why: what it was made from, and what was missing");
    let _ = writeln!(text, "\nExample\n  {}", example(scale));
    let _ = writeln!(text, "\nSource\n  {}", scale.source);
    let _ = writeln!(text, "\nCaution\n  {}", scale.caution);
    Some(text)
}

fn items(scale: &Scale) -> String {
    let mut text = String::new();
    for item in scale.items {
        let _ = writeln!(text, "  {}: {}", item.name, item.words);
        let _ = writeln!(text, "      accepts {}", item.kind.accepts());
        if !item.also.is_empty() {
            let names: Vec<String> = item
                .also
                .iter()
                .map(|other| {
                    if (other.times - 1.0).abs() < f64::EPSILON {
                        other.name.to_owned()
                    } else {
                        format!("{} (converted)", other.name)
                    }
                })
                .collect();
            let _ = writeln!(text, "      header may also be {}", names.join(", "));
        }
    }
    text
}

fn example(scale: &Scale) -> String {
    format!("limbledger grade {0} sample-data/grade/{0}.csv", scale.id)
}

/// The end of `grade --help`.
pub(crate) fn scales_in_help() -> String {
    let mut text = "Headers are compared without regard to case, blanks and hyphens. Dates are 2025-03-31.\n\nScales, each with the \
                    columns it reads (every one may be missing: a missing item gives a range, never a zero):\n"
        .to_owned();
    for scale in SCALES {
        let _ = writeln!(text, "\n{}: {}. {}\n", scale.id, scale.title, scale.words);
        text.push_str(&items(scale));
        let _ = writeln!(text, "  Example: {}", example(scale));
        let _ = writeln!(text, "  Source: {}", scale.source);
    }
    text.push_str("\nGrades describe groups for audit. They are no prognosis for a person and recommend no treatment.\n");
    text
}
