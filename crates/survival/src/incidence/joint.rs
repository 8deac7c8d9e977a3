//! The infinitesimal jackknife of all causes and of no event at once, in one walk over the rows.
//!
//! A row's influence on the incidence of a cause has the basis (F, K, 1) of that cause (see [`super::variance::robust`]). Its
//! coefficients of F and K do not depend on the cause, and they are, signs turned, those of its influence on the logarithm of the
//! probability of no event, whose basis is (G, 1). So a row is told by two shared numbers and a constant for each cause.

use super::variance::{Meaning, Place, Step, places};
use crate::influence::{Changes, ClusteredRows, squared_influence};

/// Variances of each cause's incidence, and of the probability of no event where that is above 0.
pub(super) struct Joint {
    pub(super) causes: Vec<Vec<Option<f64>>>,
    pub(super) event_free: Vec<Option<f64>>,
}

/// Causes that can be taken together at most.
pub(super) const MOST_CAUSES: usize = 4;

/// `None` where causes are too many to be taken together. `steps` are by cause, in the order of `causes`.
pub(super) fn joint_variances(
    steps: &[Vec<Step>],
    causes: &[u32],
    rows: &ClusteredRows<'_>,
    event_free_after: &[f64],
) -> Option<Joint> {
    match causes.len() {
        1 => Some(joint::<3>(steps, causes, rows, event_free_after)),
        2 => Some(joint::<4>(steps, causes, rows, event_free_after)),
        3 => Some(joint::<5>(steps, causes, rows, event_free_after)),
        4 => Some(joint::<6>(steps, causes, rows, event_free_after)),
        _ => None,
    }
}

fn joint<const N: usize>(
    steps: &[Vec<Step>],
    causes: &[u32],
    rows: &ClusteredRows<'_>,
    event_free_after: &[f64],
) -> Joint {
    let places: Vec<Vec<Place>> = steps.iter().map(|steps| places(steps)).collect();
    let response = Response {
        causes,
        places: &places,
    };
    let squares = rows.squares::<N>(&response);
    let of_causes = steps.iter().zip(&places).enumerate();
    let causes = of_causes.map(|(which, (steps, places))| {
        let mut held = 0.0;
        let times = squares.iter().zip(steps.iter().zip(places));
        times
            .map(|(squares, (step, place))| {
                // without an event nothing changes, to the last digit
                if step.has_events() {
                    let mut basis = [0.0; N];
                    for (cell, value) in basis.iter_mut().zip([place.estimate, place.drift]) {
                        *cell = value;
                    }
                    if let Some(constant) = basis.get_mut(2 + which) {
                        *constant = 1.0;
                    }
                    held = squared_influence(squares, basis);
                }
                Some(held)
            })
            .collect()
    });
    let causes = causes.collect();
    let mut held = 0.0;
    let first = steps.iter().zip(&places).next();
    let times = first
        .into_iter()
        .flat_map(|(steps, places)| steps.iter().zip(places));
    let event_free = times
        .zip(squares.iter().zip(event_free_after))
        .map(|((step, place), (squares, &event_free))| {
            if step.has_events() {
                let mut basis = [0.0; N];
                for (cell, value) in basis.iter_mut().zip([1.0, place.hazard_sum]) {
                    *cell = value;
                }
                held = squared_influence(squares, basis);
            }
            (event_free > 0.0).then_some(event_free * event_free * held)
        })
        .collect();
    Joint { causes, event_free }
}

/// How all estimates answer to the weight of a row: coefficients of F, of K, and the constant of each cause.
struct Response<'a> {
    causes: &'a [u32],
    places: &'a [Vec<Place>],
}

impl Response<'_> {
    /// The shared coefficients and the constants, from what each cause says.
    fn told<const N: usize>(&self, of_cause: impl Fn(&[Place], u32) -> [f64; 3]) -> [f64; N] {
        let mut told = [0.0; N];
        for (which, (places, &cause)) in self.places.iter().zip(self.causes).enumerate() {
            let [constant, of_estimate, of_drift] = of_cause(places, cause);
            for (cell, value) in told.iter_mut().zip([of_estimate, of_drift]) {
                *cell = value;
            }
            if let Some(cell) = told.get_mut(2 + which) {
                *cell = constant;
            }
        }
        told
    }
}

impl<const N: usize> Changes<N> for Response<'_> {
    fn entering(&self, position: usize) -> [f64; N] {
        self.told(|places, _| Place::entering(places, position))
    }

    fn leaving(&self, position: usize, cause: u32, is_at_risk: bool) -> [f64; N] {
        self.told(|places, own| {
            let meaning = Meaning {
                is_counted: cause == own,
                is_ending: cause > 0,
            };
            Place::leaving(places, position, meaning, is_at_risk)
        })
    }
}
