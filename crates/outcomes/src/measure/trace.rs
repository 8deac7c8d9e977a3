//! From a figure back to the people behind it: a line a subject, and which part of which figure it is.

use super::cohort::Study;
use super::follow_up::{FollowUp, Stratum};
use super::probability::{of_stratum, within};
use super::quantiles::QUARTILES;
use super::summary::{Prepared, prepare_person};
use super::{ClassPlace, CountHistory, FollowUpSummary, Measure, Method, Occurrence};
use crate::blocks::in_blocks;
use crate::coded;
use crate::report::Value;
use crate::rules::{Outcome, Quarter};
use crate::tables::{Dated, PatientKey};

/// One subject that a measure counts: whose, from which row on, and what became of it by which row.
#[derive(Debug, Clone, PartialEq)]
pub struct TraceLine {
    /// Id of the measure.
    pub measure: &'static str,
    /// The person.
    pub person: PatientKey,
    /// The quarter whose cohort it belongs to.
    pub quarter: Quarter,
    /// Stratum besides `all`; empty where there is none.
    pub stratum: String,
    /// The row with which it began; none for a status on a quarter's last day.
    pub from: Option<Dated>,
    /// Day of entry into the risk set, where it is followed.
    pub entry_day: Option<i64>,
    /// Last day observed, or the day of the outcome, where it is followed.
    pub day: Option<i64>,
    /// What became of it: an outcome, `censored`, `known to its end`, `measured`, `yes`, `no`, `unknown`, `counted`, or a class.
    pub outcome: &'static str,
    /// The row that gave the outcome.
    pub at: Option<Dated>,
    /// Probability of the event expected from its severity, where one is published.
    pub expected: Option<f64>,
}

const CENSORED: &str = "censored";
const YES: &str = "yes";
const MEASURED: &str = "measured";
/// A course that is known to its end, so that nothing of it is missing.
const ENDED: &str = "known to its end";
/// One of several events of a subject who is counted on another line.
const EVENT: &str = "event";
const ABOVE: &str = "counted above the line";
const BELOW: &str = "counted below the line";
const UNKNOWN: &str = "unknown";
const NOT_EXACTLY_KNOWN: &str = "points not exactly known";

