//! What a measure comes to for each stratum of a cohort.

use super::cohort::{Cohort, Study};
use super::described::{Described, describe};
use super::follow_up::FollowUp;
use super::places::of_cohort;
use super::strata::{Label, LabelOf};
use super::summary::{Prepared, blank_result, not_yet, people_of};
use super::time_free::{StateCourse, mean_days};
use super::{
    Answer, Banded, ClassPlace, FollowUpSummary, Measure, Member, Method, Occurrence,
    SeverityOutcome, counts, expected, probability, shares,
};
use crate::report::MeasureResult;
use crate::tables::PatientKey;
use std::collections::BTreeMap;

/// Everybody of a cohort, each as often as counted.
pub(crate) fn members(prepared: &Prepared, cohort: &Cohort) -> Vec<Member> {
    let all: Vec<Member> = match prepared {
        Prepared::FollowUps(all) => all.iter().map(of_follow_up).collect(),
        Prepared::Answers(all) => all.iter().map(of_answer).collect(),
        Prepared::Severities(all) => all.iter().map(of_severity).collect(),
        Prepared::Numbers(all) => all.iter().map(of_number).collect(),
        Prepared::Courses(all) => all.iter().map(of_course).collect(),
        Prepared::Banded(all) => all.iter().map(of_banded).collect(),
        Prepared::Histories(all) => all
            .iter()
            .map(|history| of_follow_up(&history.followed))
            .collect(),
        Prepared::Events(all) => all.iter().map(of_event).collect(),
        Prepared::TwoKinds(above, below) => above.iter().chain(below).map(of_event).collect(),
        Prepared::Classes(all) => people_of(all, cohort.last)
            .iter()
            .map(|(person, _)| of_class(*person, cohort))
            .collect(),
    };
    let is_own = |member: &Member| cohort.contains(member.day);
    all.into_iter().filter(is_own).collect()
}

fn of_follow_up(subject: &FollowUp) -> Member {
    Member {
        cluster: subject.cluster,
        day: subject.index.date,
        place: subject.place,
    }
}

fn of_answer(answer: &Answer) -> Member {
    Member {
        cluster: answer.cluster,
        day: answer.index.date,
        place: answer.place,
    }
}

fn of_number(subject: &Described) -> Member {
    Member {
        cluster: subject.cluster,
        day: subject.index.date,
        place: subject.place,
    }
}

fn of_course(course: &StateCourse) -> Member {
    Member {
        cluster: course.cluster,
        day: course.index.date,
        place: None,
    }
}

fn of_banded(one: &Banded) -> Member {
    Member {
        cluster: one.cluster,
        day: one.index.date,
        place: one.place,
    }
}

fn of_severity(subject: &SeverityOutcome) -> Member {
    Member {
        cluster: subject.cluster,
        day: subject.index.date,
        place: subject.place,
    }
}

fn of_event(event: &Occurrence) -> Member {
    Member {
        cluster: event.cluster,
        day: event.at.date,
        place: event.place,
    }
}

/// Of somebody classed at a quarter's end, that end is the day.
fn of_class(person: PatientKey, cohort: &Cohort) -> Member {
    Member {
        cluster: person,
        day: cohort.last.end(),
        place: None,
    }
}

