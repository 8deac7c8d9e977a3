//! The log-rank family: k groups, strata, trend, and weights over time.

use super::ChiSquaredTest;
use super::strata::{GroupTable, Stratum, strata};
use super::weighting::{Weigher, Weighting};
use crate::content::ContentKeys;
use crate::grouping::Grouping;
use crate::influence::numbered_clusters;
use crate::time_order::time_order;
use crate::{Sample, SurvivalError};
use serde::Serialize;

/// Which covariance stands behind the test.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum LogRankVariance {
    /// Hypergeometric at each event time, with (n-d)/(n-1) for ties; a risk set of one adds nothing. Weights are frequencies.
    #[default]
    Hypergeometric,
    /// Score residuals summed within clusters, squared and summed; for dependent rows and sampling weights
    /// (Lin and Wei, JASA 1989;84:1074, for the score of a test of no effect).
    Robust,
}

/// Choices of the log-rank family. The defaults are the plain log-rank test, no strata, no trend, hypergeometric.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct LogRankOptions {
    /// Weight of an event time.
    pub weighting: Weighting,
    /// Which covariance.
    pub variance: LogRankVariance,
    /// Scores of the groups, in increasing order of the label, for a test of trend.
    pub trend_scores: Option<Vec<f64>>,
}

/// Observed and expected events of one group.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct GroupCount {
    /// The label.
    pub group: u32,
    /// Rows of the group.
    pub n: usize,
    /// Events seen (sum of weights).
    pub observed: f64,
    /// Events expected if all groups shared one hazard; not weighted over time.
    pub expected: f64,
}

/// A comparison of groups.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LogRank {
    /// Counts by group, in increasing order of the label.
    pub groups: Vec<GroupCount>,
    /// Weighted observed minus expected by group; they add up to 0.
    pub score: Vec<f64>,
    /// Covariance of the scores, a row for each group.
    pub covariance: Vec<Vec<f64>>,
    /// The test that no group differs.
    pub test: ChiSquaredTest,
    /// The test of trend over the scores, 1 degree of freedom; `None` unless asked for.
    pub trend: Option<ChiSquaredTest>,
}

/// Compares the hazards of any event between groups, within strata where given.
///
/// Sum over strata of the weighted difference between observed and expected events. Delayed entry is honoured. The
/// statistic is `None` when there is no event or nothing to compare. For one of several causes call it on [`Sample::only_cause`].
///
/// # Errors
/// `UnequalColumns` for groups, strata or trend scores; `SettingOutOfRange` for negative powers.
///
/// Source: Andersen, Borgan, Gill, Keiding 1993, section V.2; Klein and Moeschberger 2003, sections 7.3 to 7.5.
pub fn log_rank(
    sample: &Sample,
    group: &[u32],
    stratum: Option<&[u32]>,
    options: &LogRankOptions,
) -> Result<LogRank, SurvivalError> {
    if let Weighting::FlemingHarrington { p, q } = options.weighting
        && !(p >= 0.0 && q >= 0.0 && p.is_finite() && q.is_finite())
    {
        return Err(SurvivalError::SettingOutOfRange {
            setting: "fleming-harrington",
            rule: "needs two finite powers of 0 or more",
        });
    }
    let groups = Grouping::new("group", group, sample.len())?;
    let n_groups = groups.n_groups();
    if let Some(scores) = &options.trend_scores {
        crate::sample::check_length("trend_scores", scores.len(), n_groups)?;
    }
    let stratum = match stratum {
        Some(stratum) => Grouping::new("stratum", stratum, sample.len())?,
        None => Grouping::of_one(sample.len()),
    };

    let mut sums = Sums::new(n_groups);
    let mut residuals = match options.variance {
        LogRankVariance::Hypergeometric => None,
        LogRankVariance::Robust => Some(Residuals::new(sample, n_groups)),
    };
    let all_at_once = (stratum.n_groups() == 1 && residuals.is_none())
        .then(|| GroupTable::of_days(sample, &groups, None))
        .flatten();
    if let Some(table) = &all_at_once {
        sums.add(table, options.weighting);
    }
    // residuals are summed in the order of what the rows hold, not in their own
    let contents = residuals.as_ref().map(|_| {
        let group: Vec<u32> = (0..sample.len()).map(|row| groups.of(row) as u32).collect();
        ContentKeys::of(sample).with_labels(&group)
    });
    let apart = match all_at_once {
        Some(_) => Vec::new(),
        None => strata(&time_order(sample)?, &stratum, contents.as_ref()),
    };
    for stratum in apart {
        let table = GroupTable::new(sample, &groups, &stratum, None);
        let steps = sums.add(&table, options.weighting);
        if let Some(residuals) = &mut residuals {
            residuals.add(sample, &groups, &stratum, &steps);
        }
    }
    let covariance = residuals.map_or(sums.covariance, |residuals| residuals.covariance());
    let trend = options.trend_scores.as_ref().map(|scores| {
        let along = |column: &[f64]| column.iter().zip(scores).map(|(a, b)| a * b).sum::<f64>();
        let rows: Vec<f64> = covariance.iter().map(|row| along(row)).collect();
        ChiSquaredTest::of_score(&[along(&sums.score)], &[vec![along(&rows)]])
    });
    let mut n_rows = vec![0; n_groups];
    for row in 0..sample.len() {
        if let Some(n) = n_rows.get_mut(groups.of(row)) {
            *n += 1;
        }
    }
    Ok(LogRank {
        groups: groups
            .labels
            .iter()
            .zip(n_rows)
            .zip(sums.observed.iter().zip(&sums.expected))
            .map(|((&group, n), (&observed, &expected))| GroupCount {
                group,
                n,
                observed,
                expected,
            })
            .collect(),
        test: ChiSquaredTest::of_score(&sums.score, &covariance),
        score: sums.score,
        covariance,
        trend,
    })
}

