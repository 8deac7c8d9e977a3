//! The pieces that pages are made of, as the template reads them.

use serde::Serialize;

/// One thing on the page.
#[derive(Debug, Serialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub(super) enum Block {
    /// Begins a page.
    Section {
        words: String,
    },
    /// A part of a section.
    Heading {
        words: String,
    },
    /// A part of a part.
    Subheading {
        words: String,
    },
    Paragraph {
        words: String,
    },
    Lead {
        words: String,
    },
    Note {
        words: String,
    },
    Caution {
        words: String,
    },
    List {
        items: Vec<String>,
    },
    Terms {
        terms: Vec<Term>,
    },
    Table(Table),
    Figure(Picture),
}

/// A word and its meaning.
#[derive(Debug, Serialize)]
pub(super) struct Term {
    pub(super) word: String,
    pub(super) meaning: String,
}

#[derive(Debug, Serialize)]
pub(super) struct Picture {
    pub(super) drawing: String,
    pub(super) alt: String,
    pub(super) title: String,
    pub(super) caption: String,
}

#[derive(Debug, Serialize)]
pub(super) struct Table {
    pub(super) columns: Vec<Column>,
    pub(super) rows: Vec<Row>,
}

#[derive(Debug, Serialize)]
pub(super) struct Column {
    words: String,
    is_number: bool,
    /// Share of the room that is left; 0 for as much as the widest cell needs.
    share: u8,
}

#[derive(Debug, Serialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub(super) enum Row {
    /// Heads the rows below it.
    Heading {
        words: String,
    },
    Cells {
        cells: Vec<Cell>,
    },
}

#[derive(Debug, Default, Serialize)]
pub(super) struct Cell {
    pub(super) words: String,
    pub(super) note: String,
    pub(super) is_strong: bool,
}

/// A cell of plain words.
pub(super) fn cell(words: impl Into<String>) -> Cell {
    Cell {
        words: words.into(),
        ..Cell::default()
    }
}

/// A row of cells.
pub(super) fn row(cells: Vec<Cell>) -> Row {
    Row::Cells { cells }
}

/// A column of words that takes this share of the room.
pub(super) fn words(heading: impl Into<String>, share: u8) -> Column {
    Column {
        words: heading.into(),
        is_number: false,
        share,
    }
}

/// A column of numbers, as wide as they are, or of a share of the room where words may stand in their place.
pub(super) fn numbers(heading: impl Into<String>, share: u8) -> Column {
    Column {
        words: heading.into(),
        is_number: true,
        share,
    }
}

/// Begins a page.
pub(super) fn section(words: impl Into<String>) -> Block {
    Block::Section {
        words: words.into(),
    }
}

/// Heads a part of a section.
pub(super) fn heading(words: impl Into<String>) -> Block {
    Block::Heading {
        words: words.into(),
    }
}

/// Plain words.
pub(super) fn paragraph(words: impl Into<String>) -> Block {
    Block::Paragraph {
        words: words.into(),
    }
}

/// Smaller words beside a table or figure.
pub(super) fn note(words: impl Into<String>) -> Block {
    Block::Note {
        words: words.into(),
    }
}

/// A table of these columns and rows.
pub(super) fn table(columns: Vec<Column>, rows: Vec<Row>) -> Block {
    Block::Table(Table { columns, rows })
}

/// Heads the rows below it.
pub(super) fn heads(words: impl Into<String>) -> Row {
    Row::Heading {
        words: words.into(),
    }
}
