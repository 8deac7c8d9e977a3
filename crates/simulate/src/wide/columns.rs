//! The columns of the wide export, and its codebook.

/// A column of the wide export.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Column {
    /// Header.
    pub name: String,
    /// What it holds, with its unit.
    pub meaning: &'static str,
    /// How it is written: codes and their meaning.
    pub coding: &'static str,
}

type Plain = (&'static str, &'static str, &'static str);

pub(super) const DATE: &str = "day-first date, `03/11/2025`";
pub(super) const YES_NO: &str = "Y yes, N no";
const MM: &str = "whole number";

const BEFORE_FEET: &[Plain] = &[
    ("pat_ref", "pseudonymous id", "TW-00042"),
    (
        "yob",
        "year of birth",
        "year; 90+ for people of 90 and over",
    ),
    ("sex", "sex", "F, M, X other"),
    ("dm_type", "diabetes type", "T1, T2, OTH other"),
    ("dm_year", "year of diabetes diagnosis", "year"),
    (
        "ref_src",
        "who sent the patient",
        "GP general practice, HOSP hospital, CN community nurse, SELF",
    ),
    (
        "first_contact",
        "first contact with any health professional for this problem",
        DATE,
    ),
    ("rrt", "on renal replacement", YES_NO),
    ("smoke", "smoking", "C current, E ex-smoker, N never"),
    ("prev_ulcer", "foot ulcer before these records", YES_NO),
    (
        "l_prev_amp",
        "amputation of the left leg before these records",
        "N none, MIN minor, MAJ major",
    ),
    (
        "r_prev_amp",
        "amputation of the right leg before these records",
        "N none, MIN minor, MAJ major",
    ),
    ("dod", "date of death, where the practice was told", DATE),
    ("last_contact", "last kept visit", DATE),
    ("vis_date", "date of the row", DATE),
    ("clinic", "clinic site", "Quay, Hill"),
    ("clinician", "clinician key", "C1, C2 ..."),
    ("role", "role of the clinician", "POD podiatrist, NUR nurse"),
    (
        "setting",
        "where the patient was seen",
        "CL clinic, HV home visit, TEL telephone",
    ),
    (
        "attend",
        "attendance",
        "ATT kept, DNA missed, CNX cancelled, ADM administrative row, not a visit",
    ),
    ("next_appt", "date planned for the next visit", DATE),
    ("hba1c", "HbA1c, mmol/mol", "whole number"),
    ("room", "room; of no use to outcomes", "R1 to R4"),
    (
        "slot_min",
        "booked minutes; of no use to outcomes",
        "20, 30 or 45",
    ),
];

const FOOT: &[Plain] = &[
    (
        "mono",
        "protective sensation, 10-g monofilament",
        "1 felt, 0 not felt",
    ),
    ("pulse", "a pedal pulse can be felt", YES_NO),
    (
        "wave",
        "Doppler waveform",
        "TRI triphasic, BI biphasic, MONO monophasic, NIL absent",
    ),
    ("ankle", "ankle systolic pressure, mmHg", MM),
    (
        "brach",
        "higher brachial systolic pressure, mmHg, written with each foot",
        MM,
    ),
    ("toe", "toe systolic pressure, mmHg", MM),
    ("abi", "ankle-brachial index", "two decimals"),
    ("tbi", "toe-brachial index", "two decimals"),
    ("tcpo2", "transcutaneous oxygen pressure, mmHg", MM),
    ("deform", "foot deformity", YES_NO),
    ("charcot", "Charcot foot", YES_NO),
    ("worn", "shoe size worn, US", "halves"),
    ("meas", "foot size measured, US", "halves"),
    ("shoe_ok", "footwear suitable", YES_NO),
];

const ULCER: &[Plain] = &[
    (
        "ref",
        "the clinic's letter for this lesion, stable over visits",
        "A, B ...",
    ),
    ("side", "foot", "L, R"),
    (
        "site",
        "place on the foot: region and aspect",
        "see the site codes below",
    ),
    ("onset", "onset as told", DATE),
    (
        "onset_p",
        "how exactly the onset is known",
        "D day, W week (its Monday), M month (its first day)",
    ),
    (
        "origin",
        "how it came here",
        "N new, T transferred in, S surgical wound",
    ),
    (
        "from",
        "letter of the lesion it split from, or that it replaced as a surgical wound",
        "A, B ...",
    ),
    (
        "into",
        "letter of the lesion it has become part of",
        "A, B ...",
    ),
    ("len", "greatest length, mm", MM),
    ("wid", "width at a right angle, mm", MM),
    ("dep", "depth, mm", MM),
    (
        "area",
        "area traced, square cm; mostly blank",
        "two decimals",
    ),
    ("postdeb", "measured after debridement", YES_NO),
    (
        "tissue",
        "deepest tissue",
        "SK skin, SC subcutaneous, TM tendon or muscle, BJ bone or joint",
    ),
    ("gang", "gangrene", "0 none, 1 digits, 2 extensive"),
    (
        "inf",
        "infection grade",
        "0 none, 1 mild, 2 moderate, 3 severe",
    ),
    ("ptb", "probe-to-bone test positive", YES_NO),
    ("osteo", "osteomyelitis", YES_NO),
    (
        "state",
        "state of the lesion",
        "P pre-ulcerative, O open, C closed, X excised",
    ),
    (
        "by",
        "who saw the state",
        "CLN clinician, PT the patient's word, PH photograph",
    ),
    ("debrid", "debrided at this visit", YES_NO),
    ("swab", "swab or tissue sent", YES_NO),
    ("abx", "antibiotic started or continued", YES_NO),
    ("off_rx", "offloading prescribed", YES_NO),
    ("off_given", "offloading dispensed", YES_NO),
    ("dress", "dressing present on arrival", YES_NO),
    (
        "dress_by",
        "who changes the dressing",
        "PT patient, FAM family, HN home nurse, CL clinic",
    ),
];

const EVENT: &[Plain] = &[
    (
        "kind",
        "what happened",
        "SCR bedside vascular screen, PHY physiologic study, IMG vascular imaging, VREF vascular referral, VSEEN seen there, \
         REVASC revascularisation, AMIN minor amputation, AMAJ major amputation, ADMIT admission, SHOE footwear supplied, \
         OFFL offloading supplied, TROUT transfer out, RIP death",
    ),
    ("date", "when; may lie before the date of the row", DATE),
    ("side", "leg", "L, R"),
    ("level", "for amputations", "MIN minor, MAJ major"),
    (
        "height",
        "for amputations",
        "TOE toe, RAY ray, TMA transmetatarsal, BKA below knee, AKA above knee",
    ),
    ("ref", "letter of the lesion removed", "A, B ..."),
    (
        "staged",
        "planned stage or closure of an earlier operation",
        YES_NO,
    ),
];

/// Ulcers side by side in one row.
pub(crate) const N_ULCER_SLOTS: usize = 4;
/// Events side by side in one row.
pub(crate) const N_EVENT_SLOTS: usize = 2;

/// Every column of the wide export, in order.
pub fn wide_columns() -> Vec<Column> {
    let block = |prefix: String, columns: &'static [Plain]| {
        columns.iter().map(move |(name, meaning, coding)| Column {
            name: format!("{prefix}{name}"),
            meaning,
            coding,
        })
    };
    let mut columns: Vec<Column> = block(String::new(), BEFORE_FEET).collect();
    for side in ["l_", "r_"] {
        columns.extend(block(side.to_owned(), FOOT));
    }
    for slot in 1..=N_ULCER_SLOTS {
        columns.extend(block(format!("w{slot}_"), ULCER));
    }
    for slot in 1..=N_EVENT_SLOTS {
        columns.extend(block(format!("ev{slot}_"), EVENT));
    }
    columns
}

