//! Who is under observation: the estimates of not yet being censored and of having entered, within each stratum.

use std::ops::Range;

use crate::SurvivalError;
use crate::regression::cox::Arranged;
use crate::regression::fine_gray::CensoringOrder;

/// The distinct exit times of every stratum, one stratum after the other.
#[derive(Debug, Clone)]
pub(crate) struct Observation {
    pub(crate) steps: Vec<ObservationStep>,
    /// By position: the step of its exit.
    pub(crate) of_position: Vec<u32>,
    /// By slot: the step of its event time; unused in first slots.
    pub(crate) of_slot: Vec<u32>,
}

/// Observation at one exit time of a stratum.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct ObservationStep {
    /// G: product-limit estimate of being uncensored just before.
    pub(crate) uncensored: f64,
    /// H: product-limit estimate, backwards in time, of having entered before.
    pub(crate) entered: f64,
    /// Weight at risk of being censored.
    pub(crate) at_risk: f64,
    /// Hazard of being censored.
    pub(crate) hazard: f64,
}

impl ObservationStep {
    pub(crate) fn observed(&self) -> f64 {
        self.uncensored * self.entered
    }
}

/// Rows that enter before a step or leave at it.
#[derive(Clone, Default)]
struct Flow {
    n_in: usize,
    n_out: usize,
    entering: f64,
    with_event: f64,
    censored: f64,
    has_event: bool,
    has_competing: bool,
}

/// Both estimates. Case weights count in them, so that a row of weight 2 equals the row given twice.
///
/// # Errors
/// `RiskSetEmpties` when a competing event lies before a time at which nobody is at risk, and an event of interest after it:
/// nothing tells how many of the earlier rows would still be under observation.
pub(crate) fn observation(
    arranged: &Arranged,
    is_competing: &[bool],
    order: CensoringOrder,
) -> Result<Observation, SurvivalError> {
    let mut found = Observation {
        steps: Vec::new(),
        of_position: Vec::with_capacity(arranged.len()),
        of_slot: vec![0; arranged.slots.len()],
    };
    for stratum in 0..arranged.n_strata() {
        let leaving = arranged.leaving_together(arranged.stratum(stratum));
        let flows = flows(arranged, is_competing, &leaving);
        let first = found.steps.len();
        for (step, positions) in leaving.iter().enumerate() {
            let place = (first + step) as u32;
            found.of_position.resize(positions.end, place);
            if flows[step].has_event {
                found.of_slot[arranged.slots.exit[positions.start] as usize] = place;
            }
        }
        found.steps.extend(steps(&flows, order)?);
    }
    Ok(found)
}

fn flows(arranged: &Arranged, is_competing: &[bool], leaving: &[Range<usize>]) -> Vec<Flow> {
    let mut flows = vec![Flow::default(); leaving.len()];
    let exits: Vec<u32> = leaving
        .iter()
        .map(|positions| arranged.exit_step(positions.start))
        .collect();
    for (step, positions) in leaving.iter().enumerate() {
        for position in positions.clone() {
            let weight = arranged.weight_at(position);
            let entry = match arranged.entry_step(position) {
                0 => 0,
                entry => exits.partition_point(|&exit| exit < entry),
            };
            flows[entry].n_in += 1;
            flows[entry].entering += weight;
            let flow = &mut flows[step];
            flow.n_out += 1;
            if arranged.is_event[position] || is_competing[position] {
                flow.with_event += weight;
            } else {
                flow.censored += weight;
            }
            flow.has_event |= arranged.is_event[position];
            flow.has_competing |= is_competing[position];
        }
    }
    flows
}

/// Both estimates start afresh where nobody is left at risk: only ratios within such a stretch are ever used.
fn steps(flows: &[Flow], order: CensoringOrder) -> Result<Vec<ObservationStep>, SurvivalError> {
    let mut steps = Vec::with_capacity(flows.len());
    // share of those at risk at a step who were so before its entries
    let mut stayed = Vec::with_capacity(flows.len());
    let (mut n_left, mut left, mut uncensored) = (0, 0.0, 1.0);
    let (mut has_competing, mut has_lost_competing) = (false, false);
    for flow in flows {
        if n_left == 0 {
            (left, uncensored) = (0.0, 1.0);
            has_lost_competing |= has_competing;
        }
        if flow.has_event && has_lost_competing {
            return Err(SurvivalError::RiskSetEmpties);
        }
        has_competing |= flow.has_competing;
        let all = left + flow.entering;
        stayed.push(if n_left == 0 { 1.0 } else { left / all });
        let at_risk = match order {
            CensoringOrder::EventsFirst => all - flow.with_event,
            CensoringOrder::Together => all,
        };
        // the last step of all may leave a hair of rounding at risk
        let hazard = if flow.censored > 0.0 {
            (flow.censored / at_risk).clamp(0.0, 1.0)
        } else {
            0.0
        };
        steps.push(ObservationStep {
            uncensored,
            entered: 1.0,
            at_risk,
            hazard,
        });
        uncensored *= 1.0 - hazard;
        left = all - flow.with_event - flow.censored;
        n_left = n_left + flow.n_in - flow.n_out;
    }
    let mut entered = 1.0;
    for (step, stayed) in steps.iter_mut().zip(&stayed).rev() {
        step.entered = entered;
        entered *= stayed;
    }
    Ok(steps)
}
