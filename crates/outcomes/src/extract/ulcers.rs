//! Ulcers with interval dates and grades, and their areas.

use super::{Columns, Export, Row, Traced, of_people, patient, trace};
use crate::dataset::{Cell, DataTable, date, number, text, whole, yes_no};
use crate::derive::{AreaPoint, Episode, PersonOutcomes, Presentation};
use crate::grade::GradeRange;
use crate::tables::SourceRow;

type Ulcer<'a> = (&'a Episode, Presentation);

/// Lowest and highest grade that the recorded items allow.
macro_rules! grade {
    ($low:literal, $high:literal, $title:literal, $pick:expr) => {{
        fn end(row: &Row<'_, Ulcer<'_>>, pick: fn(&Presentation) -> GradeRange, is_low: bool) -> Cell {
            let grade = pick(&row.of.1);
            Cell::from(u32::from(if is_low { grade.lowest } else { grade.highest }))
        }
        [
            whole($low, concat!($title, ", lowest"), "grade", "Lowest grade that the items recorded at the first visit allow.", |row| end(row, $pick, true)),
            whole($high, concat!($title, ", highest"), "grade", "Highest grade that the items recorded at the first visit allow; equal to the lowest where the grade is known.", |row| end(row, $pick, false)),
        ]
    }};
}

/// A row an ulcer.
pub(super) fn ulcers<'a>(export: Export<'a>, people: &'a [PersonOutcomes<'a>]) -> DataTable {
    let mut columns: Columns<'a, Ulcer<'a>> = vec![
        patient(),
        text("side", "Side", "left or right.", |row| {
            Cell::from(row.of.0.side.code())
        }),
        text(
            "label",
            "Label",
            "Label of the ulcer in the export.",
            |row| row.export.name(Some(row.of.0.label)),
        ),
        text(
            "site",
            "Site",
            "Site first recorded: part of the foot, ray and surface.",
            |row| Cell::from(row.of.0.site.map(|site| site.code())),
        ),
        whole(
            "ordinal",
            "Episode of the lesion",
            "",
            "1 for the first episode of this lesion, 2 for the next after it healed.",
            |row| Cell::from(row.of.0.ordinal),
        ),
        yes_no(
            "surgical_wound",
            "Surgical wound",
            "Whether it is the wound of an amputation; such wounds are counted apart from ulcers.",
            |row| Cell::from(row.of.0.is_post_surgical),
        ),
        text("origin", "Origin", "How it came here.", |row| {
            Cell::from(row.of.0.origin.map(|origin| origin.code()))
        }),
        text(
            "prevalent",
            "Left out because",
            "Why it is left out of cohorts that start at the first visit; empty where it is in them.",
            |row| Cell::from(row.of.0.prevalent.map(|why| why.code())),
        ),
        date(
            "onset",
            "Onset",
            "First day of the day, week, month or year told as its onset.",
            |row| Cell::from(row.of.0.onset.map(|onset| onset.dated)),
        ),
        text(
            "onset_precision",
            "Onset known to the",
            "How exactly the onset is known.",
            |row| Cell::from(row.of.0.onset.map(|onset| onset.precision.code())),
        ),
        date(
            "index",
            "First visit open",
            "First visit that saw it open; day 0.",
            |row| Cell::from(row.of.0.index),
        ),
        date(
            "last_open",
            "Last seen open",
            "Last visit that saw it open: healing lies after this day.",
            |row| Cell::from(row.of.0.last_open),
        ),
        date(
            "first_closed",
            "First seen closed",
            "First visit that saw it closed: healing lies on or before this day. Empty where no closure stands.",
            |row| Cell::from(row.of.0.closure.map(|closure| closure.first_closed)),
        ),
        date(
            "confirmed",
            "Closure confirmed",
            "Visit that confirmed the closure.",
            |row| Cell::from(row.of.0.closure.and_then(|closure| closure.confirmed)),
        ),
        whole(
            "reopened",
            "Closures cancelled",
            "count",
            "How many closures a reopening of the site cancelled.",
            |row| Cell::from(row.of.0.n_reopened),
        ),
        date(
            "minor_amputation",
            "Minor amputation",
            "Amputation of this lesion through or below the ankle.",
            |row| Cell::from(row.of.0.minor_amputation),
        ),
        date(
            "major_amputation",
            "Major amputation",
            "Amputation of this limb above the ankle.",
            |row| Cell::from(row.of.0.major_amputation),
        ),
        date(
            "death",
            "Death",
            "Death, unless it came too long after the last known state to compete with healing.",
            |row| Cell::from(row.of.0.death),
        ),
        date(
            "transferred_out",
            "Transferred out",
            "Care transferred to another service.",
            |row| Cell::from(row.of.0.transferred_out),
        ),
        text(
            "end",
            "End",
            "How it ended, as known at the cut-off.",
            |row| Cell::from(row.of.0.end.code()),
        ),
        date(
            "end_date",
            "End on",
            "Day of the end; for an ulcer open or lost the last day its state was known.",
            |row| Cell::from(row.of.0.end_at),
        ),
        whole(
            "days",
            "Days to the end",
            "days",
            "Whole days from the first visit to the end.",
            |row| Cell::from(row.of.0.day_of(row.of.0.end_at)),
        ),
        date(
            "last_known",
            "State last known",
            "Last visit where its state was known.",
            |row| Cell::from(row.of.0.last_known),
        ),
        number(
            "area_cm2",
            "Area at first visit",
            "square cm",
            "Area at the first visit. Empty where it was not measured.",
            |row| Cell::from(row.of.1.area_cm2),
        ),
    ];
    columns.extend(grade!(
        "sinbad_lowest",
        "sinbad_highest",
        "SINBAD",
        |graded| graded.sinbad
    ));
    columns.extend(grade!(
        "wifi_stage_lowest",
        "wifi_stage_highest",
        "WIfI stage",
        |graded| graded.wifi_stage
    ));
    columns.extend(grade!(
        "ischaemia_lowest",
        "ischaemia_highest",
        "Ischaemia",
        |graded| graded.ischaemia
    ));
    columns.extend(grade!(
        "infection_lowest",
        "infection_highest",
        "Foot infection",
        |graded| graded.infection
    ));
    columns.extend([
        yes_no(
            "gangrene",
            "Gangrene",
            "Gangrene at the first visit. Empty where it is not recorded.",
            |row: &Row<'_, Ulcer<'_>>| Cell::from(row.of.1.has_gangrene()),
        ),
        text(
            "depth",
            "Depth",
            "Deepest tissue reached at the first visit.",
            |row| Cell::from(row.of.1.depth.map(|depth| depth.code())),
        ),
        yes_no(
            "osteomyelitis",
            "Osteomyelitis",
            "At the first visit. Empty where it is not recorded.",
            |row| Cell::from(row.of.1.has_osteomyelitis),
        ),
    ]);
    columns.extend(trace());
    columns.extend([
        text(
            "end_file",
            "File of the end",
            "File of the export that the end was read from.",
            |row: &Row<'_, Ulcer<'_>>| row.export.file(row.of.0.end_at.source),
        ),
        whole(
            "end_record",
            "Record of the end",
            "",
            "Number of the data record in it.",
            |row| Cell::from(row.of.0.end_at.source.record),
        ),
    ]);
    let rows = of_people(export, people, |person| {
        let reading = &person.reading;
        let episodes = reading.episodes.iter();
        episodes.map(|episode| (episode, reading.presentation(episode, export.rules)))
    });
    let words = "A row an ulcer from the first visit that saw it open to its end, everything as known at the cut-off. Figures of the report read only up to their own horizon, so that later rows do not change them; healing lies between last_open and first_closed.";
    DataTable::new(["ulcer-episodes", "Ulcer episodes", words], columns, rows)
}

