//! The WIfI clinical stage, on a plain table.

use super::graded::because;
use super::item::{Item, ItemKind, Spelling, same};
use super::items::{
    ABI, ANKLE, BRACHIAL, BRACHIAL_LEFT, BRACHIAL_RIGHT, DEPTH, DORSALIS, GANGRENE,
    NON_COMPRESSIBLE, OSTEOMYELITIS, OXYGEN, PLAIN, SITE, TIBIAL, TOE, depth_of, gangrene_of,
    perfusion_of, perfusion_reasons, region_of,
};
use super::{Answers, Cell, ColumnWords, GradeOptions, Graded, Scale, ScaleMethod};
use crate::grade::{
    Benefit, GangreneExtent, GradeRange, LesionDepth, benefit, infection_grade, ischaemia_grade,
    possible_benefits, stage, wound_grade,
};
use crate::tables::{Gangrene, InfectionGrade, Region};

const GRADE: ItemKind = ItemKind::Word(&[&[
    Spelling {
        code: "0",
        also: &["none"],
    },
    Spelling {
        code: "1",
        also: &["mild"],
    },
    Spelling {
        code: "2",
        also: &["moderate"],
    },
    Spelling {
        code: "3",
        also: &["severe"],
    },
]]);

pub(super) const SCALE: Scale = Scale {
    id: "wifi",
    also: &["wifi-stage"],
    title: "WIfI clinical stage",
    words: "clinical stage 1 to 4, read from the 64-cell table of wound, ischaemia and foot infection grade",
    rules: &[
        "The stage is a look-up, never the sum of the grades. Stage 5 (unsalvageable) is a clinical declaration outside the table.",
        "Grades 0 to 3 are read from `wound`, `ischaemia` and `infection` where they are given.",
        "Otherwise wound: shallow 1, shallow on the heel 2, tendon or deeper 2, deep on the heel 3, bone under a toe 1 or 2, extensive \
         deep ulcer of forefoot or midfoot 3; gangrene of digits at least 2, beyond them 3. Depth outranks size. Unrecorded gangrene \
         is not \"none\".",
        "Ischaemia: ABI 0.80, 0.60, 0.40; ankle pressure above 100, 70, 50 mmHg; toe pressure or TcPO2 60, 40, 30 mmHg. The toe \
         governs, then TcPO2, then the worse of ABI and ankle. A value equal to a cut-off has the better grade (an ankle of exactly \
         100 has grade 1). Indices are rounded as charted first; an ABI above the limit measures nothing.",
        "Infection: none 0, mild 1, moderate 2, severe 3; osteomyelitis is at least 2.",
        "A missing grade leaves every stage it allows.",
    ],
    items: &[
        Item {
            name: "wound",
            words: "wound grade 0 to 3",
            kind: GRADE,
            also: &[same("wound_grade"), same("w")],
        },
        Item {
            name: "ischaemia",
            words: "ischaemia grade 0 to 3",
            kind: GRADE,
            also: &[
                same("ischemia"),
                same("ischaemia_grade"),
                same("ischemia_grade"),
                same("i"),
            ],
        },
        Item {
            name: "infection",
            words: "foot infection grade 0 to 3, or none, mild, moderate, severe",
            kind: ItemKind::Word(&[&[
                Spelling {
                    code: "0",
                    also: &["none", "uninfected", "no"],
                },
                Spelling {
                    code: "1",
                    also: &["mild"],
                },
                Spelling {
                    code: "2",
                    also: &["moderate"],
                },
                Spelling {
                    code: "3",
                    also: &["severe"],
                },
            ]]),
            also: &[same("foot_infection"), same("infection_grade"), same("fi")],
        },
        DEPTH,
        SITE,
        Item {
            name: "extensive",
            words: "deep ulcer that is extensive (forefoot or midfoot)",
            kind: PLAIN,
            also: &[],
        },
        GANGRENE,
        OSTEOMYELITIS,
        ABI,
        ANKLE,
        DORSALIS,
        TIBIAL,
        BRACHIAL,
        BRACHIAL_LEFT,
        BRACHIAL_RIGHT,
        TOE,
        OXYGEN,
        NON_COMPRESSIBLE,
    ],
    columns: &[
        ColumnWords {
            name: "wound_used",
            words: "wound grade used, or its range",
        },
        ColumnWords {
            name: "ischaemia_used",
            words: "ischaemia grade used, or its range",
        },
        ColumnWords {
            name: "infection_used",
            words: "foot infection grade used, or its range",
        },
        ColumnWords {
            name: "benefit",
            words: "likelihood of benefit of revascularisation; `needs source` for wound 3, ischaemia 1, infection 2 (moderate or high)",
        },
    ],
    source: "Mills et al., J Vasc Surg 2014;59:220-234, as transcribed alike in three public copies (one citing Global Vascular \
             Guidelines 2019, table 3.5); benefit: one public transcription and recall, 63 of 64 cells",
    caution: "A stage describes groups of limbs before treatment. It is no prognosis for a person and recommends no operation.",
    method: ScaleMethod::Row(grade),
};

