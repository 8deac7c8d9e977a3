//! Everything that can come of an ulcer, stacked day by day.

use super::figures::{by_words, last_day, n_at_risk, steps, year_of};
use super::{Counted, Material};
use crate::measure::incidence_curves;
use crate::report::words::{counted as count_words, percent};
use crate::report::{AtRiskRow, BandPoint, Figure, FigureFrame, IncidenceCurve, IncidenceStack};
use crate::rules::Outcome;
use survival::Curve;

const UNTIL: u32 = 168;
/// What can come before healing, and what its layer is called, in the order of the layers.
const OTHERS: [(Outcome, &str); 3] = [
    (Outcome::MinorAmputation, "Minor amputation"),
    (Outcome::MajorAmputation, "Major amputation"),
    (Outcome::Death, "Died"),
];

/// What had become of the ulcers of the year to the last mature quarter by each day: the causes of the healing cohort from
/// the bottom up, and above them those still open.
pub(super) fn outcomes_stacked(material: &Material<'_>, counted: &Counted) -> Option<Figure> {
    let (cohort, subjects) = year_of(material, counted)?;
    let rule = &counted.measure.rule;
    let incidence = incidence_curves(rule, &subjects, material.rules.confidence_level)?;
    let until_day = last_day(&subjects, UNTIL)?;
    let layer = |label: &str, is_main: bool, points: Vec<BandPoint>| IncidenceCurve {
        label: label.to_owned(),
        is_main,
        until_day,
        points,
    };
    let mut layers = vec![layer(
        "Healed",
        true,
        incidence
            .of_cause(1)
            .map_or_else(Vec::new, |curve| steps(curve, UNTIL)),
    )];
    let mut nobody: Vec<&str> = Vec::new();
    for (outcome, label) in OTHERS {
        let position = rule.competing.iter().position(|cause| *cause == outcome)?;
        let cause = u32::try_from(position + 2).ok()?;
        let points = incidence.of_cause(cause).map(|curve| steps(curve, UNTIL));
        match points.filter(|points| !points.is_empty()) {
            Some(points) => layers.push(layer(label, false, points)),
            None => nobody.push(label),
        }
    }
    layers.push(layer("Still open", false, open(&incidence.event_free)));
    let ends = shares_at_the_end(&layers);
    let by = by_words(until_day, UNTIL, "weeks");
    let (n, period) = (
        count_words(subjects.len(), "ulcer", "ulcers"),
        cohort.label(),
    );
    let ticks: Vec<u32> = (0..=6).map(|tick| tick * 28).collect();
    Some(Figure::IncidenceStack(IncidenceStack {
        frame: FigureFrame {
            id: "healing-outcomes-stacked".to_owned(),
            family: counted.measure.family.to_owned(),
            title: format!("By {by}: {ends}"),
            caption: format!(
                "What had become of {n} first seen in {period} by each day; the layers add up to 100%. The outlined edges are the \
                 {:.0}% intervals of the healed and of those still open, which allow for several ulcers of one person. An ulcer \
                 lost from sight is taken to go on as those still followed do, which nobody can check.{}",
                material.rules.confidence_level * 100.0,
                none_words(&nobody)
            ),
            alt: format!(
                "Stacked areas over 24 weeks for {n} first seen in {period}. By {by}: {ends}."
            ),
        },
        until_days: UNTIL,
        at_risk: vec![AtRiskRow {
            label: "Still open and followed".to_owned(),
            counts: ticks
                .iter()
                .map(|&tick| n_at_risk(&subjects, tick))
                .collect(),
        }],
        ticks,
        tick_unit: "weeks".to_owned(),
        layers,
    }))
}

/// Those without any outcome yet: everybody on day 0, less from each step on.
fn open(event_free: &Curve) -> Vec<BandPoint> {
    let everybody = BandPoint {
        day: 0.0,
        estimate: 1.0,
        lower: Some(1.0),
        upper: Some(1.0),
    };
    std::iter::once(everybody)
        .chain(steps(event_free, UNTIL))
        .collect()
}

/// The layers on the last day in words: `healed 51%, died 4%, still open 45%`.
pub(crate) fn shares_at_the_end(layers: &[IncidenceCurve]) -> String {
    let in_words = |layer: &IncidenceCurve| {
        let end = layer.points.last().map_or(0.0, |point| point.estimate);
        format!("{} {}", layer.label.to_lowercase(), percent(end))
    };
    layers.iter().map(in_words).collect::<Vec<_>>().join(", ")
}

fn none_words(nobody: &[&str]) -> String {
    match nobody {
        [] => String::new(),
        _ => format!(
            " Not once in that time: {}.",
            nobody.join(", ").to_lowercase()
        ),
    }
}
