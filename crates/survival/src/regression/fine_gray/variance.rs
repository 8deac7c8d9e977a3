//! What each row adds to the score of a sub-distribution model: through its own events, and through the estimate of the
//! censoring distribution.

use crate::regression::cox::influence::{HazardSteps, hazard_steps, visit_exposures};
use crate::regression::fine_gray::risk_sets::Subdistribution;
use crate::regression::moments::Sharing;

/// Score residuals times case weights, by position: with the weights taken as known, and with their estimation.
pub(crate) struct Scores {
    pub(crate) weights_known: Vec<f64>,
    pub(crate) weights_estimated: Vec<f64>,
}

/// Sums, over event times from some time on, of the uncensored probability times the hazard and times the drift.
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
    let predictors = arranged.linear_predictors(coefficients);
    let strata = hazard_steps(subdistribution, sharing, &predictors);
    let mut known = vec![0.0; arranged.len() * n_terms];
    let Some(steps) = strata.first() else {
        return Scores {
            weights_estimated: known.clone(),
            weights_known: known,
        };
    };
    let tails = tails(subdistribution, steps, n_terms);
    visit_exposures(arranged, &strata, |exposure| {
        let position = exposure.position;
        let weight = arranged.weight_at(position);
        let risk = predictors[position].exp();
        let row = arranged.covariates.row(position);
        // after a competing event the row stays at risk with a weight that falls as others are censored
        let stays = subdistribution.is_competing[position].then(|| {
            (
                &tails[steps.n_until_step(arranged.exit_step(position))],
                1.0 / subdistribution.uncensored_before_exit(position),
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
            let observed = exposure.event.map_or(0.0, |own| {
                row[term] - steps.event_mean[own * n_terms + term]
            });
            *cell = weight * (observed - risk * expected);
        }
    });
    let mut estimated = known.clone();
    add_censoring_terms(subdistribution, steps, &tails, &predictors, &mut estimated);
    Scores {
        weights_known: known,
        weights_estimated: estimated,
    }
}

/// The tail after each number of event times.
fn tails(subdistribution: &Subdistribution, steps: &HazardSteps, n_terms: usize) -> Vec<Tail> {
    let n_steps = steps.times.len();
    let mut tails = Vec::with_capacity(n_steps + 1);
    let mut hazard = 0.0;
    let mut drift = vec![0.0; n_terms];
    tails.push(Tail {
        hazard,
        drift: drift.clone(),
    });
    for step in (0..n_steps).rev() {
        let uncensored = subdistribution.censoring[steps.steps[step] as usize].before;
        hazard += uncensored * (steps.cumulative_after(step + 1) - steps.cumulative_after(step));
        for (term, sum) in drift.iter_mut().enumerate() {
            *sum += uncensored
                * (steps.drift_after(step + 1, n_terms, term)
                    - steps.drift_after(step, n_terms, term));
        }
        tails.push(Tail {
            hazard,
            drift: drift.clone(),
        });
    }
    tails.reverse();
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
/// times: rows gone before u, at event times from u on. The two differ only where times are tied.
fn add_censoring_terms(
    subdistribution: &Subdistribution,
    steps: &HazardSteps,
    tails: &[Tail],
    predictors: &[f64],
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
    for leaving in arranged.leaving_together(0..arranged.len()) {
        let step = arranged.exit_step(leaving.start);
        let censoring = subdistribution.censoring[step as usize];
        let leave = |gone: &mut Gone| {
            for position in leaving
                .clone()
                .filter(|&position| subdistribution.is_competing[position])
            {
                let share =
                    arranged.weight_at(position) * predictors[position].exp() / censoring.before;
                gone.risk += share;
                for (sum, value) in gone.first.iter_mut().zip(arranged.covariates.row(position)) {
                    *sum += share * value;
                }
            }
        };
        if !is_together {
            leave(&mut gone);
        }
        let (n_steps, remaining) = if is_together {
            (steps.n_before_step(step), 1.0)
        } else {
            (steps.n_until_step(step), 1.0 - censoring.hazard)
        };
        let tail = &tails[n_steps];
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
