//! The scale of infection, on a plain table.

use super::graded::{because, said};
use super::item::{Item, ItemKind, OtherName, same};
use super::items::{OSTEOMYELITIS, PLAIN};
use super::{Answers, Cell, ColumnWords, GradeOptions, Graded, Scale, ScaleMethod};
use crate::grade::{
    CriteriaCount, InfectionSigns, SystemicSigns, grade_infection, local_signs, systemic_criteria,
};

const fn number(lowest: f64, highest: f64) -> ItemKind {
    ItemKind::Number {
        lowest,
        has_lowest: true,
        highest,
    }
}

pub(super) const SCALE: Scale = Scale {
    id: "infection",
    also: &["idsa", "idsa-iwgdf", "iwgdf-infection"],
    title: "IDSA/IWGDF infection grade",
    words: "IWGDF grade 1 (uninfected) to 4 (severe), with (O) for recorded osteomyelitis behind 3 and 4",
    rules: &[
        "Infected: two or more of swelling, redness more than 0.5 cm around the wound, tenderness, warmth, pus; not when another cause explains them. An unrecorded `other_cause` is read as none.",
        "2 mild: skin and subcutis only, redness below 2 cm. 3 moderate: redness of 2 cm or more, or deeper tissue, or bone. Criteria of 2012: exactly 2 cm is mild.",
        "4 severe: infected, and two or more systemic criteria of four: temperature above 38 or below 36 C; heart rate above 90; breathing above 20 or PaCO2 below 32 mmHg; white cells above 12,000 or below 4,000 a cubic mm or 10% bands or more. Of two ways to meet one criterion the recorded one decides.",
        "Recorded osteomyelitis is at least 3 without local signs since 2019; under the criteria of 2012 it is contradictory and gives 1 or 3. Unrecorded osteomyelitis leaves 2 and 3 possible where the foot is infected.",
    ],
    items: &[
        Item {
            name: "swelling",
            words: "swelling or induration",
            kind: PLAIN,
            also: &[same("induration")],
        },
        Item {
            name: "erythema_cm",
            words: "redness: extent from the edge of the wound, cm",
            kind: number(0.0, 50.0),
            also: &[OtherName {
                name: "erythema_mm",
                times: 0.1,
            }],
        },
        Item {
            name: "erythema",
            words: "redness more than 0.5 cm around the wound; the extent decides where both are recorded",
            kind: PLAIN,
            also: &[same("redness")],
        },
        Item {
            name: "tenderness",
            words: "local tenderness or pain",
            kind: PLAIN,
            also: &[same("pain")],
        },
        Item {
            name: "warmth",
            words: "local warmth",
            kind: PLAIN,
            also: &[same("warm")],
        },
        Item {
            name: "purulence",
            words: "purulent discharge",
            kind: PLAIN,
            also: &[same("purulent_discharge"), same("pus")],
        },
        Item {
            name: "other_cause",
            words: "another cause explains the signs (trauma, gout, acute Charcot, fracture, thrombosis, venous stasis)",
            kind: PLAIN,
            also: &[],
        },
        Item {
            name: "deep_tissue",
            words: "tissue deeper than skin and subcutis involved (abscess, fasciitis, tendon, muscle, joint)",
            kind: PLAIN,
            also: &[same("deep"), same("deep_infection"), same("abscess")],
        },
        OSTEOMYELITIS,
        Item {
            name: "sirs",
            words: "two or more systemic criteria are met; counts before the measurements",
            kind: PLAIN,
            also: &[same("systemic")],
        },
        Item {
            name: "temperature_c",
            words: "body temperature, degrees Celsius",
            kind: number(30.0, 43.0),
            also: &[same("temperature"), same("temp_c")],
        },
        Item {
            name: "heart_rate",
            words: "heart rate a minute",
            kind: number(20.0, 300.0),
            also: &[same("heart_rate_per_min"), same("pulse_rate"), same("hr")],
        },
        Item {
            name: "respiratory_rate",
            words: "breaths a minute",
            kind: number(4.0, 80.0),
            also: &[same("respiratory_rate_per_min"), same("rr")],
        },
        Item {
            name: "paco2_mmhg",
            words: "arterial carbon dioxide pressure, mmHg",
            kind: number(5.0, 150.0),
            also: &[OtherName {
                name: "paco2_kpa",
                times: 32.0 / 4.3,
            }],
        },
        Item {
            name: "wbc_per_mm3",
            words: "white blood cells a cubic mm",
            kind: number(100.0, 500_000.0),
            also: &[
                same("wbc"),
                same("white_cells_per_mm3"),
                OtherName {
                    name: "wbc_10_9_per_l",
                    times: 1000.0,
                },
            ],
        },
        Item {
            name: "bands_percent",
            words: "immature (band) forms, percent",
            kind: number(0.0, 100.0),
            also: &[same("bands")],
        },
    ],
    columns: &[
        ColumnWords {
            name: "idsa",
            words: "uninfected, mild, moderate or severe, or those that are possible",
        },
        ColumnWords {
            name: "wifi_infection",
            words: "foot infection grade 0 to 3, where known",
        },
        ColumnWords {
            name: "osteomyelitis_recorded",
            words: "yes, no or unknown",
        },
    ],
    source: "Lipsky et al., IDSA 2012; IWGDF/IDSA 2019 and 2023; the plausibility limits of the measurements are common practice, no source",
    caution: "Diabetic feet can be infected with few signs where blood supply is poor. The grade follows what was written down; treatment follows the examination and local protocols.",
    method: ScaleMethod::Row(grade),
};

