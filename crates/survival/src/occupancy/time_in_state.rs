//! The expected time in each state up to a bound.

use super::flow::Flow;
use super::{Influences, StateHistory, occupancies};
use crate::SurvivalError;
use crate::curve::CurveOptions;
use serde::Serialize;

/// Expected time in one state.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TimeInState {
    /// The state.
    pub state: u32,
    /// The bound, in the unit of the history.
    pub until: f64,
    /// Area under the occupancy from the earliest start to the bound, in the unit of the history.
    pub estimate: f64,
    /// Infinitesimal jackknife by subject or cluster.
    pub std_error: f64,
    /// Lower limit, linear, not below 0.
    pub lower: f64,
    /// Upper limit, linear.
    pub upper: f64,
    /// The last observed time when it lies before the bound: beyond it the occupancies are carried on flat.
    pub carried_on_from: Option<f64>,
}

/// Expected time in each state up to `until`, in increasing order of the state; together the whole time.
///
/// The standard error is the infinitesimal jackknife whatever `options.variance` says; `options` gives the level.
///
/// # Errors
/// `SettingOutOfRange` unless `until` is a finite time after the earliest start; otherwise as [`super::state_occupancy`].
///
/// Source: area under the Aalen-Johansen estimate; influence by the functional delta method (Andersen, Borgan, Gill, Keiding 1993, section II.8).
pub fn expected_time_in_states(
    history: &StateHistory,
    until: f64,
    options: &CurveOptions,
) -> Result<Vec<TimeInState>, SurvivalError> {
    if !(until > history.origin && until.is_finite()) {
        return Err(SurvivalError::SettingOutOfRange {
            setting: "until",
            rule: "must be a finite time after the earliest start",
        });
    }
    let multiplier = options.multiplier()?;
    let flow = Flow::new(history)?;
    let influences = Influences::new(history, &flow);
    let occupancies = occupancies(&flow);
    let carried_on_from = flow
        .order
        .times
        .last()
        .copied()
        .filter(|&last| last < until);
    Ok(history
        .states
        .iter()
        .enumerate()
        .map(|(place, &state)| {
            let estimate = area(history, &flow, &occupancies, place, until);
            let outlook = Outlook::new(history, &flow, place, until);
            let std_error = std_error(&flow, &influences, &occupancies, &outlook);
            TimeInState {
                state,
                until,
                estimate,
                std_error,
                lower: (estimate - multiplier * std_error).max(0.0),
                upper: estimate + multiplier * std_error,
                carried_on_from,
            }
        })
        .collect())
}

fn area(
    history: &StateHistory,
    flow: &Flow,
    occupancies: &[Vec<f64>],
    place: usize,
    until: f64,
) -> f64 {
    let of = |row: &Vec<f64>| row.get(place).copied().unwrap_or(0.0);
    let (mut area, mut since) = (0.0, history.origin);
    let mut share = flow.initial.get(place).copied().unwrap_or(0.0);
    for (&time, row) in flow.order.times.iter().zip(occupancies) {
        if time >= until {
            break;
        }
        if time > since {
            area += share * (time - since);
            since = time;
        }
        share = of(row);
    }
    area + share * (until - since)
}

/// Expected time still to come in one state, by the state one is in.
struct Outlook {
    /// At the origin.
    initial: Vec<f64>,
    /// Just after each move, in their order.
    after: Vec<Vec<f64>>,
}

impl Outlook {
    /// Worked backwards from the bound.
    fn new(history: &StateHistory, flow: &Flow, place: usize, until: f64) -> Self {
        let mut outlook = vec![0.0; flow.n_states];
        let mut next_time = until;
        let mut after = vec![Vec::new(); flow.moves.len()];
        for (moves, after) in flow.moves.iter().zip(&mut after).rev() {
            let time = flow
                .order
                .times
                .get(moves.position)
                .copied()
                .unwrap_or(until);
            if time < until {
                if let Some(cell) = outlook.get_mut(place) {
                    *cell += next_time - time;
                }
                next_time = time;
            }
            *after = outlook.clone();
            for (state, cell) in outlook.iter_mut().enumerate() {
                *cell += gain(moves.out_of(state, flow.n_states), after, state);
            }
        }
        if let Some(cell) = outlook.get_mut(place) {
            *cell += (next_time - history.origin).max(0.0);
        }
        Self {
            initial: outlook,
            after,
        }
    }
}

/// Expected change of the outlook of one in `state` by the moves of a time.
fn gain(hazards: &[f64], outlook: &[f64], state: usize) -> f64 {
    let own = outlook.get(state).copied().unwrap_or(0.0);
    hazards
        .iter()
        .zip(outlook)
        .map(|(hazard, outlook)| hazard * (outlook - own))
        .sum()
}

fn std_error(
    flow: &Flow,
    influences: &Influences<'_>,
    occupancies: &[Vec<f64>],
    outlook: &Outlook,
) -> f64 {
    let n_states = flow.n_states;
    let mut sums = vec![0.0; influences.movements.n_clusters];
    let add = |sums: &mut Vec<f64>, cluster: u32, amount: f64| {
        if let Some(sum) = sums.get_mut(cluster as usize) {
            *sum += amount;
        }
    };
    let mean: f64 = flow
        .initial
        .iter()
        .zip(&outlook.initial)
        .map(|(share, time)| share * time)
        .sum();
    for start in &influences.starts {
        let own = outlook.initial.get(start.state).copied().unwrap_or(0.0);
        add(
            &mut sums,
            start.cluster,
            start.weight * (own - mean) / flow.n_initial,
        );
    }
    // what one at risk in each state is expected to add up to now
    let mut expected = vec![0.0; n_states];
    let mut moves = flow.moves.iter().zip(&outlook.after).peekable();
    for position in 0..flow.order.times.len() {
        for row in influences.movements.entering(position) {
            let so_far = expected
                .get(influences.state_of(row))
                .copied()
                .unwrap_or(0.0);
            add(&mut sums, row.cluster, row.weight * so_far);
        }
        let now = moves.next_if(|(moves, _)| moves.position == position);
        let before = match position.checked_sub(1) {
            Some(previous) => occupancies.get(previous),
            None => Some(&flow.initial),
        };
        let stake = |state: usize| {
            let n_at_risk = now
                .and_then(|(moves, _)| moves.n_at_risk.get(state))
                .copied()
                .unwrap_or(0.0);
            let share = before
                .and_then(|row| row.get(state))
                .copied()
                .unwrap_or(0.0);
            if n_at_risk > 0.0 {
                share / n_at_risk
            } else {
                0.0
            }
        };
        if let Some((moves, after)) = now {
            for (state, expected) in expected.iter_mut().enumerate() {
                *expected += stake(state) * gain(moves.out_of(state, n_states), after, state);
            }
        }
        for row in influences.movements.leaving(position) {
            let state = influences.state_of(row);
            let mut amount = -expected.get(state).copied().unwrap_or(0.0);
            if let Some((target, (_, after))) = influences.target_of(row).zip(now) {
                let of = |state: usize| after.get(state).copied().unwrap_or(0.0);
                amount += stake(state) * (of(target) - of(state));
            }
            add(&mut sums, row.cluster, row.weight * amount);
        }
    }
    sums.iter().map(|sum| sum * sum).sum::<f64>().sqrt()
}
