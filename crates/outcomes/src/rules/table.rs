//! The rules table: what decides the numbers of each measure.

use crate::coded;
use serde::Serialize;

coded! {
    /// Something that can happen to an ulcer, a person or a limb and that a measure may time.
    ///
    /// The order of declaration is the order of things that happen on the same day
    /// (steps of the vascular pathway, major amputation, minor amputation, healed, death, a new ulcer).
    pub enum Outcome {
        /// Bedside vascular screen. What is asked for or done on a day comes before what ends on it.
        BedsideScreen = "bedside vascular screen",
        /// Physiologic vascular study.
        PhysiologicStudy = "physiologic vascular study",
        /// Vascular imaging.
        VascularImaging = "vascular imaging",
        /// Referral to a vascular service.
        VascularReferral = "vascular referral",
        /// Seen by a vascular service.
        VascularSeen = "seen by a vascular service",
        /// Revascularisation of that leg.
        Revascularisation = "revascularisation",
        /// Amputation above the ankle of that limb.
        MajorAmputation = "major amputation of that limb",
        /// Amputation of that lesion, through or below the ankle.
        MinorAmputation = "minor amputation of that lesion",
        /// A further amputation of a limb, stages of one operation aside.
        RepeatAmputation = "another amputation of that limb",
        /// First closed visit, not cancelled by a reopening.
        Healed = "healed",
        /// Healed and confirmed at a second visit.
        HealedConfirmed = "healed, confirmed at a second visit",
        /// Healed, or removed by a minor amputation whose wound has closed.
        WoundClosed = "healed, or the wound of its minor amputation closed",
        /// Every ulcer of a person-episode healed.
        AllHealed = "every ulcer of the person-episode healed",
        /// Every wound of that limb closed.
        LimbHealed = "every wound of that limb closed",
        /// Death.
        Death = "death",
        /// Amputation above the ankle of the second leg.
        BothLimbsLost = "both legs lost above the ankle",
        /// A new ulcer, any site, either foot.
        NewUlcer = "new ulcer, any site, either foot",
        /// A first new ulcer at a site that had one.
        NewUlcerSameSite = "first new ulcer at the same site",
        /// A first new ulcer elsewhere on a foot that had one.
        NewUlcerSameFoot = "first new ulcer elsewhere on the same foot",
        /// A first new ulcer on the foot that had none.
        NewUlcerOtherFoot = "first new ulcer on the other foot",
    }
}

impl Outcome {
    /// What it is where this is counted. The code speaks of a lesion; of a limb and of a person every lesion's counts.
    pub(crate) fn words_of(self, unit: UnitOfAnalysis) -> &'static str {
        match (self, unit) {
            (Self::MinorAmputation, UnitOfAnalysis::Limb | UnitOfAnalysis::Amputation) => {
                "minor amputation of that limb"
            }
            (Self::MinorAmputation, UnitOfAnalysis::PersonEpisode | UnitOfAnalysis::Person) => {
                "minor amputation of any of its lesions"
            }
            (Self::MajorAmputation, UnitOfAnalysis::PersonEpisode | UnitOfAnalysis::Person) => {
                "major amputation of any of its limbs"
            }
            _ => self.code(),
        }
    }
}

coded! {
    /// What is counted.
    pub enum UnitOfAnalysis {
        Ulcer = "ulcer",
        PersonEpisode = "person-episode",
        Person = "person",
        Limb = "limb",
        Amputation = "amputation",
        Attendance = "attendance",
        Examination = "examination of a foot",
        Gap = "gap between two visits",
    }
}

coded! {
    /// Where follow-up ends when nothing happened.
    pub enum Censoring {
        /// At the last visit where that ulcer's state was known.
        LastStateKnown = "last visit where the ulcer's state was known",
        /// At the last examination of the feet.
        LastFootExam = "last foot examination",
        /// At the last day to which deaths and procedures are known, for everybody.
        LimbsKnownTo = "last day to which deaths and hospital procedures are known",
        /// At the last kept visit.
        LastVisit = "last kept visit",
        /// There is no follow-up: a status or a count.
        Nothing = "none: a status or a count",
    }
}

coded! {
    /// When the outcome counts as known.
    pub enum KnownRule {
        /// Censoring stands for what is unknown; bounds are given beside the estimate.
        Censored = "unknown outcomes are censored; bounds beside the estimate",
        /// The last examination ends what is known; a gap before the horizon is the rule, not the exception.
        CensoredAtExam = "followed to the last examination and censored there; bounds beside the estimate",
        /// Only known outcomes are counted; bounds are given beside the proportion.
        KnownOnly = "a proportion of known outcomes; bounds beside it",
        /// As far as the practice was told.
        AsTold = "as known to this practice",
    }
}

/// One row of the rules table: what decides a measure's numbers. The code that builds follow-up times reads it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Rule {
    /// What is counted.
    pub unit: UnitOfAnalysis,
    /// Where the clock starts, in words.
    pub clock: &'static str,
    /// Day of entry into the risk set; 0 means from the start, day-0 events included.
    pub entry_day: i64,
    /// What is timed or counted.
    pub event: &'static [Outcome],
    /// What makes the event impossible.
    pub competing: &'static [Outcome],
    /// Where follow-up ends when nothing happened.
    pub censoring: Censoring,
    /// When the outcome counts as known.
    pub known: KnownRule,
    /// Last day read from the clock's start, evidence days not included.
    pub horizon_days: i64,
}
