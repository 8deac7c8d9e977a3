//! Events of a person: steps of care, amputations, transfers, death.

use super::{NameId, PatientKey, Side, SourceRow};
use crate::coded;
use chrono::NaiveDate;

coded! {
    /// Through or below the ankle joint (minor), or above it (major).
    /// Source: IWGDF definitions and criteria 2023 (Diabetes Metab Res Rev 2024;40(3):e3654), wording from memory.
    pub enum AmputationLevel { Minor = "minor", Major = "major" }
}

coded! {
    /// What happened.
    pub enum EventKind {
        /// Bedside vascular screen (hand-held Doppler, palpation protocol).
        BedsideScreen = "bedside-vascular-screen",
        /// Physiologic study (segmental pressures, toe pressure in a laboratory).
        PhysiologicStudy = "physiologic-study",
        /// Vascular imaging (duplex, angiography).
        VascularImaging = "vascular-imaging",
        /// Referral to a vascular service.
        VascularReferral = "vascular-referral",
        /// Seen by the vascular service.
        VascularSeen = "vascular-seen",
        /// Revascularisation, open or endovascular.
        Revascularisation = "revascularisation",
        /// Minor amputation.
        MinorAmputation = "minor-amputation",
        /// Major amputation.
        MajorAmputation = "major-amputation",
        /// Admission to hospital.
        Admission = "admission",
        /// Footwear supplied.
        FootwearSupplied = "footwear-supplied",
        /// Offloading device supplied.
        OffloadingSupplied = "offloading-supplied",
        /// Care transferred to another service.
        TransferOut = "transfer-out",
        /// Death.
        Death = "death",
    }
}

/// One event of one person.
#[derive(Debug, Clone, PartialEq)]
pub struct Event {
    /// Who.
    pub patient: PatientKey,
    /// When.
    pub date: NaiveDate,
    /// What.
    pub kind: EventKind,
    /// Which leg; `None` when it has none or it is not recorded.
    pub side: Option<Side>,
    /// The ulcer it removed or concerned, where the export says so.
    pub ulcer_label: Option<NameId>,
    /// Coded as a planned stage or closure of an earlier procedure.
    pub is_staged: bool,
    /// Anatomical height, where recorded.
    pub height: Option<AmputationHeight>,
    /// The row.
    pub source: SourceRow,
}

coded! {
    /// How high on the leg, lowest first; the order is used for "higher level" (repeat amputation).
    pub enum AmputationHeight {
        /// Toe or part of it.
        Toe = "toe",
        /// Toe with part of its metatarsal.
        Ray = "ray",
        /// Across the metatarsals.
        Transmetatarsal = "transmetatarsal",
        /// Midtarsal or hindfoot.
        Midfoot = "midfoot",
        /// Through the ankle joint; minor by the IWGDF definition.
        Ankle = "ankle",
        /// Below the knee.
        BelowKnee = "below-knee",
        /// Through the knee.
        Knee = "knee",
        /// Above the knee.
        AboveKnee = "above-knee",
        /// Hip or higher.
        Hip = "hip",
    }
}

impl AmputationHeight {
    /// Minor up to and through the ankle, major above it.
    pub fn level(self) -> AmputationLevel {
        if self <= Self::Ankle {
            AmputationLevel::Minor
        } else {
            AmputationLevel::Major
        }
    }
}
