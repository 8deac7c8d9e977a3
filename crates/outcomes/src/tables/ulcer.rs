//! Ulcer observations: one ulcer as seen at one visit.

use super::{Dated, NameId, PatientKey, SourceRow};
use crate::coded;
use chrono::NaiveDate;

coded! {
    /// Which leg or foot.
    pub enum Side { Left = "left", Right = "right" }
}

impl Side {
    /// The other one.
    pub const fn other(self) -> Self {
        match self {
            Self::Left => Self::Right,
            Self::Right => Self::Left,
        }
    }
}

coded! {
    /// Part of the foot.
    pub enum Region {
        /// A toe.
        Toe = "toe",
        /// Under or over a metatarsal head.
        MetatarsalHead = "mth",
        /// Forefoot, not further specified.
        Forefoot = "forefoot",
        /// Midfoot.
        Midfoot = "midfoot",
        /// Heel.
        Heel = "heel",
        /// Hindfoot other than the heel.
        Hindfoot = "hindfoot",
        /// Amputation stump on the foot.
        Stump = "stump",
        /// Above the foot: not a foot ulcer.
        AboveFoot = "above-foot",
    }
}

coded! {
    /// Surface of the foot.
    pub enum Aspect { Plantar = "plantar", Dorsal = "dorsal", Medial = "medial", Lateral = "lateral", Tip = "tip" }
}

/// Where on a foot an ulcer is. Two ulcers are at the same site when side and site are equal.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct FootSite {
    /// Part of the foot.
    pub region: Region,
    /// Ray 1 (great toe) to 5; 0 where it does not apply or is not recorded.
    pub ray: u8,
    /// Surface.
    pub aspect: Option<Aspect>,
}

impl FootSite {
    /// Reads our spelling: `region[-ray][-aspect]`, for example `toe-1-plantar`, `mth-5`, `heel-lateral`, `above-foot`.
    pub fn from_code(code: &str) -> Option<Self> {
        let region = Region::ALL.iter().copied().find(|region| {
            code.strip_prefix(region.code())
                .is_some_and(|rest| rest.is_empty() || rest.starts_with('-'))
        })?;
        let mut site = Self {
            region,
            ray: 0,
            aspect: None,
        };
        let has_rays = matches!(region, Region::Toe | Region::MetatarsalHead);
        for part in code[region.code().len()..].split('-').skip(1) {
            match part.parse::<u8>() {
                Ok(ray)
                    if has_rays
                        && (1..=5).contains(&ray)
                        && site.ray == 0
                        && site.aspect.is_none() =>
                {
                    site.ray = ray
                }
                Ok(_) => return None,
                Err(_) if site.aspect.is_none() => site.aspect = Some(Aspect::from_code(part)?),
                Err(_) => return None,
            }
        }
        Some(site)
    }

    /// Our spelling of this site; [`FootSite::from_code`] reads it back.
    pub fn code(self) -> String {
        let mut code = self.region.code().to_owned();
        if self.ray > 0 {
            code.push('-');
            code.push(char::from(b'0' + self.ray));
        }
        if let Some(aspect) = self.aspect {
            code.push('-');
            code.push_str(aspect.code());
        }
        code
    }
}

coded! {
    /// How exactly a date is known.
    pub enum DatePrecision { Day = "day", Week = "week", Month = "month", Year = "year" }
}

/// When an ulcer began, as told by the patient.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Onset {
    /// First day of the stated day, week, month or year.
    pub dated: Dated,
    /// How exactly it is known.
    pub precision: DatePrecision,
}

coded! {
    /// How an ulcer came to this clinic.
    pub enum Origin {
        /// First treated here.
        New = "new",
        /// Already under treatment elsewhere.
        TransferredIn = "transferred-in",
        /// A surgical wound, not an ulcer; counted apart.
        PostSurgical = "post-surgical",
    }
}

