//! One record of a file, whatever the format.

use super::super::joined::Unjoined;
use super::super::places::{hash_text, mix};
use super::super::row::RowFault;

/// One record of a file. Its memory is used again for the next.
#[derive(Debug, Default)]
pub(crate) struct Record {
    /// Cells in the order of the header.
    pub(crate) cells: Cells,
    /// Which cells came with a type of their own, and are therefore written our way whatever the layout declares: ISO
    /// dates, decimal points, `true` and `false`. Cells beyond its end have none.
    pub(crate) typed: Vec<bool>,
    /// Lines of the file it spans; 1 where the format has no lines.
    pub(crate) n_lines: u64,
    /// Bytes of the unpacked text it takes, its line end included, blank lines before it not. Where a format has no text, the
    /// text of its cells with one byte for the end of each.
    pub(crate) n_bytes: u64,
    /// Bytes read with it that end the line before it: the second half of a line end of two bytes.
    pub(crate) n_bytes_of_last: u64,
    /// Why it cannot be read; then its cells mean nothing.
    pub(crate) fault: Option<RowFault>,
    /// Set where it names a row of another file that is not there.
    pub(crate) unjoined: Option<Unjoined>,
}

/// The cells of a record: their text without gaps, where each ends in it, and which of them hold anything. Most cells of a wide
/// export are empty, so whoever looks at every cell looks at those that are not.
#[derive(Debug, Clone, Default)]
pub(crate) struct Cells {
    text: String,
    /// A record is far shorter than 4 GiB.
    ends: Vec<u32>,
    held: Vec<u32>,
    /// Where the format has dictionaries, the entry of each held cell in that of its column; [`NO_NUMBER`] for others.
    entries: Vec<u32>,
    /// Which dictionaries those are: cells of another number have others.
    dictionaries: u64,
    /// The number of each cell's text among the texts of its column, where it has one; empty until they are marked.
    marks: Vec<u32>,
    /// A hash of the cells and their boundaries, once it has been made.
    print: Option<u64>,
}

/// The entry of a cell that is in no dictionary, and the mark of one whose text has no number.
const NO_NUMBER: u32 = u32::MAX;

impl Cells {
    /// Forgets the cells, not their memory.
    pub(crate) fn clear(&mut self) {
        self.text.clear();
        self.ends.clear();
        self.held.clear();
        self.entries.clear();
        self.marks.clear();
        self.print = None;
    }

    /// Adds a cell with its entry in its column's dictionary, where it is in one. `dictionaries` tells which these are.
    #[inline]
    pub(crate) fn push_entry(&mut self, cell: &str, entry: Option<u32>, dictionaries: u64) {
        self.dictionaries = dictionaries;
        if !cell.is_empty() {
            self.entries.push(entry.unwrap_or(NO_NUMBER));
        }
        self.push(cell);
    }

    /// Which dictionaries the entries are of.
    pub(crate) const fn dictionaries(&self) -> u64 {
        self.dictionaries
    }

    /// Notes for each cell that holds something the number of its text, and makes the fingerprint of the whole from the hashes
    /// of the texts. `each` is given position, text and entry.
    pub(crate) fn mark_each(
        &mut self,
        mut each: impl FnMut(usize, &str, Option<u32>) -> (Option<u32>, u64),
    ) {
        let mut marks = std::mem::take(&mut self.marks);
        marks.clear();
        marks.resize(self.len(), NO_NUMBER);
        let mut print = self.len() as u64;
        for (place, (position, text)) in self.held().enumerate() {
            let entry = self.entries.get(place).copied();
            let (mark, hash) = each(position, text, entry.filter(|entry| *entry != NO_NUMBER));
            if let (Some(place), Some(mark)) = (marks.get_mut(position), mark) {
                *place = mark;
            }
            print = mix(mix(print, position as u64), hash);
        }
        self.marks = marks;
        self.print = Some(print);
    }

    /// Whether the cells have been marked since they were read.
    pub(crate) const fn is_marked(&self) -> bool {
        self.print.is_some()
    }

    /// The number of a cell's text among those of its column, where it has one.
    #[inline]
    pub(crate) fn mark(&self, position: usize) -> Option<u32> {
        let mark = self.marks.get(position).copied();
        mark.filter(|mark| *mark != NO_NUMBER)
    }

    /// A hash of the cells and of where each ends.
    pub(crate) fn print(&self) -> u64 {
        self.print.unwrap_or_else(|| {
            let held = self.held();
            held.fold(self.len() as u64, |print, (position, text)| {
                mix(mix(print, position as u64), hash_text(text.as_bytes()))
            })
        })
    }

