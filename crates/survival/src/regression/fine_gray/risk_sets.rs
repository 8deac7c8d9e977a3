//! Risk sets of a sub-distribution: whoever had a competing event stays at risk, with the weight of not having been
//! censored since.

use crate::regression::cox::Arranged;
use crate::regression::cox::sweep::{Increments, RiskSet, RiskSets};
use crate::regression::fine_gray::CensoringOrder;
use crate::regression::moments::Moments;
use crate::{Sample, SurvivalError};

/// Rows, who of them had a competing event, and the Kaplan-Meier estimate of remaining uncensored.
#[derive(Debug, Clone)]
pub(crate) struct Subdistribution {
    pub(crate) arranged: Arranged,
    pub(crate) is_competing: Vec<bool>,
    pub(crate) censoring: Vec<CensoringStep>,
    /// Whether rows with an event are at risk of being censored at the same time.
    pub(crate) censors_with_events: bool,
}

/// Censoring at one distinct exit time.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(crate) struct CensoringStep {
    /// Probability of being uncensored just before.
    pub(crate) before: f64,
    /// Weight at risk of being censored.
    pub(crate) at_risk: f64,
    /// Hazard of being censored.
    pub(crate) hazard: f64,
}

impl Subdistribution {
    pub(crate) fn of(
        arranged: Arranged,
        sample: &Sample,
        order: CensoringOrder,
    ) -> Result<Subdistribution, SurvivalError> {
        if arranged.has_late_entry() {
            return Err(SurvivalError::NotDefined {
                choice: "a delayed entry",
                estimator: "the sub-distribution hazard model",
            });
        }
        let cause = |position: usize| sample.cause()[arranged.order[position] as usize];
        let is_competing: Vec<bool> = (0..arranged.len())
            .map(|position| !arranged.is_event[position] && cause(position) > 0)
            .collect();
        let mut remaining: f64 = (0..arranged.len())
            .map(|position| arranged.weight_at(position))
            .sum();
        let mut before = 1.0;
        let mut censoring = Vec::with_capacity(arranged.len());
        for leaving in arranged.leaving_together(0..arranged.len()) {
            let (mut with_event, mut censored) = (0.0, 0.0);
            for position in leaving {
                let weight = arranged.weight_at(position);
                if cause(position) > 0 {
                    with_event += weight
                } else {
                    censored += weight
                }
            }
            let at_risk = match order {
                CensoringOrder::EventsFirst => remaining - with_event,
                CensoringOrder::Together => remaining,
            };
            // the last step of all may leave a hair of rounding at risk
            let hazard = if censored > 0.0 {
                (censored / at_risk).clamp(0.0, 1.0)
            } else {
                0.0
            };
            censoring.push(CensoringStep {
                before,
                at_risk,
                hazard,
            });
            before *= 1.0 - hazard;
            remaining -= with_event + censored;
        }
        Ok(Subdistribution {
            arranged,
            is_competing,
            censoring,
            censors_with_events: order == CensoringOrder::Together,
        })
    }

    /// Probability of being uncensored just before an event time.
    pub(crate) fn uncensored_before(&self, slot: usize) -> f64 {
        self.censoring[self.arranged.slots.step[slot] as usize].before
    }

    /// Probability of being uncensored just before the exit of a row.
    pub(crate) fn uncensored_before_exit(&self, position: usize) -> f64 {
        self.censoring[self.arranged.exit_step(position) as usize].before
    }
}

impl RiskSets for Subdistribution {
    fn arranged(&self) -> &Arranged {
        &self.arranged
    }

    /// Rows still followed, and those gone by a competing event at X with weight G(t-)/G(X-) (Fine and Gray, JASA
    /// 1999;94:496-509, section 3.3). The sum over the second kind is G(t-) times one of 1/G(X-), so that both are kept up in
    /// one pass.
    fn visit(&self, risk: &[f64], mut visit: impl FnMut(&RiskSet)) {
        let n_terms = self.arranged.n_terms();
        let add = |moments: &mut Moments, position: usize, sign: f64| {
            let risk = sign * risk[position] / self.uncensored_before_exit(position);
            moments.add(risk, self.arranged.covariates.row(position));
        };
        let mut gone = Moments::zero(n_terms);
        for position in (0..self.arranged.len()).filter(|&position| self.is_competing[position]) {
            add(&mut gone, position, 1.0);
        }
        let mut all = Moments::zero(n_terms);
        let mut n_before = self.arranged.len();
        self.arranged.visit(risk, |set| {
            while n_before > set.leaving.start {
                n_before -= 1;
                if self.is_competing[n_before] {
                    add(&mut gone, n_before, -1.0);
                }
            }
            all.combine(set.at_risk, self.uncensored_before(set.slot), &gone);
            visit(&RiskSet {
                at_risk: &all,
                leaving: set.leaving.clone(),
                ..*set
            });
        });
    }

    /// A row gone by a competing event passes through the hazards after it too, thinned by censoring.
    fn row_hazards(&self, increments: &Increments) -> Vec<f64> {
        let mut hazards = self.arranged.row_hazards(increments);
        let mut thinned: Vec<f64> = increments.plain.clone();
        for (slot, increment) in thinned.iter_mut().enumerate().skip(1) {
            *increment *= self.uncensored_before(slot);
        }
        self.arranged.slots.accumulate(&mut thinned, 1);
        let all = thinned.last().copied().unwrap_or(0.0);
        for (position, hazard) in hazards
            .iter_mut()
            .enumerate()
            .filter(|&(position, _)| self.is_competing[position])
        {
            let after = all - thinned[self.arranged.slots.exit[position] as usize];
            *hazard += after / self.uncensored_before_exit(position);
        }
        hazards
    }
}
