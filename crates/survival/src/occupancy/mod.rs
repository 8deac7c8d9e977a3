//! Occupancy of states that subjects move between, back and forth if they like.

mod flow;
mod history;
mod jackknife;
mod matrix;
mod movements;
mod products;
mod summed;
mod time_in_state;

pub use history::StateHistory;
pub use time_in_state::{TimeInState, expected_time_in_states};

use crate::SurvivalError;
use crate::content::ContentKeys;
use crate::curve::{
    Columns, Context, Curve, CurveNote, CurveOptions, Entered, Quantity, Start, Variance, assemble,
    entered,
};
use crate::influence::numbered_clusters;
use crate::risk_table::RiskTable;
use flow::Flow;
use matrix::Matrix;
use movements::{Member, Movements};
use serde::Serialize;

/// Occupancies of all states; at every time they add up to 1.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Occupancy {
    /// One curve for each state, in increasing order of the state.
    pub states: Vec<Curve>,
    /// Share of each state, in the same order, among those under observation at the earliest start.
    pub initial: Vec<f64>,
    /// The earliest start.
    pub origin: f64,
    /// Moves seen, by state left and state entered.
    pub transitions: Vec<TransitionHazard>,
}

/// The moves from one state to another.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TransitionHazard {
    /// State left.
    pub from: u32,
    /// State entered.
    pub to: u32,
    /// Sum of weights of the moves.
    pub n_events: f64,
    /// Cumulative hazard just after each time with such a move: sum of moves over at risk in the state left.
    pub hazard: Vec<HazardPoint>,
}

/// A cumulative hazard at one time.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct HazardPoint {
    /// The time.
    pub time: f64,
    /// Cumulative hazard, 0 or more.
    pub estimate: f64,
}

/// Aalen-Johansen estimate of the probability of being in each state.
///
/// Starts from the shares at the earliest start; subjects who come under observation later add to the risk sets only. All
/// moves of one time happen at once, before censorings. Valid for the probability of a state even when moves depend on the
/// past (not Markov) as long as censoring does not. The variance is `options.variance`: `Robust`, the infinitesimal jackknife by subject
/// or cluster, the chance of the initial shares included, is the one to use when subjects return to states; `Greenwood` takes the
/// moves of a time as multinomial, `Aalen` as independent Poisson counts. Where some are said to be in a state and nobody in it is under
/// observation for a while, its curve carries [`CurveNote::NobodyAtRisk`]: nothing is known of moves out of it then.
///
/// # Errors
/// As [`crate::kaplan_meier`]; `NoWeight` when nobody at the earliest start weighs anything.
///
/// Source: Aalen and Johansen, Scand J Stat 1978;5:141; occupancy without the Markov property: Datta and Satten, Stat
/// Probab Lett 2001;55:403; Greenwood: Andersen, Borgan, Gill, Keiding 1993, eq. 4.4.17.
pub fn state_occupancy(
    history: &StateHistory,
    options: &CurveOptions,
) -> Result<Occupancy, SurvivalError> {
    let flow = Flow::new(history)?;
    let variances = match options.variance {
        Variance::Robust => jackknife::robust_variances(&flow, &Influences::new(history, &flow)),
        Variance::Greenwood | Variance::Aalen => summed::variances(&flow, options.variance),
    };
    let estimates = occupancies(&flow);
    let mut states = Vec::with_capacity(flow.n_states);
    for (place, (&state, table)) in history.states.iter().zip(&flow.tables).enumerate() {
        let mut context = Context::new(&history.sample, &flow.order, table);
        context.n = history.n_subjects;
        context.entered = entered(&history.sample, &flow.order, |row| {
            history.state_of(row) == place
        });
        let of = |row: &Vec<f64>| row.get(place).copied().unwrap_or(0.0);
        let estimate: Vec<f64> = estimates.iter().map(of).collect();
        context.notes = unobserved_spans(
            &flow.order.times,
            table,
            &estimate,
            context.entered.as_deref().unwrap_or_default(),
        );
        let into: Vec<f64> = (0..flow.order.times.len())
            .map(|position| {
                let of_table = |table: &crate::risk_table::RiskTable| {
                    let column = table.n_events.get(place);
                    column
                        .and_then(|column| column.get(position))
                        .copied()
                        .unwrap_or(0.0)
                };
                flow.tables.iter().map(of_table).sum()
            })
            .collect();
        states.push(assemble(
            &flow.order.times,
            Columns {
                quantity: Quantity::Occupancy,
                cause: Some(state),
                n_at_risk: &table.n_at_risk,
                n_events: &into,
                n_censored: &table.n_censored,
                estimate,
                variance: variances.iter().skip(1).map(of).map(Some).collect(),
                start: Start {
                    value: flow.initial.get(place).copied().unwrap_or(0.0),
                    variance: variances.first().map_or(0.0, of),
                },
            },
            options,
            &context,
        )?);
    }
    Ok(Occupancy {
        states,
        initial: flow.initial.clone(),
        origin: history.origin,
        transitions: transitions(history, &flow),
    })
}

