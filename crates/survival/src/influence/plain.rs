//! The jackknife of rows that weigh one each and are all at risk from the origin, the usual case.
//!
//! Such a row is told by its place alone: the position of its exit and its cause. Rows without clusters are counted by place;
//! clusters are walked, the places of each sorted on the way. Neither the order of the rows nor the number of threads can
//! change a digit.

use super::{Changes, Squares, numbered_clusters, rows_by_cluster};
use crate::Sample;
use crate::day_counts::DayCounts;
use crate::halves::in_two_parts;
use crate::time_order::TimeOrder;

/// Causes, censorings among them, that may be part of a place.
const MOST_KINDS: usize = 32;

/// Places whose changes are worked out beforehand: those that stay in a cache.
const SMALL_TABLE: usize = 1 << 16;

/// Rows by place.
pub(crate) struct PlainRows<'sample> {
    sample: &'sample Sample,
    n_times: usize,
    /// Causes and 1 more for censorings.
    n_kinds: usize,
    /// Number of rows by place.
    counts: Vec<u32>,
    first_places: FirstPlaces<'sample>,
    clusters: Clusters<'sample>,
}

/// The first of the places that share the time of a row's exit.
enum FirstPlaces<'sample> {
    /// By whole time.
    OfTime(Vec<u32>),
    /// From the position of each row's exit.
    OfRow(&'sample [u32], u32),
}

enum Clusters<'sample> {
    /// Each row its own.
    Apart,
    /// By row; the rows of one cluster stand together.
    Together(&'sample [u32]),
    /// Pairs of cluster and row, those of one cluster together.
    Sorted(Vec<(u32, u32)>),
}

/// What a walk over clusters finds.
struct Walk<const N: usize> {
    /// For each place the sum of what the clusters of its rows hold just before these leave.
    held: Vec<[f64; N]>,
    /// Sum over clusters of their squared numbers of rows.
    n_squared: u64,
}

impl FirstPlaces<'_> {
    fn of(&self, sample: &Sample, row: usize) -> u32 {
        match self {
            Self::OfTime(places) => sample
                .exit()
                .get(row)
                .and_then(|&exit| places.get(exit as u32 as usize))
                .copied()
                .unwrap_or(0),
            Self::OfRow(positions, n_kinds) => {
                positions.get(row).map_or(0, |position| position * n_kinds)
            }
        }
    }
}

impl<'sample> PlainRows<'sample> {
    /// `None` where rows have weights or enter late, or where causes or times are too many to number.
    pub(super) fn new(
        sample: &'sample Sample,
        order: &'sample TimeOrder,
        days: Option<&DayCounts>,
    ) -> Option<Self> {
        if sample.weight().is_some() || !order.entry.is_empty() {
            return None;
        }
        let n_kinds = days.map_or_else(
            || sample.cause().iter().copied().max().unwrap_or(0) as usize + 1,
            DayCounts::n_causes,
        );
        let n_places = order.times.len().checked_mul(n_kinds)?;
        if n_kinds > MOST_KINDS || n_places >= u32::MAX as usize {
            return None;
        }
        let first_places = match days {
            Some(days) => FirstPlaces::OfTime(
                days.ticks()
                    .into_iter()
                    .map(|up_to| up_to.saturating_sub(1) * n_kinds as u32)
                    .collect(),
            ),
            None => FirstPlaces::OfRow(&order.exit, n_kinds as u32),
        };
        let clusters = match sample.cluster() {
            None => Clusters::Apart,
            Some(cluster) if is_sorted(cluster) => Clusters::Together(cluster),
            Some(_) => {
                let (cluster, n_clusters) = numbered_clusters(sample.cluster(), sample.len());
                Clusters::Sorted(rows_by_cluster(&cluster, n_clusters))
            }
        };
        let mut rows = Self {
            sample,
            n_times: order.times.len(),
            n_kinds,
            counts: Vec::new(),
            first_places,
            clusters,
        };
        rows.counts = match days {
            Some(days) => days.times().flat_map(|(_, line)| line).copied().collect(),
            None => rows.counted(n_places),
        };
        Some(rows)
    }

    fn place_of(&self, row: usize) -> u32 {
        let cause = self.sample.cause().get(row).copied().unwrap_or(0);
        self.first_places.of(self.sample, row) + cause
    }

    /// Number of rows by place.
    fn counted(&self, n_places: usize) -> Vec<u32> {
        let mut counts = vec![0_u32; n_places];
        for row in 0..self.sample.len() {
            if let Some(count) = counts.get_mut(self.place_of(row) as usize) {
                *count += 1;
            }
        }
        counts
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
        let walk = match &self.clusters {
            Clusters::Apart => None,
            Clusters::Together(clusters) => {
                let place_of = |row: usize, _: u32| self.place_of(row);
                Some(self.walk(clusters, |&cluster| cluster, place_of, entering, &change_at))
            }
            Clusters::Sorted(pairs) => {
                let place_of = |_: usize, pair: (u32, u32)| self.place_of(pair.1 as usize);
                Some(self.walk(pairs, |pair| pair.0, place_of, entering, &change_at))
            }
        };
        let n_squared = match &walk {
            Some(walk) => walk.n_squared,
            None => self.sample.len() as u64,
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
            let held = walk.as_ref().map_or_else(
                || entering.map(|part| part * count),
                |walk| walk.held.get(place).copied().unwrap_or([0.0; N]),
            );
            let change = change_at(place);
            add_products(squares, &held, &change, 1.0);
            add_products(squares, &change, &held, 1.0);
            add_products(squares, &change, &change, count);
        }
        booked
    }

