//! Everything that can happen, stacked day by day; limits around the lowest and the highest layer.

use super::axes::{Plot, block, label_room, scale, value_axis};
use super::canvas::{Canvas, Drawn, Lettering, Panel};
use super::ink::Ink;
use super::letters;
use super::place::{Axis, Wish, spread};
use super::shares::SWATCH;
use super::time::TimeAxis;
use super::{LINE_HEIGHT, Room, TEXT_SIZE};
use crate::wording;
use outcomes::report::{BandPoint, IncidenceCurve, IncidenceStack, Unit};

const PLOT_TOP: f64 = 12.0;
/// How far rounding may carry the sum of the layers beyond 1.
const ROUNDING: f64 = 1e-6;

/// Everything about the picture that is decided before drawing.
pub(crate) struct Plan<'a> {
    time: TimeAxis<'a>,
    layers: &'a [IncidenceCurve],
    /// Days on which any layer changes, with the upper edge of every layer from then on.
    edges: Vec<Edges>,
    end: f64,
    plot: Plot,
    axis: Axis,
    axis_labels: Vec<String>,
    layer_labels: Vec<Vec<String>>,
    room: Room,
}

/// Upper edges of the layers from a day on, from the bottom up.
struct Edges {
    day: f64,
    uppers: Vec<f64>,
}

/// Lays the picture out. Errs as a time axis does, and when the layers add up to more than 1.
pub(crate) fn plan(chart: &IncidenceStack, room: Room) -> Result<Plan<'_>, String> {
    let time = TimeAxis::new(
        chart.until_days,
        &chart.ticks,
        &chart.tick_unit,
        &chart.at_risk,
    )?;
    let ends = chart.layers.iter().map(|layer| time.end(layer));
    let end = ends.fold(time.until, f64::min);
    let edges = edges(&time, &chart.layers, end);
    let highest = edges
        .iter()
        .filter_map(|edges| edges.uppers.last().copied());
    if highest.fold(0.0, f64::max) > 1.0 + ROUNDING {
        return Err("the layers add up to more than 1".to_owned());
    }
    let (axis, axis_labels) = scale(Unit::Share, 1.0);
    let (label_width, height) = match room {
        Room::Wide => (150.0, 260.0),
        Room::Narrow => (80.0, 230.0),
    };
    let layer_labels: Vec<Vec<String>> = chart
        .layers
        .iter()
        .map(|layer| {
            let end = wording::percent(time.last_height(layer));
            letters::wrap(&format!("{} {end}", layer.label), TEXT_SIZE, label_width, 3)
        })
        .collect();
    let widest = layer_labels
        .iter()
        .flatten()
        .map(|line| letters::width(line, TEXT_SIZE))
        .fold(0.0, f64::max);
    Ok(Plan {
        time,
        layers: &chart.layers,
        edges,
        end,
        plot: Plot {
            left: label_room(&axis_labels),
            right: room.width() - widest - SWATCH - 17.0,
            top: PLOT_TOP,
            bottom: PLOT_TOP + height,
        },
        axis,
        axis_labels,
        layer_labels,
        room,
    })
}

fn edges(time: &TimeAxis<'_>, layers: &[IncidenceCurve], end: f64) -> Vec<Edges> {
    let steps: Vec<Vec<BandPoint>> = layers.iter().map(|layer| time.steps(layer)).collect();
    let mut days: Vec<f64> = steps.iter().flatten().map(|step| step.day).collect();
    days.push(0.0);
    days.retain(|day| *day <= end);
    days.sort_by(f64::total_cmp);
    days.dedup();
    days.into_iter()
        .map(|day| {
            let mut sum = 0.0;
            let uppers = steps
                .iter()
                .map(|steps| {
                    let step = steps.iter().rev().find(|step| step.day <= day);
                    sum += step.map_or(0.0, |step| step.estimate);
                    sum
                })
                .collect();
            Edges { day, uppers }
        })
        .collect()
}

