//! From the people a measure counts to its results, for any cohort.

use super::cohort::{Cohort, Study};
use super::described::{Described, describe};
use super::follow_up::{FollowUp, Stratum};
use super::places::{Places, of_cohort};
use super::time_free::{StateCourse, mean_days};
use super::{
    Answer, Banded, ClassPlace, CountHistory, Measure, Method, Occurrence, SeverityOutcome, counts,
    expected, probability, shares,
};
use crate::blocks::take_in_blocks;
use crate::derive::{PersonOutcomes, View};
use crate::report::{MeasureResult, Value};
use crate::rules::{DataHorizon, Outcome, Quarter, UnitOfAnalysis, days_after, days_between};
use crate::tables::PatientKey;
use chrono::NaiveDate;
use std::sync::Arc;

/// The people a measure counts, found once for all cohorts.
#[derive(Debug, Clone, PartialEq)]
pub enum Prepared {
    /// Follow-up times.
    FollowUps(Vec<FollowUp>),
    /// Answers.
    Answers(Vec<Answer>),
    /// Ulcers with their severity.
    Severities(Vec<SeverityOutcome>),
    /// Numbers of single ulcers.
    Numbers(Vec<Described>),
    /// Courses through states.
    Courses(Vec<StateCourse>),
    /// Bands.
    Banded(Vec<Banded>),
    /// Subjects whose event can happen again.
    Histories(Vec<CountHistory>),
    /// Events of two kinds: above the line, below it.
    TwoKinds(Vec<Occurrence>, Vec<Occurrence>),
    /// Events, by date.
    Events(Vec<Occurrence>),
    /// The classes of people at the end of each quarter of the export.
    Classes(Vec<(Quarter, Vec<(PatientKey, ClassPlace)>)>),
}

/// People prepared together: enough that lists grow by many at once, few enough that their readings stay at hand.
const TOGETHER: usize = 8;

impl Prepared {
    /// The same with the people of another block behind its own.
    fn append(&mut self, more: Self) {
        match (self, more) {
            (Self::FollowUps(all), Self::FollowUps(more)) => all.extend(more),
            (Self::Answers(all), Self::Answers(more)) => all.extend(more),
            (Self::Severities(all), Self::Severities(more)) => all.extend(more),
            (Self::Numbers(all), Self::Numbers(more)) => all.extend(more),
            (Self::Courses(all), Self::Courses(more)) => all.extend(more),
            (Self::Events(all), Self::Events(more)) => all.extend(more),
            (Self::Histories(all), Self::Histories(more)) => all.extend(more),
            (Self::Banded(all), Self::Banded(more)) => all.extend(more),
            (Self::TwoKinds(above, below), Self::TwoKinds(more_above, more_below)) => {
                above.extend(more_above);
                below.extend(more_below);
            }
            (Self::Classes(all), Self::Classes(more)) => {
                for ((_, all), (_, more)) in all.iter_mut().zip(more) {
                    all.extend(more);
                }
            }
            // Both come from one measure, and so are of one kind.
            (
                Self::FollowUps(_)
                | Self::Answers(_)
                | Self::Severities(_)
                | Self::Numbers(_)
                | Self::Courses(_)
                | Self::Events(_)
                | Self::Histories(_)
                | Self::Banded(_)
                | Self::TwoKinds(..)
                | Self::Classes(_),
                _,
            ) => {}
        }
    }

    /// Puts events into the order of dates, in which the days between them are read: person by person they come out of it.
    fn settle(&mut self) {
        match self {
            Self::Events(events) => events.sort_by_key(|event| event.at),
            Self::TwoKinds(above, below) => {
                above.sort_by_key(|event| event.at);
                below.sort_by_key(|event| event.at);
            }
            _ => {}
        }
    }
}

/// Finds the people a measure counts.
pub fn prepare(measure: &Measure, study: &Study<'_>) -> Prepared {
    match measure.method {
        Method::FollowUp { subjects, .. } => Prepared::FollowUps(subjects(study, &measure.rule)),
        Method::Status { answers } => Prepared::Answers(answers(study, &measure.rule)),
        Method::Expected { subjects, .. } => Prepared::Severities(subjects(study, &measure.rule)),
        Method::Described { numbers, .. } => Prepared::Numbers(numbers(study, &measure.rule)),
        Method::TimeFree { courses } => Prepared::Courses(courses(study, &measure.rule)),
        Method::Count { events } => Prepared::Events(events(study)),
        Method::Bands { banded, .. } => Prepared::Banded(banded(study, &measure.rule)),
        Method::MeanCount { histories } => Prepared::Histories(histories(study, &measure.rule)),
        Method::CountRatio { above, below } => Prepared::TwoKinds(above(study), below(study)),
        Method::Snapshot { classify, .. } => Prepared::Classes(
            quarters(study.horizon)
                .map(|quarter| (quarter, classify(study, quarter)))
                .collect(),
        ),
    }
}

