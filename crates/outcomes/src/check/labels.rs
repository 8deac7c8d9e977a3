//! The labels of one foot's ulcers against each other.

use super::found;
use crate::finding::Finding;
use crate::tables::{FootSite, NameId, Tables, UlcerObservation, UlcerState};
use std::collections::BTreeSet;

/// Checks the labels of each foot.
pub(super) fn check_labels(tables: &Tables, findings: &mut Vec<Finding>) {
    let mut rows: Vec<&UlcerObservation> = tables.ulcer_observations.iter().collect();
    rows.sort_by_key(|row| (row.patient, row.side, row.date, row.source));
    for foot in
        rows.chunk_by(|left, right| (left.patient, left.side) == (right.patient, right.side))
    {
        unseen_labels(foot, findings);
        two_labels_at_one_site(foot, findings);
    }
}

fn unseen_labels(foot: &[&UlcerObservation], findings: &mut Vec<Finding>) {
    let seen: BTreeSet<NameId> = foot.iter().map(|row| row.label).collect();
    let mut told = BTreeSet::new();
    for row in foot {
        for label in [row.parent, row.merged_into].into_iter().flatten() {
            if !seen.contains(&label) && told.insert((row.label, label)) {
                let message = "the label that the ulcer comes from, or merged into, was never seen on this foot";
                findings.push(
                    found("label-not-seen", row.source, message)
                        .with_hint("the label may be mistyped, or belong to the other foot"),
                );
            }
        }
    }
}

fn two_labels_at_one_site(foot: &[&UlcerObservation], findings: &mut Vec<Finding>) {
    let mut told = BTreeSet::new();
    for day in foot.chunk_by(|left, right| left.date == right.date) {
        let open: Vec<&&UlcerObservation> = day
            .iter()
            .filter(|row| row.state == Some(UlcerState::Open) && row.site.is_some_and(is_exact))
            .collect();
        for (place, row) in open.iter().enumerate() {
            let earlier = open.iter().take(place).find(|earlier| {
                earlier.label != row.label && earlier.site == row.site && !are_related(earlier, row)
            });
            if let Some(earlier) = earlier
                && told.insert((earlier.label.min(row.label), earlier.label.max(row.label)))
            {
                let message = "another label was open at the same place on this day";
                findings.push(
                    found("two-labels-at-one-site", row.source, message).with_hint(
                        "if it is one ulcer, give it one label; if it split, name the `parent`",
                    ),
                );
            }
        }
    }
}

/// Whether a site is told so exactly that two ulcers there would touch: one surface of one ray.
const fn is_exact(site: FootSite) -> bool {
    site.ray > 0 && site.aspect.is_some()
}

fn are_related(left: &UlcerObservation, right: &UlcerObservation) -> bool {
    let comes_from = |row: &UlcerObservation, other: &UlcerObservation| {
        row.parent == Some(other.label)
            || row.merged_into == Some(other.label)
            || (row.parent.is_some() && row.parent == other.parent)
    };
    comes_from(left, right) || comes_from(right, left)
}
