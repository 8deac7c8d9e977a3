//! Gray's test that the incidence of a cause is the same in all groups.

use super::ChiSquaredTest;
use super::strata::{GroupTable, strata};
use crate::grouping::Grouping;
use crate::time_order::time_order;
use crate::{Sample, SurvivalError};
use serde::Serialize;

/// Choices of Gray's test. The default power is 0.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct GrayOptions {
    /// Power of 1 minus the pooled incidence by which an event time counts; 0 weighs all alike.
    pub rho: f64,
}

/// Gray's k-sample test of the cumulative incidence of `cause`, within strata where given.
///
/// Compares sub-distribution hazards: those with another event stay, in expectation, in the risk set. Events of all causes
/// at one time happen at once; variances carry a correction for ties. The statistic is `None` when the cause
/// has no event or only one group is ever at risk. Weights are frequencies. Clusters are not honoured.
///
/// Delayed entry is refused, not approximated: the risk set of the test is the number at risk divided by the probability of no
/// event yet, which counts back those with another event under one law of censoring. With late entry that number also needs
/// the law of the entries, and the source's variance, made of right-censored counting processes, no longer holds. The
/// weights of [`crate::regression::fine_gray::fine_gray`] carry both laws: with an indicator for each group its Wald test
/// compares incidences under delayed entry (Geskus, Biometrics 2011;67:39).
///
/// # Errors
/// `NotDefined` with delayed entry; `UnequalColumns`; `SettingOutOfRange` for a power that is not finite.
///
/// Source: Gray, Ann Stat 1988;16:1141, the score after (2.9) and the variance of section 4.
pub fn gray_test(
    sample: &Sample,
    cause: u32,
    group: &[u32],
    stratum: Option<&[u32]>,
    options: &GrayOptions,
) -> Result<ChiSquaredTest, SurvivalError> {
    if sample
        .entry()
        .is_some_and(|entry| entry.iter().any(|&entry| entry > 0.0))
    {
        return Err(SurvivalError::NotDefined {
            choice: "delayed entry",
            estimator: "Gray's test",
        });
    }
    if !options.rho.is_finite() {
        return Err(SurvivalError::SettingOutOfRange {
            setting: "rho",
            rule: "must be a finite number",
        });
    }
    let groups = Grouping::new("group", group, sample.len())?;
    let n_groups = groups.n_groups();
    let stratum = match stratum {
        Some(stratum) => Grouping::new("stratum", stratum, sample.len())?,
        None => Grouping::of_one(sample.len()),
    };
    let mut score = vec![0.0; n_groups];
    let mut covariance = vec![vec![0.0; n_groups]; n_groups];
    let all_at_once = (stratum.n_groups() == 1)
        .then(|| GroupTable::of_days(sample, &groups, Some(cause)))
        .flatten();
    let tables = match all_at_once {
        Some(table) => vec![table],
        None => strata(&time_order(sample)?, &stratum, None)
            .iter()
            .map(|stratum| GroupTable::new(sample, &groups, stratum, Some(cause)))
            .collect(),
    };
    for table in &tables {
        let steps = steps(table, options.rho);
        add_score(&steps, &mut score);
        add_covariance(&steps, &mut covariance);
    }
    Ok(ChiSquaredTest::of_score(&score, &covariance))
}

/// One time at which anything happens, group by group where they are still at risk.
struct Step {
    /// Events of the cause, all groups.
    n_of_cause: f64,
    /// Sum over groups of at risk / event-free: the size of the pooled sub-distribution risk set over 1 - incidence.
    pooled_risk: f64,
    /// The same with each group's own 1 - incidence.
    own_risk: f64,
    /// Pooled incidence before and after.
    pooled_before: f64,
    pooled_after: f64,
    /// Weight of the time.
    weight: f64,
    groups: Vec<GroupStep>,
}

#[derive(Clone, Copy, Default)]
struct GroupStep {
    n_at_risk: f64,
    n_of_cause: f64,
    n_other: f64,
    event_free_before: f64,
    event_free_after: f64,
    incidence_before: f64,
}

impl GroupStep {
    /// At risk / event-free, 0 when nobody is at risk.
    fn risk(&self) -> f64 {
        if self.n_at_risk > 0.0 {
            self.n_at_risk / self.event_free_before
        } else {
            0.0
        }
    }
}

