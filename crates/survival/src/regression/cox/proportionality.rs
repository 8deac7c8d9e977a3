//! Test of proportional hazards: does a coefficient move with time?

use serde::Serialize;

use crate::SurvivalError;
use crate::regression::cox::CoxFit;
use crate::regression::cox::arrange::Arranged;
use crate::regression::cox::sweep::{RiskSets, VarianceSum};
use crate::regression::{Cholesky, Estimability, ModelTest};

/// The function of time a coefficient is tested to move with.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum TimeTransform {
    /// Time itself.
    Identity,
    /// Its logarithm; not defined with an event at time 0.
    Log,
    /// One less the Kaplan-Meier probability just before the time, all rows pooled, weights left aside.
    KaplanMeier,
    /// Rank of the exit time among those of all rows, ties sharing their mean rank.
    Rank,
}

/// The test of each term and of all together.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ProportionalityTest {
    /// Function of time.
    pub transform: TimeTransform,
    /// One test a term, in order.
    pub terms: Vec<TermTest>,
    /// All terms together.
    pub global: ModelTest,
}

/// The test of one term; `None` where the term has no estimate.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TermTest {
    /// Name of the term.
    pub term: String,
    /// Chi-squared test with 1 degree of freedom.
    pub test: Option<ModelTest>,
}

/// What one pass over a part gathers: the score for covariate times g, and sums with 1, g and g squared as the factor.
struct Pass {
    score: Vec<f64>,
    plain: VarianceSum,
    crossed: VarianceSum,
    squared: VarianceSum,
}

impl CoxFit {
    /// Score test for adding covariate times g(time) to the fitted model (Grambsch and Therneau, Biometrika 1994;81:515-526,
    /// eq. 6, with the information of the enlarged model in place of their approximation by its mean). Model-based: clusters
    /// are not taken into account.
    ///
    /// # Errors
    /// The exact likelihood of ties, separation, and the logarithm with an event at time 0.
    pub fn proportionality_test(
        &self,
        transform: TimeTransform,
    ) -> Result<ProportionalityTest, SurvivalError> {
        self.require_baseline()?;
        let arranged = &self.arranged;
        let n_terms = arranged.n_terms();
        let scores = transformed_times(arranged, transform)?;
        let risk = arranged.risks_at(&self.coefficients);
        let [mut pass, later] = arranged.in_parts(|part| {
            let mut pass = Pass {
                score: vec![0.0; n_terms],
                plain: VarianceSum::zero(arranged, part),
                crossed: VarianceSum::zero(arranged, part),
                squared: VarianceSum::zero(arranged, part),
            };
            arranged.visit(&risk, part, |set| {
                let g = scores[set.leaving.start];
                let sums = set.tie_sums(self.sharing());
                for position in set.events() {
                    let row = arranged.covariates.row(position);
                    for (slope, x) in pass.score.iter_mut().zip(row) {
                        *slope += g * arranged.weight_at(position) * x;
                    }
                }
                for (term, slope) in pass.score.iter_mut().enumerate() {
                    *slope -= g * sums.mean_covariate(set.at_risk, set.tied, term);
                }
                pass.plain.add(1.0, set, &sums);
                pass.crossed.add(g, set, &sums);
                pass.squared.add(g * g, set, &sums);
            });
            pass
        });
        for (slope, later) in pass.score.iter_mut().zip(&later.score) {
            *slope += later;
        }
        let score = pass.score;
        let finish = |first, second| VarianceSum::finish(first, second, arranged, &risk);
        let plain = finish(pass.plain, later.plain);
        let left_out: Vec<bool> = self
            .terms
            .iter()
            .map(|term| term.estimability != Estimability::Estimated)
            .collect();
        let crossed = finish(pass.crossed, later.crossed);
        let explained = crossed
            .times(&Cholesky::of(&plain, 0.0, &left_out).inverse())
            .times(&crossed);
        let mut variance = finish(pass.squared, later.squared);
        for (cell, explained) in variance.values.iter_mut().zip(&explained.values) {
            *cell -= explained;
        }
        let terms = self
            .terms
            .iter()
            .enumerate()
            .map(|(position, term)| {
                let own = variance.get(position, position);
                let is_testable = !left_out[position] && own > 0.0;
                TermTest {
                    term: term.term.clone(),
                    test: is_testable.then(|| ModelTest::of(score[position].powi(2) / own, 1)),
                }
            })
            .collect();
        let factor = Cholesky::of(&variance, 1e-11, &left_out);
        let statistic = factor
            .solve(&score)
            .iter()
            .zip(&score)
            .map(|(a, b)| a * b)
            .sum();
        Ok(ProportionalityTest {
            transform,
            terms,
            global: ModelTest::of(statistic, factor.rank()),
        })
    }
}

