//! The rows of each ulcer held against each other: areas, states, gaps, onsets, places.

use super::severity;
use crate::finding::Finding;
use crate::tables::{FootSite, Region, SeenBy, Tables, UlcerObservation, UlcerState};
use chrono::Months;

const LONGEST_GAP_DAYS: i64 = 180;
const LONGEST_ONSET_MONTHS: u32 = 60;

/// Checks the rows of each ulcer against each other.
pub(super) fn check_ulcers(tables: &Tables, findings: &mut Vec<Finding>) {
    for person in tables
        .ulcer_observations
        .chunk_by(|left, right| left.patient == right.patient)
    {
        let mut rows: Vec<&UlcerObservation> = person.iter().collect();
        rows.sort_by_key(|row| (row.label, row.side, row.date, row.source));
        for label in rows.chunk_by(|left, right| left.label == right.label) {
            if let Some(row) = label.iter().find(|row| row.side != label[0].side) {
                findings.push(note(
                    "side-changed",
                    row,
                    "the label was used for the other foot before",
                ));
            }
            for ulcer in label.chunk_by(|left, right| left.side == right.side) {
                check_ulcer(ulcer, findings);
                check_course(ulcer, findings);
            }
        }
    }
}

fn check_ulcer(rows: &[&UlcerObservation], findings: &mut Vec<Finding>) {
    if !rows.iter().any(|row| row.state == Some(UlcerState::Open)) {
        findings.push(note(
            "never-seen-open",
            rows[0],
            "the ulcer was never recorded as open",
        ));
    }
    for row in rows {
        if row.state == Some(UlcerState::Closed) && row.seen_by != SeenBy::Clinician {
            findings.push(note(
                "closure-not-seen-by-clinician",
                row,
                "the closure was not seen by a clinician and closes nothing",
            ));
        }
    }
    for day in rows.chunk_by(|left, right| left.date == right.date) {
        let has = |state| day.iter().any(|row| row.state == Some(state));
        if has(UlcerState::Open) && has(UlcerState::Closed) {
            findings.push(note(
                "open-and-closed-on-one-day",
                day[0],
                "two rows of this day disagree",
            ));
        }
    }
    let by_size = grown(rows, |row| Some(row.length_cm? * row.width_cm?));
    let by_area = grown(rows, |row| row.area_cm2);
    for row in &by_size {
        findings.push(
            note(
                "area-grew-fourfold",
                row,
                "length times width is more than four times that of the visit before",
            )
            .with_hint("millimetres and centimetres may be mixed"),
        );
    }
    for row in by_area
        .iter()
        .filter(|row| by_size.iter().all(|known| known.source != row.source))
    {
        findings.push(
            note(
                "area-grew-fourfold",
                row,
                "the recorded area is more than four times that of the visit before",
            )
            .with_hint("square millimetres and square centimetres may be mixed"),
        );
    }
}

/// Rows whose area is more than four times that of the row measured before.
fn grown<'r>(
    rows: &[&'r UlcerObservation],
    area: impl Fn(&UlcerObservation) -> Option<f32>,
) -> Vec<&'r UlcerObservation> {
    let measured: Vec<(&UlcerObservation, f32)> = rows
        .iter()
        .filter_map(|row| Some((*row, area(row)?)))
        .filter(|(_, area)| *area > 0.0)
        .collect();
    measured
        .windows(2)
        .filter(|pair| pair[1].1 > 4.0 * pair[0].1)
        .map(|pair| pair[1].0)
        .collect()
}

/// Checks the course of one ulcer: its order of states, its gaps, its onset and its places.
fn check_course(rows: &[&UlcerObservation], findings: &mut Vec<Finding>) {
    let stated: Vec<&UlcerObservation> = rows
        .iter()
        .copied()
        .filter(|row| row.state.is_some())
        .collect();
    if let Some(first) = stated.first()
        && first.state == Some(UlcerState::Closed)
        && let Some(open) = stated
            .iter()
            .find(|row| row.state == Some(UlcerState::Open))
        && open.date > first.date
    {
        findings.push(
            note(
                "closed-before-seen-open",
                first,
                "the ulcer was recorded as closed before it was ever recorded as open",
            )
            .with_hint(
                "compare day and month of the dates, or look for rows missing from the export",
            ),
        );
    }
    for pair in stated.windows(2) {
        let days = (pair[1].date - pair[0].date).num_days();
        if pair[0].state == Some(UlcerState::Open) && days > LONGEST_GAP_DAYS {
            findings.push(
                note(
                    "long-gap-while-open",
                    pair[1],
                    "the ulcer was open when last seen, more than 180 days before",
                )
                .with_hint("rows may be missing, or a new ulcer may have been given an old label"),
            );
        }
    }
    let first = rows[0];
    let earliest = first
        .date
        .checked_sub_months(Months::new(LONGEST_ONSET_MONTHS));
    if let (Some(onset), Some(earliest)) = (rows.iter().find_map(|row| row.onset), earliest)
        && onset.dated.date < earliest
    {
        let mut finding = note(
            "onset-long-before-first-visit",
            first,
            "the onset lies more than 5 years before the first visit",
        )
        .with_hint("the year may be mistyped");
        finding.source = Some(onset.dated.source);
        findings.push(finding);
    }
    let places: Vec<(&UlcerObservation, FootSite)> = rows
        .iter()
        .filter_map(|row| Some((*row, row.site?)))
        .collect();
    if let Some(pair) = places
        .windows(2)
        .find(|pair| are_apart(pair[0].1, pair[1].1))
    {
        findings.push(
            note(
                "site-changed",
                pair[1].0,
                "the label stood at another part of this foot before",
            )
            .with_hint("a new ulcer needs a label of its own"),
        );
    }
}

/// Two rays, or two parts of the foot. The forefoot holds toes and metatarsal heads, the hindfoot the heel.
fn are_apart(left: FootSite, right: FootSite) -> bool {
    let zone = |site: FootSite| match site.region {
        Region::Toe | Region::MetatarsalHead | Region::Forefoot => 0,
        Region::Midfoot => 1,
        Region::Heel | Region::Hindfoot => 2,
        Region::Stump => 3,
        Region::AboveFoot => 4,
    };
    zone(left) != zone(right) || (left.ray > 0 && right.ray > 0 && left.ray != right.ray)
}

fn note(check: &'static str, row: &UlcerObservation, message: &str) -> Finding {
    Finding::on_row(check, severity(check), row.source, message)
}
