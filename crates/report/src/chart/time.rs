//! The time axis of a chart that follows people from a first day, the numbers at risk under it, and step curves on it.

use super::axes::Plot;
use super::canvas::{Canvas, Drawn, Lettering, Panel};
use super::ink::Ink;
use super::letters;
use super::place::label_every;
use super::{LINE_HEIGHT, Room, TEXT_SIZE, short_count};
use outcomes::report::{AtRiskRow, BandPoint, IncidenceCurve};
use plotters::style::text_anchor::{HPos, VPos};

/// The label of a tick in its unit: day 84 is week 12; a month is 30.4375 days, rounded.
pub(crate) fn tick_words(day: u32, tick_unit: &str) -> String {
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

/// Days from the first to the last one shown, with their ticks and what stands under them.
#[derive(Debug, Clone, Copy)]
pub(crate) struct TimeAxis<'a> {
    pub(crate) until: f64,
    pub(crate) ticks: &'a [u32],
    pub(crate) tick_unit: &'a str,
    pub(crate) at_risk: &'a [AtRiskRow],
}

impl<'a> TimeAxis<'a> {
    /// Errs when the last day is 0 or when a row of numbers at risk does not have one number a tick.
    pub(crate) fn new(
        until_days: u32,
        ticks: &'a [u32],
        tick_unit: &'a str,
        at_risk: &'a [AtRiskRow],
    ) -> Result<Self, String> {
        if until_days == 0 {
            return Err("the last day shown is 0".to_owned());
        }
        if at_risk.iter().any(|row| row.counts.len() != ticks.len()) {
            return Err("numbers at risk and ticks differ in length".to_owned());
        }
        Ok(Self {
            until: f64::from(until_days),
            ticks,
            tick_unit,
            at_risk,
        })
    }

    /// Room under the plot.
    pub(crate) fn height(&self) -> f64 {
        let rows = self.at_risk.len() as f64;
        let under = 6.0 + 2.0 * LINE_HEIGHT + 6.0;
        if rows > 0.0 {
            under + 6.0 + rows * 2.0 * LINE_HEIGHT
        } else {
            under
        }
    }

    /// Ticks with their labels, the name of the unit, and numbers at risk under the labelled ticks.
    pub(crate) fn draw(
        &self,
        canvas: &Canvas<'_>,
        panel: &Panel<'_>,
        plot: Plot,
        room: Room,
    ) -> Drawn {
        let shown: Vec<(usize, f64)> = self
            .ticks
            .iter()
            .enumerate()
            .filter(|(_, day)| f64::from(**day) <= self.until)
            .map(|(place, day)| (place, panel.place(f64::from(*day), 0.0).0))
            .collect();
        let every = label_every(self.widest_under_a_tick() + 6.0, narrowest_gap(&shown));
        let base = plot.bottom;
        let lettering = Lettering::quiet(TEXT_SIZE);
        for (place, across) in &shown {
            canvas.line(&[(*across, base), (*across, base + 4.0)], Ink::Axis)?;
            if let Some(day) = self
                .ticks
                .get(*place)
                .filter(|_| place.is_multiple_of(every))
            {
                let words = tick_words(*day, self.tick_unit);
                canvas.text(&words, *across, base + 6.0, lettering)?;
            }
        }
        let middle = (plot.left + plot.right) / 2.0;
        let title = letters::clip(&self.title(), TEXT_SIZE, plot.width());
        canvas.text(&title, middle, base + 6.0 + LINE_HEIGHT, lettering)?;
        let heading = lettering.at(HPos::Left, VPos::Top);
        let risk_top = base + 6.0 + 2.0 * LINE_HEIGHT + 6.0;
        for (place, row) in self.at_risk.iter().enumerate() {
            let top = risk_top + 6.0 + 2.0 * LINE_HEIGHT * place as f64;
            let words = letters::clip(&row.label, TEXT_SIZE, room.width());
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

    fn title(&self) -> String {
        let mut title = self.tick_unit.to_owned();
        if let Some(first) = title.get_mut(0..1) {
            first.make_ascii_uppercase();
        }
        title
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

    /// Last day on which a curve is drawn.
    pub(crate) fn end(&self, curve: &IncidenceCurve) -> f64 {
        if curve.until_day.is_finite() {
            curve.until_day.clamp(0.0, self.until)
        } else {
            self.until
        }
    }

    /// Steps inside the axis, in order, with finite numbers.
    pub(crate) fn steps(&self, curve: &IncidenceCurve) -> Vec<BandPoint> {
        let end = self.end(curve);
        let is_drawn =
            |point: &&BandPoint| point.estimate.is_finite() && point.day >= 0.0 && point.day <= end;
        curve.points.iter().filter(is_drawn).copied().collect()
    }

    /// A curve as a line in steps from 0 on day 0 to its last day.
    pub(crate) fn draw_curve(&self, panel: &Panel<'_>, curve: &IncidenceCurve, ink: Ink) -> Drawn {
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

    /// The last height of a curve.
    pub(crate) fn last_height(&self, curve: &IncidenceCurve) -> f64 {
        self.steps(curve).last().map_or(0.0, |step| step.estimate)
    }
}

/// The highest number that curves have to show.
pub(crate) fn highest<'a>(curves: impl IntoIterator<Item = &'a IncidenceCurve>) -> f64 {
    curves
        .into_iter()
        .flat_map(|curve| &curve.points)
        .flat_map(|point| [Some(point.estimate), point.upper])
        .flatten()
        .filter(|value| value.is_finite())
        .fold(0.0, f64::max)
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
pub(crate) fn draw_band(panel: &Panel<'_>, steps: &[BandPoint], end: f64, ink: Ink) -> Drawn {
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
