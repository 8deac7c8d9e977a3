//! Names and calendar days that several parts of the export share.

use crate::scenario::Scenario;
use chrono::{Datelike, Days, NaiveDate, Weekday};

/// Largest five-digit prime: its remainders have inverses, and taking them permutes the numbers below it.
const BLOCK: u64 = 99_991;

/// The pseudonymous id of a patient number; ids do not rise with the date of arrival.
pub(crate) fn patient_id(seed: u64, number: u64) -> String {
    let block = number / BLOCK;
    let place = inverse((number % BLOCK + seed % BLOCK) % BLOCK);
    format!("TW-{:05}", block * 100_000 + place + 1)
}

/// Inverse of a remainder, by Fermat's little theorem; 0 stays 0.
fn inverse(remainder: u64) -> u64 {
    let (mut power, mut base, mut exponent) = (1, remainder, BLOCK - 2);
    while exponent > 0 {
        if exponent % 2 == 1 {
            power = power * base % BLOCK;
        }
        base = base * base % BLOCK;
        exponent /= 2;
    }
    if remainder == 0 { 0 } else { power }
}

/// The label of the n-th lesion of a person, counted from 0: A to Z, then AA, AB.
pub(crate) fn label(position: usize) -> String {
    let letter = |n: usize| char::from(b'A' + u8::try_from(n % 26).unwrap_or(0));
    match position / 26 {
        0 => letter(position).to_string(),
        round => format!("{}{}", letter(round - 1), letter(position)),
    }
}

/// The first calendar day on or after this one on which the practice is open.
pub(crate) fn open_day(scenario: &Scenario, day: i32) -> i32 {
    if !scenario.visits.weekdays_only {
        return day;
    }
    match date(scenario, day).weekday() {
        Weekday::Sat => day + 2,
        Weekday::Sun => day + 1,
        _ => day,
    }
}

/// The date of a day counted from data start.
pub(crate) fn date(scenario: &Scenario, day: i32) -> NaiveDate {
    let shift = Days::new(u64::from(day.unsigned_abs()));
    let date = if day < 0 {
        scenario.data_start.checked_sub_days(shift)
    } else {
        scenario.data_start.checked_add_days(shift)
    };
    date.unwrap_or(scenario.data_start)
}

/// The whole day by which something of this moment is visible: a visit on a day sees all that came up to its start.
pub(crate) fn visible_day(moment: f64) -> i32 {
    moment.ceil() as i32
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    #[test]
    fn no_two_patients_share_an_id() {
        let ids: BTreeSet<String> = (0..250_000)
            .map(|number| patient_id(20_230_101, number))
            .collect();
        assert_eq!(ids.len(), 250_000);
    }

    #[test]
    fn labels_go_on_after_z() {
        assert_eq!([0, 25, 26, 27, 52].map(label), ["A", "Z", "AA", "AB", "BA"]);
    }

    #[test]
    fn a_weekend_day_moves_to_monday() {
        let scenario = Scenario::default();
        // 1 January 2023 was a Sunday.
        assert_eq!(
            [-1, 0, 1, 5, 6].map(|day| open_day(&scenario, day)),
            [1, 1, 1, 5, 8]
        );
    }
}