/// Finds the people each measure counts, person by person, so that what was known of a person on a day is worked out once
/// for all measures. The answer for each measure is that of [`prepare`].
///
/// Measures that count the same people in the same way share one list.
pub fn prepare_all(measures: &[&Measure], study: &Study<'_>) -> Vec<Arc<Prepared>> {
    let first_alike = |measure: &&Measure| {
        let alike = measures
            .iter()
            .position(|other| counts_alike(other, measure));
        alike.unwrap_or_default()
    };
    let firsts: Vec<usize> = measures.iter().map(first_alike).collect();
    let mut different = firsts.clone();
    different.sort_unstable();
    different.dedup();
    let chosen: Vec<&Measure> = different
        .iter()
        .filter_map(|place| measures.get(*place).copied())
        .collect();
    let prepared = prepare_each(&chosen, study);
    let prepared: Vec<Arc<Prepared>> = prepared.into_iter().map(Arc::new).collect();
    let place_of = |first: &usize| different.binary_search(first).ok();
    firsts
        .iter()
        .filter_map(|first| prepared.get(place_of(first)?).map(Arc::clone))
        .collect()
}

/// Whether two measures count the same people in the same way: one function under one rule, whatever is then read from them.
fn counts_alike(one: &Measure, other: &Measure) -> bool {
    let is_same = match (one.method, other.method) {
        (Method::FollowUp { subjects, .. }, Method::FollowUp { subjects: own, .. }) => {
            std::ptr::fn_addr_eq(subjects, own)
        }
        (Method::Expected { subjects, .. }, Method::Expected { subjects: own, .. }) => {
            std::ptr::fn_addr_eq(subjects, own)
        }
        // of the others no two are alike but a measure and itself
        _ => one.id == other.id,
    };
    is_same && one.rule == other.rule
}

/// The people of each measure, as if no two were alike.
fn prepare_each(measures: &[&Measure], study: &Study<'_>) -> Vec<Prepared> {
    let of_nobody = Study {
        people: &[],
        ..*study
    };
    let mut all: Vec<Prepared> = measures
        .iter()
        .map(|measure| prepare(measure, &of_nobody))
        .collect();
    let asked = Asked::of(measures, study);
    let of_people = |people: &[PersonOutcomes<'_>]| -> Vec<Prepared> {
        let ready: Vec<PersonOutcomes<'_>> = people
            .iter()
            .map(|person| with_readings(&asked, study, person))
            .collect();
        let own = Study {
            people: &ready,
            ..*study
        };
        measures
            .iter()
            .map(|measure| prepare(measure, &own))
            .collect()
    };
    let of_block = |block: &[PersonOutcomes<'_>]| {
        let parts = block.chunks(TOGETHER).map(of_people);
        let joined = parts.reduce(|mut all, more| {
            append_each(&mut all, more);
            all
        });
        joined.unwrap_or_default()
    };
    take_in_blocks(study.people, of_block, |block| append_each(&mut all, block));
    for own in &mut all {
        own.settle();
    }
    all
}

fn append_each(all: &mut [Prepared], more: Vec<Prepared>) {
    for (all, more) in all.iter_mut().zip(more) {
        all.append(more);
    }
}

/// What each measure counts of one person.
pub(super) fn prepare_person(
    measures: &[&Measure],
    study: &Study<'_>,
    person: &PersonOutcomes<'_>,
) -> Vec<Prepared> {
    let ready = with_readings(&Asked::of(measures, study), study, person);
    let own = Study {
        people: std::slice::from_ref(&ready),
        ..*study
    };
    measures
        .iter()
        .map(|measure| prepare(measure, &own))
        .collect()
}

/// What several measures are likely to ask for of everybody.
struct Asked {
    /// From which days of a person something is followed, and how many days far; each pair once.
    followed: Vec<(Start, i64)>,
    /// The ends of the quarters on which people are classed, oldest first.
    ends: Vec<NaiveDate>,
}

/// Days of a person from which something is followed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Start {
    Opening,
    Closing,
    Operation,
    Trigger,
}

impl Asked {
    fn of(measures: &[&Measure], study: &Study<'_>) -> Self {
        let mut followed: Vec<(Start, i64)> = measures
            .iter()
            .filter_map(|measure| Some((start_of(measure)?, measure.rule.horizon_days)))
            .collect();
        followed.sort_unstable();
        followed.dedup();
        let has_snapshot = |measure: &&Measure| matches!(measure.method, Method::Snapshot { .. });
        let mut ends: Vec<NaiveDate> = Vec::new();
        if measures.iter().any(has_snapshot) {
            ends.extend(quarters(study.horizon).map(|quarter| quarter.end()));
            ends.reverse();
        }
        Self { followed, ends }
    }
}

