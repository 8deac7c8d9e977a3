use super::severity;
use crate::finding::Finding;
use crate::tables::{SeenBy, Tables, UlcerObservation, UlcerState};

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
    let measured: Vec<(&UlcerObservation, f32)> = rows
        .iter()
        .filter_map(|row| Some((*row, row.length_cm? * row.width_cm?)))
        .filter(|(_, area)| *area > 0.0)
        .collect();
    for pair in measured.windows(2) {
        if pair[1].1 > 4.0 * pair[0].1 {
            findings.push(
                note(
                    "area-grew-fourfold",
                    pair[1].0,
                    "length times width is more than four times that of the visit before",
                )
                .with_hint("millimetres and centimetres may be mixed"),
            );
        }
    }
}

fn note(check: &'static str, row: &UlcerObservation, message: &str) -> Finding {
    Finding::on_row(check, severity(check), row.source, message)
}