fn given(row: &Answers<'_>, name: &str) -> Option<GradeRange> {
    let word = row.word(name)?;
    word.parse().ok().map(GradeRange::exactly)
}

fn wound_of(row: &Answers<'_>, why: &mut Vec<String>) -> GradeRange {
    if let Some(known) = given(row, "wound") {
        return known;
    }
    let depth = depth_of(row);
    let site = region_of(row);
    let extent = gangrene_of(row);
    let gangrene = extent.map(GangreneExtent::class);
    why.push(format!("depth {}", recorded(depth.map(LesionDepth::code))));
    why.push(format!("site {}", recorded(row.word("site"))));
    why.push(format!(
        "gangrene {}",
        recorded(extent.map(GangreneExtent::code))
    ));
    match depth {
        None if site.is_none() && matches!(gangrene, None | Some(Gangrene::Absent)) => {
            GradeRange::between(0, 3)
        }
        Some(LesionDepth::Intact) => match gangrene {
            Some(Gangrene::Absent) => GradeRange::exactly(0),
            Some(Gangrene::Digits) => GradeRange::exactly(2),
            Some(Gangrene::Extensive) => GradeRange::exactly(3),
            None => GradeRange::between(0, 3),
        },
        _ => {
            let by_record = wound_grade(depth.and_then(LesionDepth::tissue), site, gangrene);
            let is_deep = depth.is_some_and(|depth| depth >= LesionDepth::TendonOrMuscle);
            let is_heel = site.is_some_and(|site| site.region == Region::Heel);
            match row.is("extensive") {
                Some(true) if is_deep => GradeRange::exactly(3),
                None if is_deep && !is_heel => GradeRange::between(by_record.lowest, 3),
                _ => by_record,
            }
        }
    }
}

fn recorded(word: Option<&str>) -> &str {
    word.unwrap_or("not recorded")
}

fn infection_of(row: &Answers<'_>, why: &mut Vec<String>) -> GradeRange {
    let given = match row.word("infection") {
        Some("0") => Some(InfectionGrade::Uninfected),
        Some("1") => Some(InfectionGrade::Mild),
        Some("2") => Some(InfectionGrade::Moderate),
        Some("3") => Some(InfectionGrade::Severe),
        _ => None,
    };
    let bone = row.is("osteomyelitis");
    if bone == Some(true) {
        why.push("osteomyelitis: infection at least 2".to_owned());
    }
    infection_grade(given, bone)
}

fn grade(row: &Answers<'_>, options: &GradeOptions) -> Graded {
    let mut made = Vec::new();
    let wound = wound_of(row, &mut made);
    let ischaemia = given(row, "ischaemia").unwrap_or_else(|| {
        let perfusion = perfusion_of(row, options);
        let reasons = perfusion_reasons(&perfusion, options);
        made.push(because(&reasons).replace("nothing recorded", "perfusion not recorded"));
        ischaemia_grade(&perfusion, options.abi_limit)
    });
    let infection = infection_of(row, &mut made);
    let mut why = vec![
        format!("wound {}", range_words(wound)),
        format!("ischaemia {}", range_words(ischaemia)),
        format!("infection {}", range_words(infection)),
    ];
    why.extend(made);
    let range = stage(wound, ischaemia, infection);
    let mut possible: Vec<u8> = Vec::new();
    let exactly = GradeRange::exactly;
    for w in wound.lowest..=wound.highest {
        for i in ischaemia.lowest..=ischaemia.highest {
            for f in infection.lowest..=infection.highest {
                possible.extend(stage(exactly(w), exactly(i), exactly(f)).known());
            }
        }
    }
    possible.retain(|stage| (range.lowest..=range.highest).contains(stage));
    possible.sort_unstable();
    possible.dedup();
    let more = vec![
        used(wound),
        used(ischaemia),
        used(infection),
        Cell::text(benefit_words(wound, ischaemia, infection)),
    ];
    Graded::ordinal(&possible, 4, more, because(&why))
}

fn used(range: GradeRange) -> Cell {
    range
        .known()
        .map_or_else(|| Cell::text(range_words(range)), Cell::Whole)
}

fn range_words(range: GradeRange) -> String {
    match range.known() {
        Some(grade) => grade.to_string(),
        None if range == GradeRange::between(0, 3) => "not gradable".to_owned(),
        None => format!("{} to {}", range.lowest, range.highest),
    }
}

fn benefit_words(wound: GradeRange, ischaemia: GradeRange, infection: GradeRange) -> String {
    let is_unsettled = match (wound.known(), ischaemia.known(), infection.known()) {
        (Some(w), Some(i), Some(f)) => benefit(w, i, f).is_none(),
        _ => false,
    };
    if is_unsettled {
        return "needs source".to_owned();
    }
    let possible: Vec<&str> = possible_benefits(wound, ischaemia, infection)
        .into_iter()
        .map(Benefit::code)
        .collect();
    if possible.len() == Benefit::ALL.len() {
        "not gradable".to_owned()
    } else {
        possible.join(" or ")
    }
}