/// From which days a measure follows people; `None` where it needs no reading of an earlier day.
fn start_of(measure: &Measure) -> Option<Start> {
    match (measure.method, measure.rule.unit) {
        (Method::Count { .. } | Method::CountRatio { .. } | Method::Snapshot { .. }, _) => None,
        (_, UnitOfAnalysis::Attendance | UnitOfAnalysis::Examination | UnitOfAnalysis::Gap) => None,
        (_, UnitOfAnalysis::Person) => Some(Start::Closing),
        (_, UnitOfAnalysis::Amputation) => Some(Start::Operation),
        _ if measure.family == "vascular" => Some(Start::Trigger),
        _ => Some(Start::Opening),
    }
}

/// A person with what is asked read in advance: what was known at the end of each horizon from each day on which something may
/// have begun, and at the end of each quarter in which the person was seen.
fn with_readings<'a>(
    asked: &Asked,
    study: &Study<'_>,
    person: &PersonOutcomes<'a>,
) -> PersonOutcomes<'a> {
    let mut in_full: Vec<View<'_>> = Vec::new();
    for (start, horizon_days) in &asked.followed {
        let view = |day| study.view(day, *horizon_days);
        match start {
            Start::Opening => in_full.extend(person.opening_days().map(view)),
            Start::Closing => in_full.extend(person.closing_days().map(view)),
            Start::Operation => in_full.extend(person.operation_days().map(view)),
            Start::Trigger => {
                in_full.extend(person.pathways.iter().map(|path| view(path.at.date)));
            }
        }
    }
    let months = i64::from(study.rules.seen_within_months);
    let may_be_seen = |end: &&NaiveDate| {
        let last = person.last_row_by(**end);
        last.is_some_and(|last| days_between(last, **end) <= 31 * months)
    };
    let ends = asked.ends.iter().filter(may_be_seen);
    let standing: Vec<View<'_>> = ends
        .map(|end| study.view(*end, -study.rules.evidence_days))
        .collect();
    person.with_readings(&in_full, &standing)
}

/// Every quarter of the export, oldest first.
fn quarters(horizon: &DataHorizon) -> impl Iterator<Item = Quarter> {
    let first = Quarter::of(horizon.data_start);
    let last = Quarter::of(horizon.cut_off);
    std::iter::successors(Some(last), |quarter| Some(quarter.back(1)))
        .take_while(move |quarter| *quarter >= first)
}

/// What a measure comes to for one cohort. A cohort of several quarters is also split by stratum.
pub fn evaluate(
    measure: &Measure,
    prepared: &Prepared,
    study: &Study<'_>,
    cohort: &Cohort,
) -> Vec<MeasureResult> {
    evaluate_at(measure, prepared, &Places::UNKNOWN, study, cohort)
}

/// The same where it is known in which places the people of each quarter stand.
pub(crate) fn evaluate_at(
    measure: &Measure,
    prepared: &Prepared,
    places: &Places,
    study: &Study<'_>,
    cohort: &Cohort,
) -> Vec<MeasureResult> {
    let blank = blank_result(measure, study, cohort);
    if let Some(not_yet) = not_yet(measure, study, cohort) {
        return vec![MeasureResult {
            value: not_yet,
            ..blank
        }];
    }
    match (measure.method, prepared) {
        (Method::FollowUp { summary, .. }, Prepared::FollowUps(all)) => {
            let own = places.within(all, cohort);
            let own: Vec<FollowUp> = own.into_iter().copied().collect();
            let mut results = probability::summarise(measure, summary, study, &own, &blank);
            if cohort.first != cohort.last {
                let mut strata: Vec<Stratum> =
                    own.iter().filter_map(|subject| subject.stratum).collect();
                strata.sort_unstable_by_key(|stratum| stratum.code());
                strata.dedup();
                for stratum in strata {
                    let part: Vec<FollowUp> = own
                        .iter()
                        .filter(|subject| subject.stratum == Some(stratum))
                        .copied()
                        .collect();
                    let blank = MeasureResult {
                        stratum: stratum.code().to_owned(),
                        ..blank.clone()
                    };
                    results.extend(probability::summarise(
                        measure, summary, study, &part, &blank,
                    ));
                }
            }
            results
        }
        (Method::Status { .. }, Prepared::Answers(all)) => {
            let own = places.within(all, cohort);
            vec![shares::status(study, &own, blank)]
        }
        (Method::Expected { reference, .. }, Prepared::Severities(all)) => {
            let own = places.within(all, cohort);
            expected::summarise(reference, study, all, &own, cohort, &blank)
        }
        (Method::Described { beyond, .. }, Prepared::Numbers(all)) => {
            let own = places.within(all, cohort);
            vec![describe(study, &own, beyond, blank)]
        }
        (Method::TimeFree { .. }, Prepared::Courses(all)) => {
            let own = places.within(all, cohort);
            vec![mean_days(measure, study, &own, blank)]
        }
        (Method::Count { .. }, Prepared::Events(all)) => {
            let n = of_cohort(all, cohort).len();
            vec![shares::count(study, n, blank)]
        }
        (Method::Bands { classes, .. }, Prepared::Banded(all)) => {
            let own = places.within(all, cohort);
            shares::bands(study, classes, &own, &blank)
        }
        (Method::MeanCount { .. }, Prepared::Histories(all)) => {
            let own = places.within(all, cohort);
            let horizon = measure.rule.horizon_days;
            vec![counts::mean_count(study, horizon, &own, &blank)]
        }
        (Method::CountRatio { .. }, Prepared::TwoKinds(above, below)) => {
            let n = |all: &[Occurrence]| of_cohort(all, cohort).len();
            vec![counts::ratio(study, n(above), n(below), blank)]
        }
        (Method::Snapshot { classes, .. }, Prepared::Classes(all)) => {
            let people: Vec<ClassPlace> = people_of(all, cohort.last)
                .iter()
                .map(|(_, class)| *class)
                .collect();
            shares::snapshot(study, classes, &people, &blank)
        }
        _ => vec![blank],
    }
}