fn grade(row: &Answers<'_>, options: &GradeOptions) -> Graded {
    let systemic = systemic_criteria(&SystemicSigns {
        temperature_c: row.number("temperature_c"),
        heart_rate: row.number("heart_rate"),
        respiratory_rate: row.number("respiratory_rate"),
        paco2_mmhg: row.number("paco2_mmhg"),
        white_cells_per_mm3: row.number("wbc_per_mm3"),
        bands_percent: row.number("bands_percent"),
    });
    let signs = InfectionSigns {
        has_swelling: row.is("swelling"),
        has_erythema: row.is("erythema"),
        erythema_cm: row.number("erythema_cm"),
        has_tenderness: row.is("tenderness"),
        has_warmth: row.is("warmth"),
        has_purulence: row.is("purulence"),
        has_other_cause: row.is("other_cause"),
        is_deep: row.is("deep_tissue"),
        has_osteomyelitis: row.is("osteomyelitis"),
        is_systemic: row.is("sirs").or(systemic.at_least(2)),
    };
    let graded = grade_infection(&signs, options.infection_criteria);
    let mut why = vec![
        counted("local signs", local_signs(&signs)),
        said("deep tissue", signs.is_deep),
        said("osteomyelitis", signs.has_osteomyelitis),
        match row.is("sirs") {
            Some(is_met) => said("systemic criteria", Some(is_met)),
            None => counted("systemic criteria", systemic),
        },
    ];
    if signs.has_other_cause == Some(true) {
        why.push("another cause explains the signs".to_owned());
    }
    if graded.is_contradictory {
        why.push("osteomyelitis without two local signs is contradictory".to_owned());
    }
    why.push(format!("criteria of {}", options.infection_criteria));
    let words: Vec<&str> = graded.possible.iter().map(|grade| idsa(*grade)).collect();
    let wifi = match graded.possible.as_slice() {
        [grade] => Cell::Whole(grade.saturating_sub(1)),
        _ => Cell::Empty,
    };
    let more = vec![
        Cell::text(words.join(" or ")),
        wifi,
        Cell::answer(signs.has_osteomyelitis),
    ];
    let plain = Graded::ordinal(&graded.possible, 4, more, because(&why));
    match graded.possible.as_slice() {
        [grade @ (3 | 4)] if graded.has_osteomyelitis == Some(true) => Graded {
            shown: format!("{grade}(O)"),
            ..plain
        },
        _ => plain,
    }
}

fn counted(name: &str, count: CriteriaCount) -> String {
    format!(
        "{name}: {} met, {} not recorded",
        count.n_met, count.n_unknown
    )
}

fn idsa(grade: u8) -> &'static str {
    match grade {
        1 => "uninfected",
        2 => "mild",
        3 => "moderate",
        _ => "severe",
    }
}
