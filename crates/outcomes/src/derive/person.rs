//! The rows of one person, in the order in which derivation reads them.

use crate::tables::{
    Attendance, Dated, Event, FootExam, Patient, PatientKey, SeenBy, Side, Tables,
    UlcerObservation, Visit,
};
use chrono::NaiveDate;

/// Puts every table in the order derivation reads it: by person, then date, then content, then source row.
/// Content comes before the row, so that the order of rows in an export never changes a figure.
pub fn in_reading_order(mut tables: Tables) -> Tables {
    let n_people = tables.patients.len();
    let (visits, exams) = (&mut tables.visits, &mut tables.foot_exams);
    let (ulcers, events) = (&mut tables.ulcer_observations, &mut tables.events);
    // half of the rows, more or less, for each core
    std::thread::scope(|scope| {
        scope.spawn(|| {
            sort_by_person(ulcers, n_people, |row| row.patient, order_of_observations);
            sort_by_person(events, n_people, |row| row.patient, order_of_events);
        });
        let order_of_visits = |row: &Visit| (row.date, row.attendance, row.source);
        sort_by_person(visits, n_people, |row| row.patient, order_of_visits);
        sort_by_person(exams, n_people, |row| row.patient, order_of_exams);
    });
    tables
}

fn order_of_exams(row: &FootExam) -> impl Ord + use<> {
    let pressures = [
        row.abi,
        row.tbi,
        row.toe_mmhg,
        row.ankle_mmhg,
        row.brachial_mmhg,
        row.tcpo2_mmhg,
    ]
    .map(|value| value.map(f32::to_bits));
    let signs = (row.sensation, row.pulses, row.waveform, row.deformity);
    (row.date, row.side, signs, pressures, row.source)
}

fn order_of_events(row: &Event) -> impl Ord + use<> {
    let what = (row.kind, row.side, row.ulcer_label, row.height);
    (row.date, what, row.is_staged, row.source)
}

/// Sorts rows by person and then by a key, as a stable sort would: each row goes to its person's rows at once, which spares most of
/// the comparing.
fn sort_by_person<R, K: Ord>(
    rows: &mut [R],
    n_people: usize,
    person: impl Fn(&R) -> PatientKey,
    key: impl Fn(&R) -> K,
) {
    // a key of nobody goes behind everybody
    let of = |row: &R| (person(row).0 as usize).min(n_people);
    let mut next = vec![0; n_people + 1];
    for row in rows.iter() {
        if let Some(n) = next.get_mut(of(row)) {
            *n += 1;
        }
    }
    let mut n_before = 0;
    for start in &mut next {
        n_before += std::mem::replace(start, n_before);
    }
    let mut places: Vec<usize> = rows
        .iter()
        .map(|row| match next.get_mut(of(row)) {
            Some(place) => {
                *place += 1;
                *place - 1
            }
            None => 0,
        })
        .collect();
    for at in 0..rows.len() {
        while let Some(to) = places.get(at).copied().filter(|to| *to != at) {
            rows.swap(at, to);
            places.swap(at, to);
        }
    }
    for rows in rows.chunk_by_mut(|left, right| of(left) == of(right)) {
        rows.sort_by_key(|row| (person(row), key(row)));
    }
}

/// What ulcer observations are ordered by: person, date, foot, label, content, source row.
pub(crate) fn order_of_observations(row: &UlcerObservation) -> impl Ord + use<> {
    let bits = |value: Option<f32>| value.map(f32::to_bits);
    let kind = (
        row.site,
        row.state,
        row.seen_by,
        row.origin,
        row.parent,
        row.merged_into,
    );
    let signs = (
        row.tissue_depth,
        row.gangrene,
        row.infection,
        row.osteomyelitis,
    );
    let sizes = [row.length_cm, row.width_cm, row.area_cm2].map(bits);
    (
        row.patient,
        row.date,
        row.side,
        row.label,
        kind,
        signs,
        sizes,
        row.source,
    )
}

/// All rows of one person, each in date order.
#[derive(Debug, Clone, Copy)]
pub struct Person<'a> {
    /// Cluster number.
    pub key: PatientKey,
    /// Facts about the person.
    pub patient: &'a Patient,
    /// Attendances, missed ones included.
    pub visits: &'a [Visit],
    /// Foot examinations.
    pub foot_exams: &'a [FootExam],
    /// Ulcers as seen.
    pub observations: &'a [UlcerObservation],
    /// Events.
    pub events: &'a [Event],
}

