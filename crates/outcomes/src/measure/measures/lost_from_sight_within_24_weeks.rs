use super::new_ulcers::{self, process_rule};
use crate::measure::{Answer, Measure, Method, Study};
use crate::report::Unit;
use crate::rules::{Rule, days_after};

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "lost-from-sight-within-24-weeks",
    family: "data",
    title: "Open ulcers lost from sight within 24 weeks",
    words: "Of new ulcers, the share that was last seen open and then unseen for more than {lost_after_days} days up to day 168: nobody here knows what became of them.",
    numerator: "ulcers open when last seen, and unseen for more than {lost_after_days} days before day 168",
    denominator: "ulcers first seen in the quarter",
    exclusions: "surgical wounds; ulcers first seen in the first {prevalent_window_days} days of the export, or transferred in; ulcers whose care was transferred to another service",
    source: "Rule of this project",
    caution: "An ulcer seen again after day 168 was out of sight all the same. People may have healed, died or gone elsewhere; every figure of healing is made from the others.",
    context: &[],
    direction: "worse",
    reading: "Of 100 new ulcers, how many went out of sight while still open.",
    unit: Unit::Share,
    rule: process_rule(168),
    method: Method::Status { answers },
};

fn answers(study: &Study<'_>, rule: &Rule) -> Vec<Answer> {
    new_ulcers::answers(study, rule, |_, ulcer, view| {
        if ulcer.transferred_out.is_some() {
            return None;
        }
        let last_day = days_after(ulcer.index.date, 168);
        let is_ended = ulcer.closure.is_some()
            || ulcer.minor_amputation.is_some()
            || ulcer.major_amputation.is_some()
            || ulcer.death.is_some();
        // What is known on day 168 counts: a later row does not bring an ulcer back into sight.
        let mut known = ulcer.known_days.iter().rev();
        let last_known = known.find(|day| **day <= last_day);
        let seen_by = last_known.copied().unwrap_or(ulcer.index.date);
        let is_unseen = days_after(seen_by, view.rules.lost_after_days) < last_day;
        let ended_by_then = is_ended && ulcer.end_at.date <= last_day;
        Some(Some(!ended_by_then && is_unseen))
    })
}
