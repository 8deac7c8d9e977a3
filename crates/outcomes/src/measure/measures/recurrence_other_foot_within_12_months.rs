use super::recurrence_by_place::{MEASURE_BY_PLACE, by_place, place_rule};
use crate::measure::{FollowUpSummary, Measure, Method};
use crate::rules::Outcome;

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "recurrence-other-foot-within-12-months",
    title: "New ulcer on the other foot within 12 months",
    words: "Of people who had become free of ulcers, the share whose first new ulcer came on the other foot than the wounds before, on day 365 \
            or earlier. A first new ulcer in another place or death comes before it. The shares of the three places add up to \
            the share with any new ulcer.",
    numerator: "people whose first new ulcer, after day {reopening_window_days} and on day 365 or earlier, came on the foot that had had no ulcer in that spell",
    caution: "It shows why both feet stay at risk; a walker or a cast on one side changes the load of the other.",
    reading: "Of 100 people who were free of ulcers, how many had their first new one on the other foot.",
    rule: place_rule(
        &[Outcome::NewUlcerOtherFoot],
        &[
            Outcome::Death,
            Outcome::BothLimbsLost,
            Outcome::NewUlcerSameSite,
            Outcome::NewUlcerSameFoot,
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
