//! Observed against expected, side by side.

use super::sheets::last_mature_quarter;
use super::{Counted, Material};
use crate::measure::Cohort;
use crate::report::{Figure, FigureFrame, Forest, ForestRow, MeasureResult, Unit, Value, words};

/// Measures with a ratio of observed to expected, and what the row is called.
const RATIOS: [(&str, &str); 3] = [
    (
        "healed-against-published-strata",
        "Healed at 20 weeks, published severity strata",
    ),
    (
        "healed-against-own-past",
        "Healed at 20 weeks, the practice's own past",
    ),
    (
        "threatened-limbs-kept-at-12-months",
        "Major amputation of threatened limbs, WIfI stage",
    ),
];

/// Every ratio over its year, then the healing of each published stratum.
pub(super) fn forests(material: &Material<'_>, counted: &[Counted]) -> Vec<Figure> {
    let strata = counted
        .iter()
        .find(|counted| counted.measure.id == RATIOS[0].0)
        .and_then(|counted| strata(material, counted));
    ratios(material, counted)
        .into_iter()
        .chain(strata)
        .collect()
}

fn of_year(material: &Material<'_>, counted: &Counted) -> Option<(Cohort, Vec<MeasureResult>)> {
    let last = last_mature_quarter(material, counted)?;
    let cohort = Cohort::year_to(last, material.horizon.data_start);
    let results = counted.of(material, &cohort);
    Some((cohort, results))
}

fn row(group: Option<String>, label: String, result: MeasureResult) -> ForestRow {
    ForestRow {
        group,
        label,
        value: result.value,
        n: result.denominator,
        n_events: result.numerator,
    }
}

fn ratios(material: &Material<'_>, counted: &[Counted]) -> Option<Figure> {
    let rows: Vec<ForestRow> = RATIOS
        .iter()
        .filter_map(|(id, label)| {
            let counted = counted.iter().find(|counted| counted.measure.id == *id)?;
            let (cohort, results) = of_year(material, counted)?;
            let ratio = results
                .into_iter()
                .find(|result| result.unit == Unit::Ratio)?;
            Some(row(None, format!("{label}, {}", cohort.label()), ratio))
        })
        .collect();
    let known: Vec<String> = rows
        .iter()
        .filter_map(|row| match &row.value {
            Value::Known(estimate) => Some(format!(
                "{}: {}",
                row.label,
                words::estimate(Unit::Ratio, estimate)
            )),
            _ => None,
        })
        .collect();
    let first = known.first()?;
    Some(Figure::Forest(Forest {
        frame: FigureFrame {
            id: "observed-against-expected".to_owned(),
            family: "healing".to_owned(),
            title: format!("Observed over expected. {first}"),
            caption: "A ratio of 1 means as many as expected from severity. For healing more is better, for amputation fewer. \
                      Limits are exact for the expectation taken as known; the expectation is context, not a target, and a \
                      ratio away from 1 does not show that care caused it."
                .to_owned(),
            alt: format!("Ratios with their intervals around a line at 1. {}.", known.join(". ")),
        },
        unit: Unit::Ratio,
        reference: Some((1.0, "as expected".to_owned())),
        rows,
    }))
}

fn strata(material: &Material<'_>, counted: &Counted) -> Option<Figure> {
    let (cohort, results) = of_year(material, counted)?;
    let rows: Vec<ForestRow> = results
        .into_iter()
        .filter(|result| result.unit == Unit::Share)
        .map(|result| row(None, result.stratum.clone(), result))
        .collect();
    let told = told_shares(&rows);
    if told.is_empty() {
        return None;
    }
    Some(Figure::Forest(Forest {
        frame: FigureFrame {
            id: "healed-by-published-strata".to_owned(),
            family: counted.measure.family.to_owned(),
            title: format!(
                "Healed at 20 weeks by severity, {}: {}",
                cohort.label(),
                of_points(&rows).join(", ")
            ),
            caption: "Index ulcers with a known outcome by the number of severity points: open for more than 2 months, larger \
                      than 2 square cm, grade 3 or more. The published share stands in each label: Margolis et al., Am J Med \
                      2003;115:627; context, not a target."
                .to_owned(),
            alt: format!("Shares with their intervals. {}.", told.join("; ")),
        },
        unit: Unit::Share,
        reference: None,
        rows,
    }))
}

/// The rows with a published share, without it: `55% at 0 points`.
fn of_points(rows: &[ForestRow]) -> Vec<String> {
    let in_words = |row: &ForestRow| {
        let Value::Known(estimate) = &row.value else {
            return None;
        };
        let (points, _) = row.label.split_once(" (published")?;
        let points = points.split_once(", ").map_or(points, |(_, points)| points);
        Some(format!("{} at {points}", words::percent(estimate.estimate)))
    };
    rows.iter().filter_map(in_words).collect()
}

/// The rows of a forest that have a share, in words.
pub(super) fn told_shares(rows: &[ForestRow]) -> Vec<String> {
    let in_words = |row: &ForestRow| match &row.value {
        Value::Known(estimate) => Some(format!(
            "{} {}",
            row.label,
            words::percent(estimate.estimate)
        )),
        _ => None,
    };
    rows.iter().filter_map(in_words).collect()
}
