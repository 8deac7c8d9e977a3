use super::severity_outcomes::index_ulcers;
use crate::measure::{Measure, Method, Reference};
use crate::report::Unit;
use crate::rules::{Censoring, KnownRule, Outcome, Rule, UnitOfAnalysis};

/// The 20-week status of the index ulcer.
pub(super) const STATUS_AT_20_WEEKS: Rule = Rule {
    unit: UnitOfAnalysis::PersonEpisode,
    clock: "first visit here of the index ulcer",
    entry_day: 0,
    event: &[Outcome::Healed],
    competing: &[
        Outcome::MinorAmputation,
        Outcome::MajorAmputation,
        Outcome::Death,
    ],
    censoring: Censoring::Nothing,
    known: KnownRule::KnownOnly,
    horizon_days: 140,
};

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "healed-against-published-strata",
    family: "healing",
    title: "Healed at 20 weeks, against published severity strata",
    words: "Of person-episodes that began in the quarter, the index ulcers (the largest on the first day) that had healed \
            without amputation on day 140 or earlier, over the number expected from their severity: one point each for open \
            more than 2 months, larger than 2 square cm, and grade 3 or more; of ulcers with 0 to 3 points 65%, 53%, 34% and \
            19% are expected to heal.",
    numerator: "index ulcers healed on day 140 or earlier",
    denominator: "index ulcers of person-episodes that began in the quarter, with severity and outcome known",
    exclusions: "person-episodes with an ulcer first seen in the first {prevalent_window_days} days of the export, or \
                 transferred in, on their first day; out of the ratio, and in its bounds: ulcers with a missing item or an \
                 unknown outcome",
    source: "Strata: Margolis et al., Am J Med 2003;115:627-631, validation set. Limits: Poisson-binomial law, tails inverted \
             for one common factor of the odds",
    caution: "The strata come from 27,630 people of another country and time: context, not a target. A ratio above or below 1 \
              does not show that care caused it. An ulcer amputated or a person dead by day 140 counts as not healed.",
    context: &[
        "47% of 27,630 people had healed within 20 weeks: Margolis et al., Am J Med 2003;115:627",
        "30.9% (26.6-35.1) healed by 20 weeks in the control arms of six trials: Margolis et al., Diabetes Care 1999;22:692",
    ],
    direction: "better",
    reading: "Above 1, more ulcers healed than in people elsewhere with wounds of that age, size and depth; below 1, fewer.",
    unit: Unit::Ratio,
    rule: STATUS_AT_20_WEEKS,
    method: Method::Expected {
        subjects: index_ulcers,
        reference: Reference::PublishedStrata,
    },
};
