//! The small trend line of a headline: dots with intervals, the latest one strongest.

use super::canvas::{Canvas, Drawn, Lettering, Panel};
use super::ink::Ink;
use super::trend::{Gap, draw_interval, draw_joins, drawn, gaps, highest};
use super::{Shell, letters};
use crate::{RenderError, wording};
use outcomes::report::{TrendPoint, Unit};
use plotters::style::text_anchor::{HPos, VPos};

const WIDTH: f64 = 200.0;
const HEIGHT: f64 = 66.0;
const BASE: f64 = 48.0;
/// Room above the highest limit, as a part of it, so that no dot is cut.
const HEADROOM: f64 = 1.08;
const SMALL_TEXT: f64 = 11.0;

/// Earlier values of a headline as one small SVG element. `anchor` makes its ids unique.
pub(crate) fn sparkline(
    points: &[TrendPoint],
    unit: Unit,
    title: &str,
    anchor: &str,
) -> Result<String, RenderError> {
    let said: Vec<String> = points
        .iter()
        .map(|point| format!("{}: {}", point.quarter, wording::trend_value(point, unit)))
        .collect();
    let shell = Shell {
        anchor,
        class: "sparkline",
        title: &format!("{title}, by quarter"),
        description: &said.join("; "),
        width: WIDTH,
    };
    shell
        .draw(HEIGHT, |canvas| draw(canvas, points))
        .map_err(|reason| RenderError::Figure {
            figure: title.to_owned(),
            reason,
        })
}

fn draw(canvas: &Canvas<'_>, points: &[TrendPoint]) -> Drawn {
    let highest = highest(points);
    let top = if highest > 0.0 {
        highest * HEADROOM
    } else {
        1.0
    };
    let n_points = points.len().max(1) as f64;
    let panel = canvas.panel(0.0..n_points, 0.0..top, 1.0..WIDTH - 1.0, 2.0..BASE);
    panel.line(vec![(0.0, 0.0), (n_points, 0.0)], Ink::Axis)?;
    draw_joins(&panel, points)?;
    let last = points.iter().rposition(|point| drawn(point).is_some());
    for (place, point) in points.iter().enumerate() {
        let across = place as f64 + 0.5;
        if let Some(estimate) = drawn(point) {
            draw_interval(&panel, point, across, 0.0)?;
            let radius = if Some(place) == last { 4.0 } else { 2.2 };
            panel.dot(across, estimate, radius, Ink::Series(0))?;
        }
    }
    if let Some(gap) = gaps(points).last().filter(|gap| gap.until == points.len()) {
        draw_gap(canvas, &panel, gap)?;
    }
    draw_ends(canvas, points)
}

/// Why the latest quarters have no dot, in their place where the words fit, else to the left of it.
fn draw_gap(canvas: &Canvas<'_>, panel: &Panel<'_>, gap: &Gap<'_>) -> Drawn {
    let (left, base) = panel.place(gap.from as f64, 0.0);
    let words = letters::clip(gap.reason, SMALL_TEXT, WIDTH / 2.0);
    let middle = (left + WIDTH) / 2.0;
    let half = letters::width(&words, SMALL_TEXT) / 2.0;
    let lettering = Lettering::quiet(SMALL_TEXT).at(HPos::Center, VPos::Bottom);
    canvas.text(&words, middle.min(WIDTH - half), base - 3.0, lettering)
}

/// The first and the last quarter under the line.
fn draw_ends(canvas: &Canvas<'_>, points: &[TrendPoint]) -> Drawn {
    let lettering = Lettering::quiet(SMALL_TEXT);
    let label = |point: &TrendPoint| letters::clip(&point.quarter, SMALL_TEXT, WIDTH / 2.0 - 4.0);
    if let Some(first) = points.first() {
        canvas.text(
            &label(first),
            0.0,
            BASE + 3.0,
            lettering.at(HPos::Left, VPos::Top),
        )?;
    }
    if let Some(last) = points.get(1..).and_then(<[TrendPoint]>::last) {
        canvas.text(
            &label(last),
            WIDTH,
            BASE + 3.0,
            lettering.at(HPos::Right, VPos::Top),
        )?;
    }
    Ok(())
}
