//! What stands beside a headline: what would have been expected of these people, the practice's own past, or a published
//! figure for context.

use super::sheets::last_mature_quarter;
use super::watch::base_of;
use super::{Counted, Material};
use crate::measure::Cohort;
use crate::report::{Audience, Count, Unit, words};

/// A headline with a case-mix expectation.
struct CaseMix {
    headline: &'static str,
    /// The measure that makes the expectation.
    by: &'static str,
    /// What is observed and expected.
    what: &'static str,
}

const CASE_MIX: [CaseMix; 2] = [
    CaseMix {
        headline: "healed-within-12-weeks",
        by: "healed-against-published-strata",
        what: "Index ulcers healed at 20 weeks",
    },
    CaseMix {
        headline: "threatened-limbs-kept-at-12-months",
        by: "threatened-limbs-kept-at-12-months",
        what: "Major amputations of threatened limbs",
    },
];

/// One or two sentences: the case-mix expectation where there is one, else the first published figure; then the practice's
/// own first quarters. A public copy gets the published figure alone, because the others tell counts.
pub(super) fn expectation(
    material: &Material<'_>,
    all: &[Counted],
    counted: &Counted,
) -> Option<String> {
    let context = || {
        let line = words::fixed(counted.measure.context.first()?);
        Some(format!("For context, not a target: {line}."))
    };
    if material.audience == Audience::Public {
        return context();
    }
    let found = CASE_MIX
        .iter()
        .find(|case_mix| case_mix.headline == counted.measure.id);
    let case_mix = found.and_then(|case_mix| {
        let by = all.iter().find(|other| other.measure.id == case_mix.by)?;
        observed_beside_expected(material, by, case_mix.what)
    });
    let sentences = [case_mix.or_else(context), own_past(material, counted)];
    let told: Vec<String> = sentences.into_iter().flatten().collect();
    (!told.is_empty()).then(|| told.join(" "))
}

/// Observed against expected over the year to the newest mature quarter.
fn observed_beside_expected(material: &Material<'_>, by: &Counted, what: &str) -> Option<String> {
    let last = last_mature_quarter(material, by)?;
    let cohort = Cohort::year_to(last, material.horizon.data_start);
    let results = by.of(material, &cohort);
    let ratio = results
        .into_iter()
        .find(|result| result.unit == Unit::Ratio)?;
    let Some(Count::Shown(observed)) = ratio.numerator else {
        return None;
    };
    let expected = ratio.notes.first()?;
    Some(format!(
        "{what} in {}: {observed} observed, {expected}: ratio {}; context, not a target.",
        cohort.label(),
        words::value(&ratio)
    ))
}

/// The centre of the measure's own control chart.
fn own_past(material: &Material<'_>, counted: &Counted) -> Option<String> {
    let base = base_of(material, counted)?;
    Some(format!(
        "In this practice's own first {} mature quarters it was {} on average.",
        base.n_quarters,
        words::number(base.unit, base.centre)
    ))
}