/// Every subject of every measure, by measure, then by person, then as found.
pub fn trace(measures: &[&'static Measure], study: &Study<'_>) -> Vec<TraceLine> {
    let of_block = |block: &[crate::derive::PersonOutcomes<'_>]| -> Vec<TraceLine> {
        let mut lines = Vec::new();
        for person in block {
            let key = person.person.key;
            let prepared = prepare_person(measures, study, person);
            for (measure, prepared) in measures.iter().zip(prepared) {
                lines.extend(lines_of(measure, key, prepared));
            }
        }
        lines
    };
    let mut lines: Vec<TraceLine> = in_blocks(study.people, of_block).concat();
    let place = |id: &str| measures.iter().position(|measure| measure.id == id);
    lines.sort_by_key(|line| (place(line.measure), line.person));
    lines
}

fn lines_of(measure: &'static Measure, person: PatientKey, prepared: Prepared) -> Vec<TraceLine> {
    let began = |at: Dated| TraceLine {
        measure: measure.id,
        person,
        quarter: Quarter::of(at.date),
        stratum: String::new(),
        from: Some(at),
        entry_day: None,
        day: None,
        outcome: "counted",
        at: None,
        expected: None,
    };
    match prepared {
        Prepared::FollowUps(all) => all
            .iter()
            .map(|subject| followed(subject, began(subject.index)))
            .collect(),
        Prepared::Answers(all) => all
            .iter()
            .map(|answer| TraceLine {
                outcome: answer_words(answer.is_yes),
                ..began(answer.index)
            })
            .collect(),
        Prepared::Severities(all) => all
            .iter()
            .map(|subject| TraceLine {
                outcome: answer_words(subject.is_yes),
                stratum: points_words(subject.items.count().known()),
                ..began(subject.index)
            })
            .collect(),
        Prepared::Numbers(all) => all
            .iter()
            .map(|subject| TraceLine {
                outcome: match subject.number {
                    Some(number) if !number.is_nan() => MEASURED,
                    _ => UNKNOWN,
                },
                ..began(subject.index)
            })
            .collect(),
        Prepared::Courses(all) => all
            .iter()
            .map(|course| TraceLine {
                day: Some(course.known_to),
                outcome: if course.is_ended { ENDED } else { CENSORED },
                ..began(course.index)
            })
            .collect(),
        Prepared::Events(all) => all.iter().map(|event| began(event.at)).collect(),
        Prepared::Banded(all) => {
            let Method::Bands { classes, .. } = measure.method else {
                return Vec::new();
            };
            let name =
                |band: ClassPlace| classes.get(usize::from(band)).copied().unwrap_or_default();
            all.iter()
                .map(|one| TraceLine {
                    outcome: one.band.map_or(UNKNOWN, name),
                    ..began(one.index)
                })
                .collect()
        }
        Prepared::Histories(all) => all
            .iter()
            .flat_map(|history| counted_again(history, began(history.followed.index)))
            .collect(),
        Prepared::TwoKinds(above, below) => {
            let of = |all: &[Occurrence], outcome: &'static str| -> Vec<TraceLine> {
                let line = |event: &Occurrence| TraceLine {
                    outcome,
                    ..began(event.at)
                };
                all.iter().map(line).collect()
            };
            [of(&above, ABOVE), of(&below, BELOW)].concat()
        }
        Prepared::Classes(all) => {
            let Method::Snapshot { classes, .. } = measure.method else {
                return Vec::new();
            };
            let of_quarter = |(quarter, own): (Quarter, Vec<(PatientKey, ClassPlace)>)| {
                own.into_iter().map(move |(_, class)| TraceLine {
                    quarter,
                    from: None,
                    outcome: classes.get(usize::from(class)).copied().unwrap_or_default(),
                    ..began(Dated::new(quarter.end(), Default::default()))
                })
            };
            all.into_iter().flat_map(of_quarter).collect()
        }
    }
}

/// One line for the time watched and one for every event in it.
fn counted_again(history: &CountHistory, blank: TraceLine) -> Vec<TraceLine> {
    let watched = followed(&history.followed, blank.clone());
    let events = history.events.iter().map(|(day, told_by)| TraceLine {
        day: Some(*day),
        outcome: EVENT,
        at: Some(*told_by),
        ..blank.clone()
    });
    std::iter::once(watched).chain(events).collect()
}

fn followed(subject: &FollowUp, blank: TraceLine) -> TraceLine {
    TraceLine {
        stratum: subject.stratum.map_or("", Stratum::code).to_owned(),
        entry_day: Some(subject.entry_day.into()),
        day: Some(subject.exit_day.into()),
        outcome: subject.ending.map_or(CENSORED, Outcome::code),
        at: subject.ended_at,
        expected: subject.expected(),
        ..blank
    }
}

fn answer_words(answer: Option<bool>) -> &'static str {
    match answer {
        Some(true) => YES,
        Some(false) => "no",
        None => UNKNOWN,
    }
}

fn points_words(points: Option<u8>) -> String {
    match points {
        Some(1) => "1 point".to_owned(),
        Some(points) => format!("{points} points"),
        None => NOT_EXACTLY_KNOWN.to_owned(),
    }
}

coded! {
    /// Which part of a figure a subject is.
    pub enum Part {
        /// In the numerator, and so in the denominator.
        Numerator = "numerator",
        /// In the numerator alone: an event, whose subject is counted on another line.
        Event = "event",
        /// In the denominator alone.
        Denominator = "denominator",
        /// Its outcome is unknown.
        Unknown = "unknown",
        /// Its outcome is known and its severity is not, so that nothing can be expected of it.
        NotJudged = "not-judged",
        /// Not part of this figure.
        Outside = "outside",
    }
}