/// Number of columns of one block.
pub(crate) const fn n_foot_columns() -> usize {
    FOOT.len()
}

/// Number of columns of one ulcer.
pub(crate) const fn n_ulcer_columns() -> usize {
    ULCER.len()
}

/// Number of columns of one event.
pub(crate) const fn n_event_columns() -> usize {
    EVENT.len()
}

/// What every column and every site code means, as Markdown tables: what a clinic would hand over with its export.
pub fn codebook() -> String {
    let table = |title: &str, prefix: &str, columns: &[Plain]| {
        let rows: String = columns
            .iter()
            .map(|(name, meaning, coding)| format!("| `{prefix}{name}` | {meaning} | {coding} |\n"))
            .collect();
        format!("### {title}\n\n| Column | Meaning | Written as |\n|---|---|---|\n{rows}\n")
    };
    let sites: String = crate::words::SITES
        .iter()
        .map(|site| format!("| `{}` | `{}` |\n", site.clinic, site.ours))
        .collect();
    [
        table("Patient and visit", "", BEFORE_FEET),
        table("Each foot: `l_` left, `r_` right", "l_", FOOT),
        table("Each ulcer: `w1_` to `w4_`", "w1_", ULCER),
        table("Each event: `ev1_` and `ev2_`", "ev1_", EVENT),
        format!("### Site codes\n\n| Code | Our spelling |\n|---|---|\n{sites}"),
    ]
    .concat()
}
