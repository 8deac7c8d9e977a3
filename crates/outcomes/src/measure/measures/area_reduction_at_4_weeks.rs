use super::area_halved_at_4_weeks::{self, FOUR_WEEK_RULE};
use super::four_weeks::{FourWeeks, four_weeks};
use crate::grade::{SMALLEST_FIRST_AREA_CM2, area_reduction_percent};
use crate::measure::{Described, Measure, Method, Place, Study};
use crate::report::Unit;
use crate::rules::Rule;

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "area-reduction-at-4-weeks",
    title: "Share of the area gone at 4 weeks, the middle ulcer",
    words: "How much of its first area the middle ulcer had lost at the visit nearest day 28 between day 21 and day 35, with the \
            middle half beside it. A closed ulcer has lost all of it; below 0% it has grown. Ulcers amputated, and ulcers whose \
            owner died, before that visit have no such area and are left out.",
    numerator: "(first area less that at four weeks) over the first area, of the middle ulcer",
    denominator: "ulcers first seen in the quarter with a first area of at least 0.2 square cm and a second in time",
    source: "Percentage area reduction; window and smallest area: rules of this project",
    caution: "A description of those measured again in time, without an interval. Two people measuring the same wound differ by \
              10 to 20%.",
    context: &[],
    reading: "Half of the ulcers measured again had lost at least this much of their area.",
    unit: Unit::Share,
    rule: FOUR_WEEK_RULE,
    method: Method::Described {
        numbers,
        beyond: "closed",
    },
    ..area_halved_at_4_weeks::MEASURE
};

fn numbers(study: &Study<'_>, rule: &Rule) -> Vec<Described> {
    described(study, rule, |course| match course {
        FourWeeks::Read { first, now, .. } => {
            area_reduction_percent(first.area_cm2, now.area_cm2, SMALLEST_FIRST_AREA_CM2)
                .map(|gone| gone / 100.0)
        }
        FourWeeks::Ended | FourWeeks::NotRead => None,
    })
}

/// A number of every ulcer that was not ended before four weeks.
pub(super) fn described(
    study: &Study<'_>,
    rule: &Rule,
    number: impl Fn(FourWeeks) -> Option<f64>,
) -> Vec<Described> {
    let all = four_weeks(study, rule, |ulcer, course| {
        (course != FourWeeks::Ended).then(|| Described {
            cluster: ulcer.patient,
            index: ulcer.index,
            place: Some(Place::ulcer(ulcer.side, ulcer.label)),
            number: number(course),
        })
    });
    all.into_iter().flatten().collect()
}
