//! The coded words of an export, each with our own spelling and the invented clinic's code.

macro_rules! words {
    ($($(#[$meta:meta])* $name:ident { $($variant:ident = $ours:literal / $clinic:literal),+ $(,)? })+) => {$(
        $(#[$meta])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        #[allow(missing_docs, reason = "each variant says what its spelling says")]
        pub(crate) enum $name { $($variant),+ }

        impl $name {
            /// Our spelling, used by the long export and the truth files.
            pub(crate) const fn ours(self) -> &'static str {
                match self { $(Self::$variant => $ours),+ }
            }

            /// The clinic's code, used by the wide export.
            pub(crate) const fn clinic(self) -> &'static str {
                match self { $(Self::$variant => $clinic),+ }
            }
        }
    )+};
}

words! {
    /// Which foot.
    Side { Left = "left" / "L", Right = "right" / "R" }
    /// Sex.
    Sex { Female = "female" / "F", Male = "male" / "M", Other = "other" / "X" }
    /// Diabetes type.
    Diabetes { Type1 = "type-1" / "T1", Type2 = "type-2" / "T2", Other = "other" / "OTH" }
    /// Smoking: the clinic keeps three codes, of which one is a current smoker.
    Smoking { Current = "yes" / "C", Former = "no" / "E", Never = "no" / "N" }
    /// Who sent the patient.
    ReferralSource { GeneralPractice = "general-practice" / "GP", Hospital = "hospital" / "HOSP", Nurse = "community-nurse" / "CN", Own = "self" / "SELF" }
    /// Whether an appointment took place; an administrative row is no appointment.
    Attendance { Kept = "kept" / "ATT", Missed = "missed" / "DNA", Cancelled = "cancelled" / "CNX", Administrative = "administrative" / "ADM" }
    /// Where the patient was seen.
    Setting { Clinic = "clinic" / "CL", Home = "home" / "HV", Remote = "remote" / "TEL" }
    /// Role of the clinician.
    Role { Podiatrist = "podiatrist" / "POD", Nurse = "nurse" / "NUR" }
    /// Protective sensation.
    Sensation { Intact = "intact" / "1", Lost = "lost" / "0" }
    /// Pedal pulses by palpation.
    Pulses { Palpable = "palpable" / "Y", Absent = "absent" / "N" }
    /// Doppler waveform.
    Waveform { Triphasic = "triphasic" / "TRI", Biphasic = "biphasic" / "BI", Monophasic = "monophasic" / "MONO", Absent = "absent" / "NIL" }
    /// Height class of an amputation; as history also that there was none.
    Level { Minor = "minor" / "MIN", Major = "major" / "MAJ" }
    /// Anatomical height of an amputation, lowest first.
    Height { Toe = "toe" / "TOE", Ray = "ray" / "RAY", Transmetatarsal = "transmetatarsal" / "TMA", BelowKnee = "below-knee" / "BKA", AboveKnee = "above-knee" / "AKA" }
    /// How exactly an onset is known.
    Precision { Day = "day" / "D", Week = "week" / "W", Month = "month" / "M" }
    /// How an ulcer came here.
    Origin { New = "new" / "N", TransferredIn = "transferred-in" / "T", PostSurgical = "post-surgical" / "S" }
    /// Deepest tissue reached.
    Tissue { Skin = "skin" / "SK", Subcutaneous = "subcutaneous" / "SC", TendonOrMuscle = "tendon-or-muscle" / "TM", BoneOrJoint = "bone-or-joint" / "BJ" }
    /// Extent of gangrene.
    Gangrene { Absent = "none" / "0", Digits = "digits" / "1", Extensive = "extensive" / "2" }
    /// Infection grade.
    Infection { Uninfected = "none" / "0", Mild = "mild" / "1", Moderate = "moderate" / "2", Severe = "severe" / "3" }
    /// State of a lesion as recorded.
    SeenState { PreUlcerative = "pre-ulcerative" / "P", Open = "open" / "O", Closed = "closed" / "C", Excised = "excised" / "X" }
    /// Who saw the state.
    SeenBy { Clinician = "clinician" / "CLN", Patient = "patient" / "PT", Photograph = "photograph" / "PH" }
    /// Who changes the dressing.
    Carer { Patient = "patient" / "PT", Family = "family" / "FAM", HomeNurse = "home-nurse" / "HN", Clinic = "clinic" / "CL" }
    /// What happened.
    Kind {
        BedsideScreen = "bedside-vascular-screen" / "SCR",
        PhysiologicStudy = "physiologic-study" / "PHY",
        VascularImaging = "vascular-imaging" / "IMG",
        VascularReferral = "vascular-referral" / "VREF",
        VascularSeen = "vascular-seen" / "VSEEN",
        Revascularisation = "revascularisation" / "REVASC",
        MinorAmputation = "minor-amputation" / "AMIN",
        MajorAmputation = "major-amputation" / "AMAJ",
        Admission = "admission" / "ADMIT",
        FootwearSupplied = "footwear-supplied" / "SHOE",
        OffloadingSupplied = "offloading-supplied" / "OFFL",
        TransferOut = "transfer-out" / "TROUT",
        Death = "death" / "RIP",
    }
}

