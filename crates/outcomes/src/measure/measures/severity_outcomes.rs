//! Index ulcers with their published severity items and whether they had healed by the horizon.

use super::healed_within_12_weeks::healing_rule;
use crate::derive::{Episode, PersonEpisode, Reading};
use crate::expectation::severity_items;
use crate::measure::{Place, SeverityOutcome, Study, follow_up};
use crate::rules::{Outcome, Rule};

/// One ulcer a person-episode that began here: the index ulcer, as known at the end of its horizon.
pub(super) fn index_ulcers(study: &Study<'_>, rule: &Rule) -> Vec<SeverityOutcome> {
    let mut outcomes = Vec::new();
    for person in study.people {
        for day in person.opening_days() {
            let reading = person.reading_at(&study.view(day, rule.horizon_days));
            let began = reading
                .person_episodes
                .iter()
                .filter(|span| span.index.date == day && !span.is_prevalent);
            outcomes.extend(began.filter_map(|span| {
                let ulcer = index_ulcer(study, &reading, span)?;
                let presentation = reading.presentation(ulcer, study.rules);
                Some(SeverityOutcome {
                    cluster: ulcer.patient,
                    index: ulcer.index,
                    place: Some(Place::ulcer(ulcer.side, ulcer.label)),
                    items: severity_items(ulcer, &presentation),
                    is_yes: is_healed_by(ulcer, rule.horizon_days),
                })
            }));
        }
    }
    outcomes
}

/// The largest ulcer open on the first day of a person-episode; of equally large ones the one with the higher SINBAD
/// score, then the first by label. An ulcer without an area counts as the smallest.
fn index_ulcer<'r>(
    study: &Study<'_>,
    reading: &'r Reading<'_>,
    span: &PersonEpisode,
) -> Option<&'r Episode> {
    let first_day = span
        .wounds
        .iter()
        .filter_map(|&position| reading.episodes.get(position))
        .filter(|wound| !wound.is_post_surgical && wound.index.date == span.index.date);
    first_day.min_by(|one, other| {
        let size = |ulcer: &Episode| {
            let presentation = reading.presentation(ulcer, study.rules);
            (
                presentation.area_cm2.unwrap_or(-1.0),
                presentation.sinbad.lowest,
            )
        };
        let ((area, sinbad), (other_area, other_sinbad)) = (size(one), size(other));
        other_area
            .total_cmp(&area)
            .then(other_sinbad.cmp(&sinbad))
            .then((one.side, one.label).cmp(&(other.side, other.label)))
    })
}

/// Healed without amputation by a day: yes; amputated, dead or still open then: no; not seen up to that day: unknown.
fn is_healed_by(ulcer: &Episode, by_day: i64) -> Option<bool> {
    let rule = healing_rule(by_day);
    let known_to = ulcer.last_known.date;
    let followed = follow_up(
        &rule,
        ulcer.patient,
        ulcer.index,
        ulcer.outcomes(),
        known_to,
    )?;
    let exit_day = i64::from(followed.exit_day);
    match followed.ending {
        Some(ending) if exit_day <= by_day => Some(ending == Outcome::Healed),
        _ => (exit_day >= by_day).then_some(false),
    }
}
