//! How many went from which class to which: a column of classes on each side, and between them a ribbon for every flow.

use super::canvas::{Canvas, Drawn, Lettering};
use super::ink::Ink;
use super::letters;
use super::{LINE_HEIGHT, Room, TEXT_SIZE};
use crate::wording;
use outcomes::report::{Count, Movement};
use plotters::style::text_anchor::{HPos, VPos};

const HEIGHT: f64 = 300.0;
const TOP: f64 = LINE_HEIGHT + 8.0;
const BAR: f64 = 12.0;
/// Gap between the classes of a column: room for a label of two lines beside even the smallest.
const GAP: f64 = 2.0 * LINE_HEIGHT + 2.0;
/// Straight pieces that a ribbon's edge is made of.
const N_PIECES: u32 = 12;

/// Everything about the picture that is decided before drawing.
pub(crate) struct Plan<'a> {
    chart: &'a Movement,
    room: Room,
    /// Flows that can be drawn; `None` when any is hidden, because the heights of all would tell it.
    flows: Option<Vec<Flow>>,
    label_width: f64,
}

/// A flow with its size.
#[derive(Clone, Copy)]
struct Flow {
    from: usize,
    to: usize,
    n: f64,
}

/// Where the classes of one column lie: top and number of people.
struct Column {
    tops: Vec<f64>,
    sums: Vec<f64>,
}

/// Lays the picture out. Errs when a flow leads from or to a class that is not named.
pub(crate) fn plan(chart: &Movement, room: Room) -> Result<Plan<'_>, String> {
    let is_unnamed = |flow: &outcomes::report::MovementFlow| {
        flow.from >= chart.from_classes.len() || flow.to >= chart.to_classes.len()
    };
    if chart.flows.iter().any(is_unnamed) {
        return Err("a flow leads to a class that is not named".to_owned());
    }
    let flows = chart
        .flows
        .iter()
        .map(|flow| match flow.n {
            Count::Shown(n) => Some(Flow {
                from: flow.from,
                to: flow.to,
                n: n as f64,
            }),
            Count::Suppressed => None,
        })
        .collect();
    Ok(Plan {
        chart,
        room,
        flows,
        label_width: match room {
            Room::Wide => 150.0,
            Room::Narrow => 92.0,
        },
    })
}