    /// Adds a cell.
    #[inline]
    pub(crate) fn push(&mut self, cell: &str) {
        self.text.push_str(cell);
        self.end_cell(cell.is_empty());
    }

    /// Adds a letter to the cell that [`Cells::end_cell`] will end.
    pub(crate) fn push_letter(&mut self, letter: char) {
        self.text.push(letter);
    }

    /// Ends a cell.
    #[inline]
    pub(crate) fn end_cell(&mut self, is_empty: bool) {
        if !is_empty {
            self.held.push(saturated(self.ends.len()));
        }
        self.ends.push(saturated(self.text.len()));
    }

    /// Adds empty cells until there are `n`.
    #[inline]
    pub(crate) fn fill_to(&mut self, n: usize) {
        if self.ends.len() < n {
            self.ends.resize(n, saturated(self.text.len()));
        }
    }

    /// Takes the text of all cells at once, and their lengths in bytes; each must end between two letters.
    pub(crate) fn take_all(&mut self, text: &str, lengths: impl Iterator<Item = usize>) {
        self.clear();
        self.text.push_str(text);
        let mut end = 0;
        for n in lengths {
            if n > 0 {
                self.held.push(saturated(self.ends.len()));
            }
            end += n;
            self.ends.push(saturated(end));
        }
    }

    /// Cells, empty ones too.
    pub(crate) fn len(&self) -> usize {
        self.ends.len()
    }

    /// The text of all cells.
    pub(crate) fn text(&self) -> &str {
        &self.text
    }

    /// Whether a cell is empty or not there.
    #[inline]
    pub(crate) fn is_empty_at(&self, position: usize) -> bool {
        let (start, end) = self.extent(position);
        start >= end
    }

    #[inline]
    fn extent(&self, position: usize) -> (usize, usize) {
        let end_of = |position: usize| self.ends.get(position).map_or(0, |end| *end as usize);
        let start = position.checked_sub(1).map_or(0, end_of);
        (start, end_of(position))
    }

    /// A cell; `None` where the record has none.
    #[inline]
    pub(crate) fn get(&self, position: usize) -> Option<&str> {
        let (start, end) = self.extent(position);
        match position < self.ends.len() {
            true => self.text.get(start..end),
            false => None,
        }
    }

    /// Every cell, in order.
    pub(crate) fn iter(&self) -> impl Iterator<Item = &str> {
        (0..self.len()).map(|position| self.get(position).unwrap_or_default())
    }

    /// The cells that hold something, with their positions, in order.
    #[inline]
    pub(crate) fn held(&self) -> impl Iterator<Item = (usize, &str)> {
        self.held.iter().map(|position| {
            let position = *position as usize;
            (position, self.get(position).unwrap_or_default())
        })
    }

    /// Whether a cell holds the byte that no text holds.
    pub(crate) fn has_nul(&self) -> bool {
        // no early end: so it is done many bytes at a time
        let bytes = self.text.as_bytes();
        bytes.iter().fold(false, |found, byte| found | (*byte == 0))
    }
}

fn saturated(n: usize) -> u32 {
    u32::try_from(n).unwrap_or(u32::MAX)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn all(cells: &Cells) -> Vec<&str> {
        cells.iter().collect()
    }

    #[test]
    fn cells_are_found_again_however_they_came() {
        let mut cells = Cells::default();
        cells.push("ä1");
        cells.fill_to(3);
        cells.push("b");
        cells.fill_to(5);
        let expected = ["ä1", "", "", "b", ""];
        assert_eq!(all(&cells), expected);
        assert_eq!(
            cells.held().collect::<Vec<_>>(),
            [(0, "ä1"), (3, "b")],
            "those that hold something"
        );
        let mut again = Cells::default();
        again.take_all("ä1b", [3, 0, 0, 1, 0].into_iter());
        assert_eq!(all(&again), expected);
        assert_eq!(again.held().count(), 2);
        assert_eq!(
            (again.get(4), again.get(5), again.get(usize::MAX)),
            (Some(""), None, None)
        );
        assert!(again.is_empty_at(1) && again.is_empty_at(9) && !again.is_empty_at(3));
        again.clear();
        assert_eq!((again.len(), again.held().count()), (0, 0));
    }

    #[test]
    fn the_byte_of_no_text_is_seen_anywhere() {
        let mut cells = Cells::default();
        cells.push("abcdefghijklmnopqrstuvwxyz");
        assert!(!cells.has_nul());
        cells.push("\0");
        assert!(cells.has_nul());
    }
}
