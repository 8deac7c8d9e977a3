//! The fields of an ulcer observation that an export can fill.

use super::{Codes, Field, Kind, PublishedCode, codes_of};
use crate::code_tables::CodeSystem;
use crate::dates::first_day_of;
use crate::quantity::Quantity;
use outcomes::tables::{
    Aspect, DatePrecision, Dated, DressingCarer, FootSite, Gangrene, InfectionGrade, NameId, Onset,
    Origin, Region, SeenBy, Side, TissueDepth, UlcerObservation, UlcerState,
};

/// An ulcer observation under construction.
#[derive(Debug, Clone)]
pub(crate) struct UlcerDraft {
    pub(crate) label: Option<NameId>,
    pub(crate) side: Option<Side>,
    /// Its diagnosis.
    pub(crate) diagnosis: Option<PublishedCode>,
    /// Everything else.
    pub(crate) seen: UlcerObservation,
}

/// A site is a composite spelling; messages list its regions.
const SITES: Codes = Codes {
    is_known: |code| FootSite::from_code(code).is_some(),
    spellings: || Region::ALL.iter().map(|region| region.code()).collect(),
};

/// Fields of an ulcer observation. Later fields may refine earlier ones: the aspect a site, the precision an onset.
pub(crate) const ULCER_FIELDS: &[Field<UlcerDraft>] = &[
    Field::new("label", Kind::Name(|row, value| row.label = Some(value))),
    Field::new(
        "side",
        Kind::Code(codes_of!(Side), |row, code| {
            row.side = Side::from_code(code)
        }),
    ),
    Field::new(
        "site",
        Kind::Code(SITES, |row, code| row.seen.site = FootSite::from_code(code)),
    ),
    Field::new(
        "aspect",
        Kind::Code(codes_of!(Aspect), |row, code| {
            if let Some(site) = &mut row.seen.site {
                site.aspect = Aspect::from_code(code);
            }
        }),
    ),
    Field::new(
        "onset_date",
        Kind::PartialDate(|row, written| {
            row.seen.onset = Some(Onset {
                dated: Dated::new(written.date, row.seen.source),
                precision: written.precision,
            });
        }),
    ),
    Field::new(
        "onset_precision",
        Kind::Code(codes_of!(DatePrecision), |row, code| {
            if let (Some(onset), Some(precision)) =
                (&mut row.seen.onset, DatePrecision::from_code(code))
            {
                onset.precision = onset.precision.max(precision);
                onset.dated.date = first_day_of(onset.dated.date, onset.precision);
            }
        }),
    ),
    Field::new(
        "origin",
        Kind::Code(codes_of!(Origin), |row, code| {
            row.seen.origin = Origin::from_code(code)
        }),
    ),
    Field::new(
        "parent",
        Kind::Name(|row, value| row.seen.parent = Some(value)),
    ),
    Field::new(
        "merged_into",
        Kind::Name(|row, value| row.seen.merged_into = Some(value)),
    ),
    Field::new(
        "length",
        Kind::Number(Quantity::Length, |row, value| {
            row.seen.length_cm = Some(value)
        }),
    ),
    Field::new(
        "width",
        Kind::Number(Quantity::Length, |row, value| {
            row.seen.width_cm = Some(value)
        }),
    ),
    Field::new(
        "depth",
        Kind::Number(Quantity::Depth, |row, value| {
            row.seen.depth_cm = Some(value)
        }),
    ),
    Field::new(
        "area",
        Kind::Number(Quantity::Area, |row, value| row.seen.area_cm2 = Some(value)),
    ),
    Field::new(
        "is_after_debridement",
        Kind::Flag(|row, value| row.seen.is_after_debridement = Some(value)),
    ),
    Field::new(
        "tissue_depth",
        Kind::Code(codes_of!(TissueDepth), |row, code| {
            row.seen.tissue_depth = TissueDepth::from_code(code)
        }),
    ),
    Field::new(
        "gangrene",
        Kind::Code(codes_of!(Gangrene), |row, code| {
            row.seen.gangrene = Gangrene::from_code(code)
        }),
    ),
    Field::new(
        "infection",
        Kind::Code(codes_of!(InfectionGrade), |row, code| {
            row.seen.infection = InfectionGrade::from_code(code)
        }),
    ),
    Field::new(
        "probe_to_bone",
        Kind::Flag(|row, value| row.seen.probe_to_bone = Some(value)),
    ),
    Field::new(
        "osteomyelitis",
        Kind::Flag(|row, value| row.seen.osteomyelitis = Some(value)),
    ),
    Field::new(
        "state",
        Kind::Code(codes_of!(UlcerState), |row, code| {
            row.seen.state = UlcerState::from_code(code)
        }),
    ),
    Field::new(
        "seen_by",
        Kind::Code(codes_of!(SeenBy), |row, code| {
            if let Some(seen_by) = SeenBy::from_code(code) {
                row.seen.seen_by = seen_by;
            }
        }),
    ),
    Field::new(
        "debrided",
        Kind::Flag(|row, value| row.seen.debrided = Some(value)),
    ),
    Field::new(
        "cultured",
        Kind::Flag(|row, value| row.seen.cultured = Some(value)),
    ),
    Field::new(
        "antibiotic",
        Kind::Flag(|row, value| row.seen.antibiotic = Some(value)),
    ),
    Field::new(
        "offloading_prescribed",
        Kind::Flag(|row, value| row.seen.offloading_prescribed = Some(value)),
    ),
    Field::new(
        "offloading_dispensed",
        Kind::Flag(|row, value| row.seen.offloading_dispensed = Some(value)),
    ),
    Field::new(
        "dressing_on_arrival",
        Kind::Flag(|row, value| row.seen.dressing_on_arrival = Some(value)),
    ),
    Field::new(
        "dressing_carer",
        Kind::Code(codes_of!(DressingCarer), |row, code| {
            row.seen.dressing_carer = DressingCarer::from_code(code)
        }),
    ),
    Field::new(
        "icd_10_cm",
        Kind::Published(CodeSystem::Icd10Cm, |row, code| row.diagnosis = Some(code)),
    ),
];
