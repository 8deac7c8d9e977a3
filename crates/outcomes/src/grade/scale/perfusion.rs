//! The scale of blood supply, on a plain table.

use super::graded::because;
use super::items::{
    ABI, ANKLE, BRACHIAL, BRACHIAL_LEFT, BRACHIAL_RIGHT, DORSALIS, NON_COMPRESSIBLE, OXYGEN,
    PULSES, TBI, TIBIAL, TOE, WAVEFORM, perfusion_of, perfusion_reasons,
};
use super::{Answers, Cell, ColumnWords, GradeOptions, Graded, Scale, ScaleMethod};
use crate::grade::{
    AbiCategory, abi_category, is_arterial_disease_less_likely, is_measured, ischaemia_grade,
    oxygen_category, reduced_flow, tbi_category, toe_category,
};

pub(super) const SCALE: Scale = Scale {
    id: "perfusion",
    also: &["ischaemia", "ischemia", "abi"],
    title: "Blood supply of a foot",
    words: "WIfI ischaemia grade 0 to 3, with the meaning of each test beside it",
    rules: &[
        "Grade: ABI 0.80, 0.60, 0.40; ankle pressure above 100, 70, 50 mmHg; toe pressure or TcPO2 60, 40, 30 mmHg. The toe pressure governs, then TcPO2, then the worse of ABI and ankle pressure. A value equal to a cut-off has the better grade (an ankle of exactly 100 has grade 1).",
        "ABI: 0.90 or below abnormal, 0.91 to 0.99 borderline, above the limit (1.3) non-compressible: it and the ankle pressure measure nothing. Indices are rounded to two decimals first; a half goes up.",
        "TBI below 0.70 abnormal. Toe pressure and TcPO2: below the urgent cut-off of the guideline, reduced up to 60 mmHg, normal from 60.",
        "Reduced flow: yes when anything recorded is abnormal (ABI below 0.90, TBI below 0.70, toe below 60 mmHg, monophasic or absent waveform, no pulse), no when something is normal and nothing abnormal.",
        "Measured: palpation alone does not count. Arterial disease less likely: ABI 0.90 to 1.30, triphasic (2023: or biphasic) waveform and TBI at least 0.70 (2015, 2019: 0.75), all three.",
    ],
    items: &[
        ABI,
        TBI,
        ANKLE,
        DORSALIS,
        TIBIAL,
        BRACHIAL,
        BRACHIAL_LEFT,
        BRACHIAL_RIGHT,
        TOE,
        OXYGEN,
        WAVEFORM,
        PULSES,
        NON_COMPRESSIBLE,
    ],
    columns: &[
        ColumnWords {
            name: "abi_used",
            words: "index as charted, or made from the pressures",
        },
        ColumnWords {
            name: "abi_means",
            words: "abnormal, borderline, normal or non-compressible",
        },
        ColumnWords {
            name: "tbi_means",
            words: "abnormal or normal",
        },
        ColumnWords {
            name: "toe_pressure_means",
            words: "below the urgent cut-off, reduced or normal",
        },
        ColumnWords {
            name: "tcpo2_means",
            words: "below the urgent cut-off, reduced or normal",
        },
        ColumnWords {
            name: "reduced_flow",
            words: "yes, no or unknown",
        },
        ColumnWords {
            name: "measured",
            words: "yes or no: measured objectively",
        },
        ColumnWords {
            name: "pad_less_likely",
            words: "yes, no or unknown",
        },
    ],
    source: "Grade: Mills et al., J Vasc Surg 2014;59:220-234. ABI per leg: higher ankle artery over higher arm, Aboyans et al., Circulation 2012;126:2890; categories AHA/ACC (from memory). Less likely: IWGDF 2015, 2019, 2023 (2023 from memory)",
    caution: "A normal ABI does not exclude arterial disease in diabetes. Measurements before and after revascularisation must not be mixed.",
    method: ScaleMethod::Row(grade),
};

fn grade(row: &Answers<'_>, options: &GradeOptions) -> Graded {
    let perfusion = perfusion_of(row, options);
    let limit = options.abi_limit;
    let range = ischaemia_grade(&perfusion, limit);
    let possible: Vec<u8> = (range.lowest..=range.highest).collect();
    let words = |code: Option<&'static str>| code.map_or(Cell::Empty, Cell::text);
    let is_stiff = row.is("non_compressible") == Some(true);
    let abi_means = if is_stiff {
        Some(AbiCategory::NonCompressible.code())
    } else {
        perfusion.abi.map(|abi| abi_category(abi, limit).code())
    };
    let more = vec![
        Cell::number(perfusion.abi),
        words(abi_means),
        words(perfusion.tbi.map(|tbi| tbi_category(tbi).code())),
        words(
            perfusion
                .toe_mmhg
                .map(|toe| toe_category(toe, options.guideline).code()),
        ),
        words(
            perfusion
                .tcpo2_mmhg
                .map(|oxygen| oxygen_category(oxygen, options.guideline).code()),
        ),
        Cell::answer(reduced_flow(&perfusion, limit)),
        Cell::answer(Some(is_measured(&perfusion, limit))),
        Cell::answer(is_arterial_disease_less_likely(
            &perfusion,
            options.guideline,
        )),
    ];
    let mut why = perfusion_reasons(&perfusion, options);
    if is_stiff {
        why.push(
            "ankle arteries not compressible: index and ankle pressure measure nothing".to_owned(),
        );
    }
    Graded::ordinal(&possible, 4, more, because(&why))
}
