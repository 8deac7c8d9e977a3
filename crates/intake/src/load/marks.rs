//! Spellings that come again in a column, numbered as they are read.
//!
//! A column of codes, sizes or days holds few different texts, however many rows it has. Whoever needs to know what a text means
//! works it out once and finds it again under its number. What is found out must not depend on whether a text has a number:
//! numbers only spare work.

use super::door::Cells;
use super::places::hash_text;

/// Texts of one column that get a number.
const MOST_TEXTS: usize = 4096;
/// Longer texts get none.
const LONGEST_BYTES: usize = 64;
/// Unknown texts, beyond known ones, after which a full list is of no more use.
const PATIENCE: u32 = 4096;

/// The texts of every column of a file that have been met.
pub(super) struct Marks {
    columns: Vec<Column>,
    /// Numbers and hashes of the entries of each column's dictionary, where the format has them.
    entries: Vec<ByMark<(Option<u32>, u64)>>,
    dictionaries: u64,
}

impl Marks {
    /// Nothing met yet; cells of further columns get no number.
    pub(super) fn new(n_columns: usize) -> Self {
        Self {
            columns: (0..n_columns).map(|_| Column::default()).collect(),
            entries: (0..n_columns).map(|_| ByMark::default()).collect(),
            dictionaries: 0,
        }
    }

    /// Notes the number of each cell that has one, and the fingerprint of the whole.
    pub(super) fn mark(&mut self, cells: &mut Cells) {
        if self.dictionaries != cells.dictionaries() {
            self.dictionaries = cells.dictionaries();
            self.entries.fill_with(ByMark::default);
        }
        cells.mark_each(|position, text, entry| {
            let entries = self.entries.get_mut(position).zip(entry);
            let known = entries
                .as_ref()
                .and_then(|(known, entry)| known.get(*entry));
            if let Some(known) = known {
                return known;
            }
            let hash = hash_text(text.as_bytes());
            let column = self.columns.get_mut(position);
            let mark = column.and_then(|column| column.number(text, hash));
            if let Some((known, entry)) = entries {
                known.put(entry, (mark, hash));
            }
            (mark, hash)
        });
    }
}

/// The texts of one column, found by their hashes. At most three slots in four are taken.
#[derive(Default)]
struct Column {
    slots: Vec<Slot>,
    texts: String,
    /// Where each text ends.
    ends: Vec<u32>,
    /// How many more unknown texts than known ones a full list will bear.
    patience: u32,
    is_given_up: bool,
}

#[derive(Clone, Copy)]
struct Slot {
    hash: u64,
    /// `None` where the slot is free.
    number: Option<u32>,
}

impl Column {
    /// The number of a text, which is given one where there is room.
    #[inline]
    fn number(&mut self, text: &str, hash: u64) -> Option<u32> {
        if self.is_given_up || text.len() > LONGEST_BYTES {
            return None;
        }
        if self.slots.is_empty() {
            self.grow();
        }
        let is_full = self.ends.len() >= MOST_TEXTS;
        let mut at = first_slot(hash, self.slots.len());
        while let Some(Slot {
            hash: known,
            number: Some(number),
        }) = self.slots.get(at).copied()
        {
            if known == hash && self.text(number) == text {
                if is_full {
                    self.patience = PATIENCE.min(self.patience + 1);
                }
                return Some(number);
            }
            at = if at + 1 < self.slots.len() { at + 1 } else { 0 };
        }
        if is_full {
            self.patience = self.patience.saturating_sub(1);
            self.is_given_up = self.patience == 0;
            return None;
        }
        self.add(text, hash, at)
    }

    #[cold]
    fn add(&mut self, text: &str, hash: u64, at: usize) -> Option<u32> {
        let number = u32::try_from(self.ends.len()).ok()?;
        self.texts.push_str(text);
        self.ends.push(u32::try_from(self.texts.len()).ok()?);
        *self.slots.get_mut(at)? = Slot {
            hash,
            number: Some(number),
        };
        self.patience = PATIENCE;
        if 4 * (self.ends.len() + 1) > 3 * self.slots.len() {
            self.grow();
        }
        Some(number)
    }

    fn text(&self, number: u32) -> &str {
        let end = |number: usize| self.ends.get(number).map_or(0, |end| *end as usize);
        let number = number as usize;
        let start = number.checked_sub(1).map_or(0, end);
        self.texts.get(start..end(number)).unwrap_or_default()
    }

