//! The infinitesimal jackknife at nearly the cost of the plain curve.
//!
//! A row's influence on an estimate at time t is linear in a few functions of t that all rows share (its *basis*), with
//! coefficients that change only when the row enters or leaves, by amounts known beforehand. So the sum over clusters of squared
//! influences is a quadratic form in the basis. Its small matrix is found in one walk over the rows, cluster by cluster: each
//! change is booked at its time, and a running sum over the times gives the matrix at each.

mod plain;

use crate::Sample;
use crate::day_counts::DayCounts;
use crate::time_order::TimeOrder;
use plain::PlainRows;

/// A small matrix of sums of products of coefficients.
pub(crate) type Squares<const N: usize> = [[f64; N]; N];

/// What a row of weight 1 adds to the coefficients of its cluster.
pub(crate) trait Changes<const N: usize> {
    /// When it comes under observation before the time at `position`.
    fn entering(&self, position: usize) -> [f64; N];

    /// When it leaves at `position`; `is_at_risk` is false for an event beside the one that its subject leaves with.
    fn leaving(&self, position: usize, cause: u32, is_at_risk: bool) -> [f64; N];
}

/// A number of a column by position.
pub(crate) fn at(column: &[f64], position: usize) -> f64 {
    column.get(position).copied().unwrap_or(0.0)
}

/// The number before a position, 0 before the first.
pub(crate) fn before(column: &[f64], position: usize) -> f64 {
    position
        .checked_sub(1)
        .map_or(0.0, |position| at(column, position))
}

/// The sum of squared influences, given the matrix and the basis of a time.
pub(crate) fn squared_influence<const N: usize>(squares: &Squares<N>, basis: [f64; N]) -> f64 {
    let along = |row: &[f64; N]| {
        row.iter()
            .zip(&basis)
            .map(|(sum, part)| sum * part)
            .sum::<f64>()
    };
    let sum: f64 = squares
        .iter()
        .zip(&basis)
        .map(|(row, part)| part * along(row))
        .sum();
    sum.max(0.0)
}

/// The rows of a sample, those of a cluster together.
pub(crate) enum ClusteredRows<'sample> {
    /// Rows without weights and delayed entry.
    Plain(PlainRows<'sample>),
    /// Any rows.
    Any(AnyRows<'sample>),
}

impl<'sample> ClusteredRows<'sample> {
    /// Sorts the rows into clusters; `days` where the sample was counted by day, `order` then without its rows.
    pub(crate) fn new(
        sample: &'sample Sample,
        order: &'sample TimeOrder,
        days: Option<&DayCounts>,
    ) -> Self {
        match PlainRows::new(sample, order, days) {
            Some(rows) => Self::Plain(rows),
            None => Self::Any(AnyRows::new(sample, order)),
        }
    }

    /// The matrix of sums of products just after each distinct time.
    pub(crate) fn squares<const N: usize>(
        &self,
        changes: &(impl Changes<N> + Sync),
    ) -> Vec<Squares<N>> {
        let mut booked = match self {
            Self::Plain(rows) => rows.booked(changes),
            Self::Any(rows) => rows.booked(changes),
        };
        let mut sum = [[0.0; N]; N];
        for squares in &mut booked {
            for (sums, cells) in sum.iter_mut().zip(squares) {
                for (sum, cell) in sums.iter_mut().zip(cells) {
                    *sum += *cell;
                    *cell = *sum;
                }
            }
        }
        booked
    }
}

/// Rows with weights or delayed entry.
pub(crate) struct AnyRows<'sample> {
    sample: &'sample Sample,
    order: &'sample TimeOrder,
    /// Pairs of cluster and row, those of a cluster together; each row a cluster of its own where none are given.
    by_cluster: Vec<(u32, u32)>,
}

impl<'sample> AnyRows<'sample> {
    fn new(sample: &'sample Sample, order: &'sample TimeOrder) -> Self {
        let by_cluster = if sample.cluster().is_some() {
            let (cluster, n_clusters) = numbered_clusters(sample.cluster(), sample.len());
            rows_by_cluster(&cluster, n_clusters)
        } else {
            (0_u32..).zip(rows_by_content(sample, order)).collect()
        };
        Self {
            sample,
            order,
            by_cluster,
        }
    }

    /// What is booked at each distinct time.
    fn booked<const N: usize>(&self, changes: &impl Changes<N>) -> Vec<Squares<N>> {
        let mut book = Book {
            booked: vec![[[0.0; N]; N]; self.order.times.len()],
            held: [0.0; N],
        };
        let mut steps = Vec::new();
        for cluster in self.by_cluster.chunk_by(|left, right| left.0 == right.0) {
            match cluster {
                [(_, row)] => self.book_one(*row as usize, changes, &mut book),
                _ => self.book_together(cluster, &mut steps, changes, &mut book),
            }
        }
        book.booked
    }

