//! The mean time without an event up to a bound, and its difference between groups.

use crate::content::ContentKeys;
use crate::curve::{CurveOptions, Variance};
use crate::distribution::two_sided_p_value;
use crate::grouping::Grouping;
use crate::kaplan_meier::event_free;
use crate::regression::ClusterIndex;
use crate::risk_table::{RiskTable, risk_table};
use crate::time_order::{TimeOrder, time_order};
use crate::{Sample, SurvivalError};
use serde::Serialize;

/// Area under the event-free curve from 0 to a bound.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RestrictedMean {
    /// The group's label; `None` for the whole sample.
    pub group: Option<u32>,
    /// Rows of the group.
    pub n: usize,
    /// The bound, in the unit of the sample.
    pub until: f64,
    /// The area, in the unit of the sample, between 0 and `until`.
    pub estimate: f64,
    /// Its standard error.
    pub std_error: f64,
    /// Lower limit, linear, not below 0.
    pub lower: f64,
    /// Upper limit, linear, not above `until`.
    pub upper: f64,
    /// The last observed time when it lies before the bound and somebody is still without an event there: beyond it the
    /// curve is carried on flat, so that the estimate is the largest the data allow.
    pub carried_on_from: Option<f64>,
}

/// Difference of two restricted means.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RestrictedMeanDifference {
    /// The group.
    pub group: u32,
    /// The group it is compared with: the first in order.
    pub reference: u32,
    /// Mean of the group minus mean of the reference, in the unit of the sample.
    pub estimate: f64,
    /// Standard error; under the robust variance it honours clusters that span groups.
    pub std_error: f64,
    /// Lower limit, linear.
    pub lower: f64,
    /// Upper limit, linear.
    pub upper: f64,
    /// Two-sided normal p-value; `None` when the standard error is 0.
    pub p_value: Option<f64>,
}

/// Restricted means by group.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RestrictedMeans {
    /// One mean for each group, in increasing order of the label.
    pub means: Vec<RestrictedMean>,
    /// Each other group against the first.
    pub differences: Vec<RestrictedMeanDifference>,
}

/// Restricted mean time without an event of any cause, up to `until`.
///
/// The standard error sums A^2 d/(n(n-d)) over the event times, A being the area from there to the bound (`Aalen`: A^2 d/n^2);
/// no n/(n-1) factor is applied. `Robust` is the infinitesimal jackknife, the one to use with sampling weights or clusters.
///
/// # Errors
/// `SettingOutOfRange` unless `until` is a positive finite number; otherwise as [`crate::kaplan_meier`].
///
/// Source: Irwin, J Hygiene 1949;47:188; Royston and Parmar, BMC Med Res Methodol 2013;13:152.
pub fn restricted_mean(
    sample: &Sample,
    until: f64,
    options: &CurveOptions,
) -> Result<RestrictedMean, SurvivalError> {
    let everybody = Grouping::of_one(sample.len());
    let mut found = by_group(sample, &everybody, until, options)?.means;
    let mut mean = found.pop().ok_or(SurvivalError::NoRows)?;
    mean.group = None;
    Ok(mean)
}

/// Restricted means of each group, and each against the first.
///
/// # Errors
/// As [`restricted_mean`], and `UnequalColumns` for the groups.
pub fn restricted_means(
    sample: &Sample,
    group: &[u32],
    until: f64,
    options: &CurveOptions,
) -> Result<RestrictedMeans, SurvivalError> {
    let grouping = Grouping::new("group", group, sample.len())?;
    by_group(sample, &grouping, until, options)
}

fn by_group(
    sample: &Sample,
    grouping: &Grouping,
    until: f64,
    options: &CurveOptions,
) -> Result<RestrictedMeans, SurvivalError> {
    if !(until > 0.0 && until.is_finite()) {
        return Err(SurvivalError::SettingOutOfRange {
            setting: "until",
            rule: "must be a positive finite time",
        });
    }
    let multiplier = options.multiplier()?;
    let order = time_order(sample)?;
    let causes = sample.causes();
    // rows in the order of what they hold, and each its own cluster where none are given, so that no sum follows their own
    let rows = match options.variance {
        Variance::Robust => content_keys(sample, grouping).order(),
        _ => Vec::new(),
    };
    let clusters = ClusterIndex::of(sample.cluster(), sample.len(), &rows);
    let mut means = Vec::new();
    let mut influences: Vec<Vec<f64>> = Vec::new();
    for (place, &label) in grouping.labels.iter().enumerate() {
        let is_member = |row: usize| grouping.of(row) == place;
        let table = risk_table(sample, &order, &causes, is_member);
        let area = Area::new(&order.times, &table, until);
        let std_error = if options.variance == Variance::Robust {
            let mut sums = vec![0.0; clusters.n_clusters];
            for (&row, &cluster) in rows.iter().zip(&clusters.of_position) {
                let row = row as usize;
                if let Some(sum) = sums.get_mut(cluster as usize).filter(|_| is_member(row)) {
                    *sum += area.influence(sample, &order, row);
                }
            }
            let squares: f64 = sums.iter().map(|sum| sum * sum).sum();
            influences.push(sums);
            squares.sqrt()
        } else {
            area.summed_variance(&table, options.variance).sqrt()
        };
        means.push(RestrictedMean {
            group: Some(label),
            n: (0..sample.len()).filter(|&row| is_member(row)).count(),
            until,
            estimate: area.total,
            std_error,
            lower: (area.total - multiplier * std_error).max(0.0),
            upper: (area.total + multiplier * std_error).min(until),
            carried_on_from: area.carried_on_from,
        });
    }
    let first = means.first().zip(Some(influences.first()));
    let differences = first.map_or_else(Vec::new, |(reference, reference_influence)| {
        means
            .iter()
            .enumerate()
            .skip(1)
            .map(|(place, mean)| {
                let std_error = match reference_influence.zip(influences.get(place)) {
                    Some((left, right)) => {
                        let squares = left
                            .iter()
                            .zip(right)
                            .map(|(left, right)| (right - left).powi(2));
                        squares.sum::<f64>().sqrt()
                    }
                    None => mean.std_error.hypot(reference.std_error),
                };
                let estimate = mean.estimate - reference.estimate;
                RestrictedMeanDifference {
                    group: mean.group.unwrap_or(0),
                    reference: reference.group.unwrap_or(0),
                    estimate,
                    std_error,
                    lower: estimate - multiplier * std_error,
                    upper: estimate + multiplier * std_error,
                    p_value: (std_error > 0.0).then(|| two_sided_p_value(estimate / std_error)),
                }
            })
            .collect()
    });
    Ok(RestrictedMeans { means, differences })
}

