//! Measures: what is counted, of whom, and how it is summarised.
//!
//! A measure is one value in one file. Help, `explain`, the report and the docs are made from it. It gives the people
//! it counts; the framework here decides maturity, numerators, intervals and bounds, so that no two measures can
//! differ in them.

mod between_visits;
mod catalogue;
mod cohort;
mod counts;
mod described;
mod expected;
mod follow_up;
mod incidence;
mod loss;
mod measures;
mod places;
mod probability;
mod quantiles;
mod shares;
mod splitting;
mod strata;
mod subject;
mod summary;
mod time_free;
mod trace;

pub(crate) use between_visits::middle;
pub(crate) use catalogue::main_version;
pub use catalogue::{FAMILIES, FamilyWords, MEASURES, find_measure};
pub use cohort::{Cohort, Study};
pub use counts::CountHistory;
pub use described::Described;
pub(crate) use expected::by_strata;
pub use follow_up::{FollowUp, Remark, Stratum, follow_up};
pub use incidence::incidence_curves;
pub(crate) use incidence::{not_yet_days, sample_of};
pub use places::Places;
pub(crate) use probability::within;
pub(crate) use quantiles::HALF;
pub use splitting::evaluate_split;
pub(crate) use splitting::members;
pub use strata::{Label, LabelOf, SplitBy, Stratifier};
pub(crate) use summary::evaluate_at;
pub use summary::{Prepared, evaluate, prepare, prepare_all};
pub use time_free::StateCourse;
pub(crate) use time_free::{COUNTED, OTHER, START};
pub use trace::{Part, Strata, TraceLine, TracedFigure, places, tally_parts, trace};

use crate::expectation::SeverityItems;
use crate::report::{RuleLine, Unit, words};
use crate::rules::{Clock, Outcome, Quarter, Rule, Rules, UnitOfAnalysis};
use crate::tables::{Dated, NameId, PatientKey, Side};
use chrono::NaiveDate;

/// A named definition of an outcome, with everything a reader may ask about it.
#[derive(Debug, Clone, Copy)]
pub struct Measure {
    /// Kebab-case id, never reused.
    pub id: &'static str,
    /// Id of its family.
    pub family: &'static str,
    /// Title.
    pub title: &'static str,
    /// The definition in plain words.
    pub words: &'static str,
    /// Who counts in the numerator.
    pub numerator: &'static str,
    /// Who is in the denominator.
    pub denominator: &'static str,
    /// Who is left out.
    pub exclusions: &'static str,
    /// Where the definition comes from.
    pub source: &'static str,
    /// What the number does not show.
    pub caution: &'static str,
    /// Published figures for context, each with its citation; never a target.
    pub context: &'static [&'static str],
    /// Whether a higher figure is `better`, `worse` or `neither`.
    pub direction: &'static str,
    /// One line on how to read it.
    pub reading: &'static str,
    /// Unit of its values.
    pub unit: Unit,
    /// Its row of the rules table.
    pub rule: Rule,
    /// Whom it counts, and how.
    pub method: Method,
}

impl Measure {
    /// When a figure is mature, in words.
    pub fn maturity(&self, rules: &Rules) -> String {
        match self.method {
            Method::FollowUp { .. }
            | Method::Status { .. }
            | Method::MeanCount { .. }
            | Method::Bands { .. }
            | Method::Expected { .. }
            | Method::Described { .. }
            | Method::TimeFree { .. } => format!(
                "mature {} after the quarter's end: day {} and {} more days of evidence",
                words::counted(self.days_to_maturity(rules), "day", "days"),
                self.rule.horizon_days,
                rules.evidence_days
            ),
            Method::Count { .. } | Method::CountRatio { .. } => {
                "mature once deaths and procedures are known to the quarter's end".to_owned()
            }
            Method::Snapshot { .. } => "mature at the quarter's end".to_owned(),
        }
    }

    fn days_to_maturity(&self, rules: &Rules) -> usize {
        usize::try_from(self.rule.horizon_days + rules.evidence_days).unwrap_or_default()
    }

    fn starts_at_onset(&self, rules: &Rules) -> bool {
        rules.clock == Clock::Onset
            && self.family == "healing"
            && self.rule.unit == UnitOfAnalysis::Ulcer
    }