/// g(exit time) by position, centred over the events: a constant added to g does not change the test, but costs digits.
fn transformed_times(
    arranged: &Arranged,
    transform: TimeTransform,
) -> Result<Vec<f64>, SurvivalError> {
    let exits = || (0..arranged.len()).map(|position| arranged.exit_time(position));
    let mut scores: Vec<f64> = match transform {
        TimeTransform::Identity => exits().collect(),
        TimeTransform::Log => {
            if exits()
                .zip(&arranged.is_event)
                .any(|(exit, &is_event)| is_event && exit <= 0.0)
            {
                return Err(SurvivalError::SettingOutOfRange {
                    setting: "transform",
                    rule: "cannot be the logarithm with an event at time 0",
                });
            }
            exits()
                .map(|exit| if exit > 0.0 { exit.ln() } else { 0.0 })
                .collect()
        }
        TimeTransform::Rank => by_pooled_time(arranged, mean_ranks),
        TimeTransform::KaplanMeier => by_pooled_time(arranged, probabilities_of_an_earlier_event),
    };
    // in units of the largest, so that no sum leaves the range of the numbers
    let largest = scores
        .iter()
        .fold(0.0_f64, |largest, score| largest.max(score.abs()));
    let unit = if largest > 0.0 { largest } else { 1.0 };
    let n_events = arranged
        .is_event
        .iter()
        .filter(|&&is_event| is_event)
        .count() as f64;
    let events = scores
        .iter()
        .zip(&arranged.is_event)
        .filter(|&(_, &is_event)| is_event);
    let mean = events
        .map(|(score, _)| score / unit / n_events)
        .sum::<f64>();
    for score in &mut scores {
        *score = *score / unit - mean;
    }
    Ok(scores)
}

/// A score by position from a function over positions sorted by exit time, strata pooled.
fn by_pooled_time(
    arranged: &Arranged,
    score: impl Fn(&Arranged, &[usize]) -> Vec<f64>,
) -> Vec<f64> {
    let mut by_time: Vec<usize> = (0..arranged.len()).collect();
    by_time.sort_by_key(|&position| arranged.exit_step(position));
    let mut scores = vec![0.0; arranged.len()];
    for (&position, value) in by_time.iter().zip(score(arranged, &by_time)) {
        scores[position] = value;
    }
    scores
}

fn mean_ranks(arranged: &Arranged, by_time: &[usize]) -> Vec<f64> {
    let mut ranks = Vec::with_capacity(by_time.len());
    for tied in by_time.chunk_by(|&a, &b| arranged.exit_step(a) == arranged.exit_step(b)) {
        let rank = ranks.len() as f64 + 0.5 * (tied.len() as f64 + 1.0);
        ranks.extend(std::iter::repeat_n(rank, tied.len()));
    }
    ranks
}

fn probabilities_of_an_earlier_event(arranged: &Arranged, by_time: &[usize]) -> Vec<f64> {
    let mut entries: Vec<u32> = (0..arranged.len())
        .map(|position| arranged.entry_step(position))
        .collect();
    entries.sort_unstable();
    let mut event_free = 1.0;
    let mut n_gone = 0;
    let mut scores = Vec::with_capacity(by_time.len());
    for tied in by_time.chunk_by(|&a, &b| arranged.exit_step(a) == arranged.exit_step(b)) {
        let step = tied
            .first()
            .map_or(0, |&position| arranged.exit_step(position));
        scores.extend(std::iter::repeat_n(1.0 - event_free, tied.len()));
        let n_not_entered = entries.len() - entries.partition_point(|&entry| entry <= step);
        let n_at_risk = by_time.len().saturating_sub(n_gone + n_not_entered);
        let n_events = tied
            .iter()
            .filter(|&&position| arranged.is_event[position])
            .count();
        if n_at_risk > 0 {
            event_free *= 1.0 - n_events as f64 / n_at_risk as f64;
        }
        n_gone += tied.len();
    }
    scores
}
