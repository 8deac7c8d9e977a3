//! Work on many rows in two halves, side by side where the machine can.

use std::ops::Range;
use std::sync::Mutex;

/// Rows from which a second thread is worth its start.
const MANY_ROWS: usize = 1 << 16;

/// What `work` makes of the first and of the second half of `n` rows.
///
/// The halves are the same whether or not there is a second thread, so that sums of both do not depend on it.
pub(crate) fn in_halves<T: Send>(n: usize, work: impl Fn(Range<usize>) -> T + Sync) -> [T; 2] {
    in_two_parts(n, 0..n / 2, n / 2..n, work)
}

/// The same for two parts of which the caller knows the bounds; `n_rows` says how much work they are.
pub(crate) fn in_two_parts<T: Send>(
    n_rows: usize,
    first: Range<usize>,
    second: Range<usize>,
    work: impl Fn(Range<usize>) -> T + Sync,
) -> [T; 2] {
    if n_rows < MANY_ROWS {
        return [work(first), work(second)];
    }
    let work = &work;
    std::thread::scope(|scope| {
        let beside = std::thread::Builder::new();
        // a machine that gives no second thread does the second half afterwards
        let other = beside.spawn_scoped(scope, {
            let second = second.clone();
            move || work(second)
        });
        let own = work(first);
        let others = match other {
            Ok(other) => other
                .join()
                .unwrap_or_else(|panic| std::panic::resume_unwind(panic)),
            Err(_) => work(second),
        };
        [own, others]
    })
}

/// Fills a column of `width` values a row in two halves: `fill` gets the number of the first row of its half and the half.
pub(crate) fn fill_in_halves<T: Send>(
    values: &mut [T],
    width: usize,
    fill: impl Fn(usize, &mut [T]) + Sync,
) {
    let n_rows = values.len() / width.max(1);
    fill_in_two_parts(values, width, n_rows / 2, fill);
}

/// The same for two parts, the second of which begins with the row numbered `middle`.
pub(crate) fn fill_in_two_parts<T: Send>(
    values: &mut [T],
    width: usize,
    middle: usize,
    fill: impl Fn(usize, &mut [T]) + Sync,
) {
    let n_rows = values.len() / width.max(1);
    let (first, second) = values.split_at_mut((middle * width).min(values.len()));
    let parts = [Mutex::new((0, first)), Mutex::new((middle, second))];
    in_two_parts(n_rows, 0..1, 1..2, |part| {
        if let Some(Ok(mut part)) = parts.get(part.start).map(Mutex::lock) {
            let (first_row, values) = &mut *part;
            fill(*first_row, values);
        }
    });
}

#[cfg(test)]
mod tests {
    use super::{fill_in_halves, in_halves};

    #[test]
    fn the_halves_are_the_whole() {
        for n in [0, 1, 2, 3, 200_001] {
            let [left, right] = in_halves(n, |rows| rows);
            assert_eq!((left.start, left.end, right.end), (0, right.start, n));
        }
    }

    #[test]
    fn both_halves_are_filled() {
        for n in [0, 1, 3, 200_001] {
            let mut values = vec![0; 2 * n];
            fill_in_halves(&mut values, 2, |first, part| {
                for (place, value) in part.iter_mut().enumerate() {
                    *value = 2 * first + place;
                }
            });
            assert!(
                values
                    .iter()
                    .enumerate()
                    .all(|(place, &value)| place == value)
            );
        }
    }
}