impl Plan<'_> {
    /// Height of the drawing in page units.
    pub(crate) fn height(&self) -> f64 {
        self.plot.bottom + self.time.height()
    }

    /// Draws the plan.
    pub(crate) fn draw(&self, canvas: &Canvas<'_>) -> Drawn {
        let plot = self.plot;
        let panel = canvas.panel_in(plot, 0.0..self.time.until, 0.0..1.0);
        value_axis(canvas, &panel, plot, &self.axis, &self.axis_labels)?;
        for place in 0..self.layers.len() {
            self.draw_layer(&panel, place)?;
        }
        if let Some(lowest) = self.layers.first() {
            self.draw_limits(&panel, lowest, |share| share)?;
        }
        if let Some(highest) = self.layers.get(1..).and_then(<[IncidenceCurve]>::last) {
            self.draw_limits(&panel, highest, |share| 1.0 - share)?;
        }
        self.draw_labels(canvas, &panel)?;
        self.time.draw(canvas, &panel, plot, self.room)
    }

    /// Upper edge of the layer at this place, as a line in steps; the edge below the lowest is 0.
    fn edge(&self, place: Option<usize>) -> Vec<(f64, f64)> {
        let nexts = self
            .edges
            .iter()
            .skip(1)
            .map(|edges| edges.day)
            .chain([self.end]);
        self.edges
            .iter()
            .zip(nexts)
            .flat_map(|(edges, next)| {
                let height = place.and_then(|place| edges.uppers.get(place).copied());
                let height = height.unwrap_or_default();
                [(edges.day, height), (next, height)]
            })
            .collect()
    }

    /// The outcome of interest is the darkest layer, those without any outcome yet the palest.
    fn ink(&self, place: usize) -> Ink {
        const OUTCOMES: [u8; 5] = [3, 4, 5, 6, 1];
        if place + 1 == self.layers.len() {
            return Ink::Layer(0);
        }
        Ink::Layer(OUTCOMES.get(place).copied().unwrap_or(2))
    }

    fn draw_layer(&self, panel: &Panel<'_>, place: usize) -> Drawn {
        let mut corners = self.edge(Some(place));
        corners.extend(self.edge(place.checked_sub(1)).into_iter().rev());
        panel.fill(corners, self.ink(place))
    }

    /// Lower and upper limit of a layer, drawn where its free edge lies.
    fn draw_limits(
        &self,
        panel: &Panel<'_>,
        layer: &IncidenceCurve,
        edge: impl Fn(f64) -> f64,
    ) -> Drawn {
        let steps = self.time.steps(layer);
        for side in [
            (|step: &BandPoint| step.lower) as fn(&BandPoint) -> Option<f64>,
            |step| step.upper,
        ] {
            let mut line = Vec::new();
            let nexts = steps.iter().skip(1).map(|step| step.day).chain([self.end]);
            for (step, next) in steps.iter().zip(nexts) {
                if let Some(height) = side(step).filter(|height| height.is_finite()) {
                    let height = edge(height.clamp(0.0, 1.0));
                    line.extend([(step.day, height), (next, height)]);
                }
            }
            if !line.is_empty() {
                panel.line(line.clone(), Ink::Halo)?;
                panel.line(line, Ink::Edge)?;
            }
        }
        Ok(())
    }

    fn draw_labels(&self, canvas: &Canvas<'_>, panel: &Panel<'_>) -> Drawn {
        let uppers = self.edges.last().map(|edges| edges.uppers.as_slice());
        let upper = |place: usize| uppers.and_then(|uppers| uppers.get(place)).copied();
        let middle_of = |place: usize| {
            let below = place.checked_sub(1).and_then(upper).unwrap_or_default();
            (below + upper(place).unwrap_or_default()) / 2.0
        };
        // From the top down, so that labels at one height keep the order of the layers.
        let layers = || self.layer_labels.iter().enumerate().rev();
        let wishes: Vec<Wish> = layers()
            .map(|(place, lines)| Wish {
                middle: panel.place(0.0, middle_of(place)).1,
                height: LINE_HEIGHT * lines.len() as f64 + 2.0,
            })
            .collect();
        let middles = spread(&wishes, self.plot.top - 8.0, self.plot.bottom + 8.0);
        let left = self.plot.right + 10.0;
        for ((place, lines), middle) in layers().zip(middles) {
            canvas.swatch(left, middle, SWATCH, self.ink(place))?;
            let lettering = Lettering::quiet(TEXT_SIZE).ink(Ink::Text);
            block(canvas, lines, left + SWATCH + 5.0, middle, lettering)?;
        }
        Ok(())
    }
}
