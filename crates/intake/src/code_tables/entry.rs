//! One line of a table of published codes, and what it may mean.

use chrono::NaiveDate;
use outcomes::coded;
use outcomes::tables::{
    AmputationHeight, AmputationLevel, DiabetesType, EventKind, Side, TissueDepth,
};

coded! {
    /// What a code means here.
    pub enum Meaning {
        /// A minor amputation.
        MinorAmputation = "minor-amputation",
        /// A major amputation.
        MajorAmputation = "major-amputation",
        /// A planned stage, closure or revision of an amputation: never counted beside it.
        AmputationStage = "amputation-stage",
        /// Revascularisation.
        Revascularisation = "revascularisation",
        /// Physiologic study of leg arteries.
        PhysiologicStudy = "physiologic-study",
        /// Imaging of leg arteries.
        VascularImaging = "vascular-imaging",
        /// An offloading device put on or supplied.
        OffloadingSupplied = "offloading-supplied",
        /// Debridement of a wound.
        Debridement = "debridement",
        /// A foot ulcer.
        FootUlcer = "foot-ulcer",
        /// Osteomyelitis of ankle or foot.
        Osteomyelitis = "osteomyelitis",
        /// Gangrene.
        Gangrene = "gangrene",
        /// Disease of leg arteries.
        ArterialDisease = "arterial-disease",
        /// Charcot neuro-osteoarthropathy.
        Charcot = "charcot",
        /// Infection of the foot or lower limb.
        Infection = "infection",
        /// Diabetes.
        Diabetes = "diabetes",
        /// End-stage renal disease or dialysis.
        RenalReplacement = "renal-replacement",
        /// Status: a limb part is missing. History, never an event of its day.
        PriorAmputation = "prior-amputation",
        /// Status: had a foot ulcer. History, never an event of its day.
        PriorUlcer = "prior-ulcer",
        /// Known, and of no use here.
        Other = "other",
        /// The rest of a family that the table should cover.
        Family = "family",
    }
}

impl Meaning {
    /// The event that a code of this meaning dates; `None` for diagnoses, history and what is no event.
    pub const fn event(self, level: Option<AmputationLevel>) -> Option<EventKind> {
        match (self, level) {
            (Self::MinorAmputation, _) | (Self::AmputationStage, Some(AmputationLevel::Minor)) => {
                Some(EventKind::MinorAmputation)
            }
            (Self::MajorAmputation | Self::AmputationStage, _) => Some(EventKind::MajorAmputation),
            (Self::Revascularisation, _) => Some(EventKind::Revascularisation),
            (Self::PhysiologicStudy, _) => Some(EventKind::PhysiologicStudy),
            (Self::VascularImaging, _) => Some(EventKind::VascularImaging),
            (Self::OffloadingSupplied, _) => Some(EventKind::OffloadingSupplied),
            _ => None,
        }
    }
}

/// One line of a table.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CodeEntry {
    /// The code in capitals without a dot, or the beginning it shares with others.
    pub code: String,
    /// Stands for every code that begins so.
    pub is_beginning: bool,
    /// First day in force, where it is known or matters.
    pub from: Option<NaiveDate>,
    /// Last day in force, where there is one.
    pub to: Option<NaiveDate>,
    /// What it means here.
    pub meaning: Meaning,
    /// The side it names.
    pub side: Option<Side>,
    /// Anatomical height, for amputations.
    pub height: Option<AmputationHeight>,
    /// Minor or major, for amputations as history.
    pub level: Option<AmputationLevel>,
    /// Deepest tissue, for ulcers.
    pub depth: Option<TissueDepth>,
    /// Type, for diabetes.
    pub diabetes: Option<DiabetesType>,
    /// It in our words.
    pub words: String,
}

impl CodeEntry {
    /// Reads `code,from,to,meaning,side,detail,words`; `None` for a line that is not written so.
    pub(super) fn read(line: &str) -> Option<Self> {
        let cells: Vec<&str> = line.split(',').collect();
        let [code, from, to, meaning, side, detail, words] = cells.as_slice() else {
            return None;
        };
        let (code, is_beginning) = match code.strip_suffix('*') {
            Some(beginning) => (beginning, true),
            None => (*code, false),
        };
        let entry = Self {
            code: code.to_owned(),
            is_beginning,
            from: day(from)?,
            to: day(to)?,
            meaning: Meaning::from_code(meaning)?,
            side: coded(side, Side::from_code)?,
            height: AmputationHeight::from_code(detail),
            level: AmputationLevel::from_code(detail),
            depth: TissueDepth::from_code(detail),
            diabetes: DiabetesType::from_code(detail),
            words: (*words).to_owned(),
        };
        let n_details = usize::from(entry.height.is_some())
            + usize::from(entry.level.is_some())
            + usize::from(entry.depth.is_some())
            + usize::from(entry.diabetes.is_some());
        let is_whole = !code.is_empty() && n_details == usize::from(!detail.is_empty());
        is_whole.then_some(entry)
    }

    pub(super) fn covers(&self, code: &str) -> bool {
        if self.is_beginning {
            code.starts_with(&self.code)
        } else {
            code == self.code
        }
    }

    /// A whole code before any beginning, a longer beginning before a shorter one.
    pub(super) fn rank(&self) -> usize {
        if self.is_beginning {
            self.code.len()
        } else {
            usize::MAX
        }
    }

    /// Whether the code may be used on a day.
    pub fn is_in_force(&self, day: NaiveDate) -> bool {
        self.from.is_none_or(|from| from <= day) && self.to.is_none_or(|to| day <= to)
    }

    /// The event this code dates, with its side and height.
    pub fn event(&self) -> Option<EventKind> {
        self.meaning.event(self.height.map(AmputationHeight::level))
    }
}

/// Nothing for an empty cell; no answer for one that cannot be read.
fn coded<T>(text: &str, read: impl Fn(&str) -> Option<T>) -> Option<Option<T>> {
    if text.is_empty() {
        return Some(None);
    }
    read(text).map(Some)
}

fn day(text: &str) -> Option<Option<NaiveDate>> {
    coded(text, |text| text.parse().ok())
}
