//! What a scale asks about, and how a column may tell it.

/// One thing a scale asks about, and the column that tells it.
#[derive(Debug, Clone, Copy)]
pub struct Item {
    /// Name of the item and of its column.
    pub name: &'static str,
    /// What it means.
    pub words: &'static str,
    /// What its cells may hold.
    pub kind: ItemKind,
    /// Other headers that are taken for it.
    pub also: &'static [OtherName],
}

/// Another header for an item; its numbers are multiplied to come into our unit.
#[derive(Debug, Clone, Copy)]
pub struct OtherName {
    /// The header.
    pub name: &'static str,
    /// What a number is multiplied with: 0.1 for a column in mm where the item is in cm.
    pub times: f64,
}

/// Another header with the same unit.
pub(super) const fn same(name: &'static str) -> OtherName {
    OtherName { name, times: 1.0 }
}

/// What the cells of an item may hold.
#[derive(Debug, Clone, Copy)]
pub enum ItemKind {
    /// Yes or no, with spellings of this item's own beside the usual ones.
    YesNo {
        /// Words that mean yes.
        yes: &'static [&'static str],
        /// Words that mean no.
        no: &'static [&'static str],
    },
    /// A number within limits beyond which it is not believed.
    Number {
        /// Lowest believable value.
        lowest: f64,
        /// Whether the lowest value itself is believable.
        has_lowest: bool,
        /// Highest believable value, included.
        highest: f64,
    },
    /// One of some words; several lists are read one after the other.
    Word(&'static [&'static [Spelling]]),
    /// Part of the foot: one of some words, or a site as layouts write it (`toe-1-plantar`).
    Site,
    /// A name that tells rows apart.
    Label,
    /// A date (2025-03-31) or a whole number of days.
    Day,
}

/// A word and other ways of writing it.
#[derive(Debug, Clone, Copy)]
pub struct Spelling {
    /// The word.
    pub code: &'static str,
    /// Other ways.
    pub also: &'static [&'static str],
}

impl ItemKind {
    /// What is accepted, for help and findings.
    pub fn accepts(&self) -> String {
        match self {
            Self::YesNo { yes, no } => {
                let listed = |usual: &[&str], own: &[&str]| [usual, own].concat().join(", ");
                format!(
                    "{} / {}",
                    listed(&["yes", "y", "true", "1", "present", "positive"], yes),
                    listed(&["no", "n", "false", "0", "none", "absent", "negative"], no)
                )
            }
            Self::Number {
                lowest,
                has_lowest,
                highest,
            } => {
                let from = if *has_lowest { "from" } else { "above" };
                format!("a number {from} {lowest} to {highest}")
            }
            Self::Word(lists) => {
                let words: Vec<String> = lists
                    .iter()
                    .flat_map(|list| list.iter())
                    .map(|spelling| match spelling.also {
                        [] => spelling.code.to_owned(),
                        also => format!("{} ({})", spelling.code, also.join(", ")),
                    })
                    .collect();
                words.join("; ")
            }
            Self::Site => "forefoot (0, toe, toe-1-plantar, mth-2, ...); midfoot; hindfoot; heel; \
                           midfoot or hindfoot, not told which (1)"
                .to_owned(),
            Self::Label => "any text".to_owned(),
            Self::Day => "a date (2025-03-31) or a whole number of days".to_owned(),
        }
    }
}
