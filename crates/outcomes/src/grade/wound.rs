//! How deep a wound goes and how far gangrene reaches.

use crate::coded;
use crate::tables::{Gangrene, TissueDepth};

coded! {
    /// Deepest tissue a lesion reaches, or none.
    pub enum LesionDepth {
        /// Skin intact: not yet, or no longer, an ulcer.
        Intact = "intact",
        /// Within the skin.
        Skin = "skin",
        /// Subcutaneous tissue.
        Subcutaneous = "subcutaneous",
        /// Tendon, muscle or capsule.
        TendonOrMuscle = "tendon-or-muscle",
        /// Bone or joint.
        BoneOrJoint = "bone-or-joint",
    }
}

impl LesionDepth {
    /// The same as recorded of an ulcer; `None` when there is no ulcer.
    pub const fn tissue(self) -> Option<TissueDepth> {
        match self {
            Self::Intact => None,
            Self::Skin => Some(TissueDepth::Skin),
            Self::Subcutaneous => Some(TissueDepth::Subcutaneous),
            Self::TendonOrMuscle => Some(TissueDepth::TendonOrMuscle),
            Self::BoneOrJoint => Some(TissueDepth::BoneOrJoint),
        }
    }
}

coded! {
    /// How far gangrene reaches.
    pub enum GangreneExtent {
        /// None.
        Absent = "none",
        /// Limited to digits.
        Digits = "digits",
        /// Of the forefoot, beyond the digits.
        Forefoot = "forefoot",
        /// Of the heel.
        Heel = "heel",
        /// Extensive, of forefoot or midfoot.
        Extensive = "extensive",
        /// The whole foot.
        WholeFoot = "whole-foot",
    }
}

impl GangreneExtent {
    /// The same in the three classes that the wound grade of WIfI asks about.
    pub const fn class(self) -> Gangrene {
        match self {
            Self::Absent => Gangrene::Absent,
            Self::Digits => Gangrene::Digits,
            Self::Forefoot | Self::Heel | Self::Extensive | Self::WholeFoot => Gangrene::Extensive,
        }
    }
}
