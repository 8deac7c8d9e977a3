//! The jackknife of rows that weigh one each and are all at risk from the origin, the usual case.
//!
//! Such a row is told by its place alone: the position of its exit and its cause. Rows without clusters are counted by place;
//! clusters are kept as runs of places, sorted once for all curves of a sample. Neither the order of the rows nor the number of
//! threads can change a digit.

use super::{Changes, Squares, numbered_clusters, rows_by_cluster};
use crate::Sample;
use crate::day_counts::DayCounts;
use crate::halves::in_two_parts;
use crate::time_order::TimeOrder;

/// Causes up to this are part of a place.
const LARGEST_CAUSE: u32 = 31;

/// Places whose changes are worked out beforehand: those that stay in a cache.
const SMALL_TABLE: usize = 1 << 16;

/// Rows by place.
pub(crate) struct PlainRows {
    n_rows: usize,
    n_times: usize,
    /// Causes and 1 more for censorings.
    n_kinds: usize,
    /// Number of rows by place.
    counts: Vec<u32>,
    rows: Rows,
}

enum Rows {
    /// Each row its own cluster.
    Apart,
    Together([Runs; 2]),
}

/// Half of the clusters.
struct Runs {
    /// For each cluster its places in increasing order, doubled, and 1 more for its last.
    keys: Vec<u32>,
    /// Sum over clusters of their squared numbers of rows.
    n_squared: u64,
}

impl PlainRows {
    /// `None` where rows have weights or enter late, or where causes or times are too many to number.
    pub(super) fn new(
        sample: &Sample,
        order: &TimeOrder,
        days: Option<&DayCounts>,
    ) -> Option<Self> {
        let largest_cause = sample.cause().iter().copied().max().unwrap_or(0);
        if sample.weight().is_some() || !order.entry.is_empty() || largest_cause > LARGEST_CAUSE {
            return None;
        }
        let n_kinds = largest_cause as usize + 1;
        let n_times = order.times.len();
        let n_places = n_times.checked_mul(n_kinds)?;
        if n_places >= (u32::MAX / 2) as usize {
            return None;
        }
        let ticks = days.map(DayCounts::ticks);
        let place_of = |row: usize| {
            let position = match (&ticks, sample.exit().get(row)) {
                (Some(ticks), Some(&exit)) => ticks
                    .get(exit as u32 as usize)
                    .map_or(0, |up_to| up_to.saturating_sub(1)),
                _ => order.exit.get(row).copied().unwrap_or(0),
            };
            let cause = sample.cause().get(row).copied().unwrap_or(0);
            position * n_kinds as u32 + cause
        };
        let rows = match sample.cluster() {
            None => Rows::Apart,
            Some(cluster) if cluster.is_sorted() => {
                Rows::Together(runs(cluster, |cluster| cluster, place_of))
            }
            Some(_) => {
                let (cluster, n_clusters) = numbered_clusters(sample.cluster(), sample.len());
                let sorted = rows_by_cluster(&cluster, n_clusters);
                let row_at = |place: usize| sorted.get(place).map_or(0, |pair| pair.1 as usize);
                Rows::Together(runs(
                    &sorted,
                    |pair| pair.0,
                    |place| place_of(row_at(place)),
                ))
            }
        };
        let counts = match days {
            Some(days) => days.times().flat_map(|(_, line)| line).copied().collect(),
            None => counted(sample.len(), n_places, place_of),
        };
        Some(Self {
            n_rows: sample.len(),
            n_times,
            n_kinds,
            counts,
            rows,
        })
    }

    /// What is booked at each distinct time.
    ///
    /// All rows of a place bring the same change c, whatever their clusters hold before. So the products that they add,
    /// (h + c)(h + c)' - h h' = h c' + c h' + c c', need of the clusters only the sum of h.
    pub(super) fn booked<const N: usize>(
        &self,
        changes: &(impl Changes<N> + Sync),
    ) -> Vec<Squares<N>> {
        let entering = changes.entering(0);
        let change_at = |place: usize| {
            changes.leaving(place / self.n_kinds, (place % self.n_kinds) as u32, true)
        };
        let (n_squared, held) = match &self.rows {
            Rows::Apart => (self.n_rows as u64, None),
            Rows::Together(halves) => (
                halves.iter().map(|half| half.n_squared).sum(),
                Some(self.held_before(halves, entering, change_at)),
            ),
        };
        let mut booked = vec![[[0.0; N]; N]; self.n_times];
        if let Some(first) = booked.first_mut() {
            add_products(first, &entering, &entering, n_squared as f64);
        }
        for (place, &count) in self.counts.iter().enumerate() {
            let (true, Some(squares)) = (count > 0, booked.get_mut(place / self.n_kinds)) else {
                continue;
            };
            let count = f64::from(count);
            let held = held.as_ref().map_or_else(
                || entering.map(|part| part * count),
                |held| held.get(place).copied().unwrap_or([0.0; N]),
            );
            let change = change_at(place);
            add_products(squares, &held, &change, 1.0);
            add_products(squares, &change, &held, 1.0);
            add_products(squares, &change, &change, count);
        }
        booked
    }

