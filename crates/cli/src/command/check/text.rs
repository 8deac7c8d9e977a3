//! The overview as text.

use crate::inert::for_terminal;
use outcomes::check::overview::{FileOverview, FindingGroup, Overview, Reading, Topic};
use std::fmt::Write as _;

/// The overview, a section a topic.
pub(super) fn summary(overview: &Overview) -> String {
    let mut text = String::new();
    for sentence in overview.sentences() {
        let _ = writeln!(text, "{sentence}");
    }
    for file in &overview.files {
        account(&mut text, file);
    }
    let tables: Vec<String> = overview
        .tables
        .iter()
        .map(|line| format!("{} {}", line.n_rows, line.table))
        .collect();
    let _ = writeln!(text, "\n{}", tables.join(", "));
    for (title, topic) in [
        ("Identifiers", Topic::Identifiers),
        ("Patient ids", Topic::PatientIds),
        ("Units and dates", Topic::UnitsAndDates),
        ("Findings", Topic::Rows),
    ] {
        let groups: Vec<&FindingGroup> = overview.of_topic(topic).collect();
        let _ = writeln!(text, "\n{title}");
        if groups.is_empty() {
            text.push_str("  nothing found\n");
        }
        for group in groups {
            finding(&mut text, group);
        }
    }
    changes(&mut text, overview);
    for file in &overview.files {
        columns(&mut text, file);
    }
    text.push_str("\nRecords are counted from 1; the header is not counted.\n");
    text
}

fn account(text: &mut String, file: &FileOverview) {
    let n_set_aside: u64 = file.set_aside.iter().map(|(_, n)| n).sum();
    let _ = writeln!(
        text,
        "\n{}: {} rows read = {} used + {} set aside",
        file.file, file.n_read, file.n_used, n_set_aside
    );
    for (reason, n) in &file.set_aside {
        let _ = writeln!(text, "  set aside: {n} {reason}");
    }
    let bytes = &file.text_bytes;
    let _ = writeln!(
        text,
        "  {} bytes as stored; text {} = header {} + used {} + set aside {} + blank lines {}",
        file.bytes,
        bytes.total(),
        bytes.header,
        bytes.used,
        bytes.set_aside,
        bytes.blank
    );
}

fn finding(text: &mut String, group: &FindingGroup) {
    let column = group.column.as_deref().map_or(String::new(), |column| {
        format!(", column `{}`", for_terminal(column))
    });
    let _ = writeln!(
        text,
        "{:>6} {} ({}{column})",
        group.n, group.check, group.severity
    );
    let _ = writeln!(text, "       {}", group.message);
    if let Some(hint) = &group.hint {
        let _ = writeln!(text, "       hint: {hint}");
    }
    if !group.places.is_empty() {
        let _ = writeln!(text, "       at {}", group.places.join("; "));
    }
}

fn changes(text: &mut String, overview: &Overview) {
    let Some(comparison) = &overview.comparison else {
        return;
    };
    let _ = writeln!(
        text,
        "\nWhat changed: {}, held against {}",
        comparison.later, comparison.earlier
    );
    if comparison.changes.is_empty() {
        text.push_str("  nothing beyond chance\n");
    }
    for change in &comparison.changes {
        let column = change.column.as_deref().map_or(String::new(), |column| {
            format!(" `{}`", for_terminal(column))
        });
        let _ = writeln!(text, "  {}{column}: {}", change.kind, change.words);
    }
    let _ = writeln!(text, "  {}", comparison.rule);
}

fn columns(text: &mut String, file: &FileOverview) {
    let _ = writeln!(
        text,
        "\nColumns of {}, and how many of its rows hold something in each",
        file.file
    );
    let n_rows = file.n_rows();
    for column in &file.columns {
        let n = column.before.n_present + column.since.n_present;
        let words = match column.reading {
            Reading::Ignored => "     -  ignored".to_owned(),
            _ if n_rows == 0 => "     -  no rows".to_owned(),
            reading => format!(
                "{:>4.0} %  {}",
                100.0 * n as f64 / n_rows as f64,
                if reading == Reading::NotInLayout {
                    "not in the layout"
                } else {
                    &column.field
                }
            ),
        };
        let _ = writeln!(text, "  {:<24} {words}", for_terminal(&column.header));
    }
}
