//! The area of each ulcer over time as a faint line, and a summary of them all.

use super::axes::{Plot, block, label_room, tick_words, value_axis};
use super::canvas::{Canvas, Drawn, Lettering};
use super::ink::Ink;
use super::letters;
use super::place::Axis;
use super::time::TimeAxis;
use super::{LINE_HEIGHT, Room, TEXT_SIZE};
use outcomes::report::{BandPoint, Trajectories, Unit};
use plotters::style::text_anchor::{HPos, VPos};

/// Largest area drawn, as a share of the first; a line that goes beyond leaves the picture at its top.
const LARGEST: f64 = 2.0;
const PLOT_TOP: f64 = 22.0;

/// Everything about the picture that is decided before drawing.
pub(crate) struct Plan<'a> {
    chart: &'a Trajectories,
    time: TimeAxis<'a>,
    plot: Plot,
    axis: Axis,
    axis_labels: Vec<String>,
    label: Vec<String>,
    room: Room,
}

/// Lays the picture out. Errs as a time axis does.
pub(crate) fn plan(chart: &Trajectories, room: Room) -> Result<Plan<'_>, String> {
    let time = TimeAxis::new(chart.until_days, &chart.ticks, &chart.tick_unit, &[])?;
    let axis = Axis {
        top: LARGEST,
        ticks: vec![0.0, 0.5, 1.0, 1.5, LARGEST],
    };
    let axis_labels: Vec<String> = axis
        .ticks
        .iter()
        .map(|tick| tick_words(*tick, Unit::Share))
        .collect();
    let (label_width, height) = match room {
        Room::Wide => (130.0, 260.0),
        Room::Narrow => (80.0, 230.0),
    };
    let label = letters::wrap(&chart.summary_label, TEXT_SIZE, label_width, 4);
    let widest = label
        .iter()
        .map(|line| letters::width(line, TEXT_SIZE))
        .fold(0.0, f64::max);
    Ok(Plan {
        chart,
        time,
        plot: Plot {
            left: label_room(&axis_labels),
            right: room.width() - widest - 14.0,
            top: PLOT_TOP,
            bottom: PLOT_TOP + height,
        },
        axis,
        axis_labels,
        label,
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
        let panel = canvas.panel_in(plot, 0.0..self.time.until, 0.0..LARGEST);
        let heading = Lettering::quiet(TEXT_SIZE).at(HPos::Left, VPos::Bottom);
        canvas.text("share of the first area", 0.0, plot.top - 8.0, heading)?;
        value_axis(canvas, &panel, plot, &self.axis, &self.axis_labels)?;
        for line in &self.chart.lines {
            let points = line.points.iter();
            let points = points
                .filter(|point| point.share_of_first.is_finite())
                .filter(|point| (0.0..=self.time.until).contains(&point.day))
                .map(|point| (point.day, point.share_of_first.clamp(0.0, LARGEST)));
            let points: Vec<(f64, f64)> = points.collect();
            if points.len() > 1 {
                panel.line(points, Ink::Faint)?;
            }
        }
        let summary = self.summary();
        let limits = summary.iter().filter_map(|point| {
            let (lower, upper) = point.lower.zip(point.upper)?;
            Some((point.day, lower, upper))
        });
        let limits: Vec<(f64, f64, f64)> = limits.collect();
        if limits.len() > 1 {
            let uppers = limits.iter().map(|(day, _, upper)| (*day, *upper));
            let lowers = limits.iter().rev().map(|(day, lower, _)| (*day, *lower));
            panel.fill(uppers.chain(lowers).collect(), Ink::Band(0))?;
        }
        let line: Vec<(f64, f64)> = summary
            .iter()
            .map(|point| (point.day, point.estimate))
            .collect();
        let height = line.last().map_or(0.0, |(_, height)| *height);
        if line.len() > 1 {
            panel.line(line, Ink::Series(0))?;
            let half = LINE_HEIGHT * self.label.len() as f64 / 2.0;
            let middle = panel.place(0.0, height).1.min(plot.bottom + 8.0 - half);
            let lettering = Lettering::quiet(TEXT_SIZE).ink(Ink::Label(0)).bold();
            block(canvas, &self.label, plot.right + 10.0, middle, lettering)?;
        }
        self.time.draw(canvas, &panel, plot, self.room)
    }

    /// Points of the summary inside the axis.
    fn summary(&self) -> Vec<BandPoint> {
        let inside = |value: f64| value.clamp(0.0, LARGEST);
        self.chart
            .summary
            .iter()
            .filter(|point| point.estimate.is_finite())
            .filter(|point| (0.0..=self.time.until).contains(&point.day))
            .map(|point| BandPoint {
                day: point.day,
                estimate: inside(point.estimate),
                lower: point.lower.map(inside),
                upper: point.upper.filter(|upper| upper.is_finite()).map(inside),
            })
            .collect()
    }
}
