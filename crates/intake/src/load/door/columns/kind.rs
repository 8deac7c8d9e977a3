//! What a column holds, and how a value of it is written as text.

use super::fault::Fault;
use chrono::{DateTime, Datelike, NaiveDate, NaiveDateTime, NaiveTime, Timelike};
use parquet::basic::{ConvertedType, LogicalType, TimeUnit, Type};
use parquet::schema::types::ColumnDescriptor;
use std::fmt::Write as _;

/// How the values of a column are stored.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Stored {
    Bit,
    I32,
    I64,
    I96,
    F32,
    F64,
    Bytes,
    /// So many bytes each.
    Fixed(usize),
}

/// What they mean.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Meaning {
    YesNo,
    Text,
    Whole {
        is_signed: bool,
    },
    Real,
    /// Whole numbers with a decimal point so many places from the right.
    Decimal(usize),
    /// Days since 1970.
    Date,
    Time(Tick),
    /// A time on a calendar day; an instant is one of the world and has a day only at an offset from UTC.
    Moment {
        tick: Tick,
        is_instant: bool,
    },
    Uuid,
}

/// The unit of a time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Tick {
    Milli,
    Micro,
    Nano,
}

impl Tick {
    const fn a_second(self) -> i64 {
        match self {
            Self::Milli => 1_000,
            Self::Micro => 1_000_000,
            Self::Nano => 1_000_000_000,
        }
    }
}

/// A stored value.
#[derive(Debug, Clone, Copy)]
pub(super) enum Value<'v> {
    Bit(bool),
    I32(i32),
    I64(i64),
    /// Nanoseconds of the day, then the Julian day.
    I96(i64, u32),
    F32(f32),
    F64(f64),
    Bytes(&'v [u8]),
}

/// A column's type, as far as it is read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Kind {
    pub(super) stored: Stored,
    pub(super) meaning: Meaning,
    /// Whether a cell may be missing.
    pub(super) is_optional: bool,
}

impl Kind {
    /// The kind of a column, or why it is not read. A column that repeats or stands in a group has no cells.
    pub(super) fn of(column: &ColumnDescriptor, place: usize) -> Result<Self, Fault> {
        let refused = |why, hint| Fault::Column { place, why, hint };
        if column.path().parts().len() != 1 || column.max_rep_level() != 0 {
            return Err(refused(
                "holds lists or groups, which a cell cannot hold",
                "flatten it, or leave it out of the export",
            ));
        }
        let stored = match column.physical_type() {
            Type::BOOLEAN => Stored::Bit,
            Type::INT32 => Stored::I32,
            Type::INT64 => Stored::I64,
            Type::INT96 => Stored::I96,
            Type::FLOAT => Stored::F32,
            Type::DOUBLE => Stored::F64,
            Type::BYTE_ARRAY => Stored::Bytes,
            Type::FIXED_LEN_BYTE_ARRAY => match usize::try_from(column.type_length()) {
                Ok(n) if n > 0 => Stored::Fixed(n),
                _ => return Err(Fault::Damaged("a column of values without length")),
            },
        };
        let meaning = meaning(column, stored).ok_or(refused(
            "is of a type that this program does not read",
            "export it as text, number, date or yes and no, or leave it out",
        ))?;
        Ok(Self {
            stored,
            meaning,
            is_optional: column.max_def_level() == 1,
        })
    }

    /// Whether its cells are dates written our way, whatever the layout declares.
    pub(super) const fn is_date(self) -> bool {
        matches!(self.meaning, Meaning::Date | Meaning::Moment { .. })
    }

    /// Whether its cells are written our way at all.
    pub(super) const fn is_typed(self) -> bool {
        !matches!(self.meaning, Meaning::Text | Meaning::Uuid)
    }
}

