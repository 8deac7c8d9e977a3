//! How people moved between risk tiers from one quarter's end to the next.

use super::sheets::last_mature_quarter;
use super::{Counted, Material};
use crate::measure::{ClassPlace, Method, Prepared};
use crate::report::words::whole;
use crate::report::{Count, Figure, FigureFrame, Movement, MovementFlow};
use crate::rules::Quarter;
use crate::tables::PatientKey;
use std::collections::BTreeMap;

/// What stands before the quarter in the names of both ends.
pub(crate) const END_OF: &str = "End of ";
const NOT_BEFORE: &str = "not under care before";
const NO_LONGER: &str = "no longer under care";

/// Everybody under care at the last two quarter ends, from class to class. The classes are those of the measure counted, each
/// end as it was known then.
pub(super) fn tier_flows(material: &Material<'_>, counted: &Counted) -> Option<Figure> {
    let Method::Snapshot { classes, .. } = counted.measure.method else {
        return None;
    };
    let Prepared::Classes(quarters) = &*counted.prepared else {
        return None;
    };
    let last = last_mature_quarter(material, counted)?;
    let before = last.back(1);
    let people_at = |quarter: Quarter| {
        let own = quarters.iter().find(|(known, _)| *known == quarter);
        own.map(|(_, people)| people.as_slice())
    };
    let flows = flows(people_at(before)?, people_at(last)?, classes.len());
    let tally = Tally::of(&flows, classes);
    if tally.at_both == 0 {
        return None;
    }
    let with = |more: &str| -> Vec<String> {
        let own = classes.iter().copied().chain([more]);
        own.map(str::to_owned).collect()
    };
    let said = tally.in_words();
    Some(Figure::Movement(Movement {
        frame: FigureFrame {
            id: "tier-movement-flows".to_owned(),
            family: counted.measure.family.to_owned(),
            title: format!("From {before} to {last}: {said}"),
            caption: material.rules.fill(
                "People under care at the end of either quarter, each end as it was known then; a band is as thick as the number of \
                 people in it. These are counts, not estimates. A tier rises when more is found out, too: a first test of sensation can \
                 move a person without the foot having changed. A healed ulcer leaves a person in tier 3. No longer under care means \
                 dead, or not seen for {seen_within_months} months.",
            ),
            alt: format!(
                "Two columns of risk tiers with bands between them, {before} on the left and {last} on the right. Of those \
                 under care at both ends, {said}. {} came under care and {} left it.",
                whole(tally.came),
                whole(tally.left)
            ),
        },
        from: format!("{END_OF}{before}"),
        to: format!("{END_OF}{last}"),
        from_classes: with(NOT_BEFORE),
        to_classes: with(NO_LONGER),
        flows,
    }))
}

/// Flows that somebody is in, in the order of the classes; those who came or left stand behind the classes.
fn flows(
    starts: &[(PatientKey, ClassPlace)],
    ends: &[(PatientKey, ClassPlace)],
    n_classes: usize,
) -> Vec<MovementFlow> {
    let mut of_person: BTreeMap<PatientKey, [usize; 2]> = BTreeMap::new();
    for (place, people) in [starts, ends].into_iter().enumerate() {
        for (person, class) in people {
            let ends = of_person.entry(*person).or_insert([n_classes; 2]);
            if let Some(end) = ends.get_mut(place) {
                *end = usize::from(*class);
            }
        }
    }
    let mut counts: BTreeMap<[usize; 2], u64> = BTreeMap::new();
    for ends in of_person.into_values() {
        *counts.entry(ends).or_default() += 1;
    }
    counts
        .into_iter()
        .map(|([from, to], n)| MovementFlow {
            from,
            to,
            n: Count::Shown(n),
        })
        .collect()
}

/// What the flows come to.
#[derive(Debug, Default, PartialEq, Eq)]
struct Tally {
    at_both: u64,
    up: u64,
    down: u64,
    opened: u64,
    closed: u64,
    came: u64,
    left: u64,
}

impl Tally {
    fn of(flows: &[MovementFlow], classes: &[&str]) -> Self {
        let place = |name: &str| classes.iter().position(|class| *class == name);
        let (active, unknown) = (place("active ulcer"), place("not gradable"));
        let mut tally = Self::default();
        for flow in flows {
            let Count::Shown(n) = flow.n else { continue };
            let (from, to) = (flow.from, flow.to);
            if from >= classes.len() {
                tally.came += n;
                continue;
            }
            if to >= classes.len() {
                tally.left += n;
                continue;
            }
            tally.at_both += n;
            let is_unknown = [Some(from), Some(to)].contains(&unknown);
            let (was_open, is_open) = (Some(from) == active, Some(to) == active);
            match (was_open, is_open) {
                _ if is_unknown || from == to => {}
                (false, true) => tally.opened += n,
                (true, false) => tally.closed += n,
                _ if to > from => tally.up += n,
                _ => tally.down += n,
            }
        }
        tally
    }

    fn in_words(&self) -> String {
        format!(
            "{} of {} people rose to a higher tier, {} fell to a lower one, {} came to have an open wound and {} had theirs closed",
            whole(self.up),
            whole(self.at_both),
            whole(self.down),
            whole(self.opened),
            whole(self.closed)
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const CLASSES: [&str; 6] = [
        "tier 0",
        "tier 1",
        "tier 2",
        "tier 3",
        "active ulcer",
        "not gradable",
    ];

    fn at(classes: &[(u32, ClassPlace)]) -> Vec<(PatientKey, ClassPlace)> {
        classes
            .iter()
            .map(|(person, class)| (PatientKey(*person), *class))
            .collect()
    }

    #[test]
    fn everybody_at_either_end_is_in_one_flow() {
        // person 1 rises, 2 falls, 3 opens a wound, 4 closes one, 5 stays, 6 becomes known, 7 leaves, 8 and 9 come
        let starts = at(&[(1, 0), (2, 3), (3, 3), (4, 4), (5, 2), (6, 5), (7, 0)]);
        let ends = at(&[
            (1, 1),
            (2, 2),
            (3, 4),
            (4, 3),
            (5, 2),
            (6, 1),
            (8, 4),
            (9, 4),
        ]);
        let flows = flows(&starts, &ends, CLASSES.len());
        let of = |from: usize, to: usize| {
            let found = flows.iter().find(|flow| (flow.from, flow.to) == (from, to));
            found.map(|flow| flow.n)
        };
        assert_eq!(of(6, 4), Some(Count::Shown(2)), "two came with a wound");
        assert_eq!(of(0, 6), Some(Count::Shown(1)), "one left");
        assert_eq!(of(2, 3), None, "nobody");
        assert_eq!(
            Tally::of(&flows, &CLASSES),
            Tally {
                at_both: 6,
                up: 1,
                down: 1,
                opened: 1,
                closed: 1,
                came: 2,
                left: 1
            }
        );
    }
}
