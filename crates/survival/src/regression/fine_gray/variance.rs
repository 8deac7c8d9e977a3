//! What each row adds to the score of a sub-distribution model: through its own events, and through the estimate of the
//! censoring distribution.

use crate::regression::cox::influence::{Hazard, hazard, visit_exposures};
use crate::regression::fine_gray::risk_sets::Subdistribution;
use crate::regression::moments::Sharing;

/// Score residuals times case weights, by position: with the weights taken as known, and with their estimation, which is not
/// worked out under delayed entry.
pub(crate) struct Scores {
    pub(crate) weights_known: Vec<f64>,
    pub(crate) weights_estimated: Option<Vec<f64>>,
}

/// Sums, over event times after some time, of the chance of being observed times the hazard and times the drift.
#[derive(Clone)]
struct Tail {
    hazard: f64,
    drift: Vec<f64>,
}

pub(crate) fn scores(
    subdistribution: &Subdistribution,
    sharing: Sharing,
    coefficients: &[f64],
) -> Scores {
    let arranged = &subdistribution.arranged;
    let n_terms = arranged.n_terms();
    let risk = arranged.risks_at(coefficients);
    let hazard = hazard(subdistribution, sharing, &risk);
    let mut known = vec![0.0; arranged.len() * n_terms];
    let tails = tails(subdistribution, &hazard);
    visit_exposures(arranged, &hazard, 0..arranged.len(), |exposure| {
        let position = exposure.position;
        let weight = arranged.weight_at(position);
        let row = arranged.covariates.row(position);
        // after a competing event the row stays at risk with a weight that falls as others are censored
        let stays = subdistribution.is_competing[position].then(|| {
            (
                &tails[arranged.slots.exit[position] as usize],
                1.0 / subdistribution.observation_at_exit(position).observed(),
            )
        });
        for (term, cell) in known[position * n_terms..(position + 1) * n_terms]
            .iter_mut()
            .enumerate()
        {
            let mut expected = row[term] * exposure.hazard - exposure.drift[term];
            if let Some((tail, share)) = stays {
                expected += share * (row[term] * tail.hazard - tail.drift[term]);
            }
            let observed = exposure
                .event
                .map_or(0.0, |own| row[term] - hazard.event_mean(own)[term]);
            *cell = weight * observed - risk[position] * expected;
        }
    });
    let estimated = (!arranged.has_late_entry()).then(|| {
        let mut estimated = known.clone();
        add_censoring_terms(subdistribution, &tails, &risk, &mut estimated);
        estimated
    });
    Scores {
        weights_known: known,
        weights_estimated: estimated,
    }
}

/// The tail after each slot, within its stratum.
fn tails(subdistribution: &Subdistribution, hazard: &Hazard) -> Vec<Tail> {
    let arranged = &subdistribution.arranged;
    let slots = &arranged.slots;
    let none = Tail {
        hazard: 0.0,
        drift: vec![0.0; arranged.n_terms()],
    };
    let mut tails = vec![none; slots.len()];
    for stratum in 0..arranged.n_strata() {
        for slot in slots.events(stratum).rev() {
            let observed = subdistribution.observed_at(slot);
            let mut tail = tails[slot].clone();
            tail.hazard += observed * hazard.step(slot);
            let steps = hazard.drift(slot).iter().zip(hazard.drift(slot - 1));
            for (sum, (after, before)) in tail.drift.iter_mut().zip(steps) {
                *sum += observed * (after - before);
            }
            tails[slot - 1] = tail;
        }
    }
    tails
}

/// Rows gone by a competing event: their risks over G at their exits, and the same times their covariates.
struct Gone {
    risk: f64,
    first: Vec<f64>,
}

/// Adds psi, the part of each row in the censoring estimate (Fine and Gray 1999, section 5): the integral of q/pi against
/// the row's censoring martingale, where q(u) gathers what a censoring at u takes from the weights of rows gone before.
///
/// With events first this is the exact derivative in the case weights: a censoring at u touches rows gone at or before u, at
/// event times after u, by 1/(1 - hazard). With events and censorings together it is the formula as printed for continuous
/// times: rows gone before u, at event times from u on. The two differ only where times are tied. Each stratum has an estimate of
/// its own. Without delayed entry.
fn add_censoring_terms(
    subdistribution: &Subdistribution,
    tails: &[Tail],
    risk: &[f64],
    scores: &mut [f64],
) {
    for stratum in 0..subdistribution.arranged.n_strata() {
        add_terms_of(subdistribution, stratum, tails, risk, scores);
    }
}

fn add_terms_of(
    subdistribution: &Subdistribution,
    stratum: usize,
    tails: &[Tail],
    risk: &[f64],
    scores: &mut [f64],
) {
    let arranged = &subdistribution.arranged;
    let n_terms = arranged.n_terms();
    let is_together = subdistribution.censors_with_events;
    let mut gone = Gone {
        risk: 0.0,
        first: vec![0.0; n_terms],
    };
    // integral of q/pi against the censoring hazard so far
    let mut compensator = vec![0.0; n_terms];
    for leaving in arranged.leaving_together(arranged.stratum(stratum)) {
        let step = arranged.exit_step(leaving.start);
        let censoring = subdistribution.observation_at_exit(leaving.start);
        let leave = |gone: &mut Gone| {
            for position in leaving
                .clone()
                .filter(|&position| subdistribution.is_competing[position])
            {
                let share = risk[position] / censoring.uncensored;
                gone.risk += share;
                for (sum, value) in gone.first.iter_mut().zip(arranged.covariates.row(position)) {
                    *sum += share * value;
                }
            }
        };
        if !is_together {
            leave(&mut gone);
        }
        // event times from this one on, or after it
        let slot = arranged.slots.exit[leaving.start] as usize;
        let is_event_time =
            arranged.slots.events(stratum).contains(&slot) && arranged.slots.step[slot] == step;
        let (slot, remaining) = if is_together {
            (slot - usize::from(is_event_time), 1.0)
        } else {
            (slot, 1.0 - censoring.hazard)
        };
        let tail = &tails[slot];
        let is_felt = censoring.hazard > 0.0 && remaining > 0.0;
        let pull: Vec<f64> = gone
            .first
            .iter()
            .zip(&tail.drift)
            .map(|(first, drift)| {
                if is_felt {
                    (first * tail.hazard - gone.risk * drift) / (censoring.at_risk * remaining)
                } else {
                    0.0
                }
            })
            .collect();
        if is_together {
            leave(&mut gone);
        }
        let before = compensator.clone();
        for (sum, pull) in compensator.iter_mut().zip(&pull) {
            *sum += pull * censoring.hazard;
        }
        for position in leaving {
            let is_censored =
                !arranged.is_event[position] && !subdistribution.is_competing[position];
            let weight = arranged.weight_at(position);
            let passed = if is_censored || is_together {
                &compensator
            } else {
                &before
            };
            for (term, cell) in scores[position * n_terms..(position + 1) * n_terms]
                .iter_mut()
                .enumerate()
            {
                let observed = if is_censored { pull[term] } else { 0.0 };
                *cell += weight * (observed - passed[term]);
            }
        }
    }
}
