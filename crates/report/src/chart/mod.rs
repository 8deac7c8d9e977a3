//! Charts as inline SVG, drawn through plotters onto a backend of our own.
//!
//! Every chart is drawn twice: wide, and narrow for small screens. The style sheet shows one of them.

mod axes;
mod backend;
mod beside;
mod calendar;
mod canvas;
mod control;
mod courses;
mod forest;
mod funnel;
mod incidence;
mod ink;
mod letters;
mod movement;
mod multiples;
mod pathway;
mod place;
mod shares;
mod sparkline;
mod stack;
mod time;
mod trend;

pub(crate) use backend::FINENESS;
pub(crate) use sparkline::sparkline;
pub(crate) use time::tick_name;

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
pub(crate) fn draw(figure: &Figure, room: Room, anchor: &str) -> Result<String, RenderError> {
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
        Figure::ControlChart(chart) => {
            let plan = control::plan(chart, room);
            shell.draw(plan.height(), |canvas| plan.draw(canvas))
        }
        Figure::Funnel(chart) => {
            let plan = funnel::plan(chart, room);
            shell.draw(plan.height(), |canvas| plan.draw(canvas))
        }
        Figure::Forest(chart) => {
            let plan = forest::plan(chart, room);
            shell.draw(plan.height(), |canvas| plan.draw(canvas))
        }
        Figure::Pathway(chart) => {
            let plan = pathway::plan(chart, room).map_err(fault)?;
            shell.draw(plan.height(), |canvas| plan.draw(canvas))
        }
        Figure::IncidenceStack(chart) => {
            let plan = stack::plan(chart, room).map_err(fault)?;
            shell.draw(plan.height(), |canvas| plan.draw(canvas))
        }
        Figure::SmallMultiples(chart) => {
            let plan = multiples::plan(chart, room).map_err(fault)?;
            shell.draw(plan.height(), |canvas| plan.draw(canvas))
        }
        Figure::IntervalBeside(chart) => {
            let plan = beside::plan(chart, room).map_err(fault)?;
            shell.draw(plan.height(), |canvas| plan.draw(canvas))
        }
        Figure::Trajectories(chart) => {
            let plan = courses::plan(chart, room).map_err(fault)?;
            shell.draw(plan.height(), |canvas| plan.draw(canvas))
        }
        Figure::FollowUpCalendar(chart) if chart.spans.is_empty() => {
            let plan = shares::plan(&chart.endings, &chart.quarters, room).map_err(fault)?;
            shell.draw(plan.height(), |canvas| plan.draw(canvas))
        }
        Figure::FollowUpCalendar(chart) => {
            let plan = calendar::plan(chart, room).map_err(fault)?;
            shell.draw(plan.height(), |canvas| plan.draw(canvas))
        }
        Figure::Movement(chart) => {
            let plan = movement::plan(chart, room).map_err(fault)?;
            shell.draw(plan.height(), |canvas| plan.draw(canvas))
        }
    }
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
