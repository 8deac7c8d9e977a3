//! From the people a measure counts to its results, for any cohort.

use super::cohort::{Cohort, Study};
use super::described::{Described, describe};
use super::follow_up::FollowUp;
use super::places::{Places, of_cohort};
use super::time_free::{StateCourse, mean_days};
use super::{
    Answer, Banded, CountHistory, Measure, Method, Occurrence, SeverityOutcome, counts, expected,
    probability, shares,
};
use crate::blocks::in_blocks;
use crate::derive::{PersonOutcomes, View};
use crate::report::{MeasureResult, Value};
use crate::rules::{DataHorizon, Outcome, Quarter, UnitOfAnalysis, days_after, days_between};
use crate::tables::PatientKey;
use chrono::NaiveDate;

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
    Classes(Vec<(Quarter, Vec<(PatientKey, usize)>)>),
}

/// People prepared together: enough that lists grow by many at once, few enough that their readings stay at hand.
const TOGETHER: usize = 8;

impl Prepared {
    /// How many are counted; of two lists the longer.
    fn len(&self) -> usize {
        match self {
            Self::FollowUps(all) => all.len(),
            Self::Answers(all) => all.len(),
            Self::Severities(all) => all.len(),
            Self::Numbers(all) => all.len(),
            Self::Courses(all) => all.len(),
            Self::Banded(all) => all.len(),
            Self::Histories(all) => all.len(),
            Self::Events(all) => all.len(),
            Self::TwoKinds(above, below) => above.len().max(below.len()),
            Self::Classes(all) => all.first().map_or(0, |(_, people)| people.len()),
        }
    }

