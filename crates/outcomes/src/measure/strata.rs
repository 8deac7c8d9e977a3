//! What a measure may be split by.

use super::{Measure, Member};
use crate::coded;
use crate::rules::UnitOfAnalysis;

coded! {
    /// A field of ours by which measures can be split. The set is closed; a layout can add groupings of its own.
    pub enum Stratifier {
        /// Clinic site.
        Site = "site",
        /// Clinician key.
        Clinician = "clinician",
        /// Role of the clinician.
        ClinicianRole = "clinician-role",
        /// Where the person was seen.
        Setting = "setting",
        /// IWGDF risk tier.
        Tier = "tier",
        /// SINBAD score, less than 3 or more.
        Severity = "severity",
        /// Sex.
        Sex = "sex",
        /// Age on the index day.
        AgeBand = "age-band",
        /// Diabetes type.
        DiabetesType = "diabetes-type",
        /// Renal replacement.
        RenalReplacement = "renal-replacement",
        /// Smoking.
        Smoking = "smoking",
        /// Who sent the person.
        ReferralSource = "referral-source",
        /// Which foot.
        Foot = "foot",
        /// Part of the foot.
        Region = "region",
        /// Surface of the foot.
        Surface = "surface",
        /// Deepest tissue reached.
        Depth = "depth",
        /// Foot infection.
        Infection = "infection",
    }
}

const OF_VISIT: &str = "of the kept visit of that day; where there was none, of the newest before";
const OF_ULCER: &str = "of the ulcer at its first visit";

impl Stratifier {
    /// Title of the split.
    pub const fn title(self) -> &'static str {
        match self {
            Self::Site => "By site",
            Self::Clinician => "By clinician",
            Self::ClinicianRole => "By role of the clinician",
            Self::Setting => "By setting",
            Self::Tier => "By risk tier",
            Self::Severity => "By severity",
            Self::Sex => "By sex",
            Self::AgeBand => "By age",
            Self::DiabetesType => "By diabetes type",
            Self::RenalReplacement => "By renal replacement",
            Self::Smoking => "By smoking",
            Self::ReferralSource => "By referral source",
            Self::Foot => "By foot",
            Self::Region => "By part of the foot",
            Self::Surface => "By surface of the foot",
            Self::Depth => "By depth",
            Self::Infection => "By infection",
        }
    }

    /// How the stratum of the index day is decided.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Site | Self::Clinician | Self::ClinicianRole | Self::Setting => OF_VISIT,
            Self::Tier => {
                "IWGDF tier on that day, from what had been recorded by then and was still known; an ulcer counts as history from the day after its first visit"
            }
            Self::Severity => {
                "SINBAD score of the ulcer at its first visit, 3 or more being severe; for a leg or a person the highest \
                 of the ulcers open that day"
            }
            Self::Sex | Self::DiabetesType | Self::ReferralSource => "as recorded for the person",
            Self::Smoking => "as recorded for the person, whenever it was asked",
            Self::AgeBand => "year of that day less year of birth",
            Self::RenalReplacement => "the answer given by that day",
            Self::Foot => "the foot or leg counted",
            Self::Region | Self::Surface => "as first recorded for the ulcer",
            Self::Depth | Self::Infection => OF_ULCER,
        }
    }

    /// Whether a measure can be split by it: a person who is free of ulcers has no severity.
    pub(crate) fn suits(self, measure: &Measure) -> bool {
        let unit = measure.rule.unit;
        match self {
            Self::Severity => matches!(
                unit,
                UnitOfAnalysis::Ulcer | UnitOfAnalysis::Limb | UnitOfAnalysis::PersonEpisode
            ),
            Self::Foot => matches!(
                unit,
                UnitOfAnalysis::Ulcer | UnitOfAnalysis::Limb | UnitOfAnalysis::Amputation
            ),
            Self::Region | Self::Surface | Self::Depth | Self::Infection => {
                unit == UnitOfAnalysis::Ulcer
            }
            _ => true,
        }
    }
}

/// What measures are split by: a field of ours, or a grouping that the layout names under `[strata]`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum SplitBy {
    /// A field of ours.
    Field(Stratifier),
    /// A grouping of the layout, by its name there.
    Named(String),
}

/// How a grouping of the layout is written in the pipeline file: `strata.payer`.
const NAMED: &str = "strata.";

impl SplitBy {
    /// Reads `site`, or `strata.payer`.
    pub fn parse(word: &str) -> Option<Self> {
        match word.strip_prefix(NAMED) {
            Some(name) => (!name.is_empty()).then(|| Self::Named(name.to_owned())),
            None => Stratifier::from_code(word).map(Self::Field),
        }
    }

    /// As written in the pipeline file.
    pub fn code(&self) -> String {
        match self {
            Self::Field(field) => field.code().to_owned(),
            Self::Named(name) => format!("{NAMED}{name}"),
        }
    }

    /// Title of the split.
    pub fn title(&self) -> String {
        match self {
            Self::Field(field) => field.title().to_owned(),
            Self::Named(name) => format!("By {name}"),
        }
    }

    /// How the stratum is decided.
    pub fn words(&self) -> &'static str {
        match self {
            Self::Field(field) => field.words(),
            Self::Named(_) => "as recorded for the person under the name the layout gives",
        }
    }

    /// Whether a measure can be split by it.
    pub(crate) fn suits(&self, measure: &Measure) -> bool {
        match self {
            Self::Field(field) => field.suits(measure),
            Self::Named(_) => true,
        }
    }
}

/// A stratum in words, in its place among the others: names by spelling, grades by height, "not recorded" last.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Label {
    place: u32,
    words: String,
}

impl Label {
    /// A name, in the order of spelling.
    pub fn name(words: &str) -> Self {
        Self {
            place: 0,
            words: words.to_owned(),
        }
    }

    /// One of a list of grades or codes.
    pub fn nth(position: usize, words: impl Into<String>) -> Self {
        Self {
            place: u32::try_from(position).unwrap_or(u32::MAX - 2),
            words: words.into(),
        }
    }

    /// Items were recorded, and they do not tell.
    pub(crate) fn not_gradable() -> Self {
        Self {
            place: u32::MAX - 1,
            words: "not gradable".to_owned(),
        }
    }

    /// Nothing was recorded.
    pub fn not_recorded() -> Self {
        Self {
            place: u32::MAX,
            words: "not recorded".to_owned(),
        }
    }

    /// The words.
    pub fn words(&self) -> &str {
        &self.words
    }
}

/// Gives the stratum of somebody counted.
pub type LabelOf<'a> = dyn Fn(&Member) -> Label + 'a;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_word_of_the_pipeline_file_reads_back_as_itself() {
        for field in Stratifier::ALL {
            let by = SplitBy::Field(*field);
            assert_eq!(SplitBy::parse(&by.code()), Some(by));
        }
        let named = SplitBy::Named("payer".to_owned());
        assert_eq!(SplitBy::parse("strata.payer"), Some(named));
        assert_eq!(SplitBy::parse("payer"), None);
        assert_eq!(SplitBy::parse("strata."), None);
    }

    #[test]
    fn grades_come_by_height_and_what_is_not_recorded_last() {
        let mut labels = [
            Label::not_recorded(),
            Label::nth(1, "severe"),
            Label::not_gradable(),
            Label::nth(0, "less severe"),
        ];
        labels.sort();
        let words: Vec<&str> = labels.iter().map(Label::words).collect();
        assert_eq!(
            words,
            ["less severe", "severe", "not gradable", "not recorded"]
        );
    }
}
