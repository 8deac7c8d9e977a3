//! One small chart a stratum, all on the same scales, under one key.

use super::axes::{Plot, label_room, scale, value_axis};
use super::canvas::{Canvas, Drawn, Lettering};
use super::ink::Ink;
use super::letters;
use super::place::Axis;
use super::time::{TimeAxis, draw_band, highest, tick_words};
use super::{LINE_HEIGHT, Room, TEXT_SIZE, short_count};
use crate::wording;
use outcomes::report::{SmallMultiples, SmallPanel, Unit};
use plotters::style::text_anchor::{HPos, VPos};

const PLOT_HEIGHT: f64 = 110.0;
const GAP: f64 = 20.0;
const AT_RISK: &str = "at risk";
/// Length of a line in the key.
const SAMPLE: f64 = 22.0;

/// Everything about the picture that is decided before drawing.
pub(crate) struct Plan<'a> {
    chart: &'a SmallMultiples,
    time: TimeAxis<'a>,
    axis: Axis,
    axis_labels: Vec<String>,
    n_across: usize,
    left: f64,
    width: f64,
    top: f64,
}

/// Lays the picture out. Errs as a time axis does, and when a panel does not have one number at risk a tick.
pub(crate) fn plan(chart: &SmallMultiples, room: Room) -> Result<Plan<'_>, String> {
    let time = TimeAxis::new(chart.until_days, &chart.ticks, &chart.tick_unit, &[])?;
    let n_ticks = chart.ticks.len();
    if chart
        .panels
        .iter()
        .any(|panel| panel.at_risk.len() != n_ticks)
    {
        return Err("numbers at risk and ticks differ in length".to_owned());
    }
    let curves = chart.panels.iter().flat_map(|panel| &panel.curves);
    let (axis, axis_labels) = scale(Unit::Share, highest(curves));
    let n_across = match room {
        Room::Wide => chart.panels.len().clamp(1, 3),
        Room::Narrow => chart.panels.len().clamp(1, 2),
    };
    let left = label_room(&axis_labels).max(letters::width(AT_RISK, TEXT_SIZE) + 14.0);
    let gaps = GAP * (n_across - 1) as f64;
    let width = (room.width() - left - gaps - 4.0) / n_across as f64;
    let n_names = chart.panels.iter().map(|panel| panel.curves.len()).max();
    Ok(Plan {
        chart,
        time,
        axis,
        axis_labels,
        n_across,
        left,
        width,
        top: LINE_HEIGHT * n_names.unwrap_or_default() as f64 + 6.0,
    })
}