    /// Makes room for so many at once, so that nothing is moved while they are put together.
    fn reserve(&mut self, n: usize) {
        match self {
            Self::FollowUps(all) => all.reserve_exact(n),
            Self::Answers(all) => all.reserve_exact(n),
            Self::Severities(all) => all.reserve_exact(n),
            Self::Numbers(all) => all.reserve_exact(n),
            Self::Courses(all) => all.reserve_exact(n),
            Self::Banded(all) => all.reserve_exact(n),
            Self::Histories(all) => all.reserve_exact(n),
            Self::Events(_) | Self::TwoKinds(..) | Self::Classes(_) => {}
        }
    }

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
pub fn prepare_all(measures: &[&Measure], study: &Study<'_>) -> Vec<Prepared> {
    let of_nobody = Study {
        people: &[],
        ..*study
    };
    let empty = || -> Vec<Prepared> {
        measures
            .iter()
            .map(|measure| prepare(measure, &of_nobody))
            .collect()
    };
    let join = |mut all: Vec<Prepared>, more: Vec<Prepared>| {
        for (all, more) in all.iter_mut().zip(more) {
            all.append(more);
        }
        all
    };
    let of_block = |block: &[PersonOutcomes<'_>]| {
        let mut all = empty();
        for people in block.chunks(TOGETHER) {
            let ready: Vec<PersonOutcomes<'_>> = people
                .iter()
                .map(|person| with_readings(measures, study, person))
                .collect();
            let own = Study {
                people: &ready,
                ..*study
            };
            for (all, measure) in all.iter_mut().zip(measures) {
                all.append(prepare(measure, &own));
            }
        }
        all
    };
    let blocks = in_blocks(study.people, of_block);
    let mut all = empty();
    for (place, all) in all.iter_mut().enumerate() {
        let of_measure = blocks.iter().filter_map(|block| block.get(place));
        all.reserve(of_measure.map(Prepared::len).sum());
    }
    let mut all = blocks.into_iter().fold(all, join);
    for prepared in &mut all {
        // Person by person they come out of the order of dates, in which days between events are read.
        match prepared {
            Prepared::Events(events) => events.sort_by_key(|event| event.at),
            Prepared::TwoKinds(above, below) => {
                above.sort_by_key(|event| event.at);
                below.sort_by_key(|event| event.at);
            }
            _ => {}
        }
    }
    all
}

/// What each measure counts of one person.
pub(super) fn prepare_person(
    measures: &[&Measure],
    study: &Study<'_>,
    person: &PersonOutcomes<'_>,
) -> Vec<Prepared> {
    let ready = with_readings(measures, study, person);
    let own = Study {
        people: std::slice::from_ref(&ready),
        ..*study
    };
    measures
        .iter()
        .map(|measure| prepare(measure, &own))
        .collect()
}

/// A person with what several measures are likely to ask for read in advance: what was known at the end of each horizon from
/// each day on which something may have begun, and at the end of each quarter in which the person was seen.
fn with_readings<'a>(
    measures: &[&Measure],
    study: &Study<'_>,
    person: &PersonOutcomes<'a>,
) -> PersonOutcomes<'a> {
    let mut asked: Vec<(NaiveDate, i64)> = Vec::new();
    for measure in measures {
        let horizon_days = measure.rule.horizon_days;
        let of = |day| (day, horizon_days);
        match (measure.method, measure.rule.unit) {
            (Method::Count { .. } | Method::CountRatio { .. } | Method::Snapshot { .. }, _) => {}
            // They need no reading of an earlier day.
            (_, UnitOfAnalysis::Attendance | UnitOfAnalysis::Examination | UnitOfAnalysis::Gap) => {
            }
            (_, UnitOfAnalysis::Person) => asked.extend(person.closing_days().map(of)),
            (_, UnitOfAnalysis::Amputation) => asked.extend(person.operation_days().map(of)),
            _ if measure.family == "vascular" => {
                asked.extend(person.pathways.iter().map(|path| of(path.at.date)));
            }
            _ => asked.extend(person.opening_days().map(of)),
        }
    }
    asked.sort_unstable();
    asked.dedup();
    let in_full: Vec<View<'_>> = asked
        .into_iter()
        .map(|(day, horizon_days)| study.view(day, horizon_days))
        .collect();
    let has_snapshot = |measure: &&Measure| matches!(measure.method, Method::Snapshot { .. });
    let mut standing: Vec<View<'_>> = Vec::new();
    if measures.iter().any(has_snapshot) {
        let is_seen = |end: NaiveDate| {
            let last = person.person.up_to(end).last_seen();
            last.is_some_and(|last| {
                days_between(last, end) <= 31 * i64::from(study.rules.seen_within_months)
            })
        };
        let ends = quarters(study.horizon).map(|quarter| quarter.end());
        standing.extend(
            ends.filter(|end| is_seen(*end))
                .map(|end| study.view(end, -study.rules.evidence_days)),
        );
    }
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
pub fn evaluate_at(
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
            let own = places.within(all, cohort, |subject| subject.index.date);
            let own: Vec<FollowUp> = own.into_iter().copied().collect();
            let mut results = probability::summarise(measure, summary, study, &own, &blank);
            if cohort.first != cohort.last {
                let mut strata: Vec<&'static str> =
                    own.iter().filter_map(|subject| subject.stratum).collect();
                strata.sort_unstable();
                strata.dedup();
                for stratum in strata {
                    let part: Vec<FollowUp> = own
                        .iter()
                        .filter(|subject| subject.stratum == Some(stratum))
                        .copied()
                        .collect();
                    let blank = MeasureResult {
                        stratum: stratum.to_owned(),
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
            let own = places.within(all, cohort, |answer| answer.index.date);
            vec![shares::status(study, &own, blank)]
        }
        (Method::Expected { reference, .. }, Prepared::Severities(all)) => {
            let own = places.within(all, cohort, |subject| subject.index.date);
            expected::summarise(reference, study, all, &own, cohort, &blank)
        }
        (Method::Described { beyond, .. }, Prepared::Numbers(all)) => {
            let own = places.within(all, cohort, |subject| subject.index.date);
            vec![describe(study, &own, beyond, blank)]
        }
        (Method::TimeFree { .. }, Prepared::Courses(all)) => {
            let own = places.within(all, cohort, |course| course.index.date);
            vec![mean_days(measure, study, &own, blank)]
        }
        (Method::Count { .. }, Prepared::Events(all)) => {
            let n = of_cohort(all, cohort, |event| event.at.date).len();
            vec![shares::count(study, n, blank)]
        }
        (Method::Bands { classes, .. }, Prepared::Banded(all)) => {
            let own = places.within(all, cohort, |one| one.index.date);
            shares::bands(study, classes, &own, &blank)
        }
        (Method::MeanCount { .. }, Prepared::Histories(all)) => {
            let own = places.within(all, cohort, |history| history.followed.index.date);
            let horizon = measure.rule.horizon_days;
            vec![counts::mean_count(study, horizon, &own, &blank)]
        }
        (Method::CountRatio { .. }, Prepared::TwoKinds(above, below)) => {
            let n = |all: &[Occurrence]| of_cohort(all, cohort, |event| event.at.date).len();
            vec![counts::ratio(study, n(above), n(below), blank)]
        }
        (Method::Snapshot { classes, .. }, Prepared::Classes(all)) => {
            let people: Vec<usize> = people_of(all, cohort.last)
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
    all: &[(Quarter, Vec<(PatientKey, usize)>)],
    quarter: Quarter,
) -> &[(PatientKey, usize)] {
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