/// Spans in which some are said to be in the state and nobody in it is under observation, though later somebody is. A state that
/// stands empty for a while is no gap in the data.
fn unobserved_spans(
    times: &[f64],
    table: &RiskTable,
    estimate: &[f64],
    entered: &[Entered],
) -> Vec<CurveNote> {
    let at = |column: &[f64], place: usize| column.get(place).copied().unwrap_or(0.0);
    let has_entry_at = |time: f64| {
        entered
            .binary_search_by(|entered| entered.time.total_cmp(&time))
            .is_ok()
    };
    let mut notes = Vec::new();
    let mut seen_again = None;
    for (place, &from) in times.iter().enumerate().rev() {
        let n_at_risk = at(&table.n_at_risk, place);
        if n_at_risk <= 0.0 {
            continue;
        }
        let n_gone = at(&table.n_events_of_any, place) + at(&table.n_censored, place);
        let is_left = n_at_risk - n_gone <= 1e-12 * n_at_risk && !has_entry_at(from);
        if let Some(to) = seen_again.filter(|_| is_left && at(estimate, place) > 1e-12) {
            notes.push(CurveNote::NobodyAtRisk { from, to });
        }
        seen_again = Some(from);
    }
    notes.reverse();
    notes
}

/// Occupancies just after each distinct time.
fn occupancies(flow: &Flow) -> Vec<Vec<f64>> {
    let mut occupancy = flow.initial.clone();
    let mut moves = flow.moves.iter().peekable();
    (0..flow.order.times.len())
        .map(|position| {
            if let Some(moves) = moves.next_if(|moves| moves.position == position) {
                moves.carry(&mut occupancy);
            }
            occupancy.clone()
        })
        .collect()
}

fn transitions(history: &StateHistory, flow: &Flow) -> Vec<TransitionHazard> {
    let mut found = Vec::new();
    for (&from, table) in history.states.iter().zip(&flow.tables) {
        for (&to, n_events) in history.states.iter().zip(&table.n_events) {
            let mut estimate = 0.0;
            let steps = flow
                .order
                .times
                .iter()
                .zip(n_events.iter().zip(&table.n_at_risk));
            let hazard: Vec<HazardPoint> = steps
                .filter(|&(_, (&n_events, _))| n_events > 0.0)
                .map(|(&time, (n_events, n_at_risk))| {
                    estimate += n_events / n_at_risk;
                    HazardPoint { time, estimate }
                })
                .collect();
            if !hazard.is_empty() {
                found.push(TransitionHazard {
                    from,
                    to,
                    n_events: n_events.iter().sum(),
                    hazard,
                });
            }
        }
    }
    found
}

/// Rows as the jackknife sees them.
struct Influences<'history> {
    movements: Movements,
    history: &'history StateHistory,
    starts: Vec<Starter>,
}

/// A row at the origin.
struct Starter {
    cluster: u32,
    state: usize,
    weight: f64,
}

impl<'history> Influences<'history> {
    fn new(history: &'history StateHistory, flow: &Flow) -> Self {
        let (cluster, _) = numbered_clusters(history.sample.cluster(), history.sample.len());
        let state: Vec<u32> = (0..history.sample.len())
            .map(|row| history.state_of(row) as u32)
            .collect();
        let rows = ContentKeys::of(&history.sample).with_labels(&state).order();
        let is_initial = |row: &usize| history.is_initial.get(*row) == Some(&true);
        let starts = rows
            .iter()
            .map(|&row| row as usize)
            .filter(is_initial)
            .map(|row| Starter {
                cluster: cluster.get(row).copied().unwrap_or(0),
                state: history.state_of(row),
                weight: history.sample.weight_of(row),
            })
            .collect();
        Self {
            movements: Movements::new(&history.sample, &flow.order, &rows),
            history,
            starts,
        }
    }

    fn state_of(&self, member: &Member) -> usize {
        self.history.state_of(member.row as usize)
    }

    fn target_of(&self, member: &Member) -> Option<usize> {
        (member.cause as usize).checked_sub(1)
    }
}
