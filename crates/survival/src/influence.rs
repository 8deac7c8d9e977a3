//! The infinitesimal jackknife at nearly the cost of the plain curve.
//!
//! A row's influence on an estimate at time t is linear in a few functions of t that all rows share (its *basis*), with
//! coefficients that change only when the row enters or leaves. So the sum over clusters of squared influences is
//! a quadratic form in the basis, and its small matrix is kept up to date in constant time for each entry and exit.

use crate::Sample;
use crate::time_order::TimeOrder;

/// Sum over clusters of the outer squares of their coefficients.
pub(crate) struct InfluenceSquares<const N: usize> {
    coefficients: Vec<[f64; N]>,
    squares: [[f64; N]; N],
}

impl<const N: usize> InfluenceSquares<N> {
    pub(crate) fn new(n_clusters: usize) -> Self {
        Self {
            coefficients: vec![[0.0; N]; n_clusters],
            squares: [[0.0; N]; N],
        }
    }

    /// Adds to the coefficients of one cluster.
    pub(crate) fn change(&mut self, cluster: u32, change: [f64; N]) {
        let Some(held) = self.coefficients.get_mut(cluster as usize) else {
            return;
        };
        for (row, (held_row, change_row)) in self.squares.iter_mut().zip(held.iter().zip(&change)) {
            for (sum, (held_column, change_column)) in row.iter_mut().zip(held.iter().zip(&change))
            {
                *sum += held_row * change_column + change_row * (held_column + change_column);
            }
        }
        for (held, change) in held.iter_mut().zip(&change) {
            *held += change;
        }
    }

    /// Sum over clusters of the squared influence, given the basis at a time.
    pub(crate) fn at(&self, basis: [f64; N]) -> f64 {
        let sum: f64 = self
            .squares
            .iter()
            .zip(&basis)
            .map(|(row, left)| {
                left * row
                    .iter()
                    .zip(&basis)
                    .map(|(sum, right)| sum * right)
                    .sum::<f64>()
            })
            .sum();
        sum.max(0.0)
    }
}

/// A row as the jackknife sees it.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Member {
    pub(crate) row: u32,
    pub(crate) cluster: u32,
    pub(crate) cause: u32,
    pub(crate) entry: u32,
    pub(crate) exit: u32,
    pub(crate) weight: f64,
}

impl Member {
    /// Whether it is at risk when it leaves; not so for a second event of a subject at one time.
    pub(crate) fn is_at_risk(&self) -> bool {
        self.entry <= self.exit
    }
}

/// Rows by the position at which they enter and at which they leave.
pub(crate) struct Movements {
    entering: Buckets,
    leaving: Buckets,
    pub(crate) n_clusters: usize,
}

impl Movements {
    pub(crate) fn new(sample: &Sample, order: &TimeOrder) -> Self {
        let (cluster, n_clusters) = numbered_clusters(sample.cluster(), sample.len());
        let at = |column: &[u32], index: usize| column.get(index).copied().unwrap_or(0);
        let members: Vec<Member> = (0..sample.len())
            .filter(|&index| order.gives_a_time(index))
            .map(|index| Member {
                row: index as u32,
                cluster: at(&cluster, index),
                cause: at(sample.cause(), index),
                entry: order.entry_of(index),
                exit: at(&order.exit, index),
                weight: sample.weight_of(index),
            })
            .collect();
        // a settled order within each time, so that rounding does not depend on the order of the rows
        let settled = if sample.cluster().is_some() {
            Buckets::new(&members, n_clusters, |member| member.cluster)
        } else {
            Buckets::new(&members, 256, |member| member.cause.min(255))
        };
        let n_times = order.times.len();
        // a member that is never at risk must not enter
        let enters_at = |member: &Member| {
            if member.is_at_risk() {
                member.entry
            } else {
                u32::MAX
            }
        };
        Self {
            entering: Buckets::new(&settled.members, n_times, enters_at),
            leaving: Buckets::new(&settled.members, n_times, |member| member.exit),
            n_clusters,
        }
    }

    /// Rows at risk from this position on.
    pub(crate) fn entering(&self, position: usize) -> &[Member] {
        self.entering.at(position)
    }

    /// Rows last at risk at this position.
    pub(crate) fn leaving(&self, position: usize) -> &[Member] {
        self.leaving.at(position)
    }
}

/// Members gathered by a small whole number, in the order given within each.
struct Buckets {
    first: Vec<u32>,
    members: Vec<Member>,
}

impl Buckets {
    fn new(members: &[Member], n_buckets: usize, bucket: impl Fn(&Member) -> u32) -> Self {
        let mut first = vec![0_u32; n_buckets + 1];
        for member in members {
            if let Some(count) = first.get_mut((bucket(member) as usize).saturating_add(1)) {
                *count += 1;
            }
        }
        let mut sum = 0;
        for count in &mut first {
            sum += *count;
            *count = sum;
        }
        let mut next = first.clone();
        let mut placed = members.to_vec();
        placed.truncate(sum as usize);
        for member in members {
            if let Some(next) = next.get_mut(bucket(member) as usize) {
                if let Some(place) = placed.get_mut(*next as usize) {
                    *place = *member;
                }
                *next += 1;
            }
        }
        Self {
            first,
            members: placed,
        }
    }

    fn at(&self, bucket: usize) -> &[Member] {
        let bounds = self.first.get(bucket).zip(self.first.get(bucket + 1));
        bounds
            .and_then(|(&first, &end)| self.members.get(first as usize..end as usize))
            .unwrap_or_default()
    }
}

/// Clusters as numbers from 0, in increasing order of the given ones; each row its own cluster where none is given.
pub(crate) fn numbered_clusters(cluster: Option<&[u32]>, n_rows: usize) -> (Vec<u32>, usize) {
    let Some(cluster) = cluster else {
        return ((0..n_rows as u32).collect(), n_rows);
    };
    let largest = cluster.iter().copied().max().unwrap_or(0) as usize;
    if largest <= 4 * cluster.len() {
        return (cluster.to_vec(), largest + 1);
    }
    let mut known = cluster.to_vec();
    known.sort_unstable();
    known.dedup();
    let numbered = cluster
        .iter()
        .map(|cluster| known.binary_search(cluster).unwrap_or(0) as u32)
        .collect();
    (numbered, known.len())
}
