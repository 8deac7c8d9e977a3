//! How large the numbers of a column are, without keeping one of them.

const BINS: usize = 256;
/// Bins an octave, and the first octave: from 2^-10 to 2^22.
const BINS_AN_OCTAVE: u64 = 8;
const FIRST_BIN: u64 = (1023 - 10) * BINS_AN_OCTAVE;

/// How often numbers of each size occur in a column, as they are written. A bin spans at most an eighth of its lower edge.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Magnitudes {
    /// Numbers above zero.
    n: u64,
    bins: Box<[u32; BINS]>,
}

impl Default for Magnitudes {
    fn default() -> Self {
        Self {
            n: 0,
            bins: Box::new([0; BINS]),
        }
    }
}

impl Magnitudes {
    /// Counts a number; zero and less say nothing about a unit.
    #[inline]
    pub fn add(&mut self, value: f64) {
        if value > 0.0 {
            self.n += 1;
            if let Some(bin) = self.bins.get_mut(bin_of(value)) {
                *bin = bin.saturating_add(1);
            }
        }
    }

    /// Numbers counted.
    pub const fn n(&self) -> u64 {
        self.n
    }

    /// The middle number, to a sixteenth; `None` where nothing was counted.
    pub fn median(&self) -> Option<f64> {
        let mut n_before = 0;
        self.bins
            .iter()
            .position(|bin| {
                n_before += u64::from(*bin);
                2 * n_before >= self.n && self.n > 0
            })
            .map(middle)
    }

    /// The bins that hold something: (bin, how many).
    pub fn bins(&self) -> Vec<(u16, u64)> {
        (0..)
            .zip(self.bins.iter())
            .filter(|(_, n)| **n > 0)
            .map(|(bin, n)| (bin, u64::from(*n)))
            .collect()
    }
}

/// The middle of a bin.
pub fn middle_of(bin: u16) -> f64 {
    middle(usize::from(bin))
}

/// The leading bits of a floating-point number are its octave and its eighth of it.
fn bin_of(value: f64) -> usize {
    let bin = (value.to_bits() >> 49).saturating_sub(FIRST_BIN);
    usize::try_from(bin).map_or(BINS - 1, |bin| bin.min(BINS - 1))
}

fn middle(bin: usize) -> f64 {
    let edge = |bin: u64| f64::from_bits((bin + FIRST_BIN) << 49);
    let bin = bin as u64;
    f64::midpoint(edge(bin), edge(bin + 1))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sizes(values: &[f64]) -> Magnitudes {
        let mut sizes = Magnitudes::default();
        for value in values {
            sizes.add(*value);
        }
        sizes
    }

    #[test]
    fn the_middle_of_a_column_is_told_to_a_sixteenth() {
        for value in [0.004, 0.3, 1.0, 1.9, 7.5, 35.0, 120.0, 58_000.0] {
            let median = sizes(&[value]).median().unwrap_or_default();
            assert!(
                (median / value - 1.0).abs() <= 1.0 / 16.0,
                "{value} {median}"
            );
        }
        assert_eq!(Magnitudes::default().median(), None);
        assert!(sizes(&[1e-300]).median().is_some() && sizes(&[1e300]).median().is_some());
        assert_eq!(sizes(&[0.0, -3.0]).n(), 0);
    }
}
