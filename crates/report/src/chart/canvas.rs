//! The canvas that charts draw on: lines, dots, areas and words in page units.

use super::axes::Plot;
use super::backend::{FINENESS, SvgBackend};
use super::ink::Ink;
use plotters::coord::Shift;
use plotters::coord::cartesian::Cartesian2d;
use plotters::coord::types::RangedCoordf64;
use plotters::drawing::{DrawingArea, DrawingAreaErrorKind, IntoDrawingArea};
use plotters::element::{Circle, PathElement, Polygon, Rectangle, Text};
use plotters::style::text_anchor::{HPos, Pos, VPos};
use plotters::style::{Color, FontStyle, FontTransform, IntoFont, ShapeStyle};
use std::convert::Infallible;
use std::ops::Range;

/// What drawing gives; the SVG backend itself cannot fail.
pub(crate) type Drawn = Result<(), DrawnFault>;

/// Why a drawing could fail: for the scales, never for the SVG.
pub(crate) type DrawnFault = DrawingAreaErrorKind<Infallible>;

/// A drawing in page units with helpers for the few marks our charts are made of.
pub(crate) struct Canvas<'a> {
    area: DrawingArea<SvgBackend<'a>, Shift>,
}

/// A rectangle of the canvas with scales of its own: data in, page out.
pub(crate) struct Panel<'a> {
    area: DrawingArea<SvgBackend<'a>, Cartesian2d<RangedCoordf64, RangedCoordf64>>,
}

/// Size, weight, ink and anchor of a piece of text.
#[derive(Clone, Copy)]
pub(crate) struct Lettering {
    pub(crate) size: f64,
    pub(crate) is_bold: bool,
    pub(crate) is_upright: bool,
    pub(crate) ink: Ink,
    pub(crate) across: HPos,
    pub(crate) down: VPos,
}

impl Lettering {
    /// Quiet text, centred on its point across and hanging below it.
    pub(crate) fn quiet(size: f64) -> Self {
        Self {
            size,
            is_bold: false,
            is_upright: false,
            ink: Ink::Quiet,
            across: HPos::Center,
            down: VPos::Top,
        }
    }

    /// The same, anchored elsewhere.
    pub(crate) fn at(self, across: HPos, down: VPos) -> Self {
        Self {
            across,
            down,
            ..self
        }
    }

    /// The same, reading upwards from its point.
    pub(crate) fn upright(self) -> Self {
        Self {
            is_upright: true,
            across: HPos::Left,
            down: VPos::Center,
            ..self
        }
    }

    /// The same in another ink.
    pub(crate) fn ink(self, ink: Ink) -> Self {
        Self { ink, ..self }
    }

    /// The same in a heavier cut.
    pub(crate) fn bold(self) -> Self {
        Self {
            is_bold: true,
            ..self
        }
    }
}

fn fine(value: f64) -> i32 {
    (value * FINENESS).round() as i32
}

fn solid(ink: Ink) -> ShapeStyle {
    ink.filled()
}

impl<'a> Canvas<'a> {
    /// A canvas of this size in page units that draws into `body`.
    pub(crate) fn new(body: &'a mut String, width: f64, height: f64) -> Self {
        let (width, height) = (fine(width).unsigned_abs(), fine(height).unsigned_abs());
        Self {
            area: SvgBackend::new(body, width, height).into_drawing_area(),
        }
    }

