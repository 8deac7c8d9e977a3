//! The rows of one person by label, put together once; the lesions they make up are read from those up to a day.

use super::Person;
use super::lesions::{Lesion, Sightings, closed_before, openings, sightings, sightings_of_one};
use crate::rules::{Rules, days_between};
use crate::tables::{FootSite, NameId, Origin, Region, Side, UlcerObservation};
use chrono::NaiveDate;

/// Every row of one person by side and label, in the order of first rows. Rows up to a day are the beginning of each list, and
/// lists that begin later than others come behind them, so that a reading of an earlier day takes the beginning of all.
#[derive(Debug)]
pub(super) struct Threads<'a> {
    threads: Vec<Thread<'a>>,
    /// None has to do with another: no splits, no merges, no two at one site.
    are_apart: bool,
}

/// The rows of one label, and from which day on they tell what of it.
#[derive(Debug)]
struct Thread<'a> {
    first: &'a UlcerObservation,
    site: Option<(NaiveDate, FootSite)>,
    surgical: Option<(NaiveDate, ())>,
    parent: Option<(NaiveDate, NameId)>,
    survivor: Option<(NaiveDate, NameId)>,
    /// What each day tells of it, taken alone; its rows are in it.
    alone: Sightings<'a>,
}

/// What is told by a day, of something first told on another.
fn by<T: Copy>(until: NaiveDate, told: Option<(NaiveDate, T)>) -> Option<T> {
    told.filter(|(date, _)| *date <= until)
        .map(|(_, told)| told)
}

impl<'a> Thread<'a> {
    fn of(first: &'a UlcerObservation, rows: &[&'a UlcerObservation]) -> Self {
        let all = || rows.iter();
        let is_surgical = |row: &UlcerObservation| row.origin == Some(Origin::PostSurgical);
        Self {
            first,
            site: all().find_map(|row| Some((row.date, row.site?))),
            surgical: all().find_map(|row| is_surgical(row).then_some((row.date, ()))),
            parent: all().find_map(|row| Some((row.date, row.parent?))),
            survivor: all().find_map(|row| Some((row.date, row.merged_into?))),
            alone: sightings_of_one(rows).into(),
        }
    }

    fn lesion(&self, until: NaiveDate, sightings: Sightings<'a>) -> Option<Lesion<'a>> {
        let site = by(until, self.site);
        if site.is_some_and(|site| site.region == Region::AboveFoot) {
            return None;
        }
        Some(Lesion {
            patient: self.first.patient,
            side: self.first.side,
            label: self.first.label,
            site,
            is_post_surgical: by(until, self.surgical).is_some(),
            parent: by(until, self.parent),
            sightings,
        })
    }
}

impl<'a> Threads<'a> {
    pub(super) fn of(person: &Person<'a>) -> Self {
        let mut gathered: Vec<Vec<&'a UlcerObservation>> = Vec::new();
        for row in person.observations {
            let is_own = |rows: &&mut Vec<&UlcerObservation>| {
                let first = rows.first();
                first.is_some_and(|first| (first.side, first.label) == (row.side, row.label))
            };
            match gathered.iter_mut().find(is_own) {
                Some(rows) => rows.push(row),
                None => gathered.push(vec![row]),
            }
        }
        let mut threads = Vec::with_capacity(gathered.len());
        for rows in gathered {
            let first = rows.first().copied();
            threads.extend(first.map(|first| Thread::of(first, &rows)));
        }
        Self {
            are_apart: are_apart(&threads),
            threads,
        }
    }

