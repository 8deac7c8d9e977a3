//! Where the rows of a growing table are, found by what they are about. Few bytes a row, and only looked into, never walked.

use std::hash::{Hash, Hasher};

/// No place: beyond the end of any table.
const NONE: u32 = u32::MAX;

/// The place that the next row of a table will have.
pub(super) fn next_place<R>(table: &[R]) -> u32 {
    u32::try_from(table.len()).unwrap_or(NONE)
}

/// Places in one table, found by a hash of what the row there is about. At most three slots in four are taken.
#[derive(Debug, Default)]
pub(super) struct Places {
    slots: Vec<Slot>,
    n_taken: usize,
}

#[derive(Debug, Clone, Copy)]
struct Slot {
    /// Half of the hash: a row is looked at only where it agrees, for rows are far apart in memory.
    mark: u32,
    place: u32,
}

const FREE: Slot = Slot {
    mark: 0,
    place: NONE,
};

impl Places {
    /// The place noted for rows about what `row` is about; beyond the end of the table where none is. Whoever is told so notes
    /// the next place there and adds the row; whoever adds a row about the same may note that one instead.
    pub(super) fn place<R, K: PartialEq + Hash>(
        &mut self,
        row: &R,
        table: &[R],
        about: impl Fn(&R) -> K,
    ) -> &mut u32 {
        if 4 * (self.n_taken + 1) > 3 * self.slots.len() {
            self.grow();
        }
        let sought = about(row);
        let mark = mark(&sought);
        let mut at = self.first_slot(mark);
        while let Some(slot) = self.slots.get(at).filter(|slot| slot.place != NONE) {
            let is_like = slot.mark == mark;
            if is_like && table.get(slot.place as usize).map(&about).as_ref() == Some(&sought) {
                break;
            }
            at = self.after(at);
        }
        let slot = &mut self.slots[at];
        self.n_taken += usize::from(slot.place == NONE);
        slot.mark = mark;
        &mut slot.place
    }

    fn first_slot(&self, mark: u32) -> usize {
        let n = self.slots.len() as u64;
        usize::try_from((u64::from(mark) * n) >> 32).unwrap_or(0)
    }

    fn after(&self, slot: usize) -> usize {
        if slot + 1 < self.slots.len() {
            slot + 1
        } else {
            0
        }
    }

    fn grow(&mut self) {
        let n = (self.slots.len() * 2).max(64);
        let old = std::mem::replace(&mut self.slots, vec![FREE; n]);
        for slot in old.into_iter().filter(|slot| slot.place != NONE) {
            let mut at = self.first_slot(slot.mark);
            while self.slots.get(at).is_some_and(|other| other.place != NONE) {
                at = self.after(at);
            }
            if let Some(free) = self.slots.get_mut(at) {
                *free = slot;
            }
        }
    }
}

/// The half of the hash that is the best mixed.
fn mark(about: &impl Hash) -> u32 {
    let mut hasher = Mixer::default();
    about.hash(&mut hasher);
    u32::try_from(hasher.finish() >> 32).unwrap_or(0)
}

/// A quick hash of small numbers, the same in every run. Not for text that a stranger chooses.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Mixer(u64);

impl Hasher for Mixer {
    fn finish(&self) -> u64 {
        self.0
    }

    fn write(&mut self, bytes: &[u8]) {
        for byte in bytes {
            self.write_u64(u64::from(*byte));
        }
    }

    fn write_u8(&mut self, value: u8) {
        self.write_u64(u64::from(value));
    }

    fn write_u32(&mut self, value: u32) {
        self.write_u64(u64::from(value));
    }

    fn write_i32(&mut self, value: i32) {
        self.write_u32(value.cast_unsigned());
    }

    fn write_u64(&mut self, value: u64) {
        self.0 = mix(self.0, value);
    }

    fn write_usize(&mut self, value: usize) {
        self.write_u64(value as u64);
    }

    fn write_isize(&mut self, value: isize) {
        self.write_u64(value.cast_unsigned() as u64);
    }

    fn write_i64(&mut self, value: i64) {
        self.write_u64(value.cast_unsigned());
    }
}

/// Two numbers into one: the halves of a product of twice the width, folded. The constants have as many ones as zeros and
/// no pattern (fractions of the square roots of two and three).
#[inline]
pub(super) fn mix(one: u64, other: u64) -> u64 {
    let product = u128::from(one ^ 0x6a09_e667_f3bc_c909)
        * u128::from(other.wrapping_add(0xbb67_ae85_84ca_a73b));
    #[expect(clippy::cast_possible_truncation, reason = "both halves are used")]
    let halves = (product as u64, (product >> 64) as u64);
    halves.0 ^ halves.1
}

/// A hash of a text, the same in every run: eight bytes at a time, and its length. Whoever needs certainty compares the texts.
#[inline]
pub(super) fn hash_text(text: &[u8]) -> u64 {
    let (words, rest) = text.as_chunks();
    let hash = words.iter().fold(text.len() as u64, |hash, word| {
        mix(hash, u64::from_le_bytes(*word))
    });
    if rest.is_empty() {
        return hash;
    }
    let last = rest.iter().rev();
    mix(
        hash,
        last.fold(0, |last, byte| last << 8 | u64::from(*byte)),
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::HashMap;

    /// Against the map of the standard library, through several growths.
    #[test]
    fn a_row_is_found_by_what_it_is_about() {
        let mut places = Places::default();
        let mut table: Vec<(u32, i32)> = Vec::new();
        let mut known: HashMap<u32, u32> = HashMap::new();
        for n in 0..5000_i32 {
            let row = ((n.cast_unsigned() * 7919) % 1700, n);
            let place = places.place(&row, &table, |row| row.0);
            let expected = known.get(&row.0).copied();
            assert_eq!((*place as usize) < table.len(), expected.is_some());
            if let Some(expected) = expected {
                assert_eq!(*place, expected);
            }
            if expected.is_none() || n % 3 == 0 {
                *place = next_place(&table);
                known.insert(row.0, next_place(&table));
                table.push(row);
            }
        }
        assert_eq!(known.len(), 1700);
    }

    /// Neighbouring numbers, of which keys are made, do not meet in few slots.
    #[test]
    fn neighbours_are_spread() {
        let mut n_of_slot = [0; 256];
        for person in 0..1024_u64 {
            for day in 0..16 {
                let mixed = mix(mix(0, person), 738_000 + day);
                n_of_slot[(mixed >> 56) as usize] += 1;
            }
        }
        assert!(
            n_of_slot.iter().all(|n| (16..128).contains(n)),
            "{n_of_slot:?}"
        );
    }
}
