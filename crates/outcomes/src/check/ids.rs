//! Whether pseudonymous ids look derived from something, or numbered in a row.
//!
//! Only what the export itself shows is said. Ids that pass may still have been derived.

use super::found;
use crate::finding::Finding;
use crate::tables::{Patient, Tables};
use chrono::{Datelike, NaiveDate};

/// Fewer people show no pattern.
const FEWEST: usize = 20;
/// Rank correlation from which an order is taken for no accident; of 20 people at random fewer than 1 set in a million reaches it.
const FOLLOWS: f64 = 0.9;

const ADVICE: &str = "draw ids at random, keep the key at the practice, and derive them from nothing (compare 45 CFR 164.514(c))";

/// Looks at the ids of everybody. For `check` alone: it says how the export was made, not what is wrong with a row.
pub fn check_ids(tables: &Tables) -> Vec<Finding> {
    let mut findings = Vec::new();
    if tables.patients.len() < FEWEST {
        return findings;
    }
    let mut note = |check, message| {
        let finding = found(check, Default::default(), message).with_hint(ADVICE);
        findings.push(Finding {
            source: None,
            ..finding
        });
    };
    if run_on(&tables.patients) {
        note(
            "ids-run-on",
            "the patient ids are numbers that run on almost without gaps, as list positions and record numbers do",
        );
    }
    let first = first_days(tables);
    let first_day = |place: u32| first.get(place as usize).copied().flatten();
    if follows(&tables.patients, |place, _| first_day(place)) {
        note(
            "ids-follow-first-visit",
            "the patient ids are in the order of the first visits: who knows when a person came can find the id",
        );
    }
    if follows(&tables.patients, |_, patient| patient.birth_year) {
        note(
            "ids-follow-birth-year",
            "the patient ids are in the order of the years of birth",
        );
    }
    if hold(&tables.patients, |_, patient| {
        patient.birth_year.map(|year| vec![year.to_string()])
    }) {
        note(
            "ids-hold-birth-year",
            "most patient ids hold the year of birth of their person",
        );
    }
    if hold(&tables.patients, |place, _| first_day(place).map(written)) {
        note(
            "ids-hold-first-visit",
            "most patient ids hold the date of the first visit of their person",
        );
    }
    if look_hashed(&tables.patients) {
        note(
            "ids-look-hashed",
            "the patient ids are hexadecimal words of one length; from the export alone a random id and a hash cannot be told apart, and a hash of a record number without a secret key is undone by trying every number",
        );
    }
    findings
}

/// The day of the first visit of each person.
fn first_days(tables: &Tables) -> Vec<Option<NaiveDate>> {
    let mut first: Vec<Option<NaiveDate>> = vec![None; tables.patients.len()];
    for visit in &tables.visits {
        if let Some(day) = first.get_mut(visit.patient.0 as usize) {
            *day = Some(day.map_or(visit.date, |known| known.min(visit.date)));
        }
    }
    first
}

/// Whether all ids are one beginning and a number, and the numbers fill at least half of their span.
fn run_on(patients: &[Patient]) -> bool {
    let split = |id: &str| {
        let start = id
            .trim_end_matches(|letter: char| letter.is_ascii_digit())
            .len();
        let number = id.get(start..)?.parse::<u64>().ok()?;
        Some((id.get(..start)?.to_owned(), number))
    };
    let Some(ids) = patients
        .iter()
        .map(|patient| split(&patient.id))
        .collect::<Option<Vec<(String, u64)>>>()
    else {
        return false;
    };
    let is_one_form = ids.windows(2).all(|pair| pair[0].0 == pair[1].0);
    let numbers = || ids.iter().map(|(_, number)| *number);
    let (Some(least), Some(most)) = (numbers().min(), numbers().max()) else {
        return false;
    };
    is_one_form && (most - least) / 2 < ids.len() as u64
}

/// Whether the order of the ids follows, or runs against, something known of the people (Spearman's rank correlation).
fn follows<T: Ord + Copy>(patients: &[Patient], of: impl Fn(u32, &Patient) -> Option<T>) -> bool {
    let known: Vec<(&str, T)> = (0..)
        .zip(patients)
        .filter_map(|(place, patient)| Some((patient.id.as_str(), of(place, patient)?)))
        .collect();
    if known.len() < FEWEST {
        return false;
    }
    let ids = ranks(&known, |(id, _)| (id.len(), *id));
    let values = ranks(&known, |(_, value)| *value);
    correlation(&ids, &values).is_some_and(|rho| rho.abs() > FOLLOWS)
}

/// Ranks with ties shared.
fn ranks<'k, T, K: Ord + 'k>(known: &'k [T], key: impl Fn(&'k T) -> K) -> Vec<f64> {
    let mut order: Vec<usize> = (0..known.len()).collect();
    order.sort_by_key(|place| key(&known[*place]));
    let mut ranks = vec![0.0; known.len()];
    let mut n_before = 0;
    for tied in order.chunk_by(|left, right| key(&known[*left]) == key(&known[*right])) {
        let rank = n_before as f64 + (tied.len() - 1) as f64 / 2.0;
        for place in tied {
            ranks[*place] = rank;
        }
        n_before += tied.len();
    }
    ranks
}

fn correlation(left: &[f64], right: &[f64]) -> Option<f64> {
    let mean = |values: &[f64]| values.iter().sum::<f64>() / values.len() as f64;
    let (mean_left, mean_right) = (mean(left), mean(right));
    let mut sums = [0.0; 3];
    for (left, right) in left.iter().zip(right) {
        let (left, right) = (left - mean_left, right - mean_right);
        sums[0] += left * right;
        sums[1] += left * left;
        sums[2] += right * right;
    }
    let scale = (sums[1] * sums[2]).sqrt();
    (scale > 0.0).then(|| sums[0] / scale)
}

