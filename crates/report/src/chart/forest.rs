//! Estimates side by side: a dot with its interval a row, the numbers beside it, one line to compare with.

use super::axes::{Plot, scale, tick_words};
use super::canvas::{Canvas, Drawn, Lettering, Panel};
use super::ink::Ink;
use super::letters;
use super::{LINE_HEIGHT, Room, TEXT_SIZE, short_count};
use crate::wording;
use outcomes::report::{Estimate, Forest, ForestRow, Unit, Value};
use plotters::style::text_anchor::{HPos, VPos};

const ROW_GAP: f64 = 12.0;
const HEADING_HEIGHT: f64 = 24.0;
/// Ends of the scale of ratios: what lies beyond is cut and says so with a tip.
const RATIO_ENDS: (f64, f64) = (0.1, 10.0);
const RATIO_TICKS: [f64; 7] = [0.1, 0.25, 0.5, 1.0, 2.0, 4.0, 10.0];

/// Everything about the picture that is decided before drawing.
pub(crate) struct Plan<'a> {
    chart: &'a Forest,
    plot: Plot,
    ticks: Vec<f64>,
    from: f64,
    to: f64,
    labels: Vec<Vec<String>>,
    room: Room,
}

/// Lays the picture out.
pub(crate) fn plan(chart: &Forest, room: Room) -> Plan<'_> {
    let (label_width, value_width) = match room {
        Room::Wide => (208.0, 150.0),
        Room::Narrow => (room.width(), 118.0),
    };
    let labels: Vec<Vec<String>> = chart
        .rows
        .iter()
        .map(|row| letters::wrap(&row.label, TEXT_SIZE, label_width, 3))
        .collect();
    let (ticks, from, to) = ends(chart);
    let mut plan = Plan {
        chart,
        plot: Plot {
            left: match room {
                Room::Wide => label_width + 26.0,
                Room::Narrow => 8.0,
            },
            right: room.width() - value_width - 10.0,
            top: if chart.reference.is_some() { 22.0 } else { 8.0 },
            bottom: 0.0,
        },
        ticks,
        from,
        to,
        labels,
        room,
    };
    plan.plot.bottom = plan.plot.top + plan.tops().1;
    plan
}

/// Ticks and ends of the scale: of the logarithm for ratios.
fn ends(chart: &Forest) -> (Vec<f64>, f64, f64) {
    if chart.unit == Unit::Ratio {
        return (RATIO_TICKS.to_vec(), RATIO_ENDS.0.ln(), RATIO_ENDS.1.ln());
    }
    let known = chart.rows.iter().filter_map(|row| match &row.value {
        Value::Known(estimate) => Some(estimate),
        _ => None,
    });
    let highest = known
        .flat_map(|estimate| {
            let upper = estimate.interval.as_ref().and_then(|limits| limits.upper);
            [Some(estimate.estimate), upper]
        })
        .chain([chart.reference.as_ref().map(|(value, _)| *value)])
        .flatten()
        .filter(|value| value.is_finite())
        .fold(0.0, f64::max);
    let (axis, _) = scale(chart.unit, highest);
    (axis.ticks, 0.0, axis.top)
}

