//! The Wagner classification.

use super::{GangreneExtent, LesionDepth, either};

/// What the Wagner classification asks about; `None` is not recorded.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct WagnerItems {
    /// Deepest tissue reached.
    pub depth: Option<LesionDepth>,
    /// Abscess, osteomyelitis or joint sepsis.
    pub deep_infection: Option<bool>,
    /// How far gangrene reaches.
    pub gangrene: Option<GangreneExtent>,
}

/// Every Wagner grade 0 to 5 that the missing items allow, ascending.
///
/// 0: skin intact. 1: superficial (skin and subcutaneous tissue). 2: to tendon, capsule or bone, without abscess,
/// osteomyelitis or joint sepsis. 3: deep with one of them. 4: gangrene of toes or forefoot (of the heel by some authors,
/// counted here). 5: gangrene of the whole foot; "extensive" does not tell 4 from 5.
/// A deep infection in an ulcer recorded as superficial is contradictory and gives 1 or 3. Where only gangrene is
/// unknown, 4 and 5 stay possible.
/// Source: Wagner-Meggitt as printed in BMC Surgery 2021, table 4, and World J Diabetes 2022, table 1.
pub fn wagner_grades(items: &WagnerItems) -> Vec<u8> {
    let mut possible = match items.gangrene {
        Some(GangreneExtent::WholeFoot) => return vec![5],
        Some(GangreneExtent::Extensive) => return vec![4, 5],
        Some(GangreneExtent::Digits | GangreneExtent::Forefoot | GangreneExtent::Heel) => {
            return vec![4];
        }
        Some(GangreneExtent::Absent) => by_depth(items),
        None => {
            let mut possible = by_depth(items);
            possible.extend([4, 5]);
            possible
        }
    };
    possible.sort_unstable();
    possible.dedup();
    possible
}

fn by_depth(items: &WagnerItems) -> Vec<u8> {
    let deep = || {
        either(items.deep_infection)
            .iter()
            .map(|&is_infected| 2 + u8::from(is_infected))
    };
    match (items.depth, items.deep_infection) {
        (Some(LesionDepth::TendonOrMuscle | LesionDepth::BoneOrJoint), _) => deep().collect(),
        (Some(LesionDepth::Skin | LesionDepth::Subcutaneous), Some(true)) => vec![1, 3],
        (Some(LesionDepth::Skin | LesionDepth::Subcutaneous), _) => vec![1],
        (Some(LesionDepth::Intact), Some(true)) => vec![0, 3],
        (Some(LesionDepth::Intact), _) => vec![0],
        (None, Some(true)) => vec![3],
        (None, _) => [0, 1].into_iter().chain(deep()).collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use GangreneExtent::{Absent, Digits, Extensive, Forefoot, Heel, WholeFoot};
    use LesionDepth::{BoneOrJoint, Intact, Skin, Subcutaneous, TendonOrMuscle};

    #[test]
    fn every_grade_has_its_record_and_a_missing_item_leaves_what_it_allows() {
        let none = Some(Absent);
        for (depth, deep_infection, gangrene, wanted) in [
            (Some(Intact), Some(false), none, vec![0]),
            (Some(Skin), Some(false), none, vec![1]),
            (Some(Subcutaneous), None, none, vec![1]),
            (Some(TendonOrMuscle), Some(false), none, vec![2]),
            (Some(BoneOrJoint), Some(false), none, vec![2]),
            (Some(BoneOrJoint), Some(true), none, vec![3]),
            (Some(BoneOrJoint), None, none, vec![2, 3]),
            (Some(Skin), Some(true), none, vec![1, 3]),
            (None, Some(true), none, vec![3]),
            (None, None, none, vec![0, 1, 2, 3]),
            (None, Some(false), none, vec![0, 1, 2]),
            (Some(Skin), Some(false), Some(Digits), vec![4]),
            (None, None, Some(Forefoot), vec![4]),
            (None, None, Some(Heel), vec![4]),
            (None, None, Some(Extensive), vec![4, 5]),
            (Some(Skin), Some(false), Some(WholeFoot), vec![5]),
            (Some(Skin), Some(false), None, vec![1, 4, 5]),
            (None, None, None, vec![0, 1, 2, 3, 4, 5]),
        ] {
            let items = WagnerItems {
                depth,
                deep_infection,
                gangrene,
            };
            assert_eq!(wagner_grades(&items), wanted, "{items:?}");
        }
    }
}
