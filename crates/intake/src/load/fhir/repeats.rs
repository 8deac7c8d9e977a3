//! Resources that stand in the export more than once.

use super::super::row::RowFault;
use super::part::Part;
use std::collections::HashMap;

/// Resources that stand in the export more than once: the newest counts, of equally new ones the last read.
pub(super) fn repeats(parts: &[Part]) -> Vec<Option<RowFault>> {
    let mut faults: Vec<Option<RowFault>> = vec![None; parts.len()];
    let mut kept: HashMap<&(String, String), usize> = HashMap::new();
    for (position, part) in parts.iter().enumerate() {
        let Some(identity) = &part.identity else {
            continue;
        };
        let Some(earlier_position) = kept.get(identity).copied() else {
            kept.insert(identity, position);
            continue;
        };
        let Some(earlier) = parts.get(earlier_position) else {
            continue;
        };
        let (older, reason) = if earlier.line == part.line {
            let reason = RowFault::new("repeated-row", "the row is identical to an earlier one");
            (position, reason)
        } else {
            let reason = RowFault::new(
                "older-version",
                "the export holds a newer version of the resource",
            );
            if part.last_updated < earlier.last_updated {
                (position, reason)
            } else {
                kept.insert(identity, position);
                (earlier_position, reason)
            }
        };
        if let Some(fault) = faults.get_mut(older) {
            *fault = Some(reason);
        }
    }
    faults
}
