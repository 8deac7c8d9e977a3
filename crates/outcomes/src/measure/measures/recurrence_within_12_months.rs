use crate::derive::Remission;
use crate::measure::{FollowUp, FollowUpSummary, Measure, Method, Stratum, Study, follow_up};
use crate::report::Unit;
use crate::rules::{Censoring, KnownRule, Outcome, Quarter, Rule, UnitOfAnalysis};
use crate::tables::Dated;

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "recurrence-within-12-months",
    family: "recurrence",
    title: "New ulcer within 12 months of being ulcer-free",
    words: "The share of people with a new ulcer, at any site of either foot, on day 365 or earlier, counted from the day \
            their last wound was first seen closed. People enter on day {reopening_window_days}, when the closure stands; a person who dies \
            first can have no new ulcer.",
    numerator: "people with a new ulcer after day {reopening_window_days} and on day 365 or earlier",
    denominator: "people whose last wound closed in the quarter and who were still free of ulcers on day {reopening_window_days}",
    exclusions: "people with a new ulcer elsewhere, a death in the first {reopening_window_days} days, or no examination after them; a second \
                 remission of one person in the same quarter",
    source: "IWGDF definitions 2023: a new ulcer whatever its place and time (from memory)",
    caution: "People who stay away are counted until their last examination only. Being ulcer-free again and again is \
              common; one year is a short look.",
    context: &[
        "40% in the first year: Armstrong et al., N Engl J Med 2017;376:2367 (from memory)",
        "22.1 per 100 person-years (19.0-25.2), 49 studies: Fu et al. 2019",
    ],
    direction: "worse",
    reading: "Of 100 people who were free of ulcers, how many had a new one within a year.",
    unit: Unit::Share,
    rule: recurrence_rule(365),
    method: Method::FollowUp {
        subjects,
        summary: FollowUpSummary::IncidenceAt {
            days: &[365],
            headline_day: 365,
        },
    },
};

/// A new ulcer by a day, at any site of either foot.
pub(super) const fn recurrence_rule(horizon_days: i64) -> Rule {
    Rule {
        unit: UnitOfAnalysis::Person,
        clock: "the day the last wound on either foot was first seen closed",
        // Replaced by the reopening window in force.
        entry_day: 28,
        event: &[Outcome::NewUlcer],
        competing: &[Outcome::Death, Outcome::BothLimbsLost],
        censoring: Censoring::LastFootExam,
        known: KnownRule::CensoredAtExam,
        horizon_days,
    }
}

/// One remission a person and quarter, the first that is at risk. Both legs lost above the ankle competes, one does not.
pub(super) fn subjects(study: &Study<'_>, rule: &Rule) -> Vec<FollowUp> {
    remissions(study, rule, Remission::outcomes)
}

/// The same with the outcomes that `outcomes_of` reads from a remission.
pub(super) fn remissions(
    study: &Study<'_>,
    rule: &Rule,
    outcomes_of: fn(&Remission) -> Vec<(Outcome, Dated)>,
) -> Vec<FollowUp> {
    let rule = &Rule {
        entry_day: study.rules.reopening_window_days,
        ..*rule
    };
    let mut followed = Vec::new();
    for person in study.people {
        let mut last_quarter = None;
        for day in person.closing_days() {
            let quarter = Quarter::of(day);
            if last_quarter == Some(quarter) {
                continue;
            }
            let reading = person.reading_at(&study.view(day, rule.horizon_days));
            let began = reading
                .remissions
                .iter()
                .find(|remission| remission.start.date == day);
            let subject = began.and_then(|remission| {
                let stratum = if remission.is_after_amputation {
                    Stratum::AfterAmputationWound
                } else {
                    Stratum::AfterHealing
                };
                let known_to = remission.last_exam.date;
                let subject = follow_up(
                    rule,
                    remission.patient,
                    remission.start,
                    outcomes_of(remission),
                    known_to,
                )?;
                Some(FollowUp {
                    stratum: Some(stratum),
                    ..subject
                })
            });
            if subject.is_some() {
                last_quarter = Some(quarter);
            }
            followed.extend(subject);
        }
    }
    followed
}
