//! Risk sets of a sub-distribution: whoever had a competing event stays at risk, with the weight of still being under
//! observation if the event had not come.

use crate::regression::cox::sweep::{Increments, RiskSet, RiskSets};
use crate::regression::cox::{Arranged, Part};
use crate::regression::fine_gray::CensoringOrder;
use crate::regression::fine_gray::observation::{Observation, ObservationStep, observation};
use crate::regression::moments::Moments;
use crate::{Sample, SurvivalError};

/// Rows, who of them had a competing event, and the estimates of remaining under observation, stratum by stratum.
#[derive(Debug, Clone)]
pub(crate) struct Subdistribution {
    pub(crate) arranged: Arranged,
    pub(crate) is_competing: Vec<bool>,
    observation: Observation,
    /// Whether rows with an event are at risk of being censored at the same time.
    pub(crate) censors_with_events: bool,
}

impl Subdistribution {
    pub(crate) fn of(
        arranged: Arranged,
        sample: &Sample,
        order: CensoringOrder,
    ) -> Result<Subdistribution, SurvivalError> {
        let cause = |position: usize| sample.cause()[arranged.order[position] as usize];
        let is_competing: Vec<bool> = (0..arranged.len())
            .map(|position| !arranged.is_event[position] && cause(position) > 0)
            .collect();
        let observation = observation(&arranged, &is_competing, order)?;
        Ok(Subdistribution {
            arranged,
            is_competing,
            observation,
            censors_with_events: order == CensoringOrder::Together,
        })
    }

    /// What is known of observation at the exit of a row.
    pub(crate) fn observation_at_exit(&self, position: usize) -> &ObservationStep {
        &self.observation.steps[self.observation.of_position[position] as usize]
    }

    /// Chance of being under observation at an event time, up to a factor that all times of a stratum share.
    pub(crate) fn observed_at(&self, slot: usize) -> f64 {
        self.observation.steps[self.observation.of_slot[slot] as usize].observed()
    }

    /// Positions of a stratum that left by a competing event.
    fn competing(&self, stratum: usize) -> impl Iterator<Item = usize> {
        self.arranged
            .stratum(stratum)
            .filter(|&position| self.is_competing[position])
    }
}

impl RiskSets for Subdistribution {
    fn arranged(&self) -> &Arranged {
        &self.arranged
    }

    /// Rows still followed, and those gone by a competing event at X with weight G(t-)H(t-)/(G(X-)H(X-)): G that of not being
    /// censored (Fine and Gray, JASA 1999;94:496-509, section 3.3), H that of having entered (Geskus, Biometrics
    /// 2011;67:39-49, section 3). The sum over the second kind is G(t-)H(t-) times one of 1/(G(X-)H(X-)), so that both are
    /// kept up in one pass.
    fn visit(&self, risk: &[f64], part: &Part, mut visit: impl FnMut(&RiskSet)) {
        let n_terms = self.arranged.n_terms();
        let add = |moments: &mut Moments, position: usize, sign: f64| {
            let risk = sign * risk[position] / self.observation_at_exit(position).observed();
            moments.add(risk, self.arranged.covariates.row(position));
        };
        let mut gone = Moments::zero(n_terms);
        let mut all = Moments::zero(n_terms);
        let mut stratum = None;
        let mut n_before = 0;
        self.arranged.visit(risk, part, |set| {
            let stratum_of_set = self.arranged.stratum_at(set.leaving.start);
            if stratum != Some(stratum_of_set) {
                stratum = Some(stratum_of_set);
                n_before = set.leaving.start;
                gone.clear();
                let before = self.competing(stratum_of_set);
                for position in before.take_while(|&position| position < n_before) {
                    add(&mut gone, position, 1.0);
                }
            }
            while n_before > set.leaving.start {
                n_before -= 1;
                if self.is_competing[n_before] {
                    add(&mut gone, n_before, -1.0);
                }
            }
            all.combine(set.at_risk, self.observed_at(set.slot), &gone);
            visit(&RiskSet {
                at_risk: &all,
                leaving: set.leaving.clone(),
                ..*set
            });
        });
    }

    /// A row gone by a competing event passes through the hazards after it too, thinned by observation.
    fn row_hazards(&self, increments: &Increments) -> Vec<f64> {
        let slots = &self.arranged.slots;
        let mut hazards = self.arranged.row_hazards(increments);
        let mut thinned: Vec<f64> = increments.plain.clone();
        for stratum in 0..self.arranged.n_strata() {
            for slot in slots.events(stratum) {
                thinned[slot] *= self.observed_at(slot);
            }
        }
        slots.accumulate(&mut thinned, 1);
        for stratum in 0..self.arranged.n_strata() {
            let all = thinned[slots.last(stratum)];
            for position in self.competing(stratum) {
                let after = all - thinned[slots.exit[position] as usize];
                hazards[position] += after / self.observation_at_exit(position).observed();
            }
        }
        hazards
    }
}
