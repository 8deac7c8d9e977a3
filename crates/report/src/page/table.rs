//! Tables of the page.

use maud::{Markup, html};

/// Heading of a column.
#[derive(Debug, Clone)]
pub(crate) struct Column {
    words: String,
    class: Option<&'static str>,
}

/// A column of words.
pub(crate) fn words(heading: impl Into<String>) -> Column {
    Column {
        words: heading.into(),
        class: None,
    }
}

/// A column of short numbers, set flush right and never broken.
pub(crate) fn numbers(heading: impl Into<String>) -> Column {
    Column {
        words: heading.into(),
        class: Some("number"),
    }
}

/// A column of numbers or of the words in their place, set flush right.
pub(crate) fn values(heading: impl Into<String>) -> Column {
    Column {
        words: heading.into(),
        class: Some("number wordy"),
    }
}

/// What a cell shows when there is nothing to show.
pub(crate) const ABSENT: &str = "–";

/// A cell of plain words.
pub(crate) fn cell(words: impl AsRef<str>) -> Markup {
    html! { (words.as_ref()) }
}

/// A name as in a file, with places to break it on a narrow screen.
pub(crate) fn name(words: &str) -> Markup {
    html! {
        code { @for part in words.split_inclusive(['_', '.', '-']) { (part) wbr; } }
    }
}

/// Rows that belong together, under a heading of their own or none.
pub(crate) struct Group {
    pub(crate) heading: Option<Markup>,
    pub(crate) rows: Vec<Vec<Markup>>,
}

/// A table whose first column heads its rows. On a narrow screen each row becomes a small card.
///
/// Roles are written out because the card layout would otherwise hide the table from assistive technology.
pub(crate) fn stacking(caption: &str, columns: &[Column], rows: &[Vec<Markup>]) -> Markup {
    table("stack", caption, columns, &body(columns, None, rows))
}

/// The same with rows in groups.
pub(crate) fn stacking_groups(caption: &str, columns: &[Column], groups: &[Group]) -> Markup {
    table("stack", caption, columns, &bodies(columns, groups))
}

/// A table that keeps its grid and scrolls sideways inside its frame when it must.
pub(crate) fn scrolling(caption: &str, columns: &[Column], rows: &[Vec<Markup>]) -> Markup {
    framed(caption, columns, &body(columns, None, rows))
}

/// The same with rows in groups.
pub(crate) fn scrolling_groups(caption: &str, columns: &[Column], groups: &[Group]) -> Markup {
    framed(caption, columns, &bodies(columns, groups))
}

fn framed(caption: &str, columns: &[Column], bodies: &Markup) -> Markup {
    html! {
        div.scroll role="region" tabindex="0" aria-label=(caption) {
            (table("grid", caption, columns, bodies))
        }
    }
}

fn bodies(columns: &[Column], groups: &[Group]) -> Markup {
    html! {
        @for group in groups { (body(columns, group.heading.as_ref(), &group.rows)) }
    }
}

fn table(class: &str, caption: &str, columns: &[Column], bodies: &Markup) -> Markup {
    html! {
        table class=(class) role="table" {
            caption { (caption) }
            thead role="rowgroup" {
                tr role="row" {
                    @for column in columns {
                        th scope="col" role="columnheader" class=[column.class] { (column.words) }
                    }
                }
            }
            (bodies)
        }
    }
}

fn body(columns: &[Column], heading: Option<&Markup>, rows: &[Vec<Markup>]) -> Markup {
    html! {
        tbody role="rowgroup" {
            @if let Some(heading) = heading {
                tr.group role="row" {
                    th scope="rowgroup" role="rowheader" colspan=(columns.len()) { (heading) }
                }
            }
            @for row in rows {
                tr role="row" {
                    @for (place, (content, column)) in row.iter().zip(columns).enumerate() {
                        @if place == 0 {
                            th scope="row" role="rowheader" { (content) }
                        } @else {
                            td role="cell" data-label=(column.words) class=[column.class] data-empty[is_empty(content)] { (content) }
                        }
                    }
                }
            }
        }
    }
}

/// Whether a cell says nothing; the card layout leaves such cells out.
fn is_empty(content: &Markup) -> bool {
    matches!(content.0.as_str(), "" | ABSENT)
}
