//! The page of `check`: an export as the checks see it, without outcomes.

use super::head;
use super::making::{severity, share};
use super::table::{ABSENT, cell, name, numbers, scrolling, stacking, words};
use crate::wording;
use maud::{DOCTYPE, Markup, html};
use outcomes::check::overview::{
    Change, ColumnOverview, Comparison, FileOverview, FindingGroup, Overview, Reading, Topic,
};

/// What this page is and is not.
const BANNER: &str = "This page describes an export, not the care behind it. It shows counts, names of columns and codes that the layout declares, and no cell of the export. It is for use inside the practice: small counts are not hidden.";

/// What a screen cannot do.
const SCREEN: &str = "The screen looks at headers and cells for what identifies a person. It is no guarantee, and passing it is no proof of de-identification: privacy law and local rules decide what may leave the practice.";

/// The whole document.
pub(crate) fn document(overview: &Overview) -> Markup {
    let title = format!("{}: check of an export", overview.practice);
    html! {
        (DOCTYPE)
        html lang="en-GB" {
            (head(&title))
            body {
                a.skip href="#main" { "Skip to the page" }
                (masthead(overview))
                main #main {
                    (contents(overview))
                    (in_short(overview))
                    (rows(overview))
                    (found(overview, "identifiers", "Does anything identify a person?", Topic::Identifiers, SCREEN, "The screen found nothing."))
                    (found(overview, "ids", "How the patient ids look", Topic::PatientIds, "Only what the export itself shows is said here; ids that pass may still have been derived from something.", "Nothing about the ids stands out."))
                    (found(overview, "units", "Units and dates", Topic::UnitsAndDates, "A single number can be unusual; the middle of a whole column seldom is. Where it is unusual in the declared unit and usual in another, the layout is probably wrong.", "Every column looks like the unit and the order of dates that the layout declares."))
                    (found(overview, "findings", "What else was found", Topic::Rows, "Each finding names its rule. Rows that are noted, or of which one cell counts as missing, are used.", "Nothing was found."))
                    (changes(overview.comparison.as_ref()))
                    (columns(overview))
                }
                footer { p { (overview.program) " · " (overview.practice) " · layout " (overview.layout) } }
            }
        }
    }
}

fn masthead(overview: &Overview) -> Markup {
    html! {
        header.masthead {
            p.practice { (overview.practice) }
            h1 { "Check of an export" }
            p.horizon {
                "Rows from " (wording::date(overview.data_start)) " to " (wording::date(overview.cut_off))
                ", read with the layout " strong { (overview.layout) } "."
            }
            p.banner role="note" { (BANNER) }
        }
    }
}

fn contents(overview: &Overview) -> Markup {
    html! {
        nav.contents aria-label="Contents" {
            ul {
                li { a href="#short" { "In short" } }
                li { a href="#rows" { "Rows and bytes" } }
                li { a href="#identifiers" { "Identifiers" } }
                li { a href="#ids" { "Patient ids" } }
                li { a href="#units" { "Units and dates" } }
                li { a href="#findings" { "Findings" } }
                @if overview.comparison.is_some() { li { a href="#changes" { "What changed" } } }
                li { a href="#columns" { "Columns" } }
            }
        }
    }
}

fn in_short(overview: &Overview) -> Markup {
    html! {
        section #short aria-labelledby="short-title" {
            h2 #short-title { "In short" }
            ul.sentences { @for sentence in overview.sentences() { li { (sentence) } } }
            @if !overview.stops.is_empty() {
                h3 { "Why a run would stop" }
                ul { @for reason in &overview.stops { li.changed { (reason) } } }
            }
        }
    }
}

fn rows(overview: &Overview) -> Markup {
    let accounts: Vec<Vec<Markup>> = overview
        .files
        .iter()
        .map(|file| {
            vec![
                cell(&file.file),
                cell(&file.role),
                cell(wording::whole(file.n_read)),
                cell(wording::whole(file.n_used)),
                html! {
                    @if file.set_aside.is_empty() { (ABSENT) } @else {
                        ul.plain { @for (check, n) in &file.set_aside { li { (name(check)) " " (wording::whole(*n)) } } }
                    }
                },
            ]
        })
        .collect();
    let bytes: Vec<Vec<Markup>> = overview
        .files
        .iter()
        .map(|file| {
            let text = &file.text_bytes;
            [
                file.bytes,
                text.header,
                text.used,
                text.set_aside,
                text.blank,
                text.total(),
            ]
            .iter()
            .map(|n| cell(wording::whole(*n)))
            .fold(vec![cell(&file.file)], |mut row, n| {
                row.push(n);
                row
            })
        })
        .collect();
    let tables: Vec<Vec<Markup>> = overview
        .tables
        .iter()
        .map(|line| {
            vec![
                cell(&line.table),
                cell(wording::whole(line.n_rows)),
                cell(wording::whole(line.n_persons)),
            ]
        })
        .collect();
    html! {
        section #rows aria-labelledby="rows-title" {
            h2 #rows-title { "Rows and bytes" }
            p { "Rows read are rows used plus rows set aside, each with one reason." }
            (stacking("What became of every row", &[words("File"), words("Holds"), numbers("Read"), numbers("Used"), words("Set aside")], &accounts))
            h3 { "What became of every byte" }
            p { "Bytes of the text, once it is unpacked: a packed file is smaller as stored." }
            (stacking("What became of every byte", &[words("File"), numbers("As stored"), numbers("Header"), numbers("Rows used"), numbers("Rows set aside"), numbers("Blank lines"), numbers("Text in all")], &bytes))
            h3 { "What the rows became" }
            (stacking("What the rows became", &[words("Table"), numbers("Rows"), numbers("People")], &tables))
        }
    }
}

