//! A measure over time with its centre and limits; a ring and a name mark each point that gave a signal.

use super::axes::{Plot, label_room, quarter_labels, scale, value_axis};
use super::canvas::{Canvas, Drawn, Lettering, Panel};
use super::ink::Ink;
use super::letters;
use super::place::{Axis, Wish, label_every, spread};
use super::trend::{draw_gap, draw_joins, drawn, gaps, highest};
use super::{LINE_HEIGHT, Room, TEXT_SIZE, short_count};
use outcomes::report::{ControlChart, ControlPoint, TrendPoint, Value};
use plotters::style::text_anchor::{HPos, VPos};

const PLOT_HEIGHT: f64 = 220.0;
/// Points from which dots are small.
const MANY: usize = 30;

/// Everything about the picture that is decided before drawing.
pub(crate) struct Plan<'a> {
    chart: &'a ControlChart,
    points: Vec<TrendPoint>,
    plot: Plot,
    axis: Axis,
    axis_labels: Vec<String>,
}

/// Lays the picture out.
pub(crate) fn plan(chart: &ControlChart, room: Room) -> Plan<'_> {
    let points: Vec<TrendPoint> = chart.points.iter().map(as_trend).collect();
    let ends = chart
        .points
        .iter()
        .flat_map(|point| [point.centre, point.upper])
        .flatten()
        .filter(|value| value.is_finite());
    let (axis, axis_labels) = scale(chart.unit, ends.fold(highest(&points), f64::max));
    let top = 22.0;
    let plot = Plot {
        left: label_room(&axis_labels),
        right: room.width() - letters::width("upper limit", TEXT_SIZE) - 10.0,
        top,
        bottom: top + PLOT_HEIGHT,
    };
    Plan {
        chart,
        points,
        plot,
        axis,
        axis_labels,
    }
}

/// The value of a point as one of a trend; its limits belong to the chart, not to the value.
fn as_trend(point: &ControlPoint) -> TrendPoint {
    let absent = match &point.value {
        Value::Known(_) => None,
        Value::NotYet { .. } => Some("not yet"),
        Value::NotEstimable { .. } => Some("not estimable"),
        Value::NotReached { .. } => Some("not reached"),
        Value::Suppressed => Some("suppressed"),
    };
    TrendPoint {
        quarter: point.label.clone(),
        estimate: match &point.value {
            Value::Known(estimate) => Some(estimate.estimate),
            _ => None,
        },
        lower: None,
        upper: None,
        n: point.n,
        absent: absent.map(str::to_owned),
    }
}