    /// For each place the sum of what the clusters of its rows hold just before these leave.
    fn held_before<const N: usize>(
        &self,
        halves: &[Runs; 2],
        entering: [f64; N],
        change_at: impl Fn(usize) -> [f64; N] + Sync,
    ) -> Vec<[f64; N]> {
        let n_places = self.counts.len();
        let table: Vec<[f64; N]> = match n_places <= SMALL_TABLE {
            true => (0..n_places).map(&change_at).collect(),
            false => Vec::new(),
        };
        let [mut first, second] = in_two_parts(self.n_rows, 0..1, 1..2, |half| {
            let keys = halves.get(half.start).map_or(&[][..], |half| &half.keys);
            if table.is_empty() {
                sum_held(keys, n_places, entering, &change_at)
            } else {
                let known = |place: usize| table.get(place).copied().unwrap_or([0.0; N]);
                sum_held(keys, n_places, entering, known)
            }
        });
        for (left, right) in first.iter_mut().flatten().zip(second.iter().flatten()) {
            *left += right;
        }
        first
    }
}

/// For each place the sum of what clusters hold just before their rows leave: all rows of a cluster enter at the origin and
/// leave one after the other.
fn sum_held<const N: usize>(
    keys: &[u32],
    n_places: usize,
    entering: [f64; N],
    change_at: impl Fn(usize) -> [f64; N],
) -> Vec<[f64; N]> {
    let mut sums = vec![[0.0; N]; n_places];
    for cluster in keys.split_inclusive(|key| key % 2 == 1) {
        let mut held = entering.map(|part| part * cluster.len() as f64);
        for key in cluster {
            let place = (key / 2) as usize;
            if let Some(sum) = sums.get_mut(place) {
                for (sum, held) in sum.iter_mut().zip(&held) {
                    *sum += held;
                }
            }
            for (held, change) in held.iter_mut().zip(change_at(place)) {
                *held += change;
            }
        }
    }
    sums
}

/// Adds `factor` times the outer product of two vectors.
fn add_products<const N: usize>(
    squares: &mut Squares<N>,
    left: &[f64; N],
    right: &[f64; N],
    factor: f64,
) {
    for (row, left) in squares.iter_mut().zip(left) {
        for (cell, right) in row.iter_mut().zip(right) {
            *cell += factor * left * right;
        }
    }
}

/// Number of rows by place.
fn counted(n_rows: usize, n_places: usize, place_of: impl Fn(usize) -> u32) -> Vec<u32> {
    let mut counts = vec![0_u32; n_places];
    for row in 0..n_rows {
        if let Some(count) = counts.get_mut(place_of(row) as usize) {
            *count += 1;
        }
    }
    counts
}

/// The places of each cluster in increasing order, in two halves; items of one cluster stand together.
fn runs<T: Copy + Sync>(
    items: &[T],
    cluster_of: impl Fn(T) -> u32 + Sync,
    place_of: impl Fn(usize) -> u32 + Sync,
) -> [Runs; 2] {
    let n = items.len();
    let is_one = |left: &T, right: &T| cluster_of(*left) == cluster_of(*right);
    let neighbours = items.iter().zip(items.iter().skip(1)).enumerate();
    // the second half begins with a cluster
    let middle = neighbours
        .skip((n / 2).saturating_sub(1))
        .find(|(_, (left, right))| !is_one(left, right))
        .map_or(n, |(place, _)| place + 1);
    in_two_parts(n, 0..middle, middle..n, |part| {
        let mut keys: Vec<u32> = Vec::with_capacity(part.len());
        let mut n_squared = 0;
        let mut next = part.start;
        for cluster in items.get(part).unwrap_or_default().chunk_by(is_one) {
            let begun = keys.len();
            keys.extend((next..next + cluster.len()).map(|place| place_of(place) * 2));
            next += cluster.len();
            n_squared += (cluster.len() as u64).pow(2);
            match keys.get_mut(begun..) {
                Some([left, right]) => (*left, *right) = (*left.min(right), *left.max(right)),
                Some([a, b, c]) => {
                    let (low, high) = (*a.min(b), *a.max(b));
                    let (middle, highest) = (high.min(*c), high.max(*c));
                    (*a, *b, *c) = (low.min(middle), low.max(middle), highest);
                }
                Some(own) => own.sort_unstable(),
                None => {}
            }
            if let Some(last) = keys.last_mut() {
                *last += 1;
            }
        }
        Runs { keys, n_squared }
    })
}