type Area<'a> = (&'a Episode, AreaPoint);

/// A row a measured area.
pub(super) fn areas<'a>(export: Export<'a>, people: &'a [PersonOutcomes<'a>]) -> DataTable {
    let mut columns: Columns<'a, Area<'a>> = vec![
        patient(),
        text("side", "Side", "left or right.", |row| {
            Cell::from(row.of.0.side.code())
        }),
        text(
            "label",
            "Label",
            "Label of the ulcer in the export.",
            |row| row.export.name(Some(row.of.0.label)),
        ),
        whole(
            "ordinal",
            "Episode of the lesion",
            "",
            "1 for the first episode of this lesion, 2 for the next after it healed.",
            |row| Cell::from(row.of.0.ordinal),
        ),
        date("date", "Date", "Day of the visit.", |row| {
            Cell::from(row.of.1.at)
        }),
        whole(
            "day",
            "Day",
            "days",
            "Whole days since the first visit that saw it open.",
            |row| Cell::from(row.of.0.day_of(row.of.1.at)),
        ),
        number(
            "area_cm2",
            "Area",
            "square cm",
            "Area by the method of the first visit; 0 once closed.",
            |row| Cell::from(row.of.1.area_cm2),
        ),
    ];
    columns.extend(trace());
    let rows = of_people(export, people, |person| {
        person.reading.episodes.iter().flat_map(move |episode| {
            let areas = person.reading.areas(episode, export.rules).into_iter();
            areas.map(move |area| (episode, area))
        })
    });
    let words = "A row an ulcer and visit with a known area.";
    DataTable::new(["areas", "Areas by visit", words], columns, rows)
}

impl Traced for Ulcer<'_> {
    fn source(&self) -> SourceRow {
        self.0.index.source
    }
}

impl Traced for Area<'_> {
    fn source(&self) -> SourceRow {
        self.1.at.source
    }
}
