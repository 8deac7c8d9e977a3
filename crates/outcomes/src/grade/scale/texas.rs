//! The University of Texas classification, on a plain table.

use super::graded::because;
use super::item::{Item, ItemKind, Spelling, same};
use super::items::{DEPTH_WORDS, PLAIN, depth_of};
use super::{Answers, Cell, ColumnWords, GradeOptions, Graded, Scale, ScaleMethod};
use crate::grade::{LesionDepth, TexasItems, texas_grades, texas_stages};

pub(super) const SCALE: Scale = Scale {
    id: "texas",
    also: &["university-of-texas", "ut"],
    title: "University of Texas classification",
    words: "grade 0 to 3 and stage A to D, for example 2B",
    rules: &[
        "Grade 0: epithelialised, before or after an ulcer. 1: superficial (skin and subcutaneous tissue). 2: to tendon or capsule. 3: to bone or joint; bone under the probe is 3 whatever depth was written.",
        "Stage A: neither infected nor ischaemic. B: infected. C: ischaemic. D: both.",
        "A missing item leaves every cell it allows; lowest and highest are the first and last of them in the order 0A, 0B, ... 3D.",
    ],
    items: &[
        Item {
            name: "depth",
            words: "deepest tissue reached, or the grade 0 to 3",
            kind: ItemKind::Word(&[
                DEPTH_WORDS,
                &[
                    Spelling {
                        code: "grade-0",
                        also: &["0"],
                    },
                    Spelling {
                        code: "grade-1",
                        also: &["1"],
                    },
                    Spelling {
                        code: "grade-2",
                        also: &["2"],
                    },
                    Spelling {
                        code: "grade-3",
                        also: &["3"],
                    },
                ],
            ]),
            also: &[same("tissue_depth"), same("ut_grade"), same("wound_depth")],
        },
        Item {
            name: "probe_to_bone",
            words: "bone felt with a probe",
            kind: PLAIN,
            also: &[same("ptb")],
        },
        Item {
            name: "infection",
            words: "infected",
            kind: ItemKind::YesNo {
                yes: &["mild", "moderate", "severe", "infected"],
                no: &["uninfected", "clean"],
            },
            also: &[same("infected"), same("bacterial_infection")],
        },
        Item {
            name: "ischaemia",
            words: "ischaemic",
            kind: ItemKind::YesNo {
                yes: &["ischaemic", "ischemic"],
                no: &[],
            },
            also: &[
                same("ischemia"),
                same("ischaemic"),
                same("ischemic"),
                same("pad"),
            ],
        },
    ],
    columns: &[
        ColumnWords {
            name: "ut_depth_grade",
            words: "grade 0 to 3, where known",
        },
        ColumnWords {
            name: "ut_stage",
            words: "stage A to D, or the stages that are possible",
        },
    ],
    source: "Lavery et al. 1996; Armstrong et al., Diabetes Care 1998;21:855-859; table in World J Diabetes 2022;13:1049, table 2",
    caution: "It does not tell how severe an infection or how poor the blood supply is.",
    method: ScaleMethod::Row(grade),
};

fn grade(row: &Answers<'_>, _: &GradeOptions) -> Graded {
    let depth = match row.word("depth") {
        Some("grade-0") => Some(LesionDepth::Intact),
        Some("grade-1") => Some(LesionDepth::Skin),
        Some("grade-2") => Some(LesionDepth::TendonOrMuscle),
        Some("grade-3") => Some(LesionDepth::BoneOrJoint),
        _ => depth_of(row),
    };
    let items = TexasItems {
        depth,
        probe_to_bone: row.is("probe_to_bone"),
        is_infected: row.is("infection"),
        is_ischaemic: row.is("ischaemia"),
    };
    let grades = texas_grades(&items);
    let stages = texas_stages(&items);
    let cells: Vec<String> = grades
        .iter()
        .flat_map(|grade| stages.iter().map(move |stage| format!("{grade}{stage}")))
        .collect();
    let possible: Vec<&str> = cells.iter().map(String::as_str).collect();
    let mut why = vec![format!(
        "depth {}",
        row.word("depth").unwrap_or("not recorded")
    )];
    if items.probe_to_bone == Some(true) {
        why.push("bone under the probe".to_owned());
    }
    why.push(super::graded::said("infection", items.is_infected));
    why.push(super::graded::said("ischaemia", items.is_ischaemic));
    let stage_words: Vec<&str> = stages.iter().map(|stage| stage.code()).collect();
    let depth_grade = match grades.as_slice() {
        [grade] => Cell::Whole(*grade),
        _ => Cell::Empty,
    };
    Graded::named(
        &possible,
        16,
        vec![depth_grade, Cell::text(stage_words.join(" or "))],
        because(&why),
    )
}
