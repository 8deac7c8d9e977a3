use super::four_weeks::{FourWeeks, four_weeks};
use super::healed_within_12_weeks::EXCLUSIONS;
use crate::grade::{SMALLEST_FIRST_AREA_CM2, area_reduction_percent};
use crate::measure::{Answer, Measure, Method, Place, Study};
use crate::report::Unit;
use crate::rules::{Censoring, KnownRule, Rule, UnitOfAnalysis};

/// Read at the visit nearest day 28 in 21 to 35.
pub(super) const FOUR_WEEK_RULE: Rule = Rule {
    unit: UnitOfAnalysis::Ulcer,
    clock: "first visit here",
    entry_day: 0,
    event: &[],
    competing: &[],
    censoring: Censoring::Nothing,
    known: KnownRule::KnownOnly,
    horizon_days: 35,
};

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "area-halved-at-4-weeks",
    family: "healing",
    title: "Area halved at 4 weeks",
    words: "The share of ulcers of which at least half the area had gone at the visit nearest day 28 between day 21 and day 35. \
            A closed ulcer has no area left; a closure that a reopening within {reopening_window_days} days cancelled tells nothing \
            of the area. One amputated, or whose owner died, before that visit counts as not halved. All areas of an ulcer are \
            made the same way, that of its first visit.",
    numerator: "ulcers with at least half of their first area gone, or closed",
    denominator: "ulcers first seen in the quarter with a first area of at least 0.2 square cm",
    exclusions: EXCLUSIONS,
    source: "Sheehan et al., Diabetes Care 2003;26:1879-1882 (midpoint between those who healed by 12 weeks and those who did not: \
             53%); window and smallest area: rules of this project",
    caution: "An early sign for a group, no verdict on one wound: two people measuring the same wound differ by 10 to 20%, so about \
              one wound in seven with 60% gone is read as less than half. Where few ulcers are measured again in time the figure \
              says little.",
    context: &[
        "Of ulcers above the median reduction at 4 weeks 58% healed by 12 weeks, of those below it 9% (203 people): Sheehan et \
         al., Diabetes Care 2003;26:1879",
    ],
    direction: "better",
    reading: "Of 100 ulcers measured again in time, how many had lost at least half of their area in 4 weeks.",
    unit: Unit::Share,
    rule: FOUR_WEEK_RULE,
    method: Method::Status { answers },
};

fn answers(study: &Study<'_>, rule: &Rule) -> Vec<Answer> {
    four_weeks(study, rule, |ulcer, course| Answer {
        cluster: ulcer.patient,
        index: ulcer.index,
        place: Some(Place::ulcer(ulcer.side, ulcer.label)),
        is_yes: match course {
            FourWeeks::Read { first, now, .. } => {
                area_reduction_percent(first.area_cm2, now.area_cm2, SMALLEST_FIRST_AREA_CM2)
                    .map(|gone| gone >= 50.0)
            }
            FourWeeks::Ended => Some(false),
            FourWeeks::NotRead => None,
        },
    })
}
