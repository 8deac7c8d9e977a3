//! The drafted layout as text.

mod form;
mod lists;

use super::Draft;
use super::assign::Plan;
use super::judge::{Line, Sureness};
use super::leftover::{named_visit, only_date, shared_key};
use super::sample::Sampled;
use super::words::Section;
use form::{Dates, dates, form};
use lists::{attendance, code_lists, list_name};
use std::collections::BTreeSet;
use std::fmt::Write as _;

/// The layout, what is left for a person first.
pub(super) fn write(
    files: &[Sampled],
    plan: Plan,
    identifying: Vec<(String, String, &'static str)>,
) -> Draft {
    let mut pages = Pages::default();
    let is_kept = |(number, line): &&(usize, Line)| {
        let Some(file) = files.get(*number) else {
            return false;
        };
        line.columns.iter().all(|place| {
            let header = file.headers.get(*place);
            identifying
                .iter()
                .all(|(of, column, _)| *of != file.name || Some(column) != header)
        })
    };
    let lines: Vec<&Line> = plan
        .lines
        .iter()
        .filter(is_kept)
        .map(|(_, line)| line)
        .collect();
    let dates = dates(&lines, files, &plan);
    top(&mut pages, files, &plan, &identifying);
    form(&mut pages, files, &lines, &dates);
    for section in Section::ALL {
        section_lines(&mut pages, files, &plan, section, &lines, &dates);
    }
    code_lists(&mut pages, &lines);
    unmatched(&mut pages, files, &plan, &identifying);
    let mut text = String::from(
        "# A draft of a layout. Lines without a mark in front are sure: each says why. Lines that begin with `# likely` or `# unsure`\n# are not read until somebody takes the mark away. `limbledger list codes` shows every field and what it takes.\n#\n# Left for you:\n",
    );
    if pages.left.is_empty() {
        text.push_str("#   nothing but to read it through\n");
    }
    for left in &pages.left {
        let _ = writeln!(text, "#   - {left}");
    }
    text.push('\n');
    text.push_str(&pages.text);
    Draft {
        text,
        identifying,
        n_sure: pages.n_sure,
        n_left: pages.n_left,
        roles: if plan.is_long {
            (files.iter().zip(&plan.roles))
                .map(|(file, role)| (file.name.clone(), role_name(*role)))
                .collect()
        } else {
            Vec::new()
        },
    }
}

const fn role_name(section: Section) -> &'static str {
    match section {
        Section::Patient => "patients",
        Section::Visit | Section::Attendance => "visits",
        Section::FootExam => "foot-exams",
        Section::Ulcer => "ulcer-observations",
        Section::Event => "events",
    }
}

/// The text, and what is left for a person.
#[derive(Default)]
struct Pages {
    text: String,
    left: Vec<String>,
    n_sure: usize,
    n_left: usize,
}

impl Pages {
    fn say(&mut self, line: impl AsRef<str>) {
        self.text.push_str(line.as_ref());
        self.text.push('\n');
    }

    /// A line that stands, or a comment where it is not sure.
    fn line(&mut self, sureness: Sureness, line: &str, reason: &str) {
        if sureness == Sureness::Sure {
            self.n_sure += 1;
            self.say(format!("{line}  # sure: {reason}"));
        } else {
            self.n_left += 1;
            self.say(format!("# {sureness}: {line}  # {reason}"));
        }
    }
}

