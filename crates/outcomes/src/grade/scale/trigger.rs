//! Vascular triggers, on a plain table.

use super::graded::{because, said};
use super::item::{Item, ItemKind, OtherName, Spelling, same};
use super::items::{
    ABI, ANKLE, BRACHIAL, DORSALIS, GANGRENE, NON_COMPRESSIBLE, OXYGEN, PLAIN, TBI, TIBIAL, TOE,
    WAVEFORM, gangrene_of, perfusion_of, perfusion_reasons,
};
use super::{Answers, Cell, ColumnWords, GradeOptions, Graded, Scale, ScaleMethod};
use crate::grade::{
    GangreneExtent, Trigger, any_of, is_measured, ischaemia_grade, perfusion_triggers,
};

const LEVELS: [&str; 3] = ["none", "routine", "urgent"];

pub(super) const SCALE: Scale = Scale {
    id: "vascular-trigger",
    also: &["vascular-triggers", "trigger", "triggers"],
    title: "Vascular triggers of a limb with an ulcer",
    words: "none, routine or urgent: whether what is recorded is a reason to ask a vascular opinion",
    rules: &[
        "Urgent since 2023: ABI below 0.4, ankle pressure below 50, toe pressure below 30, TcPO2 below 30 mmHg, monophasic or absent waveform. 2015 and 2019: ABI below 0.5, ankle below 50, toe below 30, TcPO2 below 25 mmHg. A value equal to a cut-off is not below it.",
        "Also urgent: gangrene; suspected chronic limb-threatening ischaemia. An unrecorded suspicion is read as none.",
        "Routine: WIfI ischaemia grade 2 or 3; WIfI stage 3 or 4 with ischaemia of grade 1 or more; less than half the area gone on day 28 or later with ischaemia or without measured perfusion; open for more than 42 days without measured perfusion.",
        "Perfusion that was not measured, and gangrene that was not recorded, leave `urgent` possible: never \"none\".",
    ],
    items: &[
        ABI,
        TBI,
        ANKLE,
        DORSALIS,
        TIBIAL,
        BRACHIAL,
        TOE,
        OXYGEN,
        WAVEFORM,
        NON_COMPRESSIBLE,
        GANGRENE,
        Item {
            name: "suspected_clti",
            words: "chronic limb-threatening ischaemia suspected (rest pain included)",
            kind: PLAIN,
            also: &[same("clti"), same("rest_pain")],
        },
        Item {
            name: "wifi_stage",
            words: "WIfI stage 1 to 4",
            kind: ItemKind::Word(&[&[
                Spelling {
                    code: "1",
                    also: &[],
                },
                Spelling {
                    code: "2",
                    also: &[],
                },
                Spelling {
                    code: "3",
                    also: &[],
                },
                Spelling {
                    code: "4",
                    also: &[],
                },
            ]]),
            also: &[same("stage")],
        },
        Item {
            name: "days_open",
            words: "days since the ulcer was first seen",
            kind: ItemKind::Number {
                lowest: 0.0,
                has_lowest: true,
                highest: 20_000.0,
            },
            also: &[OtherName {
                name: "weeks_open",
                times: 7.0,
            }],
        },
        Item {
            name: "area_reduction_percent",
            words: "share of the first area that has gone, percent; negative for growth",
            kind: ItemKind::Number {
                lowest: -100_000.0,
                has_lowest: true,
                highest: 100.0,
            },
            also: &[same("area_reduction")],
        },
    ],
    columns: &[ColumnWords {
        name: "triggers",
        words: "every trigger met",
    }],
    source: "IWGDF 2015 and 2019 (from memory); IWGDF/ESVS/SVS 2023 (pressures as printed in PMC11279131, table 2; waveform from memory); Global Vascular Guidelines 2019; routine set: rule of this project",
    caution: "A trigger is a reason to ask a vascular opinion by local protocol, not an order.",
    method: ScaleMethod::Row(grade),
};

fn grade(row: &Answers<'_>, options: &GradeOptions) -> Graded {
    let perfusion = perfusion_of(row, options);
    let limit = options.abi_limit;
    let is_known = is_measured(&perfusion, limit);
    let ischaemia = ischaemia_grade(&perfusion, limit);
    let has_ischaemia = ischaemia.at_least(1);
    let gangrene = gangrene_of(row).map(|extent| extent != GangreneExtent::Absent);
    let suspected = row.is("suspected_clti").unwrap_or(false);
    let days = row.number("days_open");
    let stage = row.word("wifi_stage").map(|stage| stage >= "3");
    let is_late = days.map(|days| days >= 28.0);
    let is_little = row.number("area_reduction_percent").map(|gone| gone < 50.0);
    let is_unsure = if is_known { has_ischaemia } else { Some(true) };
    let routine = [
        (Trigger::Stage, both(&[stage, has_ischaemia])),
        (Trigger::SlowHealing, both(&[is_late, is_little, is_unsure])),
        (
            Trigger::PerfusionNotMeasured,
            both(&[days.map(|days| days > 42.0), Some(!is_known)]),
        ),
    ];
    let mut met = perfusion_triggers(&perfusion, limit, options.guideline);
    met.extend((gangrene == Some(true)).then_some(Trigger::Gangrene));
    met.extend(suspected.then_some(Trigger::SuspectedThreat));
    met.extend(
        routine
            .iter()
            .filter(|(_, is_met)| *is_met == Some(true))
            .map(|(trigger, _)| *trigger),
    );
    met.sort_unstable();
    let may_be_urgent = !is_known || gangrene.is_none();
    let may_be_routine = any_of(&routine.map(|(_, is_met)| is_met)).is_none() || !is_known;
    let possible: Vec<&str> = if met.iter().any(|trigger| trigger.is_urgent()) {
        vec!["urgent"]
    } else {
        let is_routine = !met.is_empty();
        [!is_routine, is_routine || may_be_routine, may_be_urgent]
            .into_iter()
            .zip(LEVELS)
            .filter_map(|(is_possible, level)| is_possible.then_some(level))
            .collect()
    };
    let names: Vec<&str> = met.iter().map(|trigger| trigger.code()).collect();
    let mut why = perfusion_reasons(&perfusion, options);
    if !is_known {
        why.push("perfusion not measured".to_owned());
    }
    why.push(said("gangrene", gangrene));
    why.push(format!("cut-offs of {}", options.guideline));
    Graded::named(
        &possible,
        3,
        vec![Cell::text(names.join("; "))],
        because(&why),
    )
}

/// Three-valued "and".
fn both(items: &[Option<bool>]) -> Option<bool> {
    if items.contains(&Some(false)) {
        Some(false)
    } else if items.contains(&None) {
        None
    } else {
        Some(true)
    }
}
