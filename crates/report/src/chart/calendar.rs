//! Who was followed when: calendar time across, time since the start upwards, a line each, a mark for how it ended.

use super::axes::{Plot, label_room};
use super::canvas::{Canvas, Drawn, Lettering, Panel};
use super::ink::Ink;
use super::letters;
use super::{LINE_HEIGHT, Room, TEXT_SIZE};
use chrono::{Datelike, NaiveDate};
use outcomes::report::FollowUpCalendar;
use plotters::style::text_anchor::{HPos, VPos};

const PLOT_HEIGHT: f64 = 250.0;
/// Most ticks on the axis of days.
const MOST_TICKS: u32 = 6;
/// Marks that can be told apart; further endings repeat the last.
const N_MARKS: usize = 6;

/// Everything about the picture that is decided before drawing.
pub(crate) struct Plan<'a> {
    chart: &'a FollowUpCalendar,
    plot: Plot,
    days: Vec<u32>,
    n_days: f64,
    key_rows: Vec<Vec<usize>>,
}

/// Lays the picture out. Errs when the calendar or the follow-up has no length, or an ending is not named.
pub(crate) fn plan(chart: &FollowUpCalendar, room: Room) -> Result<Plan<'_>, String> {
    let n_days = (chart.to - chart.from).num_days();
    if n_days <= 0 || chart.until_days == 0 {
        return Err("the calendar has no length".to_owned());
    }
    if chart
        .spans
        .iter()
        .any(|span| span.ending >= chart.endings.len())
    {
        return Err("an ending is not named".to_owned());
    }
    let weeks = [28, 56, 84, 182, 364, 728]
        .into_iter()
        .find(|step| chart.until_days / step <= MOST_TICKS)
        .unwrap_or(chart.until_days);
    let days: Vec<u32> = (0..=chart.until_days).step_by(weeks as usize).collect();
    let labels: Vec<String> = days.iter().map(|day| (day / 7).to_string()).collect();
    let key_rows = key_rows(&chart.endings, room.width());
    let top = LINE_HEIGHT * (key_rows.len() as f64 + 1.0) + 12.0;
    Ok(Plan {
        chart,
        plot: Plot {
            left: label_room(&labels),
            right: room.width() - 8.0,
            top,
            bottom: top + PLOT_HEIGHT,
        },
        days,
        n_days: n_days as f64,
        key_rows,
    })
}

/// Endings of the key, as many in a row as there is room for.
fn key_rows(endings: &[String], width: f64) -> Vec<Vec<usize>> {
    let mut rows: Vec<Vec<usize>> = Vec::new();
    let mut left = f64::INFINITY;
    for (place, ending) in endings.iter().enumerate() {
        let room = key_width(ending);
        if left + room > width {
            rows.push(Vec::new());
            left = 0.0;
        }
        if let Some(row) = rows.last_mut() {
            row.push(place);
        }
        left += room;
    }
    rows
}

fn key_words(ending: &str) -> String {
    letters::clip(ending, TEXT_SIZE, 150.0)
}

fn key_width(ending: &str) -> f64 {
    14.0 + letters::width(&key_words(ending), TEXT_SIZE) + 16.0
}

