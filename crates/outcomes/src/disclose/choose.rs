//! Which results a public copy hides: first those that are small themselves, then as few others as keep the small ones
//! from being worked out.

use super::facts::{CellId, Facts, Loss, is_small};
use super::range::{Range, exact_range, ranges};

/// What one printed thing gives away.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Item {
    /// The cells it prints or lets a reader compute at once.
    pub(super) cells: Vec<CellId>,
    /// Position of the item that must be printed for this one to be printed; an earlier one.
    pub(super) needs: Option<usize>,
}

/// Why a result is hidden.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Reason {
    /// It shows a count from 1 to the limit.
    Small,
    /// With it, a small count elsewhere could be worked out.
    Protects,
    /// An earlier public report gave the same stratum for a period that overlaps this one.
    Overlaps,
}

/// What the public copy hides.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct Choice {
    /// One entry an item: why it is hidden, or `None` when it is printed.
    pub(super) hidden: Vec<Option<Reason>>,
    /// Small counts that earlier public reports gave away already; nothing hidden now can help.
    pub(super) already_out: Vec<CellId>,
}

/// Hides items until no small count can be told to within `small_count`.
pub(super) fn choose(facts: &Facts, items: &[Item], small_count: u64) -> Choice {
    let mut copy = Copy::new(facts, items, small_count);
    let small: Vec<CellId> = (copy.small.iter().copied())
        .filter(|cell| {
            facts.cells()[*cell]
                .truth
                .is_some_and(|n| is_small(n, small_count))
        })
        .collect();
    copy.hide_all(&small, Reason::Small);
    // With nothing printed now, what can still be told was told by earlier reports.
    let nothing_printed = Copy {
        hidden: vec![Some(Reason::Small); items.len()],
        ..copy.clone()
    };
    let mut already_out = nothing_printed.all_narrow_cells(small_count);
    loop {
        let narrow = copy.narrow_cells(&already_out, small_count);
        if narrow.is_empty() {
            return Choice {
                hidden: copy.hidden,
                already_out,
            };
        }
        for cell in narrow {
            match copy.cheapest_near(cell) {
                Some(chosen) => copy.hide_all(&[chosen], Reason::Protects),
                None => already_out.push(cell),
            }
        }
    }
}

/// A public copy in the making.
#[derive(Clone)]
struct Copy<'a> {
    facts: &'a Facts,
    items: &'a [Item],
    hidden: Vec<Option<Reason>>,
    /// Cells that must not be told.
    small: Vec<CellId>,
    /// Items that print a cell.
    items_of: Vec<Vec<usize>>,
    /// Sums that a cell takes part in.
    sums_of: Vec<Vec<usize>>,
}

impl<'a> Copy<'a> {
    fn new(facts: &'a Facts, items: &'a [Item], small_count: u64) -> Self {
        let n = facts.cells().len();
        let mut items_of = vec![Vec::new(); n];
        for (position, item) in items.iter().enumerate() {
            for &cell in &item.cells {
                items_of[cell].push(position);
            }
        }
        let mut sums_of = vec![Vec::new(); n];
        for (position, sum) in facts.sums().iter().enumerate() {
            for member in sum.members() {
                sums_of[member].push(position);
            }
        }
        let small = (0..n)
            .filter(|&id| {
                let cell = &facts.cells()[id];
                let is_told_small = |truth| is_small(truth, small_count);
                !cell.is_out && (cell.stays_hidden || cell.truth.is_some_and(is_told_small))
            })
            .collect();
        Self {
            facts,
            items,
            hidden: vec![None; items.len()],
            small,
            items_of,
            sums_of,
        }
    }

    fn n_printing(&self, cell: CellId) -> usize {
        let items = self.items_of[cell].iter();
        items.filter(|item| self.hidden[**item].is_none()).count()
    }

    /// Hides every item that prints one of the cells, and those that cannot stand without it.
    fn hide_all(&mut self, cells: &[CellId], reason: Reason) {
        for &cell in cells {
            for &item in &self.items_of[cell] {
                self.hidden[item].get_or_insert(reason);
            }
        }
        for (position, item) in self.items.iter().enumerate() {
            if let Some(needs) = item.needs
                && self.hidden[position].is_none()
            {
                self.hidden[position] = self.hidden[needs];
            }
        }
    }

