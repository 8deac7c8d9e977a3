//! Rows in the order in which they come into and go out of the risk sets.

use crate::Sample;
use crate::influence::numbered_clusters;
use crate::time_order::TimeOrder;

/// A row as the jackknife sees it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Member {
    pub(super) row: u32,
    pub(super) cluster: u32,
    pub(super) cause: u32,
    pub(super) entry: u32,
    pub(super) exit: u32,
    pub(super) weight: f64,
}

/// Rows by the position at which they enter and at which they leave.
pub(super) struct Movements {
    entering: Buckets,
    leaving: Buckets,
    pub(super) n_clusters: usize,
}

impl Movements {
    /// `rows` lists the rows in a settled order, so that rounding does not depend on their own.
    pub(super) fn new(sample: &Sample, order: &TimeOrder, rows: &[u32]) -> Self {
        let (cluster, n_clusters) = numbered_clusters(sample.cluster(), sample.len());
        let at = |column: &[u32], index: usize| column.get(index).copied().unwrap_or(0);
        let members: Vec<Member> = rows
            .iter()
            .map(|&row| row as usize)
            .filter(|&index| order.is_ever_at_risk(index))
            .map(|index| Member {
                row: index as u32,
                cluster: at(&cluster, index),
                cause: at(sample.cause(), index),
                entry: order.entry_of(index),
                exit: at(&order.exit, index),
                weight: sample.weight_of(index),
            })
            .collect();
        let n_times = order.times.len();
        Self {
            entering: Buckets::new(&members, n_times, |member| member.entry),
            leaving: Buckets::new(&members, n_times, |member| member.exit),
            n_clusters,
        }
    }

    /// Rows at risk from this position on.
    pub(super) fn entering(&self, position: usize) -> &[Member] {
        self.entering.at(position)
    }

    /// Rows last at risk at this position.
    pub(super) fn leaving(&self, position: usize) -> &[Member] {
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
