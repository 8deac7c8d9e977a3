use super::{major_amputations, minor_amputations};
use crate::measure::{Measure, Method};
use crate::report::Unit;
use crate::rules::{Outcome, Rule};

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "major-to-minor-ratio",
    title: "Major amputations for each minor one",
    words: "Major amputations over minor ones, planned stages and closures counted once. Printed only with at least \
            {ratio_events_at_least} of each, and always with both counts beside it.",
    numerator: "major amputations dated in the quarter",
    denominator: "minor amputations dated in the quarter",
    source: "Exact limits from the binomial law of the major ones among all: Clopper and Pearson, Biometrika 1934;26:404, as \
             odds",
    caution: "As known to this practice. The same ratio comes from few operations of both kinds and from many: it rises when \
              minor amputations become fewer, which is no harm. Never read it without the two counts.",
    direction: "neither",
    reading: "How many legs were lost above the ankle for each operation through or below it.",
    unit: Unit::Ratio,
    rule: Rule {
        event: &[Outcome::MajorAmputation, Outcome::MinorAmputation],
        ..major_amputations::MEASURE.rule
    },
    method: Method::CountRatio {
        above: major_amputations::events,
        below: minor_amputations::events,
    },
    ..major_amputations::MEASURE
};
