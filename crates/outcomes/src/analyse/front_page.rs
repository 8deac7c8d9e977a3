//! The plain-words page: headlines, sentences and what they rest on.

use super::chance::chance;
use super::declared::statement;
use super::expectations::expectation;
use super::sheets::{headline_of, last_mature_quarter, trend};
use super::watch_charts::capitalised;
use super::{Counted, Material};
use crate::derive::Prevalent;
use crate::finding::FileAccount;
use crate::measure::{Cohort, Measure, Method};
use crate::report::words::{self, counted as count_words, percent, value};
use crate::report::{ActionItem, Count, FrontPage, Headline, MeasureResult, Value};
use crate::rules::{KnownRule, Quarter};

/// Ids of the headline measures, in the order of the page.
pub(super) const HEADLINES: &[&str] = &[
    "healed-within-12-weeks",
    "ulcer-free-at-12-weeks",
    "median-time-to-healing",
    "recurrence-within-12-months",
    "threatened-limbs-kept-at-12-months",
    "limbs-kept-at-12-months",
    "vascular-referral-after-trigger",
    "major-amputations",
];

/// Whether a measure is one of the headlines.
pub(super) fn is_headline(measure: &Measure) -> bool {
    HEADLINES.contains(&measure.id)
}

/// The plain-words page.
pub(super) fn front_page(
    material: &Material<'_>,
    counted: &[Counted],
    actions: &[ActionItem],
) -> FrontPage {
    FrontPage {
        sentences: sentences(material, counted, actions),
        headlines: HEADLINES
            .iter()
            .filter_map(|id| counted.iter().find(|counted| counted.measure.id == *id))
            .filter_map(|own| headline(material, counted, own))
            .collect(),
        chance: chance(material, counted),
    }
}

/// The cohort of a headline: the year to the last mature quarter; the reporting quarter where none is mature.
pub(super) fn headline_cohort(material: &Material<'_>, counted: &Counted) -> Cohort {
    match last_mature_quarter(material, counted) {
        Some(last) => Cohort::year_to(last, material.horizon.data_start),
        None => Cohort::quarter(material.quarter),
    }
}

fn year_result(material: &Material<'_>, counted: &Counted) -> Option<MeasureResult> {
    let cohort = headline_cohort(material, counted);
    headline_of(counted.measure, counted.of(material, &cohort))
}

fn headline(material: &Material<'_>, all: &[Counted], counted: &Counted) -> Option<Headline> {
    let mut result = year_result(material, counted)?;
    let title = if result.stratum == "all" {
        counted.measure.title.to_owned()
    } else {
        format!("{}, {}", counted.measure.title, result.stratum)
    };
    if counted.measure.rule.known == KnownRule::AsTold {
        result.notes.push("as known to this practice".to_owned());
    }
    let mut reading = counted.measure.reading.to_owned();
    for note in result
        .notes
        .iter()
        .filter(|note| !note.starts_with("read up to"))
    {
        reading.push_str(&format!(" {}.", capitalised(note)));
    }
    Some(Headline {
        title,
        result,
        trend: trend(material, counted),
        expectation: (!material.dates.is_year_only())
            .then(|| expectation(material, all, counted))
            .flatten(),
        reading,
    })
}

fn sentences(material: &Material<'_>, counted: &[Counted], actions: &[ActionItem]) -> Vec<String> {
    let mut sentences: Vec<String> = set_aside_sentence(material).into_iter().collect();
    sentences.extend(statement(material).says.into_iter().next());
    if material.dates.is_year_only() {
        sentences.extend(amputation_year_sentence(material, counted));
        return sentences;
    }
    sentences.push(quarter_sentence(material));
    let find = |id: &str| counted.iter().find(|counted| counted.measure.id == id);
    if let Some(healed) = find("healed-within-12-weeks") {
        sentences.extend(latest_sentence(
            material,
            healed,
            "had healed within 12 weeks without amputation",
            "ulcers first seen",
        ));
    }
    if let Some(free) = find("ulcer-free-at-12-weeks") {
        sentences.extend(latest_sentence(
            material,
            free,
            "were alive without any open wound 12 weeks later",
            "people whose spell of open wounds began",
        ));
    }
    sentences.extend(amputation_sentence(
        material,
        find("major-amputations"),
        find("minor-amputations"),
    ));
    if let Some(referral) = find("vascular-referral-after-trigger") {
        sentences.extend(latest_sentence(
            material,
            referral,
            "had been referred to a vascular service within 14 days",
            "limbs whose first vascular trigger fell",
        ));
    }
    if let Some(tiers) = find("risk-tier-distribution") {
        sentences.extend(tier_sentence(material, tiers));
    }
    if !actions.is_empty() {
        let n_urgent = actions.iter().filter(|item| item.is_urgent).count();
        let mut people: Vec<&str> = actions.iter().map(|item| item.patient.as_str()).collect();
        people.sort_unstable();
        people.dedup();
        sentences.push(format!(
            "On {}, {} on the list of people to look at; {}.",
            words::date(material.horizon.cut_off),
            count_words(people.len(), "person is", "people are"),
            match n_urgent {
                0 => "no entry is urgent".to_owned(),
                n => count_words(n, "entry is urgent", "entries are urgent"),
            }
        ));
    }
    sentences
}

