use super::foot_exam_overdue;
use super::risk_tier_distribution::{ACTIVE, NOT_GRADABLE, class_of};
use crate::measure::{Answer, Measure, Method, Study};
use crate::rules::Rule;
use crate::tables::Dated;

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "tier-gradable",
    family: "data",
    title: "Risk tier can be told",
    words: "Of people under care without an open wound at a quarter's end, the share whose IWGDF risk tier follows from what was recorded by then: no item is missing, or those that are would not change it. Over a year the ends of its four quarters are counted together.",
    numerator: "people at a quarter's end with one possible tier",
    source: "IWGDF prevention guideline 2023, Diabetes Metab Res Rev 2024;40(3):e3651; that items go out of date: rule of this project",
    caution: "Somebody whose wound was lost from sight, or whose last examination is too old, has no tier that can be told. It says how complete the records are, not how good the care is.",
    direction: "better",
    reading: "Of 100 people under care without a wound, for how many the records tell how often their feet should be looked at.",
    method: Method::Status { answers },
    ..foot_exam_overdue::MEASURE
};

/// One answer a person and quarter's end, as known on that day.
fn answers(study: &Study<'_>, _: &Rule) -> Vec<Answer> {
    let mut answers = Vec::new();
    let ends = study.quarter_ends();
    for person in study.people {
        for &end in &ends {
            let class = class_of(study, person, end).filter(|class| *class != ACTIVE);
            answers.extend(class.map(|class| Answer {
                cluster: person.person.key,
                index: Dated::new(end, person.person.patient.source),
                place: None,
                is_yes: Some(class != NOT_GRADABLE),
            }));
        }
    }
    answers
}
