use super::healed_within_12_weeks::{self, healing_rule};
use super::subjects::{self, Course};
use crate::measure::{FollowUp, FollowUpSummary, Measure, Method, Study};
use crate::rules::{Outcome, Rule};

/// Closure of the ulcer, or of the wound that its minor amputation left.
pub(super) const fn closure_rule(horizon_days: i64) -> Rule {
    Rule {
        event: &[Outcome::WoundClosed],
        competing: &[Outcome::MajorAmputation, Outcome::Death],
        ..healing_rule(horizon_days)
    }
}

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "healed-including-minor-amputation-within-12-weeks",
    title: "Healed within 12 weeks, minor amputation included",
    words: "The share of ulcers that on day 84 or earlier had healed, or had been removed by an amputation through or below \
            the ankle whose own wound had closed. The operation itself is no closure. Only a major amputation of that limb \
            and death end the chance.",
    numerator: "ulcers healed, or removed with the wound closed, on day 84 or earlier",
    source: "Second of three versions of healed (rule of this project); cumulative incidence after Aalen & Johansen 1978",
    caution: "It counts a lost toe with a closed wound like a healed ulcer, so it belongs beside the version without \
              amputation. Where no surgical wound was recorded, the next look at that foot without an open wound closes it.",
    context: &[],
    reading: "Of 100 ulcers first seen in that time, how many had left no open wound 12 weeks later, with or without a minor \
              amputation.",
    rule: closure_rule(84),
    method: Method::FollowUp {
        subjects: ulcers_to_closure,
        summary: FollowUpSummary::IncidenceAt {
            days: &[84],
            headline_day: 84,
        },
    },
    ..healed_within_12_weeks::MEASURE
};

pub(super) fn ulcers_to_closure(study: &Study<'_>, rule: &Rule) -> Vec<FollowUp> {
    subjects::ulcers_by(study, rule, |reading, ulcer| {
        let course = reading.wound_course(ulcer, study.rules);
        Course {
            outcomes: course.outcomes.into_iter().flatten(),
            known_to: course.last_known.date,
            last_open: Some(course.last_open),
            severity: None,
        }
    })
}
