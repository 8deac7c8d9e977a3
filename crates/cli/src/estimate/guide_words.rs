//! The guide to the methods in words.

use super::arguments::Method;
use clap::ValueEnum as _;
use std::fmt::Write as _;

/// Lines are folded to this many characters, within the width of the help.
const WIDTH: usize = 96;

/// The end of `estimate --help`: what each method needs, a command that runs in the root of the repository, and its source.
pub(crate) fn methods_in_help() -> String {
    let mut text = "Methods, each with a command that runs in the root of the repository (`limbledger explain METHOD` \
         says more):\n"
        .to_owned();
    for &method in Method::value_variants() {
        let guide = method.guide();
        let _ = writeln!(text, "\n{}: needs {}", method.name(), guide.needs.join(" "));
        text.push_str(&folded_command(guide.example));
        text.push_str(&folded(&format!("Source: {}", guide.source)));
    }
    text
}

/// Every method with what it needs.
pub(crate) fn list_of_methods() -> String {
    let mut text = String::new();
    for &method in Method::value_variants() {
        let needs = method.guide().needs.join(" ");
        let _ = writeln!(
            text,
            "{:<22} {:<40} {}",
            method.name(),
            needs,
            method.words()
        );
    }
    text
}

/// Names of the methods.
pub(crate) fn method_names() -> Vec<String> {
    let methods = Method::value_variants().iter();
    methods.map(|method| method.name()).collect()
}

/// Everything known about one method.
pub(crate) fn explained_method(name: &str) -> Option<String> {
    let method = Method::value_variants()
        .iter()
        .find(|method| method.name() == name)?;
    let guide = method.guide();
    let mut text = format!("{name}\n{}\n", method.words());
    let mut row = |title: &str, folded: String| {
        let _ = write!(text, "\n{title}\n{folded}");
    };
    row("Formula", folded(guide.formula));
    row("Needs", folded(&guide.needs.join(" ")));
    row("Also takes", folded(&guide.takes.join(" ")));
    row("Example", folded_command(guide.example));
    row("Source", folded(guide.source));
    row(
        "Where",
        folded("`limbledger estimate`; every default in force is printed with the answer"),
    );
    Some(text)
}

/// Words in lines, indented.
fn folded(words: &str) -> String {
    let mut text = String::new();
    let mut length = WIDTH;
    for word in words.split_whitespace() {
        if length + 1 + word.len() > WIDTH {
            text.push_str(if text.is_empty() { "  " } else { "\n  " });
            length = 2;
        } else {
            text.push(' ');
            length += 1;
        }
        text.push_str(word);
        length += word.len();
    }
    text + "\n"
}

/// A command in lines that a shell joins again, no option cut from its value.
fn folded_command(command: &str) -> String {
    let mut text = String::from("  ");
    let mut length = 2;
    for (place, part) in command.split(" --").enumerate() {
        let part = if place == 0 {
            part.to_owned()
        } else {
            format!("--{part}")
        };
        // two characters are kept for the sign that the line goes on
        if place > 0 && length + 1 + part.len() + 2 > WIDTH {
            text.push_str(" \\\n      ");
            length = 6;
        } else if place > 0 {
            text.push(' ');
            length += 1;
        }
        text.push_str(&part);
        length += part.len();
    }
    text + "\n"
}
