//! Numbers: where their middle lies and how far they spread.

use super::shares::{Place, Side, percent, share};
use super::{ChangeKind, Trial};
use crate::check::middle_of;

/// A middle that moved less does not matter, as a share of the earlier.
pub(super) const LEAST_MOVE: f64 = 0.15;
/// A share of numbers outside the earlier range that moved less does not matter.
pub(super) const LEAST_OUTSIDE: f64 = 0.10;

/// The median test: the share of numbers above the earlier middle. A. M. Mood, Introduction to the Theory of Statistics,
/// 1950 (from memory).
pub(super) fn middle(place: &Place<'_>, before: Side<'_>, now: Side<'_>) -> Option<Trial> {
    let n_before: u64 = before.0.sizes.iter().map(|(_, n)| n).sum();
    let n_now: u64 = now.0.sizes.iter().map(|(_, n)| n).sum();
    let (was, is) = (median_bin(&before.0.sizes)?, median_bin(&now.0.sizes)?);
    let above = |sizes: &[(u16, u64)], n: u64| {
        let n_above: u64 = sizes
            .iter()
            .filter(|(bin, _)| *bin > was)
            .map(|(_, n)| n)
            .sum();
        share(n_above, n)
    };
    let (value_was, value_is) = (middle_of(was), middle_of(is));
    let unit = if place.column.unit.is_empty() {
        String::new()
    } else {
        format!(" {}", place.column.unit)
    };
    place.trial(
        ChangeKind::Middle,
        (
            above(&before.0.sizes, n_before),
            n_before.min(before.0.n_independent),
        ),
        (above(&now.0.sizes, n_now), n_now.min(now.0.n_independent)),
        (value_is / value_was - 1.0).abs() >= LEAST_MOVE,
        format!(
            "the middle of the numbers is about {}{unit}, earlier about {}{unit}",
            rounded(value_is),
            rounded(value_was)
        ),
    )
}

/// The share of numbers beyond the earlier lowest and highest twentieth, each side apart: a column in two units, or one that
/// was cut off, spreads otherwise while its middle may stay.
pub(super) fn spread(place: &Place<'_>, before: Side<'_>, now: Side<'_>) -> Vec<Trial> {
    let n = |(sums, _): Side<'_>| sums.sizes.iter().map(|(_, n)| n).sum::<u64>();
    let Some((low, high)) = twentieths(&before.0.sizes) else {
        return Vec::new();
    };
    if n(now) == 0 {
        return Vec::new();
    }
    let beyond = |(sums, _): Side<'_>, is_above: bool| {
        let is_out = |bin: u16| if is_above { bin > high } else { bin < low };
        let bins = sums.sizes.iter().filter(|(bin, _)| is_out(*bin));
        bins.map(|(_, n)| n).sum::<u64>()
    };
    let unit = if place.column.unit.is_empty() {
        String::new()
    } else {
        format!(" {}", place.column.unit)
    };
    [(false, "below", low), (true, "above", high)]
        .into_iter()
        .filter_map(|(is_above, word, edge)| {
            let was = share(beyond(before, is_above), n(before));
            let is = share(beyond(now, is_above), n(now));
            place.trial(
                ChangeKind::Spread,
                (was, before.0.n_independent),
                (is, now.0.n_independent),
                (is - was).abs() >= LEAST_OUTSIDE,
                format!(
                    "{} of the numbers lie {word} about {}{unit}, earlier {}",
                    percent(is),
                    rounded(middle_of(edge)),
                    percent(was)
                ),
            )
        })
        .collect()
}

/// The bins of the lowest and the highest twentieth.
fn twentieths(sizes: &[(u16, u64)]) -> Option<(u16, u16)> {
    let n: u64 = sizes.iter().map(|(_, n)| n).sum();
    let at = |wanted: u64| {
        let mut n_up_to = 0;
        let found = sizes.iter().find(|(_, n_bin)| {
            n_up_to += n_bin;
            n_up_to >= wanted.max(1)
        });
        found.map(|(bin, _)| *bin)
    };
    Some((at(n / 20)?, at(n - n / 20)?))
}

fn median_bin(sizes: &[(u16, u64)]) -> Option<u16> {
    let n: u64 = sizes.iter().map(|(_, n)| n).sum();
    let mut n_before = 0;
    sizes
        .iter()
        .find(|(_, n_bin)| {
            n_before += n_bin;
            2 * n_before >= n
        })
        .map(|(bin, _)| *bin)
}

/// Two significant digits: a bin tells no more.
fn rounded(value: f64) -> String {
    format!("{value:.1e}")
        .parse::<f64>()
        .map_or_else(|_| String::new(), |value| value.to_string())
}
