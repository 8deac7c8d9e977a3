//! The event times of every stratum, numbered once and for all passes.

use std::ops::Range;

/// Each stratum has a first slot before all its event times and one slot for each of them, ascending. A sum kept by slot,
/// 0 in the first, read at a row's exit less at its entry, is the sum over the event times the row was at risk for.
#[derive(Debug, Clone)]
pub(crate) struct Slots {
    /// First slot of each stratum, and the number of slots at the end.
    bounds: Vec<usize>,
    /// Step of each event time; unused in first slots.
    pub(crate) step: Vec<u32>,
    /// By position: slot of the last event time at or before the exit.
    pub(crate) exit: Vec<u32>,
    /// By position: slot of the last event time before the row was at risk.
    pub(crate) entry: Vec<u32>,
}

impl Slots {
    /// `strata` gives the first position of each stratum and the number of positions; steps are by position.
    pub(crate) fn of(
        strata: &[usize],
        exit_step: &[u32],
        entry_step: Option<&[u32]>,
        is_event: &[bool],
    ) -> Slots {
        let mut slots = Slots {
            bounds: Vec::new(),
            step: Vec::new(),
            exit: Vec::with_capacity(exit_step.len()),
            entry: Vec::new(),
        };
        for pair in strata.windows(2) {
            let base = slots.step.len();
            slots.bounds.push(base);
            slots.step.push(0);
            let mut begin = pair[0];
            while begin < pair[1] {
                let step = exit_step[begin];
                let n_tied = exit_step[begin..pair[1]]
                    .iter()
                    .take_while(|&&other| other == step)
                    .count();
                if is_event[begin..begin + n_tied].contains(&true) {
                    slots.step.push(step);
                }
                slots
                    .exit
                    .resize(begin + n_tied, slots.step.len() as u32 - 1);
                begin += n_tied;
            }
            match entry_step {
                None => slots.entry.resize(pair[1], base as u32),
                Some(entry_step) => {
                    let events = &slots.step[base + 1..];
                    let slot_of =
                        |entry: &u32| (base + events.partition_point(|step| step < entry)) as u32;
                    slots
                        .entry
                        .extend(entry_step[pair[0]..pair[1]].iter().map(slot_of));
                }
            }
        }
        slots.bounds.push(slots.step.len());
        slots
    }

    pub(crate) fn len(&self) -> usize {
        self.step.len()
    }

    /// Slots of the event times of a stratum.
    pub(crate) fn events(&self, stratum: usize) -> Range<usize> {
        self.bounds[stratum] + 1..self.bounds[stratum + 1]
    }

    /// Slot of the last event time of a stratum, its first slot when it has none.
    pub(crate) fn last(&self, stratum: usize) -> usize {
        self.bounds[stratum + 1] - 1
    }

    /// Turns steps by slot into sums from the first slot of each stratum, `width` values a slot.
    pub(crate) fn accumulate(&self, values: &mut [f64], width: usize) {
        for pair in self.bounds.windows(2) {
            for index in (pair[0] + 1) * width..pair[1] * width {
                values[index] += values[index - width];
            }
        }
    }
}
