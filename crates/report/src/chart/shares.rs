//! Shares by quarter, stacked to 100%, with the count in each part and the people behind each bar above it.

use super::axes::{Plot, block, label_room, quarter_labels, value_axis};
use super::canvas::{Canvas, Drawn, Lettering, Panel};
use super::ink::Ink;
use super::letters;
use super::place::{Axis, Wish, label_every, share_axis, spread};
use super::{LINE_HEIGHT, Room, TEXT_SIZE, short_count};
use crate::wording;
use outcomes::report::{Count, StackedQuarter};
use plotters::style::text_anchor::{HPos, VPos};

const PLOT_TOP: f64 = 24.0;
const PLOT_HEIGHT: f64 = 240.0;
/// Side of the small square that ties a label to its layer.
pub(super) const SWATCH: f64 = 8.0;

/// Everything about the picture that is decided before drawing.
pub(crate) struct Plan<'a> {
    quarters: &'a [StackedQuarter],
    plot: Plot,
    axis: Axis,
    axis_labels: Vec<String>,
    layer_labels: Vec<Vec<String>>,
}

/// Lays the picture out. Errs when a bar does not have one count a layer.
pub(crate) fn plan<'a>(
    layers: &[String],
    quarters: &'a [StackedQuarter],
    room: Room,
) -> Result<Plan<'a>, String> {
    if quarters
        .iter()
        .any(|quarter| quarter.counts.len() != layers.len())
    {
        return Err("a bar and the layers differ in length".to_owned());
    }
    let axis = share_axis(1.0);
    let axis_labels: Vec<String> = axis
        .ticks
        .iter()
        .map(|tick| wording::percent(*tick))
        .collect();
    let label_width = match room {
        Room::Wide => 140.0,
        Room::Narrow => 80.0,
    };
    let layer_labels: Vec<Vec<String>> = layers
        .iter()
        .map(|layer| letters::wrap(layer, TEXT_SIZE, label_width, 3))
        .collect();
    let widest = layer_labels
        .iter()
        .flatten()
        .map(|line| letters::width(line, TEXT_SIZE))
        .fold(0.0, f64::max);
    let plot = Plot {
        left: label_room(&axis_labels),
        right: room.width() - widest - SWATCH - 17.0,
        top: PLOT_TOP,
        bottom: PLOT_TOP + PLOT_HEIGHT,
    };
    Ok(Plan {
        quarters,
        plot,
        axis,
        axis_labels,
        layer_labels,
    })
}

/// One part of a bar: from and to, as shares of the bar.
struct Part {
    from: f64,
    to: f64,
    count: u64,
}

/// The parts of a bar from the bottom up; `None` where a count is hidden or nobody is there.
fn parts(quarter: &StackedQuarter) -> Option<Vec<Part>> {
    let shown = |count: &Count| match count {
        Count::Shown(n) => Some(*n),
        Count::Suppressed => None,
    };
    let counts: Vec<u64> = quarter.counts.iter().map(shown).collect::<Option<_>>()?;
    let total = counts.iter().map(|n| *n as f64).sum::<f64>();
    if total <= 0.0 {
        return None;
    }
    let mut from = 0.0;
    let mut parts = Vec::with_capacity(counts.len());
    for count in counts {
        let to = from + count as f64 / total;
        parts.push(Part { from, to, count });
        from = to;
    }
    Some(parts)
}

