//! Where delayed entry leaves nobody at risk.

use serde::Serialize;

use crate::Sample;
use crate::regression::cox::arrange::Arranged;

/// Times at which a risk set empties although rows of the stratum enter later: everybody at risk had the event, or nobody is
/// at risk until the next row enters. Coefficients compare rows within risk sets and stand; the baseline hazard, and every
/// curve and residual made of it, says nothing about such a stretch.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct EmptiedRiskSets {
    /// How many, over all strata.
    pub n_times: usize,
    /// Label of the stratum of the first; 0 without strata.
    pub stratum: u32,
    /// The first of them: the last time at which somebody was at risk.
    pub time: f64,
}

impl std::fmt::Display for EmptiedRiskSets {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let Self { n_times, time, .. } = self;
        write!(
            out,
            "at {n_times} times, the first of them {time}, delayed entry leaves nobody at risk for a while, or all at risk had the \
             event before others enter: coefficients stand, baseline and predicted curves say nothing of such a stretch"
        )
    }
}

/// Looks for them; `None` where no risk set empties.
pub(crate) fn emptied_risk_sets(arranged: &Arranged, sample: &Sample) -> Option<EmptiedRiskSets> {
    let entry = sample.entry().filter(|_| arranged.has_late_entry())?;
    let mut found: Option<EmptiedRiskSets> = None;
    for stratum in 0..arranged.n_strata() {
        let positions = arranged.stratum(stratum);
        let late = arranged.late_entries(stratum);
        let mut entering = late.iter().rev().peekable();
        let mut n_entered = positions.len() - late.len();
        let mut n_gone = 0;
        for leaving in arranged.leaving_together(positions.clone()) {
            let (step, time) = (
                arranged.exit_step(leaving.start),
                arranged.exit_time(leaving.start),
            );
            while entering
                .next_if(|&&position| arranged.entry_step(position as usize) <= step)
                .is_some()
            {
                n_entered += 1;
            }
            let n_at_risk = n_entered - n_gone;
            n_gone += leaving.len();
            // the next to enter, if anybody does; at this very time it follows without a gap
            let Some(&&next) = entering.peek() else { break };
            let row = arranged.order.get(next as usize).copied().unwrap_or(0);
            let is_gap =
                n_entered == n_gone && entry.get(row as usize).is_some_and(|&entry| entry > time);
            let n_events = leaving
                .filter(|&position| arranged.is_event.get(position) == Some(&true))
                .count();
            if is_gap || n_events == n_at_risk {
                let first = EmptiedRiskSets {
                    n_times: 0,
                    stratum: arranged.label_at(positions.start),
                    time,
                };
                found.get_or_insert(first).n_times += 1;
            }
        }
    }
    found
}