fn found(
    overview: &Overview,
    id: &str,
    title: &str,
    topic: Topic,
    lead: &str,
    nothing: &str,
) -> Markup {
    let groups: Vec<&FindingGroup> = overview.of_topic(topic).collect();
    html! {
        section id=(id) aria-labelledby=(format!("{id}-title")) {
            h2 id=(format!("{id}-title")) { (title) }
            p.lead { (lead) }
            @if groups.is_empty() { p { (nothing) } } @else { (findings(title, &groups)) }
        }
    }
}

fn findings(caption: &str, groups: &[&FindingGroup]) -> Markup {
    let rows: Vec<Vec<Markup>> = groups
        .iter()
        .map(|group| {
            vec![
                name(&group.check),
                html! { @if let Some(column) = &group.column { code { (column) } } @else { (ABSENT) } },
                cell(severity(group.severity.code())),
                cell(wording::whole(group.n)),
                html! {
                    (group.message)
                    @if let Some(hint) = &group.hint { span.rule { (hint) } }
                },
                html! {
                    @if group.places.is_empty() { (ABSENT) } @else {
                        ul.plain.trace { @for place in &group.places { li { (place) } } }
                    }
                },
            ]
        })
        .collect();
    let columns = [
        words("Check"),
        words("Column"),
        words("Effect"),
        numbers("Times"),
        words("What was found"),
        words("First places"),
    ];
    stacking(caption, &columns, &rows)
}

fn changes(comparison: Option<&Comparison>) -> Markup {
    let Some(comparison) = comparison else {
        return html! {};
    };
    let rows: Vec<Vec<Markup>> = comparison.changes.iter().map(change).collect();
    html! {
        section #changes aria-labelledby="changes-title" {
            h2 #changes-title { "What changed" }
            p.lead { "Held against each other: " (comparison.later) ", and " (comparison.earlier) "." }
            @if rows.is_empty() {
                p { "Nothing changed beyond chance." }
            } @else {
                (stacking("What changed", &[words("Change"), words("Column"), words("What differs"), words("File")], &rows))
            }
            p.note { (comparison.rule) }
        }
    }
}

fn change(change: &Change) -> Vec<Markup> {
    vec![
        name(change.kind.code()),
        html! { @if let Some(column) = &change.column { code { (column) } } @else { (ABSENT) } },
        cell(&change.words),
        cell(&change.file),
    ]
}

fn columns(overview: &Overview) -> Markup {
    html! {
        section #columns aria-labelledby="columns-title" {
            h2 #columns-title { "Columns" }
            p.lead { "How many of the rows used hold something in each column; spellings of “missing” count as empty. A column that is often empty by design, such as the third ulcer of a person, is no fault." }
            @for file in &overview.files {
                h3 { (file.file) }
                (filled(file))
                @if !file.months.is_empty() {
                    details { summary { "By month" } (by_month(file)) }
                }
            }
        }
    }
}

fn filled(file: &FileOverview) -> Markup {
    let rows: Vec<Vec<Markup>> = file
        .columns
        .iter()
        .map(|column| {
            let n_present = column.before.n_present + column.since.n_present;
            vec![
                html! { code { (column.header) } },
                reading(column),
                html! {
                    @if column.reading == Reading::Ignored { (ABSENT) } @else {
                        (share(n_present, file.n_rows())) (bar(n_present, file.n_rows()))
                    }
                },
                cell(codes(column)),
            ]
        })
        .collect();
    stacking(
        &format!("Columns of {}", file.file),
        &[
            words("Column"),
            words("Read as"),
            numbers("Filled"),
            words("Codes the layout declares"),
        ],
        &rows,
    )
}

fn reading(column: &ColumnOverview) -> Markup {
    html! {
        @match column.reading {
            Reading::Ignored => "ignored",
            Reading::NotInLayout => "not in the layout",
            Reading::Read => {
                (name(&column.field))
                @if !column.unit.is_empty() { ", " (column.unit) }
            }
        }
    }
}

/// How many codes occur, and how many cells hold another.
fn codes(column: &ColumnOverview) -> String {
    let whole = column.whole();
    match (whole.codes.len(), whole.n_unknown_codes) {
        (0, 0) => ABSENT.to_owned(),
        (n, 0) => format!("{n} occur"),
        (n, unknown) => format!("{n} occur; {} cells hold another", wording::whole(unknown)),
    }
}

fn bar(part: u64, whole: u64) -> Markup {
    let width = if whole == 0 {
        0.0
    } else {
        100.0 * part as f64 / whole as f64
    };
    html! { span.bar aria-hidden="true" { span style=(format!("width:{width:.0}%")) {} } }
}

fn by_month(file: &FileOverview) -> Markup {
    let mut columns = vec![words("Column")];
    columns.extend(file.months.iter().map(|month| numbers(&month.month)));
    let mut rows = vec![
        std::iter::once(cell("rows"))
            .chain(
                file.months
                    .iter()
                    .map(|month| cell(wording::whole(month.n_rows))),
            )
            .collect::<Vec<Markup>>(),
    ];
    let read = file
        .columns
        .iter()
        .filter(|column| column.reading != Reading::Ignored);
    rows.extend(read.map(|column| {
        std::iter::once(html! { code { (column.header) } })
            .chain(
                (column.present_by_month.iter().zip(&file.months))
                    .map(|(n_present, month)| cell(share(*n_present, month.n_rows))),
            )
            .collect()
    }));
    scrolling(
        &format!("Filled cells by month, {}", file.file),
        &columns,
        &rows,
    )
}
