//! The University of Texas classification.

use super::{LesionDepth, either};
use crate::coded;

coded! {
    /// Stage of the University of Texas classification.
    pub enum TexasStage {
        /// Neither infected nor ischaemic.
        Clean = "A",
        /// Infected.
        Infected = "B",
        /// Ischaemic.
        Ischaemic = "C",
        /// Both.
        InfectedAndIschaemic = "D",
    }
}

/// What the University of Texas classification asks about; `None` is not recorded.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct TexasItems {
    /// Deepest tissue reached.
    pub depth: Option<LesionDepth>,
    /// Bone felt with a probe: grade 3 whatever depth was written.
    pub probe_to_bone: Option<bool>,
    /// Infected.
    pub is_infected: Option<bool>,
    /// Ischaemic.
    pub is_ischaemic: Option<bool>,
}

/// Every grade 0 to 3 that the missing items allow, ascending.
///
/// 0: epithelialised, before or after an ulcer. 1: superficial, not to tendon, capsule or bone. 2: to tendon or capsule.
/// 3: to bone or joint. Source: Lavery et al. 1996; Armstrong et al., Diabetes Care 1998;21:855-859.
pub fn texas_grades(items: &TexasItems) -> Vec<u8> {
    match (items.probe_to_bone, items.depth) {
        (Some(true), _) | (_, Some(LesionDepth::BoneOrJoint)) => vec![3],
        (_, Some(LesionDepth::TendonOrMuscle)) => vec![2],
        (_, Some(LesionDepth::Skin | LesionDepth::Subcutaneous)) => vec![1],
        (_, Some(LesionDepth::Intact)) => vec![0],
        (_, None) => vec![0, 1, 2, 3],
    }
}

/// Every stage A to D that the missing items allow, in order. Source: as for [`texas_grades`].
pub fn texas_stages(items: &TexasItems) -> Vec<TexasStage> {
    let mut possible = Vec::new();
    for &is_infected in either(items.is_infected) {
        for &is_ischaemic in either(items.is_ischaemic) {
            possible.push(match (is_infected, is_ischaemic) {
                (false, false) => TexasStage::Clean,
                (true, false) => TexasStage::Infected,
                (false, true) => TexasStage::Ischaemic,
                (true, true) => TexasStage::InfectedAndIschaemic,
            });
        }
    }
    possible.sort_unstable();
    possible
}

#[cfg(test)]
mod tests {
    use super::*;
    use TexasStage::{Clean, Infected, InfectedAndIschaemic, Ischaemic};

    #[test]
    fn all_nine_records_of_infection_and_ischaemia_give_the_stages_they_allow() {
        for (is_infected, is_ischaemic, wanted) in [
            (Some(false), Some(false), vec![Clean]),
            (Some(true), Some(false), vec![Infected]),
            (Some(false), Some(true), vec![Ischaemic]),
            (Some(true), Some(true), vec![InfectedAndIschaemic]),
            (None, Some(false), vec![Clean, Infected]),
            (None, Some(true), vec![Ischaemic, InfectedAndIschaemic]),
            (Some(false), None, vec![Clean, Ischaemic]),
            (Some(true), None, vec![Infected, InfectedAndIschaemic]),
            (
                None,
                None,
                vec![Clean, Infected, Ischaemic, InfectedAndIschaemic],
            ),
        ] {
            let items = TexasItems {
                is_infected,
                is_ischaemic,
                ..TexasItems::default()
            };
            assert_eq!(texas_stages(&items), wanted, "{items:?}");
        }
    }

    #[test]
    fn depth_gives_the_grade_and_bone_under_the_probe_outranks_it() {
        for (depth, probe_to_bone, wanted) in [
            (Some(LesionDepth::Intact), None, vec![0]),
            (Some(LesionDepth::Skin), None, vec![1]),
            (Some(LesionDepth::Subcutaneous), Some(false), vec![1]),
            (Some(LesionDepth::TendonOrMuscle), None, vec![2]),
            (Some(LesionDepth::TendonOrMuscle), Some(true), vec![3]),
            (Some(LesionDepth::BoneOrJoint), Some(false), vec![3]),
            (None, Some(true), vec![3]),
            (None, Some(false), vec![0, 1, 2, 3]),
            (None, None, vec![0, 1, 2, 3]),
        ] {
            let items = TexasItems {
                depth,
                probe_to_bone,
                ..TexasItems::default()
            };
            assert_eq!(texas_grades(&items), wanted, "{items:?}");
        }
    }
}