impl Plan<'_> {
    fn row_height() -> f64 {
        2.0 * LINE_HEIGHT + PLOT_HEIGHT + 3.0 * LINE_HEIGHT + 18.0
    }

    /// Height of the drawing in page units.
    pub(crate) fn height(&self) -> f64 {
        let n_rows = self.chart.panels.len().div_ceil(self.n_across);
        self.top + Self::row_height() * n_rows as f64
    }

    /// Draws the plan.
    pub(crate) fn draw(&self, canvas: &Canvas<'_>) -> Drawn {
        self.draw_key(canvas)?;
        for (place, panel) in self.chart.panels.iter().enumerate() {
            let (row, column) = (place / self.n_across, place % self.n_across);
            let left = self.left + (self.width + GAP) * column as f64;
            let top = self.top + Self::row_height() * row as f64 + 2.0 * LINE_HEIGHT;
            let plot = Plot {
                left,
                right: left + self.width,
                top,
                bottom: top + PLOT_HEIGHT,
            };
            self.draw_panel(canvas, panel, plot, column == 0)?;
        }
        Ok(())
    }

    fn draw_key(&self, canvas: &Canvas<'_>) -> Drawn {
        let fullest = self
            .chart
            .panels
            .iter()
            .max_by_key(|panel| panel.curves.len());
        let curves = fullest.into_iter().flat_map(|panel| &panel.curves);
        for (place, curve) in curves.enumerate() {
            let middle = LINE_HEIGHT * (place as f64 + 0.5);
            let series = Ink::series(place);
            canvas.line(&[(0.0, middle), (SAMPLE, middle)], Ink::Series(series))?;
            let words = letters::clip(&curve.label, TEXT_SIZE, 280.0);
            let lettering = Lettering::quiet(TEXT_SIZE)
                .ink(Ink::Label(series))
                .at(HPos::Left, VPos::Center);
            canvas.text(&words, SAMPLE + 6.0, middle, lettering)?;
        }
        Ok(())
    }

    fn draw_panel(
        &self,
        canvas: &Canvas<'_>,
        panel: &SmallPanel,
        plot: Plot,
        is_first: bool,
    ) -> Drawn {
        let area = canvas.panel_in(plot, 0.0..self.time.until, 0.0..self.axis.top);
        let no_labels = vec![String::new(); self.axis_labels.len()];
        let labels = if is_first {
            &self.axis_labels
        } else {
            &no_labels
        };
        value_axis(canvas, &area, plot, &self.axis, labels)?;
        let lettering = Lettering::quiet(TEXT_SIZE).at(HPos::Left, VPos::Bottom);
        let title = letters::clip(&panel.label, TEXT_SIZE, plot.width());
        let bold = lettering.ink(Ink::Text).bold();
        canvas.text(&title, plot.left, plot.top - LINE_HEIGHT - 2.0, bold)?;
        let n = format!("n = {}", short_count(panel.n));
        canvas.text(&n, plot.left, plot.top - 3.0, lettering)?;
        if let Some(absent) = &panel.absent {
            let words = letters::clip(absent, TEXT_SIZE, plot.width());
            let middle = (plot.left + plot.right) / 2.0;
            let centred = Lettering::quiet(TEXT_SIZE).at(HPos::Center, VPos::Center);
            return canvas.text(&words, middle, (plot.top + plot.bottom) / 2.0, centred);
        }
        for (place, curve) in panel.curves.iter().enumerate() {
            let ink = Ink::Band(Ink::series(place));
            draw_band(&area, &self.time.steps(curve), self.time.end(curve), ink)?;
        }
        for (place, curve) in panel.curves.iter().enumerate().rev() {
            let ink = Ink::Series(Ink::series(place));
            self.time.draw_curve(&area, curve, ink)?;
        }
        for curve in panel.curves.iter().filter(|curve| curve.is_main) {
            let height = self.time.last_height(curve);
            let (x, y) = area.place(self.time.end(curve), height);
            let words = wording::percent(height);
            let at = lettering
                .ink(Ink::Text)
                .bold()
                .at(HPos::Right, VPos::Bottom);
            canvas.text(&words, x, y - 3.0, at)?;
        }
        self.draw_ticks(canvas, panel, plot, is_first)
    }

    /// First, middle and last tick, and the numbers at risk there.
    fn draw_ticks(
        &self,
        canvas: &Canvas<'_>,
        panel: &SmallPanel,
        plot: Plot,
        is_first: bool,
    ) -> Drawn {
        let lettering = Lettering::quiet(TEXT_SIZE);
        let base = plot.bottom;
        let last = self.chart.ticks.len().saturating_sub(1);
        let mut places = vec![0, last / 2, last];
        places.dedup();
        for place in places {
            // The ends keep inside the panel, away from those of its neighbour.
            let anchor = match place {
                0 => HPos::Left,
                _ if place == last => HPos::Right,
                _ => HPos::Center,
            };
            let lettering = lettering.at(anchor, VPos::Top);
            let Some(day) = self.chart.ticks.get(place) else {
                continue;
            };
            let share = f64::from(*day) / self.time.until;
            if share > 1.0 {
                continue;
            }
            let middle = plot.left + plot.width() * share;
            canvas.line(&[(middle, base), (middle, base + 4.0)], Ink::Axis)?;
            let words = tick_words(*day, self.time.tick_unit);
            canvas.text(&words, middle, base + 6.0, lettering)?;
            if let Some(n) = panel.at_risk.get(place) {
                let top = base + 6.0 + 2.0 * LINE_HEIGHT;
                canvas.text(&short_count(*n), middle, top, lettering.ink(Ink::Text))?;
            }
        }
        let middle = (plot.left + plot.right) / 2.0;
        let unit = letters::clip(self.time.tick_unit, TEXT_SIZE, plot.width());
        canvas.text(&unit, middle, base + 6.0 + LINE_HEIGHT, lettering)?;
        if is_first {
            let top = base + 6.0 + 2.0 * LINE_HEIGHT;
            let heading = lettering.at(HPos::Left, VPos::Top);
            canvas.text(AT_RISK, 0.0, top, heading)?;
        }
        Ok(())
    }
}