impl Plan<'_> {
    /// Height of the drawing in page units.
    pub(crate) fn height(&self) -> f64 {
        let n_gaps = self
            .chart
            .from_classes
            .len()
            .max(self.chart.to_classes.len());
        TOP + HEIGHT + GAP * n_gaps as f64
    }

    /// Draws the plan.
    pub(crate) fn draw(&self, canvas: &Canvas<'_>) -> Drawn {
        let width = self.room.width();
        let quiet = Lettering::quiet(TEXT_SIZE);
        let Some(flows) = &self.flows else {
            let words = "suppressed: the table shows what may be shown";
            return canvas.text(words, width / 2.0, TOP, quiet.ink(Ink::Text));
        };
        let lettering = quiet.at(HPos::Left, VPos::Top);
        canvas.text(
            &letters::clip(&self.chart.from, TEXT_SIZE, width / 2.0),
            0.0,
            0.0,
            lettering,
        )?;
        let lettering = quiet.at(HPos::Right, VPos::Top);
        canvas.text(
            &letters::clip(&self.chart.to, TEXT_SIZE, width / 2.0),
            width,
            0.0,
            lettering,
        )?;
        let total: f64 = flows.iter().map(|flow| flow.n).sum();
        let scale = HEIGHT / total.max(1.0);
        let starts = column(
            self.chart.from_classes.len(),
            flows,
            |flow| flow.from,
            scale,
        );
        let ends = column(self.chart.to_classes.len(), flows, |flow| flow.to, scale);
        let (left, right) = (self.label_width + 6.0, width - self.label_width - 6.0 - BAR);
        self.draw_ribbons(canvas, flows, &starts, &ends, scale, [left + BAR, right])?;
        self.draw_column(canvas, &self.chart.from_classes, &starts, scale, left, true)?;
        self.draw_column(canvas, &self.chart.to_classes, &ends, scale, right, false)
    }

    /// Ribbons in class order, each as thick as it has people.
    fn draw_ribbons(
        &self,
        canvas: &Canvas<'_>,
        flows: &[Flow],
        starts: &Column,
        ends: &Column,
        scale: f64,
        sides: [f64; 2],
    ) -> Drawn {
        let mut sorted = flows.to_vec();
        sorted.sort_by_key(|flow| (flow.from, flow.to));
        let mut used_start = vec![0.0; starts.tops.len()];
        let mut used_end = vec![0.0; ends.tops.len()];
        for flow in sorted.iter().filter(|flow| flow.n > 0.0) {
            let thick = flow.n * scale;
            let from = take(&starts.tops, &mut used_start, flow.from, thick);
            let to = take(&ends.tops, &mut used_end, flow.to, thick);
            let edge = |down: f64| {
                (0..=N_PIECES).map(move |piece| {
                    let part = f64::from(piece) / f64::from(N_PIECES);
                    // Level at both ends and steepest in the middle.
                    let eased = part * part * (3.0 - 2.0 * part);
                    let [left, right] = sides;
                    (
                        left + (right - left) * part,
                        from + (to - from) * eased + down,
                    )
                })
            };
            let mut corners: Vec<(f64, f64)> = edge(0.0).collect();
            corners.extend(edge(thick).collect::<Vec<_>>().into_iter().rev());
            canvas.fill(&corners, Ink::Flow(Ink::layer(flow.from)))?;
        }
        Ok(())
    }

    fn draw_column(
        &self,
        canvas: &Canvas<'_>,
        classes: &[String],
        column: &Column,
        scale: f64,
        left: f64,
        is_start: bool,
    ) -> Drawn {
        let (across, anchor) = if is_start {
            (left - 6.0, HPos::Right)
        } else {
            (left + BAR + 6.0, HPos::Left)
        };
        let parts = classes.iter().zip(&column.tops).zip(&column.sums);
        for (place, ((class, top), sum)) in parts.enumerate() {
            let bottom = top + (sum * scale).max(1.0);
            let ink = Ink::Layer(Ink::layer(place));
            canvas.block([(left, *top), (left + BAR, bottom)], ink)?;
            let words = format!("{class}: {}", wording::whole(*sum as u64));
            let lines = letters::wrap(&words, TEXT_SIZE, self.label_width - 6.0, 2);
            let lettering = Lettering::quiet(TEXT_SIZE)
                .ink(Ink::Text)
                .at(anchor, VPos::Center);
            let first = (top + bottom - LINE_HEIGHT * (lines.len() as f64 - 1.0)) / 2.0;
            for (line, words) in lines.iter().enumerate() {
                canvas.text(words, across, first + LINE_HEIGHT * line as f64, lettering)?;
            }
        }
        Ok(())
    }
}

fn column(n: usize, flows: &[Flow], of: impl Fn(&Flow) -> usize, scale: f64) -> Column {
    let sums: Vec<f64> = (0..n)
        .map(|place| {
            let own = flows.iter().filter(|flow| of(flow) == place);
            own.map(|flow| flow.n).sum()
        })
        .collect();
    let mut top = TOP + LINE_HEIGHT;
    let mut tops = Vec::with_capacity(n);
    for sum in &sums {
        tops.push(top);
        top += sum * scale + GAP;
    }
    Column { tops, sums }
}

/// The next free top of a class, which is then taken.
fn take(tops: &[f64], used: &mut [f64], place: usize, thick: f64) -> f64 {
    let start = tops.get(place).copied().unwrap_or_default();
    let Some(used) = used.get_mut(place) else {
        return start;
    };
    let top = start + *used;
    *used += thick;
    top
}
