//! Items that several scales read.

use super::answer::{Answers, BEHIND_FOREFOOT};
use super::item::{Item, ItemKind, OtherName, Spelling, same};
use crate::grade::{GangreneExtent, LesionDepth, Perfusion, as_charted};
use crate::tables::{FootSite, Pulses, Region, Waveform};

use super::GradeOptions;

/// Yes or no without words of its own.
pub(super) const PLAIN: ItemKind = ItemKind::YesNo { yes: &[], no: &[] };

const PRESSURE: ItemKind = ItemKind::Number {
    lowest: 0.0,
    has_lowest: true,
    highest: 300.0,
};

const INDEX: ItemKind = ItemKind::Number {
    lowest: 0.0,
    has_lowest: false,
    highest: 3.0,
};

pub(super) const DEPTH_WORDS: &[Spelling] = &[
    Spelling {
        code: "intact",
        also: &[
            "none",
            "no-ulcer",
            "healed",
            "closed",
            "epithelialised",
            "epithelialized",
        ],
    },
    Spelling {
        code: "skin",
        also: &["superficial", "dermis", "epidermis", "partial-thickness"],
    },
    Spelling {
        code: "subcutaneous",
        also: &["fat", "subcutis", "full-thickness", "skin-and-subcutaneous"],
    },
    Spelling {
        code: "tendon-or-muscle",
        also: &["tendon", "muscle", "capsule", "fascia", "deep"],
    },
    Spelling {
        code: "bone-or-joint",
        also: &["bone", "joint"],
    },
];

pub(super) const DEPTH: Item = Item {
    name: "depth",
    words: "deepest tissue reached",
    kind: ItemKind::Word(&[DEPTH_WORDS]),
    also: &[same("tissue_depth")],
};

pub(super) const SITE: Item = Item {
    name: "site",
    words: "part of the foot",
    kind: ItemKind::Site,
    also: &[same("location"), same("region")],
};

pub(super) const GANGRENE: Item = Item {
    name: "gangrene",
    words: "how far gangrene reaches",
    kind: ItemKind::Word(&[&[
        Spelling {
            code: "none",
            also: &["no", "0", "absent", "false", "n"],
        },
        Spelling {
            code: "digits",
            also: &["digit", "toe", "toes", "1", "localised", "localized"],
        },
        Spelling {
            code: "forefoot",
            also: &["midfoot"],
        },
        Spelling {
            code: "heel",
            also: &[],
        },
        Spelling {
            code: "extensive",
            also: &["2"],
        },
        Spelling {
            code: "whole-foot",
            also: &["foot", "entire-foot"],
        },
    ]]),
    also: &[same("gangrene_extent")],
};

pub(super) const OSTEOMYELITIS: Item = Item {
    name: "osteomyelitis",
    words: "bone infected",
    kind: PLAIN,
    also: &[same("bone_infection")],
};

pub(super) const ABI: Item = Item {
    name: "abi",
    words: "ankle-brachial index of this leg",
    kind: INDEX,
    also: &[same("ankle_brachial_index"), same("abpi")],
};

pub(super) const TBI: Item = Item {
    name: "tbi",
    words: "toe-brachial index of this leg",
    kind: INDEX,
    also: &[same("toe_brachial_index")],
};

pub(super) const ANKLE: Item = Item {
    name: "ankle_pressure_mmhg",
    words: "higher ankle systolic pressure of this leg, mmHg",
    kind: PRESSURE,
    also: &[
        same("ankle_mmhg"),
        same("ankle_pressure"),
        same("ankle_systolic_mmhg"),
    ],
};

pub(super) const DORSALIS: Item = Item {
    name: "dorsalis_pedis_mmhg",
    words: "systolic pressure of the dorsalis pedis artery, mmHg; read where no ankle pressure is recorded",
    kind: PRESSURE,
    also: &[same("dp_mmhg")],
};

pub(super) const TIBIAL: Item = Item {
    name: "posterior_tibial_mmhg",
    words: "systolic pressure of the posterior tibial artery, mmHg; read where no ankle pressure is recorded",
    kind: PRESSURE,
    also: &[same("pt_mmhg")],
};

