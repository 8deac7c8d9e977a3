//! Three variances of a cumulative incidence; the robust one serves mean counts too.

use crate::curve::Variance;
use crate::influence::{Changes, ClusteredRows, squared_influence};

/// One distinct time, as the variances need it.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Step {
    n_at_risk: f64,
    /// Events that add to the estimate.
    n_counted: f64,
    /// Events that end a row's chance of being counted.
    n_ending: f64,
    /// Probability of no ending event just before the time.
    event_free_before: f64,
    /// The estimate just after the time: sum of event-free before times counted over at risk.
    pub(crate) estimate: f64,
}

impl Step {
    /// Whether an event of either kind happens.
    pub(super) fn has_events(&self) -> bool {
        self.n_counted > 0.0 || self.n_ending > 0.0
    }
}

/// The times of a table, with the counts of an estimate: for an incidence the events of its cause count and those
/// of all causes end; for a mean count the recurrent events count and the terminal ones end.
pub(crate) fn steps(
    n_at_risk: &[f64],
    n_counted: &[f64],
    n_ending: &[f64],
    event_free_after: &[f64],
) -> Vec<Step> {
    let before = std::iter::once(&1.0).chain(event_free_after);
    let mut estimate = 0.0;
    n_at_risk
        .iter()
        .zip(n_counted)
        .zip(n_ending)
        .zip(before)
        .map(
            |(((&n_at_risk, &n_counted), &n_ending), &event_free_before)| {
                if n_counted > 0.0 {
                    estimate += event_free_before * n_counted / n_at_risk;
                }
                Step {
                    n_at_risk,
                    n_counted,
                    n_ending,
                    event_free_before,
                    estimate,
                }
            },
        )
        .collect()
}

/// Variances from independent increments, carried along as the covariance of (event-free, incidence).
///
/// The increments of one time have the multinomial covariance (Greenwood), or are taken as independent between causes
/// with variance d/n^2 (n-d)/(n-1) (Aalen). Once nobody is left event-free there is nothing more to carry.
pub(crate) fn summed(steps: &[Step], variance: Variance) -> Vec<Option<f64>> {
    let (mut of_free, mut of_both, mut of_incidence) = (0.0, 0.0, 0.0);
    steps
        .iter()
        .map(|step| {
            if step.n_ending > 0.0 {
                let n = step.n_at_risk;
                let hazard = step.n_counted / n;
                let hazard_of_any = step.n_ending / n;
                let scale = step.event_free_before * step.event_free_before;
                // covariance of the increments of (all causes, this cause)
                let (any_any, any_cause, cause_cause) = match variance {
                    Variance::Aalen => {
                        let cause = poisson_with_ties(step.n_counted, n);
                        let other = poisson_with_ties(step.n_ending - step.n_counted, n);
                        (cause + other, cause, cause)
                    }
                    Variance::Greenwood | Variance::Robust => (
                        hazard_of_any * (1.0 - hazard_of_any) / n,
                        hazard * (1.0 - hazard_of_any) / n,
                        hazard * (1.0 - hazard) / n,
                    ),
                };
                of_incidence +=
                    2.0 * hazard * of_both + hazard * hazard * of_free + scale * cause_cause;
                if step.n_ending < n {
                    let spared = 1.0 - hazard_of_any;
                    of_both = spared * (of_both + hazard * of_free) - scale * any_cause;
                    of_free = spared * spared * of_free + scale * any_any;
                } else {
                    (of_both, of_free) = (0.0, 0.0);
                }
            }
            Some(of_incidence)
        })
        .collect()
}

fn poisson_with_ties(n_events: f64, n_at_risk: f64) -> f64 {
    let ties = if n_events > 1.0 {
        (n_at_risk - n_events) / (n_at_risk - 1.0)
    } else {
        1.0
    };
    ties * n_events / (n_at_risk * n_at_risk)
}

/// Sum of d/n^2 over the counted events, each a Poisson count.
pub(crate) fn poisson(steps: &[Step]) -> Vec<Option<f64>> {
    let mut sum = 0.0;
    steps
        .iter()
        .map(|step| {
            if step.n_counted > 0.0 {
                sum += step.n_counted / (step.n_at_risk * step.n_at_risk);
            }
            Some(sum)
        })
        .collect()
}

/// What an event means for the estimate.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Meaning {
    pub(crate) is_counted: bool,
    pub(crate) is_ending: bool,
}

/// How the curve of ending events answers to the weight of a row.
#[derive(Debug, Clone, Copy)]
pub(crate) enum EndingResponse {
    /// As the product of 1 - d/n does: by 1/(n-d) for an event.
    ProductLimit,
    /// As exp(-sum of d/n) does: by 1/n for an event.
    Hazard,
}