    /// The definition, under the clock in force.
    pub fn words_under(&self, rules: &Rules) -> String {
        let words = rules.fill(self.words);
        if self.starts_at_onset(rules) {
            words.replace(
                "counted from the first visit",
                "counted from the onset told",
            )
        } else {
            words
        }
    }

    /// Who is left out, under the clock in force.
    pub fn exclusions_under(&self, rules: &Rules) -> String {
        if self.starts_at_onset(rules) {
            "ulcers without a told onset; surgical wounds; pre-ulcerative lesions; ulcers above the foot. \
             Every other ulcer enters at its first visit here, wherever it was treated before"
                .to_owned()
        } else {
            rules.fill(self.exclusions)
        }
    }

    /// Its row of the rules table in words.
    pub fn rule_line(&self, rules: &Rules) -> RuleLine {
        let rule = &self.rule;
        // a person-episode that is followed by its index ulcer is told of that ulcer
        let told_of = match rule.event {
            [Outcome::Healed] => UnitOfAnalysis::Ulcer,
            _ => rule.unit,
        };
        let list = |outcomes: &[Outcome]| {
            let words = outcomes.iter().map(|outcome| outcome.words_of(told_of));
            words.collect::<Vec<_>>().join("; ")
        };
        let mut outcomes: Vec<Outcome> = rule.event.iter().chain(rule.competing).copied().collect();
        outcomes.sort_unstable();
        RuleLine {
            measure: self.id.to_owned(),
            unit: rule.unit.code().to_owned(),
            clock: rule.clock.to_owned(),
            entry: match rule.entry_day {
                0 => "day 0, day-0 events included".to_owned(),
                _ => format!("after day {}", rules.reopening_window_days),
            },
            event: if rule.event.is_empty() {
                rules.fill(self.numerator)
            } else {
                list(rule.event)
            },
            competing: if rule.competing.is_empty() {
                "none".to_owned()
            } else {
                list(rule.competing)
            },
            censoring: rule.censoring.code().to_owned(),
            same_day: if outcomes.is_empty() {
                "does not arise".to_owned()
            } else {
                format!("{}; then censoring", list(&outcomes))
            },
            known: rule.known.code().to_owned(),
        }
    }
}

