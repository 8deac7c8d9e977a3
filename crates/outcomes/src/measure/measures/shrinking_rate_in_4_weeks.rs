use super::area_halved_at_4_weeks::FOUR_WEEK_RULE;
use super::area_reduction_at_4_weeks::{self, described};
use super::four_weeks::FourWeeks;
use crate::grade::exponential_rate_per_week;
use crate::measure::{Described, Measure, Method, Study};
use crate::report::Unit;
use crate::rules::Rule;

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "shrinking-rate-in-4-weeks",
    title: "Rate of shrinking over 4 weeks, the middle ulcer",
    words: "The rate a week at which the area of the middle ulcer shrank between its first visit and the visit nearest day 28 \
            between day 21 and day 35, as if it lost the same share every week, with the middle half beside it. Halving in four \
            weeks is 0.17 a week. Below 0 it has grown; a closed ulcer is faster than any rate.",
    numerator: "the natural logarithm of first area over that at four weeks, over the weeks between, of the middle ulcer",
    source: "Exponential shrinking: ln(first / now) / weeks",
    caution: "A description of those measured again in time, without an interval. Wounds do not shrink at one rate: it says how \
              steep the beginning was.",
    reading: "Half of the ulcers measured again shrank at least this fast.",
    unit: Unit::PerWeek,
    rule: FOUR_WEEK_RULE,
    method: Method::Described {
        numbers,
        beyond: "closed",
    },
    ..area_reduction_at_4_weeks::MEASURE
};

fn numbers(study: &Study<'_>, rule: &Rule) -> Vec<Described> {
    described(study, rule, |course| match course {
        FourWeeks::Read { now, .. } if now.area_cm2 == 0.0 => Some(f64::INFINITY),
        FourWeeks::Read { first, now, days } => {
            exponential_rate_per_week(first.area_cm2, now.area_cm2, days as f64)
        }
        FourWeeks::Ended | FourWeeks::NotRead => None,
    })
}