    /// The lesions that the rows up to a day tell of. Lesions above the foot are left out.
    pub(super) fn lesions(&self, until: NaiveDate, rules: &Rules) -> Vec<Lesion<'a>> {
        let begun = self.threads.iter();
        let begun = begun.take_while(|thread| thread.first.date <= until);
        let mut lesions = Vec::with_capacity(self.threads.len());
        if self.are_apart {
            let alone = begun.filter_map(|thread| thread.lesion(until, thread.alone.up_to(until)));
            lesions.extend(alone);
            return lesions;
        }
        let mut parts: Vec<Part<'_, 'a>> = begun
            .enumerate()
            .map(|(root, thread)| Part::of(thread, root, until))
            .collect();
        if parts.len() > 1 {
            join_parts(&mut parts);
            join_reopened_sites(&mut parts, rules);
        }
        let roots = parts.iter().enumerate();
        for (root, own) in roots.filter(|(place, part)| part.root == *place) {
            let of_root = || parts.iter().filter(move |part| part.root == root);
            let is_alone =
                own.parent().is_none() && own.survivor().is_none() && of_root().nth(1).is_none();
            let seen = if is_alone {
                own.thread.alone.up_to(until)
            } else {
                sightings(&of_root().collect::<Vec<_>>()).into()
            };
            lesions.extend(own.thread.lesion(until, seen));
        }
        lesions
    }
}

