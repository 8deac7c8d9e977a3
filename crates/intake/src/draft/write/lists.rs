//! Code lists and the codes of attendance.

use super::{Pages, counted, quoted};
use crate::draft::codes::Meaning;
use crate::draft::judge::{CodeLine, Expect, Line, Sureness, expect};
use crate::draft::words::Section;
use std::collections::BTreeSet;

pub(super) fn attendance(pages: &mut Pages, line: &Line) {
    let mark = if line.sureness == Sureness::Sure {
        ""
    } else {
        "# "
    };
    pages.say(format!("\n{mark}[attendance]"));
    pages.line(
        line.sureness,
        &format!("column = {}", quoted(&line.pattern)),
        &line.reason,
    );
    for ours in ["kept", "missed", "cancelled", "administrative"] {
        let of = |is_wanted: &dyn Fn(&CodeLine) -> bool| -> Vec<String> {
            let wanted = line.codes.iter().filter(|code| is_wanted(code));
            wanted.map(|code| quoted(&code.code)).collect()
        };
        let sure = of(&|code| {
            code.meaning.sure() == Some(ours) || code.meaning == Meaning::Ours && code.code == ours
        });
        let likely = of(&|code| matches!(code.meaning, Meaning::Likely(likely) if likely == ours));
        if !sure.is_empty() {
            pages.say(format!("{mark}{ours} = [{}]", sure.join(", ")));
        } else if !likely.is_empty() {
            pages.line(
                Sureness::Likely,
                &format!("{ours} = [{}]", likely.join(", ")),
                "often written so",
            );
        }
    }
    let unknown: Vec<String> = line
        .codes
        .iter()
        .filter(|code| !code.meaning.is_settled())
        .map(|code| quoted(&code.code))
        .collect();
    if !unknown.is_empty() {
        pages.say(format!("# say what these mean: {}", unknown.join(", ")));
        pages.left.push(format!(
            "[attendance]: say what {}; until then those rows count as kept visits",
            counted(unknown.len(), "code means", "codes mean")
        ));
    }
}

/// Name of the code list of a line: one list for all questions of yes and no that are written alike.
pub(super) fn list_name(line: &Line) -> String {
    let is_plain_yes_no = matches!(expect(line.section, line.field), Expect::Codes(_, true))
        && line
            .codes
            .iter()
            .all(|code| matches!(code.meaning, Meaning::Sure(_)));
    if is_plain_yes_no {
        return "yes_no".to_owned();
    }
    format!(
        "{}_{}",
        line.section.name(),
        line.field.replace("_{side}", "")
    )
}

pub(super) fn code_lists(pages: &mut Pages, lines: &[&Line]) {
    let mut written: BTreeSet<String> = BTreeSet::new();
    let mut yes_no: BTreeSet<(String, &'static str)> = BTreeSet::new();
    let coded = || {
        lines
            .iter()
            .filter(|line| !line.codes.is_empty() && line.section != Section::Attendance)
    };
    for line in coded().filter(|line| list_name(line) == "yes_no") {
        for code in &line.codes {
            if let Meaning::Sure(ours) = code.meaning {
                yes_no.insert((code.code.clone(), ours));
            }
        }
    }
    if !yes_no.is_empty() {
        pages.say("\n[codes.yes_no]");
        let mut seen: BTreeSet<String> = BTreeSet::new();
        for (code, ours) in &yes_no {
            // case does not count
            if seen.insert(code.to_lowercase()) {
                pages.line(
                    Sureness::Sure,
                    &format!("{} = \"{ours}\"", quoted(code)),
                    "written so everywhere",
                );
            }
        }
    }
    for line in coded() {
        let name = list_name(line);
        if name == "yes_no" || !written.insert(name.clone()) {
            continue;
        }
        pages.say(format!("\n[codes.{name}]"));
        let mut seen: BTreeSet<String> = BTreeSet::new();
        let mut n_open = 0;
        for code in &line.codes {
            if seen.insert(code.code.to_lowercase()) {
                n_open += usize::from(!code_line(pages, line, code));
            }
        }
        if line.n_rare_codes > 0 {
            pages.say(format!(
                "# {} more kinds of cells are in too few rows to be shown here",
                line.n_rare_codes
            ));
        }
        if n_open > 0 {
            pages.left.push(format!(
                "[codes.{name}]: say what {}",
                counted(n_open, "code means", "codes mean")
            ));
        }
    }
}

/// Writes the meaning of a code; false where it is left to a person.
fn code_line(pages: &mut Pages, line: &Line, code: &CodeLine) -> bool {
    let n = code.n_cells;
    match &code.meaning {
        Meaning::Ours => pages.line(
            Sureness::Sure,
            &format!("{} = {}", quoted(&code.code), quoted(&code.code)),
            "our own word",
        ),
        Meaning::Respelt(ours) => pages.line(
            Sureness::Sure,
            &format!("{} = {}", quoted(&code.code), quoted(ours)),
            &format!("our own word, otherwise written, {n} cells"),
        ),
        Meaning::Sure(ours) => pages.line(
            Sureness::Sure,
            &format!("{} = \"{ours}\"", quoted(&code.code)),
            &format!("written so everywhere, {n} cells"),
        ),
        Meaning::Likely(ours) => {
            pages.line(
                Sureness::Likely,
                &format!("{} = \"{ours}\"", quoted(&code.code)),
                &format!("often written so, {n} cells"),
            );
            return false;
        }
        Meaning::Unknown => {
            let known = line.spellings.join(", ");
            pages.line(
                Sureness::Unsure,
                &format!("{} = \"missing\"", quoted(&code.code)),
                &format!("{n} cells; one of: {known}"),
            );
            return false;
        }
    }
    true
}