pub(super) const BRACHIAL: Item = Item {
    name: "brachial_pressure_mmhg",
    words: "higher brachial systolic pressure of the two arms, mmHg; with it an index that was not charted is made",
    kind: PRESSURE,
    also: &[
        same("brachial_mmhg"),
        same("brachial_pressure"),
        same("arm_pressure_mmhg"),
    ],
};

pub(super) const BRACHIAL_LEFT: Item = Item {
    name: "brachial_left_mmhg",
    words: "systolic pressure of the left arm, mmHg; the higher arm counts",
    kind: PRESSURE,
    also: &[same("left_brachial_mmhg")],
};

pub(super) const BRACHIAL_RIGHT: Item = Item {
    name: "brachial_right_mmhg",
    words: "systolic pressure of the right arm, mmHg; the higher arm counts",
    kind: PRESSURE,
    also: &[same("right_brachial_mmhg")],
};

pub(super) const TOE: Item = Item {
    name: "toe_pressure_mmhg",
    words: "toe systolic pressure, mmHg",
    kind: PRESSURE,
    also: &[
        same("toe_mmhg"),
        same("toe_pressure"),
        same("toe_systolic_mmhg"),
    ],
};

pub(super) const OXYGEN: Item = Item {
    name: "tcpo2_mmhg",
    words: "transcutaneous oxygen pressure, mmHg",
    kind: ItemKind::Number {
        lowest: 0.0,
        has_lowest: true,
        highest: 110.0,
    },
    also: &[same("tcpo2")],
};

pub(super) const WAVEFORM: Item = Item {
    name: "waveform",
    words: "Doppler waveform at foot or ankle",
    kind: ItemKind::Word(&[&[
        Spelling {
            code: "triphasic",
            also: &["tri"],
        },
        Spelling {
            code: "biphasic",
            also: &["bi"],
        },
        Spelling {
            code: "monophasic",
            also: &["mono"],
        },
        Spelling {
            code: "absent",
            also: &["none", "no-signal"],
        },
    ]]),
    also: &[same("doppler_waveform"), same("doppler")],
};

pub(super) const PULSES: Item = Item {
    name: "pulses",
    words: "pedal pulses by palpation: palpable when at least one of the two is felt",
    kind: ItemKind::Word(&[&[
        Spelling {
            code: "palpable",
            also: &["present", "felt", "yes", "y", "1"],
        },
        Spelling {
            code: "absent",
            also: &[
                "none",
                "not-palpable",
                "impalpable",
                "not-felt",
                "no",
                "n",
                "0",
            ],
        },
    ]]),
    also: &[same("pedal_pulses")],
};

pub(super) const NON_COMPRESSIBLE: Item = Item {
    name: "non_compressible",
    words: "the ankle arteries could not be compressed: index and ankle pressure measure nothing",
    kind: PLAIN,
    also: &[same("noncompressible"), same("incompressible")],
};

/// Length in cm.
pub(super) const fn length_item(
    name: &'static str,
    words: &'static str,
    also: &'static [OtherName],
) -> Item {
    Item {
        name,
        words,
        kind: ItemKind::Number {
            lowest: 0.0,
            has_lowest: true,
            highest: 35.0,
        },
        also,
    }
}

/// Area in square cm.
pub(super) const fn area_item(
    name: &'static str,
    words: &'static str,
    also: &'static [OtherName],
) -> Item {
    Item {
        name,
        words,
        kind: ItemKind::Number {
            lowest: 0.0,
            has_lowest: true,
            highest: 1225.0,
        },
        also,
    }
}

pub(super) const LENGTH: Item = length_item(
    "length_cm",
    "greatest length, cm",
    &[
        same("length"),
        OtherName {
            name: "length_mm",
            times: 0.1,
        },
    ],
);

pub(super) const WIDTH: Item = length_item(
    "width_cm",
    "width at a right angle to the length, cm",
    &[
        same("width"),
        OtherName {
            name: "width_mm",
            times: 0.1,
        },
    ],
);

pub(super) const AREA: Item = area_item(
    "area_cm2",
    "area as traced or photographed, square cm",
    &[OtherName {
        name: "area_mm2",
        times: 0.01,
    }],
);

