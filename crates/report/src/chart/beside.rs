//! The curve from dated visits beside the one that knows only the span between visits; a box where the day is not known.

use super::axes::{Plot, block, label_room, scale, value_axis};
use super::canvas::{Canvas, Drawn, Lettering, Panel};
use super::ink::Ink;
use super::letters;
use super::place::{Axis, Wish, spread};
use super::time::{TimeAxis, draw_band, highest};
use super::{LINE_HEIGHT, Room, TEXT_SIZE};
use outcomes::report::{IntervalBeside, IntervalMass, Unit};

const PLOT_TOP: f64 = 14.0;

/// Everything about the picture that is decided before drawing.
pub(crate) struct Plan<'a> {
    chart: &'a IntervalBeside,
    time: TimeAxis<'a>,
    plot: Plot,
    axis: Axis,
    axis_labels: Vec<String>,
    labels: [Vec<String>; 2],
    room: Room,
}

/// A span of days in which the curve rises from one height to another, nobody knows when.
struct Rise {
    after: f64,
    by: f64,
    from: f64,
    to: f64,
}

/// The rises of the spans, in time order; spans without a finite end or probability are no rise.
fn rises(masses: &[IntervalMass]) -> Vec<Rise> {
    let mut height = 0.0;
    let mut rises = Vec::new();
    for mass in masses {
        let Some(by) = mass.by_day.filter(|by| by.is_finite()) else {
            continue;
        };
        if !mass.after_day.is_finite() || !mass.probability.is_finite() || by < mass.after_day {
            continue;
        }
        let from = height;
        height += mass.probability;
        rises.push(Rise {
            after: mass.after_day.max(0.0),
            by,
            from,
            to: height,
        });
    }
    rises
}

/// Lays the picture out. Errs as a time axis does.
pub(crate) fn plan(chart: &IntervalBeside, room: Room) -> Result<Plan<'_>, String> {
    let time = TimeAxis::new(chart.until_days, &chart.ticks, &chart.tick_unit, &[])?;
    let risen = rises(&chart.masses)
        .into_iter()
        .filter(|rise| rise.after < time.until);
    let top = risen
        .map(|rise| rise.to)
        .fold(highest([&chart.conventional]), f64::max);
    let (axis, axis_labels) = scale(Unit::Share, top);
    let (label_width, height) = match room {
        Room::Wide => (150.0, 250.0),
        Room::Narrow => (88.0, 220.0),
    };
    let labels = [&chart.interval_label, &chart.conventional.label]
        .map(|label| letters::wrap(label, TEXT_SIZE, label_width, 4));
    let widest = labels
        .iter()
        .flatten()
        .map(|line| letters::width(line, TEXT_SIZE))
        .fold(0.0, f64::max);
    Ok(Plan {
        chart,
        time,
        plot: Plot {
            left: label_room(&axis_labels),
            right: room.width() - widest - 18.0,
            top: PLOT_TOP,
            bottom: PLOT_TOP + height,
        },
        axis,
        axis_labels,
        labels,
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
        let dated = &self.chart.conventional;
        let end = self.time.end(dated);
        draw_band(&panel, &self.time.steps(dated), end, Ink::Band(1))?;
        let height = self.draw_spans(&panel)?;
        self.time.draw_curve(&panel, dated, Ink::Series(1))?;
        let ends = [
            panel.place(self.time.until, height),
            panel.place(end, self.time.last_height(dated)),
        ];
        self.draw_labels(canvas, ends)?;
        self.time.draw(canvas, &panel, plot, self.room)
    }

    /// Boxes over the spans, lines between them; the last height inside the axis.
    fn draw_spans(&self, panel: &Panel<'_>) -> Result<f64, super::canvas::DrawnFault> {
        let until = self.time.until;
        let (mut day, mut height) = (0.0_f64, 0.0);
        for rise in rises(&self.chart.masses) {
            if rise.after >= until {
                break;
            }
            panel.line(
                vec![(day.min(rise.after), height), (rise.after, height)],
                Ink::Series(0),
            )?;
            let by = rise.by.min(until);
            panel.block([(rise.after, rise.from), (by, rise.to)], Ink::Band(0))?;
            panel.line(vec![(rise.after, rise.from), (by, rise.from)], Ink::Edge)?;
            panel.line(vec![(rise.after, rise.to), (by, rise.to)], Ink::Edge)?;
            (day, height) = (by, rise.to);
        }
        panel.line(vec![(day, height), (until, height)], Ink::Series(0))?;
        Ok(height)
    }

    fn draw_labels(&self, canvas: &Canvas<'_>, ends: [(f64, f64); 2]) -> Drawn {
        let wishes: Vec<Wish> = ends
            .iter()
            .zip(&self.labels)
            .map(|((_, middle), lines)| Wish {
                middle: *middle,
                height: LINE_HEIGHT * lines.len() as f64 + 4.0,
            })
            .collect();
        let middles = spread(&wishes, self.plot.top - 8.0, self.plot.bottom + 12.0);
        let left = self.plot.right + 14.0;
        let parts = self.labels.iter().zip(ends).zip(middles);
        for (series, ((lines, end), middle)) in (0_u8..).zip(parts) {
            canvas.line(&[(end.0 + 2.0, end.1), (left - 3.0, middle)], Ink::Grid)?;
            let lettering = Lettering::quiet(TEXT_SIZE).ink(Ink::Label(series));
            block(canvas, lines, left, middle, lettering)?;
        }
        Ok(())
    }
}
