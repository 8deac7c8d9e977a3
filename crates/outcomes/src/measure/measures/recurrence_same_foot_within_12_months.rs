use super::recurrence_by_place::{MEASURE_BY_PLACE, by_place, place_rule};
use crate::measure::{FollowUpSummary, Measure, Method};
use crate::rules::Outcome;

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "recurrence-same-foot-within-12-months",
    title: "New ulcer elsewhere on the same foot within 12 months",
    words: "Of people who had become free of ulcers, the share whose first new ulcer came on the same foot as the wounds before, at another site, on day 365 \
            or earlier. A first new ulcer in another place or death comes before it. The shares of the three places add up to \
            the share with any new ulcer.",
    numerator: "people whose first new ulcer, after day {reopening_window_days} and on day 365 or earlier, came elsewhere on a foot that had had an ulcer",
    caution: "Where no site is recorded, a new label on the same foot counts here.",
    reading: "Of 100 people who were free of ulcers, how many had their first new one elsewhere on the same foot.",
    rule: place_rule(
        &[Outcome::NewUlcerSameFoot],
        &[
            Outcome::Death,
            Outcome::BothLimbsLost,
            Outcome::NewUlcerSameSite,
            Outcome::NewUlcerOtherFoot,
        ],
    ),
    method: Method::FollowUp {
        subjects: by_place,
        summary: FollowUpSummary::IncidenceAt {
            days: &[365],
            headline_day: 365,
        },
    },
    ..MEASURE_BY_PLACE
};