/// Everybody classed at the end of a quarter.
pub(super) fn people_of(
    all: &[(Quarter, Vec<(PatientKey, ClassPlace)>)],
    quarter: Quarter,
) -> &[(PatientKey, ClassPlace)] {
    let own = all.iter().find(|(known, _)| *known == quarter);
    own.map_or(&[], |(_, people)| people.as_slice())
}

pub(super) fn blank_result(measure: &Measure, study: &Study<'_>, cohort: &Cohort) -> MeasureResult {
    let label = cohort.label();
    let of = match measure.method {
        Method::FollowUp { .. }
        | Method::Status { .. }
        | Method::MeanCount { .. }
        | Method::Bands { .. }
        | Method::Expected { .. }
        | Method::Described { .. }
        | Method::TimeFree { .. } => study
            .rules
            .fill(measure.denominator)
            .replace("the quarter", &label),
        Method::Count { .. } | Method::CountRatio { .. } => format!("dated in {label}"),
        Method::Snapshot { .. } => format!("on the last day of {}", cohort.last),
    };
    MeasureResult {
        measure: measure.id.to_owned(),
        cohort: of,
        period: label,
        stratum: "all".to_owned(),
        unit: measure.unit,
        value: Value::NotEstimable {
            reason: "nobody in this cohort".to_owned(),
        },
        numerator: None,
        denominator: None,
        n_unknown: None,
        bounds: None,
        notes: Vec::new(),
    }
}

/// The value of a cohort that has not been followed long enough: rows, deaths and procedures must all be known as far as
/// the figure reads them. The date promised never lies before the cut-off.
pub(super) fn not_yet(measure: &Measure, study: &Study<'_>, cohort: &Cohort) -> Option<Value> {
    let rule = &measure.rule;
    let horizon = study.horizon;
    let rows_to = match measure.method {
        Method::FollowUp { .. }
        | Method::Status { .. }
        | Method::MeanCount { .. }
        | Method::Bands { .. }
        | Method::Expected { .. }
        | Method::Described { .. }
        | Method::TimeFree { .. } => cohort.matures_on(rule.horizon_days, study.rules),
        Method::Count { .. } | Method::CountRatio { .. } | Method::Snapshot { .. } => {
            cohort.last.end()
        }
    };
    let events_to = days_after(cohort.last.end(), rule.horizon_days);
    let amputations = [
        Outcome::MinorAmputation,
        Outcome::MajorAmputation,
        Outcome::RepeatAmputation,
        Outcome::BothLimbsLost,
    ];
    let reads_procedures = amputations
        .iter()
        .any(|outcome| rule.event.contains(outcome) || rule.competing.contains(outcome))
        || matches!(
            measure.method,
            Method::Status { .. }
                | Method::Bands { .. }
                | Method::Described { .. }
                | Method::TimeFree { .. }
                | Method::Snapshot { .. }
        );
    let knows_events = horizon.deaths_known_to >= events_to
        && (!reads_procedures || horizon.procedures_known_to >= events_to);
    let is_mature = horizon.cut_off >= rows_to && knows_events;
    let tomorrow = days_after(horizon.cut_off, 1);
    (!is_mature).then(|| Value::NotYet {
        matures_on: rows_to.max(events_to).max(tomorrow),
    })
}