/// The perfusion a row records, its indices as charted, made from pressures where they were not charted.
pub(super) fn perfusion_of(row: &Answers<'_>, options: &GradeOptions) -> Perfusion {
    let is_stiff = row.is("non_compressible") == Some(true);
    let higher = |one: Option<f64>, other: Option<f64>| match (one, other) {
        (Some(one), Some(other)) => Some(one.max(other)),
        (one, other) => one.or(other),
    };
    let ankle = row.number("ankle_pressure_mmhg").or_else(|| {
        higher(
            row.number("dorsalis_pedis_mmhg"),
            row.number("posterior_tibial_mmhg"),
        )
    });
    let brachial = row.number("brachial_pressure_mmhg").or_else(|| {
        higher(
            row.number("brachial_left_mmhg"),
            row.number("brachial_right_mmhg"),
        )
    });
    let toe = row.number("toe_pressure_mmhg");
    let index = |charted: Option<f64>, pressure: Option<f64>| {
        let made = || Some(pressure? / brachial.filter(|brachial| *brachial > 0.0)?);
        charted
            .or_else(made)
            .map(|index| as_charted(index, options.index_decimals))
    };
    Perfusion {
        pulses: row.word("pulses").and_then(Pulses::from_code),
        waveform: row.word("waveform").and_then(Waveform::from_code),
        ankle_mmhg: ankle.filter(|_| !is_stiff),
        toe_mmhg: toe,
        abi: index(row.number("abi"), ankle).filter(|_| !is_stiff),
        tbi: index(row.number("tbi"), toe),
        tcpo2_mmhg: row.number("tcpo2_mmhg"),
    }
}

/// What a perfusion was made from, a reason each.
pub(super) fn perfusion_reasons(perfusion: &Perfusion, options: &GradeOptions) -> Vec<String> {
    let mut reasons = Vec::new();
    let mut pressure = |name: &str, value: Option<f64>| {
        reasons.extend(value.map(|value| format!("{name} {} mmHg", super::Cell::Number(value))));
    };
    pressure("toe pressure", perfusion.toe_mmhg);
    pressure("TcPO2", perfusion.tcpo2_mmhg);
    pressure("ankle pressure", perfusion.ankle_mmhg);
    if let Some(abi) = perfusion.abi {
        let stiff = if abi > options.abi_limit {
            format!(", above {}: measures nothing", options.abi_limit)
        } else {
            String::new()
        };
        reasons.push(format!("ABI {}{stiff}", super::Cell::Number(abi)));
    }
    reasons.extend(
        perfusion
            .tbi
            .map(|tbi| format!("TBI {}", super::Cell::Number(tbi))),
    );
    reasons.extend(perfusion.waveform.map(|wave| format!("waveform {wave}")));
    reasons.extend(perfusion.pulses.map(|pulses| format!("pulses {pulses}")));
    reasons
}

/// Depth as recorded.
pub(super) fn depth_of(row: &Answers<'_>) -> Option<LesionDepth> {
    row.word("depth").and_then(LesionDepth::from_code)
}

/// Gangrene as recorded.
pub(super) fn gangrene_of(row: &Answers<'_>) -> Option<GangreneExtent> {
    row.word("gangrene").and_then(GangreneExtent::from_code)
}

/// Region of the foot; `None` when not recorded or not told exactly.
pub(super) fn region_of(row: &Answers<'_>) -> Option<FootSite> {
    let region = row.word("site").and_then(Region::from_code)?;
    Some(FootSite {
        region,
        ray: 0,
        aspect: None,
    })
}

/// Whether a site lies behind the forefoot.
pub(super) fn is_behind_forefoot(row: &Answers<'_>) -> Option<bool> {
    let word = row.word("site")?;
    if word == BEHIND_FOREFOOT {
        return Some(true);
    }
    match Region::from_code(word)? {
        Region::Toe | Region::MetatarsalHead | Region::Forefoot => Some(false),
        Region::Midfoot | Region::Heel | Region::Hindfoot => Some(true),
        Region::Stump | Region::AboveFoot => None,
    }
}
