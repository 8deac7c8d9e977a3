//! Curves as the public sees them: few days, far apart, each with enough people behind it.

use super::public::DisclosureRules;
use super::told::Told;
use crate::analyse::shares_at_the_end;
use crate::report::words::percent;
use crate::report::{
    AtRiskRow, BandPoint, Count, Figure, FigureFrame, IncidenceCurve, IncidenceStack,
    MeasureResult, Value,
};

/// A cumulative incidence on a coarse grid, cut where too few are at risk; `None` when nothing of it can be shown.
///
/// A day is kept when, since the day kept before it, a curve has not moved or has moved by more people than the limit, as far as
/// can be said at the least; the days on which a printed result reads the same curve are kept in any case, since they
/// have been weighed with all other results, and no other day may come closer to them than that.
pub(super) fn coarse_curve(
    figure: &Figure,
    printed: &[&MeasureResult],
    rules: DisclosureRules,
) -> Option<Figure> {
    let Figure::CumulativeIncidence {
        frame,
        until_days: _,
        ticks,
        tick_unit,
        curves,
        at_risk,
        marks,
    } = figure
    else {
        return None;
    };
    let risk = shown_risk(ticks, at_risk, rules);
    let last = *risk.last()?;
    let total = |day: f64| curves.iter().map(|curve| at(curve, day)).sum::<f64>();
    let drawn: Vec<IncidenceCurve> = curves
        .iter()
        .filter_map(|curve| coarse_one(curve, &risk, &total, printed, rules))
        .collect();
    let main = drawn.iter().find(|curve| curve.is_main)?;
    let end = main.points.last()?;
    // the grid is of whole weeks unless a setting makes it another
    let by = if end.day % 7.0 == 0.0 {
        format!("{:.0} weeks", end.day / 7.0)
    } else {
        format!("day {:.0}", end.day)
    };
    let reached = format!("{} by {by}", percent(end.estimate));
    Some(Figure::CumulativeIncidence {
        frame: FigureFrame {
            title: format!("{}: {reached}", main.label),
            caption: format!(
                "The share with each outcome, everything that can come first allowed for, on days at least {} apart and only \
                 where enough people stand behind each step. An outcome without a line has too few to be shown.",
                rules.curve_grid_days
            ),
            alt: format!(
                "Steps on a coarse grid. The line for {} rises to {reached}.",
                main.label.to_lowercase()
            ),
            ..frame.clone()
        },
        until_days: last.day,
        ticks: ticks
            .iter()
            .copied()
            .filter(|tick| *tick <= last.day)
            .collect(),
        tick_unit: tick_unit.clone(),
        curves: drawn,
        at_risk: Vec::new(),
        marks: marks
            .iter()
            .filter(|(day, _)| *day <= last.day)
            .cloned()
            .collect(),
    })
}

/// The stack of outcomes made from the coarse curves that are printed anyway, so that it tells nothing they do not; `None` unless
/// every outcome has its line there and the lines share a day.
///
/// A day is kept where every line has a point: between its own points a line says nothing. `all` is the chart of the same
/// curves before anything was hidden, `printed` what is left of it.
pub(super) fn coarse_stack(
    stack: &IncidenceStack,
    all: &Figure,
    printed: &Figure,
) -> Option<Figure> {
    let (
        Figure::CumulativeIncidence { curves: whole, .. },
        Figure::CumulativeIncidence {
            until_days,
            ticks,
            tick_unit,
            curves,
            ..
        },
    ) = (all, printed)
    else {
        return None;
    };
    let main = curves.iter().find(|curve| curve.is_main)?;
    let on = |curve: &IncidenceCurve, day: f64| -> Option<BandPoint> {
        let mut points = curve.points.iter();
        points.find(|point| point.day == day).copied()
    };
    let days: Vec<f64> = main
        .points
        .iter()
        .map(|point| point.day)
        .filter(|day| curves.iter().all(|curve| on(curve, *day).is_some()))
        .collect();
    let last = *days.last()?;
    if curves.len() != whole.len() {
        return None;
    }
    let mut layers: Vec<IncidenceCurve> = curves
        .iter()
        .map(|curve| IncidenceCurve {
            until_day: last,
            points: days.iter().filter_map(|day| on(curve, *day)).collect(),
            ..curve.clone()
        })
        .collect();
    let mut open = vec![BandPoint {
        day: 0.0,
        estimate: 1.0,
        lower: None,
        upper: None,
    }];
    for day in days {
        let gone: f64 = layers.iter().map(|layer| at(layer, day)).sum();
        // Whole percentages can add up to 101.
        if gone > 1.0 + 1e-9 {
            return None;
        }
        open.push(BandPoint {
            day,
            estimate: whole_percent((1.0 - gone).max(0.0)),
            lower: None,
            upper: None,
        });
    }
    layers.push(IncidenceCurve {
        label: "Still open".to_owned(),
        is_main: false,
        until_day: last,
        points: open,
    });
    let ends = shares_at_the_end(&layers);
    Some(Figure::IncidenceStack(IncidenceStack {
        frame: FigureFrame {
            title: format!("By day {last:.0}: {ends}"),
            caption: "What had become of the ulcers by each day, from the curves of healing of this copy: on few days far apart, in \
                      whole percentages. An ulcer lost from sight is taken to go on as those still followed do, which nobody can check."
                .to_owned(),
            alt: format!("Stacked areas on a coarse grid. By day {last:.0}: {ends}."),
            ..stack.frame.clone()
        },
        until_days: *until_days,
        ticks: ticks.clone(),
        tick_unit: tick_unit.clone(),
        layers,
        at_risk: Vec::new(),
    }))
}

