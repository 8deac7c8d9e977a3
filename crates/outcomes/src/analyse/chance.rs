//! The sentence of the front page that says what chance alone can do.

use super::sheets::last_mature_quarter;
use super::{Counted, Material};
use crate::measure::Cohort;
use crate::monitor::{TwoShares, chance_of_difference};
use crate::report::Count;
use crate::report::words::{percent, times_of_100};
use crate::rules::Quarter;

/// How often chance alone would make a difference as large as the one between the newest mature quarter and the same
/// quarter a year before, for people alive and ulcer-free at 12 weeks: exact, everybody's outcome kept.
pub(super) fn chance(material: &Material<'_>, counted: &[Counted]) -> String {
    let none = || {
        "There is no pair of mature quarters a year apart yet, so nothing can be said about change."
            .to_owned()
    };
    if material.dates.has_shifted_quarters() {
        return "Nothing is said about change between quarters: dates were shifted, so people of neighbouring quarters are mixed."
            .to_owned();
    }
    if material.dates.is_year_only() {
        return "Nothing is said about change: the export tells years only.".to_owned();
    }
    let Some(free) = counted
        .iter()
        .find(|counted| counted.measure.id == "ulcer-free-at-12-weeks")
    else {
        return "The share of people alive and ulcer-free at 12 weeks was not asked for, so nothing is said about change."
            .to_owned();
    };
    let Some(latest) = last_mature_quarter(material, free) else {
        return none();
    };
    let earlier = latest.back(4);
    let counts = |quarter: Quarter| {
        let results = free.of(material, &Cohort::quarter(quarter));
        let result = results.first()?;
        match (result.numerator, result.denominator) {
            (Some(Count::Shown(yes)), Some(Count::Shown(n))) if n > 0 => Some((yes, n)),
            _ => None,
        }
    };
    let (Some((yes_now, n_now)), Some((yes_before, n_before))) = (counts(latest), counts(earlier))
    else {
        return none();
    };
    let shares = TwoShares {
        n_events_first: yes_before,
        n_first: n_before,
        n_events_second: yes_now,
        n_second: n_now,
    };
    let Some(chance) = chance_of_difference(shares) else {
        return none();
    };
    if yes_now * n_before == yes_before * n_now {
        return format!(
            "Between {earlier} and {latest} the share of people alive and ulcer-free at 12 weeks did not change: {}.",
            percent(yes_now as f64 / n_now as f64)
        );
    }
    let verdict = if chance < 0.05 {
        "so chance alone is an unlikely reason"
    } else {
        "so it may well be chance"
    };
    format!(
        "Between {earlier} and {latest} the share of people alive and ulcer-free at 12 weeks went from {} ({yes_before} of \
         {n_before}) to {} ({yes_now} of {n_now}). If nothing had changed at all, a difference at least this large would \
         still turn up by chance in {}, {verdict}.",
        percent(yes_before as f64 / n_before as f64),
        percent(yes_now as f64 / n_now as f64),
        times_of_100(chance),
    )
}
