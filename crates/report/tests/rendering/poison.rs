//! Figures spoilt on purpose: every string replaced, every number not finite, everything hidden.

use outcomes::report::{
    BandPoint, Count, Estimate, Figure, FigureFrame, IncidenceCurve, StackedQuarter, Value,
};

/// Puts this text into every string of the figure.
pub(crate) fn figure(figure: &mut Figure, text: &str) {
    let spoil = |word: &mut String| *word = text.into();
    let spoil_frame = |frame: &mut FigureFrame| {
        *frame = FigureFrame {
            id: text.into(),
            family: text.into(),
            title: text.into(),
            caption: text.into(),
            alt: text.into(),
        };
    };
    let spoil_value = |value: &mut Value| {
        *value = Value::NotEstimable {
            reason: text.into(),
        }
    };
    match figure {
        Figure::CumulativeIncidence {
            frame,
            tick_unit,
            curves,
            at_risk,
            marks,
            ..
        } => {
            spoil_frame(frame);
            spoil(tick_unit);
            curves.iter_mut().for_each(|curve| spoil(&mut curve.label));
            at_risk.iter_mut().for_each(|row| spoil(&mut row.label));
            marks.iter_mut().for_each(|mark| spoil(&mut mark.1));
        }
        Figure::StackedShares {
            frame,
            layers,
            quarters,
        } => {
            spoil_frame(frame);
            layers.iter_mut().for_each(spoil);
            quarters
                .iter_mut()
                .for_each(|quarter| spoil(&mut quarter.quarter));
        }
        Figure::QuarterlyTrend {
            frame,
            points,
            context,
            ..
        } => {
            spoil_frame(frame);
            points
                .iter_mut()
                .for_each(|point| spoil(&mut point.quarter));
            *context = Some((0.3, text.into()));
        }
        Figure::IncidenceStack(chart) => {
            spoil_frame(&mut chart.frame);
            spoil(&mut chart.tick_unit);
            chart
                .layers
                .iter_mut()
                .for_each(|layer| spoil(&mut layer.label));
            chart
                .at_risk
                .iter_mut()
                .for_each(|row| spoil(&mut row.label));
        }
        Figure::SmallMultiples(chart) => {
            spoil_frame(&mut chart.frame);
            spoil(&mut chart.tick_unit);
            for panel in &mut chart.panels {
                spoil(&mut panel.label);
                panel
                    .curves
                    .iter_mut()
                    .for_each(|curve| spoil(&mut curve.label));
                panel.absent.iter_mut().for_each(spoil);
            }
        }
        Figure::IntervalBeside(chart) => {
            spoil_frame(&mut chart.frame);
            spoil(&mut chart.tick_unit);
            spoil(&mut chart.interval_label);
            spoil(&mut chart.conventional.label);
        }
        Figure::Trajectories(chart) => {
            spoil_frame(&mut chart.frame);
            spoil(&mut chart.tick_unit);
            spoil(&mut chart.summary_label);
        }
        Figure::FollowUpCalendar(chart) => {
            spoil_frame(&mut chart.frame);
            chart.endings.iter_mut().for_each(spoil);
            chart
                .quarters
                .iter_mut()
                .for_each(|quarter| spoil(&mut quarter.quarter));
        }
        Figure::ControlChart(chart) => {
            spoil_frame(&mut chart.frame);
            spoil(&mut chart.kind_of_chart);
            spoil(&mut chart.limits_words);
            for point in &mut chart.points {
                spoil(&mut point.label);
                point.signals = vec![text.into()];
            }
            for signal in &mut chart.signals {
                spoil(&mut signal.name);
                spoil(&mut signal.words);
            }
        }
        Figure::Funnel(chart) => {
            spoil_frame(&mut chart.frame);
            spoil(&mut chart.size_words);
            for unit in &mut chart.units {
                spoil(&mut unit.label);
                spoil(&mut unit.place);
            }
        }
        Figure::Forest(chart) => {
            spoil_frame(&mut chart.frame);
            if let Some((_, words)) = &mut chart.reference {
                spoil(words);
            }
            for row in &mut chart.rows {
                row.group = Some(text.into());
                spoil(&mut row.label);
            }
            chart
                .rows
                .iter_mut()
                .skip(1)
                .for_each(|row| spoil_value(&mut row.value));
        }
        Figure::Movement(chart) => {
            spoil_frame(&mut chart.frame);
            spoil(&mut chart.from);
            spoil(&mut chart.to);
            chart.from_classes.iter_mut().for_each(spoil);
            chart.to_classes.iter_mut().for_each(spoil);
        }
        Figure::Pathway(chart) => {
            spoil_frame(&mut chart.frame);
            spoil(&mut chart.start);
            for step in &mut chart.steps {
                spoil(&mut step.label);
                spoil_value(&mut step.median_days);
            }
        }
    }
}

fn no_curve(curve: &mut IncidenceCurve) {
    curve.points.iter_mut().for_each(no_point);
}

fn no_point(point: &mut BandPoint) {
    (point.estimate, point.upper) = (f64::NAN, Some(f64::INFINITY));
}

