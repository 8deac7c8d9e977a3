//! Small whole numbers in runs: the same one repeated, or eight and eight side by side in a few bits each.
//!
//! Source: "RLE / Bit-Packing Hybrid" of the Apache Parquet format's `Encodings.md`.

/// Where such numbers are in a page, and how far they have been read.
#[derive(Debug, Clone, Default)]
pub(super) struct Runs {
    n_bits: u32,
    at: usize,
    end: usize,
    run: Run,
}

#[derive(Debug, Clone, Copy)]
enum Run {
    Same {
        value: u32,
        n_left: u64,
    },
    /// `bit` counts from the start of the page.
    Packed {
        bit: u64,
        n_left: u64,
    },
}

impl Default for Run {
    fn default() -> Self {
        Self::Same {
            value: 0,
            n_left: 0,
        }
    }
}

impl Runs {
    /// Numbers of so many bits, at most 32, from `at` and before `end` of a page.
    pub(super) fn new(n_bits: u32, at: usize, end: usize) -> Option<Self> {
        (n_bits <= 32 && at <= end).then_some(Self {
            n_bits,
            at,
            end,
            run: Run::default(),
        })
    }

    /// The next number; `None` when there is none, or the page is damaged.
    #[inline]
    pub(super) fn next(&mut self, page: &[u8]) -> Option<u32> {
        match &mut self.run {
            Run::Same { value, n_left } if *n_left > 0 => {
                *n_left -= 1;
                Some(*value)
            }
            Run::Packed { bit, n_left } if *n_left > 0 => {
                let value = bits(page.get(..self.end)?, *bit, self.n_bits)?;
                *bit += u64::from(self.n_bits);
                *n_left -= 1;
                Some(value)
            }
            _ => {
                self.begin_run(page)?;
                self.next(page)
            }
        }
    }

    /// The next number, and how often it follows at once, as far as that is known and at most so often; `None` as above.
    #[inline]
    pub(super) fn next_run(&mut self, page: &[u8], most: usize) -> Option<(u32, usize)> {
        let value = self.next(page)?;
        let mut n = 1;
        if let Run::Same { n_left, .. } = &mut self.run {
            let more = usize::try_from(*n_left).unwrap_or(usize::MAX);
            let more = more.min(most.saturating_sub(1));
            *n_left -= more as u64;
            n += more;
        }
        Some((value, n))
    }

    #[cold]
    fn begin_run(&mut self, page: &[u8]) -> Option<()> {
        loop {
            let head = self.unsigned(page)?;
            let n = head >> 1;
            if head & 1 == 0 {
                let mut value = 0_u32;
                for place in 0..self.n_bits.div_ceil(8) {
                    value |= u32::from(self.byte(page)?) << (8 * place);
                }
                self.run = Run::Same { value, n_left: n };
            } else {
                let bit = self.at as u64 * 8;
                self.run = Run::Packed {
                    bit,
                    n_left: n.checked_mul(8)?,
                };
                let n_bytes = usize::try_from(n.checked_mul(u64::from(self.n_bits))?).ok()?;
                // the last group may be cut short by the end of the page
                self.at = self.at.checked_add(n_bytes)?.min(self.end);
            }
            if n > 0 {
                return Some(());
            }
        }
    }

    fn byte(&mut self, page: &[u8]) -> Option<u8> {
        let byte = page.get(..self.end)?.get(self.at)?;
        self.at += 1;
        Some(*byte)
    }

    fn unsigned(&mut self, page: &[u8]) -> Option<u64> {
        let mut value = 0_u64;
        for shift in (0..42).step_by(7) {
            let byte = self.byte(page)?;
            value |= u64::from(byte & 0x7f) << shift;
            if byte < 0x80 {
                return Some(value);
            }
        }
        None
    }
}

/// The number of `n_bits` that begins at a bit, least bit first; `None` beyond the end.
#[inline]
fn bits(page: &[u8], bit: u64, n_bits: u32) -> Option<u32> {
    let first = usize::try_from(bit / 8).ok()?;
    let shift = u32::try_from(bit % 8).ok()?;
    let mask = (1_u64 << n_bits) - 1;
    if let Some(eight) = page.get(first..).and_then(<[u8]>::first_chunk) {
        return u32::try_from((u64::from_le_bytes(*eight) >> shift) & mask).ok();
    }
    let n_bytes = (shift + n_bits).div_ceil(8) as usize;
    let mut value = 0_u64;
    for (place, byte) in page.get(first..first + n_bytes)?.iter().enumerate() {
        value |= u64::from(*byte) << (8 * place);
    }
    u32::try_from((value >> shift) & mask).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn all(n_bits: u32, page: &[u8], n: usize) -> Vec<Option<u32>> {
        let mut runs = Runs::new(n_bits, 0, page.len()).unwrap();
        (0..n).map(|_| runs.next(page)).collect()
    }

    /// The worked example of `Encodings.md`: the numbers 0 to 7 in three bits each are the bytes 88 C6 FA.
    #[test]
    fn the_worked_example_of_the_standard() {
        let expected: Vec<_> = (0..8).map(Some).chain([None]).collect();
        assert_eq!(all(3, &[0x03, 0x88, 0xC6, 0xFA], 9), expected);
    }

    #[test]
    fn runs_follow_one_another_and_damage_ends_them() {
        // three times 1, then eight single bits
        let page = [0x06, 0x01, 0x03, 0b1010_1010];
        let expected = [1, 1, 1, 0, 1, 0, 1, 0, 1, 0, 1];
        assert_eq!(all(1, &page, 11), expected.map(Some));
        assert_eq!(all(1, &page[..3], 4)[3], None);
        let mut runs = Runs::new(1, 0, page.len()).unwrap();
        let taken: Vec<_> = [2, 9, 9, 9].map(|most| runs.next_run(&page, most)).to_vec();
        assert_eq!(taken, [(1, 2), (1, 1), (0, 1), (1, 1)].map(Some));
        assert_eq!(
            all(0, &[0x10], 9),
            [[Some(0); 8].as_slice(), &[None]].concat()
        );
        assert_eq!(all(8, &[0xff; 9], 1), [None]);
        assert_eq!(all(8, &[0x00, 0x00], 1), [None], "runs of nothing");
        assert!(Runs::new(33, 0, 0).is_none() && Runs::new(1, 2, 1).is_none());
    }
}