    /// All cells that can be told too closely.
    fn all_narrow_cells(&self, small_count: u64) -> Vec<CellId> {
        if !self.facts.cells().iter().any(|cell| cell.is_out) {
            return Vec::new();
        }
        let known = ranges(self.facts, |cell| self.facts.cells()[cell].is_out);
        let (mut narrow, open): (Vec<CellId>, Vec<CellId>) =
            (self.small.iter()).partition(|cell| !known[**cell].is_wider_than(small_count));
        narrow.extend(self.narrow_by_programming(&open, &known, small_count));
        narrow
    }

    /// Small cells that can be told too closely: by passing bounds along, and only when that finds none, by linear
    /// programming.
    fn narrow_cells(&self, given_up: &[CellId], small_count: u64) -> Vec<CellId> {
        let is_known = |cell: CellId| self.facts.cells()[cell].is_out || self.n_printing(cell) > 0;
        let known = ranges(self.facts, is_known);
        let open: Vec<CellId> = self
            .small
            .iter()
            .copied()
            .filter(|cell| !given_up.contains(cell))
            .collect();
        let is_told = |cell: &CellId| !known[*cell].is_wider_than(small_count);
        let mut narrow: Vec<CellId> = open.iter().copied().filter(is_told).collect();
        if narrow.is_empty() {
            narrow = self.narrow_by_programming(&open, &known, small_count);
        }
        self.one_a_sum(&narrow)
    }

    fn narrow_by_programming(
        &self,
        open: &[CellId],
        known: &[Range],
        small_count: u64,
    ) -> Vec<CellId> {
        let is_narrow = |cell: &CellId| {
            let range = exact_range(self.facts, &self.sums_of, known, *cell);
            range.is_none_or(|range| !range.is_wider_than(small_count))
        };
        open.iter().copied().filter(is_narrow).collect()
    }

    /// Of cells in one sum only the first: hiding something for it may help the others.
    fn one_a_sum(&self, cells: &[CellId]) -> Vec<CellId> {
        let mut is_touched = vec![false; self.facts.sums().len()];
        cells
            .iter()
            .copied()
            .filter(|&cell| {
                let is_first = self.sums_of[cell].iter().all(|sum| !is_touched[*sum]);
                if is_first {
                    for &sum in &self.sums_of[cell] {
                        is_touched[sum] = true;
                    }
                }
                is_first
            })
            .collect()
    }

    /// The printed cell whose hiding costs least among those that share a sum with the cell; failing that, among those
    /// that hang together with it, nearest first.
    fn cheapest_near(&self, cell: CellId) -> Option<CellId> {
        let mut is_seen = vec![false; self.facts.cells().len()];
        is_seen[cell] = true;
        let mut ring = vec![cell];
        while !ring.is_empty() {
            let mut best: Option<(Loss, CellId)> = None;
            let mut next = Vec::new();
            for &sum in ring.iter().flat_map(|member| &self.sums_of[*member]) {
                for member in self.facts.sums()[sum].members() {
                    if std::mem::replace(&mut is_seen[member], true) {
                        continue;
                    }
                    match self.loss_of(member) {
                        Some(loss) => {
                            let offer = (loss, member);
                            best = Some(best.map_or(offer, |known| known.min(offer)));
                        }
                        None => next.push(member),
                    }
                }
            }
            if let Some((_, chosen)) = best {
                return Some(chosen);
            }
            ring = next;
        }
        None
    }

    /// What is lost when a cell goes; `None` when it is not printed now, cannot be taken back, or is 0 and would protect
    /// nothing.
    fn loss_of(&self, cell: CellId) -> Option<Loss> {
        let own = &self.facts.cells()[cell];
        let n_results = self.n_printing(cell);
        let count = own.truth?;
        (!own.is_out && n_results > 0 && count > 0).then_some(Loss {
            n_results,
            count,
            ..own.loss
        })
    }
}
