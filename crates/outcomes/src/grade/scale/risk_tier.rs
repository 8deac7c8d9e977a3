//! The IWGDF risk tier, on a plain table.

use super::graded::{because, said};
use super::item::{Item, ItemKind, Spelling, same};
use super::items::PLAIN;
use super::{Answers, Cell, ColumnWords, GradeOptions, Graded, Scale, ScaleMethod};
use crate::grade::{
    ScreeningInterval, TierItems, is_contradictory, possible_tiers, screening_interval,
};

pub(super) const SCALE: Scale = Scale {
    id: "risk-tier",
    also: &["iwgdf-risk", "iwgdf", "iwgdf-risk-tier", "tier"],
    title: "IWGDF risk tier",
    words: "tier 0 (very low) to 3 (high); \"active ulcer\" where an ulcer is open",
    rules: &[
        "0: neither protective sensation lost nor arterial disease. 1: one of them. 2: both, or one of them with deformity. \
         3: one of them and a history of ulcer, of amputation (minor or major) or end-stage renal disease.",
        "A missing item leaves every tier it allows; an item that cannot matter leaves the tier known.",
        "A history of ulcer or amputation with intact sensation and blood supply is contradictory by the letter and gives \
         0 or 3, never a silent 0.",
        "An open ulcer is a state, not a tier. An unrecorded `active_ulcer` is read as a foot without an open ulcer.",
    ],
    items: &[
        Item {
            name: "lops",
            words: "protective sensation lost",
            kind: ItemKind::YesNo {
                yes: &["lost", "impaired"],
                no: &["intact", "normal"],
            },
            also: &[
                same("loss_of_protective_sensation"),
                same("neuropathy"),
                same("sensation_lost"),
            ],
        },
        Item {
            name: "sensation",
            words: "protective sensation as tested; read where `lops` is not recorded",
            kind: ItemKind::Word(SENSATION),
            also: &[same("monofilament"), same("protective_sensation")],
        },
        Item {
            name: "pad",
            words: "peripheral arterial disease",
            kind: PLAIN,
            also: &[
                same("peripheral_artery_disease"),
                same("peripheral_arterial_disease"),
                same("arterial_disease"),
            ],
        },
        Item {
            name: "deformity",
            words: "foot deformity, limited joint mobility included",
            kind: PLAIN,
            also: &[same("foot_deformity")],
        },
        Item {
            name: "prior_ulcer",
            words: "history of foot ulcer",
            kind: PLAIN,
            also: &[
                same("ulcer_history"),
                same("history_of_ulcer"),
                same("previous_ulcer"),
                same("past_ulcer"),
            ],
        },
        Item {
            name: "prior_amputation",
            words: "history of lower-extremity amputation, minor or major",
            kind: ItemKind::YesNo {
                yes: &["minor", "major"],
                no: &[],
            },
            also: &[
                same("amputation_history"),
                same("history_of_amputation"),
                same("previous_amputation"),
                same("amputation"),
            ],
        },
        Item {
            name: "esrd",
            words: "end-stage renal disease or renal replacement",
            kind: PLAIN,
            also: &[
                same("end_stage_renal_disease"),
                same("renal_replacement"),
                same("dialysis"),
                same("eskd"),
            ],
        },
        Item {
            name: "active_ulcer",
            words: "an ulcer is open now",
            kind: PLAIN,
            also: &[same("open_ulcer"), same("current_ulcer")],
        },
    ],
    columns: &[
        ColumnWords {
            name: "screening_months",
            words: "months between screenings of the tier, shortest to longest",
        },
        ColumnWords {
            name: "inconsistent_inputs",
            words: "yes where a history stands beside intact sensation and blood supply",
        },
    ],
    source: "Bus et al., IWGDF prevention guideline 2023, Diabetes Metab Res Rev 2024;40(3):e3651 (same tiers as 2019)",
    caution: "Older tables (2007, 2015) number the tiers differently. A tier decides how often feet are looked at; it is no \
              prognosis.",
    method: ScaleMethod::Row(grade),
};

/// Protective sensation as tested.
pub(super) const SENSATION: &[&[Spelling]] = &[&[
    Spelling {
        code: "intact",
        also: &["normal", "present", "felt", "1", "yes"],
    },
    Spelling {
        code: "lost",
        also: &["absent", "impaired", "reduced", "not-felt", "0", "no"],
    },
]];

/// Sensation lost, by either of its two items.
pub(super) fn is_sensation_lost(row: &Answers<'_>, item: &str) -> Option<bool> {
    row.is(item)
        .or_else(|| row.word("sensation").map(|word| word == "lost"))
}

fn grade(row: &Answers<'_>, _: &GradeOptions) -> Graded {
    let items = TierItems {
        sensation_lost: is_sensation_lost(row, "lops"),
        arterial_disease: row.is("pad"),
        deformity: row.is("deformity"),
        prior_ulcer: row.is("prior_ulcer"),
        prior_amputation: row.is("prior_amputation"),
        renal_disease: row.is("esrd"),
    };
    let mut why = vec![
        said("lops", items.sensation_lost),
        said("pad", items.arterial_disease),
        said("deformity", items.deformity),
        said("prior ulcer", items.prior_ulcer),
        said("prior amputation", items.prior_amputation),
        said("esrd", items.renal_disease),
    ];
    let is_inconsistent = is_contradictory(&items);
    if is_inconsistent {
        why.push("a history beside intact sensation and blood supply is contradictory".to_owned());
    }
    let inconsistent = Cell::text(if is_inconsistent { "yes" } else { "no" });
    if row.is("active_ulcer") == Some(true) {
        why.insert(0, "an open ulcer is a state, not a tier".to_owned());
        return Graded {
            grade: Cell::Empty,
            shown: "active ulcer".to_owned(),
            lowest: Cell::Empty,
            highest: Cell::Empty,
            more: vec![Cell::Empty, inconsistent],
            why: because(&why),
        };
    }
    let possible = possible_tiers(&items);
    let every = match possible.as_slice() {
        [tier] => screening_interval(*tier).map(interval),
        _ => None,
    };
    let more = vec![every.map_or(Cell::Empty, Cell::Text), inconsistent];
    Graded::ordinal(&possible, 4, more, because(&why))
}

fn interval(every: ScreeningInterval) -> String {
    if every.shortest_months == every.longest_months {
        every.longest_months.to_string()
    } else {
        format!("{} to {}", every.shortest_months, every.longest_months)
    }
}