    /// A panel over a plot whose scales run over `x` and `y`.
    pub(crate) fn panel_in(&self, plot: Plot, x: Range<f64>, y: Range<f64>) -> Panel<'a> {
        self.panel(x, y, plot.left..plot.right, plot.top..plot.bottom)
    }

    /// A panel over this part of the page whose scales run over `x` and `y`.
    pub(crate) fn panel(
        &self,
        x: Range<f64>,
        y: Range<f64>,
        across: Range<f64>,
        down: Range<f64>,
    ) -> Panel<'a> {
        let actual = (
            fine(across.start)..fine(across.end),
            fine(down.end)..fine(down.start),
        );
        let scales = Cartesian2d::<RangedCoordf64, RangedCoordf64>::new(x, y, actual);
        Panel {
            area: self.area.apply_coord_spec(scales),
        }
    }

    /// Text at a point of the page.
    pub(crate) fn text(&self, words: &str, x: f64, y: f64, lettering: Lettering) -> Drawn {
        let weight = if lettering.is_bold {
            FontStyle::Bold
        } else {
            FontStyle::Normal
        };
        let font = ("sans-serif", lettering.size * FINENESS)
            .into_font()
            .style(weight);
        let turn = if lettering.is_upright {
            FontTransform::Rotate270
        } else {
            FontTransform::None
        };
        let style = font
            .transform(turn)
            .color(&lettering.ink)
            .pos(Pos::new(lettering.across, lettering.down));
        self.area.draw(&Text::new(words, (fine(x), fine(y)), style))
    }

    /// A filled square of this side, its left edge and its middle height given.
    pub(crate) fn swatch(&self, left: f64, middle: f64, side: f64, ink: Ink) -> Drawn {
        let (top, bottom) = (middle - side / 2.0, middle + side / 2.0);
        let corners = [(fine(left), fine(top)), (fine(left + side), fine(bottom))];
        self.area.draw(&Rectangle::new(corners, solid(ink)))
    }

    /// A filled rectangle between two corners of the page.
    pub(crate) fn block(&self, corners: [(f64, f64); 2], ink: Ink) -> Drawn {
        let corners = corners.map(|(x, y)| (fine(x), fine(y)));
        self.area.draw(&Rectangle::new(corners, solid(ink)))
    }

    /// A filled area with these corners of the page.
    pub(crate) fn fill(&self, corners: &[(f64, f64)], ink: Ink) -> Drawn {
        let corners: Vec<_> = corners.iter().map(|(x, y)| (fine(*x), fine(*y))).collect();
        self.area.draw(&Polygon::new(corners, solid(ink)))
    }

    /// A round marker at a point of the page.
    pub(crate) fn dot(&self, x: f64, y: f64, radius: f64, ink: Ink) -> Drawn {
        let middle = (fine(x), fine(y));
        self.area
            .draw(&Circle::new(middle, fine(radius), solid(ink)))
    }

    /// A line through points of the page.
    pub(crate) fn line(&self, points: &[(f64, f64)], ink: Ink) -> Drawn {
        let points: Vec<_> = points.iter().map(|(x, y)| (fine(*x), fine(*y))).collect();
        self.area.draw(&PathElement::new(points, solid(ink)))
    }
}

impl Panel<'_> {
    /// Where a point of the data lies on the page.
    pub(crate) fn place(&self, x: f64, y: f64) -> (f64, f64) {
        let (across, down) = self.area.map_coordinate(&(x, y));
        (f64::from(across) / FINENESS, f64::from(down) / FINENESS)
    }

    /// A line through points of the data.
    pub(crate) fn line(&self, points: Vec<(f64, f64)>, ink: Ink) -> Drawn {
        self.area.draw(&PathElement::new(points, solid(ink)))
    }

    /// A filled area with these corners.
    pub(crate) fn fill(&self, corners: Vec<(f64, f64)>, ink: Ink) -> Drawn {
        self.area.draw(&Polygon::new(corners, solid(ink)))
    }

    /// A filled rectangle between two corners.
    pub(crate) fn block(&self, corners: [(f64, f64); 2], ink: Ink) -> Drawn {
        self.area.draw(&Rectangle::new(corners, solid(ink)))
    }

    /// A round marker; the radius is in page units.
    pub(crate) fn dot(&self, x: f64, y: f64, radius: f64, ink: Ink) -> Drawn {
        self.area
            .draw(&Circle::new((x, y), fine(radius), solid(ink)))
    }
}
