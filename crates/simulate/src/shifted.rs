//! The wide export once more with shifted dates: all dates of a person moved by one number of days, as a clinic may do before it
//! hands rows on. Whatever is not a day of the calendar, the typist's mistakes included, stays as it is.

use crate::chance::{Chance, Purpose};
use chrono::{Days, NaiveDate};
use std::collections::BTreeMap;
use std::io::{self, Read, Write};

/// Keeps the shifts apart from every other draw of the same seed.
const APART: u64 = 0x5eed_0f5f_1f75_0001;

/// How the wide export writes its dates.
const FORM: &str = "%d/%m/%Y";

/// Writes a wide export with every person's dates moved by whole weeks, at most `most_days` either way and never none. People are
/// told apart by the first column; the same seed gives the same shifts.
///
/// # Errors
/// Of reading and writing; `most_days` under a week leaves no shift and is invalid input.
pub fn write_shifted(wide: impl Read, to: impl Write, seed: u64, most_days: u32) -> io::Result<()> {
    let most_weeks = i32::try_from(most_days / 7).unwrap_or(i32::MAX);
    if most_weeks == 0 {
        let message = "dates are shifted by whole weeks, so at most 7 days or more";
        return Err(io::Error::new(io::ErrorKind::InvalidInput, message));
    }
    let mut rows = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .from_reader(wide);
    let mut written = csv::WriterBuilder::new().flexible(true).from_writer(to);
    let mut shifts: BTreeMap<String, i64> = BTreeMap::new();
    for (number, row) in rows.records().enumerate() {
        let row = row?;
        if number == 0 {
            written.write_record(&row)?;
            continue;
        }
        let next = shifts.len() as u64;
        let person = row.get(0).unwrap_or_default();
        let days = match shifts.get(person) {
            Some(days) => *days,
            None => {
                let days = shift(seed, next, most_weeks);
                shifts.insert(person.to_owned(), days);
                days
            }
        };
        written.write_record(row.iter().map(|cell| moved(cell, days)))?;
    }
    written.flush()
}

/// Whole weeks, as many forwards as back, never none: weekdays stay what they were.
fn shift(seed: u64, person: u64, most_weeks: i32) -> i64 {
    let mut chance = Chance::of_patient(seed ^ APART, person, Purpose::Writing);
    let weeks = chance.whole(1, most_weeks);
    let weeks = if chance.happens(0.5) { weeks } else { -weeks };
    i64::from(weeks) * 7
}

fn moved(cell: &str, days: i64) -> String {
    let count = Days::new(days.unsigned_abs());
    let date = NaiveDate::parse_from_str(cell, FORM).ok().and_then(|date| {
        if days < 0 {
            date.checked_sub_days(count)
        } else {
            date.checked_add_days(count)
        }
    });
    date.map_or_else(|| cell.to_owned(), |date| date.format(FORM).to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dates_of_a_person_move_together_and_nothing_else_moves() {
        let wide = "id,seen,next,size\n\
                    a,01/03/2025,15/03/2025,31\n\
                    b,01/03/2025,,7\n\
                    a,29/02/2024,31/02/2025,01/2025\n";
        let shifted = |seed| {
            let mut out = Vec::new();
            write_shifted(wide.as_bytes(), &mut out, seed, 60).unwrap();
            String::from_utf8(out).unwrap()
        };
        let text = shifted(1);
        assert_eq!(text, shifted(1));
        assert!((2..9).any(|seed| shifted(seed) != text));
        let day = |cell: &str| NaiveDate::parse_from_str(cell, FORM).unwrap();
        let rows: Vec<Vec<&str>> = text.lines().map(|line| line.split(',').collect()).collect();
        assert_eq!(rows[0], ["id", "seen", "next", "size"]);
        // hand-worked: 1 March to 15 March is 14 days, 29 February 2024 to 1 March 2025 is 366
        assert_eq!((day(rows[1][2]) - day(rows[1][1])).num_days(), 14);
        assert_eq!((day(rows[1][1]) - day(rows[3][1])).num_days(), 366);
        for row in [1, 2] {
            let days = (day(rows[row][1]) - day("01/03/2025")).num_days();
            assert!(days != 0 && days % 7 == 0 && days.abs() <= 60, "{days}");
        }
        assert_eq!((rows[3][2], rows[3][3]), ("31/02/2025", "01/2025"));
        assert_eq!((rows[2][2], rows[1][3]), ("", "31"));
        assert!(write_shifted(wide.as_bytes(), Vec::new(), 1, 6).is_err());
    }
}