fn meaning(column: &ColumnDescriptor, stored: Stored) -> Option<Meaning> {
    let scale = || {
        usize::try_from(column.type_scale())
            .ok()
            .filter(|n| *n <= 38)
    };
    let logical = column.logical_type_ref();
    let is_decimal = matches!(logical, Some(LogicalType::Decimal(_)))
        || logical.is_none() && column.converted_type() == ConvertedType::DECIMAL;
    if is_decimal {
        let may_be = matches!(
            stored,
            Stored::I32 | Stored::I64 | Stored::Bytes | Stored::Fixed(1..=16)
        );
        return may_be.then_some(Meaning::Decimal(scale()?));
    }
    if let Some(logical) = logical {
        return of_logical(logical, stored);
    }
    let tick = |tick| Meaning::Moment {
        tick,
        is_instant: true,
    };
    Some(match (column.converted_type(), stored) {
        (ConvertedType::NONE, _) => plain(stored),
        (ConvertedType::UTF8 | ConvertedType::ENUM | ConvertedType::JSON, Stored::Bytes) => {
            Meaning::Text
        }
        (ConvertedType::DATE, Stored::I32) => Meaning::Date,
        (ConvertedType::TIME_MILLIS, Stored::I32) => Meaning::Time(Tick::Milli),
        (ConvertedType::TIME_MICROS, Stored::I64) => Meaning::Time(Tick::Micro),
        // the older words for a time of day always mean UTC: `LogicalTypes.md` of the format
        (ConvertedType::TIMESTAMP_MILLIS, Stored::I64) => tick(Tick::Milli),
        (ConvertedType::TIMESTAMP_MICROS, Stored::I64) => tick(Tick::Micro),
        (
            ConvertedType::UINT_8
            | ConvertedType::UINT_16
            | ConvertedType::UINT_32
            | ConvertedType::UINT_64,
            Stored::I32 | Stored::I64,
        ) => Meaning::Whole { is_signed: false },
        (
            ConvertedType::INT_8
            | ConvertedType::INT_16
            | ConvertedType::INT_32
            | ConvertedType::INT_64,
            Stored::I32 | Stored::I64,
        ) => Meaning::Whole { is_signed: true },
        _ => return None,
    })
}

/// The meaning of a column that says nothing of it.
const fn plain(stored: Stored) -> Meaning {
    match stored {
        Stored::Bit => Meaning::YesNo,
        Stored::I32 | Stored::I64 => Meaning::Whole { is_signed: true },
        Stored::I96 => Meaning::Moment {
            tick: Tick::Nano,
            is_instant: true,
        },
        Stored::F32 | Stored::F64 => Meaning::Real,
        Stored::Bytes | Stored::Fixed(_) => Meaning::Text,
    }
}

fn of_logical(logical: &LogicalType, stored: Stored) -> Option<Meaning> {
    Some(match (logical, stored) {
        (LogicalType::String | LogicalType::Enum | LogicalType::Json, Stored::Bytes) => {
            Meaning::Text
        }
        (LogicalType::Date, Stored::I32) => Meaning::Date,
        (LogicalType::Integer(whole), Stored::I32 | Stored::I64) => Meaning::Whole {
            is_signed: whole.is_signed,
        },
        (LogicalType::Time(time), Stored::I32 | Stored::I64) => Meaning::Time(tick(time.unit)),
        (LogicalType::Timestamp(moment), Stored::I64) => Meaning::Moment {
            tick: tick(moment.unit),
            is_instant: moment.is_adjusted_to_u_t_c,
        },
        (LogicalType::Uuid, Stored::Fixed(16)) => Meaning::Uuid,
        // a column of nothing but missing cells
        (LogicalType::Unknown, _) => plain(stored),
        _ => return None,
    })
}

const fn tick(unit: TimeUnit) -> Tick {
    match unit {
        TimeUnit::MILLIS => Tick::Milli,
        TimeUnit::MICROS => Tick::Micro,
        TimeUnit::NANOS => Tick::Nano,
    }
}

/// Why a value has no text.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct NotText;

