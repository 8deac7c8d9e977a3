use super::area_halved_at_4_weeks::FOUR_WEEK_RULE;
use super::area_reduction_at_4_weeks::{self, described};
use super::four_weeks::FourWeeks;
use crate::grade::{Outline, edge_advance_cm};
use crate::measure::{Described, Measure, Method, Study};
use crate::report::Unit;
use crate::rules::Rule;

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "edge-advance-in-4-weeks",
    title: "How fast the edge moved in over 4 weeks, the middle ulcer",
    words: "How many millimetres a week the edge of the middle ulcer moved inwards between its first visit and the visit nearest day \
            28 between day 21 and day 35, with the middle half beside it: the area lost over the mean of both perimeters, over the \
            weeks between. Unlike a share of the area it does not depend on how large the ulcer was. Below 0 it has grown.",
    numerator: "(first area less that at four weeks) over the mean perimeter, a week, of the middle ulcer",
    denominator: "ulcers first seen in the quarter with length and width at the first visit and in time",
    source: "Gilman 1990 (from memory); perimeter of an ellipse with that length and width: Ramanujan 1914",
    caution: "A description of those measured again in time, without an interval. It takes wounds for ellipses (or rectangles, by \
              the setting); traced areas have no perimeter here and are left out.",
    reading: "In half of the ulcers measured again the edge moved in at least this fast.",
    unit: Unit::MillimetresPerWeek,
    rule: FOUR_WEEK_RULE,
    method: Method::Described {
        numbers,
        beyond: "closed",
    },
    ..area_reduction_at_4_weeks::MEASURE
};

fn numbers(study: &Study<'_>, rule: &Rule) -> Vec<Described> {
    described(study, rule, |course| match course {
        FourWeeks::Read { first, now, days } if days > 0 => {
            let outline = |area_cm2: f64, perimeter_cm: Option<f64>| {
                Some(Outline {
                    area_cm2,
                    perimeter_cm: perimeter_cm?,
                })
            };
            let first = outline(first.area_cm2, first.perimeter_cm)?;
            let now = outline(now.area_cm2, now.perimeter_cm)?;
            edge_advance_cm(first, now).map(|cm| 10.0 * cm / (days as f64 / 7.0))
        }
        _ => None,
    })
}
