use super::limbs_kept_at_12_months;
use crate::measure::{
    FollowUp, FollowUpSummary, Measure, Method, Place, Stratum, Study, follow_up,
};
use crate::rules::{Censoring, KnownRule, Outcome, Rule, UnitOfAnalysis};
use crate::tables::{AmputationLevel, Side};

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "repeat-amputation-within-12-months",
    title: "Another amputation of the same limb within 12 months",
    words: "The cumulative incidence of a further amputation of the same limb, minor or major, on day 365 or earlier, counted \
            from the limb's first amputation in this export. Planned stages and closures of one operation are no further \
            amputation; a higher level is, however soon. An ulcer that was seen and later found removed, with no amputation of \
            that leg recorded in between, counts as a minor one on the day it was found so. Death competes.",
    numerator: "limbs amputated again on day 365 or earlier",
    denominator: "limbs whose first amputation in this export was done in the quarter",
    exclusions: "planned stages and closures within {staged_amputation_days} days on the same limb; amputations without a \
                 recorded side",
    source: "Level: IWGDF definitions 2023 (from memory); stages counted once: rule of this project",
    caution: "As known to this practice. Amputations before the export began are not seen, so a first one here may be a later \
              one of the limb. A further operation at a higher level can be the right one.",
    context: &[],
    direction: "worse",
    reading: "Of 100 limbs amputated at some level, how many were operated on again within a year.",
    rule: Rule {
        unit: UnitOfAnalysis::Amputation,
        clock: "the limb's first amputation in this export",
        entry_day: 0,
        event: &[Outcome::RepeatAmputation],
        competing: &[Outcome::Death],
        censoring: Censoring::LimbsKnownTo,
        known: KnownRule::AsTold,
        horizon_days: 365,
    },
    method: Method::FollowUp {
        subjects,
        summary: FollowUpSummary::IncidenceAt {
            days: &[365],
            headline_day: 365,
        },
    },
    ..limbs_kept_at_12_months::MEASURE
};

/// Limbs from their first amputation dated inside the export, as known at the end of the horizon that begins on that day.
fn subjects(study: &Study<'_>, rule: &Rule) -> Vec<FollowUp> {
    let mut followed = Vec::new();
    for person in study.people {
        for day in person.operation_days() {
            let view = study.view(day, rule.horizon_days);
            let reading = person.reading_at(&view);
            for &side in Side::ALL {
                let of_limb = reading.facts.amputations.iter();
                let mut of_limb = of_limb
                    .filter(|done| done.side == side && done.at.date >= study.horizon.data_start);
                let Some(first) = of_limb.next().filter(|first| first.at.date == day) else {
                    continue;
                };
                let again = of_limb
                    .next()
                    .map(|next| (Outcome::RepeatAmputation, next.at));
                let death = reading.facts.death.map(|death| (Outcome::Death, death));
                let outcomes = again.into_iter().chain(death);
                let known_to = study.horizon.limbs_known_to().min(view.until);
                let subject = follow_up(rule, person.person.key, first.at, outcomes, known_to);
                let stratum = match first.level {
                    AmputationLevel::Minor => Stratum::FirstMinor,
                    AmputationLevel::Major => Stratum::FirstMajor,
                };
                followed.extend(subject.map(|subject| FollowUp {
                    place: Some(Place::leg(side)),
                    stratum: Some(stratum),
                    ..subject
                }));
            }
        }
    }
    followed
}