/// Said first when so many rows were set aside that nothing below can be relied on. Rows that another row tells again,
/// as where exports overlap, and rows that hold nothing for this program are no loss and do not count.
fn set_aside_sentence(material: &Material<'_>) -> Option<String> {
    let sum = |pick: fn(&FileAccount) -> u64| material.accounts.iter().map(pick).sum::<u64>();
    let n_lossless = sum(FileAccount::n_without_loss);
    let n_read = sum(|account| account.n_read) - n_lossless;
    let n_aside = sum(FileAccount::n_set_aside) - n_lossless;
    let share = n_aside as f64 / n_read.max(1) as f64;
    let faults = material.accounts.iter().flat_map(FileAccount::faults);
    let most = faults
        .max_by_key(|(_, n)| *n)
        .map_or("", |(reason, _)| reason.as_str());
    (share > material.rules.set_aside_limit).then(|| {
        format!(
            "{} of {} rows ({}), repeats not counted, were set aside, most often for `{most}`: no figure below can be relied on.",
            words::whole(n_aside),
            words::whole(n_read),
            percent(share)
        )
    })
}

fn quarter_sentence(material: &Material<'_>) -> String {
    let (start, end) = (material.quarter.start(), material.quarter.end());
    let (mut n_seen, mut n_new, mut n_transferred, mut is_early) = (0, 0, 0, false);
    for person in material.people {
        let last_seen = person.person.up_to(end).last_seen();
        n_seen += usize::from(last_seen.is_some_and(|last| last >= start));
        let began = person.reading.episodes.iter().filter(|episode| {
            !episode.is_post_surgical && material.quarter.contains(episode.index.date)
        });
        for episode in began {
            match episode.prevalent {
                Some(Prevalent::TransferredIn) => n_transferred += 1,
                early => {
                    n_new += 1;
                    is_early |= early.is_some();
                }
            }
        }
    }
    let early = if is_early {
        " (some may be older: the export begins here)"
    } else {
        ""
    };
    let transferred = match n_transferred {
        0 => String::new(),
        n => format!(
            " and {} transferred in",
            count_words(n, "ulcer was", "ulcers were")
        ),
    };
    format!(
        "In {} the practice saw {}; {} began treatment{early}{transferred}.",
        material.quarter,
        count_words(n_seen, "person", "people"),
        count_words(n_new, "new ulcer", "new ulcers"),
    )
}

/// The newest mature quarter in words, beside the same quarter a year before.
fn latest_sentence(
    material: &Material<'_>,
    counted: &Counted,
    outcome: &str,
    who: &str,
) -> Option<String> {
    let latest = last_mature_quarter(material, counted)?;
    let of = |quarter: Quarter| {
        let results = counted.of(material, &Cohort::quarter(quarter));
        headline_of(counted.measure, results)
    };
    let now = of(latest)?;
    let Value::Known(_) = now.value else {
        return None;
    };
    let n = match now.denominator {
        Some(Count::Shown(n)) => n,
        _ => return None,
    };
    let is_known_only = matches!(counted.measure.method, Method::Status { .. });
    let known = if is_known_only {
        " with a known outcome"
    } else {
        ""
    };
    let before = of(latest.back(4)).filter(|before| matches!(before.value, Value::Known(_)));
    // of shifted quarters a year apart nothing is said: their people are mixed
    let before = before.filter(|_| !material.dates.has_shifted_quarters());
    let earlier = before.map_or_else(String::new, |before| {
        format!("; a year earlier it was {}", value(&before))
    });
    let gate = now
        .notes
        .iter()
        .find(|note| note.contains("not to be relied on"));
    let gate = gate.map_or_else(String::new, |note| format!(" ({note})"));
    Some(format!(
        "Of the {n} {who} in {latest}{known} (the newest quarter that can be judged yet), {} {outcome}{gate}{earlier}.",
        value(&now)
    ))
}

/// Of an export that tells years only: the amputations of the calendar year to the reporting quarter.
fn amputation_year_sentence(material: &Material<'_>, counted: &[Counted]) -> Option<String> {
    let cohort = Cohort::year_to(material.quarter, material.horizon.data_start);
    let n = |id: &str| {
        let counted = counted.iter().find(|counted| counted.measure.id == id)?;
        let results = counted.of(material, &cohort);
        match results.first()?.numerator? {
            Count::Shown(n) => Some(words::whole(n)),
            Count::Suppressed => None,
        }
    };
    Some(format!(
        "As far as the practice was told, amputations in {}: {} major, {} minor.",
        cohort.label(),
        n("major-amputations")?,
        n("minor-amputations")?
    ))
}

fn amputation_sentence(
    material: &Material<'_>,
    major: Option<&Counted>,
    minor: Option<&Counted>,
) -> Option<String> {
    let n = |counted: &Counted| {
        let cohort = Cohort::quarter(material.quarter);
        let results = counted.of(material, &cohort);
        match results.first().and_then(|result| result.numerator) {
            Some(Count::Shown(n)) => Some(n as usize),
            _ => None,
        }
    };
    let (major, minor) = (n(major?)?, n(minor?)?);
    let words = |n: usize, level: &str| match n {
        0 => format!("no {level} amputation"),
        n => count_words(
            n,
            &format!("{level} amputation"),
            &format!("{level} amputations"),
        ),
    };
    Some(format!(
        "As far as the practice was told, {} and {} took place in {}.",
        words(major, "major"),
        words(minor, "minor"),
        material.quarter
    ))
}

fn tier_sentence(material: &Material<'_>, tiers: &Counted) -> Option<String> {
    let cohort = Cohort::quarter(material.quarter);
    let results = tiers.of(material, &cohort);
    let share = |class: &str| {
        results
            .iter()
            .find(|result| result.stratum == class)
            .and_then(|result| match &result.value {
                Value::Known(estimate) => Some(percent(estimate.estimate)),
                _ => None,
            })
    };
    Some(format!(
        "At the end of {}, {} of the people under care had an open wound and {} were in risk tier 3; for {} the tier \
         could not be told: a test was missing or too old, or an ulcer was lost from sight.",
        material.quarter,
        share("active ulcer")?,
        share("tier 3")?,
        share("not gradable")?,
    ))
}