impl Plan<'_> {
    /// Height of the drawing in page units.
    pub(crate) fn height(&self) -> f64 {
        self.plot.bottom + 6.0 + 2.0 * LINE_HEIGHT + 2.0
    }

    /// Draws the plan.
    pub(crate) fn draw(&self, canvas: &Canvas<'_>) -> Drawn {
        let plot = self.plot;
        let panel = canvas.panel_in(
            plot,
            0.0..self.n_days,
            0.0..f64::from(self.chart.until_days),
        );
        self.draw_key(canvas)?;
        self.draw_axes(canvas, &panel)?;
        for span in &self.chart.spans {
            let start = (span.start - self.chart.from).num_days() as f64;
            let days = f64::from(span.days.min(self.chart.until_days));
            // Only the part inside the calendar is drawn.
            let first = (-start).clamp(0.0, days);
            let last = days.min(self.n_days - start);
            if last < first {
                continue;
            }
            let ends = vec![(start + first, first), (start + last, last)];
            panel.line(ends, Ink::Faint)?;
            // A line that leaves the picture has its end elsewhere.
            if span.days <= self.chart.until_days {
                let (x, y) = panel.place(start + last, last);
                mark(canvas, span.ending, x, y)?;
            }
        }
        Ok(())
    }

    fn draw_key(&self, canvas: &Canvas<'_>) -> Drawn {
        let lettering = Lettering::quiet(TEXT_SIZE)
            .ink(Ink::Text)
            .at(HPos::Left, VPos::Center);
        for (row, endings) in self.key_rows.iter().enumerate() {
            let middle = LINE_HEIGHT * (row as f64 + 0.5);
            let mut left = 0.0;
            for place in endings {
                let Some(ending) = self.chart.endings.get(*place) else {
                    continue;
                };
                mark(canvas, *place, left + 5.0, middle)?;
                canvas.text(&key_words(ending), left + 14.0, middle, lettering)?;
                left += key_width(ending);
            }
        }
        Ok(())
    }

    fn draw_axes(&self, canvas: &Canvas<'_>, panel: &Panel<'_>) -> Drawn {
        let plot = self.plot;
        let lettering = Lettering::quiet(TEXT_SIZE);
        let heading = lettering.at(HPos::Left, VPos::Bottom);
        canvas.text("weeks since the first visit", 0.0, plot.top - 8.0, heading)?;
        for day in &self.days {
            let (_, height) = panel.place(0.0, f64::from(*day));
            let ink = if *day == 0 { Ink::Axis } else { Ink::Grid };
            canvas.line(&[(plot.left, height), (plot.right, height)], ink)?;
            let words = (day / 7).to_string();
            let at = lettering.at(HPos::Right, VPos::Center);
            canvas.text(&words, plot.left - 7.0, height, at)?;
        }
        let first = self.chart.from.year();
        let new_years = (first..=self.chart.to.year() + 1)
            .filter_map(|year| NaiveDate::from_ymd_opt(year, 1, 1))
            .filter(|day| (self.chart.from..=self.chart.to).contains(day));
        let mut free_from = f64::NEG_INFINITY;
        for day in new_years {
            let across = (day - self.chart.from).num_days() as f64;
            let (x, _) = panel.place(across, 0.0);
            canvas.line(&[(x, plot.bottom), (x, plot.bottom + 5.0)], Ink::Axis)?;
            if x > free_from && x + 34.0 < plot.right {
                let words = day.year().to_string();
                canvas.text(
                    &words,
                    x + 3.0,
                    plot.bottom + 6.0,
                    lettering.at(HPos::Left, VPos::Top),
                )?;
                free_from = x + 40.0;
            }
        }
        canvas.line(
            &[(plot.right, plot.top), (plot.right, plot.bottom)],
            Ink::Mark,
        )?;
        let cut_off = lettering.at(HPos::Right, VPos::Top);
        canvas.text(
            "cut-off",
            plot.right,
            plot.bottom + 6.0 + LINE_HEIGHT,
            cut_off,
        )
    }
}

/// A mark of its own for each ending: dot, diamond, cross, bar, ring, corner.
fn mark(canvas: &Canvas<'_>, ending: usize, x: f64, y: f64) -> Drawn {
    let size = 3.2;
    match ending.min(N_MARKS - 1) {
        0 => canvas.dot(x, y, 2.6, Ink::Series(0)),
        1 => canvas.line(
            &[
                (x, y - size),
                (x + size, y),
                (x, y + size),
                (x - size, y),
                (x, y - size),
            ],
            Ink::Thin(1),
        ),
        2 => {
            canvas.line(&[(x - size, y - size), (x + size, y + size)], Ink::Thin(2))?;
            canvas.line(&[(x - size, y + size), (x + size, y - size)], Ink::Thin(2))
        }
        3 => canvas.line(&[(x, y - size), (x, y + size)], Ink::Thin(3)),
        4 => canvas.dot(x, y, 2.6, Ink::Ring),
        _ => canvas.line(
            &[
                (x - size, y + size),
                (x + size, y + size),
                (x + size, y - size),
            ],
            Ink::Thin(1),
        ),
    }
}
