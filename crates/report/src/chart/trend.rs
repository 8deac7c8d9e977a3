//! One measure by quarter: a dot with its interval, a gap with its reason, and a published figure for context.

use super::axes::{Plot, label_room, quarter_labels, scale, value_axis};
use super::canvas::{Canvas, Drawn, Lettering, Panel};
use super::ink::Ink;
use super::letters;
use super::place::{Axis, label_every};
use super::{LINE_HEIGHT, Room, TEXT_SIZE, short_count};
use crate::wording;
use outcomes::report::{TrendPoint, Unit};
use plotters::style::text_anchor::{HPos, VPos};

const PLOT_HEIGHT: f64 = 210.0;
/// Font size of a reason that has little room.
const SMALL_TEXT: f64 = 10.0;

/// Everything about the picture that is decided before drawing.
pub(crate) struct Plan<'a> {
    points: &'a [TrendPoint],
    context: Option<f64>,
    context_words: Vec<String>,
    plot: Plot,
    axis: Axis,
    axis_labels: Vec<String>,
}

/// Lays the picture out.
pub(crate) fn plan<'a>(
    points: &'a [TrendPoint],
    unit: Unit,
    context: Option<&(f64, String)>,
    room: Room,
) -> Plan<'a> {
    let highest = highest(points).max(context.map_or(0.0, |(value, _)| *value));
    let (axis, axis_labels) = scale(unit, highest);
    let context_words = context.map_or_else(Vec::new, |(value, citation)| {
        let words = format!(
            "Dashed line, for context and not a target: {}. {citation}",
            wording::number(unit, *value)
        );
        letters::wrap(&words, TEXT_SIZE, room.width() - 4.0, 4)
    });
    let top = 14.0;
    let plot = Plot {
        left: label_room(&axis_labels),
        right: room.width() - 4.0,
        top,
        bottom: top + PLOT_HEIGHT,
    };
    let context = context
        .map(|(value, _)| *value)
        .filter(|value| value.is_finite());
    Plan {
        points,
        context,
        context_words,
        plot,
        axis,
        axis_labels,
    }
}

/// The highest number a trend has to show.
pub(crate) fn highest(points: &[TrendPoint]) -> f64 {
    points
        .iter()
        .flat_map(|point| {
            [
                point.estimate,
                point.upper.filter(|_| point.estimate.is_some()),
            ]
        })
        .flatten()
        .filter(|value| value.is_finite())
        .fold(0.0, f64::max)
}

impl Plan<'_> {
    /// Height of the drawing in page units.
    pub(crate) fn height(&self) -> f64 {
        self.n_top() + LINE_HEIGHT * (1.0 + self.context_words.len() as f64) + 8.0
    }

    fn n_top(&self) -> f64 {
        self.plot.bottom + 8.0 + 2.0 * LINE_HEIGHT
    }

    /// Draws the plan.
    pub(crate) fn draw(&self, canvas: &Canvas<'_>) -> Drawn {
        let plot = self.plot;
        let n_points = self.points.len().max(1) as f64;
        let (across, down) = (plot.left..plot.right, plot.top..plot.bottom);
        let panel = canvas.panel(0.0..n_points, 0.0..self.axis.top, across, down);
        value_axis(canvas, &panel, plot, &self.axis, &self.axis_labels)?;
        self.draw_context(canvas, &panel)?;
        draw_joins(&panel, self.points)?;
        let step = plot.width() / n_points;
        let widest = self
            .points
            .iter()
            .map(|point| letters::width(&n_words(point), TEXT_SIZE).min(30.0))
            .fold(letters::width("Q3", TEXT_SIZE), f64::max);
        let every = label_every(widest + 3.0, step);
        let names = self.points.iter().map(|point| point.quarter.as_str());
        let labels = quarter_labels(names, every);
        for (place, (point, label)) in self.points.iter().zip(labels).enumerate() {
            let across = place as f64 + 0.5;
            if let Some(estimate) = drawn(point) {
                draw_interval(&panel, point, across, 4.0 / step)?;
                panel.dot(across, estimate, 4.5, Ink::Series(0))?;
            }
            if let Some(label) = label {
                let middle = panel.place(across, 0.0).0;
                let room = step * every as f64;
                label.draw(canvas, middle, plot.bottom, room)?;
                let n = letters::clip(&n_words(point), TEXT_SIZE, room);
                let lettering = Lettering::quiet(TEXT_SIZE).ink(Ink::Text);
                canvas.text(&n, middle, self.n_top(), lettering)?;
            }
        }
        for gap in gaps(self.points) {
            draw_gap(canvas, &panel, &gap, step)?;
        }
        let heading = Lettering::quiet(TEXT_SIZE).at(HPos::Right, VPos::Top);
        canvas.text("n", plot.left - 7.0, self.n_top(), heading)
    }

    fn draw_context(&self, canvas: &Canvas<'_>, panel: &Panel<'_>) -> Drawn {
        if let Some(value) = self.context {
            let height = panel.place(0.0, value).1;
            canvas.line(
                &[(self.plot.left, height), (self.plot.right, height)],
                Ink::Mark,
            )?;
        }
        let lettering = Lettering::quiet(TEXT_SIZE).at(HPos::Left, VPos::Top);
        for (place, line) in self.context_words.iter().enumerate() {
            let top = self.n_top() + LINE_HEIGHT * (1.0 + place as f64) + 6.0;
            canvas.text(line, 0.0, top, lettering)?;
        }
        Ok(())
    }
}