    fn grow(&mut self) {
        const FREE: Slot = Slot {
            hash: 0,
            number: None,
        };
        let n = (2 * self.slots.len()).max(16);
        let old = std::mem::replace(&mut self.slots, vec![FREE; n]);
        for slot in old.into_iter().filter(|slot| slot.number.is_some()) {
            let mut at = first_slot(slot.hash, n);
            while self
                .slots
                .get(at)
                .is_some_and(|other| other.number.is_some())
            {
                at = if at + 1 < n { at + 1 } else { 0 };
            }
            if let Some(free) = self.slots.get_mut(at) {
                *free = slot;
            }
        }
    }
}

fn first_slot(hash: u64, n_slots: usize) -> usize {
    usize::try_from(((hash >> 32) * n_slots as u64) >> 32).unwrap_or(0)
}

/// What was found out about texts by their numbers.
#[derive(Debug)]
pub(crate) struct ByMark<T>(Vec<Option<T>>);

impl<T> Default for ByMark<T> {
    fn default() -> Self {
        Self(Vec::new())
    }
}

impl<T: Copy> ByMark<T> {
    /// What is known of a text with this number.
    #[inline]
    pub(crate) fn get(&self, mark: u32) -> Option<T> {
        self.0.get(mark as usize).copied().flatten()
    }

    /// Keeps what was found out.
    pub(crate) fn put(&mut self, mark: u32, known: T) {
        let place = mark as usize;
        if self.0.len() <= place {
            self.0.resize(place + 1, None);
        }
        if let Some(kept) = self.0.get_mut(place) {
            *kept = Some(known);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn marks_of(marks: &mut Marks, row: &[&str]) -> Vec<Option<u32>> {
        let mut cells = Cells::default();
        row.iter().for_each(|cell| cells.push(cell));
        marks.mark(&mut cells);
        (0..row.len()).map(|at| cells.mark(at)).collect()
    }

    #[test]
    fn a_text_has_one_number_in_its_column_and_no_number_of_another() {
        let mut marks = Marks::new(3);
        let long = "x".repeat(LONGEST_BYTES + 1);
        assert_eq!(
            marks_of(&mut marks, &["a", "", "b"]),
            [Some(0), None, Some(0)]
        );
        assert_eq!(
            marks_of(&mut marks, &["b", "a", &long]),
            [Some(1), Some(0), None]
        );
        assert_eq!(
            marks_of(&mut marks, &["a", "a", "b", "beyond the header"]),
            [Some(0), Some(0), Some(0), None]
        );
    }

    /// Ids of persons stop asking for numbers; a column with few new texts goes on.
    #[test]
    fn a_column_of_ever_new_texts_is_given_up() {
        let mut marks = Marks::new(2);
        for n in 0..20_000 {
            let id = format!("id-{n}");
            let code = format!("code-{}", n % 100);
            let marked = marks_of(&mut marks, &[&id, &code]);
            let is_listed = n < MOST_TEXTS;
            assert_eq!(
                marked,
                [
                    is_listed.then(|| u32::try_from(n).unwrap()),
                    Some(u32::try_from(n % 100).unwrap())
                ]
            );
        }
        assert_eq!(marks_of(&mut marks, &["id-1", "code-1"]), [None, Some(1)]);
        assert!(marks.columns[0].is_given_up && !marks.columns[1].is_given_up);
    }

    /// Entries of a dictionary are looked up once; another group of rows has other dictionaries.
    #[test]
    fn an_entry_is_the_text_it_has_in_its_own_dictionary() {
        let mut marks = Marks::new(1);
        let mut of = |text, entry, dictionaries| {
            let mut cells = Cells::default();
            cells.push_entry(text, entry, dictionaries);
            marks.mark(&mut cells);
            let mut plain = Cells::default();
            plain.push(text);
            assert_eq!(cells.print(), plain.print());
            cells.mark(0)
        };
        assert_eq!(of("a", Some(7), 1), Some(0));
        assert_eq!(of("b", Some(2), 1), Some(1));
        assert_eq!(of("a", Some(7), 1), Some(0));
        assert_eq!(of("b", Some(7), 2), Some(1));
        assert_eq!(of("a", None, 2), Some(0));
    }

    #[test]
    fn what_was_found_out_is_kept_by_number() {
        let mut known = ByMark::default();
        assert_eq!(known.get(3), None);
        known.put(3, 'c');
        assert_eq!(
            (known.get(3), known.get(2), known.get(9)),
            (Some('c'), None, None)
        );
    }
}