const NO_NUMBER: Value = Value::Known(Estimate {
    estimate: f64::NAN,
    interval: None,
});

/// Makes every number of the figure one that is not finite.
pub(crate) fn unbounded(figure: &mut Figure) {
    match figure {
        Figure::CumulativeIncidence { curves, .. } => curves.iter_mut().for_each(no_curve),
        Figure::QuarterlyTrend {
            points, context, ..
        } => {
            points
                .iter_mut()
                .for_each(|point| point.estimate = Some(f64::NAN));
            *context = Some((f64::NEG_INFINITY, String::new()));
        }
        Figure::StackedShares { .. } | Figure::Movement(_) | Figure::FollowUpCalendar(_) => {}
        Figure::IncidenceStack(chart) => chart.layers.iter_mut().for_each(no_curve),
        Figure::SmallMultiples(chart) => chart
            .panels
            .iter_mut()
            .flat_map(|panel| &mut panel.curves)
            .for_each(no_curve),
        Figure::IntervalBeside(chart) => {
            no_curve(&mut chart.conventional);
            for mass in &mut chart.masses {
                (mass.after_day, mass.probability) = (f64::NAN, f64::INFINITY);
            }
        }
        Figure::Trajectories(chart) => {
            chart.summary.iter_mut().for_each(no_point);
            for point in chart.lines.iter_mut().flat_map(|line| &mut line.points) {
                point.share_of_first = f64::INFINITY;
            }
        }
        Figure::ControlChart(chart) => {
            for point in &mut chart.points {
                point.value = NO_NUMBER;
                (point.centre, point.lower, point.upper) =
                    (Some(f64::NAN), Some(f64::NEG_INFINITY), Some(f64::INFINITY));
            }
        }
        Figure::Funnel(chart) => {
            chart.expected = f64::NAN;
            for limit in chart
                .limits
                .iter_mut()
                .flat_map(|limits| &mut limits.points)
            {
                limit.upper = f64::INFINITY;
            }
            for unit in &mut chart.units {
                (unit.size, unit.value) = (Some(f64::INFINITY), NO_NUMBER);
            }
        }
        Figure::Forest(chart) => {
            chart.reference = Some((f64::INFINITY, String::new()));
            chart.rows.iter_mut().for_each(|row| row.value = NO_NUMBER);
        }
        Figure::Pathway(chart) => {
            for step in &mut chart.steps {
                step.reached.fill(NO_NUMBER);
                step.median_days = NO_NUMBER;
            }
        }
    }
}

fn hide_bars(quarters: &mut [StackedQuarter]) {
    for quarter in quarters {
        quarter.n = Count::Suppressed;
        quarter.counts.fill(Count::Suppressed);
    }
}

/// Hides every count of the figure and every value that has one.
pub(crate) fn hide(figure: &mut Figure) {
    match figure {
        Figure::StackedShares { quarters, .. } => hide_bars(quarters),
        Figure::QuarterlyTrend { points, .. } => {
            for point in points {
                (point.estimate, point.lower, point.upper) = (None, None, None);
                point.n = Some(Count::Suppressed);
                point.absent = Some("suppressed".into());
            }
        }
        Figure::CumulativeIncidence { at_risk, .. } => at_risk
            .iter_mut()
            .for_each(|row| row.counts.fill(Count::Suppressed)),
        Figure::IncidenceStack(chart) => chart
            .at_risk
            .iter_mut()
            .for_each(|row| row.counts.fill(Count::Suppressed)),
        Figure::SmallMultiples(chart) => {
            for panel in &mut chart.panels {
                panel.n = Count::Suppressed;
                panel.at_risk.fill(Count::Suppressed);
                panel.curves.clear();
                panel.absent = Some("suppressed".into());
            }
        }
        Figure::IntervalBeside(_) => {}
        Figure::Trajectories(chart) => {
            chart.n = Count::Suppressed;
            chart.lines.clear();
            chart.summary.clear();
        }
        Figure::FollowUpCalendar(chart) => {
            chart.spans.clear();
            hide_bars(&mut chart.quarters);
        }
        Figure::ControlChart(chart) => {
            for point in &mut chart.points {
                point.value = Value::Suppressed;
                point.n = Some(Count::Suppressed);
            }
        }
        Figure::Funnel(chart) => {
            for unit in &mut chart.units {
                unit.value = Value::Suppressed;
                (unit.n, unit.size) = (Count::Suppressed, None);
            }
        }
        Figure::Forest(chart) => {
            for row in &mut chart.rows {
                row.value = Value::Suppressed;
                row.n = Some(Count::Suppressed);
                row.n_events = Some(Count::Suppressed);
            }
        }
        Figure::Movement(chart) => chart
            .flows
            .iter_mut()
            .for_each(|flow| flow.n = Count::Suppressed),
        Figure::Pathway(chart) => {
            chart.n = Count::Suppressed;
            for step in &mut chart.steps {
                step.reached.fill(Value::Suppressed);
                step.median_days = Value::Suppressed;
                step.n_reached = Count::Suppressed;
            }
        }
    }
}