/// How many are at risk on a day of the grid.
#[derive(Debug, Clone, Copy)]
struct AtRisk {
    day: u32,
    n: u64,
}

/// Days of the grid up to the last one with enough people at risk; one group only.
fn shown_risk(ticks: &[u32], rows: &[AtRiskRow], rules: DisclosureRules) -> Vec<AtRisk> {
    let [row] = rows else {
        return Vec::new();
    };
    let mut risk: Vec<AtRisk> = Vec::new();
    for (&day, count) in ticks.iter().zip(&row.counts) {
        let Count::Shown(n) = *count else { break };
        if n <= rules.small_count {
            break;
        }
        let is_far = risk
            .last()
            .is_none_or(|before| day >= before.day.saturating_add(rules.curve_grid_days));
        if is_far {
            risk.push(AtRisk { day, n });
        }
    }
    if risk.len() < 2 { Vec::new() } else { risk }
}

fn coarse_one(
    curve: &IncidenceCurve,
    risk: &[AtRisk],
    total: &impl Fn(f64) -> f64,
    printed: &[&MeasureResult],
    rules: DisclosureRules,
) -> Option<IncidenceCurve> {
    // At the least: each event lifts the curve by no more than what is left, divided by those at risk at the end.
    let n_events = |from: u32, to: &AtRisk| {
        let rise = at(curve, f64::from(to.day)) - at(curve, f64::from(from));
        let left = (1.0 - total(f64::from(to.day))).max(f64::MIN_POSITIVE);
        rise * to.n as f64 / left
    };
    let may_stand = |from: u32, to: &AtRisk| {
        let rise = at(curve, f64::from(to.day)) - at(curve, f64::from(from));
        rise <= 0.0 || n_events(from, to).floor() > rules.small_count as f64
    };
    let is_fixed = |at_risk: &AtRisk| reads_here(curve, at_risk.day, printed);
    let mut kept: Vec<AtRisk> = Vec::new();
    let mut before = 0;
    for (position, tick) in risk.iter().enumerate().skip(1) {
        let next_fixed = risk.iter().skip(position + 1).find(|tick| is_fixed(tick));
        let is_clear = next_fixed.is_none_or(|fixed| may_stand(tick.day, fixed));
        if is_fixed(tick) || (may_stand(before, tick) && is_clear) {
            kept.push(*tick);
            before = tick.day;
        }
    }
    let end = kept.last()?;
    let is_shown_to_the_end = risk.last().is_some_and(|last| last.day == end.day);
    if !curve.is_main && !is_shown_to_the_end {
        return None;
    }
    let points: Vec<BandPoint> = kept
        .iter()
        .map(|tick| {
            let day = f64::from(tick.day);
            let step = curve.points.iter().rev().find(|point| point.day <= day);
            BandPoint {
                day,
                estimate: whole_percent(at(curve, day)),
                lower: step.and_then(|step| step.lower).map(whole_percent),
                upper: step.and_then(|step| step.upper).map(whole_percent),
            }
        })
        .collect();
    Some(IncidenceCurve {
        label: curve.label.clone(),
        is_main: curve.is_main,
        until_day: f64::from(end.day),
        points,
    })
}

/// Whether a printed result reads this curve on this day: the same share, to the last digit.
fn reads_here(curve: &IncidenceCurve, day: u32, printed: &[&MeasureResult]) -> bool {
    curve.is_main
        && printed.iter().any(|result| match &result.value {
            Value::Known(known) => {
                let told = Told::of(result);
                told.horizon_days() == Some(day)
                    && (known.estimate - at(curve, f64::from(day))).abs() < 1e-12
            }
            _ => false,
        })
}

/// The value of a curve on a day.
fn at(curve: &IncidenceCurve, day: f64) -> f64 {
    let step = curve.points.iter().rev().find(|point| point.day <= day);
    step.map_or(0.0, |step| step.estimate)
}

fn whole_percent(share: f64) -> f64 {
    (share * 100.0).round() / 100.0
}

