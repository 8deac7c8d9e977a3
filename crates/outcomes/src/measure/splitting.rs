//! What a measure comes to for each stratum of a cohort.

use super::cohort::{Cohort, Study};
use super::described::describe;
use super::follow_up::FollowUp;
use super::places::of_cohort;
use super::strata::{Label, LabelOf};
use super::subject::Subject;
use super::summary::{Prepared, blank_result, not_yet, people_of};
use super::time_free::mean_days;
use super::{
    ClassPlace, FollowUpSummary, Measure, Member, Method, Occurrence, counts, expected,
    probability, shares,
};
use crate::report::MeasureResult;
use crate::tables::PatientKey;
use std::collections::BTreeMap;

/// Everybody of a cohort, each as often as counted.
pub(crate) fn members(prepared: &Prepared, cohort: &Cohort) -> Vec<Member> {
    match prepared {
        Prepared::FollowUps(all) => members_of(all, cohort),
        Prepared::Answers(all) => members_of(all, cohort),
        Prepared::Severities(all) => members_of(all, cohort),
        Prepared::Numbers(all) => members_of(all, cohort),
        Prepared::Courses(all) => members_of(all, cohort),
        Prepared::Banded(all) => members_of(all, cohort),
        Prepared::Histories(all) => members_of(all, cohort),
        Prepared::Events(all) => members_of(all, cohort),
        Prepared::TwoKinds(above, below) => {
            [members_of(above, cohort), members_of(below, cohort)].concat()
        }
        Prepared::Classes(all) => people_of(all, cohort.last)
            .iter()
            .map(|(person, _)| of_class(*person, cohort))
            .filter(|member| cohort.contains(member.day))
            .collect(),
    }
}

fn members_of<T: Subject>(all: &[T], cohort: &Cohort) -> Vec<Member> {
    let own = of_cohort(all, cohort).into_iter();
    own.map(Subject::member).collect()
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
    // bands and classes are strata of their own within each
    let within = |label: &Label, mut results: Vec<MeasureResult>| {
        for result in &mut results {
            result.stratum = format!("{}, {}", label.words(), result.stratum);
        }
        results
    };
    match (measure.method, prepared) {
        (Method::FollowUp { summary, .. }, Prepared::FollowUps(all)) => {
            let summary = headline_only(summary);
            let of_stratum = |(label, own): (Label, Vec<&FollowUp>)| {
                let own: Vec<FollowUp> = own.into_iter().copied().collect();
                probability::summarise(measure, summary, study, &own, &named(&label))
            };
            let strata = by_stratum(all, cohort, label_of).into_iter();
            strata.flat_map(of_stratum).collect()
        }
        (Method::Status { .. }, Prepared::Answers(all)) => by_stratum(all, cohort, label_of)
            .into_iter()
            .map(|(label, own)| shares::status(study, &own, named(&label)))
            .collect(),
        (Method::Expected { reference, .. }, Prepared::Severities(all)) => {
            by_stratum(all, cohort, label_of)
                .into_iter()
                .flat_map(|(label, own)| {
                    expected::summarise(reference, study, all, &own, cohort, &named(&label))
                })
                .collect()
        }
        (Method::Described { beyond, .. }, Prepared::Numbers(all)) => {
            by_stratum(all, cohort, label_of)
                .into_iter()
                .map(|(label, own)| describe(study, &own, beyond, named(&label)))
                .collect()
        }
        (Method::TimeFree { .. }, Prepared::Courses(all)) => by_stratum(all, cohort, label_of)
            .into_iter()
            .map(|(label, own)| mean_days(measure, study, &own, named(&label)))
            .collect(),
        (Method::Count { .. }, Prepared::Events(all)) => by_stratum(all, cohort, label_of)
            .into_iter()
            .map(|(label, own)| shares::count(study, own.len(), named(&label)))
            .collect(),
        (Method::Bands { classes, .. }, Prepared::Banded(all)) => by_stratum(all, cohort, label_of)
            .into_iter()
            .flat_map(|(label, own)| within(&label, shares::bands(study, classes, &own, &blank)))
            .collect(),
        (Method::MeanCount { .. }, Prepared::Histories(all)) => {
            let horizon = measure.rule.horizon_days;
            by_stratum(all, cohort, label_of)
                .into_iter()
                .map(|(label, own)| counts::mean_count(study, horizon, &own, &named(&label)))
                .collect()
        }
        (Method::CountRatio { .. }, Prepared::TwoKinds(above, below)) => {
            let above = by_stratum(above, cohort, label_of);
            let below = by_stratum(below, cohort, label_of);
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
                    within(&label, shares::snapshot(study, classes, &people, &blank))
                })
                .collect()
        }
        _ => Vec::new(),
    }
}

/// Those of a list that belong to a cohort, by stratum, in the order of the strata.
fn by_stratum<'p, T: Subject>(
    all: &'p [T],
    cohort: &Cohort,
    label_of: &LabelOf<'_>,
) -> BTreeMap<Label, Vec<&'p T>> {
    by_label(of_cohort(all, cohort), |one| label_of(&one.member()))
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
