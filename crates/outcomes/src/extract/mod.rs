//! Row-level tables: everything derived, a row a person, visit, ulcer, limb or finding, ready for analysis elsewhere.
//!
//! They carry the pseudonyms and dates of the export, so they stay where the export may be: in the copies kept by the
//! practice, never in a public one. Every date can be followed to its file and record.

mod attended;
mod people;
mod spells;
mod ulcers;
mod vascular;

use crate::dataset::{Cell, Column, DataTable, text, whole};
use crate::derive::PersonOutcomes;
use crate::finding::Finding;
use crate::rules::Rules;
use crate::tables::{NameId, SourceRow, Tables};

/// Every row-level table that has a row, in reading order.
pub fn row_tables(
    tables: &Tables,
    people: &[PersonOutcomes<'_>],
    rules: &Rules,
    findings: &[Finding],
) -> Vec<DataTable> {
    let export = Export { tables, rules };
    let all = [
        people::persons(export, people),
        attended::visits(export),
        ulcers::ulcers(export, people),
        ulcers::areas(export, people),
        spells::person_episodes(export, people),
        spells::remissions(export, people),
        spells::limbs(export, people),
        vascular::pathways(export, people),
        people::tiers(export, people),
        attended::findings(export, findings),
    ];
    all.into_iter()
        .filter(|table| !table.rows.is_empty())
        .collect()
}

/// The export, for what a row needs to be told in words, and the settings it is read by.
#[derive(Clone, Copy)]
struct Export<'a> {
    tables: &'a Tables,
    rules: &'a Rules,
}

impl Export<'_> {
    fn name(self, name: Option<NameId>) -> Cell {
        Cell::from(name.map(|name| self.tables.names.get(name)))
    }

    fn file(self, source: SourceRow) -> Cell {
        let file = self.tables.files.get(usize::from(source.file));
        Cell::from(file.map(|file| file.name.as_str()))
    }
}

/// A row of a table: the export, whose row it is, and what it tells.
struct Row<'a, T> {
    export: Export<'a>,
    person: &'a PersonOutcomes<'a>,
    of: T,
}

type Columns<'a, T> = Vec<Column<Row<'a, T>>>;

/// One row an item of a person.
fn of_people<'a, T: 'a, I: IntoIterator<Item = T>>(
    export: Export<'a>,
    people: &'a [PersonOutcomes<'a>],
    items: impl Fn(&'a PersonOutcomes<'a>) -> I,
) -> Vec<Row<'a, T>> {
    let of_person = |person| {
        let items = items(person).into_iter();
        items
            .map(move |of| Row { export, person, of })
            .collect::<Vec<_>>()
    };
    people.iter().flat_map(of_person).collect()
}

fn patient<'a, T>() -> Column<Row<'a, T>> {
    text(
        "patient",
        "Patient",
        "Pseudonymous id as in the export.",
        |row| Cell::from(&row.person.person.patient.id),
    )
}

/// What can be followed to the row of the export that its first date was read from.
trait Traced {
    fn source(&self) -> SourceRow;
}

/// Columns that lead to that row.
fn trace<'a, T: Traced>() -> [Column<Row<'a, T>>; 2] {
    [
        text(
            "file",
            "File",
            "File of the export that the first date was read from.",
            |row| row.export.file(row.of.source()),
        ),
        whole(
            "record",
            "Record",
            "",
            "Number of the data record in it, counted from 1, header not counted.",
            |row| Cell::from(row.of.source().record),
        ),
    ]
}
