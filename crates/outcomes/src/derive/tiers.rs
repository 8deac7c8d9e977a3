//! Risk tiers of a person over time.

use super::Person;
use super::episode::Episode;
use super::facts::Facts;
use super::presentation::{ExamItems, exam_items};
use crate::grade::{GradeRange, TierItems, any_of_each, reduced_flow, risk_tier};
use crate::rules::Rules;
use crate::tables::{AmputationLevel, Dated, PatientKey, Side};
use chrono::{Months, NaiveDate};

/// Risk tier of one person at one examination of the feet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TierRecord {
    /// Whose.
    pub patient: PatientKey,
    /// The examination.
    pub at: Dated,
    /// What the tier was made from.
    pub items: TierItems,
    /// IWGDF tier 0 to 3.
    pub tier: GradeRange,
}

impl TierRecord {
    /// Whether the items of this examination are still known on a day: it is not more than the months old that an item stays
    /// known. Exactly as many months is not more, as everywhere.
    pub(crate) fn is_known_on(&self, date: NaiveDate, rules: &Rules) -> bool {
        is_known_on(self.at.date, date, rules)
    }
}

fn is_known_on(examined: NaiveDate, date: NaiveDate, rules: &Rules) -> bool {
    let oldest = date.checked_sub_months(Months::new(rules.exam_item_valid_months));
    oldest.is_some_and(|oldest| examined >= oldest)
}

/// One record for each day on which the feet were examined, by date. History counts only as far as it is dated
/// before the examination; an item recorded earlier stays known for the months the rules give.
pub(super) fn tier_history(
    person: &Person<'_>,
    episodes: &[Episode],
    facts: &Facts,
    rules: &Rules,
) -> Vec<TierRecord> {
    let mut days: Vec<Dated> = person
        .foot_exams
        .iter()
        .map(|exam| Dated::new(exam.date, exam.source))
        .collect();
    days.dedup_by_key(|at| at.date);
    days.into_iter()
        .map(|at| record_on(person, episodes, facts, at, rules))
        .collect()
}

/// The last of them.
pub(super) fn newest_tier(
    person: &Person<'_>,
    episodes: &[Episode],
    facts: &Facts,
    rules: &Rules,
) -> Option<TierRecord> {
    let last = person.foot_exams.last()?;
    Some(record_on(
        person,
        episodes,
        facts,
        Dated::new(last.date, last.source),
        rules,
    ))
}

/// The tier on a day, dated at the last examination by then.
pub(super) fn tier_on(
    person: &Person<'_>,
    episodes: &[Episode],
    facts: &Facts,
    date: NaiveDate,
    rules: &Rules,
) -> Option<TierRecord> {
    let last = person.up_to(date).foot_exams.last()?;
    is_known_on(last.date, date, rules).then(|| {
        let items = items_on(person, episodes, facts, date, rules);
        TierRecord {
            patient: person.key,
            at: Dated::new(last.date, last.source),
            items,
            tier: risk_tier(&items),
        }
    })
}

fn record_on(
    person: &Person<'_>,
    episodes: &[Episode],
    facts: &Facts,
    at: Dated,
    rules: &Rules,
) -> TierRecord {
    let items = items_on(person, episodes, facts, at.date, rules);
    TierRecord {
        patient: person.key,
        at,
        items,
        tier: risk_tier(&items),
    }
}

fn items_on(
    person: &Person<'_>,
    episodes: &[Episode],
    facts: &Facts,
    date: NaiveDate,
    rules: &Rules,
) -> TierItems {
    let patient = person.patient;
    let amputated_before = |level: AmputationLevel, side: Option<Side>| {
        let recorded = patient.prior_amputations.iter().any(|prior| {
            prior.level == level
                && prior.recorded.date <= date
                && (side.is_none() || prior.side == side)
        });
        recorded
            || facts.amputations.iter().any(|amputation| {
                amputation.level == level
                    && amputation.at.date < date
                    && side.is_none_or(|side| amputation.side == side)
            })
    };
    let feet = [Side::Left, Side::Right].map(|side| {
        let is_there = !amputated_before(AmputationLevel::Major, Some(side));
        let exams = person.foot_exams;
        is_there.then(|| exam_items(exams, side, date, date, rules.exam_item_valid_months))
    });
    let of_feet =
        |item: &dyn Fn(&ExamItems) -> Option<bool>| any_of_each(feet.iter().flatten().map(item));
    let limit = rules.abi_non_compressible_above;
    let had_ulcer = patient
        .prior_ulcer
        .is_some_and(|recorded| recorded.date <= date)
        || episodes.iter().any(|episode| episode.index.date < date);
    let is_by_then = |at: Option<Dated>| at.is_some_and(|at| at.date <= date);
    let had_amputation = amputated_before(AmputationLevel::Minor, None)
        || amputated_before(AmputationLevel::Major, None);
    TierItems {
        sensation_lost: of_feet(&|foot| foot.sensation_lost),
        arterial_disease: of_feet(&|foot| reduced_flow(&foot.perfusion, limit)),
        deformity: of_feet(&|foot| foot.deformity),
        prior_ulcer: history(had_ulcer, is_by_then(patient.prior_ulcer_denied)),
        prior_amputation: history(had_amputation, is_by_then(patient.prior_amputation_denied)),
        renal_disease: patient
            .renal_replacement
            .filter(|answer| answer.at.date <= date)
            .map(|answer| answer.is_yes),
    }
}

fn history(is_known: bool, is_denied: bool) -> Option<bool> {
    if is_known {
        Some(true)
    } else {
        is_denied.then_some(false)
    }
}

/// Whether any wound of this person is open at the end of a day, as far as was known then; `None` when one was lost from
/// sight without having been seen closed.
pub(super) fn has_open_wound(episodes: &[Episode], date: NaiveDate, rules: &Rules) -> Option<bool> {
    let mut is_any_lost = false;
    for wound in episodes.iter().filter(|wound| wound.index.date <= date) {
        let gone = wound.resolved();
        if gone.is_some_and(|gone| gone.date <= date) {
            continue;
        }
        if wound.is_open_on(date, gone, rules) {
            return Some(true);
        }
        is_any_lost = true;
    }
    (!is_any_lost).then_some(false)
}