impl Plan<'_> {
    /// Height of the drawing in page units.
    pub(crate) fn height(&self) -> f64 {
        self.plot.bottom + 8.0 + 3.0 * LINE_HEIGHT + 4.0
    }

    /// Draws the plan.
    pub(crate) fn draw(&self, canvas: &Canvas<'_>) -> Drawn {
        let plot = self.plot;
        let n_points = self.points.len().max(1) as f64;
        let (across, down) = (plot.left..plot.right, plot.top..plot.bottom);
        let panel = canvas.panel(0.0..n_points, 0.0..self.axis.top, across, down);
        value_axis(canvas, &panel, plot, &self.axis, &self.axis_labels)?;
        self.draw_level(&panel, Ink::Axis, |point| point.centre)?;
        self.draw_level(&panel, Ink::Limit, |point| point.lower)?;
        self.draw_level(&panel, Ink::Limit, |point| point.upper)?;
        self.draw_level_names(canvas, &panel)?;
        draw_joins(&panel, &self.points)?;
        self.draw_points(canvas, &panel)?;
        for gap in gaps(&self.points) {
            draw_gap(canvas, &panel, &gap, plot.width() / n_points)?;
        }
        self.draw_labels(canvas, &panel)
    }

    /// A level in steps, one a point; broken where it is not defined.
    fn draw_level(
        &self,
        panel: &Panel<'_>,
        ink: Ink,
        level: impl Fn(&ControlPoint) -> Option<f64>,
    ) -> Drawn {
        let mut run: Vec<(f64, f64)> = Vec::new();
        for (place, point) in self.chart.points.iter().enumerate() {
            match level(point).filter(|height| height.is_finite()) {
                Some(height) => {
                    let from = place as f64;
                    run.extend([(from, height), (from + 1.0, height)]);
                }
                None if run.is_empty() => {}
                None => panel.line(std::mem::take(&mut run), ink)?,
            }
        }
        if run.is_empty() {
            Ok(())
        } else {
            panel.line(run, ink)
        }
    }

    /// Names of centre and limits at the right, each beside its last height.
    fn draw_level_names(&self, canvas: &Canvas<'_>, panel: &Panel<'_>) -> Drawn {
        let last = |level: fn(&ControlPoint) -> Option<f64>| {
            let heights = self.chart.points.iter().rev().filter_map(level);
            heights.into_iter().find(|height| height.is_finite())
        };
        let named: Vec<(&str, f64)> = [
            ("upper limit", last(|point| point.upper)),
            ("centre", last(|point| point.centre)),
            ("lower limit", last(|point| point.lower)),
        ]
        .into_iter()
        .filter_map(|(name, height)| Some((name, panel.place(0.0, height?).1)))
        .collect();
        let wishes: Vec<Wish> = named
            .iter()
            .map(|(_, middle)| Wish {
                middle: *middle,
                height: LINE_HEIGHT,
            })
            .collect();
        let middles = spread(&wishes, self.plot.top - 10.0, self.plot.bottom + 8.0);
        let lettering = Lettering::quiet(TEXT_SIZE).at(HPos::Left, VPos::Center);
        for ((name, _), middle) in named.iter().zip(middles) {
            canvas.text(name, self.plot.right + 6.0, middle, lettering)?;
        }
        Ok(())
    }

    /// Dots; a ring around each that completes a signal, and the signal's name where there is room for it.
    fn draw_points(&self, canvas: &Canvas<'_>, panel: &Panel<'_>) -> Drawn {
        let radius = if self.points.len() > MANY { 2.2 } else { 4.0 };
        // Names stand on the side away from the centre where they can, each side with its own free room.
        let mut free_from = [f64::NEG_INFINITY; 2];
        for (place, (of_trend, point)) in self.points.iter().zip(&self.chart.points).enumerate() {
            let Some(height) = drawn(of_trend) else {
                continue;
            };
            let across = place as f64 + 0.5;
            panel.dot(across, height, radius, Ink::Series(0))?;
            if point.signals.is_empty() {
                continue;
            }
            panel.dot(across, height, radius + 3.5, Ink::Signal)?;
            let names = letters::clip(&point.signals.join(", "), TEXT_SIZE, 150.0);
            let (x, y) = panel.place(across, height);
            let half = letters::width(&names, TEXT_SIZE) / 2.0;
            let middle = x.clamp(self.plot.left + half, (self.plot.right - half).max(half));
            let levels = [point.centre, point.lower, point.upper];
            let crosses = |top: f64| {
                let mut heights = levels.iter().flatten();
                heights
                    .any(|level| (top..top + LINE_HEIGHT).contains(&panel.place(across, *level).1))
            };
            let (over, under) = (y - radius - 6.0 - LINE_HEIGHT, y + radius + 6.0);
            let is_below = point.centre.is_some_and(|centre| height < centre);
            // on the other side where a limit would run through the name, unless it runs there too
            let (here, there) = if is_below {
                (under, over)
            } else {
                (over, under)
            };
            let stands_below = is_below != (crosses(here) && !crosses(there));
            let [above, below] = &mut free_from;
            let (free, down, anchor) = if stands_below {
                (below, radius + 6.0, VPos::Top)
            } else {
                (above, -radius - 6.0, VPos::Bottom)
            };
            if middle - half > *free {
                let lettering = Lettering::quiet(TEXT_SIZE)
                    .ink(Ink::Text)
                    .at(HPos::Center, anchor);
                canvas.text(&names, middle, y + down, lettering)?;
                *free = middle + half + 6.0;
            }
        }
        Ok(())
    }

    /// Quarters or events under the base line, and how many are behind each quarter.
    fn draw_labels(&self, canvas: &Canvas<'_>, panel: &Panel<'_>) -> Drawn {
        let step = self.plot.width() / self.points.len().max(1) as f64;
        let n_words = |point: &TrendPoint| point.n.map_or_else(String::new, short_count);
        let names = || self.points.iter().map(|point| point.quarter.as_str());
        let parts = quarter_labels(names(), 1).into_iter().flatten();
        let widest = parts
            .map(|label| label.part)
            .chain(self.points.iter().map(n_words))
            .map(|words| letters::width(&words, TEXT_SIZE).min(70.0))
            .fold(0.0, f64::max);
        let every = label_every(widest + 4.0, step);
        let n_top = self.plot.bottom + 8.0 + 2.0 * LINE_HEIGHT;
        for (place, (point, label)) in self
            .points
            .iter()
            .zip(quarter_labels(names(), every))
            .enumerate()
        {
            let Some(label) = label else { continue };
            let middle = panel.place(place as f64 + 0.5, 0.0).0;
            let room = step * every as f64;
            label.draw(canvas, middle, self.plot.bottom, room)?;
            let n = letters::clip(&n_words(point), TEXT_SIZE, room);
            let lettering = Lettering::quiet(TEXT_SIZE).ink(Ink::Text);
            canvas.text(&n, middle, n_top, lettering)?;
        }
        if self.points.iter().any(|point| point.n.is_some()) {
            let heading = Lettering::quiet(TEXT_SIZE).at(HPos::Right, VPos::Top);
            canvas.text("n", self.plot.left - 7.0, n_top, heading)?;
        }
        Ok(())
    }
}