fn top(
    pages: &mut Pages,
    files: &[Sampled],
    plan: &Plan,
    identifying: &[(String, String, &'static str)],
) {
    pages.say("name = \"draft\"");
    pages.say("description = \"\"");
    let headers: BTreeSet<&str> = identifying
        .iter()
        .map(|(_, column, _)| column.as_str())
        .collect();
    if !identifying.is_empty() {
        pages.say("\n# Not to be loaded: these columns look like what identifies a person. Best leave them out of the export; listed here,\n# nothing of them is read. A column that identifies nobody may be declared under [accept], with the reason.");
        for (file, column, check) in identifying {
            pages.say(format!("#   {}, {}: {check}", quoted(file), quoted(column)));
        }
        let list: Vec<String> = headers.iter().map(|header| quoted(header)).collect();
        pages.say(format!("ignore = [{}]", list.join(", ")));
        pages.left.push(format!(
            "{} like what identifies a person: leave out of the export what does",
            counted(identifying.len(), "column looks", "columns look")
        ));
    }
    if let Some(pattern) = &plan.visits_side_by_side {
        pages.left.push(format!(
            "{} looks like the days of visits side by side, one row a person: export one row a visit, for a row is read as one day",
            quoted(pattern)
        ));
    }
    for file in files {
        let whole = if file.is_whole { "all" } else { "the first" };
        pages.say(format!(
            "\n# {}: {whole} {} rows were read",
            quoted(&file.name),
            file.rows.len()
        ));
        if file.n_odd > 0 {
            pages.say(format!(
                "#   {} of them with another number of cells than the header, or no text",
                file.n_odd
            ));
        }
    }
    if let Some((visits, key)) = joined_by(files, plan) {
        let name = files.get(visits).map_or("", |file| file.name.as_str());
        pages.line(
            Sureness::Likely,
            &format!(
                "joined.visit = {{ key = {}, role = \"visits\" }}",
                quoted(key)
            ),
            &format!(
                "every row of {} has its own, and rows of other files name it",
                quoted(name)
            ),
        );
    }
    if plan.is_long {
        pages
            .left
            .push("name the role of each file in the pipeline file, as below".to_owned());
        for (file, role) in files.iter().zip(&plan.roles) {
            pages.say(format!(
                "#   {} looks like role = \"{}\"",
                quoted(&file.name),
                role_name(*role)
            ));
        }
    }
}

/// The column by which rows of other files name visits, where person or day of such rows is told by the visit only.
fn joined_by<'f>(files: &'f [Sampled], plan: &Plan) -> Option<(usize, &'f str)> {
    (0..files.len()).find_map(|file| {
        let is_told = |field: &str| {
            let mut lines = plan.lines.iter();
            lines.any(|(number, line)| *number == file && line.field == field)
        };
        let is_whole = is_told("patient") && is_told("date");
        let is_of_people = plan.roles.get(file) == Some(&Section::Patient);
        (plan.is_long && !is_whole && !is_of_people)
            .then(|| named_visit(plan, files, file))
            .flatten()
    })
}

/// What might be the column of a needed field: that of the visit a row names, or by the cells alone. The column and why.
fn by_cells(
    files: &[Sampled],
    plan: &Plan,
    section: Section,
    field: &str,
) -> Option<(String, String)> {
    let file = match plan.is_long {
        true => plan.roles.iter().position(|role| *role == section)?,
        false => 0,
    };
    if let (true, Some((visits, key))) = (plan.is_long, named_visit(plan, files, file))
        && ["patient", "date"].contains(&field)
    {
        let is_it = |(number, line): &&(usize, Line)| *number == visits && line.field == field;
        let (_, line) = plan.lines.iter().find(is_it)?;
        let reason = format!(
            "the row names a visit by {}, whose row says it",
            quoted(key)
        );
        return Some((format!("visit.{}", line.pattern), reason));
    }
    match field {
        "patient" | "id" => {
            let (key, reason) = shared_key(&plan.unmatched, files, file)?;
            Some((key.pattern.clone(), reason))
        }
        "date" => {
            let (date, orders) = only_date(&plan.unmatched, files, file)?;
            let reason = format!(
                "the only column of dates that every row has; {}",
                orders.words()
            );
            Some((date.pattern.clone(), reason))
        }
        _ => None,
    }
}

/// The keys a section cannot do without.
fn needed(section: Section, is_long: bool) -> &'static [&'static str] {
    match (section, is_long) {
        (Section::Patient, _) => &["id"],
        (Section::Visit, false) => &["date"],
        (Section::Visit, true) => &["patient", "date"],
        (Section::FootExam, true) => &["patient", "date", "side"],
        (Section::Ulcer, false) => &["label", "side"],
        (Section::Ulcer, true) => &["patient", "date", "label", "side"],
        (Section::Event, false) => &["kind"],
        (Section::Event, true) => &["patient", "date", "kind"],
        (Section::FootExam | Section::Attendance, _) => &[],
    }
}

fn section_lines(
    pages: &mut Pages,
    files: &[Sampled],
    plan: &Plan,
    section: Section,
    lines: &[&Line],
    dates: &Dates,
) {
    let own: Vec<&&Line> = lines
        .iter()
        .filter(|line| line.section == section)
        .collect();
    if section == Section::Attendance {
        let has_visits = !plan.is_long || plan.roles.contains(&Section::Visit);
        match own.first() {
            Some(line) => attendance(pages, line),
            None if has_visits => pages.left.push(
                "[attendance]: no column was found for it; without one every row counts as a kept visit"
                    .to_owned(),
            ),
            None => {}
        }
        return;
    }
    let is_must = match plan.is_long {
        true => plan.roles.contains(&section),
        false => matches!(section, Section::Patient | Section::Visit),
    };
    let has_sure = own.iter().any(|line| line.sureness == Sureness::Sure);
    if own.is_empty() && !is_must {
        return;
    }
    // a section of which nothing is sure is a comment as a whole
    let mark = if has_sure || is_must { "" } else { "# " };
    pages.say(format!("\n{mark}[{}]", section.name()));
    if section == Section::FootExam
        && let Some((left, right)) = own.iter().find_map(|line| line.sides.as_ref())
    {
        pages.say(format!("{mark}left_is = {}", quoted(left)));
        pages.say(format!("{mark}right_is = {}", quoted(right)));
    }
    let n_slots = own.iter().map(|line| line.n_slots).max().unwrap_or(0);
    if n_slots > 0 {
        pages.say(format!("{mark}slots = {n_slots}"));
    }
    let has_sides = own.iter().any(|line| line.sides.is_some());
    let is_beside_visits =
        section == Section::Patient && plan.is_long && !plan.roles.contains(&section);
    if is_beside_visits {
        pages.say(format!(
            "{mark}# facts about the person on the rows of visits"
        ));
    }
    let needs = match is_beside_visits {
        true => &[],
        false => needed(section, plan.is_long),
    };
    for field in needs {
        let has_own = own.iter().any(|line| line.field == *field);
        if !has_own && (section != Section::FootExam || !has_sides) {
            let (sureness, column, reason) = match by_cells(files, plan, section, field) {
                Some((column, reason)) => (Sureness::Likely, column, reason),
                None => (
                    Sureness::Unsure,
                    String::new(),
                    "no column was found for it, and the section needs it".to_owned(),
                ),
            };
            let line = format!("{field} = {}", quoted(&column));
            pages.line(sureness, &line, &reason);
            let left = match sureness {
                Sureness::Likely => "confirm the column",
                _ => "no column was found for it",
            };
            pages
                .left
                .push(format!("[{}] {field}: {left}", section.name()));
        }
    }
    let mut n_unsure = 0;
    for line in own {
        n_unsure += usize::from(line.sureness != Sureness::Sure);
        for (field, pattern) in sided(line) {
            let written = format!("{field} = {}", value(line, &pattern, dates));
            pages.line(line.sureness, &written, &line.reason);
        }
        let is_needed = needed(section, plan.is_long).contains(&line.field);
        if is_needed && line.sureness != Sureness::Sure {
            pages.left.push(format!(
                "[{}] {}: confirm the column",
                section.name(),
                line.field
            ));
        }
    }
    if n_unsure > 0 {
        pages.left.push(format!(
            "[{}]: {} not sure; read what is said of it",
            section.name(),
            counted(n_unsure, "line is", "lines are")
        ));
    }
}

