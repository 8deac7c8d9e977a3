//! How much a rule decides: the headline figures made again with one rule at a time at its named alternatives.

use super::changes::says_the_same;
use super::front_page::{HEADLINES, headline_cohort};
use super::sheets::headline_of;
use super::{Counted, Material};
use crate::derive::{Person, derive_these, people};
use crate::measure::{
    Cohort, FollowUp, FollowUpSummary, Measure, Method, Prepared, Study, evaluate, main_version,
    prepare_all,
};
use crate::report::{MeasureResult, SensitiveFigure, Sensitivity, Value};
use crate::rules::{Rules, SETTINGS, UnitOfAnalysis, days_between};

/// Nobody begins anything longer than this after the last row, whatever the rules: a trigger may lie weeks after a visit.
const MARGIN_DAYS: i64 = 366;

/// A headline figure of this report.
struct Headline {
    measure: &'static Measure,
    cohort: Cohort,
    in_force: MeasureResult,
}

/// Every alternative that the settings name and that is not in force, then the versions of a measure and the unit of analysis.
pub(super) fn sensitivity(material: &Material<'_>, counted: &[Counted]) -> Vec<Sensitivity> {
    let headlines = headlines(material, counted);
    let people = people_within(material, &headlines);
    let mut tried: Vec<Sensitivity> = SETTINGS
        .iter()
        .flat_map(|setting| {
            setting
                .alternatives
                .iter()
                .map(move |other| (setting, other))
        })
        .filter_map(|(setting, other)| {
            let rules = other(material.rules);
            let is_other = rules != *material.rules && rules.check().is_ok();
            is_other.then(|| {
                let (changed, unchanged) = apart(
                    &headlines,
                    made_again(material, &people, &headlines, &rules),
                );
                Sensitivity {
                    rule: setting.name.to_owned(),
                    words: setting.words.to_owned(),
                    in_force: (setting.value)(material.rules),
                    alternative: (setting.value)(&rules),
                    changed,
                    unchanged,
                }
            })
        })
        .collect();
    tried.extend(versions(material, counted, &headlines));
    tried.extend(one_ulcer_a_person(material, counted, &headlines));
    tried
}

fn headlines(material: &Material<'_>, counted: &[Counted]) -> Vec<Headline> {
    HEADLINES
        .iter()
        .filter_map(|id| counted.iter().find(|counted| counted.measure.id == *id))
        .filter_map(|counted| {
            let cohort = headline_cohort(material, counted);
            let in_force = headline_of(counted.measure, counted.of(material, &cohort))?;
            Some(Headline {
                measure: counted.measure,
                cohort,
                in_force,
            })
        })
        .collect()
}

/// People of whom anything can begin in a headline cohort; the others need not be derived again.
fn people_within<'a>(material: &Material<'a>, headlines: &[Headline]) -> Vec<Person<'a>> {
    let starts = headlines
        .iter()
        .map(|headline| headline.cohort.first.start());
    let Some(first) = starts.min() else {
        return Vec::new();
    };
    people(material.tables)
        .into_iter()
        .filter(|person| {
            let last = person.last_row();
            last.is_some_and(|last| days_between(first, last) >= -MARGIN_DAYS)
        })
        .collect()
}

