use super::visits_kept;
use crate::grade::{Perfusion, is_measured, reduced_flow};
use crate::measure::{Banded, ClassPlace, Measure, Method, Place, Study};
use crate::rules::{Rule, Rules, UnitOfAnalysis};
use crate::tables::{Dated, FootExam, Pulses};

const CLASSES: &[&str] = &[
    "pulse felt, though measured as reduced",
    "pulse felt, and measured as not reduced",
    "no pulse felt, and measured as reduced",
    "no pulse felt, though measured as not reduced",
];

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "palpation-against-measurement",
    family: "vascular",
    title: "Pulse felt against blood supply measured",
    words: "Of examinations of a foot at which pulses were felt for and the blood supply was measured, how the two compare. Reduced is an ankle-brachial index below 0.90, a toe-brachial index below 0.70, a toe pressure below 60 mmHg, or a monophasic or absent waveform.",
    numerator: "examinations in the class",
    denominator: "examinations of the quarter with both",
    exclusions: "examinations without palpation or without a measurement; an index above {abi_non_compressible_above} alone measures nothing",
    source: "Cut-offs: IWGDF/ESVS/SVS 2023 and AHA/ACC (from memory), WIfI, J Vasc Surg 2014;59:220-234; comparison: rule of this project",
    caution: "Feet that are measured are not all feet: a practice measures more often where it has doubts. A felt pulse does not rule out poor blood supply.",
    context: &[],
    direction: "worse",
    reading: "Of 100 feet both felt and measured, in how many a felt pulse hid a reduced supply.",
    rule: Rule {
        unit: UnitOfAnalysis::Examination,
        clock: "the day of the examination",
        ..visits_kept::MEASURE.rule
    },
    method: Method::Bands {
        classes: CLASSES,
        banded,
    },
    ..visits_kept::MEASURE
};

fn banded(study: &Study<'_>, _: &Rule) -> Vec<Banded> {
    let mut banded = Vec::new();
    for person in study.people {
        let exams = person.reading.person.foot_exams.iter();
        banded.extend(exams.filter_map(|exam| {
            Some(Banded {
                cluster: exam.patient,
                index: Dated::new(exam.date, exam.source),
                place: Some(Place::leg(exam.side)),
                band: Some(class(exam, study.rules)?),
            })
        }));
    }
    banded
}

/// What was measured is judged without what was felt.
fn class(exam: &FootExam, rules: &Rules) -> Option<ClassPlace> {
    let limit = rules.abi_non_compressible_above;
    let is_felt = exam.pulses? == Pulses::Palpable;
    let measured = Perfusion {
        pulses: None,
        ..Perfusion::of(exam)
    };
    let is_reduced = is_measured(&measured, limit)
        .then(|| reduced_flow(&measured, limit))
        .flatten()?;
    Some(match (is_felt, is_reduced) {
        (true, true) => 0,
        (true, false) => 1,
        (false, true) => 2,
        (false, false) => 3,
    })
}