/// A field that has one line a side, line by line; every other as it is.
fn sided(line: &Line) -> Vec<(String, String)> {
    match (&line.sides, line.section) {
        (Some((left, right)), Section::Patient) => [("left", left), ("right", right)]
            .iter()
            .map(|(ours, theirs)| {
                (
                    line.field.replace("{side}", ours),
                    line.pattern.replace("{side}", theirs),
                )
            })
            .collect(),
        _ => vec![(line.field.to_owned(), line.pattern.clone())],
    }
}

fn value(line: &Line, pattern: &str, dates: &Dates) -> String {
    let mut parts = vec![format!("column = {}", quoted(pattern))];
    if let Some(unit) = line.unit {
        parts.push(format!("unit = \"{unit}\""));
    }
    if !line.codes.is_empty() {
        parts.push(format!("codes = \"{}\"", list_name(line)));
    }
    let own = line.orders.and_then(|orders| orders.decided());
    if let (Some(own), Some(common)) = (own, dates.common)
        && own != common
    {
        parts.push(format!("format = \"{own}\""));
    }
    if parts.len() == 1 {
        return quoted(pattern);
    }
    format!("{{ {} }}", parts.join(", "))
}

fn unmatched(
    pages: &mut Pages,
    files: &[Sampled],
    plan: &Plan,
    identifying: &[(String, String, &'static str)],
) {
    let key = joined_by(files, plan).map(|(_, key)| key);
    let open = || {
        let all = plan.unmatched.iter();
        all.filter(|leftover| Some(leftover.pattern.as_str()) != key)
    };
    if open().next().is_none() {
        return;
    }
    pages.say("\n# No field was found for these columns. Map those that matter; list the others under `ignore` at the top.");
    let mut named = None;
    for leftover in open() {
        let Some(file) = files.get(leftover.file) else {
            continue;
        };
        if plan.is_long && named != Some(leftover.file) {
            pages.say(format!("# Of {}:", quoted(&file.name)));
            named = Some(leftover.file);
        }
        let is_identifying = identifying
            .iter()
            .any(|(of, column, _)| *of == file.name && *column == leftover.pattern);
        let words = match is_identifying {
            true => "looks like what identifies a person, see the top".to_owned(),
            false => leftover.words(file),
        };
        pages.say(format!("#   {}  ({words})", quoted(&leftover.pattern)));
    }
    pages.left.push(format!(
        "{} at the end: map what matters, ignore the rest",
        counted(
            open().count(),
            "column without a field",
            "columns without a field"
        )
    ));
}

fn counted(n: usize, one: &str, many: &str) -> String {
    format!("{n} {}", if n == 1 { one } else { many })
}

/// A text as a TOML string, also safe in a comment: control, direction and invisible marks are written as numbers.
fn quoted(text: &str) -> String {
    let mut quoted = String::from("\"");
    for letter in text.chars() {
        match letter {
            '"' => quoted.push_str("\\\""),
            '\\' => quoted.push_str("\\\\"),
            letter
                if letter.is_control()
                    || matches!(letter, '\u{ad}' | '\u{61c}' | '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{206f}' | '\u{feff}') =>
            {
                let _ = write!(quoted, "\\u{:04X}", u32::from(letter));
            }
            letter => quoted.push(letter),
        }
    }
    quoted.push('"');
    quoted
}
