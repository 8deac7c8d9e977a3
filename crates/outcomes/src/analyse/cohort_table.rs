//! Who was followed: ulcers first seen here and the people who had them, as they were at the first visit.

use super::Material;
use crate::derive::{Episode, PersonOutcomes, Presentation};
use crate::grade::GradeRange;
use crate::report::{CohortCell, CohortGroup, CohortRow, CohortTable, Count, words};
use crate::rules::{Rules, days_between};
use crate::tables::{DiabetesType, Patient, Region, Sex, TissueDepth};
use chrono::{Datelike as _, NaiveDate};
use survival::counts::sample_quantile;

/// An ulcer first seen here.
struct Ulcer<'a> {
    patient: &'a Patient,
    key: u32,
    episode: &'a Episode,
    presentation: Presentation,
}

/// What a characteristic belongs to.
#[derive(Clone, Copy)]
enum Described {
    Ulcers,
    People,
}

impl Described {
    fn words(self) -> &'static str {
        match self {
            Self::Ulcers => "ulcers",
            Self::People => "people, at their first ulcer of the column",
        }
    }
}

/// How a characteristic is told.
enum Told {
    /// One of these values.
    Class(&'static [&'static str], fn(&Ulcer<'_>) -> Option<usize>),
    /// A measured value, with this many decimals.
    Measured(usize, fn(&Ulcer<'_>) -> Option<f64>),
}

/// Ulcers first seen here, by the calendar year of the first visit.
pub(super) fn cohort_table(material: &Material<'_>) -> CohortTable {
    let mut ulcers: Vec<Ulcer<'_>> = (material.people.iter())
        .flat_map(|person| ulcers_of(person, material.rules))
        .collect();
    ulcers.sort_by_key(|ulcer| (ulcer.key, ulcer.episode.index));
    let mut years: Vec<i32> = ulcers
        .iter()
        .map(|ulcer| ulcer.episode.index.date.year())
        .collect();
    years.sort_unstable();
    years.dedup();
    if years.is_empty() {
        return CohortTable::default();
    }
    let of_year = |year: i32| {
        ulcers
            .iter()
            .filter(move |ulcer| ulcer.episode.index.date.year() == year)
            .collect()
    };
    let mut columns: Vec<(String, Vec<&Ulcer<'_>>)> = years
        .into_iter()
        .map(|year| (year.to_string(), of_year(year)))
        .collect();
    columns.push(("all".to_owned(), ulcers.iter().collect()));
    let by_ulcer: Vec<Vec<&Ulcer<'_>>> = columns.iter().map(|(_, column)| column.clone()).collect();
    let by_person: Vec<Vec<&Ulcer<'_>>> =
        columns.iter().map(|(_, column)| firsts(column)).collect();
    let mut groups = vec![CohortGroup {
        title: "Counted".to_owned(),
        of: "ulcers and people".to_owned(),
        rows: vec![
            count_row("ulcers first seen here", &by_ulcer),
            count_row("people who had them", &by_person),
        ],
    }];
    groups.extend(
        CHARACTERISTICS
            .iter()
            .map(|(title, described, told)| CohortGroup {
                title: (*title).to_owned(),
                of: described.words().to_owned(),
                rows: rows(
                    told,
                    match described {
                        Described::Ulcers => &by_ulcer,
                        Described::People => &by_person,
                    },
                ),
            }),
    );
    CohortTable {
        columns: columns.into_iter().map(|(label, _)| label).collect(),
        groups,
    }
}

fn ulcers_of<'a>(person: &'a PersonOutcomes<'_>, rules: &Rules) -> Vec<Ulcer<'a>> {
    let episodes = person.reading.episodes.iter();
    episodes
        .filter(|episode| !episode.is_post_surgical && episode.prevalent.is_none())
        .map(|episode| Ulcer {
            patient: person.person.patient,
            key: person.person.key.0,
            episode,
            presentation: person.reading.presentation(episode, rules),
        })
        .collect()
}

/// The first ulcer of each person; ulcers come by person and date.
fn firsts<'u, 'a>(column: &[&'u Ulcer<'a>]) -> Vec<&'u Ulcer<'a>> {
    let mut own = column.to_vec();
    own.dedup_by_key(|ulcer| ulcer.key);
    own
}

const CHARACTERISTICS: &[(&str, Described, Told)] = &[
    (
        "Age in years, from the year of birth (90 stands for 90 or over)",
        Described::People,
        Told::Measured(0, age),
    ),
    (
        "Sex",
        Described::People,
        Told::Class(&["female", "male", "other"], |ulcer| {
            ulcer.patient.sex.map(|sex| match sex {
                Sex::Female => 0,
                Sex::Male => 1,
                Sex::Other => 2,
            })
        }),
    ),
    (
        "Diabetes",
        Described::People,
        Told::Class(&["type 1", "type 2", "other"], |ulcer| {
            ulcer.patient.diabetes_type.map(|kind| match kind {
                DiabetesType::Type1 => 0,
                DiabetesType::Type2 => 1,
                DiabetesType::Other => 2,
            })
        }),
    ),
    (
        "Years since the diabetes was found",
        Described::People,
        Told::Measured(0, |ulcer| {
            let year = ulcer.patient.diabetes_year?;
            Some(f64::from((ulcer.episode.index.date.year() - year).max(0)))
        }),
    ),
    (
        "Smoker",
        Described::People,
        Told::Class(YES_NO, |ulcer| ulcer.patient.smoker.map(yes_no)),
    ),
    (
        "Renal replacement, as told by the first visit",
        Described::People,
        Told::Class(YES_NO, |ulcer| {
            let answer = ulcer
                .patient
                .renal_replacement
                .filter(|answer| is_by(ulcer, answer.at.date))?;
            Some(yes_no(answer.is_yes))
        }),
    ),
    (
        "Ulcer before these records, as told by the first visit",
        Described::People,
        Told::Class(YES_NO, |ulcer| {
            let by_then =
                |told: Option<crate::tables::Dated>| told.is_some_and(|at| is_by(ulcer, at.date));
            history(
                by_then(ulcer.patient.prior_ulcer),
                by_then(ulcer.patient.prior_ulcer_denied),
            )
        }),
    ),
    (
        "Amputation before these records, as told by the first visit",
        Described::People,
        Told::Class(YES_NO, |ulcer| {
            let mut had = ulcer.patient.prior_amputations.iter();
            let is_denied = ulcer
                .patient
                .prior_amputation_denied
                .is_some_and(|at| is_by(ulcer, at.date));
            history(
                had.any(|amputation| is_by(ulcer, amputation.recorded.date)),
                is_denied,
            )
        }),
    ),
    (
        "Days from onset to the first visit here",
        Described::Ulcers,
        Told::Measured(0, |ulcer| {
            let onset = ulcer.episode.onset?;
            Some(days_between(onset.dated.date, ulcer.episode.index.date).max(0) as f64)
        }),
    ),
    (
        "Area at the first visit, square cm",
        Described::Ulcers,
        Told::Measured(1, |ulcer| ulcer.presentation.area_cm2),
    ),
    (
        "Part of the foot",
        Described::Ulcers,
        Told::Class(
            &["toe", "forefoot", "midfoot", "heel or hindfoot", "stump"],
            |ulcer| match ulcer.episode.site?.region {
                Region::Toe => Some(0),
                Region::MetatarsalHead | Region::Forefoot => Some(1),
                Region::Midfoot => Some(2),
                Region::Heel | Region::Hindfoot => Some(3),
                Region::Stump => Some(4),
                Region::AboveFoot => None,
            },
        ),
    ),
    (
        "Deepest tissue",
        Described::Ulcers,
        Told::Class(
            &["skin", "subcutaneous", "tendon or muscle", "bone or joint"],
            |ulcer| {
                ulcer.presentation.depth.map(|depth| match depth {
                    TissueDepth::Skin => 0,
                    TissueDepth::Subcutaneous => 1,
                    TissueDepth::TendonOrMuscle => 2,
                    TissueDepth::BoneOrJoint => 3,
                })
            },
        ),
    ),
    (
        "Gangrene",
        Described::Ulcers,
        Told::Class(YES_NO, |ulcer| {
            ulcer.presentation.has_gangrene().map(yes_no)
        }),
    ),
    (
        "Infection of the foot (IWGDF/IDSA)",
        Described::Ulcers,
        Told::Class(&["none", "mild", "moderate", "severe"], |ulcer| {
            known(ulcer.presentation.infection)
        }),
    ),
    (
        "SINBAD score",
        Described::Ulcers,
        Told::Class(&["0", "1", "2", "3", "4", "5", "6"], |ulcer| {
            known(ulcer.presentation.sinbad)
        }),
    ),
    (
        "Ischaemia grade (WIfI)",
        Described::Ulcers,
        Told::Class(&["0", "1", "2", "3"], |ulcer| {
            known(ulcer.presentation.ischaemia)
        }),
    ),
    (
        "WIfI stage",
        Described::Ulcers,
        Told::Class(&["1", "2", "3", "4"], |ulcer| {
            known(ulcer.presentation.wifi_stage).and_then(|stage| stage.checked_sub(1))
        }),
    ),
];

const YES_NO: &[&str] = &["yes", "no"];

fn yes_no(is_yes: bool) -> usize {
    usize::from(!is_yes)
}

fn is_by(ulcer: &Ulcer<'_>, date: NaiveDate) -> bool {
    date <= ulcer.episode.index.date
}

/// A history told with "yes" stays; "no" counts where nobody said yes.
fn history(is_told: bool, is_denied: bool) -> Option<usize> {
    match (is_told, is_denied) {
        (true, _) => Some(0),
        (false, true) => Some(1),
        (false, false) => None,
    }
}

fn known(grade: GradeRange) -> Option<usize> {
    grade.known().map(usize::from)
}

fn age(ulcer: &Ulcer<'_>) -> Option<f64> {
    if ulcer.patient.is_90_or_over {
        return Some(90.0);
    }
    let born = ulcer.patient.birth_year?;
    let age = ulcer.episode.index.date.year() - born;
    (0..=130).contains(&age).then(|| f64::from(age.min(90)))
}

fn count_row(label: &str, columns: &[Vec<&Ulcer<'_>>]) -> CohortRow {
    let cell = |column: &Vec<&Ulcer<'_>>| {
        let n = column.len() as u64;
        CohortCell {
            n: Count::Shown(n),
            of: Count::Shown(n),
            quartiles: None,
            words: words::whole(n),
        }
    };
    CohortRow {
        label: label.to_owned(),
        cells: columns.iter().map(cell).collect(),
    }
}

fn rows(told: &Told, columns: &[Vec<&Ulcer<'_>>]) -> Vec<CohortRow> {
    match told {
        Told::Class(classes, class) => {
            let mut rows: Vec<CohortRow> = classes
                .iter()
                .enumerate()
                .map(|(position, label)| {
                    share_row(label, columns, |ulcer| class(ulcer) == Some(position))
                })
                .collect();
            let is_unknown =
                |ulcer: &Ulcer<'_>| class(ulcer).is_none_or(|position| position >= classes.len());
            rows.push(share_row(
                "not recorded, or not gradable",
                columns,
                is_unknown,
            ));
            rows
        }
        Told::Measured(digits, value) => {
            let spread = columns
                .iter()
                .map(|column| spread_cell(column, *value, *digits))
                .collect();
            vec![
                CohortRow {
                    label: "median (quartiles)".to_owned(),
                    cells: spread,
                },
                share_row("not recorded", columns, |ulcer| value(ulcer).is_none()),
            ]
        }
    }
}

fn share_row(
    label: &str,
    columns: &[Vec<&Ulcer<'_>>],
    has: impl Fn(&Ulcer<'_>) -> bool,
) -> CohortRow {
    let cell = |column: &Vec<&Ulcer<'_>>| {
        let n = column.iter().filter(|ulcer| has(ulcer)).count();
        let words = if column.is_empty() {
            words::whole(0)
        } else {
            format!(
                "{} ({})",
                words::whole(n as u64),
                words::percent(n as f64 / column.len() as f64)
            )
        };
        CohortCell {
            n: Count::Shown(n as u64),
            of: Count::Shown(column.len() as u64),
            quartiles: None,
            words,
        }
    };
    CohortRow {
        label: label.to_owned(),
        cells: columns.iter().map(cell).collect(),
    }
}

/// Quartiles by linear interpolation between ordered values (Hyndman & Fan 1996, definition 7).
fn spread_cell(
    column: &[&Ulcer<'_>],
    value: fn(&Ulcer<'_>) -> Option<f64>,
    digits: usize,
) -> CohortCell {
    let values: Vec<f64> = column.iter().filter_map(|ulcer| value(ulcer)).collect();
    let at = |share: f64| sample_quantile(&values, share);
    let quartiles = match (at(0.25), at(0.5), at(0.75)) {
        (Some(first), Some(median), Some(third)) => Some([first, median, third]),
        _ => None,
    };
    let words = quartiles.map_or_else(
        || "nobody".to_owned(),
        |[first, median, third]| {
            let [first, median, third] =
                [first, median, third].map(|value| words::decimal(value, digits));
            format!("{median} ({first} to {third}), n = {}", values.len())
        },
    );
    CohortCell {
        n: Count::Shown(values.len() as u64),
        of: Count::Shown(column.len() as u64),
        quartiles,
        words,
    }
}