    /// Walks all clusters, half of them at a time. `place_of` tells the place of an item from its number and itself.
    fn walk<T: Copy + Sync, const N: usize>(
        &self,
        items: &[T],
        cluster_of: impl Fn(&T) -> u32 + Sync,
        place_of: impl Fn(usize, T) -> u32 + Sync,
        entering: [f64; N],
        change_at: &(impl Fn(usize) -> [f64; N] + Sync),
    ) -> Walk<N> {
        let n = items.len();
        let n_places = self.counts.len();
        let is_one = |left: &T, right: &T| cluster_of(left) == cluster_of(right);
        let neighbours = items.iter().zip(items.iter().skip(1)).enumerate();
        // the second half begins with a cluster
        let middle = neighbours
            .skip((n / 2).saturating_sub(1))
            .find(|(_, (left, right))| !is_one(left, right))
            .map_or(n, |(place, _)| place + 1);
        let table: Vec<[f64; N]> = match n_places <= SMALL_TABLE {
            true => (0..n_places).map(change_at).collect(),
            false => Vec::new(),
        };
        let [mut first, second] = in_two_parts(n, 0..middle, middle..n, |part| {
            let first = part.start;
            let clusters = items.get(part).unwrap_or_default().chunk_by(is_one);
            let place_of = |number: usize, item: T| place_of(first + number, item);
            if table.is_empty() {
                walk_part(clusters, n_places, place_of, entering, change_at)
            } else {
                let known = |place: usize| table.get(place).copied().unwrap_or([0.0; N]);
                walk_part(clusters, n_places, place_of, entering, known)
            }
        });
        first.n_squared += second.n_squared;
        let cells = first.held.iter_mut().flatten();
        for (left, right) in cells.zip(second.held.iter().flatten()) {
            *left += right;
        }
        first
    }
}

/// Walks clusters one after the other: all rows of a cluster enter at the origin and leave in the order of their places.
fn walk_part<'items, T: Copy + 'items, const N: usize>(
    clusters: impl Iterator<Item = &'items [T]>,
    n_places: usize,
    place_of: impl Fn(usize, T) -> u32,
    entering: [f64; N],
    change_at: impl Fn(usize) -> [f64; N],
) -> Walk<N> {
    let mut walk = Walk {
        held: vec![[0.0; N]; n_places],
        n_squared: 0,
    };
    let mut leave = |places: &[u32]| {
        let mut held = entering.map(|part| part * places.len() as f64);
        for &place in places {
            let place = place as usize;
            if let Some(sum) = walk.held.get_mut(place) {
                for (sum, held) in sum.iter_mut().zip(&held) {
                    *sum += held;
                }
            }
            for (held, change) in held.iter_mut().zip(change_at(place)) {
                *held += change;
            }
        }
    };
    let mut many = Vec::new();
    let mut next = 0;
    for cluster in clusters {
        match *cluster {
            [only] => leave(&[place_of(next, only)]),
            [a, b] => {
                let (a, b) = (place_of(next, a), place_of(next + 1, b));
                leave(&[a.min(b), a.max(b)]);
            }
            [a, b, c] => {
                let (a, b, c) = (
                    place_of(next, a),
                    place_of(next + 1, b),
                    place_of(next + 2, c),
                );
                let (low, high) = (a.min(b), a.max(b));
                leave(&[low.min(c), low.max(high.min(c)), high.max(c)]);
            }
            _ => {
                many.clear();
                many.extend(
                    (next..)
                        .zip(cluster)
                        .map(|(number, &item)| place_of(number, item)),
                );
                many.sort_unstable();
                leave(&many);
            }
        }
        next += cluster.len();
        walk.n_squared += (cluster.len() as u64).pow(2);
    }
    walk
}

/// Whether numbers never fall; each block without a branch a number, so that a compiler can widen it.
fn is_sorted(numbers: &[u32]) -> bool {
    const BLOCK: usize = 4096;
    let later = numbers.get(1..).unwrap_or_default();
    numbers
        .chunks(BLOCK)
        .zip(later.chunks(BLOCK))
        .all(|(left, right)| {
            left.iter()
                .zip(right)
                .fold(true, |is_so_far, (left, right)| is_so_far & (left <= right))
        })
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

#[cfg(test)]
mod tests {
    use super::is_sorted;

    #[test]
    fn one_number_that_falls_is_seen_wherever_it_stands() {
        assert!(is_sorted(&[]) && is_sorted(&[7]));
        let numbers: Vec<u32> = (0..10_000).collect();
        assert!(is_sorted(&numbers));
        for place in [0, 1, 4094, 4095, 4096, 4097, 9998] {
            let mut numbers = numbers.clone();
            numbers[place] = numbers[place + 1] + 1;
            assert!(!is_sorted(&numbers), "{place}");
        }
    }
}
