//! A side mistyped in one row would make an ulcer of the other foot out of nothing. The label tells otherwise.

use super::found;
use crate::derive::{Seen, order_of_observations, seen};
use crate::finding::Finding;
use crate::tables::{FootSite, NameId, Side, Tables, UlcerObservation};

/// What was last told of one label on one foot.
struct Told {
    label: NameId,
    side: Side,
    site: Option<FootSite>,
    is_open: bool,
}

/// An ulcer that is open does not change feet. A row that gives its label and its exact site, but the other foot, tells of
/// the ulcer that is open; its side becomes that of the ulcer's first row, so that later rows never change earlier figures.
/// Where one label was ever told of both feet on one day, labels are numbered by foot, and every side is taken as it stands.
pub(super) fn sides_of_open_ulcers(tables: &mut Tables, findings: &mut Vec<Finding>) {
    for person in tables
        .ulcer_observations
        .chunk_by_mut(|left, right| left.patient == right.patient)
    {
        if person.iter().all(|row| row.side == person[0].side) {
            continue;
        }
        let before = findings.len();
        let mut told: Vec<Told> = Vec::new();
        let mut by_foot: Vec<NameId> = Vec::new();
        for day in person.chunk_by_mut(|left, right| left.date == right.date) {
            by_foot.extend(labels_of_both_feet(day));
            for row in day.iter_mut().filter(|row| !by_foot.contains(&row.label)) {
                if let Some(side) = open_elsewhere(row, &told) {
                    row.side = side;
                    let message = "the ulcer of this label and place is open on the other foot; the row counts for it";
                    findings.push(
                        found("side-of-open-ulcer-changed", row.source, message)
                            .with_hint("correct the side, or give another ulcer another label"),
                    );
                }
            }
            for row in day.iter() {
                remember(row, &mut told);
            }
        }
        if findings.len() > before {
            person.sort_by_key(order_of_observations);
        }
    }
}

fn labels_of_both_feet(day: &[UlcerObservation]) -> Vec<NameId> {
    day.iter()
        .filter(|row| {
            day.iter()
                .any(|other| other.label == row.label && other.side != row.side)
        })
        .map(|row| row.label)
        .collect()
}

/// The side on which the ulcer of this label and site is open, where the row names the other and nothing is open there.
fn open_elsewhere(row: &UlcerObservation, told: &[Told]) -> Option<Side> {
    let site = row.site?;
    let is_open = |at: &&Told| at.label == row.label && at.is_open;
    let here = told.iter().find(|at| is_open(at) && at.side == row.side);
    let other = told
        .iter()
        .find(|at| is_open(at) && at.side != row.side && at.site == Some(site));
    match here {
        Some(_) => None,
        None => other.map(|at| at.side),
    }
}

fn remember(row: &UlcerObservation, told: &mut Vec<Told>) {
    let is_open = match seen(row) {
        Seen::Open => true,
        Seen::Closed | Seen::Excised => false,
        Seen::NotTold => return,
    };
    match told
        .iter_mut()
        .find(|at| at.label == row.label && at.side == row.side)
    {
        Some(at) => {
            at.is_open = is_open;
            at.site = row.site.or(at.site);
        }
        None => told.push(Told {
            label: row.label,
            side: row.side,
            site: row.site,
            is_open,
        }),
    }
}
