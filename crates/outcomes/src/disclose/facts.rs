//! What an outsider could know about counts: cells, the sums that tie them together, and what is printed.

use std::collections::BTreeMap;

/// Position of a cell in [`Facts`].
pub(super) type CellId = usize;

/// One count that a public copy could give away.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Cell {
    /// The count itself; `None` when these data cannot say it (a quarter that only an earlier report covered).
    pub(super) truth: Option<u64>,
    /// Whether an earlier public report printed it.
    pub(super) is_out: bool,
    /// Whether an earlier public report hid it; its size is not known, so it is kept as safe as a small one.
    pub(super) stays_hidden: bool,
    /// What a reader loses when it is hidden; the number of results and the count are filled in when they are compared.
    pub(super) loss: Loss,
}

/// What a reader loses when a cell is hidden. Compared in field order; the smallest loss is taken first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub(super) struct Loss {
    /// Results that would go.
    pub(super) n_results: usize,
    /// 0 a quarter, 1 a stratum of a year, 2 the whole of a year.
    pub(super) class: u8,
    /// Later measures go before earlier ones: places from the end of the catalogue.
    pub(super) place_from_end: usize,
    /// The count.
    pub(super) count: u64,
}

/// A whole that is the sum of its parts.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Sum {
    /// The whole.
    pub(super) whole: CellId,
    /// The parts.
    pub(super) parts: Vec<CellId>,
}

impl Sum {
    /// The whole and its parts.
    pub(super) fn members(&self) -> impl Iterator<Item = CellId> + '_ {
        self.parts.iter().copied().chain([self.whole])
    }
}

/// Cells and everything that ties them together. Every count is at least 0; beyond that an outsider knows the sums and
/// the cells that are printed.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct Facts {
    cells: Vec<Cell>,
    by_key: BTreeMap<String, CellId>,
    sums: Vec<Sum>,
}

impl Facts {
    /// The cell of this key, made when it is new. A count given later fills one that was not known.
    pub(super) fn cell(&mut self, key: String, truth: Option<u64>) -> CellId {
        if let Some(&id) = self.by_key.get(&key) {
            if let Some(cell) = self.cells.get_mut(id) {
                cell.truth = cell.truth.or(truth);
            }
            return id;
        }
        let id = self.cells.len();
        self.cells.push(Cell {
            truth,
            is_out: false,
            stays_hidden: false,
            loss: Loss::default(),
        });
        self.by_key.insert(key, id);
        id
    }

    /// A cell without a name: a rest or a difference that nobody prints but anybody can compute.
    pub(super) fn rest(&mut self, truth: Option<u64>) -> CellId {
        let key = format!("rest {}", self.cells.len());
        self.cell(key, truth)
    }

    /// The cell of a key, where there is one.
    pub(super) fn find(&self, key: &str) -> Option<CellId> {
        self.by_key.get(key).copied()
    }

    /// Says that a whole is the sum of its parts.
    pub(super) fn add_sum(&mut self, whole: CellId, parts: Vec<CellId>) {
        let sum = Sum { whole, parts };
        if !self.sums.contains(&sum) {
            self.sums.push(sum);
        }
    }

    /// All cells.
    pub(super) fn cells(&self) -> &[Cell] {
        &self.cells
    }

    /// One cell, to be changed.
    pub(super) fn cell_mut(&mut self, id: CellId) -> Option<&mut Cell> {
        self.cells.get_mut(id)
    }

    /// All sums.
    pub(super) fn sums(&self) -> &[Sum] {
        &self.sums
    }
}

/// Whether a count is one of those that are never shown: 1 to the limit. Zero stays visible.
pub(super) fn is_small(count: u64, small_count: u64) -> bool {
    (1..=small_count).contains(&count)
}