/// Writes a value: ISO dates, decimal points, no exponents, `true` and `false`. Gives whether an instant is at another time
/// of its day than midnight. A date beyond the calendar is written as the number it is stored as, which is no date.
pub(super) fn write(
    value: Value<'_>,
    meaning: Meaning,
    utc_offset_minutes: i32,
    out: &mut String,
) -> Result<bool, NotText> {
    let mut has_time = false;
    let written = match (value, meaning) {
        (Value::Bit(is_yes), _) => {
            out.push_str(if is_yes { "true" } else { "false" });
            Ok(())
        }
        (Value::Bytes(bytes), Meaning::Decimal(scale)) => {
            decimal(big_endian(bytes).ok_or(NotText)?, scale, out)
        }
        (Value::Bytes(bytes), Meaning::Uuid) => uuid(bytes, out),
        (Value::Bytes(bytes), _) => {
            out.push_str(std::str::from_utf8(bytes).map_err(|_| NotText)?);
            Ok(())
        }
        (Value::I32(days), Meaning::Date) => match day(days) {
            Some(date) => date_text(date, out),
            None => write!(out, "{days}"),
        },
        (Value::I32(value), meaning) => whole(i64::from(value), true, meaning, out),
        (Value::I64(value), Meaning::Moment { tick, is_instant }) => {
            let moment = moment(value, tick, if is_instant { utc_offset_minutes } else { 0 });
            has_time = is_instant && moment.is_some_and(|moment| moment.time() != NaiveTime::MIN);
            match moment {
                Some(moment) => moment_text(moment, out),
                None => write!(out, "{value}"),
            }
        }
        (Value::I64(value), meaning) => whole(value, false, meaning, out),
        (Value::I96(nanos, julian_day), _) => {
            // the Julian day of 1 January 1970
            let days = i64::from(julian_day) - 2_440_588;
            let nanos = days
                .checked_mul(86_400 * Tick::Nano.a_second())
                .and_then(|start| start.checked_add(nanos));
            let moment = nanos.and_then(|nanos| moment(nanos, Tick::Nano, utc_offset_minutes));
            has_time = moment.is_some_and(|moment| moment.time() != NaiveTime::MIN);
            match moment {
                Some(moment) => moment_text(moment, out),
                None => write!(out, "{julian_day}"),
            }
        }
        (Value::F32(value), _) => write!(out, "{value}"),
        (Value::F64(value), _) => write!(out, "{value}"),
    };
    written.map_err(|_| NotText)?;
    Ok(has_time)
}

fn whole(value: i64, is_narrow: bool, meaning: Meaning, out: &mut String) -> std::fmt::Result {
    match meaning {
        Meaning::Decimal(scale) => decimal(i128::from(value), scale, out),
        Meaning::Time(tick) => time_text(value, tick, out),
        Meaning::Whole { is_signed: false } if is_narrow => {
            write!(out, "{}", value.cast_unsigned() & u64::from(u32::MAX))
        }
        Meaning::Whole { is_signed: false } => write!(out, "{}", value.cast_unsigned()),
        _ => write!(out, "{value}"),
    }
}

fn day(days: i32) -> Option<NaiveDate> {
    // days from the first day of the calendar to 1 January 1970
    NaiveDate::from_num_days_from_ce_opt(days.checked_add(719_163)?)
        .filter(|date| (0..=9999).contains(&date.year()))
}

fn date_text(date: NaiveDate, out: &mut String) -> std::fmt::Result {
    write!(
        out,
        "{:04}-{:02}-{:02}",
        date.year(),
        date.month(),
        date.day()
    )
}

fn moment(value: i64, tick: Tick, offset_minutes: i32) -> Option<NaiveDateTime> {
    let a_second = tick.a_second();
    let seconds = value.div_euclid(a_second) + i64::from(offset_minutes) * 60;
    let nanos = value.rem_euclid(a_second) * (Tick::Nano.a_second() / a_second);
    DateTime::from_timestamp(seconds, u32::try_from(nanos).ok()?)
        .map(|moment| moment.naive_utc())
        .filter(|moment| (0..=9999).contains(&moment.year()))
}

/// A day, and the time of it unless it is midnight.
fn moment_text(moment: NaiveDateTime, out: &mut String) -> std::fmt::Result {
    date_text(moment.date(), out)?;
    let time = moment.time();
    if time == NaiveTime::MIN {
        return Ok(());
    }
    write!(
        out,
        "T{:02}:{:02}:{:02}",
        time.hour(),
        time.minute(),
        time.second()
    )?;
    match time.nanosecond() {
        0 => Ok(()),
        nanos => write!(out, ".{nanos:09}"),
    }
}

fn time_text(value: i64, tick: Tick, out: &mut String) -> std::fmt::Result {
    let seconds = value.div_euclid(tick.a_second());
    write!(
        out,
        "{:02}:{:02}:{:02}",
        seconds / 3600,
        seconds / 60 % 60,
        seconds % 60
    )
}