#[cfg(test)]
mod tests {
    use super::*;

    fn curve(label: &str, is_main: bool, points: &[(f64, f64)]) -> IncidenceCurve {
        IncidenceCurve {
            label: label.to_owned(),
            is_main,
            until_day: 112.0,
            points: points
                .iter()
                .map(|&(day, estimate)| BandPoint {
                    day,
                    estimate,
                    lower: None,
                    upper: None,
                })
                .collect(),
        }
    }

    fn figure(counts: &[u64]) -> Figure {
        Figure::CumulativeIncidence {
            frame: FigureFrame {
                id: "healing-curve".to_owned(),
                family: "healing".to_owned(),
                title: "of 100, 23 healed".to_owned(),
                caption: "of 100".to_owned(),
                alt: "of 100".to_owned(),
            },
            until_days: 112,
            ticks: vec![0, 28, 56, 84, 112],
            tick_unit: "weeks".to_owned(),
            curves: vec![
                // 20 events by day 28, 5 more by day 56, 15 more by day 84 of 100 people without censoring.
                curve("Healed", true, &[(10.0, 0.2), (40.0, 0.25), (70.0, 0.40)]),
                curve("Died first", false, &[(33.0, 0.03)]),
            ],
            at_risk: vec![AtRiskRow {
                label: "At risk".to_owned(),
                counts: counts.iter().map(|n| Count::Shown(*n)).collect(),
            }],
            marks: vec![(84, "12 weeks".to_owned()), (168, "24 weeks".to_owned())],
        }
    }

    const RULES: DisclosureRules = DisclosureRules {
        small_count: 10,
        curve_grid_days: 28,
    };

    #[test]
    fn a_step_of_few_people_is_merged_with_the_next_and_a_line_of_few_people_is_left_out() {
        let Some(Figure::CumulativeIncidence {
            curves,
            frame,
            at_risk,
            ..
        }) = coarse_curve(&figure(&[100, 80, 72, 57, 57]), &[], RULES)
        else {
            panic!("a curve can be shown");
        };
        assert_eq!(curves.len(), 1, "3 deaths are too few to be drawn");
        let days: Vec<f64> = curves[0].points.iter().map(|point| point.day).collect();
        assert_eq!(days, [28.0, 84.0, 112.0], "5 events between day 28 and 56");
        assert!(at_risk.is_empty());
        assert!(!frame.caption.contains("100") && !frame.title.contains("100"));
    }

    #[test]
    fn a_stack_is_made_of_the_printed_curves_only_and_only_when_all_are_printed() {
        let stack = IncidenceStack {
            frame: FigureFrame {
                id: "healing-outcomes-stacked".to_owned(),
                family: "healing".to_owned(),
                title: "of 100".to_owned(),
                caption: "of 100".to_owned(),
                alt: "of 100".to_owned(),
            },
            until_days: 168,
            ticks: vec![0, 28],
            tick_unit: "weeks".to_owned(),
            layers: Vec::new(),
            at_risk: Vec::new(),
        };
        let all = figure(&[1000, 800, 720, 570, 570]);
        // 3 of 100 deaths are 30 of 1,000: enough to be drawn, on the days that both lines keep
        let printed = coarse_curve(&all, &[], RULES).unwrap();
        let Some(Figure::IncidenceStack(made)) = coarse_stack(&stack, &all, &printed) else {
            panic!("every outcome is printed");
        };
        let labels: Vec<&str> = made
            .layers
            .iter()
            .map(|layer| layer.label.as_str())
            .collect();
        assert_eq!(labels, ["Healed", "Died first", "Still open"]);
        let ends: Vec<f64> = made
            .layers
            .iter()
            .map(|layer| layer.points.last().unwrap().estimate)
            .collect();
        assert_eq!(ends, [0.4, 0.03, 0.57]);
        let said = format!("{:?}", made.frame);
        assert!(
            !said.contains("of 100") && made.at_risk.is_empty(),
            "{said}"
        );

        let few = figure(&[100, 80, 72, 57, 57]);
        let printed = coarse_curve(&few, &[], RULES).unwrap();
        assert_eq!(
            coarse_stack(&stack, &few, &printed),
            None,
            "3 deaths have no line"
        );
    }

    #[test]
    fn a_curve_ends_where_ten_or_fewer_are_at_risk() {
        let ended = |counts: &[u64]| match coarse_curve(&figure(counts), &[], RULES) {
            Some(Figure::CumulativeIncidence { until_days, .. }) => Some(until_days),
            _ => None,
        };
        assert_eq!(ended(&[100, 80, 72, 57, 11]), Some(112));
        assert_eq!(ended(&[100, 80, 72, 57, 10]), Some(84));
        assert_eq!(ended(&[100, 80, 10, 9, 8]), Some(28));
        assert_eq!(ended(&[10, 8, 7, 5, 5]), None);
    }
}