impl<'a> Person<'a> {
    /// The same person, of whom only rows dated up to a day have been read.
    pub fn up_to(&self, until: NaiveDate) -> Self {
        Self {
            visits: up_to(self.visits, until, |row| row.date),
            foot_exams: up_to(self.foot_exams, until, |row| row.date),
            observations: up_to(self.observations, until, |row| row.date),
            events: up_to(self.events, until, |row| row.date),
            ..*self
        }
    }

    /// Last day on which somebody of the clinic saw this person.
    pub fn last_seen(&self) -> Option<NaiveDate> {
        let kept = self
            .visits
            .iter()
            .rev()
            .find(|visit| visit.attendance == Attendance::Kept);
        let observed = self
            .observations
            .iter()
            .rev()
            .find(|row| row.seen_by == SeenBy::Clinician);
        let examined = self.foot_exams.last().map(|row| row.date);
        [
            kept.map(|visit| visit.date),
            observed.map(|row| row.date),
            examined,
        ]
        .into_iter()
        .flatten()
        .max()
    }

    /// Days from one to another, both included, on which somebody of the clinic saw this person, ascending.
    pub(crate) fn seen_days_within(&self, from: NaiveDate, to: NaiveDate) -> Vec<NaiveDate> {
        let kept = self
            .visits
            .iter()
            .filter(|visit| visit.attendance == Attendance::Kept)
            .map(|visit| visit.date);
        let mut days: Vec<NaiveDate> = kept
            .chain(self.foot_looks().map(|at| at.date))
            .filter(|date| (from..=to).contains(date))
            .collect();
        days.sort_unstable();
        days.dedup();
        days
    }

    /// Every time a clinician looked at a foot: examinations and ulcers seen.
    pub(crate) fn foot_looks(&self) -> impl Iterator<Item = Dated> + use<'a> {
        self.looks_at(None)
    }

    /// The same from a day on.
    pub(crate) fn foot_looks_from(&self, day: NaiveDate) -> impl Iterator<Item = Dated> + use<'a> {
        let later = Self {
            foot_exams: from(self.foot_exams, day, |row| row.date),
            observations: from(self.observations, day, |row| row.date),
            ..*self
        };
        later.foot_looks()
    }

    /// The same for one foot, or for both.
    pub(crate) fn looks_at(&self, side: Option<Side>) -> impl Iterator<Item = Dated> + use<'a> {
        let is_asked = move |of: Side| side.is_none_or(|side| side == of);
        let observed = self
            .observations
            .iter()
            .filter(move |row| row.seen_by == SeenBy::Clinician && is_asked(row.side))
            .map(|row| Dated::new(row.date, row.source));
        let examined = self.foot_exams.iter().filter(move |row| is_asked(row.side));
        examined
            .map(|row| Dated::new(row.date, row.source))
            .chain(observed)
    }
}

/// One [`Person`] per row of `patients`, in that order. The tables must be [`in_reading_order`].
pub fn people(tables: &Tables) -> Vec<Person<'_>> {
    let mut visits = tables.visits.as_slice();
    let mut foot_exams = tables.foot_exams.as_slice();
    let mut observations = tables.ulcer_observations.as_slice();
    let mut events = tables.events.as_slice();
    tables
        .patients
        .iter()
        .zip(0u32..)
        .map(|(patient, number)| {
            let key = PatientKey(number);
            Person {
                key,
                patient,
                visits: take_person(&mut visits, key, |row| row.patient),
                foot_exams: take_person(&mut foot_exams, key, |row| row.patient),
                observations: take_person(&mut observations, key, |row| row.patient),
                events: take_person(&mut events, key, |row| row.patient),
            }
        })
        .collect()
}

/// Rows are in date order, so those up to a day come first.
fn up_to<T>(rows: &[T], until: NaiveDate, date: fn(&T) -> NaiveDate) -> &[T] {
    &rows[..rows.partition_point(|row| date(row) <= until)]
}

fn from<T>(rows: &[T], day: NaiveDate, date: fn(&T) -> NaiveDate) -> &[T] {
    &rows[rows.partition_point(|row| date(row) < day)..]
}

fn take_person<'a, T>(
    rows: &mut &'a [T],
    key: PatientKey,
    patient: fn(&T) -> PatientKey,
) -> &'a [T] {
    // one after the other: looking for the ends by halves would jump about in the whole table for every person
    let n_before = rows.iter().take_while(|row| patient(row) < key).count();
    let own = &rows[n_before..];
    let n_own = own.iter().take_while(|row| patient(row) == key).count();
    let (own, others) = own.split_at(n_own);
    *rows = others;
    own
}
