//! The sheet of each measure: its words and its results.

use super::{Counted, Material};
use crate::measure::{
    Cohort, FAMILIES, FollowUpSummary, HALF, Measure, Method, main_version, within,
};
use crate::report::{Family, MeasureResult, MeasureSheet, TrendPoint, Value, words};
use crate::rules::Quarter;

/// The families that hold a measure wanted, each measure with its results.
pub(super) fn families(material: &Material<'_>, counted: &[Counted]) -> Vec<Family> {
    FAMILIES
        .iter()
        .map(|family| Family {
            id: family.id.to_owned(),
            title: family.title.to_owned(),
            lead: family.lead.to_owned(),
            measures: counted
                .iter()
                .filter(|counted| counted.measure.family == family.id)
                .map(|counted| sheet(material, counted))
                .collect(),
        })
        .filter(|family| !family.measures.is_empty())
        .collect()
}

fn sheet(material: &Material<'_>, counted: &Counted) -> MeasureSheet {
    let measure = counted.measure;
    MeasureSheet {
        id: measure.id.to_owned(),
        title: measure.title.to_owned(),
        version_of: main_version(measure.id).map(str::to_owned),
        speaks_of: speaks_of(material, counted),
        words: measure.words_under(material.rules),
        numerator: material.rules.fill(measure.numerator),
        denominator: material.rules.fill(measure.denominator),
        exclusions: measure.exclusions_under(material.rules),
        maturity: measure.maturity(material.rules),
        source: measure.source.to_owned(),
        caution: material.rules.fill(measure.caution),
        context: measure
            .context
            .iter()
            .map(|line| words::fixed(line))
            .collect(),
        direction: measure.direction.to_owned(),
        results: results(material, counted),
        splits: counted.splits.clone(),
    }
}

/// Of whom the newest figure speaks, and who is not in it yet: the people of the reporting quarter and those whose follow-up
/// has ended are not the same.
fn speaks_of(material: &Material<'_>, counted: &Counted) -> String {
    let measure = counted.measure;
    let reporting = material.quarter;
    let mature = last_mature_quarter(material, counted);
    let Some(last) = mature else {
        return format!(
            "No quarter has been followed long enough yet; the people of {reporting} are being followed."
        );
    };
    let year = Cohort::year_to(last, material.horizon.data_start).label();
    match measure.method {
        Method::Snapshot { .. } => format!(
            "Speaks of the people under care on the last day of {last}, whenever their ulcers began."
        ),
        Method::Count { .. } | Method::CountRatio { .. } => format!(
            "Speaks of what happened in {year}, whenever the ulcers began; the quarters follow one by one."
        ),
        Method::FollowUp { .. }
        | Method::Status { .. }
        | Method::MeanCount { .. }
        | Method::Bands { .. }
        | Method::Expected { .. }
        | Method::Described { .. }
        | Method::TimeFree { .. } => {
            let denominator = material.rules.fill(measure.denominator);
            let who = denominator.replace("the quarter", &year);
            let later = if last < reporting {
                format!(
                    " Those of later quarters, {reporting} included, are being followed and are not in it yet."
                )
            } else {
                String::new()
            };
            format!("The newest figure speaks of {who}, whose follow-up has ended.{later}")
        }
    }
}

/// The year to the last mature quarter with its strata, then quarter by quarter, newest first.
fn results(material: &Material<'_>, counted: &Counted) -> Vec<MeasureResult> {
    let on = |cohort: &Cohort| counted.of(material, cohort);
    let mature = last_mature_quarter(material, counted);
    if matches!(counted.measure.method, Method::Snapshot { .. }) {
        let quarters = mature.into_iter().flat_map(|last| [last, last.back(4)]);
        let first = Quarter::of(material.horizon.data_start);
        return quarters
            .filter(|quarter| *quarter >= first)
            .flat_map(|quarter| on(&Cohort::quarter(quarter)))
            .collect();
    }
    let mut results: Vec<MeasureResult> = mature
        .map(|last| on(&Cohort::year_to(last, material.horizon.data_start)))
        .unwrap_or_default();
    for quarter in material.trend().into_iter().rev() {
        let of_quarter = on(&Cohort::quarter(quarter));
        results.extend(headline_of(counted.measure, of_quarter));
    }
    results
}

/// The newest quarter of the trend whose figure is mature.
pub(super) fn last_mature_quarter(material: &Material<'_>, counted: &Counted) -> Option<Quarter> {
    material.trend().into_iter().rev().find(|quarter| {
        let results = counted.of(material, &Cohort::quarter(*quarter));
        results
            .iter()
            .any(|result| !matches!(result.value, Value::NotYet { .. }))
    })
}

/// Of the results of one cohort, the one that is the headline.
pub(super) fn headline_of(measure: &Measure, results: Vec<MeasureResult>) -> Option<MeasureResult> {
    let wanted = match measure.method {
        Method::FollowUp {
            summary: FollowUpSummary::IncidenceAt { days, headline_day },
            ..
        } if days.len() > 1 => within(headline_day, "all"),
        Method::FollowUp {
            summary: FollowUpSummary::Quartiles,
            ..
        } => HALF.to_owned(),
        _ => "all".to_owned(),
    };
    let is_wanted = |result: &MeasureResult| result.stratum == wanted;
    let position = results.iter().position(is_wanted).unwrap_or(0);
    results.into_iter().nth(position)
}

/// The headline of each quarter of the trend, oldest first.
pub(super) fn trend(material: &Material<'_>, counted: &Counted) -> Vec<TrendPoint> {
    material
        .trend()
        .into_iter()
        .filter_map(|quarter| {
            let results = counted.of(material, &Cohort::quarter(quarter));
            let result = headline_of(counted.measure, results)?;
            Some(trend_point(quarter, &result))
        })
        .collect()
}

fn trend_point(quarter: Quarter, result: &MeasureResult) -> TrendPoint {
    let n = result.denominator.or(result.numerator);
    let absent = match &result.value {
        Value::Known(_) => None,
        Value::NotYet { .. } => Some("not yet"),
        Value::NotEstimable { .. } => Some("not estimable"),
        Value::NotReached { .. } => Some("not reached"),
        Value::Suppressed => Some("suppressed"),
    };
    let known = match &result.value {
        Value::Known(estimate) => Some(estimate),
        _ => None,
    };
    let interval = known.and_then(|estimate| estimate.interval.as_ref());
    TrendPoint {
        quarter: quarter.to_string(),
        estimate: known.map(|estimate| estimate.estimate),
        lower: interval.and_then(|interval| interval.lower),
        upper: interval.and_then(|interval| interval.upper),
        n,
        absent: absent.map(str::to_owned),
    }
}
