//! What the findings are about, and the overview in sentences.

use super::{FindingGroup, Overview, Reading};
use crate::finding::Severity;
use crate::report::words::whole;
use crate::rules::DateKind;

/// What a check is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Topic {
    /// Whether anything identifies a person.
    Identifiers,
    /// How the pseudonymous ids look.
    PatientIds,
    /// Units and orders of dates, over a whole column.
    UnitsAndDates,
    /// Everything else.
    Rows,
}

/// What a check is about, by its name.
pub fn topic(check: &str) -> Topic {
    match check {
        "age-over-89" | "declared-not-identifying" => Topic::Identifiers,
        "unit-suspected"
        | "values-unusual-for-unit"
        | "sizes-of-another-unit"
        | "date-order-suspected"
        | "onsets-heaped-on-first-of-month" => Topic::UnitsAndDates,
        _ if check.starts_with("looks-like-") => Topic::Identifiers,
        _ if check.starts_with("ids-") => Topic::PatientIds,
        _ => Topic::Rows,
    }
}

impl Overview {
    /// Findings about a topic.
    pub fn of_topic(&self, wanted: Topic) -> impl Iterator<Item = &FindingGroup> {
        self.findings
            .iter()
            .filter(move |group| topic(&group.check) == wanted)
    }

    /// The overview in short sentences.
    pub fn sentences(&self) -> Vec<String> {
        let sum = |pick: fn(&super::FileOverview) -> u64| self.files.iter().map(pick).sum::<u64>();
        let n_read = sum(|file| file.n_read);
        let n_used = sum(|file| file.n_used);
        let mut sentences = vec![format!(
            "{} rows were read from {}: {} are used and {} set aside.",
            whole(n_read),
            counted(self.files.len() as u64, "file", "files"),
            whole(n_used),
            whole(n_read.saturating_sub(n_used)),
        )];
        sentences.push(if self.stops.is_empty() {
            "Nothing in the export would stop a run.".to_owned()
        } else {
            "A run would stop; the reasons are below.".to_owned()
        });
        sentences.push(self.dates_declared());
        let n_identifying = self
            .of_topic(Topic::Identifiers)
            .filter(|group| group.severity == Severity::Stop)
            .count() as u64;
        sentences.push(match n_identifying {
            0 => {
                "The screen found nothing that identifies a person; it is no guarantee.".to_owned()
            }
            n => format!("{} like what identifies a person.", look(n)),
        });
        let n_unread = self
            .files
            .iter()
            .flat_map(|file| &file.columns)
            .filter(|column| column.reading == Reading::NotInLayout)
            .count() as u64;
        if n_unread > 0 {
            sentences.push(format!(
                "{} not in the layout and not read.",
                is_or_are(n_unread, "column")
            ));
        }
        let n_units = self.of_topic(Topic::UnitsAndDates).count() as u64;
        if n_units > 0 {
            sentences.push(format!(
                "{} doubt about a unit or a date: look there first, for a wrong unit makes an area wrong by a hundred.",
                counted(n_units, "column gives", "columns give")
            ));
        }
        if self.of_topic(Topic::PatientIds).next().is_some() {
            sentences.push("The patient ids show something of how they were made.".to_owned());
        }
        if let Some(comparison) = &self.comparison {
            sentences.push(match comparison.changes.len() as u64 {
                0 => format!(
                    "Nothing changed beyond chance in {}, held against {}.",
                    comparison.later, comparison.earlier
                ),
                n => format!(
                    "{} in {}, held against {}.",
                    counted(n, "thing changed", "things changed"),
                    comparison.later,
                    comparison.earlier
                ),
            });
        }
        sentences
    }
}

impl Overview {
    /// What the layout says of its dates; it is believed, so whoever reads this must know it.
    fn dates_declared(&self) -> String {
        match self.dates.kind {
            DateKind::AsRecorded => {
                "Dates are taken as the days on which things happened, for the layout declares nothing else.".to_owned()
            }
            DateKind::Shifted => format!(
                "The layout declares shifted dates, each person's moved by at most {}; quarters are {}.",
                counted(
                    u64::from(self.dates.shifted_by_at_most_days.unwrap_or_default()),
                    "day",
                    "days"
                ),
                if self.dates.has_quarters {
                    "those that the rows carry"
                } else {
                    "those of shifted dates and will be labelled so"
                }
            ),
            DateKind::YearOnly => {
                "The layout declares that dates tell years only: a run makes no figure that takes days.".to_owned()
            }
            DateKind::LimitedDataSet => {
                "The layout declares true dates of a limited data set; the manifest of a run names its agreement.".to_owned()
            }
        }
    }
}

fn counted(n: u64, one: &str, many: &str) -> String {
    format!("{} {}", whole(n), if n == 1 { one } else { many })
}

fn look(n: u64) -> String {
    counted(n, "column looks", "columns look")
}

fn is_or_are(n: u64, what: &str) -> String {
    if n == 1 {
        format!("1 {what} is")
    } else {
        format!("{} {what}s are", whole(n))
    }
}
