//! Counts by group at each event time of one stratum, for any number of strata at the cost of one sort.

use crate::Sample;
use crate::content::ContentKeys;
use crate::day_counts::DayCounts;
use crate::grouping::Grouping;
use crate::risk_table::FixedWeights;
use crate::time_order::TimeOrder;

/// Rows of one stratum with their times renumbered among that stratum's own.
pub(super) struct Stratum {
    /// Rows, by their place in the sample.
    pub(super) rows: Vec<u32>,
    /// For each of these rows the stratum's position of its exit.
    pub(super) exit: Vec<u32>,
    /// For each of these rows the stratum's first position at which it is at risk.
    pub(super) entry: Vec<u32>,
    /// Distinct exit times of the stratum.
    pub(super) n_times: usize,
}

/// Splits the rows that are ever at risk by stratum; rows in the order of exit, then of `contents`, or of the sample without them.
pub(super) fn strata(
    order: &TimeOrder,
    stratum: &Grouping,
    contents: Option<&ContentKeys>,
) -> Vec<Stratum> {
    let mut rows: Vec<Vec<u32>> = vec![Vec::new(); stratum.n_groups()];
    let mut sorted = by_exit(order);
    if let Some(contents) = contents {
        let mut scratch = Vec::new();
        let exit_of = |row: &u32| order.exit.get(*row as usize);
        for tied in sorted.chunk_by_mut(|a, b| exit_of(a) == exit_of(b)) {
            contents.sort(tied, &mut scratch);
        }
    }
    for row in sorted {
        if let Some(rows) = rows.get_mut(stratum.of(row as usize)) {
            rows.push(row);
        }
    }
    rows.into_iter()
        .map(|rows| renumbered(order, rows))
        .collect()
}

/// Rows ever at risk in the order of their exit.
fn by_exit(order: &TimeOrder) -> Vec<u32> {
    let mut next = vec![0_usize; order.times.len() + 1];
    let at_risk = || (0..order.exit.len()).filter(|&row| order.is_ever_at_risk(row));
    let exit_of = |row: usize| order.exit.get(row).copied().unwrap_or(0) as usize;
    for row in at_risk() {
        if let Some(count) = next.get_mut(exit_of(row) + 1) {
            *count += 1;
        }
    }
    let mut sum = 0;
    for place in &mut next {
        sum += *place;
        *place = sum;
    }
    let mut sorted = vec![0_u32; sum];
    for row in at_risk() {
        if let Some(next) = next.get_mut(exit_of(row)) {
            if let Some(place) = sorted.get_mut(*next) {
                *place = row as u32;
            }
            *next += 1;
        }
    }
    sorted
}

fn renumbered(order: &TimeOrder, rows: Vec<u32>) -> Stratum {
    let mut known: Vec<u32> = Vec::new();
    let exit = rows
        .iter()
        .map(|&row| {
            let position = order.exit.get(row as usize).copied().unwrap_or(0);
            if known.last() != Some(&position) {
                known.push(position);
            }
            known.len() as u32 - 1
        })
        .collect();
    let entry = rows
        .iter()
        .map(|&row| match order.entry_of(row as usize) {
            0 => 0,
            entry => known.partition_point(|&position| position < entry) as u32,
        })
        .collect();
    Stratum {
        rows,
        exit,
        entry,
        n_times: known.len(),
    }
}

/// Counts by group at the times of a stratum.
pub(super) struct GroupTable {
    pub(super) n_groups: usize,
    /// At risk: `n_groups` numbers for each time.
    pub(super) n_at_risk: Vec<f64>,
    /// Events of one cause or of any, laid out likewise.
    pub(super) n_events: Vec<f64>,
    /// Events of the other causes, laid out likewise.
    pub(super) n_other: Vec<f64>,
}

