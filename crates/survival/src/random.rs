//! Seeded random numbers that do not depend on the number of threads.

use std::num::NonZeroUsize;

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{RngCore, SeedableRng};

use crate::distribution::normal_quantile;

/// A stream of random numbers, fixed by a seed and the number of the repetition it serves.
///
/// Every repetition has a stream of its own, so results do not change with the order or thread in which they are made.
pub(crate) struct Stream {
    generator: ChaCha8Rng,
}

impl Stream {
    /// The stream of one repetition.
    pub(crate) fn new(seed: u64, repetition: usize) -> Stream {
        let mut generator = ChaCha8Rng::seed_from_u64(seed);
        generator.set_stream(repetition as u64);
        Stream { generator }
    }

    /// Uniform, strictly between 0 and 1.
    pub(crate) fn uniform(&mut self) -> f64 {
        ((self.generator.next_u64() >> 12) as f64 + 0.5) / (1_u64 << 52) as f64
    }

    /// Uniform whole number below `n`; 0 when `n` is 0 or 1. The bias is below n / 2^64.
    pub(crate) fn index(&mut self, n: usize) -> usize {
        ((u128::from(self.generator.next_u64()) * n as u128) >> 64) as usize
    }

    /// Standard normal.
    pub(crate) fn normal(&mut self) -> f64 {
        normal_quantile(self.uniform()).unwrap_or(0.0)
    }
}

/// `make(0)`, `make(1)`, ... `make(n - 1)` in order, shared among threads.
pub(crate) fn repeated<T: Send>(
    n: usize,
    n_threads: NonZeroUsize,
    make: impl Fn(usize) -> T + Sync,
) -> Vec<T> {
    let share = n.div_ceil(n_threads.get()).max(1);
    if share >= n {
        return (0..n).map(make).collect();
    }
    let make = &make;
    let mut parts: Vec<Vec<T>> = Vec::new();
    parts.resize_with(n.div_ceil(share), Vec::new);
    std::thread::scope(|scope| {
        for (number, part) in parts.iter_mut().enumerate() {
            let start = number * share;
            scope.spawn(move || part.extend((start..(start + share).min(n)).map(make)));
        }
    });
    parts.into_iter().flatten().collect()
}

/// Threads this machine offers; 1 when it does not say.
pub(crate) fn available_threads() -> NonZeroUsize {
    std::thread::available_parallelism().unwrap_or(NonZeroUsize::MIN)
}

#[cfg(test)]
mod tests {
    use super::{Stream, repeated};
    use std::num::NonZeroUsize;

    #[test]
    fn thread_count_does_not_change_a_digit() {
        let draw = |repetition| Stream::new(7, repetition).normal();
        let alone = repeated(103, NonZeroUsize::MIN, draw);
        for n_threads in [2, 3, 64, 500] {
            assert_eq!(
                repeated(103, NonZeroUsize::new(n_threads).unwrap(), draw),
                alone
            );
        }
    }

    #[test]
    fn uniforms_stay_inside_and_average_one_half() {
        let mut stream = Stream::new(1, 0);
        let draws: Vec<f64> = (0..10_000).map(|_| stream.uniform()).collect();
        assert!(draws.iter().all(|draw| *draw > 0.0 && *draw < 1.0));
        assert!((draws.iter().sum::<f64>() / 10_000.0 - 0.5).abs() < 0.01);
    }

    #[test]
    fn indices_reach_every_place_and_none_beyond() {
        let mut stream = Stream::new(2, 0);
        let mut counts = [0; 5];
        for _ in 0..1000 {
            counts[stream.index(5)] += 1;
        }
        assert!(counts.iter().all(|count| (140..260).contains(count)));
        assert_eq!(stream.index(1), 0);
        assert_eq!(stream.index(0), 0);
    }
}
