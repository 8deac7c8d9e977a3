//! Numbers of single ulcers, summarised by their middle and their middle half.

use super::Place;
use super::cohort::Study;
use super::shares::{gate_note, shown};
use crate::report::words::number;
use crate::report::{Estimate, MeasureResult, Value};
use crate::tables::{Dated, PatientKey};

/// A number of one ulcer.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Described {
    /// The person, as the cluster number.
    pub cluster: PatientKey,
    /// The day that decides the cohort, and its row.
    pub index: Dated,
    /// The ulcer.
    pub place: Option<Place>,
    /// The number; infinite where it is beyond every number, `None` where it was not measured.
    pub number: Option<f64>,
}

/// The median with the middle half beside it. A description of those measured: no interval is given.
pub(super) fn describe(
    study: &Study<'_>,
    subjects: &[&Described],
    beyond: &str,
    blank: MeasureResult,
) -> MeasureResult {
    let n = subjects.len();
    let mut numbers: Vec<f64> = subjects
        .iter()
        .filter_map(|subject| subject.number)
        .filter(|number| !number.is_nan())
        .collect();
    numbers.sort_by(f64::total_cmp);
    let n_unknown = n - numbers.len();
    let say = |value: f64| {
        if value.is_finite() {
            number(blank.unit, value)
        } else {
            beyond.to_owned()
        }
    };
    let value = match quantile(&numbers, 0.5) {
        None if n == 0 => blank.value.clone(),
        None => Value::NotEstimable {
            reason: "none was measured twice in time".to_owned(),
        },
        Some(median) if median.is_finite() => Value::Known(Estimate {
            estimate: median,
            interval: None,
        }),
        Some(_) => Value::NotEstimable {
            reason: format!("the middle one: {beyond}"),
        },
    };
    let mut notes = Vec::new();
    if let Some((lower, upper)) = quantile(&numbers, 0.25).zip(quantile(&numbers, 0.75)) {
        notes.push(format!("middle half: {} to {}", say(lower), say(upper)));
    }
    notes.extend(gate_note(study, numbers.len(), n).filter(|_| n > 0));
    MeasureResult {
        value,
        denominator: shown(numbers.len()),
        n_unknown: shown(n_unknown),
        notes,
        ..blank
    }
}

/// The smallest of the ordered numbers that at least this share does not exceed; at the very middle of an even number of
/// them the mean of the two.
fn quantile(ordered: &[f64], share: f64) -> Option<f64> {
    let place = share * ordered.len() as f64;
    let above = ordered.get((place.ceil() as usize).max(1) - 1).copied()?;
    let is_between = place.fract() == 0.0 && place >= 1.0;
    let next = ordered.get(place as usize).copied();
    match next.filter(|_| is_between) {
        Some(next) if next.is_finite() => Some(f64::midpoint(above, next)),
        Some(next) => Some(next),
        None => Some(above),
    }
}

#[cfg(test)]
mod tests {
    use super::quantile;

    #[test]
    fn quantiles_are_those_of_a_list_a_reader_can_order() {
        let cases: [(&[f64], [Option<f64>; 3]); 4] = [
            (&[], [None, None, None]),
            (&[7.0], [Some(7.0); 3]),
            (&[1.0, 2.0, 4.0, 8.0], [Some(1.5), Some(3.0), Some(6.0)]),
            (
                &[1.0, 2.0, 4.0, 8.0, 16.0],
                [Some(2.0), Some(4.0), Some(8.0)],
            ),
        ];
        for (ordered, wanted) in cases {
            assert_eq!(
                [0.25, 0.5, 0.75].map(|share| quantile(ordered, share)),
                wanted,
                "{ordered:?}"
            );
        }
        assert_eq!(quantile(&[1.0, f64::INFINITY], 0.5), Some(f64::INFINITY));
    }
}
