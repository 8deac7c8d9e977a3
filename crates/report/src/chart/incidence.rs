//! Step curves that rise from 0, with their bands, direct labels and the numbers at risk under the ticks.

use super::axes::{Plot, block, label_room, value_axis};
use super::canvas::{Canvas, Drawn, Lettering, Panel};
use super::ink::Ink;
use super::letters;
use super::place::{Axis, Wish, label_every, share_axis, spread};
use super::{LINE_HEIGHT, Room, TEXT_SIZE, short_count};
use outcomes::report::{AtRiskRow, BandPoint, Figure, IncidenceCurve};
use plotters::style::text_anchor::{HPos, VPos};

const PLOT_TOP: f64 = 24.0;

/// Everything about the picture that is decided before drawing.
pub(crate) struct Plan<'a> {
    until: f64,
    ticks: &'a [u32],
    tick_unit: &'a str,
    curves: &'a [IncidenceCurve],
    at_risk: &'a [AtRiskRow],
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
    if *until_days == 0 {
        return Err("the last day shown is 0".to_owned());
    }
    if at_risk.iter().any(|row| row.counts.len() != ticks.len()) {
        return Err("numbers at risk and ticks differ in length".to_owned());
    }
    let axis = share_axis(highest(curves));
    let axis_labels: Vec<String> = axis.ticks.iter().map(|tick| axis_percent(*tick)).collect();
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
        until: f64::from(*until_days),
        ticks,
        tick_unit,
        curves,
        at_risk,
        marks,
        plot,
        axis,
        axis_labels,
        curve_labels,
        room,
    })
}

fn axis_percent(share: f64) -> String {
    let percent = (share * 1000.0).round() / 10.0;
    format!("{percent}%")
}

fn highest(curves: &[IncidenceCurve]) -> f64 {
    curves
        .iter()
        .flat_map(|curve| &curve.points)
        .flat_map(|point| [Some(point.estimate), point.upper])
        .flatten()
        .filter(|value| value.is_finite())
        .fold(0.0, f64::max)
}

/// The label of a tick in its unit: day 84 is week 12; a month is 30.4375 days, rounded.
fn tick_words(day: u32, tick_unit: &str) -> String {
    match tick_unit {
        "weeks" => (day / 7).to_string(),
        "months" => format!("{:.0}", f64::from(day) / 30.4375),
        _ => day.to_string(),
    }
}

/// Name of one tick for tables: `week 12`, `month 6`, `day 84`.
pub(crate) fn tick_name(day: u32, tick_unit: &str) -> String {
    let name = match tick_unit {
        "weeks" => "week",
        "months" => "month",
        _ => "day",
    };
    format!("{name} {}", tick_words(day, tick_unit))
}

