//! Sizes that are of another order in one part of an export than in all others: a unit may differ there.
//!
//! The middle of a whole column cannot show that one of several clinic sites writes centimetres into it.

use super::{Magnitudes, found, middle_of};
use crate::finding::Finding;
use crate::tables::{NameId, PatientKey, SourceRow, Tables, Visit};
use chrono::{Datelike, NaiveDate};
use std::collections::{BTreeMap, BTreeSet, HashMap};

/// Fewer numbers have no middle worth judging.
const FEWEST: u64 = 20;
/// One person has wounds of one kind.
const FEWEST_PEOPLE: usize = 5;
/// So many times as large, or as small, is no difference between people: millimetres are ten to the centimetre, kilopascals
/// seven and a half millimetres of mercury.
const FACTOR: f64 = 5.0;
/// More sites or clinicians than any practice has: the column holds something else.
const MOST_PARTS: usize = 2_000;

/// What parts an export, the widest part first: whoever works at one site only differs as it does.
const WAYS: [&str; 3] = [
    "at the clinic site of this row",
    "of the clinician of this row",
    "in the quarter of this row",
];

/// Lengths, areas and pressures whose middle in one part is far from that in all others.
pub(super) fn sizes_of_another_unit(tables: &Tables, findings: &mut Vec<Finding>) {
    let mut lengths = Whole::default();
    let mut areas = Whole::default();
    let mut visits = Visits::of(tables);
    for row in &tables.ulcer_observations {
        let (length, area) = (row.length_cm, row.area_cm2);
        if length.is_some() || area.is_some() {
            let ways = visits.ways(row.patient, row.date);
            lengths.add(length, row.patient, row.source, ways);
            areas.add(area, row.patient, row.source, ways);
        }
    }
    let mut ankles = Whole::default();
    let mut toes = Whole::default();
    let mut visits = Visits::of(tables);
    for row in &tables.foot_exams {
        let (ankle, toe) = (row.ankle_mmhg, row.toe_mmhg);
        if ankle.is_some() || toe.is_some() {
            let ways = visits.ways(row.patient, row.date);
            ankles.add(ankle, row.patient, row.source, ways);
            toes.add(toe, row.patient, row.source, ways);
        }
    }
    lengths.judge("lengths", FACTOR, findings);
    // a factor of lengths counts twice in areas
    areas.judge("areas", FACTOR * FACTOR, findings);
    ankles.judge("ankle pressures", FACTOR, findings);
    toes.judge("toe pressures", FACTOR, findings);
}

/// The visits, gone along with rows in the order of people and days.
struct Visits<'t> {
    rest: &'t [Visit],
}

impl<'t> Visits<'t> {
    fn of(tables: &'t Tables) -> Self {
        Self {
            rest: &tables.visits,
        }
    }

    /// The parts that a row of a person and day belongs to, by number.
    fn ways(&mut self, patient: PatientKey, date: NaiveDate) -> [Option<u32>; WAYS.len()] {
        while let [first, rest @ ..] = self.rest
            && (first.patient, first.date) < (patient, date)
        {
            self.rest = rest;
        }
        let visit =
            (self.rest.first()).filter(|visit| (visit.patient, visit.date) == (patient, date));
        let name = |name: Option<NameId>| name.map(NameId::number);
        let quarter = u32::try_from(date.year())
            .ok()
            .map(|year| 4 * year + date.month0() / 3);
        [
            visit.and_then(|visit| name(visit.clinic_site)),
            visit.and_then(|visit| name(visit.clinician)),
            quarter,
        ]
    }
}

/// Numbers of one kind.
#[derive(Default)]
struct Whole {
    ways: [Parts; WAYS.len()],
}

/// Numbers of one kind, part by part.
#[derive(Default)]
struct Parts {
    all: Magnitudes,
    /// Place among the parts, by the number of the part.
    places: HashMap<u32, usize>,
    /// The part of the row before: rows of one person mostly share theirs.
    last: Option<(u32, usize)>,
    parts: Vec<Part>,
}

/// The numbers of one part.
#[derive(Default)]
struct Part {
    sizes: Magnitudes,
    people: BTreeSet<PatientKey>,
    first: SourceRow,
}

impl Whole {
    fn add(
        &mut self,
        value: Option<f32>,
        patient: PatientKey,
        source: SourceRow,
        ways: [Option<u32>; WAYS.len()],
    ) {
        let Some(value) = value.map(f64::from) else {
            return;
        };
        for (parts, number) in self.ways.iter_mut().zip(ways) {
            if let Some(number) = number {
                parts.add(value, patient, source, number);
            }
        }
    }

    /// Parts by clinicians or quarters are looked at where no site differs.
    fn judge(&self, what: &str, factor: f64, findings: &mut Vec<Finding>) {
        for (parts, place) in self.ways.iter().zip(WAYS) {
            let found = parts.judge(what, factor, place);
            if !found.is_empty() {
                findings.extend(found);
                return;
            }
        }
    }
}

impl Parts {
    fn add(&mut self, value: f64, patient: PatientKey, source: SourceRow, number: u32) {
        self.all.add(value);
        if self.parts.len() > MOST_PARTS {
            return;
        }
        let next = self.parts.len();
        let place = match self.last {
            Some((last, place)) if last == number => place,
            _ => *self.places.entry(number).or_insert(next),
        };
        self.last = Some((number, place));
        if place == next {
            self.parts.push(Part {
                first: source,
                ..Part::default()
            });
        }
        if let Some(part) = self.parts.get_mut(place) {
            part.sizes.add(value);
            if part.people.len() < FEWEST_PEOPLE {
                part.people.insert(patient);
            }
        }
    }

    fn judge(&self, what: &str, factor: f64, place: &str) -> Vec<Finding> {
        if self.parts.len() > MOST_PARTS {
            return Vec::new();
        }
        let are_enough = |part: &&Part| part.people.len() >= FEWEST_PEOPLE;
        let mut findings = Vec::new();
        for part in self.parts.iter().filter(are_enough) {
            let here = middle(&part.sizes, None);
            let elsewhere = middle(&self.all, Some(&part.sizes));
            let (Some(here), Some(elsewhere)) = (here, elsewhere) else {
                continue;
            };
            if here < factor * elsewhere && elsewhere < factor * here {
                continue;
            }
            let mut finding = found("sizes-of-another-unit", part.first, "");
            finding.message = format!(
                "the middle of the {what} {place} is of another order than that of all others"
            );
            findings.push(finding.with_hint(
                "a unit may differ there: where a column tells it, say `unit = { column = \"clinic\", codes = \"units\" }` in the layout; else export that part apart, and read it by a [[version]]",
            ));
        }
        findings
    }
}

/// The middle of numbers, those of a part left out; `None` where too few remain.
fn middle(all: &Magnitudes, without: Option<&Magnitudes>) -> Option<f64> {
    let left_out: BTreeMap<u16, u64> =
        without.map_or_else(BTreeMap::new, |part| part.bins().into_iter().collect());
    let bins: Vec<(u16, u64)> = all
        .bins()
        .into_iter()
        .map(|(bin, n)| (bin, n - left_out.get(&bin).copied().unwrap_or(0).min(n)))
        .collect();
    let n: u64 = bins.iter().map(|(_, n)| n).sum();
    if n < FEWEST {
        return None;
    }
    let mut n_before = 0;
    bins.into_iter()
        .find(|(_, n_here)| {
            n_before += n_here;
            2 * n_before >= n
        })
        .map(|(bin, _)| middle_of(bin))
}