/// The headline of a measure for each stratum of a cohort, in the order of the strata: no stratum is ranked, and together
/// they hold everybody of the cohort once. Nothing for a cohort that is not mature.
pub fn evaluate_split(
    measure: &Measure,
    prepared: &Prepared,
    study: &Study<'_>,
    cohort: &Cohort,
    label_of: &LabelOf<'_>,
) -> Vec<MeasureResult> {
    if not_yet(measure, study, cohort).is_some() {
        return Vec::new();
    }
    let blank = blank_result(measure, study, cohort);
    let named = |label: &Label| MeasureResult {
        stratum: label.words().to_owned(),
        ..blank.clone()
    };
    match (measure.method, prepared) {
        (Method::FollowUp { summary, .. }, Prepared::FollowUps(all)) => {
            let own = of_cohort(all, cohort, |subject| subject.index.date);
            by_label(own, |subject| label_of(&of_follow_up(subject)))
                .into_iter()
                .flat_map(|(label, own)| {
                    let own: Vec<FollowUp> = own.into_iter().copied().collect();
                    let summary = headline_only(summary);
                    probability::summarise(measure, summary, study, &own, &named(&label))
                })
                .collect()
        }
        (Method::Status { .. }, Prepared::Answers(all)) => {
            let own = of_cohort(all, cohort, |answer| answer.index.date);
            by_label(own, |answer| label_of(&of_answer(answer)))
                .into_iter()
                .map(|(label, own)| shares::status(study, &own, named(&label)))
                .collect()
        }
        (Method::Expected { reference, .. }, Prepared::Severities(all)) => {
            let own = of_cohort(all, cohort, |subject| subject.index.date);
            by_label(own, |subject| label_of(&of_severity(subject)))
                .into_iter()
                .flat_map(|(label, own)| {
                    expected::summarise(reference, study, all, &own, cohort, &named(&label))
                })
                .collect()
        }
        (Method::Described { beyond, .. }, Prepared::Numbers(all)) => {
            let own = of_cohort(all, cohort, |subject| subject.index.date);
            by_label(own, |subject| label_of(&of_number(subject)))
                .into_iter()
                .map(|(label, own)| describe(study, &own, beyond, named(&label)))
                .collect()
        }
        (Method::TimeFree { .. }, Prepared::Courses(all)) => {
            let own = of_cohort(all, cohort, |course| course.index.date);
            by_label(own, |course| label_of(&of_course(course)))
                .into_iter()
                .map(|(label, own)| mean_days(measure, study, &own, named(&label)))
                .collect()
        }
        (Method::Count { .. }, Prepared::Events(all)) => {
            let own = of_cohort(all, cohort, |event| event.at.date);
            by_label(own, |event| label_of(&of_event(event)))
                .into_iter()
                .map(|(label, own)| shares::count(study, own.len(), named(&label)))
                .collect()
        }
        (Method::Bands { classes, .. }, Prepared::Banded(all)) => {
            let own = of_cohort(all, cohort, |one| one.index.date);
            by_label(own, |one| label_of(&of_banded(one)))
                .into_iter()
                .flat_map(|(label, own)| {
                    let mut results = shares::bands(study, classes, &own, &blank);
                    for result in &mut results {
                        result.stratum = format!("{}, {}", label.words(), result.stratum);
                    }
                    results
                })
                .collect()
        }
        (Method::MeanCount { .. }, Prepared::Histories(all)) => {
            let own = of_cohort(all, cohort, |history| history.followed.index.date);
            let horizon = measure.rule.horizon_days;
            by_label(own, |history| label_of(&of_follow_up(&history.followed)))
                .into_iter()
                .map(|(label, own)| counts::mean_count(study, horizon, &own, &named(&label)))
                .collect()
        }
        (Method::CountRatio { .. }, Prepared::TwoKinds(above, below)) => {
            let grouped = |all| {
                let own = of_cohort(all, cohort, |event: &Occurrence| event.at.date);
                by_label(own, |event| label_of(&of_event(event)))
            };
            let (above, below) = (grouped(above), grouped(below));
            let mut labels: Vec<&Label> = above.keys().chain(below.keys()).collect();
            labels.sort();
            labels.dedup();
            let n = |counted: &BTreeMap<Label, Vec<&Occurrence>>, label| {
                counted.get(label).map_or(0, Vec::len)
            };
            labels
                .into_iter()
                .map(|label| counts::ratio(study, n(&above, label), n(&below, label), named(label)))
                .collect()
        }
        (Method::Snapshot { classes, .. }, Prepared::Classes(all)) => {
            let own = people_of(all, cohort.last).iter().collect();
            by_label(own, |(person, _)| label_of(&of_class(*person, cohort)))
                .into_iter()
                .flat_map(|(label, own)| {
                    let people: Vec<ClassPlace> =
                        own.into_iter().map(|(_, class)| *class).collect();
                    let mut results = shares::snapshot(study, classes, &people, &blank);
                    for result in &mut results {
                        result.stratum = format!("{}, {}", label.words(), result.stratum);
                    }
                    results
                })
                .collect()
        }
        _ => Vec::new(),
    }
}

/// Groups a list by stratum, in the order of the strata.
fn by_label<T>(own: Vec<&T>, label_of: impl Fn(&T) -> Label) -> BTreeMap<Label, Vec<&T>> {
    let mut groups: BTreeMap<Label, Vec<&T>> = BTreeMap::new();
    for one in own {
        groups.entry(label_of(one)).or_default().push(one);
    }
    groups
}

/// Of what is read from a curve, the part that is the headline.
fn headline_only(summary: FollowUpSummary) -> FollowUpSummary {
    match summary {
        FollowUpSummary::IncidenceAt { days, headline_day } => {
            let own = days.iter().position(|day| *day == headline_day);
            let days = own.and_then(|own| days.get(own..=own)).unwrap_or(days);
            FollowUpSummary::IncidenceAt { days, headline_day }
        }
        FollowUpSummary::Quartiles => FollowUpSummary::Median,
        other => other,
    }
}
