use super::healed_against_published_strata;
use super::severity_outcomes::index_ulcers;
use crate::measure::{Measure, Method, Reference};

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "healed-against-own-past",
    title: "Healed at 20 weeks, against the practice's own past",
    words: "Index ulcers that had healed without amputation on day 140 or earlier, over the number that a model of the \
            practice's own earlier quarters expects of ulcers of that age, size and grade. The model is a logistic regression \
            on the three items of the published strata, fitted only on ulcers first seen before the quarter. \
            It is made when there are at least {model_events_per_term} healed and as many unhealed ulcers for each item.",
    source: "Logistic regression; number of outcomes a term needs: Peduzzi et al., J Clin \
             Epidemiol 1996;49:1373-1379 (from memory). Limits: Poisson-binomial law, the model taken as known",
    caution: "The limits take the model as known, so they are somewhat too narrow. A change in how wounds are measured looks \
              like a change in healing. A ratio above or below 1 does not show that care caused it.",
    context: &[],
    reading: "Above 1, more ulcers healed than this practice's own earlier results would lead one to expect; below 1, fewer.",
    method: Method::Expected {
        subjects: index_ulcers,
        reference: Reference::OwnPast,
    },
    ..healed_against_published_strata::MEASURE
};