    /// Books a row that is a cluster of its own.
    fn book_one<const N: usize>(&self, row: usize, changes: &impl Changes<N>, book: &mut Book<N>) {
        if let Some([entry, exit]) = self.steps_of(row) {
            book.held = [0.0; N];
            if let Some(entry) = entry {
                entry.book(changes, book);
            }
            if let Some(exit) = exit {
                exit.book(changes, book);
            }
        }
    }

    /// Books the rows of one cluster in the order of time.
    fn book_together<const N: usize>(
        &self,
        cluster: &[(u32, u32)],
        steps: &mut Vec<RowStep>,
        changes: &impl Changes<N>,
        book: &mut Book<N>,
    ) {
        let rows = cluster
            .iter()
            .filter_map(|&(_, row)| self.steps_of(row as usize));
        steps.clear();
        steps.extend(rows.flatten().flatten());
        // all fields, so that rounding does not depend on the order of the rows
        steps.sort_unstable_by_key(|step| {
            (
                step.position,
                step.is_exit,
                step.cause,
                step.weight.to_bits(),
                step.is_at_risk,
            )
        });
        book.held = [0.0; N];
        for step in steps.iter() {
            step.book(changes, book);
        }
    }

    /// A row's entry and exit; no entry for an event beside the one that its subject leaves with.
    fn steps_of(&self, row: usize) -> Option<[Option<RowStep>; 2]> {
        if !self.order.gives_a_time(row) {
            return None;
        }
        let exit = RowStep {
            position: self.order.exit.get(row).copied()?,
            is_exit: true,
            is_at_risk: self.order.is_ever_at_risk(row),
            cause: self.sample.cause().get(row).copied()?,
            weight: self.sample.weight_of(row),
        };
        let entry = exit.is_at_risk.then(|| RowStep {
            position: self.order.entry_of(row),
            is_exit: false,
            ..exit
        });
        Some([entry, Some(exit)])
    }
}

/// A change of a cluster's coefficients.
#[derive(Debug, Clone, Copy)]
struct RowStep {
    position: u32,
    is_exit: bool,
    is_at_risk: bool,
    cause: u32,
    weight: f64,
}

impl RowStep {
    fn book<const N: usize>(&self, changes: &impl Changes<N>, book: &mut Book<N>) {
        let position = self.position as usize;
        let change = if self.is_exit {
            changes.leaving(position, self.cause, self.is_at_risk)
        } else {
            changes.entering(position)
        };
        book.change(position, change.map(|change| change * self.weight));
    }
}

/// Changes of the matrix by time, and the coefficients of the cluster in hand.
struct Book<const N: usize> {
    booked: Vec<Squares<N>>,
    held: [f64; N],
}

impl<const N: usize> Book<N> {
    fn change(&mut self, position: usize, change: [f64; N]) {
        let Some(squares) = self.booked.get_mut(position) else {
            return;
        };
        let after: [f64; N] = std::array::from_fn(|place| self.held[place] + change[place]);
        for (row, (held, change_row)) in squares.iter_mut().zip(self.held.iter().zip(&change)) {
            for (cell, (change_column, after)) in row.iter_mut().zip(change.iter().zip(&after)) {
                *cell += held * change_column + change_row * after;
            }
        }
        self.held = after;
    }
}

/// Rows in an order that depends on what they hold alone, so that sums over them round alike in whatever order they came.
pub(crate) fn rows_by_content(sample: &Sample, order: &TimeOrder) -> Vec<u32> {
    let exit_of = |row: u32| order.exit.get(row as usize).copied().unwrap_or(0);
    let by_exit: Vec<u32> = order.exit.clone();
    let mut rows: Vec<u32> = rows_by_cluster(&by_exit, order.times.len().max(1))
        .into_iter()
        .map(|(_, row)| row)
        .collect();
    for tied in rows.chunk_by_mut(|&left, &right| exit_of(left) == exit_of(right)) {
        tied.sort_unstable_by_key(|&row| {
            let row = row as usize;
            (
                order.entry_of(row),
                sample.cause().get(row).copied(),
                sample.weight_of(row).to_bits(),
            )
        });
    }
    rows
}

/// Pairs of cluster and row in the order of the cluster, rows of one cluster in their own order.
pub(crate) fn rows_by_cluster(cluster: &[u32], n_clusters: usize) -> Vec<(u32, u32)> {
    let rows = || {
        cluster
            .iter()
            .zip(0_u32..)
            .map(|(&cluster, row)| (cluster, row))
    };
    if cluster.is_sorted() {
        return rows().collect();
    }
    let mut next = vec![0_u32; n_clusters + 1];
    for &cluster in cluster {
        if let Some(count) = next.get_mut(cluster as usize + 1) {
            *count += 1;
        }
    }
    let mut sum = 0;
    for place in &mut next {
        sum += *place;
        *place = sum;
    }
    let mut placed = vec![(0, 0); cluster.len()];
    for (cluster, row) in rows() {
        if let Some(next) = next.get_mut(cluster as usize) {
            if let Some(place) = placed.get_mut(*next as usize) {
                *place = (cluster, row);
            }
            *next += 1;
        }
    }
    placed
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
