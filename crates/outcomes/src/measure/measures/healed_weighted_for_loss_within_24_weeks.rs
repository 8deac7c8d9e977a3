use super::healed_weighted_for_loss_within_12_weeks;
use super::healed_within_12_weeks::healing_rule;
use crate::measure::Measure;

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "healed-weighted-for-loss-within-24-weeks",
    title: "Healed within 24 weeks, weighted for loss from sight",
    words: "The share of ulcers healed without amputation by day 168 among those whose outcome is known, each weighted by one over \
            its chance of being known. The chance comes from a model of loss from sight on age, size and grade of the ulcer at \
            the first visit. It is made when at least {model_events_per_term} ulcers were lost, and as many were not, for each \
            term of the model.",
    numerator: "ulcers known to have healed on day 168 or earlier; the share is weighted",
    rule: healing_rule(168),
    ..healed_weighted_for_loss_within_12_weeks::MEASURE
};