impl Plan<'_> {
    /// Top of every row under the plot's top, heading included, and the height of them all.
    fn tops(&self) -> (Vec<f64>, f64) {
        let mut tops = Vec::with_capacity(self.labels.len());
        let mut top = 0.0;
        let mut group_before = None;
        for (row, label) in self.chart.rows.iter().zip(&self.labels) {
            if row.group.is_some() && row.group != group_before {
                top += HEADING_HEIGHT;
            }
            group_before.clone_from(&row.group);
            tops.push(top);
            top += self.row_height(label);
        }
        (tops, top)
    }

    fn row_height(&self, label: &[String]) -> f64 {
        let lines = label.len() as f64 * LINE_HEIGHT;
        match self.room {
            Room::Wide => lines.max(2.0 * LINE_HEIGHT) + ROW_GAP,
            Room::Narrow => lines + 2.0 * LINE_HEIGHT + ROW_GAP,
        }
    }

    /// Height of the drawing in page units.
    pub(crate) fn height(&self) -> f64 {
        self.plot.bottom + 6.0 + LINE_HEIGHT + 6.0
    }

    /// Where a value lies on the scale, and whether it lies beyond an end.
    fn along(&self, value: f64) -> (f64, bool) {
        let value = if self.chart.unit == Unit::Ratio {
            value.max(0.0).ln()
        } else {
            value
        };
        (
            value.clamp(self.from, self.to),
            value < self.from || value > self.to,
        )
    }

    /// Draws the plan.
    pub(crate) fn draw(&self, canvas: &Canvas<'_>) -> Drawn {
        let plot = self.plot;
        let (tops, height) = self.tops();
        let across = plot.left..plot.right;
        let panel = canvas.panel(
            self.from..self.to,
            0.0..height.max(1.0),
            across,
            plot.top..plot.bottom,
        );
        self.draw_scale(canvas, &panel)?;
        let mut group_before = None;
        let rows = self.chart.rows.iter().zip(&self.labels).zip(tops);
        for ((row, label), top) in rows {
            let top = plot.top + top;
            if let Some(group) = row.group.as_ref().filter(|_| row.group != group_before) {
                let words = letters::clip(group, TEXT_SIZE, self.room.width());
                let lettering = Lettering::quiet(TEXT_SIZE)
                    .ink(Ink::Text)
                    .bold()
                    .at(HPos::Left, VPos::Bottom);
                canvas.text(&words, 0.0, top - 4.0, lettering)?;
            }
            group_before.clone_from(&row.group);
            self.draw_row(canvas, &panel, row, label, top)?;
        }
        Ok(())
    }

    fn draw_scale(&self, canvas: &Canvas<'_>, panel: &Panel<'_>) -> Drawn {
        let plot = self.plot;
        let lettering = Lettering::quiet(TEXT_SIZE);
        for tick in &self.ticks {
            let (middle, _) = panel.place(self.along(*tick).0, 0.0);
            canvas.line(&[(middle, plot.top), (middle, plot.bottom)], Ink::Grid)?;
            let words = tick_words(*tick, self.chart.unit);
            canvas.text(&words, middle, plot.bottom + 6.0, lettering)?;
        }
        let Some((value, words)) = &self.chart.reference else {
            return Ok(());
        };
        if !value.is_finite() {
            return Ok(());
        }
        let (middle, _) = panel.place(self.along(*value).0, 0.0);
        canvas.line(
            &[(middle, plot.top - 4.0), (middle, plot.bottom)],
            Ink::Axis,
        )?;
        let words = letters::clip(words, TEXT_SIZE, plot.width());
        let lettering = lettering.at(HPos::Center, VPos::Bottom);
        canvas.text(&words, middle, plot.top - 6.0, lettering)
    }

    fn draw_row(
        &self,
        canvas: &Canvas<'_>,
        panel: &Panel<'_>,
        row: &ForestRow,
        label: &[String],
        top: f64,
    ) -> Drawn {
        let left = Lettering::quiet(TEXT_SIZE)
            .ink(Ink::Text)
            .at(HPos::Left, VPos::Top);
        for (place, line) in label.iter().enumerate() {
            canvas.text(line, 0.0, top + LINE_HEIGHT * place as f64, left)?;
        }
        let line_top = match self.room {
            Room::Wide => top,
            Room::Narrow => top + LINE_HEIGHT * label.len() as f64,
        };
        let middle = line_top + LINE_HEIGHT - 2.0;
        if let Value::Known(estimate) = &row.value {
            self.draw_estimate(canvas, panel, estimate, middle)?;
        }
        let width = self.room.width() - self.plot.right - 12.0;
        let right = self.room.width() - width;
        let words = wording::value(&row.value, self.chart.unit);
        let words = match wording::value_limits(&row.value, self.chart.unit) {
            Some(limits) => format!("{words} ({limits})"),
            None => words,
        };
        let mut lines = letters::wrap(&words, TEXT_SIZE, width, 2);
        lines.extend(people(row));
        for (place, line) in lines.iter().take(2).enumerate() {
            let ink = if place == 0 { Ink::Text } else { Ink::Quiet };
            let line = letters::clip(line, TEXT_SIZE, width);
            let top = line_top + LINE_HEIGHT * place as f64;
            canvas.text(&line, right, top, left.ink(ink))?;
        }
        Ok(())
    }

    /// The interval as a line, a tip where it goes beyond the scale, and the estimate as a dot.
    fn draw_estimate(
        &self,
        canvas: &Canvas<'_>,
        panel: &Panel<'_>,
        estimate: &Estimate,
        middle: f64,
    ) -> Drawn {
        if !estimate.estimate.is_finite() {
            return Ok(());
        }
        let place = |value: f64| {
            let (along, is_beyond) = self.along(value);
            (panel.place(along, 0.0).0, is_beyond)
        };
        let (dot, _) = place(estimate.estimate);
        let ends = estimate.interval.as_ref();
        let ends = ends.map_or([None, None], |limits| [limits.lower, limits.upper]);
        for (end, outwards) in ends.into_iter().zip([-1.0, 1.0]) {
            let Some(end) = end.filter(|end| !end.is_nan()) else {
                continue;
            };
            let (x, is_beyond) = place(end);
            canvas.line(&[(dot, middle), (x, middle)], Ink::Series(3))?;
            let tip = if is_beyond {
                let back = x - 5.0 * outwards;
                vec![(back, middle - 4.0), (x, middle), (back, middle + 4.0)]
            } else {
                vec![(x, middle - 4.0), (x, middle + 4.0)]
            };
            canvas.line(&tip, Ink::Series(3))?;
        }
        canvas.dot(dot, middle, 4.5, Ink::Series(0))
    }
}

/// Events and people of a row in words.
fn people(row: &ForestRow) -> Option<String> {
    match (row.n_events, row.n) {
        (Some(events), Some(n)) => Some(format!("{} of {}", short_count(events), short_count(n))),
        (None, Some(n)) => Some(format!("n = {}", short_count(n))),
        (Some(events), None) => Some(format!("{} events", short_count(events))),
        (None, None) => None,
    }
}
