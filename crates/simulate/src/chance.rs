//! Seeded streams of random draws.

use rand::{RngCore, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// What a random stream is for; a purpose of its own keeps one setting from shifting another's draws.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Purpose {
    /// Who the patient is and what befalls them.
    Course = 0,
    /// What a visit writes down of it: measurement error, items left out.
    Recording = 1,
    /// How the export is written: spellings of what is missing, columns of no use.
    Writing = 2,
    /// Which mistakes the typist makes.
    Typing = 3,
}

const N_PURPOSES: u64 = 4;

/// A seeded stream of random draws, the same on every platform.
#[derive(Debug, Clone)]
pub(crate) struct Chance(ChaCha8Rng);

impl Chance {
    /// The stream of one patient and purpose. It depends on nothing else, so patient k stays the same however many there are.
    pub(crate) fn of_patient(seed: u64, number: u64, purpose: Purpose) -> Self {
        let mut generator = ChaCha8Rng::seed_from_u64(seed);
        generator.set_stream(number.wrapping_mul(N_PURPOSES).wrapping_add(purpose as u64));
        Self(generator)
    }

    /// Uniform in [0, 1).
    pub(crate) fn uniform(&mut self) -> f64 {
        // 53 random bits fill the mantissa of a double.
        (self.0.next_u64() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Uniform in [low, high).
    pub(crate) fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.uniform()
    }

    /// A whole number from low to high, both included.
    pub(crate) fn whole(&mut self, low: i32, high: i32) -> i32 {
        self.between(f64::from(low), f64::from(high) + 1.0).floor() as i32
    }

    /// True with this probability.
    pub(crate) fn happens(&mut self, probability: f64) -> bool {
        self.uniform() < probability
    }

    /// Exponential waiting time with this mean.
    pub(crate) fn exponential(&mut self, mean: f64) -> f64 {
        -mean * libm::log(1.0 - self.uniform())
    }

    /// Standard normal (polar form of Box and Muller 1958, one of the pair used).
    pub(crate) fn normal(&mut self) -> f64 {
        let radius = libm::sqrt(-2.0 * libm::log(1.0 - self.uniform()));
        radius * libm::cos(std::f64::consts::TAU * self.uniform())
    }

    /// Log-normal with this median and standard deviation of the logarithm.
    pub(crate) fn log_normal(&mut self, median: f64, log_sd: f64) -> f64 {
        median * libm::exp(log_sd * self.normal())
    }

    /// Position drawn in proportion to the weights; the last one when they are all zero.
    pub(crate) fn position(&mut self, weights: impl Iterator<Item = f64> + Clone) -> usize {
        let total: f64 = weights.clone().sum();
        let mut left = self.uniform() * total;
        let mut last = 0;
        for (position, weight) in weights.enumerate() {
            last = position;
            if left < weight {
                return position;
            }
            left -= weight;
        }
        last
    }

    /// One of the values, drawn in proportion to its weight.
    pub(crate) fn pick<T: Copy, const N: usize>(&mut self, choices: [(T, f64); N]) -> T {
        let position = self.position(choices.iter().map(|choice| choice.1));
        choices[position].0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn draws_have_the_moments_of_their_distribution() {
        let mut chance = Chance::of_patient(1, 1, Purpose::Course);
        let n = 100_000;
        let mean = |draws: Vec<f64>| draws.iter().sum::<f64>() / f64::from(n);
        let uniform = mean((0..n).map(|_| chance.uniform()).collect());
        let exponential = mean((0..n).map(|_| chance.exponential(40.0)).collect());
        let normals: Vec<f64> = (0..n).map(|_| chance.normal()).collect();
        let variance = mean(normals.iter().map(|draw| draw * draw).collect());
        let whole = mean((0..n).map(|_| f64::from(chance.whole(1, 6))).collect());
        // Four standard errors of the mean for each.
        assert!((uniform - 0.5).abs() < 0.004, "{uniform}");
        assert!((exponential - 40.0).abs() < 0.51, "{exponential}");
        assert!(mean(normals).abs() < 0.013);
        assert!((variance - 1.0).abs() < 0.018, "{variance}");
        assert!((whole - 3.5).abs() < 0.022, "{whole}");
    }

    #[test]
    fn streams_of_two_patients_and_of_two_purposes_differ() {
        let first = Chance::of_patient(7, 1, Purpose::Course).uniform();
        assert_ne!(first, Chance::of_patient(7, 2, Purpose::Course).uniform());
        assert_ne!(
            first,
            Chance::of_patient(7, 1, Purpose::Recording).uniform()
        );
        assert_ne!(first, Chance::of_patient(8, 1, Purpose::Course).uniform());
        assert_eq!(first, Chance::of_patient(7, 1, Purpose::Course).uniform());
    }
}
