use super::recurrence_by_place::{MEASURE_BY_PLACE, by_place, place_rule};
use crate::measure::{FollowUpSummary, Measure, Method};
use crate::rules::Outcome;

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "recurrence-same-site-within-12-months",
    title: "New ulcer at the same site within 12 months",
    words: "Of people who had become free of ulcers, the share whose first new ulcer came at the same site as the wounds before, on day 365 \
            or earlier. A first new ulcer in another place or death comes before it. The shares of the three places add up to \
            the share with any new ulcer.",
    numerator: "people whose first new ulcer, after day {reopening_window_days} and on day 365 or earlier, came at the site of an ulcer they had had",
    caution: "A closed wound that opens again is not yet a recurrence until day {reopening_window_days}. It may say more about the footwear and the foot than about the wound care.",
    reading: "Of 100 people who were free of ulcers, how many had their first new one at the same site.",
    rule: place_rule(
        &[Outcome::NewUlcerSameSite],
        &[
            Outcome::Death,
            Outcome::BothLimbsLost,
            Outcome::NewUlcerSameFoot,
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