/// What the residuals need of one event time.
struct Step {
    /// Weight of the time.
    weight: f64,
    /// Events over rows at risk, all groups; 0 when there is no event.
    hazard: f64,
    /// Share of each group in the risk set.
    shares: Vec<f64>,
}

struct Sums {
    observed: Vec<f64>,
    expected: Vec<f64>,
    score: Vec<f64>,
    covariance: Vec<Vec<f64>>,
}

impl Sums {
    fn new(n_groups: usize) -> Self {
        Self {
            observed: vec![0.0; n_groups],
            expected: vec![0.0; n_groups],
            score: vec![0.0; n_groups],
            covariance: vec![vec![0.0; n_groups]; n_groups],
        }
    }

    fn add(&mut self, table: &GroupTable, weighting: Weighting) -> Vec<Step> {
        let mut weigher = Weigher::new(weighting);
        let mut steps = Vec::new();
        for counts in table.times() {
            let n: f64 = counts.n_at_risk.iter().sum();
            let n_events: f64 = counts.n_events.iter().sum();
            if n_events <= 0.0 {
                steps.push(Step {
                    weight: 0.0,
                    hazard: 0.0,
                    shares: Vec::new(),
                });
                continue;
            }
            let weight = weigher.next(n, n_events);
            let shares: Vec<f64> = counts.n_at_risk.iter().map(|at_risk| at_risk / n).collect();
            for (place, (&seen, share)) in counts.n_events.iter().zip(&shares).enumerate() {
                let sums = self
                    .observed
                    .get_mut(place)
                    .zip(self.expected.get_mut(place));
                if let Some(((observed, expected), score)) = sums.zip(self.score.get_mut(place)) {
                    *observed += seen;
                    *expected += n_events * share;
                    *score += weight * (seen - n_events * share);
                }
            }
            if n > 1.0 {
                let scale = weight * weight * n_events * (n - n_events) / (n - 1.0);
                for (place, (row, share)) in self.covariance.iter_mut().zip(&shares).enumerate() {
                    for (other, (sum, other_share)) in row.iter_mut().zip(&shares).enumerate() {
                        let own = if place == other { 1.0 } else { 0.0 };
                        *sum += scale * share * (own - other_share);
                    }
                }
            }
            steps.push(Step {
                weight,
                hazard: n_events / n,
                shares,
            });
        }
        steps
    }
}

/// Score residuals, summed by cluster: `n_groups` numbers for each.
struct Residuals {
    /// By row; `None` where each is its own.
    cluster: Option<Vec<u32>>,
    sums: Vec<f64>,
    n_groups: usize,
}

impl Residuals {
    fn new(sample: &Sample, n_groups: usize) -> Self {
        let (cluster, n_clusters) = numbered_clusters(sample.cluster(), sample.len());
        let is_given = sample.cluster().is_some();
        Self {
            cluster: is_given.then_some(cluster),
            sums: vec![0.0; if is_given { n_clusters * n_groups } else { 0 }],
            n_groups,
        }
    }

    fn add(&mut self, sample: &Sample, groups: &Grouping, stratum: &Stratum, steps: &[Step]) {
        // running sums of weight times hazard, alone and times each group's share; a row of zeros before the first
        let mut running = vec![0.0; self.n_groups + 1];
        let mut sums = running.clone();
        for step in steps {
            let amount = step.weight * step.hazard;
            for (sum, share) in running
                .iter_mut()
                .zip(std::iter::once(&1.0).chain(&step.shares))
            {
                *sum += amount * share;
            }
            sums.extend(&running);
        }
        let at = |position: usize, place: usize| {
            sums.get(position * (self.n_groups + 1) + place)
                .copied()
                .unwrap_or(0.0)
        };
        for ((&row, &exit), &entry) in stratum.rows.iter().zip(&stratum.exit).zip(&stratum.entry) {
            let row = row as usize;
            let (exit, entry) = (exit as usize + 1, entry as usize);
            let has_event = sample.cause().get(row).is_some_and(|&cause| cause > 0);
            let step = steps.get(exit - 1).filter(|_| has_event);
            let first = match &self.cluster {
                Some(cluster) => cluster.get(row).copied().unwrap_or(0) as usize * self.n_groups,
                None => {
                    self.sums.resize(self.sums.len() + self.n_groups, 0.0);
                    self.sums.len() - self.n_groups
                }
            };
            for place in 0..self.n_groups {
                let own = if groups.of(row) == place { 1.0 } else { 0.0 };
                let expected = own * (at(exit, 0) - at(entry, 0))
                    - (at(exit, place + 1) - at(entry, place + 1));
                let seen = step.map_or(0.0, |step| {
                    step.weight * (own - step.shares.get(place).copied().unwrap_or(0.0))
                });
                if let Some(sum) = self.sums.get_mut(first + place) {
                    *sum += sample.weight_of(row) * (seen - expected);
                }
            }
        }
    }

    fn covariance(&self) -> Vec<Vec<f64>> {
        let mut covariance = vec![vec![0.0; self.n_groups]; self.n_groups];
        for cluster in self.sums.chunks(self.n_groups) {
            for (row, left) in covariance.iter_mut().zip(cluster) {
                for (sum, right) in row.iter_mut().zip(cluster) {
                    *sum += left * right;
                }
            }
        }
        covariance
    }
}
