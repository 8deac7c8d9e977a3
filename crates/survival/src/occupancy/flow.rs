//! The moves at each distinct time, and the matrices they make.

use super::StateHistory;
use crate::SurvivalError;
use crate::risk_table::{FixedWeights, RiskTable, risk_table};
use crate::time_order::{TimeOrder, time_order};

/// The hazards of one time: for each state the probabilities of moving on to each other one.
#[derive(Debug, Clone)]
pub(super) struct Moves {
    /// Position among the distinct times.
    pub(super) position: usize,
    /// `n_states` rows: share of those at risk in the state who move to each state; 0 on the diagonal.
    pub(super) hazards: Vec<f64>,
    /// At risk in each state just before.
    pub(super) n_at_risk: Vec<f64>,
}

/// Everything the estimates need, read once from a history.
pub(super) struct Flow {
    pub(super) n_states: usize,
    pub(super) order: TimeOrder,
    /// Counts by state: events are moves to each state, in order.
    pub(super) tables: Vec<RiskTable>,
    /// Share of each state at the origin.
    pub(super) initial: Vec<f64>,
    /// Sum of weights at the origin.
    pub(super) n_initial: f64,
    /// Times with a move.
    pub(super) moves: Vec<Moves>,
}

impl Flow {
    pub(super) fn new(history: &StateHistory) -> Result<Self, SurvivalError> {
        let sample = &history.sample;
        let order = time_order(sample)?;
        let n_states = history.states.len();
        let causes: Vec<u32> = (1..=n_states as u32).collect();
        let tables: Vec<RiskTable> = (0..n_states)
            .map(|state| {
                risk_table(sample, &order, &causes, |row| {
                    history.state_of(row) == state
                })
            })
            .collect();
        let moves = (0..order.times.len())
            .filter_map(|position| moves_at(&tables, position, n_states))
            .collect();

        let fixed = FixedWeights::new(sample);
        let mut at_origin = vec![0_i128; n_states];
        for (row, _) in history
            .is_initial
            .iter()
            .enumerate()
            .filter(|&(_, &is_initial)| is_initial)
        {
            if let Some(sum) = at_origin.get_mut(history.state_of(row)) {
                *sum += fixed.units(row);
            }
        }
        let n_initial = fixed.weight_of(at_origin.iter().sum());
        if n_initial <= 0.0 {
            return Err(SurvivalError::NoWeight);
        }
        let initial = at_origin
            .into_iter()
            .map(|units| fixed.weight_of(units) / n_initial)
            .collect();
        Ok(Self {
            n_states,
            order,
            tables,
            initial,
            n_initial,
            moves,
        })
    }
}

fn moves_at(tables: &[RiskTable], position: usize, n_states: usize) -> Option<Moves> {
    let at = |column: &[f64]| column.get(position).copied().unwrap_or(0.0);
    if tables.iter().all(|table| at(&table.n_events_of_any) <= 0.0) {
        return None;
    }
    let n_at_risk: Vec<f64> = tables.iter().map(|table| at(&table.n_at_risk)).collect();
    let mut hazards = Vec::with_capacity(n_states * n_states);
    for (table, n_at_risk) in tables.iter().zip(&n_at_risk) {
        hazards.extend(table.n_events.iter().map(|n_events| {
            let n_events = at(n_events);
            if n_events > 0.0 {
                n_events / n_at_risk
            } else {
                0.0
            }
        }));
    }
    Some(Moves {
        position,
        hazards,
        n_at_risk,
    })
}

impl Moves {
    /// The hazards out of one state.
    pub(super) fn out_of(&self, state: usize, n_states: usize) -> &[f64] {
        self.hazards
            .get(state * n_states..(state + 1) * n_states)
            .unwrap_or_default()
    }

    /// Carries a row of numbers by state across the time: what leaves a state arrives in others.
    pub(super) fn carry(&self, row: &mut [f64]) {
        let before = row.to_vec();
        for (state, &amount) in before.iter().enumerate() {
            if amount != 0.0 {
                self.spread(state, amount, row);
            }
        }
    }

    /// Adds `amount` times the expected move of one who is in `state`: to each other state, and out of this one.
    pub(super) fn spread(&self, state: usize, amount: f64, row: &mut [f64]) {
        let mut left = 0.0;
        let hazards = self.out_of(state, row.len());
        for (cell, &hazard) in row.iter_mut().zip(hazards) {
            *cell += amount * hazard;
            left += hazard;
        }
        if let Some(cell) = row.get_mut(state) {
            *cell -= amount * left;
        }
    }
}
