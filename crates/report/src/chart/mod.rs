//! Charts as inline SVG, drawn through plotters onto a backend of our own.
//!
//! Every chart is drawn twice: wide, and narrow for small screens. The style sheet shows one of them.

mod axes;
mod backend;
mod canvas;
mod incidence;
mod ink;
mod letters;
mod place;
mod shares;
mod sparkline;
mod trend;

pub(crate) use backend::FINENESS;
pub(crate) use incidence::tick_name;
pub(crate) use sparkline::sparkline;

use crate::RenderError;
use backend::escaped;
use canvas::{Canvas, Drawn};
use outcomes::report::{Count, Figure};

/// How much room a chart has.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Room {
    /// A column of text on a screen or on paper.
    Wide,
    /// A telephone.
    Narrow,
}

impl Room {
    /// Width of the drawing in page units (CSS pixels at its natural size).
    fn width(self) -> f64 {
        match self {
            Self::Wide => 680.0,
            Self::Narrow => 340.0,
        }
    }

    /// Class of the drawing in the style sheet.
    fn class(self) -> &'static str {
        match self {
            Self::Wide => "chart wide",
            Self::Narrow => "chart narrow",
        }
    }
}

/// Font size of ticks, labels and numbers at risk.
const TEXT_SIZE: f64 = 12.0;
/// Height of a line of that text.
const LINE_HEIGHT: f64 = 15.0;

/// A count where there is little room; the caption says what the dash stands for.
fn short_count(count: Count) -> String {
    match count {
        Count::Shown(_) => count.to_string(),
        Count::Suppressed => "–".to_owned(),
    }
}

/// The figure as one SVG element. `anchor` makes the ids inside it unique.
pub(crate) fn draw(
    figure: &Figure,
    room: Room,
    anchor: &str,
) -> Result<Option<String>, RenderError> {
    let frame = figure.frame();
    let shell = Shell {
        anchor: &format!(
            "{anchor}-{}",
            if room == Room::Wide { "wide" } else { "narrow" }
        ),
        class: room.class(),
        title: &frame.title,
        description: &frame.alt,
        width: room.width(),
    };
    let fault = |reason: String| RenderError::Figure {
        figure: frame.id.clone(),
        reason,
    };
    match figure {
        Figure::CumulativeIncidence { .. } => {
            let plan = incidence::plan(figure, room).map_err(fault)?;
            shell.draw(plan.height(), |canvas| plan.draw(canvas))
        }
        Figure::StackedShares {
            layers, quarters, ..
        } => {
            let plan = shares::plan(layers, quarters, room).map_err(fault)?;
            shell.draw(plan.height(), |canvas| plan.draw(canvas))
        }
        Figure::QuarterlyTrend {
            unit,
            points,
            context,
            ..
        } => {
            let plan = trend::plan(points, *unit, context.as_ref(), room);
            shell.draw(plan.height(), |canvas| plan.draw(canvas))
        }
        _ => return Ok(None),
    }
    .map(Some)
    .map_err(fault)
}

/// The SVG element around a drawing: its name, its words for those who cannot see it, its scale.
struct Shell<'a> {
    anchor: &'a str,
    class: &'a str,
    title: &'a str,
    description: &'a str,
    width: f64,
}

impl Shell<'_> {
    fn draw(
        &self,
        height: f64,
        paint: impl FnOnce(&Canvas<'_>) -> Drawn,
    ) -> Result<String, String> {
        let mut body = String::new();
        paint(&Canvas::new(&mut body, self.width, height)).map_err(|fault| fault.to_string())?;
        let (across, down) = (self.width * FINENESS, height * FINENESS);
        Ok(format!(
            "<svg class=\"{class}\" viewBox=\"0 0 {across:.0} {down:.0}\" role=\"img\" \
             aria-labelledby=\"{anchor}-title {anchor}-words\">\n\
             <title id=\"{anchor}-title\">{title}</title>\n\
             <desc id=\"{anchor}-words\">{words}</desc>\n{body}</svg>\n",
            class = self.class,
            anchor = self.anchor,
            title = escaped(self.title),
            words = escaped(self.description),
        ))
    }
}
