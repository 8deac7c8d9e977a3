//! Examinations of one foot at one visit.

use super::{PatientKey, Side, SourceRow};
use crate::coded;
use chrono::NaiveDate;

coded! {
    /// Protective sensation as tested (10-g monofilament or an equivalent test).
    pub enum Sensation { Intact = "intact", Lost = "lost" }
}

coded! {
    /// Pedal pulses by palpation: `Palpable` when at least one of the two is felt.
    pub enum Pulses { Palpable = "palpable", Absent = "absent" }
}

coded! {
    /// Doppler waveform at the foot or ankle.
    pub enum Waveform { Triphasic = "triphasic", Biphasic = "biphasic", Monophasic = "monophasic", Absent = "absent" }
}

/// Examination of one foot at one visit.
#[derive(Debug, Clone, PartialEq)]
pub struct FootExam {
    /// Who.
    pub patient: PatientKey,
    /// When.
    pub date: NaiveDate,
    /// Which foot.
    pub side: Side,
    /// Protective sensation.
    pub sensation: Option<Sensation>,
    /// Pedal pulses by palpation.
    pub pulses: Option<Pulses>,
    /// Doppler waveform.
    pub waveform: Option<Waveform>,
    /// Higher ankle systolic pressure of this leg, mmHg.
    pub ankle_mmhg: Option<f32>,
    /// Higher brachial systolic pressure, mmHg.
    pub brachial_mmhg: Option<f32>,
    /// Toe systolic pressure, mmHg.
    pub toe_mmhg: Option<f32>,
    /// Ankle-brachial index as recorded.
    pub abi: Option<f32>,
    /// Toe-brachial index as recorded.
    pub tbi: Option<f32>,
    /// Transcutaneous oxygen pressure, mmHg.
    pub tcpo2_mmhg: Option<f32>,
    /// Foot deformity, limited joint mobility included.
    pub deformity: Option<bool>,
    /// Charcot neuro-osteoarthropathy.
    pub charcot: Option<bool>,
    /// Shoe size worn, as recorded (US sizes).
    pub worn_size: Option<f32>,
    /// Foot size measured on a device, as recorded (US sizes).
    pub measured_size: Option<f32>,
    /// Footwear judged suitable.
    pub footwear_suitable: Option<bool>,
    /// The row.
    pub source: SourceRow,
}

impl FootExam {
    /// An exam of which nothing has been recorded yet.
    pub fn new(patient: PatientKey, date: NaiveDate, side: Side, source: SourceRow) -> Self {
        Self {
            patient,
            date,
            side,
            sensation: None,
            pulses: None,
            waveform: None,
            ankle_mmhg: None,
            brachial_mmhg: None,
            toe_mmhg: None,
            abi: None,
            tbi: None,
            tcpo2_mmhg: None,
            deformity: None,
            charcot: None,
            worn_size: None,
            measured_size: None,
            footwear_suitable: None,
            source,
        }
    }
}
