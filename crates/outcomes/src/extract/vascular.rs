//! Vascular pathways.

use super::{Columns, Export, Row, Traced, of_people, patient, trace};
use crate::dataset::{Cell, DataTable, date, text, whole};
use crate::derive::{PersonOutcomes, Step, VascularPathway};
use crate::tables::SourceRow;

type Pathway<'a> = &'a VascularPathway;

/// Day and date of a step.
macro_rules! step {
    ($date:literal, $day:literal, $title:literal, $field:ident) => {{
        fn step(row: &Row<'_, Pathway<'_>>) -> Option<Step> {
            row.of.$field
        }
        [
            date(
                $date,
                $title,
                "Day of the step. Empty where it is not known to have happened.",
                |row| Cell::from(step(row).map(|step| step.at)),
            ),
            whole(
                $day,
                concat!($title, ", day"),
                "days",
                "Whole days from the trigger; a step before it is day 0.",
                |row| Cell::from(step(row).map(|step| step.day)),
            ),
        ]
    }};
}

/// A row a limb that met a trigger.
pub(super) fn pathways<'a>(export: Export<'a>, people: &'a [PersonOutcomes<'a>]) -> DataTable {
    let mut columns: Columns<'a, Pathway<'a>> = vec![
        patient(),
        text("side", "Side", "left or right.", |row| {
            Cell::from(row.of.side.code())
        }),
        text("trigger", "Trigger", "The first trigger met.", |row| {
            Cell::from(row.of.trigger.code())
        }),
        date(
            "triggered",
            "Trigger met",
            "Day it was met; day 0.",
            |row| Cell::from(row.of.at),
        ),
    ];
    columns.extend(step!("screen", "screen_day", "Bedside screen", screen));
    columns.extend(step!("study", "study_day", "Physiologic study", study));
    columns.extend(step!("imaging", "imaging_day", "Imaging", imaging));
    columns.extend(step!(
        "referral",
        "referral_day",
        "Vascular referral",
        referral
    ));
    columns.extend(step!("seen", "seen_day", "Seen by vascular service", seen));
    columns.extend(step!(
        "revascularisation",
        "revascularisation_day",
        "Revascularisation",
        revascularisation
    ));
    columns.extend([
        date(
            "limb_healed",
            "Limb healed",
            "Every wound of the limb closed.",
            |row: &Row<'_, Pathway<'_>>| Cell::from(row.of.limb_healed),
        ),
        date(
            "major_amputation",
            "Major amputation",
            "Of the limb.",
            |row| Cell::from(row.of.major_amputation),
        ),
        date("death", "Death", "As known to the practice.", |row| {
            Cell::from(row.of.death)
        }),
        date(
            "last_seen",
            "Last seen",
            "Last day somebody of the clinic saw the person.",
            |row| Cell::from(row.of.last_seen),
        ),
    ]);
    columns.extend(trace());
    let words = "A row a limb that met a vascular trigger while it had an open ulcer, and what is known to have followed, in whatever order.";
    let rows = of_people(export, people, |person| person.pathways.iter());
    DataTable::new(
        ["vascular-pathways", "Vascular pathways", words],
        columns,
        rows,
    )
}

impl Traced for Pathway<'_> {
    fn source(&self) -> SourceRow {
        self.at.source
    }
}
