//! Healing by severity at presentation, a small chart a group.

use super::figures::{last_day, merged_steps, n_at_risk, steps, year_of};
use super::labels::Labels;
use super::{Counted, Material};
use crate::measure::{FollowUp, Label, Member, SplitBy, Stratifier, incidence_curves, members};
use crate::report::words::percent;
use crate::report::{Count, Figure, FigureFrame, IncidenceCurve, SmallMultiples, SmallPanel};
use crate::rules::{Outcome, Rule};
use std::collections::BTreeMap;

const UNTIL: u32 = 168;
/// A group with fewer ulcers gets no curve: every step of it would be one of a handful. Common practice, no source.
const FEWEST: usize = 5;
const OTHERS: [(&str, &[Outcome]); 2] = [
    (
        "Amputated",
        &[Outcome::MinorAmputation, Outcome::MajorAmputation],
    ),
    ("Died first", &[Outcome::Death]),
];

/// What became of the ulcers of the year to the last mature quarter, by their SINBAD score at the first visit. `None` unless two
/// groups have enough ulcers for a curve.
pub(super) fn healing_by_severity(material: &Material<'_>, counted: &Counted) -> Option<Figure> {
    let (cohort, subjects) = year_of(material, counted)?;
    let by = [SplitBy::Field(Stratifier::Severity)];
    let labelled = Material {
        strata: &by,
        ..*material
    };
    let labels = Labels::of(&labelled, members(&counted.prepared, &cohort));
    let mut groups: BTreeMap<Label, Vec<FollowUp>> = BTreeMap::new();
    for subject in subjects {
        let member = Member {
            cluster: subject.cluster,
            day: subject.index.date,
            place: subject.place,
        };
        groups
            .entry(labels.get(&member, 0))
            .or_default()
            .push(subject);
    }
    let ticks: Vec<u32> = (0..=6).map(|tick| tick * 28).collect();
    let level = material.rules.confidence_level;
    let panels: Vec<SmallPanel> = groups
        .iter()
        .map(|(label, group)| panel(&counted.measure.rule, label, group, &ticks, level))
        .collect();
    if panels.iter().filter(|panel| panel.absent.is_none()).count() < 2 {
        return None;
    }
    let healed: Vec<String> = panels.iter().filter_map(healed_words).collect();
    let title = match healed.as_slice() {
        [] => "Healing by severity: no group was followed for 24 weeks".to_owned(),
        _ => format!("Healed within 24 weeks: {}", healed.join(", ")),
    };
    let period = cohort.label();
    Some(Figure::SmallMultiples(SmallMultiples {
        frame: FigureFrame {
            id: "healing-by-severity".to_owned(),
            family: counted.measure.family.to_owned(),
            alt: format!("A small chart a group over 24 weeks. {title}."),
            title,
            caption: format!(
                "Ulcers first seen in {period} by their SINBAD score at the first visit, 3 or more being severe; all on one scale. \
                 Bands are {:.0}% intervals. Where bands of two groups overlap, chance alone may explain the difference; and groups \
                 differ in more than severity. A group of fewer than {FEWEST} has no curve.",
                level * 100.0
            ),
        },
        until_days: UNTIL,
        ticks,
        tick_unit: "weeks".to_owned(),
        panels,
    }))
}

fn panel(rule: &Rule, label: &Label, group: &[FollowUp], ticks: &[u32], level: f64) -> SmallPanel {
    let curves = if group.len() < FEWEST {
        None
    } else {
        curves(rule, group, level)
    };
    SmallPanel {
        label: label.words().to_owned(),
        n: Count::Shown(group.len() as u64),
        absent: curves.is_none().then(|| "too few for a curve".to_owned()),
        curves: curves.unwrap_or_default(),
        at_risk: ticks.iter().map(|tick| n_at_risk(group, *tick)).collect(),
    }
}

/// The same outcomes in the same order for every group; one that never happened stays at 0.
fn curves(rule: &Rule, group: &[FollowUp], level: f64) -> Option<Vec<IncidenceCurve>> {
    let incidence = incidence_curves(rule, group, level)?;
    let until_day = last_day(group, UNTIL)?;
    let curve = |label: &str, is_main: bool, points| IncidenceCurve {
        label: label.to_owned(),
        is_main,
        until_day,
        points,
    };
    let healed = incidence.of_cause(1).map(|curve| steps(curve, UNTIL));
    let mut curves = vec![curve("Healed", true, healed.unwrap_or_default())];
    for (label, outcomes) in OTHERS {
        let points = merged_steps(rule, group, outcomes, level, UNTIL);
        curves.push(curve(label, false, points.unwrap_or_default()));
    }
    Some(curves)
}

/// `72% (SINBAD 0 to 2)`; nothing of a group that was not followed to the end.
fn healed_words(panel: &SmallPanel) -> Option<String> {
    let main = panel.curves.iter().find(|curve| curve.is_main)?;
    let is_followed = main.until_day >= f64::from(UNTIL);
    let end = main.points.last().map_or(0.0, |point| point.estimate);
    is_followed.then(|| format!("{} ({})", percent(end), panel.label))
}