impl Plan<'_> {
    /// Height of the drawing in page units.
    pub(crate) fn height(&self) -> f64 {
        self.plot.bottom + 6.0 + 2.0 * LINE_HEIGHT + 4.0
    }

    /// Draws the plan.
    pub(crate) fn draw(&self, canvas: &Canvas<'_>) -> Drawn {
        let plot = self.plot;
        let n_bars = self.quarters.len().max(1) as f64;
        let across = plot.left..plot.right;
        let panel = canvas.panel(0.0..n_bars, 0.0..1.0, across, plot.top..plot.bottom);
        value_axis(canvas, &panel, plot, &self.axis, &self.axis_labels)?;
        let bar_room = plot.width() / n_bars;
        let every = label_every(self.widest_label() + 4.0, bar_room);
        let names = self.quarters.iter().map(|quarter| quarter.quarter.as_str());
        let labels = quarter_labels(names, every);
        for (place, (quarter, label)) in self.quarters.iter().zip(labels).enumerate() {
            self.draw_bar(canvas, &panel, quarter, place as f64 + 0.1)?;
            if let Some(label) = label {
                let middle = panel.place(place as f64 + 0.5, 0.0).0;
                let room = bar_room * every as f64;
                label.draw(canvas, middle, plot.bottom, room)?;
                self.draw_n(canvas, quarter.n, middle, room)?;
            }
        }
        self.draw_layer_labels(canvas, &panel)
    }

    fn widest_label(&self) -> f64 {
        self.quarters
            .iter()
            .map(|quarter| letters::width(&short_count(quarter.n), TEXT_SIZE).min(40.0))
            .fold(letters::width("Q3", TEXT_SIZE), f64::max)
    }

    /// Counts stand in the parts only where the longest of them fits into a bar.
    fn widest_count(&self) -> f64 {
        self.quarters
            .iter()
            .flat_map(|quarter| &quarter.counts)
            .map(|n| letters::width(&short_count(*n), TEXT_SIZE))
            .fold(0.0, f64::max)
    }

    fn draw_bar(
        &self,
        canvas: &Canvas<'_>,
        panel: &Panel<'_>,
        quarter: &StackedQuarter,
        left: f64,
    ) -> Drawn {
        let right = left + 0.8;
        let Some(parts) = parts(quarter) else {
            return panel.block([(left, 0.0), (right, 1.0)], Ink::Absent);
        };
        let (start, _) = panel.place(left, 0.0);
        let (end, _) = panel.place(right, 0.0);
        for (place, part) in parts.iter().enumerate().filter(|(_, part)| part.count > 0) {
            let layer = Ink::layer(place);
            panel.block([(left, part.from), (right, part.to)], Ink::Layer(layer))?;
            let (_, bottom) = panel.place(left, part.from);
            let (_, top) = panel.place(left, part.to);
            if bottom - top >= 14.0 && self.widest_count() < end - start {
                let words = wording::whole(part.count);
                let lettering = Lettering::quiet(TEXT_SIZE).ink(Ink::OnLayer(layer));
                let (x, y) = ((start + end) / 2.0, (top + bottom) / 2.0);
                canvas.text(&words, x, y, lettering.at(HPos::Center, VPos::Center))?;
            }
        }
        Ok(())
    }

    fn draw_n(&self, canvas: &Canvas<'_>, n: Count, middle: f64, room: f64) -> Drawn {
        let words = letters::clip(&short_count(n), TEXT_SIZE, room.max(20.0));
        let lettering = Lettering::quiet(TEXT_SIZE)
            .ink(Ink::Text)
            .at(HPos::Center, VPos::Bottom);
        canvas.text(&words, middle, self.plot.top - 4.0, lettering)?;
        Ok(())
    }

    /// Names beside the parts of the last bar that shows its parts.
    fn draw_layer_labels(&self, canvas: &Canvas<'_>, panel: &Panel<'_>) -> Drawn {
        let last = self.quarters.iter().rev().find_map(parts);
        let n_layers = self.layer_labels.len().max(1) as f64;
        let middle_of = |place: usize| match last.as_ref().and_then(|parts| parts.get(place)) {
            Some(part) => (part.from + part.to) / 2.0,
            None => (place as f64 + 0.5) / n_layers,
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
            canvas.swatch(left, middle, SWATCH, Ink::Layer(Ink::layer(place)))?;
            let lettering = Lettering::quiet(TEXT_SIZE).ink(Ink::Text);
            block(canvas, lines, left + SWATCH + 5.0, middle, lettering)?;
        }
        let people = Lettering::quiet(TEXT_SIZE).at(HPos::Right, VPos::Bottom);
        canvas.text("n", self.plot.left - 7.0, self.plot.top - 4.0, people)
    }
}