fn decimal(value: i128, scale: usize, out: &mut String) -> std::fmt::Result {
    if scale == 0 {
        return write!(out, "{value}");
    }
    let power = 10_u128.pow(u32::try_from(scale).unwrap_or(0).min(38));
    let sign = if value < 0 { "-" } else { "" };
    let size = value.unsigned_abs();
    write!(out, "{sign}{}.{:0scale$}", size / power, size % power)
}

/// A number of up to sixteen bytes, greatest byte first, with its sign.
fn big_endian(bytes: &[u8]) -> Option<i128> {
    let first = bytes.first()?;
    if bytes.len() > 16 {
        return None;
    }
    let start = if *first >= 0x80 { -1 } else { 0 };
    Some(
        bytes
            .iter()
            .fold(start, |value: i128, byte| (value << 8) | i128::from(*byte)),
    )
}

fn uuid(bytes: &[u8], out: &mut String) -> std::fmt::Result {
    for (place, byte) in bytes.iter().enumerate() {
        if matches!(place, 4 | 6 | 8 | 10) {
            out.push('-');
        }
        write!(out, "{byte:02x}")?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn text(value: Value<'_>, meaning: Meaning, offset: i32) -> String {
        let mut out = String::new();
        write(value, meaning, offset, &mut out).unwrap();
        out
    }

    /// Expected texts: Python 3 (`datetime`, `decimal`, `struct`) on the same stored values.
    #[test]
    fn values_are_written_as_an_independent_language_writes_them() {
        let moment = |is_instant| Meaning::Moment {
            tick: Tick::Micro,
            is_instant,
        };
        // 2025-11-03 14:20:00.123456
        let at = Value::I64(1_762_179_600_123_456);
        for (value, meaning, offset, expected) in [
            (Value::I32(20_395), Meaning::Date, 0, "2025-11-03"),
            (Value::I32(-1), Meaning::Date, 0, "1969-12-31"),
            (Value::I32(i32::MAX), Meaning::Date, 0, "2147483647"),
            (at, moment(false), 600, "2025-11-03T14:20:00.123456000"),
            (at, moment(true), 600, "2025-11-04T00:20:00.123456000"),
            (at, moment(true), -900, "2025-11-02T23:20:00.123456000"),
            (
                Value::I64(1_762_128_000_000_000),
                moment(true),
                0,
                "2025-11-03",
            ),
            (
                Value::I64(i64::MIN),
                moment(true),
                0,
                "-9223372036854775808",
            ),
            (Value::I96(0, 2_460_983), moment(true), 0, "2025-11-03"),
            (Value::I32(530), Meaning::Decimal(2), 0, "5.30"),
            (Value::I64(-5), Meaning::Decimal(3), 0, "-0.005"),
            (Value::Bytes(&[0xff, 0x38]), Meaning::Decimal(1), 0, "-20.0"),
            (
                Value::I32(-1),
                Meaning::Whole { is_signed: false },
                0,
                "4294967295",
            ),
            (
                Value::I64(-1),
                Meaning::Whole { is_signed: false },
                0,
                "18446744073709551615",
            ),
            (Value::F32(5.3), Meaning::Real, 0, "5.3"),
            (Value::F64(17.0), Meaning::Real, 0, "17"),
            (
                Value::F64(1e22),
                Meaning::Real,
                0,
                "10000000000000000000000",
            ),
            (
                Value::I32(51_600_000),
                Meaning::Time(Tick::Milli),
                0,
                "14:20:00",
            ),
        ] {
            assert_eq!(text(value, meaning, offset), expected, "{value:?}");
        }
        let id: Vec<u8> = (0..16).collect();
        assert_eq!(
            text(Value::Bytes(&id), Meaning::Uuid, 0),
            "00010203-0405-0607-0809-0a0b0c0d0e0f"
        );
        let mut out = String::new();
        let bytes = Value::Bytes(&[0xff]);
        assert_eq!(write(bytes, Meaning::Text, 0, &mut out), Err(NotText));
        let none = Value::Bytes(&[]);
        assert_eq!(write(none, Meaning::Decimal(1), 0, &mut out), Err(NotText));
    }
}