fn are_apart(threads: &[Thread<'_>]) -> bool {
    let has_parts = |thread: &Thread<'_>| thread.parent.is_some() || thread.survivor.is_some();
    let place = |thread: &Thread<'_>| Some((thread.first.side, thread.site?.1));
    let shares_site = |(position, one): (usize, &Thread<'_>)| {
        let before = threads.iter().take(position);
        place(one).is_some() && before.map(place).any(|other| other == place(one))
    };
    !threads.iter().any(has_parts) && !threads.iter().enumerate().any(shares_site)
}

/// A thread as far as it was known on a day.
pub(super) struct Part<'t, 'a> {
    thread: &'t Thread<'a>,
    until: NaiveDate,
    /// Its rows up to the day.
    pub(super) rows: Vec<&'a UlcerObservation>,
    /// Position of the part that it belongs to.
    root: usize,
}

impl<'t, 'a> Part<'t, 'a> {
    fn of(thread: &'t Thread<'a>, root: usize, until: NaiveDate) -> Self {
        let known = thread.alone.iter().take_while(|seen| seen.at.date <= until);
        Self {
            thread,
            until,
            rows: known.flat_map(|seen| seen.rows.iter().copied()).collect(),
            root,
        }
    }

    pub(super) fn label(&self) -> NameId {
        self.thread.first.label
    }

    fn side(&self) -> Side {
        self.thread.first.side
    }

    fn site(&self) -> Option<FootSite> {
        by(self.until, self.thread.site)
    }

    fn is_surgical(&self) -> bool {
        by(self.until, self.thread.surgical).is_some()
    }

    fn parent(&self) -> Option<NameId> {
        by(self.until, self.thread.parent)
    }

    fn survivor(&self) -> Option<NameId> {
        by(self.until, self.thread.survivor)
    }
}

/// A part belongs to the lesion it split from; a merged lesion belongs to the one that survives.
/// A surgical wound names the lesion it replaces as its parent and stays a wound of its own.
fn join_parts(parts: &mut [Part<'_, '_>]) {
    for position in 0..parts.len() {
        let part = &parts[position];
        let parent = part.parent().filter(|_| !part.is_surgical());
        let Some(target_label) = parent.or(part.survivor()) else {
            continue;
        };
        let side = part.side();
        let target = parts
            .iter()
            .position(|other| other.side() == side && other.label() == target_label);
        if let Some(target) = target {
            unite(parts, position, target);
        }
    }
}

/// A label that opens at the site of a closed lesion within the reopening window continues it, whatever life the label
/// had before.
fn join_reopened_sites(parts: &mut [Part<'_, '_>], rules: &Rules) {
    for later in 0..parts.len() {
        let Some(site) = parts[later].site().filter(|_| !parts[later].is_surgical()) else {
            continue;
        };
        let side = parts[later].side();
        let is_alone = !parts.iter().enumerate().any(|(place, other)| {
            place != later && other.side() == side && other.site() == Some(site)
        });
        if is_alone {
            continue;
        }
        for opened in openings(&parts[later].rows) {
            let earlier = (0..parts.len()).find(|&earlier| {
                parts[earlier].root != parts[later].root
                    && parts[earlier].side() == side
                    && parts[earlier].site() == Some(site)
                    && !parts[earlier].is_surgical()
                    && closed_before(&parts[earlier].rows, opened).is_some_and(|closed| {
                        days_between(closed, opened) <= rules.reopening_window_days
                    })
            });
            if let Some(earlier) = earlier {
                let root = parts[earlier].root;
                unite(parts, later, root);
            }
        }
    }
}

/// Puts two parts, and all that already belongs to either, under one root.
fn unite(parts: &mut [Part<'_, '_>], from: usize, to: usize) {
    let (old, new) = (parts[from].root, parts[to].root);
    for part in parts.iter_mut().filter(|part| part.root == old) {
        part.root = new;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tables::{Patient, PatientKey, SourceRow, UlcerState};

    /// Rows of one person by a small generator of numbers: labels, sites and states come in any order.
    fn rows(seed: u64) -> Vec<UlcerObservation> {
        let mut state = seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) + 1;
        let mut below = |n: u64| {
            state = state.wrapping_mul(6_364_136_223_846_793_005) + 1;
            (state >> 33) % n
        };
        let start = NaiveDate::from_ymd_opt(2024, 1, 1).unwrap();
        let mut rows: Vec<UlcerObservation> = (0..below(12))
            .map(|record| {
                let date = start + chrono::Days::new(below(120));
                let side = Side::ALL[below(2) as usize];
                let label = NameId::at(below(3) as u32);
                let source = SourceRow {
                    file: 0,
                    record: record as u32,
                };
                let mut row = UlcerObservation::new(PatientKey(0), date, side, label, source);
                let sites = ["heel", "mth-1", "toe-2", "midfoot", "above-foot"];
                row.site = FootSite::from_code(sites[below(5) as usize]).filter(|_| below(3) > 0);
                row.state = Some(UlcerState::ALL[below(4) as usize]).filter(|_| below(5) > 0);
                row.origin = (below(9) == 0).then_some(Origin::PostSurgical);
                row.parent = (below(40) == 0).then_some(NameId::at(0));
                row
            })
            .collect();
        rows.sort_by_key(|row| (row.date, row.side, row.label, row.source));
        rows
    }

    fn told(lesions: &[Lesion<'_>]) -> Vec<String> {
        let tell = |lesion: &Lesion<'_>| {
            let seen: Vec<String> = lesion
                .sightings
                .iter()
                .map(|seen| format!("{:?} {:?} {:?}", seen.at, seen.state, &*seen.rows))
                .collect();
            format!(
                "{:?} {:?} {:?} {} {:?} {seen:?}",
                lesion.side, lesion.label, lesion.site, lesion.is_post_surgical, lesion.parent
            )
        };
        lesions.iter().map(tell).collect()
    }

    #[test]
    fn lesions_up_to_a_day_are_those_of_somebody_of_whom_only_those_rows_are_known() {
        let patient = Patient::new("P", SourceRow::default());
        let rules = Rules::default();
        let mut n_apart = 0;
        for seed in 0..400 {
            let rows = rows(seed);
            let person = Person {
                key: PatientKey(0),
                patient: &patient,
                visits: &[],
                foot_exams: &[],
                observations: &rows,
                events: &[],
            };
            let threads = Threads::of(&person);
            n_apart += usize::from(threads.are_apart);
            let together = Threads {
                are_apart: false,
                ..Threads::of(&person)
            };
            for row in &rows {
                let known = Threads::of(&person.up_to(row.date));
                let read = told(&known.lesions(NaiveDate::MAX, &rules));
                for threads in [&threads, &together] {
                    assert_eq!(
                        told(&threads.lesions(row.date, &rules)),
                        read,
                        "seed {seed}"
                    );
                }
            }
        }
        assert!((100..400).contains(&n_apart), "{n_apart}");
    }
}
