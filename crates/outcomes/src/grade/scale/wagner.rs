//! The Wagner classification, on a plain table.

use super::graded::{because, said};
use super::item::{Item, same};
use super::items::{DEPTH, GANGRENE, OSTEOMYELITIS, PLAIN, depth_of, gangrene_of};
use super::{Answers, GradeOptions, Graded, Scale, ScaleMethod};
use crate::grade::{GangreneExtent, WagnerItems, any_of, wagner_grades};

pub(super) const SCALE: Scale = Scale {
    id: "wagner",
    also: &["wagner-meggitt", "meggitt-wagner"],
    title: "Wagner classification",
    words: "grade 0 to 5",
    rules: &[
        "0: skin intact. 1: superficial (skin and subcutaneous tissue). 2: to tendon, capsule or bone, without abscess, osteomyelitis or joint sepsis. 3: deep with one of them. 4: gangrene of toes, forefoot or heel. 5: gangrene of the whole foot; \"extensive\" does not tell 4 from 5.",
        "A deep infection in an ulcer recorded as superficial is contradictory and gives 1 or 3. A missing item leaves every grade it allows; unrecorded gangrene leaves 4 and 5 possible.",
    ],
    items: &[
        DEPTH,
        Item {
            name: "abscess",
            words: "abscess",
            kind: PLAIN,
            also: &[],
        },
        OSTEOMYELITIS,
        Item {
            name: "joint_sepsis",
            words: "septic arthritis",
            kind: PLAIN,
            also: &[same("septic_arthritis")],
        },
        Item {
            name: "deep_infection",
            words: "abscess, osteomyelitis or joint sepsis, in one column",
            kind: PLAIN,
            also: &[same("abscess_or_osteomyelitis")],
        },
        GANGRENE,
    ],
    columns: &[],
    source: "Wagner-Meggitt as printed in BMC Surgery 2021, table 4, and World J Diabetes 2022;13:1049, table 1; heel gangrene as 4 by some authors",
    caution: "It ignores blood supply in grades 1 to 3.",
    method: ScaleMethod::Row(grade),
};

fn grade(row: &Answers<'_>, _: &GradeOptions) -> Graded {
    let parts = [
        row.is("abscess"),
        row.is("osteomyelitis"),
        row.is("joint_sepsis"),
    ];
    let gangrene = gangrene_of(row);
    let items = WagnerItems {
        depth: depth_of(row),
        deep_infection: match row.is("deep_infection") {
            Some(false) if parts.contains(&Some(true)) => Some(true),
            Some(known) => Some(known),
            None => any_of(&parts),
        },
        gangrene,
    };
    let why = [
        format!("depth {}", row.word("depth").unwrap_or("not recorded")),
        said("deep infection", items.deep_infection),
        format!(
            "gangrene {}",
            gangrene.map_or("not recorded", GangreneExtent::code)
        ),
    ];
    Graded::ordinal(&wagner_grades(&items), 6, Vec::new(), because(&why))
}
