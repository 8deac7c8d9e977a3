//! Shares of cells: empty ones, codes, dates in another order.

use super::super::fisher::fisher;
use super::{ChangeKind, Trial, change};
use crate::check::overview::{ColumnOverview, Extent, Sums};

/// Rows worth fewer independent ones on either side are not compared.
pub(super) const FEWEST: u64 = 20;
/// Smaller differences of shares do not matter.
pub(super) const LEAST_SHARE: f64 = 0.05;

pub(super) struct Place<'p> {
    pub(super) file: &'p str,
    pub(super) column: &'p ColumnOverview,
}

pub(super) type Side<'s> = (&'s Sums, Extent);

impl Place<'_> {
    pub(super) fn trial(
        &self,
        kind: ChangeKind,
        (share_before, n_before): (f64, u64),
        (share_now, n_now): (f64, u64),
        matters: bool,
        words: String,
    ) -> Option<Trial> {
        if n_before < FEWEST || n_now < FEWEST {
            return None;
        }
        let yes = |share: f64, n: u64| (share * n as f64).round() as u64;
        let chance = fisher(
            (yes(share_before, n_before), n_before),
            (yes(share_now, n_now), n_now),
        );
        Some(Trial {
            chance,
            matters,
            change: change(kind, self.file, Some(&self.column.header), words),
        })
    }
}

pub(super) fn share(part: u64, whole: u64) -> f64 {
    if whole == 0 {
        0.0
    } else {
        part as f64 / whole as f64
    }
}

pub(super) fn percent(share: f64) -> String {
    format!("{:.0} %", 100.0 * share)
}

pub(super) fn missing(place: &Place<'_>, before: Side<'_>, now: Side<'_>) -> Option<Trial> {
    let gone = |(sums, extent): Side<'_>| 1.0 - share(sums.n_present, extent.n_rows);
    let (was, is) = (gone(before), gone(now));
    place.trial(
        ChangeKind::MissingShare,
        (was, before.1.n_independent),
        (is, now.1.n_independent),
        (is - was).abs() >= LEAST_SHARE,
        format!(
            "empty in {} of the rows, earlier in {}",
            percent(is),
            percent(was)
        ),
    )
}

pub(super) fn codes(place: &Place<'_>, before: Side<'_>, now: Side<'_>) -> Vec<Trial> {
    if before.0.codes.is_empty() && now.0.codes.is_empty() {
        return Vec::new();
    }
    let of = |(sums, _): Side<'_>, code: &str| {
        let n = sums.codes.iter().find(|(known, _)| known == code);
        share(n.map_or(0, |(_, n)| *n), sums.n_present)
    };
    let mut known: Vec<&String> = before
        .0
        .codes
        .iter()
        .chain(&now.0.codes)
        .map(|(code, _)| code)
        .collect();
    known.sort();
    known.dedup();
    let mut trials: Vec<Trial> = known
        .into_iter()
        .filter_map(|code| {
            let (was, is) = (of(before, code), of(now, code));
            let kind = match (was > 0.0, is > 0.0) {
                (false, true) => ChangeKind::CodeNew,
                (true, false) => ChangeKind::CodeGone,
                _ => ChangeKind::CodeShares,
            };
            place.trial(
                kind,
                (was, before.0.n_independent),
                (is, now.0.n_independent),
                // a code that comes or goes is another way of writing things down, however seldom it is used
                kind != ChangeKind::CodeShares || (is - was).abs() >= LEAST_SHARE,
                format!(
                    "`{code}` in {} of the cells, earlier in {}",
                    percent(is),
                    percent(was)
                ),
            )
        })
        .collect();
    let unknown = |(sums, _): Side<'_>| share(sums.n_unknown_codes, sums.n_present);
    let (was, is) = (unknown(before), unknown(now));
    trials.extend(place.trial(
        ChangeKind::UnknownCodes,
        (was, before.0.n_independent),
        (is, now.0.n_independent),
        is - was >= LEAST_SHARE || (was == 0.0 && is > 0.0),
        format!(
            "codes that the layout does not declare in {} of the cells, earlier in {}",
            percent(is),
            percent(was)
        ),
    ));
    trials
}

pub(super) fn date_order(place: &Place<'_>, before: Side<'_>, now: Side<'_>) -> Option<Trial> {
    let all = |sums: &Sums| sums.n_dates + sums.n_other_order;
    if all(before.0) == 0 || all(now.0) == 0 {
        return None;
    }
    let other = |(sums, _): Side<'_>| share(sums.n_other_order, all(sums));
    let (was, is) = (other(before), other(now));
    place.trial(
        ChangeKind::DateOrder,
        (was, before.0.n_independent),
        (is, now.0.n_independent),
        is - was >= LEAST_SHARE,
        format!(
            "{} of the dates are dates in another order only, earlier {}",
            percent(is),
            percent(was)
        ),
    )
}
