//! Rows counted by whole time, group and cause in one pass: all that curves and tests need of rows that weigh one each and
//! are at risk from the origin.

use crate::Sample;
use crate::halves::in_halves;
use crate::risk_table::RiskTable;

/// Numbers of rows, a line for each whole time and a column for each group and cause.
///
/// Counts are whole numbers: neither the order of the rows nor the number of threads can change them.
#[derive(Debug, Clone)]
pub(crate) struct DayCounts {
    /// Columns of one group: the largest cause and 1 more for censorings.
    n_causes: usize,
    n_columns: usize,
    counts: Vec<u32>,
}

/// Causes up to this have a column each.
const LARGEST_CAUSE: u32 = 31;

/// Cells of the table that may be walked for each row of the sample; beyond that a sort is no slower.
const CELLS_PER_ROW: usize = 2;

/// Cells that are always affordable.
const SMALL_TABLE: usize = 1 << 14;

impl DayCounts {
    /// Counts a sample; `None` where rows have weights or enter late, or times are no modest whole numbers.
    pub(crate) fn new(sample: &Sample) -> Option<Self> {
        Self::counted(sample, 1, |_| 0)
    }

    /// The same by group, `place` holding the group of each row below `n_groups`.
    pub(crate) fn by_group(sample: &Sample, place: &[u32], n_groups: usize) -> Option<Self> {
        Self::counted(sample, n_groups, |row| {
            place.get(row).map_or(0, |&place| place as usize)
        })
    }

    fn counted(
        sample: &Sample,
        n_groups: usize,
        group_of: impl Fn(usize) -> usize + Sync,
    ) -> Option<Self> {
        if sample.weight().is_some() || sample.entry().is_some() {
            return None;
        }
        let largest = sample.largest_whole_exit()? as usize;
        let largest_cause = sample.cause().iter().copied().max().unwrap_or(0);
        if largest_cause > LARGEST_CAUSE {
            return None;
        }
        let n_causes = largest_cause as usize + 1;
        let n_columns = n_groups.checked_mul(n_causes)?;
        let n_cells = largest.checked_add(1)?.checked_mul(n_columns)?;
        if n_cells > SMALL_TABLE.max(CELLS_PER_ROW * sample.len()) {
            return None;
        }
        let [mut counts, others] = in_halves(sample.len(), |rows| {
            let mut counts = vec![0_u32; n_cells];
            let columns = sample.exit().get(rows.clone()).unwrap_or_default().iter();
            let columns = columns.zip(sample.cause().get(rows.clone()).unwrap_or_default());
            for (row, (&exit, &cause)) in rows.zip(columns) {
                let column = group_of(row) * n_causes + cause as usize;
                if let Some(count) = counts.get_mut(exit as u32 as usize * n_columns + column) {
                    *count += 1;
                }
            }
            counts
        });
        for (count, other) in counts.iter_mut().zip(&others) {
            *count += other;
        }
        Some(Self {
            n_causes,
            n_columns,
            counts,
        })
    }

    /// Numbers of columns for one group: the largest cause and 1 more.
    pub(crate) fn n_causes(&self) -> usize {
        self.n_causes
    }

    /// Times at which a row leaves, increasing, each with its counts by group and cause.
    pub(crate) fn times(&self) -> impl Iterator<Item = (f64, &[u32])> {
        let lines = self.counts.chunks(self.n_columns.max(1)).enumerate();
        lines
            .filter(|(_, line)| line.iter().any(|&count| count > 0))
            .map(|(time, line)| (time as f64, line))
    }

    /// For each whole time the number of times up to it at which a row leaves.
    pub(crate) fn ticks(&self) -> Vec<u32> {
        let mut n_times = 0;
        self.counts
            .chunks(self.n_columns.max(1))
            .map(|line| {
                n_times += u32::from(line.iter().any(|&count| count > 0));
                n_times
            })
            .collect()
    }

    /// The causes of which an event was counted, in increasing order.
    pub(crate) fn causes(&self) -> Vec<u32> {
        let mut found = vec![false; self.n_causes];
        for line in self.counts.chunks(self.n_causes.max(1)) {
            for (found, &count) in found.iter_mut().zip(line) {
                *found |= count > 0;
            }
        }
        let causes = (0_u32..).zip(found).skip(1);
        causes
            .filter(|(_, found)| *found)
            .map(|(cause, _)| cause)
            .collect()
    }

    /// The counts at each time over all groups, for these causes in increasing order.
    pub(crate) fn risk_table(&self, causes: &[u32]) -> RiskTable {
        let n_times = self.times().count();
        let with_room = || Vec::with_capacity(n_times);
        let mut table = RiskTable {
            n_at_risk: with_room(),
            n_events: causes.iter().map(|_| with_room()).collect(),
            n_events_of_any: with_room(),
            n_censored: with_room(),
        };
        let all = |line: &[u32]| line.iter().map(|&count| u64::from(count)).sum::<u64>();
        let mut left = all(&self.counts);
        let mut of_time = vec![0_u64; self.n_causes];
        for (_, line) in self.times() {
            of_time.fill(0);
            for of_group in line.chunks(self.n_causes.max(1)) {
                for (sum, &count) in of_time.iter_mut().zip(of_group) {
                    *sum += u64::from(count);
                }
            }
            let of_cause = |cause: u32| of_time.get(cause as usize).copied().unwrap_or(0);
            let n_events: u64 = causes.iter().map(|&cause| of_cause(cause)).sum();
            table.n_at_risk.push(left as f64);
            table.n_censored.push(of_cause(0) as f64);
            table.n_events_of_any.push(n_events as f64);
            for (column, &cause) in table.n_events.iter_mut().zip(causes) {
                column.push(of_cause(cause) as f64);
            }
            left -= all(line);
        }
        table
    }
}