fn made_again(
    material: &Material<'_>,
    people: &[Person<'_>],
    headlines: &[Headline],
    rules: &Rules,
) -> Vec<Option<MeasureResult>> {
    let people = derive_these(people, rules, material.horizon);
    let study = Study {
        people: &people,
        rules,
        horizon: material.horizon,
    };
    let measures: Vec<&'static Measure> =
        headlines.iter().map(|headline| headline.measure).collect();
    let prepared = prepare_all(&measures, &study);
    headlines
        .iter()
        .zip(&prepared)
        .map(|(headline, prepared)| {
            headline_of(
                headline.measure,
                evaluate(headline.measure, prepared, &study, &headline.cohort),
            )
        })
        .collect()
}

/// Changed figures apart from measures that come out the same.
fn apart(
    headlines: &[Headline],
    again: Vec<Option<MeasureResult>>,
) -> (Vec<SensitiveFigure>, Vec<String>) {
    let (mut changed, mut unchanged) = (Vec::new(), Vec::new());
    for (headline, again) in headlines.iter().zip(again) {
        match again {
            Some(again) if !says_the_same(&headline.in_force, &again) => {
                changed.push(SensitiveFigure {
                    difference: difference(&headline.in_force.value, &again.value),
                    in_force: headline.in_force.clone(),
                    alternative: again,
                })
            }
            Some(_) => unchanged.push(headline.measure.id.to_owned()),
            // what cannot be made under the alternative is neither
            None => {}
        }
    }
    (changed, unchanged)
}

fn difference(in_force: &Value, alternative: &Value) -> Option<f64> {
    match (in_force, alternative) {
        (Value::Known(in_force), Value::Known(alternative)) => {
            Some(alternative.estimate - in_force.estimate)
        }
        _ => None,
    }
}

/// The headline beside its versions, which differ in what ends a spell or how it is estimated: a closure that had to be confirmed,
/// amputation counted as an outcome, and so on.
fn versions(
    material: &Material<'_>,
    counted: &[Counted],
    headlines: &[Headline],
) -> Vec<Sensitivity> {
    let of_headline = |headline: &Headline| -> Vec<Sensitivity> {
        let is_version = |counted: &&Counted| {
            main_version(counted.measure.id) == Some(headline.measure.id)
                && asks_the_same(headline.measure, counted.measure)
        };
        counted
            .iter()
            .filter(is_version)
            .map(|version| {
                let again = headline_of(version.measure, version.of(material, &headline.cohort));
                let (changed, unchanged) = apart(std::slice::from_ref(headline), vec![again]);
                Sensitivity {
                    rule: "version of the measure".to_owned(),
                    words: version.measure.title.to_owned(),
                    in_force: headline.measure.id.to_owned(),
                    alternative: version.measure.id.to_owned(),
                    changed,
                    unchanged,
                }
            })
            .collect()
    };
    headlines.iter().flat_map(of_headline).collect()
}

/// Whether two measures answer one question: by the same day, and not a mean or a quartile beside a median.
fn asks_the_same(one: &Measure, other: &Measure) -> bool {
    let is_other_number = matches!(
        other.method,
        Method::FollowUp {
            summary: FollowUpSummary::MeanDays | FollowUpSummary::Quartiles,
            ..
        }
    );
    one.rule.horizon_days == other.rule.horizon_days && !is_other_number
}

/// What counts once: every ulcer, or only the first of each person in the cohort.
fn one_ulcer_a_person(
    material: &Material<'_>,
    counted: &[Counted],
    headlines: &[Headline],
) -> Option<Sensitivity> {
    let is_of_ulcers = |headline: &&Headline| {
        headline.measure.rule.unit == UnitOfAnalysis::Ulcer
            && matches!(headline.measure.method, Method::FollowUp { .. })
    };
    let (of_ulcers, others): (Vec<&Headline>, Vec<&Headline>) =
        headlines.iter().partition(is_of_ulcers);
    if of_ulcers.is_empty() {
        return None;
    }
    let (mut changed, mut unchanged) = (Vec::new(), Vec::new());
    for headline in of_ulcers {
        let counted = counted
            .iter()
            .find(|counted| counted.measure.id == headline.measure.id)?;
        let Prepared::FollowUps(all) = &*counted.prepared else {
            continue;
        };
        let firsts = Prepared::FollowUps(first_of_each(all, &headline.cohort));
        let again = evaluate(
            headline.measure,
            &firsts,
            &material.study(),
            &headline.cohort,
        );
        let again = headline_of(headline.measure, again);
        let (own_changed, own_unchanged) = apart(std::slice::from_ref(headline), vec![again]);
        changed.extend(own_changed);
        unchanged.extend(own_unchanged);
    }
    unchanged.extend(others.iter().map(|headline| headline.measure.id.to_owned()));
    Some(Sensitivity {
        rule: "unit of analysis".to_owned(),
        words: "what is counted once where a measure counts ulcers".to_owned(),
        in_force: "every ulcer".to_owned(),
        alternative: "the first ulcer of each person in the cohort".to_owned(),
        changed,
        unchanged,
    })
}

fn first_of_each(all: &[FollowUp], cohort: &Cohort) -> Vec<FollowUp> {
    let mut own: Vec<FollowUp> = all
        .iter()
        .filter(|subject| cohort.contains(subject.index.date))
        .copied()
        .collect();
    own.sort_by_key(|subject| (subject.cluster, subject.index));
    own.dedup_by_key(|subject| subject.cluster);
    own
}
