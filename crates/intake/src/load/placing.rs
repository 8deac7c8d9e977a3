//! Shifted dates put into the quarters that the export carries: all dates of a person are moved by one number of days.

use super::tables::Loading;
use chrono::{Days, NaiveDate};
use outcomes::finding::{Finding, Severity};
use outcomes::rules::{Quarter, days_too_late};
use outcomes::tables::{Dated, Patient, PatientKey, SourceRow, Tables};

/// A row that carries its quarter.
#[derive(Debug, Clone, Copy)]
pub(super) struct Carried {
    pub(super) patient: PatientKey,
    pub(super) date: NaiveDate,
    pub(super) quarter: Quarter,
    pub(super) source: SourceRow,
}

/// Moves every person's dates by the fewest days that put the most rows into their carried quarters. Rows that then still lie
/// elsewhere, and people whose rows carry no quarter, are findings.
pub(super) fn place_in_quarters(loading: &mut Loading<'_>, most_days: u32) {
    let mut carried = std::mem::take(&mut loading.carried);
    carried.sort_by_key(|row| (row.patient, row.source));
    let mut moves: Vec<Option<i64>> = vec![None; loading.tables.patients.len()];
    for rows in carried.chunk_by(|one, other| one.patient == other.patient) {
        let dates: Vec<(NaiveDate, Quarter)> =
            rows.iter().map(|row| (row.date, row.quarter)).collect();
        let Some(too_late) = days_too_late(&dates, most_days) else {
            continue;
        };
        let outside = rows
            .iter()
            .filter(|row| Quarter::of(earlier(row.date, too_late)) != row.quarter);
        loading.findings.extend(outside.map(contradiction));
        let place = rows.first().map(|row| row.patient.0 as usize);
        if let Some(known) = place.and_then(|place| moves.get_mut(place)) {
            *known = Some(too_late);
        }
    }
    note_unplaced(loading, &moves);
    move_dates(&mut loading.tables, &moves, loading.horizon.data_start);
    for (patient, dated) in &mut loading.administrative {
        dated.date = earlier(dated.date, of(&moves, *patient));
    }
}

fn contradiction(row: &Carried) -> Finding {
    let message = "the carried quarter does not fit one shift of all dates of this person; the row counts where the other rows \
                   put it";
    Finding::on_row("quarter-contradicts-shift", Severity::Note, row.source, message)
        .with_hint("all dates of a person must be shifted by the same number of days, and quarters be taken before that")
}

fn note_unplaced(loading: &mut Loading<'_>, moves: &[Option<i64>]) {
    let mut is_seen = vec![false; moves.len()];
    for visit in &loading.tables.visits {
        if let Some(seen) = is_seen.get_mut(visit.patient.0 as usize) {
            *seen = true;
        }
    }
    let people = loading.tables.patients.iter().zip(moves).zip(is_seen);
    let unplaced = people.filter(|((_, moved), is_seen)| *is_seen && moved.is_none());
    let message = "no row of this person carries a quarter; the dates stay shifted and may count in a wrong quarter";
    let findings: Vec<Finding> = unplaced
        .map(|((patient, _), _)| {
            Finding::on_row(
                "no-carried-quarter",
                Severity::Note,
                patient.source,
                message,
            )
        })
        .collect();
    loading.findings.extend(findings);
}

fn of(moves: &[Option<i64>], patient: PatientKey) -> i64 {
    let known = moves.get(patient.0 as usize).copied().flatten();
    known.unwrap_or(0)
}

/// So many days earlier; the day itself where no such day can be written.
fn earlier(date: NaiveDate, days: i64) -> NaiveDate {
    let count = Days::new(days.unsigned_abs());
    let moved = if days >= 0 {
        date.checked_sub_days(count)
    } else {
        date.checked_add_days(count)
    };
    moved.unwrap_or(date)
}

/// `data_start` stands for "known from the beginning" where a row of facts has no day of its own, and is no date of anybody.
fn move_dates(tables: &mut Tables, moves: &[Option<i64>], data_start: NaiveDate) {
    for (patient, days) in tables.patients.iter_mut().zip(moves) {
        if let Some(days) = *days {
            move_person(patient, days, data_start);
        }
    }
    for row in &mut tables.visits {
        let days = of(moves, row.patient);
        row.date = earlier(row.date, days);
        row.planned_return = row.planned_return.map(|date| earlier(date, days));
    }
    for row in &mut tables.foot_exams {
        row.date = earlier(row.date, of(moves, row.patient));
    }
    for row in &mut tables.ulcer_observations {
        let days = of(moves, row.patient);
        row.date = earlier(row.date, days);
        if let Some(onset) = &mut row.onset {
            onset.dated.date = earlier(onset.dated.date, days);
        }
    }
    for row in &mut tables.events {
        row.date = earlier(row.date, of(moves, row.patient));
    }
}

fn move_person(patient: &mut Patient, days: i64, data_start: NaiveDate) {
    let answers = [&mut patient.prior_ulcer, &mut patient.prior_ulcer_denied];
    let answers = answers.into_iter().flatten();
    let amputations = (patient.prior_amputations.iter_mut()).map(|known| &mut known.recorded);
    let recorded = answers
        .chain(amputations)
        .chain(&mut patient.prior_amputation_denied)
        .chain(
            patient
                .renal_replacement
                .as_mut()
                .map(|answer| &mut answer.at),
        );
    for dated in recorded.filter(|dated| dated.date != data_start) {
        dated.date = earlier(dated.date, days);
    }
    let told: [Option<&mut Dated>; 2] = [patient.first_contact.as_mut(), patient.death.as_mut()];
    for dated in told.into_iter().flatten() {
        dated.date = earlier(dated.date, days);
    }
    patient.last_contact = patient.last_contact.map(|date| earlier(date, days));
}
