use super::healed_within_12_weeks::{self, healing_rule};
use super::subjects::{self, Course};
use crate::measure::{FollowUp, FollowUpSummary, Measure, Method, Study};
use crate::rules::{Outcome, Rule, days_after};

/// Healing confirmed at a second visit; dated at the first closed one.
pub(super) const fn confirmed_rule(horizon_days: i64) -> Rule {
    Rule {
        event: &[Outcome::HealedConfirmed],
        ..healing_rule(horizon_days)
    }
}

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "healed-confirmed-within-12-weeks",
    title: "Healed within 12 weeks and confirmed at a second visit",
    words: "The strict version: the share of ulcers seen closed by a clinician on day 84 or earlier, counted from the first \
            visit, and seen closed again at least {confirmation_gap_days} days later. The day that counts is that of the first \
            closed visit. An ulcer removed by amputation is not healed.",
    numerator: "ulcers first seen closed on day 84 or earlier and confirmed closed at a second visit",
    source: "Complete closure confirmed at two visits two weeks apart: FDA guidance on chronic cutaneous ulcers, 2006 (from \
             memory); cumulative incidence after Aalen & Johansen 1978",
    caution: "A closure that nobody looked at again counts as unknown from that day on, so this figure falls where healed \
              people are not asked back. Beside the main version it shows how much rests on a single look.",
    context: &[],
    reading: "Of 100 ulcers first seen in that time, how many were closed 12 weeks later and found closed again after that.",
    rule: confirmed_rule(84),
    method: Method::FollowUp {
        subjects: ulcers_to_confirmation,
        summary: FollowUpSummary::IncidenceAt {
            days: &[84],
            headline_day: 84,
        },
    },
    ..healed_within_12_weeks::MEASURE
};

/// Whether a closure without a second look was one is not known from its day on, and so not on that day either: it is known up
/// to the day before.
pub(super) fn ulcers_to_confirmation(study: &Study<'_>, rule: &Rule) -> Vec<FollowUp> {
    subjects::ulcers_by(study, rule, |_, ulcer| {
        let unconfirmed = ulcer.closure.filter(|closure| closure.confirmed.is_none());
        Course {
            outcomes: ulcer.outcomes(),
            known_to: unconfirmed.map_or(ulcer.last_known.date, |closure| {
                days_after(closure.first_closed.date, -1)
            }),
            last_open: ulcer.closure.map(|closure| closure.last_open),
            severity: None,
        }
    })
}