/// One figure of a measure among those that a cohort has.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TracedFigure {
    /// The stratum as the report words it.
    pub words: String,
    strata: Strata,
    day: i64,
}

/// Which subjects a figure takes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Strata {
    /// All of them.
    All,
    /// One stratum.
    One(String),
    /// Those with a published expectation.
    Expected,
    /// All of them, one class in the numerator.
    Class(&'static str),
}

/// Every figure a measure can have for one cohort, given the strata met; the first is that of everybody.
pub fn places(measure: &Measure, strata: &[String]) -> Vec<TracedFigure> {
    let horizon = measure.rule.horizon_days;
    let place = |words: String, strata: Strata, day: i64| TracedFigure { words, strata, day };
    let with_strata = || {
        let named = strata.iter().filter(|stratum| !stratum.is_empty());
        std::iter::once(("all".to_owned(), Strata::All))
            .chain(named.map(|name| (name.clone(), Strata::One(name.clone()))))
    };
    match measure.method {
        Method::FollowUp { summary, .. } => {
            let read: Vec<(Option<String>, i64)> = match summary {
                FollowUpSummary::IncidenceAt { days: [day], .. } => vec![(None, *day)],
                FollowUpSummary::IncidenceAt { days, .. } => days
                    .iter()
                    .map(|day| (Some(within(*day, "all")), *day))
                    .collect(),
                FollowUpSummary::Quartiles => QUARTILES
                    .iter()
                    .map(|(_, words)| (Some((*words).to_owned()), horizon))
                    .collect(),
                FollowUpSummary::BetweenVisits
                | FollowUpSummary::WeightedForLoss
                | FollowUpSummary::FreeAtHorizon
                | FollowUpSummary::FreeAtHorizonWithExpected
                | FollowUpSummary::MeanDays
                | FollowUpSummary::RateToHorizon
                | FollowUpSummary::Median => vec![(None, horizon)],
            };
            let mut places: Vec<TracedFigure> = with_strata()
                .flat_map(|(name, strata)| {
                    let of = |(what, day): &(Option<String>, i64)| {
                        let words = what.as_ref().map(|what| of_stratum(what, &name));
                        place(words.unwrap_or_else(|| name.clone()), strata.clone(), *day)
                    };
                    read.iter().map(of).collect::<Vec<_>>()
                })
                .collect();
            if matches!(summary, FollowUpSummary::FreeAtHorizonWithExpected) {
                let words = "observed against expected events".to_owned();
                places.push(place(words, Strata::Expected, horizon));
            }
            places
        }
        Method::Status { .. }
        | Method::Described { .. }
        | Method::TimeFree { .. }
        | Method::MeanCount { .. }
        | Method::CountRatio { .. }
        | Method::Count { .. } => {
            vec![place("all".to_owned(), Strata::All, horizon)]
        }
        Method::Expected { .. } => with_strata()
            .map(|(name, strata)| place(name, strata, horizon))
            .collect(),
        Method::Snapshot { classes, .. } | Method::Bands { classes, .. } => classes
            .iter()
            .map(|class| place((*class).to_owned(), Strata::Class(class), horizon))
            .collect(),
    }
}

impl TracedFigure {
    /// Whether the report words this figure's stratum so. Published shares stand behind the words of a severity.
    pub fn is_worded(&self, stratum: &str) -> bool {
        let is_share =
            |rest: &str| rest == self.words || rest.starts_with(&format!("{} (", self.words));
        stratum == self.words
            || matches!(self.strata, Strata::One(_))
                && stratum.strip_prefix("share healed, ").is_some_and(is_share)
    }