/// Whom a measure counts, and how they are summarised.
#[derive(Debug, Clone, Copy)]
pub enum Method {
    /// Follow-up times, summarised by a cumulative incidence with cluster-robust limits.
    FollowUp {
        /// Everybody followed, whatever the cohort.
        subjects: fn(&Study<'_>, &Rule) -> Vec<FollowUp>,
        /// What is read from the curve.
        summary: FollowUpSummary,
    },
    /// A status of people, summarised by a proportion of known answers with Wilson limits.
    Status {
        /// Everybody asked, whatever the cohort.
        answers: fn(&Study<'_>, &Rule) -> Vec<Answer>,
    },
    /// Outcomes of ulcers of known severity, summarised by observed over expected with exact limits.
    Expected {
        /// Everybody judged, whatever the cohort.
        subjects: fn(&Study<'_>, &Rule) -> Vec<SeverityOutcome>,
        /// Where the expectation comes from.
        reference: Reference,
    },
    /// Numbers of single ulcers, summarised by their middle and middle half.
    Described {
        /// Everybody measured or not, whatever the cohort.
        numbers: fn(&Study<'_>, &Rule) -> Vec<Described>,
        /// What is said of a number beyond every number.
        beyond: &'static str,
    },
    /// Courses through states, summarised by the mean days in one of them up to the horizon.
    TimeFree {
        /// Everybody followed, whatever the cohort.
        courses: fn(&Study<'_>, &Rule) -> Vec<StateCourse>,
    },
    /// Events of a quarter, summarised by a count with exact Poisson limits.
    Count {
        /// Every event, whatever the quarter.
        events: fn(&Study<'_>) -> Vec<Occurrence>,
    },
    /// A band each of those asked about falls into, summarised by the share of each band among the known.
    Bands {
        /// Names of the bands, the one of the headline first.
        classes: &'static [&'static str],
        /// Everybody asked, whatever the cohort.
        banded: fn(&Study<'_>, &Rule) -> Vec<Banded>,
    },
    /// Events that can happen again, summarised by their mean number per 100 subjects.
    MeanCount {
        /// Everybody followed, whatever the cohort.
        histories: fn(&Study<'_>, &Rule) -> Vec<CountHistory>,
    },
    /// Events of a quarter of two kinds, summarised by one count over the other with exact limits.
    CountRatio {
        /// The events above the line, whatever the quarter.
        above: fn(&Study<'_>) -> Vec<Occurrence>,
        /// The events below it.
        below: fn(&Study<'_>) -> Vec<Occurrence>,
    },
    /// Everybody's class on the last day of a quarter, summarised by the share of each class.
    Snapshot {
        /// Names of the classes, in order.
        classes: &'static [&'static str],
        /// Each person counted with their class.
        classify: fn(&Study<'_>, Quarter) -> Vec<(PatientKey, ClassPlace)>,
    },
}

/// What is read from a cumulative incidence curve.
#[derive(Debug, Clone, Copy)]
pub enum FollowUpSummary {
    /// The cumulative incidence at each of these days; the headline is read at one of them.
    IncidenceAt {
        /// Days, ascending.
        days: &'static [i64],
        /// The day of the headline and the trend.
        headline_day: i64,
    },
    /// The cumulative incidence at the horizon with every date drawn between the visits that it is known to lie between.
    BetweenVisits,
    /// The cumulative incidence at the horizon, those who stayed weighted to stand for those lost from sight.
    WeightedForLoss,
    /// One minus the cumulative incidence at the horizon.
    FreeAtHorizon,
    /// The same, with observed against expected events where subjects carry an expectation.
    FreeAtHorizonWithExpected,
    /// First events per 100 person-years at risk up to the horizon.
    RateToHorizon,
    /// The day on which the cumulative incidence first reaches one half, up to the horizon.
    Median,
    /// The mean days up to the horizon that pass without the event.
    MeanDays,
    /// The days on which it first reaches a quarter, one half and three quarters, up to the horizon.
    Quartiles,
}

/// The leg, or the ulcer of that leg, that is counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Place {
    /// Which leg or foot.
    pub side: Side,
    /// The export's label of the ulcer; `None` when the leg is counted.
    pub label: Option<NameId>,
}

impl Place {
    /// A leg.
    pub const fn leg(side: Side) -> Self {
        Self { side, label: None }
    }

    /// An ulcer.
    pub const fn ulcer(side: Side, label: NameId) -> Self {
        Self {
            side,
            label: Some(label),
        }
    }
}

/// Somebody, or some leg or ulcer of theirs, counted from a day on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Member {
    /// The person.
    pub cluster: PatientKey,
    /// The day that decides cohort and strata.
    pub day: NaiveDate,
    /// The leg or the ulcer; `None` when the person is counted.
    pub place: Option<Place>,
}

/// An event of one person.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Occurrence {
    /// The person.
    pub cluster: PatientKey,
    /// The leg, where it has one.
    pub place: Option<Place>,
    /// When, and the row.
    pub at: Dated,
}

/// The answer of one person (or person-episode) to a yes-or-no question.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Answer {
    /// The person, as the cluster number.
    pub cluster: PatientKey,
    /// The day that decides the cohort, and its row.
    pub index: Dated,
    /// The leg or the ulcer asked about; `None` when it is the person.
    pub place: Option<Place>,
    /// The answer; `None` when unknown.
    pub is_yes: Option<bool>,
}

/// A band or class, as a position in the names a measure gives them: one byte, for every visit of an export is in some.
pub type ClassPlace = u8;

/// The band somebody falls into.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Banded {
    /// The person, as the cluster number.
    pub cluster: PatientKey,
    /// The day that decides the cohort, and its row.
    pub index: Dated,
    /// The leg or the ulcer asked about; `None` when it is the person.
    pub place: Option<Place>,
    /// The band; `None` when unknown.
    pub band: Option<ClassPlace>,
}

/// One ulcer with its severity at the first visit and what became of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SeverityOutcome {
    /// The person, as the cluster number.
    pub cluster: PatientKey,
    /// The day that decides the cohort, and its row.
    pub index: Dated,
    /// The ulcer.
    pub place: Option<Place>,
    /// Severity items at the first visit.
    pub items: SeverityItems,
    /// Whether the outcome happened; `None` when unknown.
    pub is_yes: Option<bool>,
}

/// Where an expectation comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reference {
    /// The published severity strata.
    PublishedStrata,
    /// A model of the practice's ulcers first seen before the cohort.
    OwnPast,
}