/// Infinitesimal jackknife.
///
/// With F the estimate, G(t) = sum d/(n(n-d)) (or d/n^2, by `response`) over ending events, S(t-) the probability of none before, and
/// K(t) = sum S(t-) d/n (G(t-) - 1/n) over counted events, the influence of a row of weight w at risk is
/// w [ K(t) - K(entry) - G(entry) (F(t) - F(entry)) ]. A counted event adds w S(t-)/n; leaving fixes the row's share in S, so
/// that the influence goes on as a multiple of F. Basis (1, F, K).
pub(crate) fn robust(
    steps: &[Step],
    rows: &ClusteredRows<'_>,
    response: EndingResponse,
    meaning: impl Fn(u32) -> Meaning + Sync,
) -> Vec<Option<f64>> {
    let response = Response {
        places: places_of(steps, response),
        meaning,
    };
    let squares = rows.squares(&response);
    let mut held = 0.0;
    squares
        .iter()
        .zip(steps.iter().zip(&response.places))
        .map(|(squares, (step, place))| {
            // without an event nothing changes, to the last digit
            if step.has_events() {
                held = squared_influence(squares, [1.0, place.estimate, place.drift]);
            }
            Some(held)
        })
        .collect()
}

/// How the estimate answers to the weight of a row, by position.
struct Response<M> {
    places: Vec<Place>,
    meaning: M,
}

/// The functions that all rows share, just after a time.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Place {
    pub(super) estimate: f64,
    /// G.
    pub(super) hazard_sum: f64,
    /// K.
    pub(super) drift: f64,
    /// What an ending event adds to a row's share in S.
    of_ending: f64,
    /// What a counted event adds at once.
    of_counted: f64,
}

/// The places of an estimate whose ending events answer as those of a product limit.
pub(super) fn places(steps: &[Step]) -> Vec<Place> {
    places_of(steps, EndingResponse::ProductLimit)
}

fn places_of(steps: &[Step], response: EndingResponse) -> Vec<Place> {
    let mut place = Place::default();
    let places = steps.iter().map(|step| {
        let n = step.n_at_risk;
        let n_spared = n - step.n_ending;
        if step.n_counted > 0.0 {
            let increment = step.event_free_before * step.n_counted / n;
            place.drift += increment * (place.hazard_sum - 1.0 / n);
        }
        place.of_ending = 0.0;
        if step.n_ending > 0.0 && n_spared > 0.0 {
            place.of_ending = match response {
                EndingResponse::ProductLimit => 1.0 / n_spared,
                EndingResponse::Hazard => 1.0 / n,
            };
            place.hazard_sum += place.of_ending * step.n_ending / n;
        }
        place.of_counted = step.event_free_before / n;
        place.estimate = step.estimate;
        place
    });
    places.collect()
}

impl Place {
    /// Constant and coefficients of F and K for a row that enters before the time at `position`.
    pub(super) fn entering(places: &[Place], position: usize) -> [f64; 3] {
        let before = position
            .checked_sub(1)
            .and_then(|before| places.get(before));
        before.map_or([0.0, 0.0, 1.0], |before| {
            let entered = before.hazard_sum * before.estimate - before.drift;
            [entered, -before.hazard_sum, 1.0]
        })
    }

    /// What changes in them when the row leaves.
    pub(super) fn leaving(
        places: &[Place],
        position: usize,
        meaning: Meaning,
        is_at_risk: bool,
    ) -> [f64; 3] {
        let Some(place) = places.get(position) else {
            return [0.0; 3];
        };
        let (mut constant, mut of_estimate, mut of_drift) = (0.0, 0.0, 0.0);
        if is_at_risk {
            constant = place.drift - place.hazard_sum * place.estimate;
            of_estimate = place.hazard_sum;
            of_drift = -1.0;
        }
        if meaning.is_counted {
            constant += place.of_counted;
        }
        if meaning.is_ending {
            constant += place.of_ending * place.estimate;
            of_estimate -= place.of_ending;
        }
        [constant, of_estimate, of_drift]
    }
}

impl<M: Fn(u32) -> Meaning> Changes<3> for Response<M> {
    fn entering(&self, position: usize) -> [f64; 3] {
        Place::entering(&self.places, position)
    }

    fn leaving(&self, position: usize, cause: u32, is_at_risk: bool) -> [f64; 3] {
        Place::leaving(&self.places, position, (self.meaning)(cause), is_at_risk)
    }
}
