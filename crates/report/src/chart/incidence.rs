//! Step curves that rise from 0, with their bands, direct labels and the numbers at risk under the ticks.

use super::axes::{Plot, block, label_room, scale, value_axis};
use super::canvas::{Canvas, Drawn, Lettering, Panel};
use super::ink::Ink;
use super::letters;
use super::place::{Axis, Wish, spread};
use super::time::{TimeAxis, draw_band, highest};
use super::{LINE_HEIGHT, Room, TEXT_SIZE};
use outcomes::report::{Figure, IncidenceCurve, Unit};
use plotters::style::text_anchor::{HPos, VPos};

const PLOT_TOP: f64 = 24.0;

/// Everything about the picture that is decided before drawing.
pub(crate) struct Plan<'a> {
    time: TimeAxis<'a>,
    curves: &'a [IncidenceCurve],
    marks: &'a [(u32, String)],
    plot: Plot,
    axis: Axis,
    axis_labels: Vec<String>,
    curve_labels: Vec<Vec<String>>,
    room: Room,
}

/// Lays the picture out.
///
/// Errs when the last day is 0 or when a row of numbers at risk does not have one number a tick.
pub(crate) fn plan(figure: &Figure, room: Room) -> Result<Plan<'_>, String> {
    let Figure::CumulativeIncidence {
        until_days,
        ticks,
        tick_unit,
        curves,
        at_risk,
        marks,
        ..
    } = figure
    else {
        return Err("is not a cumulative incidence".to_owned());
    };
    let time = TimeAxis::new(*until_days, ticks, tick_unit, at_risk)?;
    let (axis, axis_labels) = scale(Unit::Share, highest(curves));
    let (label_width, height) = match room {
        Room::Wide => (150.0, 250.0),
        Room::Narrow => (88.0, 220.0),
    };
    let curve_labels: Vec<Vec<String>> = curves
        .iter()
        .map(|curve| letters::wrap(&curve.label, TEXT_SIZE, label_width, 4))
        .collect();
    let widest = curve_labels
        .iter()
        .flatten()
        .map(|line| letters::width(line, TEXT_SIZE))
        .fold(0.0, f64::max);
    let plot = Plot {
        left: label_room(&axis_labels),
        right: room.width() - widest - 18.0,
        top: PLOT_TOP,
        bottom: PLOT_TOP + height,
    };
    Ok(Plan {
        time,
        curves,
        marks,
        plot,
        axis,
        axis_labels,
        curve_labels,
        room,
    })
}

impl Plan<'_> {
    /// Height of the drawing in page units.
    pub(crate) fn height(&self) -> f64 {
        self.plot.bottom + self.time.height()
    }

    /// Draws the plan.
    pub(crate) fn draw(&self, canvas: &Canvas<'_>) -> Drawn {
        let plot = self.plot;
        let panel = canvas.panel_in(plot, 0.0..self.time.until, 0.0..self.axis.top);
        value_axis(canvas, &panel, plot, &self.axis, &self.axis_labels)?;
        self.draw_marks(canvas, &panel)?;
        for (place, curve) in self.curves.iter().enumerate() {
            draw_band(
                &panel,
                &self.time.steps(curve),
                self.time.end(curve),
                Ink::Band(Ink::series(place)),
            )?;
        }
        for (place, curve) in self.curves.iter().enumerate().rev() {
            self.time
                .draw_curve(&panel, curve, Ink::Series(Ink::series(place)))?;
        }
        self.draw_labels(canvas, &panel)?;
        self.time.draw(canvas, &panel, plot, self.room)
    }

    fn draw_labels(&self, canvas: &Canvas<'_>, panel: &Panel<'_>) -> Drawn {
        let ends: Vec<(f64, f64)> = self
            .curves
            .iter()
            .map(|curve| panel.place(self.time.end(curve), self.time.last_height(curve)))
            .collect();
        let wishes: Vec<Wish> = ends
            .iter()
            .zip(&self.curve_labels)
            .map(|((_, middle), lines)| Wish {
                middle: *middle,
                height: LINE_HEIGHT * lines.len() as f64 + 4.0,
            })
            .collect();
        let middles = spread(&wishes, self.plot.top - 8.0, self.plot.bottom + 12.0);
        let left = self.plot.right + 14.0;
        let parts = self
            .curves
            .iter()
            .zip(&self.curve_labels)
            .zip(ends.iter().zip(middles));
        for (place, ((curve, lines), (end, middle))) in parts.enumerate() {
            let ink = Ink::Label(Ink::series(place));
            let lettering = Lettering::quiet(TEXT_SIZE).ink(ink);
            let lettering = if curve.is_main {
                lettering.bold()
            } else {
                lettering
            };
            canvas.line(&[(end.0 + 2.0, end.1), (left - 3.0, middle)], Ink::Grid)?;
            block(canvas, lines, left, middle, lettering)?;
        }
        Ok(())
    }

    fn draw_marks(&self, canvas: &Canvas<'_>, panel: &Panel<'_>) -> Drawn {
        let lettering = Lettering::quiet(TEXT_SIZE).at(HPos::Center, VPos::Bottom);
        let mut free_from = f64::NEG_INFINITY;
        for (day, label) in self
            .marks
            .iter()
            .filter(|(day, _)| f64::from(*day) <= self.time.until)
        {
            let (across, _) = panel.place(f64::from(*day), 0.0);
            canvas.line(
                &[(across, self.plot.top - 4.0), (across, self.plot.bottom)],
                Ink::Mark,
            )?;
            let label = letters::clip(label, TEXT_SIZE, 90.0);
            let half = letters::width(&label, TEXT_SIZE) / 2.0;
            if across - half > free_from {
                canvas.text(&label, across, self.plot.top - 6.0, lettering)?;
                free_from = across + half + 4.0;
            }
        }
        Ok(())
    }
}
