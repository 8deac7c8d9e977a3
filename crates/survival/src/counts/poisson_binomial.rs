//! The number of events among independent people whose chances differ.

use std::collections::BTreeMap;

/// Distribution of a sum of independent yes/no outcomes with chances of their own (Poisson-binomial).
///
/// Built by exact convolution of non-negative terms, halves joined to wholes, so no digit is lost to cancellation;
/// probabilities below 1e-40 at the two ends are left out. The work grows a little faster than the number of people.
/// The order of the chances does not change a digit.
/// Source: recursion of Barlow and Heidtmann, IEEE Trans Reliability 1984;33:322-323, applied to blocks.
#[derive(Debug, Clone, PartialEq)]
pub struct PoissonBinomial {
    n: usize,
    mean: f64,
    variance: f64,
    kept: Mass,
}

/// Probabilities of consecutive counts, the first being that of `first` events.
#[derive(Debug, Clone, PartialEq)]
struct Mass {
    first: usize,
    probabilities: Vec<f64>,
}

/// Ends of the distribution below this are left out.
const NEGLIGIBLE: f64 = 1e-40;

impl PoissonBinomial {
    /// The distribution for these chances, each 0 to 1. `None` when one is not.
    ///
    /// No chance at all is a distribution too: surely 0 events.
    pub fn new(chances: &[f64]) -> Option<PoissonBinomial> {
        if !chances.iter().all(|chance| (0.0..=1.0).contains(chance)) {
            return None;
        }
        let mut chances = chances.to_vec();
        chances.sort_by(f64::total_cmp);
        Some(PoissonBinomial {
            n: chances.len(),
            mean: chances.iter().sum(),
            variance: chances.iter().map(|chance| chance * (1.0 - chance)).sum(),
            kept: convolved(&chances, &mut BTreeMap::new()),
        })
    }

    /// Number of people.
    pub fn n(&self) -> usize {
        self.n
    }

    /// Expected number of events, the sum of the chances.
    pub fn mean(&self) -> f64 {
        self.mean
    }

    /// Variance of the number of events, the sum of p (1 - p); below the Poisson variance unless all chances are tiny.
    pub fn variance(&self) -> f64 {
        self.variance
    }

    /// Probability of exactly `count` events.
    pub fn probability(&self, count: u64) -> f64 {
        let place = usize::try_from(count)
            .ok()
            .and_then(|count| count.checked_sub(self.kept.first));
        place
            .and_then(|place| self.kept.probabilities.get(place))
            .copied()
            .unwrap_or(0.0)
    }

    /// Probability of `count` events or fewer.
    pub fn at_most(&self, count: u64) -> f64 {
        let n_below = count_below(
            count.saturating_add(1),
            self.kept.first,
            self.kept.probabilities.len(),
        );
        self.kept
            .probabilities
            .iter()
            .take(n_below)
            .sum::<f64>()
            .min(1.0)
    }

    /// Probability of `count` events or more, summed from the far end so that small tails keep their digits.
    pub fn at_least(&self, count: u64) -> f64 {
        let n_below = count_below(count, self.kept.first, self.kept.probabilities.len());
        self.kept
            .probabilities
            .iter()
            .skip(n_below)
            .rev()
            .sum::<f64>()
            .min(1.0)
    }

    /// Smallest count whose lower tail reaches `probability`. `None` when it is not strictly between 0 and 1.
    pub fn quantile(&self, probability: f64) -> Option<u64> {
        if !(probability > 0.0 && probability < 1.0) {
            return None;
        }
        let wanted = probability * (1.0 - 64.0 * f64::EPSILON);
        let mut tail = 0.0;
        let n_short = self
            .kept
            .probabilities
            .iter()
            .take_while(|mass| {
                tail += **mass;
                tail < wanted
            })
            .count();
        let last = self.kept.probabilities.len().saturating_sub(1);
        Some((self.kept.first + n_short.min(last)) as u64)
    }
}

/// How many kept probabilities belong to counts below `count`.
fn count_below(count: u64, first: usize, n_kept: usize) -> usize {
    usize::try_from(count)
        .unwrap_or(usize::MAX)
        .saturating_sub(first)
        .min(n_kept)
}

/// Masses of people with one chance, by the chance and how many they are.
type Alike = BTreeMap<(u64, usize), Mass>;

/// The chances ascend. Blocks of people with one chance are made once for each number of people.
fn convolved(chances: &[f64], alike: &mut Alike) -> Mass {
    let (Some(first), Some(last)) = (chances.first(), chances.last()) else {
        return Mass {
            first: 0,
            probabilities: vec![1.0],
        };
    };
    if chances.len() == 1 {
        return trimmed(0, vec![1.0 - first, *first]);
    }
    let key = (first.to_bits() == last.to_bits()).then(|| (first.to_bits(), chances.len()));
    if let Some(known) = key.and_then(|key| alike.get(&key)) {
        return known.clone();
    }
    let (left, right) = chances.split_at(chances.len() / 2);
    let (left, right) = (convolved(left, alike), convolved(right, alike));
    let mass = joined(&left, &right);
    if let Some(key) = key {
        alike.insert(key, mass.clone());
    }
    mass
}

fn joined(left: &Mass, right: &Mass) -> Mass {
    let mut sum = vec![0.0; left.probabilities.len() + right.probabilities.len() - 1];
    for (offset, of_left) in left.probabilities.iter().enumerate() {
        for (total, of_right) in sum.iter_mut().skip(offset).zip(&right.probabilities) {
            *total += of_left * of_right;
        }
    }
    trimmed(left.first + right.first, sum)
}

fn trimmed(first: usize, mut probabilities: Vec<f64>) -> Mass {
    let n_high = probabilities
        .iter()
        .rev()
        .take_while(|mass| **mass < NEGLIGIBLE)
        .count();
    probabilities.truncate(probabilities.len() - n_high);
    let n_low = probabilities
        .iter()
        .take_while(|mass| **mass < NEGLIGIBLE)
        .count();
    probabilities.drain(..n_low);
    Mass {
        first: first + n_low,
        probabilities,
    }
}