impl Plan<'_> {
    /// Height of the drawing in page units.
    pub(crate) fn height(&self) -> f64 {
        let rows = self.at_risk.len() as f64;
        self.risk_top()
            + if rows > 0.0 {
                6.0 + rows * 2.0 * LINE_HEIGHT
            } else {
                0.0
            }
    }

    fn risk_top(&self) -> f64 {
        self.plot.bottom + 6.0 + 2.0 * LINE_HEIGHT + 6.0
    }

    /// Draws the plan.
    pub(crate) fn draw(&self, canvas: &Canvas<'_>) -> Drawn {
        let plot = self.plot;
        let panel = canvas.panel(
            0.0..self.until,
            0.0..self.axis.top,
            plot.left..plot.right,
            plot.top..plot.bottom,
        );
        value_axis(canvas, &panel, plot, &self.axis, &self.axis_labels)?;
        self.draw_marks(canvas, &panel)?;
        for (place, curve) in self.curves.iter().enumerate() {
            draw_band(
                &panel,
                &self.steps(curve),
                self.end(curve),
                Ink::Band(Ink::series(place)),
            )?;
        }
        for (place, curve) in self.curves.iter().enumerate().rev() {
            self.draw_curve(&panel, curve, Ink::Series(Ink::series(place)))?;
        }
        self.draw_labels(canvas, &panel)?;
        self.draw_ticks(canvas, &panel)
    }

    /// Steps inside the axis, in order, with finite numbers.
    fn steps(&self, curve: &IncidenceCurve) -> Vec<BandPoint> {
        let end = self.end(curve);
        let is_drawn =
            |point: &&BandPoint| point.estimate.is_finite() && point.day >= 0.0 && point.day <= end;
        curve.points.iter().filter(is_drawn).copied().collect()
    }

    fn end(&self, curve: &IncidenceCurve) -> f64 {
        if curve.until_day.is_finite() {
            curve.until_day.clamp(0.0, self.until)
        } else {
            self.until
        }
    }

    fn draw_curve(&self, panel: &Panel<'_>, curve: &IncidenceCurve, ink: Ink) -> Drawn {
        let mut points = vec![(0.0, 0.0)];
        let mut height = 0.0;
        for step in self.steps(curve) {
            points.push((step.day, height));
            height = step.estimate;
            points.push((step.day, height));
        }
        points.push((self.end(curve), height));
        panel.line(points, ink)
    }

    fn draw_labels(&self, canvas: &Canvas<'_>, panel: &Panel<'_>) -> Drawn {
        let ends: Vec<(f64, f64)> = self
            .curves
            .iter()
            .map(|curve| {
                let height = self.steps(curve).last().map_or(0.0, |step| step.estimate);
                panel.place(self.end(curve), height)
            })
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
            .filter(|(day, _)| f64::from(*day) <= self.until)
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

    fn draw_ticks(&self, canvas: &Canvas<'_>, panel: &Panel<'_>) -> Drawn {
        let shown: Vec<(usize, f64)> = self
            .ticks
            .iter()
            .enumerate()
            .filter(|(_, day)| f64::from(**day) <= self.until)
            .map(|(place, day)| (place, panel.place(f64::from(*day), 0.0).0))
            .collect();
        let every = label_every(self.widest_under_a_tick() + 6.0, narrowest_gap(&shown));
        let base = self.plot.bottom;
        let lettering = Lettering::quiet(TEXT_SIZE);
        for (place, across) in &shown {
            canvas.line(&[(*across, base), (*across, base + 4.0)], Ink::Axis)?;
            if let Some(day) = self
                .ticks
                .get(*place)
                .filter(|_| place.is_multiple_of(every))
            {
                canvas.text(
                    &tick_words(*day, self.tick_unit),
                    *across,
                    base + 6.0,
                    lettering,
                )?;
            }
        }
        let middle = (self.plot.left + self.plot.right) / 2.0;
        canvas.text(
            &self.axis_title(),
            middle,
            base + 6.0 + LINE_HEIGHT,
            lettering,
        )?;
        let heading = lettering.at(HPos::Left, VPos::Top);
        for (place, row) in self.at_risk.iter().enumerate() {
            let top = self.risk_top() + 6.0 + 2.0 * LINE_HEIGHT * place as f64;
            let words = letters::clip(&row.label, TEXT_SIZE, self.room.width());
            canvas.text(&words, 0.0, top, heading)?;
            for (tick, across) in shown.iter().filter(|(tick, _)| tick.is_multiple_of(every)) {
                if let Some(n) = row.counts.get(*tick) {
                    let words = short_count(*n);
                    canvas.text(&words, *across, top + LINE_HEIGHT, lettering.ink(Ink::Text))?;
                }
            }
        }
        Ok(())
    }

    fn axis_title(&self) -> String {
        let mut title = self.tick_unit.to_owned();
        if let Some(first) = title.get_mut(0..1) {
            first.make_ascii_uppercase();
        }
        letters::clip(&title, TEXT_SIZE, self.plot.width())
    }

    fn widest_under_a_tick(&self) -> f64 {
        let numbers = self
            .at_risk
            .iter()
            .flat_map(|row| &row.counts)
            .map(|n| short_count(*n));
        let ticks = self
            .ticks
            .iter()
            .map(|day| tick_words(*day, self.tick_unit));
        numbers
            .chain(ticks)
            .map(|words| letters::width(&words, TEXT_SIZE))
            .fold(0.0, f64::max)
    }
}

fn narrowest_gap(ticks: &[(usize, f64)]) -> f64 {
    ticks
        .windows(2)
        .filter_map(|pair| match pair {
            [(_, before), (_, after)] => Some(after - before),
            _ => None,
        })
        .fold(f64::INFINITY, f64::min)
}

/// The area between the limits, in one piece for every run of steps that has both.
fn draw_band(panel: &Panel<'_>, steps: &[BandPoint], end: f64, ink: Ink) -> Drawn {
    let mut upper = Vec::new();
    let mut lower = Vec::new();
    let nexts = steps.iter().skip(1).map(|step| step.day).chain([end]);
    for (step, next) in steps.iter().zip(nexts) {
        let limits = step
            .lower
            .zip(step.upper)
            .filter(|(l, u)| l.is_finite() && u.is_finite());
        match limits {
            Some((low, high)) => {
                upper.extend([(step.day, high), (next, high)]);
                lower.extend([(step.day, low), (next, low)]);
            }
            None => close_band(panel, &mut upper, &mut lower, ink)?,
        }
    }
    close_band(panel, &mut upper, &mut lower, ink)
}

fn close_band(
    panel: &Panel<'_>,
    upper: &mut Vec<(f64, f64)>,
    lower: &mut Vec<(f64, f64)>,
    ink: Ink,
) -> Drawn {
    let mut corners = std::mem::take(upper);
    corners.extend(std::mem::take(lower).into_iter().rev());
    if corners.is_empty() {
        Ok(())
    } else {
        panel.fill(corners, ink)
    }
}
