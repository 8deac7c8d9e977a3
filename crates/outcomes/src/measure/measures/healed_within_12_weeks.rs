use super::subjects;
use crate::measure::{FollowUpSummary, Measure, Method};
use crate::report::Unit;
use crate::rules::{Censoring, KnownRule, Outcome, Rule, UnitOfAnalysis};

/// Healing of ulcers without amputation by a day, everything else as for 12 weeks.
pub(super) const fn healing_rule(horizon_days: i64) -> Rule {
    Rule {
        unit: UnitOfAnalysis::Ulcer,
        clock: "first visit here (or onset, with delayed entry at the first visit)",
        entry_day: 0,
        event: &[Outcome::Healed],
        competing: &[
            Outcome::MinorAmputation,
            Outcome::MajorAmputation,
            Outcome::Death,
        ],
        censoring: Censoring::LastStateKnown,
        known: KnownRule::Censored,
        horizon_days,
    }
}

pub(super) const EXCLUSIONS: &str = "ulcers first seen in the first {prevalent_window_days} days of the export (they may be older than they look), or transferred in; surgical wounds; \
                                     pre-ulcerative lesions; ulcers above the foot";

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "healed-within-12-weeks",
    family: "healing",
    title: "Healed within 12 weeks, without amputation",
    words: "The share of ulcers seen closed by a clinician on day 84 or earlier, counted from the first visit. A closure \
            that opens again within {reopening_window_days} days does not count. An ulcer removed by amputation is not healed.",
    numerator: "ulcers healed on day 84 or earlier",
    denominator: "ulcers first seen in the quarter",
    exclusions: EXCLUSIONS,
    source: "Rule of this project after FDA 2006 (complete closure) and IWGDF 2023 (healed); cumulative incidence \
             after Aalen & Johansen 1978",
    caution: "Large, deep, infected or badly perfused ulcers heal more slowly; without case-mix this figure does not \
              compare practices. Dates are visit dates: with visits far apart healing looks later than it was.",
    context: &[
        "24.2% (19.5-28.8) of neuropathic ulcers in the control arms of four trials: Margolis et al., Diabetes Care \
         1999;22:692",
    ],
    direction: "better",
    reading: "Of 100 ulcers first seen in that time, how many were closed for good 12 weeks later.",
    unit: Unit::Share,
    rule: healing_rule(84),
    method: Method::FollowUp {
        subjects: subjects::ulcers,
        summary: FollowUpSummary::IncidenceAt {
            days: &[84],
            headline_day: 84,
        },
    },
};
