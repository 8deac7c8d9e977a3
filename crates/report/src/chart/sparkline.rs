//! The small trend line of a headline: dots with intervals, the latest one strongest.

use super::canvas::{Canvas, Drawn};
use super::ink::Ink;
use super::place::{open_axis, share_axis};
use super::trend::{draw_interval, draw_joins, highest};
use super::{Shell, canvas::Lettering};
use crate::{RenderError, wording};
use outcomes::report::{TrendPoint, Unit};

const WIDTH: f64 = 200.0;
const HEIGHT: f64 = 48.0;

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
        .draw(HEIGHT, |canvas| draw(canvas, points, unit))
        .map_err(|reason| RenderError::Figure {
            figure: title.to_owned(),
            reason,
        })
}

fn draw(canvas: &Canvas<'_>, points: &[TrendPoint], unit: Unit) -> Drawn {
    let highest = highest(points);
    let axis = if unit == Unit::Share {
        share_axis(highest)
    } else {
        open_axis(highest)
    };
    let n_points = points.len().max(1) as f64;
    let panel = canvas.panel(
        0.0..n_points,
        0.0..axis.top,
        2.0..WIDTH - 2.0,
        5.0..HEIGHT - 5.0,
    );
    panel.line(vec![(0.0, 0.0), (n_points, 0.0)], Ink::Axis)?;
    draw_joins(&panel, points)?;
    let last = points.iter().rposition(|point| point.estimate.is_some());
    for (place, point) in points.iter().enumerate() {
        let across = place as f64 + 0.5;
        match point.estimate.filter(|value| value.is_finite()) {
            Some(estimate) => {
                draw_interval(&panel, point, across, 0.0)?;
                let radius = if Some(place) == last { 4.0 } else { 2.2 };
                panel.dot(across, estimate, radius, Ink::Series(0))?;
            }
            None => {
                let (x, y) = panel.place(across, 0.0);
                canvas.text("·", x, y - 12.0, Lettering::quiet(14.0))?;
            }
        }
    }
    Ok(())
}
