//! An order of rows that depends on what they hold alone, so that sums over them round alike in whatever order they came.

use crate::Sample;
use crate::influence::rows_by_cluster;
use crate::regression::Covariate;

/// A number for each row, made from its contents: equal rows have equal numbers, and others practically never have
/// (two among a million rows agree by chance in one table of 40 million, and then the last digit of a sum may follow their order).
#[derive(Debug, Clone)]
pub(crate) struct ContentKeys(Vec<u64>);

impl ContentKeys {
    /// Keys of rows of which nothing is known yet.
    pub(crate) fn new(n_rows: usize) -> Self {
        Self(vec![0; n_rows])
    }

    /// Keys of the rows of a sample.
    pub(crate) fn of(sample: &Sample) -> Self {
        let numbers = [sample.entry(), sample.weight()];
        let keys = numbers
            .into_iter()
            .flatten()
            .fold(Self::new(sample.len()), Self::with_numbers)
            .with_numbers(sample.exit())
            .with_labels(sample.cause());
        match sample.cluster() {
            Some(cluster) => keys.with_labels(cluster),
            None => keys,
        }
    }

    /// Takes a column of numbers into account.
    pub(crate) fn with_numbers(mut self, column: &[f64]) -> Self {
        for (key, value) in self.0.iter_mut().zip(column) {
            *key = mixed(*key, value.to_bits());
        }
        self
    }

    /// Takes a column of labels into account.
    pub(crate) fn with_labels(mut self, column: &[u32]) -> Self {
        for (key, &value) in self.0.iter_mut().zip(column) {
            *key = mixed(*key, u64::from(value));
        }
        self
    }

    /// Takes covariates into account.
    pub(crate) fn with_covariates(self, columns: &[Covariate]) -> Self {
        columns
            .iter()
            .fold(self, |keys, column| keys.with_numbers(&column.values))
    }

    /// Sorts rows by their contents; `scratch` is room that calls may share.
    pub(crate) fn sort(&self, rows: &mut [u32], scratch: &mut Vec<(u64, u32)>) {
        scratch.clear();
        scratch.extend(rows.iter().map(|&row| (self.of_row(row), row)));
        scratch.sort_unstable();
        for (place, &(_, row)) in rows.iter_mut().zip(scratch.iter()) {
            *place = row;
        }
    }

    /// All rows in the order of their contents.
    pub(crate) fn order(&self) -> Vec<u32> {
        // keys are spread evenly, so that about one row shares the leading bits that number a bucket
        let n_bits = self.0.len().max(2).ilog2();
        let bucket_of = |row: u32| (self.of_row(row) >> (u64::BITS - n_bits)) as u32;
        let buckets: Vec<u32> = (0..self.0.len() as u32).map(bucket_of).collect();
        let mut placed = rows_by_cluster(&buckets, 1 << n_bits);
        for bucket in placed.chunk_by_mut(|left, right| left.0 == right.0) {
            if bucket.len() > 1 {
                bucket.sort_unstable_by_key(|&(_, row)| (self.of_row(row), row));
            }
        }
        placed.into_iter().map(|(_, row)| row).collect()
    }

    fn of_row(&self, row: u32) -> u64 {
        self.0.get(row as usize).copied().unwrap_or(0)
    }
}

/// An odd multiplier near 2^64 over the golden ratio spreads every bit upwards; the shift brings it down again.
fn mixed(key: u64, bits: u64) -> u64 {
    let product = (key.rotate_left(23) ^ bits).wrapping_mul(0x9E37_79B9_7F4A_7C15);
    product ^ (product >> 32)
}

#[cfg(test)]
mod tests {
    use super::ContentKeys;

    #[test]
    fn rows_come_in_one_order_from_any_other() {
        let values: Vec<f64> = (0..1000_u32)
            .map(|row| f64::from(row * row % 613))
            .collect();
        let reversed: Vec<f64> = values.iter().rev().copied().collect();
        let in_order = |values: &[f64]| -> Vec<f64> {
            let order = ContentKeys::new(values.len()).with_numbers(values).order();
            order.iter().map(|&row| values[row as usize]).collect()
        };
        assert_eq!(in_order(&values), in_order(&reversed));
    }
}
