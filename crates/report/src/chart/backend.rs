//! What plotters draws, written as the inside of an SVG element.

use super::ink::Ink;
use plotters_backend::text_anchor::{HPos, VPos};
use plotters_backend::{
    BackendColor, BackendCoord, BackendStyle, BackendTextStyle, DrawingBackend, DrawingErrorKind,
    FontStyle, FontTransform,
};
use std::convert::Infallible;
use std::fmt::Write;

/// Drawing units in one unit of the page: plotters draws in whole units, so tenths survive.
pub(crate) const FINENESS: f64 = 10.0;

/// Writes what plotters draws as the inside of an SVG element: short relative paths, a class an ink.
pub(crate) struct SvgBackend<'a> {
    body: &'a mut String,
    width: u32,
    height: u32,
}

impl<'a> SvgBackend<'a> {
    /// A drawing of this size in drawing units that is appended to `body`.
    pub(crate) fn new(body: &'a mut String, width: u32, height: u32) -> Self {
        Self {
            body,
            width,
            height,
        }
    }

    fn shape(&mut self, name: &str, attributes: std::fmt::Arguments<'_>, color: BackendColor) {
        // Writing to a string cannot fail.
        let _ = writeln!(
            self.body,
            r#"<{name} class="{}" {attributes}/>"#,
            Ink::class(color)
        );
    }
}

type Drawn = Result<(), DrawingErrorKind<Infallible>>;

impl DrawingBackend for SvgBackend<'_> {
    type ErrorType = Infallible;

    fn get_size(&self) -> (u32, u32) {
        (self.width, self.height)
    }

    fn ensure_prepared(&mut self) -> Drawn {
        Ok(())
    }

    fn present(&mut self) -> Drawn {
        Ok(())
    }

    fn draw_pixel(&mut self, (x, y): BackendCoord, color: BackendColor) -> Drawn {
        self.shape(
            "rect",
            format_args!(r#"x="{x}" y="{y}" width="1" height="1""#),
            color,
        );
        Ok(())
    }

    fn draw_line<S: BackendStyle>(
        &mut self,
        from: BackendCoord,
        to: BackendCoord,
        style: &S,
    ) -> Drawn {
        self.draw_path([from, to], style)
    }

    fn draw_rect<S: BackendStyle>(
        &mut self,
        (left, top): BackendCoord,
        (right, bottom): BackendCoord,
        style: &S,
        _fill: bool,
    ) -> Drawn {
        let (width, height) = ((right - left).abs(), (bottom - top).abs());
        let (x, y) = (left.min(right), top.min(bottom));
        let place = format_args!(r#"x="{x}" y="{y}" width="{width}" height="{height}""#);
        self.shape("rect", place, style.color());
        Ok(())
    }

    fn draw_path<S: BackendStyle, I: IntoIterator<Item = BackendCoord>>(
        &mut self,
        path: I,
        style: &S,
    ) -> Drawn {
        self.shape(
            "path",
            format_args!(r#"d="{}""#, steps(path)),
            style.color(),
        );
        Ok(())
    }

    fn draw_circle<S: BackendStyle>(
        &mut self,
        (x, y): BackendCoord,
        radius: u32,
        style: &S,
        _fill: bool,
    ) -> Drawn {
        self.shape(
            "circle",
            format_args!(r#"cx="{x}" cy="{y}" r="{radius}""#),
            style.color(),
        );
        Ok(())
    }

    fn fill_polygon<S: BackendStyle, I: IntoIterator<Item = BackendCoord>>(
        &mut self,
        corners: I,
        style: &S,
    ) -> Drawn {
        self.shape(
            "path",
            format_args!(r#"d="{}z""#, steps(corners)),
            style.color(),
        );
        Ok(())
    }

    fn draw_text<S: BackendTextStyle>(
        &mut self,
        text: &str,
        style: &S,
        (x, y): BackendCoord,
    ) -> Drawn {
        let size = style.size();
        let anchor = match style.anchor().h_pos {
            HPos::Left => "",
            HPos::Center => r#" text-anchor="middle""#,
            HPos::Right => r#" text-anchor="end""#,
        };
        let drop = match style.anchor().v_pos {
            VPos::Top => 0.76,
            VPos::Center => 0.35,
            VPos::Bottom => -0.22,
        };
        let weight = match style.style() {
            FontStyle::Bold => r#" font-weight="600""#,
            _ => "",
        };
        let turn = match style.transform() {
            FontTransform::None => String::new(),
            FontTransform::Rotate90 => format!(r#" transform="rotate(90 {x} {y})""#),
            FontTransform::Rotate180 => format!(r#" transform="rotate(180 {x} {y})""#),
            FontTransform::Rotate270 => format!(r#" transform="rotate(-90 {x} {y})""#),
        };
        let _ = writeln!(
            self.body,
            r#"<text class="{}" x="{x}" y="{:.0}" font-size="{size:.0}"{anchor}{weight}{turn}>{}</text>"#,
            Ink::class(style.color()),
            f64::from(y) + drop * size,
            escaped(text),
        );
        Ok(())
    }
}

/// Path data with relative, horizontal and vertical steps; points that change nothing are left out.
fn steps(path: impl IntoIterator<Item = BackendCoord>) -> String {
    let mut out = String::new();
    let mut here: Option<BackendCoord> = None;
    for (x, y) in corners(path) {
        let _ = match here.map(|(from_x, from_y)| (x - from_x, y - from_y)) {
            None => write!(out, "M{x} {y}"),
            Some((0, 0)) => Ok(()),
            Some((across, 0)) => write!(out, "h{across}"),
            Some((0, down)) => write!(out, "v{down}"),
            Some((across, down)) => write!(out, "l{across} {down}"),
        };
        here = Some((x, y));
    }
    out
}

/// The same path without points in the middle of a straight run along one axis.
fn corners(path: impl IntoIterator<Item = BackendCoord>) -> Vec<BackendCoord> {
    let mut corners: Vec<BackendCoord> = Vec::new();
    for point in path {
        if let [.., before, middle] = corners.as_slice()
            && is_between(*before, *middle, point)
        {
            corners.pop();
        }
        corners.push(point);
    }
    corners
}

fn is_between(before: BackendCoord, middle: BackendCoord, after: BackendCoord) -> bool {
    let lies = |from: i32, at: i32, to: i32| from.min(to) <= at && at <= from.max(to);
    (before.1 == middle.1 && middle.1 == after.1 && lies(before.0, middle.0, after.0))
        || (before.0 == middle.0 && middle.0 == after.0 && lies(before.1, middle.1, after.1))
}

/// Text with the characters that mean something to a parser of markup written as entities.
pub(crate) fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for character in text.chars() {
        match character {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            other => out.push(other),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_step_curve_is_written_with_single_letters() {
        let path = [
            (0, 100),
            (40, 100),
            (40, 100),
            (40, 60),
            (90, 60),
            (100, 50),
        ];
        assert_eq!(steps(path), "M0 100h40v-40h50l10 -10");
    }

    #[test]
    fn a_straight_run_is_one_step_and_a_way_back_is_kept() {
        assert_eq!(steps([(0, 0), (10, 0), (30, 0), (30, 5)]), "M0 0h30v5");
        assert_eq!(steps([(0, 0), (10, 0), (0, 0)]), "M0 0h10h-10");
    }

    #[test]
    fn markup_in_a_label_stays_text() {
        assert_eq!(
            escaped("</text><script a='b'>&"),
            "&lt;/text&gt;&lt;script a=&#39;b&#39;&gt;&amp;"
        );
    }
}