coded! {
    /// Deepest tissue reached.
    pub enum TissueDepth {
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

coded! {
    /// Extent of gangrene.
    pub enum Gangrene { Absent = "none", Digits = "digits", Extensive = "extensive" }
}

coded! {
    /// Infection by the IDSA/IWGDF grades.
    pub enum InfectionGrade { Uninfected = "none", Mild = "mild", Moderate = "moderate", Severe = "severe" }
}

coded! {
    /// State of the lesion as seen.
    pub enum UlcerState {
        /// A pre-ulcerative lesion: not an ulcer.
        PreUlcerative = "pre-ulcerative",
        /// Open.
        Open = "open",
        /// Fully covered by skin, no drainage.
        Closed = "closed",
        /// Removed by surgery.
        Excised = "excised",
    }
}

coded! {
    /// Who saw the state.
    pub enum SeenBy { Clinician = "clinician", HomeNurse = "home-nurse", Patient = "patient", Photograph = "photograph" }
}

coded! {
    /// Who changes the dressing at home.
    pub enum DressingCarer { Patient = "patient", Family = "family", HomeNurse = "home-nurse", Clinic = "clinic" }
}

/// One ulcer as seen at one visit.
#[derive(Debug, Clone, PartialEq)]
pub struct UlcerObservation {
    /// Who.
    pub patient: PatientKey,
    /// When.
    pub date: NaiveDate,
    /// Which foot.
    pub side: Side,
    /// The export's own label of this lesion; stable over visits, unique within a person and side.
    pub label: NameId,
    /// Where on the foot.
    pub site: Option<FootSite>,
    /// Onset as told.
    pub onset: Option<Onset>,
    /// How it came here.
    pub origin: Option<Origin>,
    /// Label of the lesion this one split from, on the same side.
    pub parent: Option<NameId>,
    /// Label of the lesion this one has merged into, on the same side.
    pub merged_into: Option<NameId>,
    /// Greatest length, cm.
    pub length_cm: Option<f32>,
    /// Width at a right angle to the length, cm.
    pub width_cm: Option<f32>,
    /// Depth, cm.
    pub depth_cm: Option<f32>,
    /// Area as recorded (tracing, photograph), square cm.
    pub area_cm2: Option<f32>,
    /// Measured after debridement.
    pub is_after_debridement: Option<bool>,
    /// Deepest tissue.
    pub tissue_depth: Option<TissueDepth>,
    /// Gangrene.
    pub gangrene: Option<Gangrene>,
    /// Infection.
    pub infection: Option<InfectionGrade>,
    /// Probe-to-bone test positive.
    pub probe_to_bone: Option<bool>,
    /// Osteomyelitis.
    pub osteomyelitis: Option<bool>,
    /// State; a row without it tells nothing about open or closed.
    pub state: Option<UlcerState>,
    /// Who saw it; a row without the field was seen by a clinician.
    pub seen_by: SeenBy,
    /// Debrided at this visit.
    pub debrided: Option<bool>,
    /// Swab or tissue sent for culture.
    pub cultured: Option<bool>,
    /// Antibiotic started or continued.
    pub antibiotic: Option<bool>,
    /// Offloading prescribed.
    pub offloading_prescribed: Option<bool>,
    /// Offloading dispensed.
    pub offloading_dispensed: Option<bool>,
    /// Dressing present on arrival.
    pub dressing_on_arrival: Option<bool>,
    /// Who changes the dressing.
    pub dressing_carer: Option<DressingCarer>,
    /// The row.
    pub source: SourceRow,
}

impl UlcerObservation {
    /// An observation of which only who, when, side and label are known.
    pub fn new(
        patient: PatientKey,
        date: NaiveDate,
        side: Side,
        label: NameId,
        source: SourceRow,
    ) -> Self {
        Self {
            patient,
            date,
            side,
            label,
            site: None,
            onset: None,
            origin: None,
            parent: None,
            merged_into: None,
            length_cm: None,
            width_cm: None,
            depth_cm: None,
            area_cm2: None,
            is_after_debridement: None,
            tissue_depth: None,
            gangrene: None,
            infection: None,
            probe_to_bone: None,
            osteomyelitis: None,
            state: None,
            seen_by: SeenBy::Clinician,
            debrided: None,
            cultured: None,
            antibiotic: None,
            offloading_prescribed: None,
            offloading_dispensed: None,
            dressing_on_arrival: None,
            dressing_carer: None,
            source,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_site_code_reads_back_as_itself() {
        for code in [
            "toe-1-plantar",
            "mth-5",
            "heel-lateral",
            "heel",
            "midfoot-plantar",
            "above-foot",
            "toe-3-tip",
            "stump",
        ] {
            assert_eq!(
                FootSite::from_code(code).map(FootSite::code).as_deref(),
                Some(code)
            );
        }
    }

    #[test]
    fn a_site_code_that_names_no_place_is_refused() {
        for code in [
            "",
            "toe-6",
            "heel-2",
            "toe-1-1",
            "toe-plantar-1",
            "knee",
            "toes",
            "toe-1-plantar-dorsal",
        ] {
            assert_eq!(FootSite::from_code(code), None, "{code}");
        }
    }
}
