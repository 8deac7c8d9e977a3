//! Steps of a pathway: for each day a bar as long as the share that has reached the step, its interval, and the median.

use super::canvas::{Canvas, Drawn, Lettering};
use super::ink::Ink;
use super::letters;
use super::{LINE_HEIGHT, Room, TEXT_SIZE};
use crate::wording;
use outcomes::report::{Pathway, PathwayStep, Unit, Value};
use plotters::style::text_anchor::{HPos, VPos};

const BAR_HEIGHT: f64 = 11.0;
const HEAD_HEIGHT: f64 = 2.0 * LINE_HEIGHT + 4.0;

/// Everything about the picture that is decided before drawing.
pub(crate) struct Plan<'a> {
    chart: &'a Pathway,
    room: Room,
    labels: Vec<Vec<String>>,
    left: f64,
    cell: f64,
    median_width: f64,
}

/// Lays the picture out. Errs when a step does not have one share a day.
pub(crate) fn plan(chart: &Pathway, room: Room) -> Result<Plan<'_>, String> {
    let n_days = chart.days.len();
    if chart.steps.iter().any(|step| step.reached.len() != n_days) {
        return Err("a step and the days differ in length".to_owned());
    }
    let (label_width, left, median_width) = match room {
        Room::Wide => (150.0, 162.0, 92.0),
        Room::Narrow => (room.width(), 0.0, 62.0),
    };
    Ok(Plan {
        chart,
        room,
        labels: chart
            .steps
            .iter()
            .map(|step| letters::wrap(&step.label, TEXT_SIZE, label_width, 2))
            .collect(),
        left,
        cell: (room.width() - left - median_width) / n_days.max(1) as f64,
        median_width,
    })
}

impl Plan<'_> {
    /// Height of one step: words, bar and gap.
    fn step_height(&self, label: &[String]) -> f64 {
        let lines = label.len() as f64 * LINE_HEIGHT;
        match self.room {
            Room::Wide => lines.max(LINE_HEIGHT + BAR_HEIGHT) + 16.0,
            Room::Narrow => lines + LINE_HEIGHT + BAR_HEIGHT + 18.0,
        }
    }

    /// Height of the drawing in page units.
    pub(crate) fn height(&self) -> f64 {
        let steps: f64 = self
            .labels
            .iter()
            .map(|label| self.step_height(label))
            .sum();
        HEAD_HEIGHT + steps + 4.0
    }

    /// Draws the plan.
    pub(crate) fn draw(&self, canvas: &Canvas<'_>) -> Drawn {
        let head = Lettering::quiet(TEXT_SIZE).at(HPos::Left, VPos::Top);
        for (place, day) in self.chart.days.iter().enumerate() {
            let left = self.left + self.cell * place as f64;
            canvas.text("within", left, 0.0, head)?;
            let words = wording::number(Unit::Days, f64::from(*day));
            let words = letters::clip(&words, TEXT_SIZE, self.cell - 6.0);
            canvas.text(&words, left, LINE_HEIGHT, head)?;
        }
        let median_left = self.room.width() - self.median_width + 6.0;
        canvas.text("half of", median_left, 0.0, head)?;
        canvas.text("all by", median_left, LINE_HEIGHT, head)?;
        let mut top = HEAD_HEIGHT;
        for (step, label) in self.chart.steps.iter().zip(&self.labels) {
            canvas.line(&[(0.0, top), (self.room.width(), top)], Ink::Grid)?;
            self.draw_step(canvas, step, label, top + 6.0)?;
            top += self.step_height(label);
        }
        Ok(())
    }

    fn draw_step(
        &self,
        canvas: &Canvas<'_>,
        step: &PathwayStep,
        label: &[String],
        top: f64,
    ) -> Drawn {
        let lettering = Lettering::quiet(TEXT_SIZE)
            .ink(Ink::Text)
            .at(HPos::Left, VPos::Top);
        for (place, line) in label.iter().enumerate() {
            canvas.text(
                line,
                0.0,
                top + LINE_HEIGHT * place as f64,
                lettering.bold(),
            )?;
        }
        let top = match self.room {
            Room::Wide => top,
            Room::Narrow => top + LINE_HEIGHT * label.len() as f64,
        };
        for (place, value) in step.reached.iter().enumerate() {
            self.draw_share(canvas, value, self.left + self.cell * place as f64, top)?;
        }
        let room = self.median_width - 6.0;
        let lines = letters::wrap(&short(&step.median_days, Unit::Days), TEXT_SIZE, room, 2);
        let left = self.room.width() - room;
        for (place, line) in lines.iter().enumerate() {
            canvas.text(line, left, top + LINE_HEIGHT * place as f64, lettering)?;
        }
        Ok(())
    }

    /// The share in words, and under it a bar out of a whole, with its interval as a line.
    fn draw_share(&self, canvas: &Canvas<'_>, value: &Value, left: f64, top: f64) -> Drawn {
        let whole = self.cell - 12.0;
        let lettering = Lettering::quiet(TEXT_SIZE)
            .ink(Ink::Text)
            .at(HPos::Left, VPos::Top);
        let words = letters::clip(&short(value, Unit::Share), TEXT_SIZE, self.cell - 4.0);
        canvas.text(&words, left, top, lettering)?;
        let (from, to) = (
            top + LINE_HEIGHT + 1.0,
            top + LINE_HEIGHT + 1.0 + BAR_HEIGHT,
        );
        let along = |share: f64| left + whole * share.clamp(0.0, 1.0);
        let Value::Known(estimate) = value else {
            return canvas.block([(left, from), (left + whole, to)], Ink::Absent);
        };
        if !estimate.estimate.is_finite() {
            return canvas.block([(left, from), (left + whole, to)], Ink::Absent);
        }
        canvas.block([(left, from), (left + whole, to)], Ink::Layer(0))?;
        if estimate.estimate > 0.0 {
            let end = along(estimate.estimate);
            canvas.block([(left, from), (end, to)], Ink::Layer(2))?;
        }
        let ends = estimate.interval.as_ref();
        let ends = ends.and_then(|limits| limits.lower.zip(limits.upper));
        let Some((lower, upper)) = ends.filter(|(l, u)| l.is_finite() && u.is_finite()) else {
            return Ok(());
        };
        let middle = (from + to) / 2.0;
        canvas.line(&[(along(lower), middle), (along(upper), middle)], Ink::Text)?;
        for end in [lower, upper] {
            let x = along(end);
            canvas.line(&[(x, middle - 3.0), (x, middle + 3.0)], Ink::Text)?;
        }
        Ok(())
    }
}

/// A value, or the reason there is none in two words.
fn short(value: &Value, unit: Unit) -> String {
    match value {
        Value::NotYet { .. } => "not yet".to_owned(),
        Value::NotEstimable { .. } => "not estimable".to_owned(),
        Value::NotReached { .. } => "not reached".to_owned(),
        other => wording::value(other, unit),
    }
}
