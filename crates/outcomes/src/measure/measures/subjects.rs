//! Whom several measures follow.

use crate::derive::{Episode, Limb, PersonOutcomes};
use crate::measure::{FollowUp, Study, follow_up};
use crate::rules::{Clock, Rule, days_between};
use crate::tables::{AmputationLevel, Dated};

/// Ulcers that began here, each read with the rule's evidence horizon.
///
/// Clock at the first visit: prevalent ulcers are left out. Clock at onset: every ulcer with a known onset, at risk
/// only from the first visit here.
pub(super) fn ulcers(study: &Study<'_>, rule: &Rule) -> Vec<FollowUp> {
    let mut followed = Vec::new();
    for person in study.people {
        for episode in person
            .reading
            .episodes
            .iter()
            .filter(|episode| !episode.is_post_surgical)
        {
            followed.extend(ulcer(study, rule, person, episode));
        }
    }
    followed
}

fn ulcer(
    study: &Study<'_>,
    rule: &Rule,
    person: &PersonOutcomes<'_>,
    episode: &Episode,
) -> Option<FollowUp> {
    let origin = match study.rules.clock {
        Clock::FirstVisit if episode.prevalent.is_some() => return None,
        Clock::FirstVisit => episode.index,
        Clock::Onset => episode.onset?.dated,
    };
    let entry_day = days_between(origin.date, episode.index.date);
    let view = study.view(origin.date, rule.horizon_days);
    if episode.index.date > view.until {
        return None;
    }
    let reading = person.reading_at(&view);
    let known = reading.episodes.iter().find(|other| {
        (other.side, other.label, other.index.date)
            == (episode.side, episode.label, episode.index.date)
    })?;
    let followed = follow_up(
        rule,
        episode.patient,
        origin,
        &known.outcomes(),
        known.last_known.date.min(view.until),
    )?;
    let is_at_risk = entry_day == 0 || followed.exit_day > entry_day;
    is_at_risk.then_some(FollowUp {
        index: episode.index,
        entry_day,
        ..followed
    })
}

/// Limbs from their first ulcer in view, each followed to the day deaths and procedures are known to.
pub(super) fn limbs<'a>(
    study: &Study<'a>,
    rule: &Rule,
) -> impl Iterator<Item = (&'a PersonOutcomes<'a>, &'a Limb, FollowUp)> {
    let (study, rule) = (*study, *rule);
    study.people.iter().flat_map(move |person| {
        person
            .reading
            .limbs
            .iter()
            .filter(|limb| !limb.is_prevalent)
            .filter_map(move |limb| {
                let view = study.view(limb.index.date, rule.horizon_days);
                let reading = person.reading_at(&view);
                let known = reading.limbs.iter().find(|other| other.side == limb.side)?;
                let known_to = study.horizon.limbs_known_to().min(view.until);
                let followed =
                    follow_up(&rule, limb.patient, limb.index, &known.outcomes(), known_to)?;
                Some((person, limb, followed))
            })
    })
}

/// Amputations of one level that count, dated inside the export.
pub(super) fn amputations(study: &Study<'_>, level: AmputationLevel) -> Vec<Dated> {
    let mut dates: Vec<Dated> = study
        .people
        .iter()
        .flat_map(|person| &person.reading.facts.amputations)
        .filter(|amputation| {
            amputation.level == level && amputation.at.date >= study.horizon.data_start
        })
        .map(|amputation| amputation.at)
        .collect();
    dates.sort_unstable();
    dates
}