fn content_keys(sample: &Sample, grouping: &Grouping) -> ContentKeys {
    let group: Vec<u32> = (0..sample.len())
        .map(|row| grouping.of(row) as u32)
        .collect();
    ContentKeys::of(sample).with_labels(&group)
}

/// The area under a curve, and what the variances need of it at each distinct time.
pub(crate) struct Area {
    pub(crate) total: f64,
    pub(crate) carried_on_from: Option<f64>,
    /// Area from each time to the bound; 0 beyond it.
    remaining: Vec<f64>,
    /// Sum of remaining area times d/(n(n-d)) up to each time.
    weighed: Vec<f64>,
    /// 1/(n-d) at each time, 0 without an event or when nobody is spared.
    of_event: Vec<f64>,
}

impl Area {
    pub(crate) fn new(times: &[f64], table: &RiskTable, until: f64) -> Self {
        let estimate = event_free(table);
        // the group may be gone before the last time of all
        let last_seen = table
            .n_at_risk
            .iter()
            .rposition(|&n_at_risk| n_at_risk > 0.0);
        let last = last_seen.and_then(|last| times.get(last).zip(estimate.get(last)));
        let carried_on_from = last
            .filter(|&(&time, &estimate)| time < until && estimate > 0.0)
            .map(|(&time, _)| time);

        let mut remaining = vec![0.0; times.len()];
        let (mut area, mut next_time) = (0.0, until);
        let steps = times.iter().zip(&estimate).zip(&mut remaining).rev();
        for ((&time, &estimate), remaining) in steps {
            if time < until {
                area += estimate * (next_time - time);
                next_time = time;
                *remaining = area;
            }
        }
        let mut weighed = Vec::with_capacity(times.len());
        let mut of_event = Vec::with_capacity(times.len());
        let mut sum = 0.0;
        let counts = table.n_at_risk.iter().zip(&table.n_events_of_any);
        for ((&n_at_risk, &n_events), &remaining) in counts.zip(&remaining) {
            let n_spared = n_at_risk - n_events;
            let has_event = n_events > 0.0 && n_spared > 0.0;
            if has_event {
                sum += remaining * n_events / (n_at_risk * n_spared);
            }
            weighed.push(sum);
            of_event.push(if has_event { 1.0 / n_spared } else { 0.0 });
        }
        Self {
            total: area + next_time,
            carried_on_from,
            remaining,
            weighed,
            of_event,
        }
    }

    fn summed_variance(&self, table: &RiskTable, variance: Variance) -> f64 {
        let counts = table.n_at_risk.iter().zip(&table.n_events_of_any);
        counts
            .zip(&self.remaining)
            .filter(|&((_, &n_events), &remaining)| n_events > 0.0 && remaining > 0.0)
            .map(|((&n, &n_events), &remaining)| {
                let denominator = match variance {
                    Variance::Aalen => n * n,
                    Variance::Greenwood | Variance::Robust => n * (n - n_events),
                };
                remaining * remaining * n_events / denominator
            })
            .sum()
    }

    /// Weight times the derivative of the area by it.
    fn influence(&self, sample: &Sample, order: &TimeOrder, row: usize) -> f64 {
        sample.weight_of(row) * self.derivative(sample, order, row)
    }

    /// Derivative of the area by the weight of a row that belongs to it.
    pub(crate) fn derivative(&self, sample: &Sample, order: &TimeOrder, row: usize) -> f64 {
        if !order.is_ever_at_risk(row) {
            return 0.0;
        }
        let exit = order.exit.get(row).copied().unwrap_or(0) as usize;
        let at = |column: &[f64], position: Option<usize>| {
            position
                .and_then(|position| column.get(position).copied())
                .unwrap_or(0.0)
        };
        let before_entry = (order.entry_of(row) as usize).checked_sub(1);
        let has_event = sample.cause().get(row).is_some_and(|&cause| cause > 0);
        let of_event = if has_event {
            at(&self.of_event, Some(exit)) * at(&self.remaining, Some(exit))
        } else {
            0.0
        };
        let while_at_risk = at(&self.weighed, Some(exit)) - at(&self.weighed, before_entry);
        while_at_risk - of_event
    }
}