/// Whether at least half of the ids hold one of the spellings of something known of their own person.
fn hold(patients: &[Patient], of: impl Fn(u32, &Patient) -> Option<Vec<String>>) -> bool {
    let known: Vec<bool> = (0..)
        .zip(patients)
        .filter_map(|(place, patient)| {
            let spellings = of(place, patient)?;
            Some(
                spellings
                    .iter()
                    .any(|spelling| patient.id.contains(spelling.as_str())),
            )
        })
        .collect();
    let n_held = known.iter().filter(|is_held| **is_held).count();
    known.len() >= FEWEST && 2 * n_held >= known.len()
}

/// A date in six and eight digits, in every order.
fn written(day: NaiveDate) -> Vec<String> {
    let (year, short, month, date) = (day.year(), day.year() % 100, day.month(), day.day());
    vec![
        format!("{year}{month:02}{date:02}"),
        format!("{date:02}{month:02}{year}"),
        format!("{month:02}{date:02}{year}"),
        format!("{short:02}{month:02}{date:02}"),
        format!("{date:02}{month:02}{short:02}"),
        format!("{month:02}{date:02}{short:02}"),
    ]
}

/// Hexadecimal words of one length, with letters among them; random identifiers of version 4 (RFC 9562) are known by
/// their marks and pass.
fn look_hashed(patients: &[Patient]) -> bool {
    let Some(length) = patients.first().map(|patient| patient.id.len()) else {
        return false;
    };
    let is_hexadecimal = |id: &str| id.bytes().all(|byte| byte.is_ascii_hexdigit());
    let has_letters = |id: &str| id.bytes().any(|byte| byte.is_ascii_alphabetic());
    let is_random = |id: &str| {
        let bytes = id.as_bytes();
        bytes.len() == 32
            && bytes.get(12) == Some(&b'4')
            && bytes.get(16).is_some_and(|byte| b"89abAB".contains(byte))
    };
    length >= 6
        && patients
            .iter()
            .all(|patient| patient.id.len() == length && is_hexadecimal(&patient.id))
        && patients
            .iter()
            .filter(|patient| has_letters(&patient.id))
            .count()
            * 2
            > patients.len()
        && !patients.iter().all(|patient| is_random(&patient.id))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tables::PatientKey;
    use crate::tables::SourceRow;

    /// Thirty people, who came one after another and were born in no order.
    fn made(id: impl Fn(u32, i32) -> String) -> Vec<&'static str> {
        let mut tables = Tables::default();
        for place in 0..30_u32 {
            let birth = 1930 + i32::try_from(place * 7 % 31).unwrap_or(0);
            let mut patient = Patient::new(id(place, birth), SourceRow::default());
            patient.birth_year = Some(birth);
            tables.patients.push(patient);
            let date = NaiveDate::from_ymd_opt(2023, 1, 1).unwrap_or_default()
                + chrono::Days::new(u64::from(place) * 9);
            tables.visits.push(crate::tables::Visit {
                patient: PatientKey(place),
                date,
                clinic_site: None,
                clinician: None,
                clinician_role: None,
                setting: None,
                attendance: crate::tables::Attendance::Kept,
                planned_return: None,
                hba1c_percent: None,
                source: SourceRow::default(),
            });
        }
        let mut names: Vec<_> = check_ids(&tables)
            .iter()
            .map(|finding| finding.check)
            .collect();
        names.sort_unstable();
        names
    }

    /// The first digits of the fractional parts of square roots, as arbitrary a source as any.
    fn scattered(place: u32) -> u64 {
        let root = f64::from(place * place + 2).sqrt() * 1e6;
        (root as u64).wrapping_mul(2_654_435_761) % 90_000_000
    }

    #[test]
    fn what_an_export_shows_of_its_ids_is_said_and_no_more() {
        assert_eq!(
            made(|place, _| format!("X{:08}", scattered(place))),
            [""; 0]
        );
        assert_eq!(
            made(|place, _| format!("TW-{place:05}")),
            ["ids-follow-first-visit", "ids-run-on"]
        );
        assert_eq!(
            made(|place, _| format!("{}", 7 + place * 17 % 30)),
            ["ids-run-on"]
        );
        assert_eq!(
            made(|place, birth| format!("{}{birth}", scattered(place))),
            ["ids-hold-birth-year"]
        );
        assert_eq!(
            made(|place, birth| format!("{birth}{:08}", scattered(place))),
            ["ids-follow-birth-year", "ids-hold-birth-year"]
        );
        let day = |place: u32| {
            NaiveDate::from_ymd_opt(2023, 1, 1).unwrap_or_default()
                + chrono::Days::new(u64::from(place) * 9)
        };
        assert_eq!(
            made(|place, _| format!("{:08}/{}", scattered(place), day(place).format("%d%m%y"))),
            ["ids-hold-first-visit"]
        );
        let hexadecimal =
            |place: u32| format!("{:08x}", scattered(place).wrapping_mul(40_503) % (1 << 32));
        assert_eq!(made(|place, _| hexadecimal(place)), ["ids-look-hashed"]);
        assert_eq!(
            made(|place, _| {
                let word = hexadecimal(place);
                format!("{word}abcd4abc8abc{word}abcd")
            }),
            [""; 0]
        );
    }
}
