//! Which fields of the tables are counted for completeness, and when a field could have been recorded at all.

use outcomes::tables::{
    Attendance, Event, EventKind, FootExam, Patient, UlcerObservation, UlcerState, Visit,
};

/// A field of one table: whether a row could have it, and whether it has it.
#[derive(Clone, Copy)]
pub(crate) struct Completable<R> {
    pub(crate) field: &'static str,
    pub(crate) could_have: fn(&R) -> bool,
    pub(crate) has: fn(&R) -> bool,
}

/// Optional fields of a row, in groups that could be recorded on the same rows.
macro_rules! fields {
    ($row:ident: $($could_have:expr => $($field:ident),+;)+) => {
        &[$($(Completable {
            field: stringify!($field),
            could_have: $could_have,
            has: |row: &$row| row.$field.is_some(),
        }),+),+]
    };
}

/// Answers about a person that are kept as an optional value.
pub(crate) const PATIENT: &[Completable<Patient>] = fields!(Patient:
    |_| true => sex, diabetes_type, diabetes_year, referral_source, first_contact, renal_replacement, smoker,
        last_contact;
);

/// Answers about a person of which a "no" is an answer too.
pub(crate) const PATIENT_HISTORY: &[Completable<Patient>] = &[
    Completable {
        field: "birth_year",
        could_have: |_| true,
        has: |row| row.birth_year.is_some() || row.is_90_or_over,
    },
    Completable {
        field: "prior_ulcer",
        could_have: |_| true,
        has: |row| row.prior_ulcer.is_some() || row.prior_ulcer_denied.is_some(),
    },
    Completable {
        field: "prior_amputation",
        could_have: |_| true,
        has: |row| !row.prior_amputations.is_empty() || row.prior_amputation_denied.is_some(),
    },
];

/// An attendance.
pub(crate) const VISIT: &[Completable<Visit>] = fields!(Visit:
    |row| row.attendance == Attendance::Kept => clinic_site, clinician, clinician_role, setting, planned_return,
        hba1c_percent;
);

/// A foot examination.
pub(crate) const EXAM: &[Completable<FootExam>] = fields!(FootExam:
    |_| true => sensation, pulses, waveform, ankle_mmhg, brachial_mmhg, toe_mmhg, abi, tbi, tcpo2_mmhg, deformity,
        charcot, worn_size, measured_size, footwear_suitable;
);

/// An ulcer observation; sizes and treatment are asked of an open ulcer only.
pub(crate) const ULCER: &[Completable<UlcerObservation>] = fields!(UlcerObservation:
    |_| true => site, state, onset, origin;
    |row| row.state == Some(UlcerState::Open) => length_cm, width_cm, depth_cm, area_cm2, is_after_debridement,
        tissue_depth, gangrene, infection, probe_to_bone, osteomyelitis, debrided, cultured, antibiotic,
        offloading_prescribed, offloading_dispensed, dressing_on_arrival, dressing_carer;
);

/// An event; only some kinds have a side, and only amputations a height and a lesion.
pub(crate) const EVENT: &[Completable<Event>] = fields!(Event:
    |row| is_amputation(row) || row.kind == EventKind::Revascularisation => side;
    is_amputation => height, ulcer_label;
);

fn is_amputation(row: &Event) -> bool {
    matches!(
        row.kind,
        EventKind::MinorAmputation | EventKind::MajorAmputation
    )
}
