use crate::measure::{Answer, Measure, Method, Study};
use crate::report::Unit;
use crate::rules::{Censoring, KnownRule, Rule, UnitOfAnalysis, days_between};

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "new-ulcer-soon-after-closure",
    family: "recurrence",
    title: "New ulcer elsewhere soon after being ulcer-free",
    words: "The share of people with a new ulcer at another site within {reopening_window_days} days of the day their last wound was first seen \
            closed. They are counted apart from recurrence: nobody can say yet that the person had become ulcer-free for good.",
    numerator: "people with a new ulcer on day 1 to {reopening_window_days}",
    denominator: "people whose last wound closed in the quarter",
    exclusions: "reopenings of the same site, which cancel the closure; people not examined after day {reopening_window_days} are unknown",
    source: "Rule of this project",
    caution: "Few people; read the count before the share.",
    context: &[],
    direction: "worse",
    reading: "Of 100 people whose last wound closed, how many had a new one elsewhere within four weeks.",
    unit: Unit::Share,
    rule: Rule {
        unit: UnitOfAnalysis::Person,
        clock: "the day the last wound on either foot was first seen closed",
        entry_day: 0,
        event: &[],
        competing: &[],
        censoring: Censoring::Nothing,
        known: KnownRule::KnownOnly,
        // The reopening window in force decides; this many days are read.
        horizon_days: 28,
    },
    method: Method::Status { answers },
};

fn answers(study: &Study<'_>, rule: &Rule) -> Vec<Answer> {
    let last_day = study.rules.reopening_window_days;
    let mut answers = Vec::new();
    for person in study.people {
        for day in person.closing_days() {
            let reading = person.reading_at(&study.view(day, rule.horizon_days));
            let began = reading
                .remissions
                .iter()
                .filter(|remission| remission.start.date == day);
            answers.extend(began.map(|remission| {
                let after = |at: crate::tables::Dated| days_between(remission.start.date, at.date);
                let is_soon = remission
                    .recurrence
                    .is_some_and(|new| after(new.first_open) <= last_day);
                let is_seen_clear = after(remission.last_exam) > last_day;
                let is_yes = if is_soon {
                    Some(true)
                } else {
                    is_seen_clear.then_some(false)
                };
                Answer {
                    cluster: remission.patient,
                    index: remission.start,
                    place: None,
                    is_yes,
                }
            }));
        }
    }
    answers
}
