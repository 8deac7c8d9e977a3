//! The fields of a foot examination that an export can fill.

use super::{Field, Kind, codes_of};
use crate::quantity::Quantity;
use outcomes::tables::{FootExam, Pulses, Sensation, Side, Waveform};

/// A foot examination under construction.
#[derive(Debug, Clone)]
pub(crate) struct ExamDraft {
    /// The side as read from a cell; `None` where the layout's block fixes it.
    pub(crate) side: Option<Side>,
    /// Everything else.
    pub(crate) exam: FootExam,
}

/// Fields of a foot examination.
pub(crate) const EXAM_FIELDS: &[Field<ExamDraft>] = &[
    Field::new(
        "side",
        Kind::Code(codes_of!(Side), |row, code| {
            row.side = Side::from_code(code)
        }),
    ),
    Field::new(
        "sensation",
        Kind::Code(codes_of!(Sensation), |row, code| {
            row.exam.sensation = Sensation::from_code(code)
        }),
    ),
    Field::new(
        "pulses",
        Kind::Code(codes_of!(Pulses), |row, code| {
            row.exam.pulses = Pulses::from_code(code)
        }),
    ),
    Field::new(
        "waveform",
        Kind::Code(codes_of!(Waveform), |row, code| {
            row.exam.waveform = Waveform::from_code(code)
        }),
    ),
    Field::new(
        "ankle_pressure",
        Kind::Number(Quantity::Pressure, |row, value| {
            row.exam.ankle_mmhg = Some(value)
        }),
    ),
    Field::new(
        "brachial_pressure",
        Kind::Number(Quantity::Pressure, |row, value| {
            row.exam.brachial_mmhg = Some(value)
        }),
    ),
    Field::new(
        "toe_pressure",
        Kind::Number(Quantity::Pressure, |row, value| {
            row.exam.toe_mmhg = Some(value)
        }),
    ),
    Field::new(
        "abi",
        Kind::Number(Quantity::PressureIndex, |row, value| {
            row.exam.abi = Some(value)
        }),
    ),
    Field::new(
        "tbi",
        Kind::Number(Quantity::PressureIndex, |row, value| {
            row.exam.tbi = Some(value)
        }),
    ),
    Field::new(
        "tcpo2",
        Kind::Number(Quantity::OxygenPressure, |row, value| {
            row.exam.tcpo2_mmhg = Some(value)
        }),
    ),
    Field::new(
        "deformity",
        Kind::Flag(|row, value| row.exam.deformity = Some(value)),
    ),
    Field::new(
        "charcot",
        Kind::Flag(|row, value| row.exam.charcot = Some(value)),
    ),
    Field::new(
        "worn_size",
        Kind::Number(Quantity::ShoeSize, |row, value| {
            row.exam.worn_size = Some(value)
        }),
    ),
    Field::new(
        "measured_size",
        Kind::Number(Quantity::ShoeSize, |row, value| {
            row.exam.measured_size = Some(value)
        }),
    ),
    Field::new(
        "footwear_suitable",
        Kind::Flag(|row, value| row.exam.footwear_suitable = Some(value)),
    ),
];
