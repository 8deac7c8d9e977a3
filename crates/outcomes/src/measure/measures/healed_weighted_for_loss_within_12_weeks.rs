use super::healed_within_12_weeks;
use crate::measure::{FollowUpSummary, Measure, Method};

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "healed-weighted-for-loss-within-12-weeks",
    title: "Healed within 12 weeks, weighted for loss from sight",
    words: "The share of ulcers healed without amputation by day 84 among those whose outcome is known, each weighted by one over \
            its chance of being known. The chance comes from a model of loss from sight on age, size and grade of the ulcer at \
            the first visit. It is made when at least {model_events_per_term} ulcers were lost, and as many were not, for each \
            term of the model.",
    numerator: "ulcers known to have healed on day 84 or earlier; the share is weighted",
    source: "Weighting by the inverse chance of being followed: Robins & Finkelstein, Biometrics 2000;56:779-788 (from memory); \
             number of outcomes a term needs: Peduzzi et al., J Clin Epidemiol 1996;49:1373-1379 (from memory)",
    caution: "It mends only the loss that those three items explain. People who stay away for reasons that nobody wrote down, \
              because they healed or because they did badly, are still missing: the worst and best case bound what they can \
              change. The limits take the weights as known.",
    context: &[],
    reading: "Close to the main figure: loss from sight did not depend much on how severe the ulcers were.",
    method: Method::FollowUp {
        subjects: super::subjects::ulcers,
        summary: FollowUpSummary::WeightedForLoss,
    },
    ..healed_within_12_weeks::MEASURE
};
