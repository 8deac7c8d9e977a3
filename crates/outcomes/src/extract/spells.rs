//! Person-episodes, spells without an ulcer, and limbs.

use super::{Columns, Export, Traced, of_people, patient, trace};
use crate::dataset::{Cell, DataTable, date, text, whole, yes_no};
use crate::derive::{Limb, PersonEpisode, PersonOutcomes, Remission};
use crate::tables::SourceRow;

/// A row a person-episode.
pub(super) fn person_episodes<'a>(
    export: Export<'a>,
    people: &'a [PersonOutcomes<'a>],
) -> DataTable {
    let mut columns: Columns<'a, &'a PersonEpisode> = vec![
        patient(),
        date(
            "index",
            "First open ulcer",
            "First open ulcer; day 0.",
            |row| Cell::from(row.of.index),
        ),
        whole(
            "wounds",
            "Wounds",
            "count",
            "Ulcers and surgical wounds it spans.",
            |row| Cell::from(row.of.wounds.len() as u64),
        ),
        date(
            "last_open",
            "Last seen open",
            "Last day on which any of its wounds was seen open.",
            |row| Cell::from(row.of.last_open),
        ),
        date(
            "all_closed",
            "All closed",
            "Day on which the last wound was known to be closed. Empty while any is not.",
            |row| Cell::from(row.of.all_closed),
        ),
        yes_no(
            "amputation",
            "Amputation",
            "Whether any of its wounds was removed by amputation.",
            |row| Cell::from(row.of.has_amputation),
        ),
        yes_no(
            "prevalent",
            "Prevalent",
            "Whether an ulcer of day 0 may be older than it looks.",
            |row| Cell::from(row.of.is_prevalent),
        ),
    ];
    columns.extend(trace());
    let words = "A row a spell from a person's first open ulcer until every wound on both feet is closed, as known at the cut-off.";
    let rows = of_people(export, people, |person| &person.reading.person_episodes);
    DataTable::new(["person-episodes", "Person-episodes", words], columns, rows)
}

/// A row a spell without any open wound.
pub(super) fn remissions<'a>(export: Export<'a>, people: &'a [PersonOutcomes<'a>]) -> DataTable {
    let mut columns: Columns<'a, &'a Remission> = vec![
        patient(),
        date(
            "start",
            "All wounds closed",
            "Day the last wound was first seen closed, or removed; day 0.",
            |row| Cell::from(row.of.start),
        ),
        yes_no(
            "after_amputation",
            "After amputation",
            "Whether the person-episode before it ended in an amputation wound.",
            |row| Cell::from(row.of.is_after_amputation),
        ),
        date(
            "last_clear",
            "Last seen clear",
            "Last visit that saw the feet without the new ulcer: it began after this day.",
            |row| Cell::from(row.of.recurrence.and_then(|new| new.last_clear)),
        ),
        date(
            "new_ulcer",
            "New ulcer",
            "First visit that saw a new ulcer open. Empty where there is none.",
            |row| Cell::from(row.of.recurrence.map(|new| new.first_open)),
        ),
        text(
            "place",
            "Place",
            "Where the new ulcer is, compared with the wounds before.",
            |row| Cell::from(row.of.recurrence.map(|new| new.place.code())),
        ),
        date(
            "death",
            "Death",
            "Death, unless it came too long after the last examination of the feet.",
            |row| Cell::from(row.of.death),
        ),
        date(
            "both_limbs_lost",
            "Both limbs lost",
            "Both legs lost above the ankle.",
            |row| Cell::from(row.of.both_limbs_lost),
        ),
        date(
            "last_exam",
            "Last examined",
            "Last examination of the feet, the start at the earliest.",
            |row| Cell::from(row.of.last_exam),
        ),
    ];
    columns.extend(trace());
    let words = "A row a spell without any open wound on either foot, as known at the cut-off. A new ulcer began between last_clear and new_ulcer.";
    let rows = of_people(export, people, |person| &person.reading.remissions);
    DataTable::new(
        ["ulcer-free-spells", "Ulcer-free spells", words],
        columns,
        rows,
    )
}

/// A row a leg that ever had an ulcer in view.
pub(super) fn limbs<'a>(export: Export<'a>, people: &'a [PersonOutcomes<'a>]) -> DataTable {
    let mut columns: Columns<'a, &'a Limb> = vec![
        patient(),
        text("side", "Side", "left or right.", |row| {
            Cell::from(row.of.side.code())
        }),
        date(
            "index",
            "First ulcer",
            "First ulcer in view; day 0.",
            |row| Cell::from(row.of.index),
        ),
        yes_no(
            "prevalent",
            "Prevalent",
            "Whether that ulcer may be older than it looks.",
            |row| Cell::from(row.of.is_prevalent),
        ),
        yes_no(
            "minor_before",
            "Earlier minor amputation",
            "Minor amputation of this limb before day 0. Empty where nobody asked.",
            |row| Cell::from(row.of.had_minor_before),
        ),
        date(
            "minor_amputation",
            "Minor amputation",
            "First from day 0 on.",
            |row| Cell::from(row.of.minor_amputation),
        ),
        date(
            "major_amputation",
            "Major amputation",
            "First from day 0 on.",
            |row| Cell::from(row.of.major_amputation),
        ),
        date("death", "Death", "As known to the practice.", |row| {
            Cell::from(row.of.death)
        }),
    ];
    columns.extend(trace());
    let words = "A row a leg that ever had an ulcer in view, at risk from its first one. Amputations count as far as they were told.";
    let rows = of_people(export, people, |person| person.reading.limbs());
    DataTable::new(["limbs", "Limbs", words], columns, rows)
}

impl Traced for &PersonEpisode {
    fn source(&self) -> SourceRow {
        self.index.source
    }
}

impl Traced for &Remission {
    fn source(&self) -> SourceRow {
        self.start.source
    }
}

impl Traced for &Limb {
    fn source(&self) -> SourceRow {
        self.index.source
    }
}
