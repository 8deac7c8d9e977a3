use crate::measure::{Answer, Measure, Method, Study};
use crate::report::Unit;
use crate::rules::{Censoring, KnownRule, Rule, UnitOfAnalysis, days_between};

/// Up to this day a new ulcer is counted here, after it as a recurrence.
const LAST_DAY: i64 = 28;

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "new-ulcer-soon-after-closure",
    family: "recurrence",
    title: "New ulcer elsewhere within 28 days of being ulcer-free",
    words: "The share of people with a new ulcer at another site within 28 days of the day their last wound was first seen \
            closed. They are counted apart from recurrence: nobody can say yet that the person had become ulcer-free for good.",
    numerator: "people with a new ulcer on day 1 to 28",
    denominator: "people whose last wound closed in the quarter",
    exclusions: "reopenings of the same site, which cancel the closure; people not examined after day 28 are unknown",
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
        horizon_days: LAST_DAY,
    },
    method: Method::Status { answers },
};

fn answers(study: &Study<'_>, rule: &Rule) -> Vec<Answer> {
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
                    .is_some_and(|new| after(new.first_open) <= LAST_DAY);
                let is_seen_clear = after(remission.last_exam) > LAST_DAY;
                let is_yes = if is_soon {
                    Some(true)
                } else {
                    is_seen_clear.then_some(false)
                };
                Answer {
                    cluster: remission.patient,
                    index: remission.start,
                    is_yes,
                }
            }));
        }
    }
    answers
}