impl GroupTable {
    /// Counts a stratum; with `cause` its events, and the others apart.
    pub(super) fn new(
        sample: &Sample,
        groups: &Grouping,
        stratum: &Stratum,
        cause: Option<u32>,
    ) -> Self {
        let n_groups = groups.n_groups();
        let size = stratum.n_times * n_groups;
        let fixed = FixedWeights::new(sample);
        let (mut gained, mut lost) = (vec![0_i128; size], vec![0_i128; size]);
        let (mut of_events, mut of_other) = (vec![0_i128; size], vec![0_i128; size]);
        let add = |column: &mut Vec<i128>, time: u32, group: usize, units: i128| {
            if let Some(sum) = column.get_mut(time as usize * n_groups + group) {
                *sum += units;
            }
        };
        for ((&row, &exit), &entry) in stratum.rows.iter().zip(&stratum.exit).zip(&stratum.entry) {
            let row = row as usize;
            let (group, units) = (groups.of(row), fixed.units(row));
            add(&mut gained, entry, group, units);
            add(&mut lost, exit, group, units);
            match sample.cause().get(row).copied().unwrap_or(0) {
                0 => {}
                found if cause.is_none_or(|cause| cause == found) => {
                    add(&mut of_events, exit, group, units);
                }
                _ => add(&mut of_other, exit, group, units),
            }
        }
        let mut at_risk = vec![0_i128; n_groups];
        let mut n_at_risk = Vec::with_capacity(size);
        for (gained, lost) in gained.chunks(n_groups).zip(lost.chunks(n_groups)) {
            for ((at_risk, gained), lost) in at_risk.iter_mut().zip(gained).zip(lost) {
                *at_risk += gained;
                n_at_risk.push(fixed.weight_of(*at_risk));
                *at_risk -= lost;
            }
        }
        let in_weights =
            |column: Vec<i128>| column.iter().map(|&units| fixed.weight_of(units)).collect();
        let (n_events, n_other) = (in_weights(of_events), in_weights(of_other));
        Self {
            n_groups,
            n_at_risk,
            n_events,
            n_other,
        }
    }

    /// Counts all rows at once, when each weighs one, all are at risk from the origin, and times are whole.
    pub(super) fn of_days(sample: &Sample, groups: &Grouping, cause: Option<u32>) -> Option<Self> {
        let n_groups = groups.n_groups();
        let days = DayCounts::by_group(sample, &groups.place, n_groups)?;
        let leaving = |counts: &[u32]| counts.iter().map(|&n| u64::from(n)).sum::<u64>();
        let of_groups = |line| <[u32]>::chunks(line, days.n_causes().max(1));
        let mut left = vec![0_u64; n_groups];
        for (_, line) in days.times() {
            for (left, counts) in left.iter_mut().zip(of_groups(line)) {
                *left += leaving(counts);
            }
        }
        let mut table = Self {
            n_groups,
            n_at_risk: Vec::new(),
            n_events: Vec::new(),
            n_other: Vec::new(),
        };
        for (_, line) in days.times() {
            for (left, counts) in left.iter_mut().zip(of_groups(line)) {
                let of_any = leaving(counts.get(1..).unwrap_or_default());
                let of_cause = cause.map_or(of_any, |cause| match cause {
                    0 => 0,
                    _ => counts
                        .get(cause as usize)
                        .map_or(0, |&count| u64::from(count)),
                });
                table.n_at_risk.push(*left as f64);
                table.n_events.push(of_cause as f64);
                table.n_other.push((of_any - of_cause) as f64);
                *left -= leaving(counts);
            }
        }
        Some(table)
    }

    /// The counts of one time after the other: at risk, events, other events, each by group.
    pub(super) fn times(&self) -> impl Iterator<Item = GroupCounts<'_>> {
        self.n_at_risk
            .chunks(self.n_groups)
            .zip(self.n_events.chunks(self.n_groups))
            .zip(self.n_other.chunks(self.n_groups))
            .map(|((n_at_risk, n_events), n_other)| GroupCounts {
                n_at_risk,
                n_events,
                n_other,
            })
    }
}

/// Counts by group at one time.
#[derive(Clone, Copy)]
pub(super) struct GroupCounts<'table> {
    pub(super) n_at_risk: &'table [f64],
    pub(super) n_events: &'table [f64],
    pub(super) n_other: &'table [f64],
}
