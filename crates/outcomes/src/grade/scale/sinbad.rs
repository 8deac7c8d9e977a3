//! The SINBAD score, on a plain table.

use super::graded::because;
use super::item::{Item, ItemKind, Spelling, same};
use super::items::{
    AREA, DEPTH_WORDS, LENGTH, PLAIN, PULSES, SITE, WIDTH, depth_of, is_behind_forefoot,
};
use super::risk_tier::{SENSATION, is_sensation_lost};
use super::{Answers, Cell, ColumnWords, GradeOptions, Graded, Scale, ScaleMethod};
use crate::grade::{LesionDepth, SinbadItems, area_from_lengths_cm2, sinbad};

pub(super) const SCALE: Scale = Scale {
    id: "sinbad",
    also: &[],
    title: "SINBAD score",
    words: "number of items that score 1, 0 to 6; 3 or more is severe",
    rules: &[
        "1 each for: site midfoot or hindfoot; ischaemia (pedal blood flow clinically reduced, at least one pulse palpable is \
         0); neuropathy (protective sensation lost); bacterial infection; area of 1 square cm or more (exactly 1 scores 1); \
         depth to muscle, tendon or deeper.",
        "With m items missing the score is s to s + m. Severe is yes from 3, no where even the highest is below 3, else unknown.",
        "Area: `area_cm2` counts before length and width, and both before `area`.",
    ],
    items: &[
        SITE,
        Item {
            name: "ischaemia",
            words: "clinical evidence of reduced pedal blood flow",
            kind: PLAIN,
            also: &[same("ischemia")],
        },
        PULSES,
        Item {
            name: "neuropathy",
            words: "protective sensation lost",
            kind: ItemKind::YesNo {
                yes: &["lost", "impaired"],
                no: &["intact", "normal"],
            },
            also: &[same("lops"), same("sensation_lost")],
        },
        Item {
            name: "sensation",
            words: "protective sensation as tested; read where `neuropathy` is not recorded",
            kind: ItemKind::Word(SENSATION),
            also: &[same("monofilament"), same("protective_sensation")],
        },
        Item {
            name: "bacterial_infection",
            words: "bacterial infection present",
            kind: ItemKind::YesNo {
                yes: &["mild", "moderate", "severe", "infected"],
                no: &["uninfected", "clean"],
            },
            also: &[same("infection"), same("infected")],
        },
        Item {
            name: "area",
            words: "area of 1 square cm or more, as yes or no; sizes belong in `area_cm2`",
            kind: PLAIN,
            also: &[same("area_1cm2_or_more")],
        },
        AREA,
        LENGTH,
        WIDTH,
        Item {
            name: "depth",
            words: "deepest tissue reached; 1 for muscle, tendon or deeper",
            kind: ItemKind::Word(&[
                DEPTH_WORDS,
                &[
                    Spelling {
                        code: "not-deep",
                        also: &["0", "no"],
                    },
                    Spelling {
                        code: "deeper",
                        also: &["1", "yes"],
                    },
                ],
            ]),
            also: &[same("tissue_depth")],
        },
    ],
    columns: &[
        ColumnWords {
            name: "severe",
            words: "yes, no or unknown: 3 or more",
        },
        ColumnWords {
            name: "n_missing",
            words: "number of the six items that are not recorded",
        },
        ColumnWords {
            name: "items",
            words: "the six items, which are to be reported beside the total",
        },
    ],
    source: "Ince et al., Diabetes Care 2008;31:964-967; item table in World J Diabetes 2022;13:1049, table 4",
    caution: "For communication and audit of groups, not for the prognosis of a person (IWGDF 2023).",
    method: ScaleMethod::Row(grade),
};

fn grade(row: &Answers<'_>, options: &GradeOptions) -> Graded {
    let by_lengths = || {
        let (length, width) = (row.number("length_cm")?, row.number("width_cm")?);
        Some(area_from_lengths_cm2(length, width, options.area_formula))
    };
    let size = row.number("area_cm2").or_else(by_lengths);
    let depth = match row.word("depth") {
        Some("deeper") => Some(true),
        Some("not-deep") => Some(false),
        _ => depth_of(row).map(|depth| depth >= LesionDepth::TendonOrMuscle),
    };
    let items = SinbadItems {
        site: is_behind_forefoot(row),
        ischaemia: row
            .is("ischaemia")
            .or_else(|| row.word("pulses").map(|word| word == "absent")),
        neuropathy: is_sensation_lost(row, "neuropathy"),
        bacterial_infection: row.is("bacterial_infection"),
        area: size.map(|size| size >= 1.0).or_else(|| row.is("area")),
        depth,
    };
    let named = [
        ("site", items.site),
        ("ischaemia", items.ischaemia),
        ("neuropathy", items.neuropathy),
        ("bacterial infection", items.bacterial_infection),
        ("area", items.area),
        ("depth", items.depth),
    ];
    let n_missing = named.iter().filter(|(_, item)| item.is_none()).count();
    let scores: Vec<String> = named
        .iter()
        .map(|(name, item)| match item {
            Some(scores) => format!("{name} {}", u8::from(*scores)),
            None => format!("{name} not recorded"),
        })
        .collect();
    let short: Vec<&str> = named
        .iter()
        .map(|(_, item)| match item {
            Some(true) => "1",
            Some(false) => "0",
            None => "?",
        })
        .collect();
    let range = sinbad(&items);
    let possible: Vec<u8> = (range.lowest..=range.highest).collect();
    let mut why = scores;
    if let Some(size) = size {
        why.push(format!("size {} square cm", Cell::Number(size)));
    }
    let more = vec![
        Cell::answer(range.at_least(3)),
        Cell::Whole(u8::try_from(n_missing).unwrap_or(u8::MAX)),
        Cell::text(items_in_short(&short)),
    ];
    Graded::ordinal(&possible, 7, more, because(&why))
}

/// `S1 I0 N? B0 A1 D0`.
fn items_in_short(scores: &[&str]) -> String {
    let letters = ["S", "I", "N", "B", "A", "D"];
    let parts: Vec<String> = letters
        .iter()
        .zip(scores)
        .map(|(letter, score)| format!("{letter}{score}"))
        .collect();
    parts.join(" ")
}
