//! People and their risk tiers.

use super::{Columns, Export, Traced, of_people, patient, trace};
use crate::dataset::{Cell, DataTable, date, text, whole, yes_no};
use crate::derive::{PersonOutcomes, TierRecord};
use crate::tables::{Patient, SourceRow};

/// A row a person.
pub(super) fn persons<'a>(export: Export<'a>, people: &'a [PersonOutcomes<'a>]) -> DataTable {
    let mut columns: Columns<'a, &'a Patient> = vec![
        patient(),
        text("sex", "Sex", "Sex as recorded.", |row| {
            Cell::from(row.of.sex.map(|sex| sex.code()))
        }),
        whole(
            "birth_year",
            "Year of birth",
            "year",
            "Empty where it is not recorded or the person is 90 or over.",
            |row| Cell::from(row.of.birth_year.map(i64::from)),
        ),
        yes_no(
            "is_90_or_over",
            "90 or over",
            "Whether the export says 90 or over instead of a year.",
            |row| Cell::from(row.of.is_90_or_over),
        ),
        text("diabetes_type", "Diabetes type", "As recorded.", |row| {
            Cell::from(
                row.person
                    .person
                    .patient
                    .diabetes_type
                    .map(|kind| kind.code()),
            )
        }),
        whole(
            "diabetes_year",
            "Diabetes since",
            "year",
            "Year of diagnosis.",
            |row| Cell::from(row.of.diabetes_year.map(i64::from)),
        ),
        yes_no(
            "smoker",
            "Smoker",
            "Current smoker. Empty where nobody asked.",
            |row| Cell::from(row.of.smoker),
        ),
        yes_no(
            "renal_replacement",
            "Renal replacement",
            "On renal replacement or end-stage renal disease. Empty where nobody asked.",
            |row| {
                Cell::from(
                    row.person
                        .person
                        .patient
                        .renal_replacement
                        .map(|answer| answer.is_yes),
                )
            },
        ),
        text("referral_source", "Referred by", "Who sent them.", |row| {
            row.export.name(row.of.referral_source)
        }),
        date(
            "first_contact",
            "First contact",
            "First contact with any health professional for this problem.",
            |row| Cell::from(row.of.first_contact),
        ),
        date(
            "last_seen",
            "Last seen",
            "Last day on which somebody of the clinic saw them.",
            |row| Cell::from(row.person.person.last_seen()),
        ),
        date(
            "death",
            "Death",
            "As known to the practice. Empty is alive or not known.",
            |row| Cell::from(row.person.reading.facts.death),
        ),
        whole(
            "visits",
            "Visits",
            "count",
            "Attendances, missed ones included.",
            |row| Cell::from(row.person.person.visits.len() as u64),
        ),
        whole(
            "ulcers",
            "Ulcer episodes",
            "count",
            "Ulcer episodes, surgical wounds not counted.",
            |row| {
                let episodes = row.person.reading.episodes.iter();
                Cell::from(episodes.filter(|episode| !episode.is_post_surgical).count() as u64)
            },
        ),
        text(
            "strata",
            "Other strata",
            "What else the layout names: stratum and value.",
            |row| {
                let strata = row.of.strata.iter();
                let names = &row.export.tables.names;
                let said = strata.map(|(stratum, value)| {
                    format!("{}: {}", names.get(*stratum), names.get(*value))
                });
                Cell::from(said.collect::<Vec<_>>().join("; "))
            },
        ),
    ];
    columns.extend(trace());
    let words = "A row a person of the export.";
    let rows = of_people(export, people, |person| [person.person.patient]);
    DataTable::new(["persons", "Persons", words], columns, rows)
}

/// A row an examination of the feet.
pub(super) fn tiers<'a>(export: Export<'a>, people: &'a [PersonOutcomes<'a>]) -> DataTable {
    let mut columns: Columns<'a, TierRecord> = vec![
        patient(),
        date("examined", "Examined", "Day of the examination.", |row| {
            Cell::from(row.of.at)
        }),
        whole(
            "tier_lowest",
            "Risk tier, lowest",
            "tier",
            "Lowest risk tier (0 to 3) that the recorded items allow.",
            |row| Cell::from(u32::from(row.of.tier.lowest)),
        ),
        whole(
            "tier_highest",
            "Risk tier, highest",
            "tier",
            "Highest risk tier that the recorded items allow; equal to the lowest where the tier is known.",
            |row| Cell::from(u32::from(row.of.tier.highest)),
        ),
        yes_no(
            "sensation_lost",
            "Sensation lost",
            "Loss of protective sensation in either foot. Empty where it is not known.",
            |row| Cell::from(row.of.items.sensation_lost),
        ),
        yes_no(
            "arterial_disease",
            "Arterial disease",
            "Peripheral arterial disease in either leg. Empty where it is not known.",
            |row| Cell::from(row.of.items.arterial_disease),
        ),
        yes_no(
            "deformity",
            "Deformity",
            "Foot deformity. Empty where it is not known.",
            |row| Cell::from(row.of.items.deformity),
        ),
        yes_no(
            "prior_ulcer",
            "Earlier ulcer",
            "History of foot ulcer, dated before the examination. Empty where it is not known.",
            |row| Cell::from(row.of.items.prior_ulcer),
        ),
        yes_no(
            "prior_amputation",
            "Earlier amputation",
            "History of amputation, dated before the examination. Empty where it is not known.",
            |row| Cell::from(row.of.items.prior_amputation),
        ),
        yes_no(
            "renal_disease",
            "Renal disease",
            "End-stage renal disease. Empty where it is not known.",
            |row| Cell::from(row.of.items.renal_disease),
        ),
    ];
    columns.extend(trace());
    let words = "A row a day on which the feet were examined: the risk tier and what it was made from, as known then.";
    let rows = of_people(export, people, |person| person.reading.tiers(export.rules));
    DataTable::new(["risk-tiers", "Risk tiers", words], columns, rows)
}

impl Traced for TierRecord {
    fn source(&self) -> SourceRow {
        self.at.source
    }
}

impl Traced for &Patient {
    fn source(&self) -> SourceRow {
        self.source
    }
}
