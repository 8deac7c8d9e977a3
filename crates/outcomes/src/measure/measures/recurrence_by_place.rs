//! The first new ulcer by where it is, compared with the wounds before.

use super::recurrence_within_12_months::{self, recurrence_rule, remissions};
use crate::derive::{RecurrencePlace, Remission};
use crate::measure::{FollowUp, Measure, Study};
use crate::rules::{Outcome, Rule};
use crate::tables::Dated;

/// What the three measures share.
pub(super) const MEASURE_BY_PLACE: Measure = Measure {
    source: "IWGDF definitions 2023: a new ulcer whatever its place; places apart, and of several on one day the nearest: rules of this project",
    context: &[],
    ..recurrence_within_12_months::MEASURE
};

/// The event is a place; first new ulcers in the other places compete.
pub(super) const fn place_rule(event: &'static [Outcome], competing: &'static [Outcome]) -> Rule {
    Rule {
        event,
        competing,
        ..recurrence_rule(365)
    }
}

/// One remission a person and quarter, the new ulcer named by its place.
pub(super) fn by_place(study: &Study<'_>, rule: &Rule) -> Vec<FollowUp> {
    remissions(study, rule, named_outcomes)
}

fn named_outcomes(remission: &Remission) -> Vec<(Outcome, Dated)> {
    let place = remission.recurrence.map(|new| new.place);
    let named = |outcome: Outcome| match (outcome, place) {
        (Outcome::NewUlcer, Some(RecurrencePlace::SameSite)) => Outcome::NewUlcerSameSite,
        (Outcome::NewUlcer, Some(RecurrencePlace::SameFoot)) => Outcome::NewUlcerSameFoot,
        (Outcome::NewUlcer, Some(RecurrencePlace::OtherFoot)) => Outcome::NewUlcerOtherFoot,
        (other, _) => other,
    };
    let outcomes = remission.outcomes().into_iter();
    outcomes.map(|(outcome, at)| (named(outcome), at)).collect()
}
