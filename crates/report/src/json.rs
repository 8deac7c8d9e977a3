//! JSON whose numbers do not depend on the last bits of a machine's arithmetic.

use crate::RenderError;
use outcomes::dataset::rounded;
use serde::Serialize;
use serde_json::ser::{Formatter, PrettyFormatter, Serializer};
use std::io;

/// The value as indented JSON with a final line feed.
pub(crate) fn pretty<T: Serialize>(value: &T) -> Result<String, RenderError> {
    let mut bytes = Vec::new();
    let formatter = RoundedNumbers(PrettyFormatter::new());
    value.serialize(&mut Serializer::with_formatter(&mut bytes, formatter))?;
    bytes.push(b'\n');
    String::from_utf8(bytes)
        .map_err(|fault| RenderError::Json(serde::ser::Error::custom(fault.utf8_error())))
}

/// Indents as `PrettyFormatter` does and rounds every floating number.
struct RoundedNumbers(PrettyFormatter<'static>);

impl Formatter for RoundedNumbers {
    fn write_f64<W: ?Sized + io::Write>(&mut self, writer: &mut W, value: f64) -> io::Result<()> {
        self.0.write_f64(writer, rounded(value))
    }

    fn begin_array<W: ?Sized + io::Write>(&mut self, writer: &mut W) -> io::Result<()> {
        self.0.begin_array(writer)
    }

    fn end_array<W: ?Sized + io::Write>(&mut self, writer: &mut W) -> io::Result<()> {
        self.0.end_array(writer)
    }

    fn begin_array_value<W: ?Sized + io::Write>(
        &mut self,
        writer: &mut W,
        first: bool,
    ) -> io::Result<()> {
        self.0.begin_array_value(writer, first)
    }

    fn end_array_value<W: ?Sized + io::Write>(&mut self, writer: &mut W) -> io::Result<()> {
        self.0.end_array_value(writer)
    }

    fn begin_object<W: ?Sized + io::Write>(&mut self, writer: &mut W) -> io::Result<()> {
        self.0.begin_object(writer)
    }

    fn end_object<W: ?Sized + io::Write>(&mut self, writer: &mut W) -> io::Result<()> {
        self.0.end_object(writer)
    }

    fn begin_object_key<W: ?Sized + io::Write>(
        &mut self,
        writer: &mut W,
        first: bool,
    ) -> io::Result<()> {
        self.0.begin_object_key(writer, first)
    }

    fn begin_object_value<W: ?Sized + io::Write>(&mut self, writer: &mut W) -> io::Result<()> {
        self.0.begin_object_value(writer)
    }

    fn end_object_value<W: ?Sized + io::Write>(&mut self, writer: &mut W) -> io::Result<()> {
        self.0.end_object_value(writer)
    }
}

#[cfg(test)]
mod tests {
    use super::pretty;

    #[test]
    fn the_last_bits_of_a_sum_do_not_reach_the_page() {
        assert_eq!(
            pretty(&vec![0.1 + 0.2, 1.0 / 3.0]).unwrap(),
            "[\n  0.3,\n  0.3333333333\n]\n"
        );
    }

    #[test]
    fn minus_zero_is_zero_and_an_infinite_number_is_null() {
        assert_eq!(
            pretty(&vec![-0.0, f64::INFINITY]).unwrap(),
            "[\n  0.0,\n  null\n]\n"
        );
    }
}