    /// Which part of this figure a subject is, by what its line in the trace says.
    pub fn part(
        &self,
        measure: &Measure,
        stratum: &str,
        outcome: &str,
        day: Option<i64>,
        has_expected: bool,
    ) -> Part {
        let is_inside = match &self.strata {
            Strata::All | Strata::Class(_) => true,
            Strata::One(own) => own == stratum,
            Strata::Expected => has_expected,
        };
        if !is_inside {
            return Part::Outside;
        }
        match measure.method {
            Method::FollowUp { summary, .. } => self.part_followed(measure, summary, outcome, day),
            Method::Status { .. } | Method::Expected { .. } => {
                let needs_severity =
                    matches!(measure.method, Method::Expected { .. }) && self.strata == Strata::All;
                match outcome {
                    UNKNOWN => Part::Unknown,
                    _ if needs_severity && stratum == NOT_EXACTLY_KNOWN => Part::NotJudged,
                    YES => Part::Numerator,
                    _ => Part::Denominator,
                }
            }
            Method::Described { .. } | Method::Bands { .. } if outcome == UNKNOWN => Part::Unknown,
            Method::MeanCount { .. } if outcome == EVENT => {
                if day.is_some_and(|day| day <= self.day) {
                    Part::Event
                } else {
                    Part::Outside
                }
            }
            Method::CountRatio { .. } if outcome == ABOVE => Part::Event,
            Method::TimeFree { .. } | Method::MeanCount { .. }
                if outcome == CENSORED && day.is_some_and(|day| day < self.day) =>
            {
                Part::Unknown
            }
            Method::Described { .. }
            | Method::TimeFree { .. }
            | Method::MeanCount { .. }
            | Method::CountRatio { .. } => Part::Denominator,
            Method::Count { .. } => Part::Numerator,
            Method::Snapshot { .. } | Method::Bands { .. } => match self.strata {
                Strata::Class(class) if class == outcome => Part::Numerator,
                _ => Part::Denominator,
            },
        }
    }

    /// A subject followed: with the event by the day, without it, or not followed that far.
    fn part_followed(
        &self,
        measure: &Measure,
        summary: FollowUpSummary,
        outcome: &str,
        day: Option<i64>,
    ) -> Part {
        let is_by_then = day.is_some_and(|day| day <= self.day);
        let is_event = measure
            .rule
            .event
            .iter()
            .any(|event| event.code() == outcome);
        // A rate counts the time watched, whatever ended it.
        let is_rate = matches!(summary, FollowUpSummary::RateToHorizon);
        let is_unknown = !is_rate && outcome == CENSORED && day.is_some_and(|day| day < self.day);
        let counts_those_without = matches!(
            summary,
            FollowUpSummary::FreeAtHorizon | FollowUpSummary::FreeAtHorizonWithExpected
        ) && self.strata != Strata::Expected;
        match (
            is_event && is_by_then,
            is_unknown && self.strata != Strata::Expected,
        ) {
            (_, true) => Part::Unknown,
            (has_event, _) if has_event != counts_those_without => Part::Numerator,
            _ => Part::Denominator,
        }
    }
}

/// Numerator, denominator and unknown outcomes of a figure, from the parts of its subjects; as the report counts them where it
/// printed `printed`. A share weighted for loss counts the known alone, unless it could not be made.
pub fn tally_parts(
    measure: &Measure,
    printed: Option<&Value>,
    parts: impl IntoIterator<Item = Part>,
) -> [u64; 3] {
    let [mut numerator, mut denominator, mut unknown] = [0; 3];
    let counts_unknown = match measure.method {
        Method::FollowUp {
            summary: FollowUpSummary::WeightedForLoss,
            ..
        } => !matches!(printed, Some(Value::Known(_))),
        Method::FollowUp { .. } | Method::TimeFree { .. } | Method::MeanCount { .. } => true,
        _ => false,
    };
    for part in parts {
        numerator += u64::from(matches!(part, Part::Numerator | Part::Event));
        unknown += u64::from(part == Part::Unknown);
        let is_counted = matches!(part, Part::Numerator | Part::Denominator);
        denominator += u64::from(is_counted || counts_unknown && part == Part::Unknown);
    }
    [numerator, denominator, unknown]
}