/// Where a new ulcer appears, seen from the last one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Place {
    First,
    SameSite,
    SameFoot,
    OtherFoot,
}

impl Place {
    /// Spelling in the truth files.
    pub(crate) const fn ours(self) -> &'static str {
        match self {
            Self::First => "first",
            Self::SameSite => "same-site",
            Self::SameFoot => "same-foot",
            Self::OtherFoot => "other-foot",
        }
    }
}

impl Side {
    /// Both, left first.
    pub(crate) const ALL: [Self; 2] = [Self::Left, Self::Right];

    /// The other foot.
    pub(crate) const fn other(self) -> Self {
        match self {
            Self::Left => Self::Right,
            Self::Right => Self::Left,
        }
    }
}

impl Kind {
    /// Major or minor, for amputations.
    pub(crate) const fn level(self) -> Option<Level> {
        match self {
            Self::MinorAmputation => Some(Level::Minor),
            Self::MajorAmputation => Some(Level::Major),
            _ => None,
        }
    }
}

/// A place on the foot an ulcer can take.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Site {
    /// The clinic's code, region and aspect in one cell.
    pub clinic: &'static str,
    /// Our spelling.
    pub ours: &'static str,
    /// How often ulcers appear here, relative to the other sites.
    pub weight: f64,
    /// Can be removed by a minor amputation.
    pub is_forefoot: bool,
}

const fn site(clinic: &'static str, ours: &'static str, weight: f64, is_forefoot: bool) -> Site {
    Site {
        clinic,
        ours,
        weight,
        is_forefoot,
    }
}

/// Every site the generator uses; the last is the stump of a minor amputation. Weights are invented.
pub const SITES: &[Site] = &[
    site("HX-P", "toe-1-plantar", 12.0, true),
    site("HX-T", "toe-1-tip", 6.0, true),
    site("HX-D", "toe-1-dorsal", 3.0, true),
    site("HX-M", "toe-1-medial", 3.0, true),
    site("T2-T", "toe-2-tip", 5.0, true),
    site("T2-D", "toe-2-dorsal", 4.0, true),
    site("T3-T", "toe-3-tip", 4.0, true),
    site("T3-D", "toe-3-dorsal", 2.0, true),
    site("T4-T", "toe-4-tip", 2.0, true),
    site("T4-D", "toe-4-dorsal", 2.0, true),
    site("T5-D", "toe-5-dorsal", 2.0, true),
    site("T5-L", "toe-5-lateral", 4.0, true),
    site("MT1-P", "mth-1-plantar", 12.0, true),
    site("MT2-P", "mth-2-plantar", 6.0, true),
    site("MT3-P", "mth-3-plantar", 6.0, true),
    site("MT4-P", "mth-4-plantar", 3.0, true),
    site("MT5-P", "mth-5-plantar", 8.0, true),
    site("MT5-L", "mth-5-lateral", 3.0, true),
    site("MID-P", "midfoot-plantar", 5.0, false),
    site("MID-M", "midfoot-medial", 1.0, false),
    site("MID-L", "midfoot-lateral", 1.0, false),
    site("HEEL-P", "heel-plantar", 4.0, false),
    site("HEEL-L", "heel-lateral", 3.0, false),
    site("HEEL-M", "heel-medial", 2.0, false),
    site("HIND-L", "hindfoot-lateral", 1.0, false),
    site("ST", "stump", 0.0, false),
];

/// Position of the stump in [`SITES`].
pub(crate) const STUMP: usize = SITES.len() - 1;

impl Site {
    /// Whether the ulcer bears weight when the patient stands.
    pub(crate) fn is_plantar(&self) -> bool {
        self.ours.ends_with("-plantar")
    }
}
