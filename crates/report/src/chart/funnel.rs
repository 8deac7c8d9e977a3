//! Units by size between the limits that chance alone would seldom pass.

use super::axes::{Plot, label_room, scale, tick_words, value_axis};
use super::canvas::{Canvas, Drawn, Lettering, Panel};
use super::ink::Ink;
use super::letters;
use super::place::{Axis, Wish, open_axis, spread};
use super::{LINE_HEIGHT, Room, TEXT_SIZE};
use crate::wording;
use outcomes::report::{Funnel, FunnelLimit, FunnelUnit, Unit, Value};
use plotters::style::text_anchor::{HPos, VPos};

const PLOT_HEIGHT: f64 = 260.0;
/// Widest name beside a dot.
const NAME_WIDTH: f64 = 90.0;
/// Room above the largest value and to the right of the largest unit.
const HEADROOM: f64 = 1.05;

/// Everything about the picture that is decided before drawing.
pub(crate) struct Plan<'a> {
    chart: &'a Funnel,
    plot: Plot,
    across: Axis,
    axis: Axis,
    axis_labels: Vec<String>,
}

/// Where a unit can be drawn: its size and value.
fn spot(unit: &FunnelUnit) -> Option<(f64, f64)> {
    let Value::Known(estimate) = &unit.value else {
        return None;
    };
    let is_drawn = |value: &f64| value.is_finite() && *value >= 0.0;
    unit.size
        .filter(is_drawn)
        .zip(Some(estimate.estimate).filter(is_drawn))
}

/// Lays the picture out.
pub(crate) fn plan(chart: &Funnel, room: Room) -> Plan<'_> {
    let spots: Vec<(f64, f64)> = chart.units.iter().filter_map(spot).collect();
    let largest = spots.iter().map(|(size, _)| *size).fold(0.0, f64::max);
    let smallest = spots
        .iter()
        .map(|(size, _)| *size)
        .fold(f64::INFINITY, f64::min);
    // Limits of units smaller than any that is there would only squeeze the picture.
    let limits = chart
        .limits
        .iter()
        .flat_map(|limits| &limits.points)
        .filter(|limit| limit.size >= smallest && limit.upper.is_finite())
        .map(|limit| limit.upper);
    let values = spots.iter().map(|(_, value)| *value);
    let expected = Some(chart.expected).filter(|expected| expected.is_finite());
    let highest = limits.chain(values).chain(expected).fold(0.0, f64::max);
    let (axis, axis_labels) = scale(chart.unit, highest);
    let top = 16.0;
    let plot = Plot {
        left: label_room(&axis_labels),
        right: room.width() - letters::width("99.8% limit", TEXT_SIZE) - 12.0,
        top,
        bottom: top + PLOT_HEIGHT,
    };
    Plan {
        chart,
        plot,
        across: size_axis(largest * HEADROOM),
        axis,
        axis_labels,
    }
}

/// From 0 to the largest size, with ticks at round numbers.
fn size_axis(largest: f64) -> Axis {
    let round = open_axis(largest);
    if largest <= 0.0 || largest >= round.top {
        return round;
    }
    let step = round.top / 10.0;
    let ticks: Vec<f64> = (0..=10)
        .map(|place| step * f64::from(place))
        .filter(|tick| *tick <= largest)
        .collect();
    Axis {
        top: largest,
        ticks: if ticks.len() > 6 {
            ticks.into_iter().step_by(2).collect()
        } else {
            ticks
        },
    }
}

