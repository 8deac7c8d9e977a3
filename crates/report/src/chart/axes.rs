//! The frame that every chart shares: a quiet value axis on the left and rows of words under the plot.

use super::canvas::{Canvas, Drawn, Lettering, Panel};
use super::ink::Ink;
use super::letters;
use super::place::{Axis, open_axis, share_axis};
use super::{LINE_HEIGHT, TEXT_SIZE};
use outcomes::report::{Unit, words};
use plotters::style::text_anchor::{HPos, VPos};

/// Where the plot lies on the canvas, in page units.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Plot {
    pub(crate) left: f64,
    pub(crate) right: f64,
    pub(crate) top: f64,
    pub(crate) bottom: f64,
}

impl Plot {
    /// Its width.
    pub(crate) fn width(&self) -> f64 {
        self.right - self.left
    }
}

/// An axis for values of this unit up to `highest`, with its tick labels.
pub(crate) fn scale(unit: Unit, highest: f64) -> (Axis, Vec<String>) {
    let axis = if unit == Unit::Share {
        share_axis(highest)
    } else {
        open_axis(highest)
    };
    let labels = axis
        .ticks
        .iter()
        .map(|tick| tick_words(*tick, unit))
        .collect();
    (axis, labels)
}

/// The label of a tick, without needless decimals.
pub(crate) fn tick_words(tick: f64, unit: Unit) -> String {
    let scale = if unit == Unit::Share { 100.0 } else { 1.0 };
    let label = words::short((tick * scale * 100.0).round() / 100.0);
    match unit {
        Unit::Share => format!("{label}%"),
        _ => label,
    }
}

/// Room that tick labels on the left need, gap included.
pub(crate) fn label_room(labels: &[String]) -> f64 {
    let widest = labels
        .iter()
        .map(|label| letters::width(label, TEXT_SIZE))
        .fold(0.0, f64::max);
    widest + 10.0
}

/// Grid lines, the base line and a label at every tick of the value axis.
pub(crate) fn value_axis(
    canvas: &Canvas<'_>,
    panel: &Panel<'_>,
    plot: Plot,
    axis: &Axis,
    labels: &[String],
) -> Drawn {
    let lettering = Lettering::quiet(TEXT_SIZE).at(HPos::Right, VPos::Center);
    for (tick, label) in axis.ticks.iter().zip(labels) {
        let (_, height) = panel.place(0.0, *tick);
        let ink = if *tick == 0.0 { Ink::Axis } else { Ink::Grid };
        canvas.line(&[(plot.left, height), (plot.right, height)], ink)?;
        canvas.text(label, plot.left - 7.0, height, lettering)?;
    }
    Ok(())
}

/// A label in several lines around a middle height.
pub(crate) fn block(
    canvas: &Canvas<'_>,
    lines: &[String],
    left: f64,
    middle: f64,
    lettering: Lettering,
) -> Drawn {
    let first = middle - LINE_HEIGHT * (lines.len() as f64 - 1.0) / 2.0;
    for (place, line) in lines.iter().enumerate() {
        let height = first + LINE_HEIGHT * place as f64;
        canvas.text(line, left, height, lettering.at(HPos::Left, VPos::Center))?;
    }
    Ok(())
}

/// Labels for every `every`-th quarter or date in two lines, the year only where it changes: `Q3` over `2025`.
/// A quarter without label gives `None`.
pub(crate) fn quarter_labels<'a>(
    quarters: impl Iterator<Item = &'a str>,
    every: usize,
) -> Vec<Option<QuarterLabel>> {
    let mut year_before = None;
    quarters
        .enumerate()
        .map(|(place, quarter)| {
            if !place.is_multiple_of(every) {
                return None;
            }
            let (year, part) = year_and_part(quarter);
            let shown = year.filter(|_| year != year_before);
            year_before = year;
            Some(QuarterLabel {
                part,
                year: shown.map(str::to_owned),
            })
        })
        .collect()
}

/// `2025 Q3` is `Q3` of 2025, `30 November 2023` is `30 Nov` of 2023; anything else is a part without a year.
fn year_and_part(label: &str) -> (Option<&str>, String) {
    let is_year = |word: &str| word.len() == 4 && word.bytes().all(|byte| byte.is_ascii_digit());
    let words: Vec<&str> = label.split(' ').collect();
    match words.as_slice() {
        // quarters of shifted dates say so in title and caption; there is no room on an axis
        [year, part] | [year, part, "(shifted)"] if is_year(year) => {
            (Some(year), (*part).to_owned())
        }
        [day, month, year] if is_year(year) => {
            let month: String = month.chars().take(3).collect();
            (Some(year), format!("{day} {month}"))
        }
        _ => (None, label.to_owned()),
    }
}

/// One quarter on a time axis.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct QuarterLabel {
    pub(crate) part: String,
    pub(crate) year: Option<String>,
}

impl QuarterLabel {
    /// Draws the label under a point of the base line.
    pub(crate) fn draw(&self, canvas: &Canvas<'_>, middle: f64, base: f64, room: f64) -> Drawn {
        let lettering = Lettering::quiet(TEXT_SIZE);
        let part = letters::clip(&self.part, TEXT_SIZE, room);
        canvas.text(&part, middle, base + 6.0, lettering)?;
        match &self.year {
            Some(year) => {
                let year = letters::clip(year, TEXT_SIZE, room.max(34.0));
                canvas.text(&year, middle, base + 6.0 + LINE_HEIGHT, lettering)
            }
            None => Ok(()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::quarter_labels;

    #[test]
    fn a_year_is_written_once_where_it_begins_among_the_labels_shown() {
        let quarters = [
            "2024 Q2", "2024 Q3", "2024 Q4", "2025 Q1", "2025 Q2", "shifted",
        ];
        let words = |every| -> Vec<String> {
            quarter_labels(quarters.into_iter(), every)
                .into_iter()
                .flatten()
                .map(|label| format!("{} {}", label.part, label.year.unwrap_or_default()))
                .collect()
        };
        assert_eq!(
            words(1),
            ["Q2 2024", "Q3 ", "Q4 ", "Q1 2025", "Q2 ", "shifted "]
        );
        assert_eq!(words(2), ["Q2 2024", "Q4 ", "Q2 2025"]);
        let dates = ["30 November 2023", "13 January 2024"];
        let labels = quarter_labels(dates.into_iter(), 1);
        let said = labels.into_iter().flatten();
        let said: Vec<_> = said.map(|label| (label.part, label.year)).collect();
        let wanted = [("30 Nov", "2023"), ("13 Jan", "2024")];
        assert_eq!(
            said,
            wanted.map(|(part, year)| (part.to_owned(), Some(year.to_owned())))
        );
    }
}
