//! What the practice's records hold of one person. Days are whole days from data start.

use crate::words::{
    Attendance, Carer, Gangrene, Height, Infection, Kind, Origin, Precision, Pulses, Role, SeenBy,
    SeenState, Sensation, Setting, Side, Tissue, Waveform,
};

/// One row of the records: an appointment, or an administrative note.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Row {
    pub(crate) day: i32,
    pub(crate) attendance: Attendance,
    pub(crate) setting: Setting,
    pub(crate) role: Role,
    pub(crate) clinician: u32,
    pub(crate) next_day: Option<i32>,
    pub(crate) hba1c_mmol: Option<f64>,
    /// Left, right.
    pub(crate) feet: [Option<Foot>; 2],
    /// In order of their labels, four at most.
    pub(crate) ulcers: Vec<Ulcer>,
    /// Two at most.
    pub(crate) events: Vec<Event>,
}

impl Row {
    /// A row with nothing in it yet.
    pub(crate) fn empty(day: i32, attendance: Attendance, clinician: u32) -> Self {
        Self {
            day,
            attendance,
            setting: Setting::Clinic,
            role: Role::Podiatrist,
            clinician,
            next_day: None,
            hba1c_mmol: None,
            feet: [None, None],
            ulcers: Vec::new(),
            events: Vec::new(),
        }
    }
}

/// One foot as examined.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Foot {
    pub(crate) sensation: Option<Sensation>,
    pub(crate) pulses: Option<Pulses>,
    pub(crate) waveform: Option<Waveform>,
    pub(crate) ankle_mmhg: Option<f64>,
    pub(crate) brachial_mmhg: Option<f64>,
    pub(crate) toe_mmhg: Option<f64>,
    pub(crate) abi: Option<f64>,
    pub(crate) tbi: Option<f64>,
    pub(crate) tcpo2_mmhg: Option<f64>,
    pub(crate) deformity: Option<bool>,
    pub(crate) charcot: Option<bool>,
    pub(crate) worn_size: Option<f64>,
    pub(crate) measured_size: Option<f64>,
    pub(crate) shoe_suitable: Option<bool>,
}

/// One lesion as seen.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Ulcer {
    /// Position among the lesions of the course.
    pub(crate) lesion: usize,
    /// Position of its label among the labels given to this person.
    pub(crate) label: usize,
    pub(crate) side: Side,
    pub(crate) site: usize,
    /// Open and examined by a clinician, so that there is something to measure.
    pub(crate) is_examined: bool,
    pub(crate) onset_day: Option<i32>,
    pub(crate) precision: Option<Precision>,
    pub(crate) origin: Option<Origin>,
    /// Label it split from, or that it replaced as a surgical wound.
    pub(crate) parent: Option<usize>,
    /// Label it has become part of.
    pub(crate) merged_into: Option<usize>,
    pub(crate) length_mm: Option<f64>,
    pub(crate) width_mm: Option<f64>,
    pub(crate) depth_mm: Option<f64>,
    pub(crate) area_cm2: Option<f64>,
    pub(crate) after_debridement: Option<bool>,
    pub(crate) tissue: Option<Tissue>,
    pub(crate) gangrene: Option<Gangrene>,
    pub(crate) infection: Option<Infection>,
    pub(crate) probe_to_bone: Option<bool>,
    pub(crate) osteomyelitis: Option<bool>,
    pub(crate) state: Option<SeenState>,
    pub(crate) seen_by: SeenBy,
    pub(crate) debrided: Option<bool>,
    pub(crate) cultured: Option<bool>,
    pub(crate) antibiotic: Option<bool>,
    pub(crate) offloading_prescribed: Option<bool>,
    pub(crate) offloading_dispensed: Option<bool>,
    pub(crate) dressing_on_arrival: Option<bool>,
    pub(crate) dressing_carer: Option<Carer>,
}

/// Something that happened, as the practice learnt it.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Event {
    pub(crate) kind: Kind,
    pub(crate) day: i32,
    pub(crate) side: Option<Side>,
    pub(crate) height: Option<Height>,
    pub(crate) label: Option<usize>,
    pub(crate) is_staged: bool,
}

/// Rounded as a ratio is charted.
pub(crate) fn two_decimals(value: f64) -> f64 {
    (value * 100.0).round() / 100.0
}