/// Neighbouring quarters without a value for one reason: from this place up to, not including, that one.
#[derive(Debug, PartialEq, Eq)]
pub(crate) struct Gap<'a> {
    pub(crate) from: usize,
    pub(crate) until: usize,
    pub(crate) reason: &'a str,
}

/// The gaps of a trend, in time order.
pub(crate) fn gaps(points: &[TrendPoint]) -> Vec<Gap<'_>> {
    let mut gaps: Vec<Gap<'_>> = Vec::new();
    for (place, point) in points
        .iter()
        .enumerate()
        .filter(|(_, point)| drawn(point).is_none())
    {
        let reason = wording::absence(point);
        match gaps.last_mut() {
            Some(gap) if gap.until == place && gap.reason == reason => gap.until = place + 1,
            _ => gaps.push(Gap {
                from: place,
                until: place + 1,
                reason,
            }),
        }
    }
    gaps
}

/// The reason of a gap on the base line under the quarters it covers; upright where a word is too long.
pub(crate) fn draw_gap(canvas: &Canvas<'_>, panel: &Panel<'_>, gap: &Gap<'_>, step: f64) -> Drawn {
    let room = step * (gap.until - gap.from) as f64 - 4.0;
    let (middle, bottom) = panel.place((gap.from + gap.until) as f64 / 2.0, 0.0);
    let fits = |size: &f64| {
        gap.reason
            .split_whitespace()
            .all(|word| letters::width(word, *size) <= room)
    };
    let Some(size) = [TEXT_SIZE, SMALL_TEXT].into_iter().find(fits) else {
        let words = letters::clip(gap.reason, SMALL_TEXT, PLOT_HEIGHT);
        let lettering = Lettering::quiet(SMALL_TEXT).upright();
        return canvas.text(&words, middle, bottom - 4.0, lettering);
    };
    let lettering = Lettering::quiet(size).at(HPos::Center, VPos::Bottom);
    let lines = letters::wrap(gap.reason, size, room, 4);
    for (place, line) in lines.iter().rev().enumerate() {
        let base = bottom - 4.0 - (size + 2.0) * place as f64;
        canvas.text(line, middle, base, lettering)?;
    }
    Ok(())
}

fn n_words(point: &TrendPoint) -> String {
    point.n.map_or_else(String::new, short_count)
}

/// The value of a quarter that can be drawn.
pub(crate) fn drawn(point: &TrendPoint) -> Option<f64> {
    point.estimate.filter(|value| value.is_finite())
}

/// The interval of one quarter with caps of this half width; an end without number is left open.
pub(crate) fn draw_interval(panel: &Panel<'_>, point: &TrendPoint, across: f64, cap: f64) -> Drawn {
    let Some(estimate) = point.estimate else {
        return Ok(());
    };
    for end in [point.lower, point.upper]
        .into_iter()
        .flatten()
        .filter(|end| end.is_finite())
    {
        panel.line(vec![(across, estimate), (across, end)], Ink::Series(3))?;
        panel.line(
            vec![(across - cap, end), (across + cap, end)],
            Ink::Series(3),
        )?;
    }
    Ok(())
}

/// Thin lines between neighbouring quarters that both have a value.
pub(crate) fn draw_joins(panel: &Panel<'_>, points: &[TrendPoint]) -> Drawn {
    for (place, pair) in points.windows(2).enumerate() {
        if let [
            TrendPoint {
                estimate: Some(before),
                ..
            },
            TrendPoint {
                estimate: Some(after),
                ..
            },
        ] = pair
            && before.is_finite()
            && after.is_finite()
        {
            let ends = vec![(place as f64 + 0.5, *before), (place as f64 + 1.5, *after)];
            panel.line(ends, Ink::Axis)?;
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use outcomes::report::Count;

    #[test]
    fn neighbouring_quarters_with_one_reason_are_one_gap() {
        let point = |estimate: Option<f64>, absent: Option<&str>| TrendPoint {
            quarter: "2025 Q1".to_owned(),
            estimate,
            lower: None,
            upper: None,
            n: Some(Count::Shown(1)),
            absent: absent.map(str::to_owned),
        };
        let points = [
            point(None, Some("suppressed")),
            point(Some(0.5), None),
            point(None, Some("suppressed")),
            point(None, Some("not yet")),
            point(Some(f64::NAN), None),
        ];
        let found: Vec<_> = gaps(&points)
            .iter()
            .map(|gap| (gap.from, gap.until, gap.reason))
            .collect();
        assert_eq!(
            found,
            [
                (0, 1, "suppressed"),
                (2, 3, "suppressed"),
                (3, 4, "not yet"),
                (4, 5, "not estimable")
            ]
        );
        let alike = [point(None, None), point(None, None)];
        assert_eq!(gaps(&alike).len(), 1);
    }
}
