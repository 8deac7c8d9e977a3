//! The small trend line of a headline: dots with intervals, the latest one strongest.

use super::canvas::{Canvas, Drawn, Lettering};
use super::ink::Ink;
use super::trend::{Gap, draw_interval, draw_joins, drawn, gaps, highest};
use super::{Shell, letters};
use crate::{RenderError, wording};
use outcomes::report::{TrendPoint, Unit};
use plotters::style::text_anchor::{HPos, VPos};

const WIDTH: f64 = 200.0;
const HEIGHT: f64 = 69.0;
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
    let gaps = gaps(points);
    let gap = gaps.last().filter(|gap| gap.until == points.len());
    let reason = gap.map(|gap| letters::clip(gap.reason, SMALL_TEXT, WIDTH / 2.0));
    let step = step(points.len(), gap, reason.as_deref());
    let n_points = points.len().max(1) as f64;
    let panel = canvas.panel(
        0.0..n_points,
        0.0..top,
        1.0..1.0 + step * n_points,
        2.0..BASE,
    );
    canvas.line(&[(1.0, BASE), (WIDTH - 1.0, BASE)], Ink::Axis)?;
    draw_joins(&panel, points)?;
    let last = points.iter().rposition(|point| drawn(point).is_some());
    for (place, point) in points.iter().enumerate() {
        if let Some(estimate) = drawn(point) {
            let across = place as f64 + 0.5;
            draw_interval(&panel, point, across, 0.0)?;
            let radius = if Some(place) == last { 4.0 } else { 2.2 };
            panel.dot(across, estimate, radius, Ink::Series(0))?;
        }
    }
    if let (Some(gap), Some(reason)) = (gap, &reason) {
        let middle = (1.0 + step * gap.from as f64 + WIDTH) / 2.0;
        let lettering = Lettering::quiet(SMALL_TEXT).at(HPos::Center, VPos::Bottom);
        canvas.text(reason, middle, BASE - 3.0, lettering)?;
    }
    draw_ends(canvas, points)
}

/// Room of one quarter: an equal part, or less where the reason of the latest gap needs more than the gap has.
fn step(n_points: usize, gap: Option<&Gap<'_>>, reason: Option<&str>) -> f64 {
    let equal = (WIDTH - 2.0) / n_points.max(1) as f64;
    match (gap, reason) {
        (Some(gap), Some(reason)) if gap.from > 0 => {
            let left = WIDTH - 6.0 - letters::width(reason, SMALL_TEXT);
            equal.min(left / gap.from as f64)
        }
        _ => equal,
    }
}

/// The first and the last quarter under the line.
fn draw_ends(canvas: &Canvas<'_>, points: &[TrendPoint]) -> Drawn {
    let lettering = Lettering::quiet(SMALL_TEXT);
    let label = |point: &TrendPoint| letters::clip(&point.quarter, SMALL_TEXT, WIDTH / 2.0 - 4.0);
    if let Some(first) = points.first() {
        canvas.text(
            &label(first),
            0.0,
            BASE + 6.0,
            lettering.at(HPos::Left, VPos::Top),
        )?;
    }
    if let Some(last) = points.get(1..).and_then(<[TrendPoint]>::last) {
        canvas.text(
            &label(last),
            WIDTH,
            BASE + 6.0,
            lettering.at(HPos::Right, VPos::Top),
        )?;
    }
    Ok(())
}