fn steps(table: &GroupTable, rho: f64) -> Vec<Step> {
    let mut event_free = vec![1.0; table.n_groups];
    let mut incidence = vec![0.0; table.n_groups];
    let mut pooled = 0.0;
    let mut steps = Vec::new();
    for counts in table.times() {
        let n_of_cause: f64 = counts.n_events.iter().sum();
        let n_other: f64 = counts.n_other.iter().sum();
        if n_of_cause <= 0.0 && n_other <= 0.0 {
            continue;
        }
        let of_groups: Vec<GroupStep> = counts
            .n_at_risk
            .iter()
            .zip(counts.n_events.iter().zip(counts.n_other))
            .zip(event_free.iter_mut().zip(&mut incidence))
            .map(
                |((&n_at_risk, (&n_of_cause, &n_other)), (event_free, incidence))| {
                    let mut step = GroupStep {
                        n_at_risk,
                        n_of_cause,
                        n_other,
                        event_free_before: *event_free,
                        event_free_after: *event_free,
                        incidence_before: *incidence,
                    };
                    if n_at_risk > 0.0 {
                        *incidence += *event_free * n_of_cause / n_at_risk;
                        *event_free *= (n_at_risk - n_of_cause - n_other) / n_at_risk;
                        step.event_free_after = *event_free;
                    }
                    step
                },
            )
            .collect();
        let pooled_risk: f64 = of_groups.iter().map(GroupStep::risk).sum();
        let own_risk = of_groups
            .iter()
            .map(|group| group.risk() * (1.0 - group.incidence_before))
            .sum();
        let pooled_before = pooled;
        pooled += n_of_cause / pooled_risk;
        steps.push(Step {
            n_of_cause,
            pooled_risk,
            own_risk,
            pooled_before,
            pooled_after: pooled,
            weight: (1.0 - pooled_before).powf(rho),
            groups: of_groups,
        });
    }
    steps
}

/// Weighted difference between events seen and expected from the sub-distribution risk sets.
fn add_score(steps: &[Step], score: &mut [f64]) {
    for step in steps.iter().filter(|step| step.n_of_cause > 0.0) {
        for (score, group) in score.iter_mut().zip(&step.groups) {
            let share = group.risk() * (1.0 - group.incidence_before) / step.own_risk;
            *score += step.weight * (group.n_of_cause - step.n_of_cause * share);
        }
    }
}

/// Covariance of the scores: each group's two counting processes are weighed by their effect on the score now (direct)
/// and on all later ones (through the group's event-free curve), squared and summed with their variances.
fn add_covariance(steps: &[Step], covariance: &mut [Vec<f64>]) {
    let n_groups = covariance.len();
    let at = |matrix: &[f64], row: usize, column: usize| {
        matrix.get(row * n_groups + column).copied().unwrap_or(0.0)
    };
    // effect of a unit of sub-distribution hazard of group k on score i: direct, and summed from the step after on
    let direct = |step: &Step| -> Vec<f64> {
        let risks: Vec<f64> = step.groups.iter().map(GroupStep::risk).collect();
        (0..n_groups * n_groups)
            .map(|place| {
                let own = if place / n_groups == place % n_groups {
                    1.0
                } else {
                    0.0
                };
                let risk = |group: usize| risks.get(group).copied().unwrap_or(0.0);
                let share = risk(place % n_groups) / step.pooled_risk;
                step.weight * risk(place / n_groups) * (own - share)
            })
            .collect()
    };
    let mut later = vec![0.0; n_groups * n_groups];
    for step in steps.iter().rev() {
        let direct = direct(step);
        let remaining_pooled = 1.0 - step.pooled_after;
        for (k, group) in step.groups.iter().enumerate() {
            if group.n_at_risk <= 0.0 {
                continue;
            }
            let carried = if group.event_free_after > 0.0 {
                remaining_pooled / group.event_free_after
            } else {
                0.0
            };
            let mut add = |of_now: f64, of_later: f64, variance: f64| {
                for (i, row) in covariance.iter_mut().enumerate() {
                    let left = of_now * at(&direct, i, k) + of_later * at(&later, i, k);
                    for (j, sum) in row.iter_mut().enumerate() {
                        let right = of_now * at(&direct, j, k) + of_later * at(&later, j, k);
                        *sum += left * right * variance;
                    }
                }
            };
            if step.n_of_cause > 0.0 {
                let ties = ties(step.n_of_cause, step.pooled_risk * group.event_free_before);
                let variance = ties * group.event_free_before * step.n_of_cause
                    / (step.pooled_risk * group.n_at_risk);
                let of_later = if group.event_free_after > 0.0 {
                    1.0 - carried
                } else {
                    1.0
                };
                add(1.0, of_later, variance);
            }
            if group.n_other > 0.0 && group.event_free_after > 0.0 {
                let scale = group.event_free_before / group.n_at_risk;
                let variance = ties(group.n_other, group.n_at_risk) * scale * scale * group.n_other;
                add(0.0, carried, variance);
            }
        }
        if step.n_of_cause > 0.0 {
            let increment = step.n_of_cause / (step.pooled_risk * (1.0 - step.pooled_before));
            for (later, direct) in later.iter_mut().zip(&direct) {
                *later += direct * increment;
            }
        }
    }
}

/// Share of the variance left when several events fall on one time.
fn ties(n_events: f64, n_at_risk: f64) -> f64 {
    if n_events > 1.0 {
        1.0 - (n_events - 1.0) / (n_at_risk - 1.0)
    } else {
        1.0
    }
}