impl Plan<'_> {
    /// Height of the drawing in page units.
    pub(crate) fn height(&self) -> f64 {
        self.plot.bottom + 6.0 + 2.0 * LINE_HEIGHT + 4.0
    }

    /// Draws the plan.
    pub(crate) fn draw(&self, canvas: &Canvas<'_>) -> Drawn {
        let plot = self.plot;
        let panel = canvas.panel_in(plot, 0.0..self.across.top, 0.0..self.axis.top);
        value_axis(canvas, &panel, plot, &self.axis, &self.axis_labels)?;
        self.draw_sizes(canvas, &panel)?;
        self.draw_limits(canvas, &panel)?;
        self.draw_units(canvas, &panel)
    }

    fn draw_sizes(&self, canvas: &Canvas<'_>, panel: &Panel<'_>) -> Drawn {
        let base = self.plot.bottom;
        let lettering = Lettering::quiet(TEXT_SIZE);
        for tick in &self.across.ticks {
            let (middle, _) = panel.place(*tick, 0.0);
            canvas.line(&[(middle, base), (middle, base + 4.0)], Ink::Axis)?;
            let words = tick_words(*tick, Unit::Count);
            canvas.text(&words, middle, base + 6.0, lettering)?;
        }
        let middle = (self.plot.left + self.plot.right) / 2.0;
        let words = letters::clip(&self.chart.size_words, TEXT_SIZE, self.plot.width());
        canvas.text(&words, middle, base + 6.0 + LINE_HEIGHT, lettering)
    }

    /// The shared figure and every limit as a line, the name of each where it ends.
    fn draw_limits(&self, canvas: &Canvas<'_>, panel: &Panel<'_>) -> Drawn {
        let mut ends: Vec<(String, f64)> = Vec::new();
        if self.chart.expected.is_finite() {
            let height = self.chart.expected.clamp(0.0, self.axis.top);
            panel.line(vec![(0.0, height), (self.across.top, height)], Ink::Axis)?;
            let words = wording::number(self.chart.unit, self.chart.expected);
            ends.push((format!("all: {words}"), height));
        }
        for (place, limits) in self.chart.limits.iter().enumerate() {
            let ink = if place == 0 { Ink::Mark } else { Ink::Limit };
            for (side, is_named) in [
                (
                    (|limit: &FunnelLimit| limit.upper) as fn(&FunnelLimit) -> f64,
                    true,
                ),
                (|limit| limit.lower, false),
            ] {
                let line: Vec<(f64, f64)> = limits
                    .points
                    .iter()
                    .filter(|limit| side(limit).is_finite() && limit.size <= self.across.top)
                    .map(|limit| (limit.size, side(limit).clamp(0.0, self.axis.top)))
                    .collect();
                if let Some((_, height)) = line.last().copied().filter(|_| is_named) {
                    let level = wording::level(limits.level);
                    ends.push((format!("{level} limit"), height));
                }
                if line.len() > 1 {
                    panel.line(line, ink)?;
                }
            }
        }
        let wishes: Vec<Wish> = ends
            .iter()
            .map(|(_, height)| Wish {
                middle: panel.place(0.0, *height).1,
                height: LINE_HEIGHT,
            })
            .collect();
        let middles = spread(&wishes, self.plot.top - 8.0, self.plot.bottom + 8.0);
        let lettering = Lettering::quiet(TEXT_SIZE).at(HPos::Left, VPos::Center);
        for ((words, _), middle) in ends.iter().zip(middles) {
            canvas.text(words, self.plot.right + 6.0, middle, lettering)?;
        }
        Ok(())
    }

    /// A dot a unit; its name beside it unless another name stands there.
    fn draw_units(&self, canvas: &Canvas<'_>, panel: &Panel<'_>) -> Drawn {
        let mut taken: Vec<(f64, f64, f64)> = Vec::new();
        for (unit, (size, value)) in self
            .chart
            .units
            .iter()
            .filter_map(|unit| Some((unit, spot(unit)?)))
        {
            let value_drawn = value.min(self.axis.top);
            panel.dot(size, value_drawn, 4.5, Ink::Series(0))?;
            if unit.place.starts_with("above") || unit.place.starts_with("below") {
                panel.dot(size, value_drawn, 8.0, Ink::Signal)?;
            }
            let (x, y) = panel.place(size, value_drawn);
            let name = letters::clip(&unit.label, TEXT_SIZE, NAME_WIDTH);
            let width = letters::width(&name, TEXT_SIZE);
            let left = if x + 11.0 + width > self.plot.right {
                x - 11.0 - width
            } else {
                x + 11.0
            };
            let is_free = |height: &f64| {
                taken.iter().all(|(from, to, middle)| {
                    left > *to || left + width < *from || (height - middle).abs() >= LINE_HEIGHT
                })
            };
            if let Some(height) = [y, y - 13.0, y + 13.0].into_iter().find(is_free) {
                let lettering = Lettering::quiet(TEXT_SIZE)
                    .ink(Ink::Text)
                    .at(HPos::Left, VPos::Center);
                canvas.text(&name, left, height, lettering)?;
                taken.push((left, left + width, height));
            }
        }
        Ok(())
    }
}
