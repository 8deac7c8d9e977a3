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
    rows: Rows,
}

enum Rows {
    /// Each row its own cluster: number of rows by place.
    Apart(Vec<u32>),
    /// Two halves of the clusters: for each cluster its places in increasing order, doubled, and 1 more for its last.
    Together([Vec<u32>; 2]),
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
            None => Rows::Apart(counted(sample.len(), n_places, place_of)),
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
        Some(Self {
            n_rows: sample.len(),
            n_times,
            n_kinds,
            rows,
        })
    }

    /// What is booked at each distinct time.
    pub(super) fn booked<const N: usize>(
        &self,
        changes: &(impl Changes<N> + Sync),
    ) -> Vec<Squares<N>> {
        let entering = changes.entering(0);
        let change_at = |place: usize| PlaceChange {
            position: place / self.n_kinds,
            change: changes.leaving(place / self.n_kinds, (place % self.n_kinds) as u32, true),
        };
        let mut booked = match &self.rows {
            Rows::Apart(counts) => {
                let mut book = Book::new(self.n_times);
                for (place, &count) in counts.iter().enumerate().filter(|&(_, &count)| count > 0) {
                    book.leave(&change_at(place), &mut entering.clone(), f64::from(count));
                }
                book.enter(entering, self.n_rows as u64);
                book.booked
            }
            Rows::Together(halves) => {
                let n_places = self.n_times * self.n_kinds;
                let table: Vec<PlaceChange<N>> = match n_places <= SMALL_TABLE {
                    true => (0..n_places).map(change_at).collect(),
                    false => Vec::new(),
                };
                let [mut first, second] = in_two_parts(self.n_rows, 0..1, 1..2, |half| {
                    let keys = halves.get(half.start).map_or(&[][..], Vec::as_slice);
                    let mut book = Book::new(self.n_times);
                    if table.is_empty() {
                        book.walk(keys, entering, change_at);
                    } else {
                        let known = |place: usize| table.get(place).copied().unwrap_or_default();
                        book.walk(keys, entering, known);
                    }
                    book.booked
                });
                for (left, right) in first.iter_mut().flatten().zip(second.iter().flatten()) {
                    for (left, right) in left.iter_mut().zip(right) {
                        *left += right;
                    }
                }
                first
            }
        };
        // only the half on and above the diagonal was filled
        for squares in &mut booked {
            let filled = *squares;
            *squares = std::array::from_fn(|row| {
                std::array::from_fn(|column| filled[row.min(column)][row.max(column)])
            });
        }
        booked
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
) -> [Vec<u32>; 2] {
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
        let mut next = part.start;
        for cluster in items.get(part).unwrap_or_default().chunk_by(is_one) {
            let begun = keys.len();
            keys.extend((next..next + cluster.len()).map(|place| place_of(place) * 2));
            next += cluster.len();
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
        keys
    })
}

/// What a row of one place adds when it leaves.
#[derive(Debug, Clone, Copy)]
struct PlaceChange<const N: usize> {
    position: usize,
    change: [f64; N],
}

impl<const N: usize> Default for PlaceChange<N> {
    fn default() -> Self {
        Self {
            position: 0,
            change: [0.0; N],
        }
    }
}

/// Changes of the matrix by time, the half on and above the diagonal.
struct Book<const N: usize> {
    booked: Vec<Squares<N>>,
}

impl<const N: usize> Book<N> {
    fn new(n_times: usize) -> Self {
        Self {
            booked: vec![[[0.0; N]; N]; n_times],
        }
    }

    /// Books clusters of rows: all their rows enter at the origin, and leave one after the other.
    fn walk(
        &mut self,
        keys: &[u32],
        entering: [f64; N],
        change_at: impl Fn(usize) -> PlaceChange<N>,
    ) {
        let mut n_squared = 0_u64;
        for cluster in keys.split_inclusive(|key| key % 2 == 1) {
            n_squared += (cluster.len() as u64).pow(2);
            let mut held = entering.map(|part| part * cluster.len() as f64);
            for key in cluster {
                self.leave(&change_at((key / 2) as usize), &mut held, 1.0);
            }
        }
        self.enter(entering, n_squared);
    }

    /// Books what clusters hold at the origin; `n_squared` is the sum of their squared numbers of rows.
    fn enter(&mut self, entering: [f64; N], n_squared: u64) {
        if let Some(squares) = self.booked.first_mut() {
            for (row, left) in squares.iter_mut().zip(&entering) {
                for (cell, right) in row.iter_mut().zip(&entering) {
                    *cell += n_squared as f64 * left * right;
                }
            }
        }
    }

    /// Books that a row leaves a cluster that holds `held`, as often as `count` says.
    #[inline]
    fn leave(&mut self, at: &PlaceChange<N>, held: &mut [f64; N], count: f64) {
        let Some(squares) = self.booked.get_mut(at.position) else {
            return;
        };
        let after: [f64; N] = std::array::from_fn(|part| held[part] + at.change[part]);
        for row in 0..N {
            for column in row..N {
                squares[row][column] +=
                    count * (held[row] * at.change[column] + at.change[row] * after[column]);
            }
        }
        *held = after;
    }
}
