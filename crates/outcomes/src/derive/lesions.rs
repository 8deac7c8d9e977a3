use super::Person;
use crate::rules::{Rules, days_between};
use crate::tables::{
    Dated, FootSite, NameId, Origin, PatientKey, Region, SeenBy, Side, UlcerObservation, UlcerState,
};
use chrono::NaiveDate;
use std::ops::Deref;
use std::sync::Arc;

/// One lesion of one person over the whole export: its own rows, those of the parts it split into, of the
/// lesions that merged into it, and of labels that took up the same site again within the reopening window.
#[derive(Debug, Clone)]
pub struct Lesion<'a> {
    /// Whose.
    pub patient: PatientKey,
    /// Which foot.
    pub side: Side,
    /// The label it is known by: that of its root.
    pub label: NameId,
    /// The site first recorded.
    pub site: Option<FootSite>,
    /// A surgical wound, not an ulcer.
    pub is_post_surgical: bool,
    /// The lesion whose removal left this surgical wound, where the export says so.
    pub parent: Option<NameId>,
    /// What was seen of it, a row a day, ascending.
    pub sightings: Sightings<'a>,
}

/// The first days of what was seen of a lesion. Readings of earlier days share one list with the reading at the cut-off.
#[derive(Debug, Clone)]
pub struct Sightings<'a> {
    all: Arc<[Sighting<'a>]>,
    n: usize,
}

impl<'a> From<Vec<Sighting<'a>>> for Sightings<'a> {
    fn from(all: Vec<Sighting<'a>>) -> Self {
        Self {
            n: all.len(),
            all: all.into(),
        }
    }
}

impl<'a> Deref for Sightings<'a> {
    type Target = [Sighting<'a>];

    fn deref(&self) -> &Self::Target {
        self.all.get(..self.n).unwrap_or(&self.all)
    }
}

/// What one day's rows tell about one lesion.
#[derive(Debug, Clone)]
pub struct Sighting<'a> {
    /// Day and first row.
    pub at: Dated,
    /// What the rows tell of its state.
    pub state: Seen,
    /// The day's rows of all its parts.
    pub rows: DayRows<'a>,
}

/// The rows of one day, nearly always one.
#[derive(Debug, Clone)]
pub enum DayRows<'a> {
    /// One row.
    One(&'a UlcerObservation),
    /// Several.
    Several(Vec<&'a UlcerObservation>),
}

impl<'a> Deref for DayRows<'a> {
    type Target = [&'a UlcerObservation];

    fn deref(&self) -> &Self::Target {
        match self {
            Self::One(row) => std::slice::from_ref(row),
            Self::Several(rows) => rows,
        }
    }
}

impl<'a> FromIterator<&'a UlcerObservation> for DayRows<'a> {
    fn from_iter<I: IntoIterator<Item = &'a UlcerObservation>>(rows: I) -> Self {
        let mut rows = rows.into_iter();
        match (rows.next(), rows.next()) {
            (Some(only), None) => Self::One(only),
            (first, second) => Self::Several(first.into_iter().chain(second).chain(rows).collect()),
        }
    }
}

/// State of a lesion as far as one day's rows tell.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Seen {
    /// Open, seen by anybody.
    Open,
    /// Every part closed, seen by a clinician.
    Closed,
    /// Removed by surgery.
    Excised,
    /// The rows do not tell: no state, a pre-ulcerative state, a closure not seen by a clinician, or a
    /// closed part beside another that was open when last seen.
    NotTold,
}

struct Thread<'a> {
    side: Side,
    label: NameId,
    rows: Vec<&'a UlcerObservation>,
    root: usize,
}

/// The lesions of one person. Lesions above the foot are left out.
pub(super) fn lesions<'a>(person: &Person<'a>, rules: &Rules) -> Vec<Lesion<'a>> {
    let mut threads = threads(person.observations);
    if threads.len() > 1 {
        join_parts(&mut threads);
        join_reopened_sites(&mut threads, rules);
    }
    let roots: Vec<usize> = (0..threads.len())
        .filter(|&position| threads[position].root == position)
        .collect();
    roots
        .into_iter()
        .filter_map(|root| {
            let parts: Vec<&Thread<'a>> = threads
                .iter()
                .filter(|thread| thread.root == root)
                .collect();
            let first = threads[root].rows.first()?;
            let site = threads[root].rows.iter().find_map(|row| row.site);
            if site.is_some_and(|site| site.region == Region::AboveFoot) {
                return None;
            }
            Some(Lesion {
                patient: first.patient,
                side: first.side,
                label: first.label,
                site,
                is_post_surgical: threads[root]
                    .rows
                    .iter()
                    .any(|row| row.origin == Some(Origin::PostSurgical)),
                parent: threads[root].rows.iter().find_map(|row| row.parent),
                sightings: sightings(&parts).into(),
            })
        })
        .collect()
}

/// The lesions of a person none of which has to do with another: no splits, no merges, no two at one site. What was seen of
/// each up to a day is then the beginning of what was seen of it in all.
#[derive(Debug)]
pub(super) struct Apart<'a>(Vec<Alone<'a>>);

#[derive(Debug)]
struct Alone<'a> {
    first: &'a UlcerObservation,
    site: Option<(NaiveDate, FootSite)>,
    surgical_from: Option<NaiveDate>,
    sightings: Sightings<'a>,
}

impl<'a> Apart<'a> {
    /// `None` where lesions may have to do with one another.
    pub(super) fn of(person: &Person<'a>) -> Option<Self> {
        let rows = person.observations;
        if rows
            .iter()
            .any(|row| row.parent.is_some() || row.merged_into.is_some())
        {
            return None;
        }
        let alone: Option<Vec<Alone<'a>>> = threads(rows).iter().map(Alone::of).collect();
        let alone = alone?;
        let place = |one: &Alone<'_>| Some((one.first.side, one.site?.1));
        let shares_site = |(position, one): (usize, &Alone<'_>)| {
            let before = alone.iter().take(position);
            place(one).is_some() && before.map(place).any(|other| other == place(one))
        };
        let is_apart = !alone.iter().enumerate().any(shares_site);
        is_apart.then_some(Self(alone))
    }

    /// What [`lesions`] makes of the rows up to a day.
    pub(super) fn lesions(&self, until: NaiveDate) -> Vec<Lesion<'a>> {
        let seen = self.0.iter().filter(|one| one.first.date <= until);
        seen.filter_map(|one| one.lesion(until)).collect()
    }
}

impl<'a> Alone<'a> {
    fn of(thread: &Thread<'a>) -> Option<Self> {
        let mut rows = thread.rows.iter();
        Some(Self {
            first: thread.rows.first()?,
            site: rows.clone().find_map(|row| Some((row.date, row.site?))),
            surgical_from: rows
                .find(|row| row.origin == Some(Origin::PostSurgical))
                .map(|row| row.date),
            sightings: sightings_of_one(thread).into(),
        })
    }

    fn lesion(&self, until: NaiveDate) -> Option<Lesion<'a>> {
        let site = self.site.filter(|(date, _)| *date <= until);
        let site = site.map(|(_, site)| site);
        if site.is_some_and(|site| site.region == Region::AboveFoot) {
            return None;
        }
        Some(Lesion {
            patient: self.first.patient,
            side: self.first.side,
            label: self.first.label,
            site,
            is_post_surgical: self.surgical_from.is_some_and(|from| from <= until),
            parent: None,
            sightings: Sightings {
                all: Arc::clone(&self.sightings.all),
                n: self
                    .sightings
                    .partition_point(|sighting| sighting.at.date <= until),
            },
        })
    }
}

/// Rows by side and label; threads in order of their first row.
fn threads(rows: &[UlcerObservation]) -> Vec<Thread<'_>> {
    let mut threads: Vec<Thread<'_>> = Vec::new();
    for row in rows {
        match threads
            .iter_mut()
            .find(|thread| thread.side == row.side && thread.label == row.label)
        {
            Some(thread) => thread.rows.push(row),
            None => {
                let root = threads.len();
                threads.push(Thread {
                    side: row.side,
                    label: row.label,
                    rows: vec![row],
                    root,
                });
            }
        }
    }
    threads
}

/// A part belongs to the lesion it split from; a merged lesion belongs to the one that survives.
/// A surgical wound names the lesion it replaces as its parent and stays a wound of its own.
fn join_parts(threads: &mut [Thread<'_>]) {
    for position in 0..threads.len() {
        let thread = &threads[position];
        let is_post_surgical = thread
            .rows
            .iter()
            .any(|row| row.origin == Some(Origin::PostSurgical));
        let parent = thread
            .rows
            .iter()
            .find_map(|row| row.parent)
            .filter(|_| !is_post_surgical);
        let survivor = thread.rows.iter().find_map(|row| row.merged_into);
        let Some(target_label) = parent.or(survivor) else {
            continue;
        };
        let side = thread.side;
        let target = threads
            .iter()
            .position(|other| other.side == side && other.label == target_label);
        if let Some(target) = target {
            unite(threads, position, target);
        }
    }
}

/// A label that opens at the site of a closed lesion within the reopening window continues it, whatever life the label
/// had before.
fn join_reopened_sites(threads: &mut [Thread<'_>], rules: &Rules) {
    let site_of = |thread: &Thread<'_>| thread.rows.iter().find_map(|row| row.site);
    let is_surgical = |thread: &Thread<'_>| {
        thread
            .rows
            .iter()
            .any(|row| row.origin == Some(Origin::PostSurgical))
    };
    for later in 0..threads.len() {
        let Some(site) = site_of(&threads[later]).filter(|_| !is_surgical(&threads[later])) else {
            continue;
        };
        let side = threads[later].side;
        let is_alone = !threads.iter().enumerate().any(|(place, other)| {
            place != later && other.side == side && site_of(other) == Some(site)
        });
        if is_alone {
            continue;
        }
        for opened in openings(&threads[later].rows) {
            let earlier = (0..threads.len()).find(|&earlier| {
                threads[earlier].root != threads[later].root
                    && threads[earlier].side == side
                    && site_of(&threads[earlier]) == Some(site)
                    && !is_surgical(&threads[earlier])
                    && closed_before(&threads[earlier].rows, opened).is_some_and(|closed| {
                        days_between(closed, opened) <= rules.reopening_window_days
                    })
            });
            if let Some(earlier) = earlier {
                let root = threads[earlier].root;
                unite(threads, later, root);
            }
        }
    }
}

/// Days on which a label is seen open and was not open when last seen.
fn openings(rows: &[&UlcerObservation]) -> Vec<NaiveDate> {
    let mut is_open = false;
    let mut days = Vec::new();
    for row in rows {
        match row.state {
            Some(UlcerState::Open) if !is_open => {
                is_open = true;
                days.push(row.date);
            }
            Some(UlcerState::Closed | UlcerState::Excised) => is_open = false,
            _ => {}
        }
    }
    days
}

/// First day of the closed spell that was current on `day`, if the rows were closed then.
fn closed_before(rows: &[&UlcerObservation], day: NaiveDate) -> Option<NaiveDate> {
    let mut closed = None;
    for row in rows.iter().take_while(|row| row.date <= day) {
        match row.state {
            Some(UlcerState::Closed) if row.seen_by == SeenBy::Clinician => {
                closed = closed.or(Some(row.date));
            }
            Some(UlcerState::Open) => closed = None,
            _ => {}
        }
    }
    closed
}

/// Puts two threads, and all that already belongs to either, under one root.
fn unite(threads: &mut [Thread<'_>], from: usize, to: usize) {
    let (old, new) = (threads[from].root, threads[to].root);
    for thread in threads.iter_mut().filter(|thread| thread.root == old) {
        thread.root = new;
    }
}

/// Days of all parts together. A part that others have replaced (a parent not seen after its parts
/// appear, a lesion from the day it merged) no longer keeps the lesion open.
fn sightings<'a>(parts: &[&Thread<'a>]) -> Vec<Sighting<'a>> {
    if let [only] = parts
        && only
            .rows
            .iter()
            .all(|row| row.parent.is_none() && row.merged_into.is_none())
    {
        return sightings_of_one(only);
    }
    let mut rows: Vec<(usize, &'a UlcerObservation)> = parts
        .iter()
        .enumerate()
        .flat_map(|(part, thread)| thread.rows.iter().map(move |row| (part, *row)))
        .collect();
    // Stable: rows of one part and day stay in reading order.
    rows.sort_by_key(|(part, row)| (row.date, *part));
    let mut last = vec![Seen::NotTold; parts.len()];
    let mut sightings: Vec<Sighting<'a>> = Vec::new();
    for day in rows.chunk_by(|left, right| left.1.date == right.1.date) {
        let date = day[0].1.date;
        let mut today = vec![Seen::NotTold; parts.len()];
        for (part, row) in day {
            today[*part] = stronger(today[*part], seen(row));
        }
        for part in 0..parts.len() {
            if today[part] != Seen::NotTold {
                last[part] = today[part];
            }
            if is_replaced(parts, part, date) {
                last[part] = Seen::NotTold;
                today[part] = Seen::NotTold;
            }
        }
        let state = if today.contains(&Seen::Open) {
            Seen::Open
        } else if today.iter().all(|state| *state == Seen::NotTold) || last.contains(&Seen::Open) {
            Seen::NotTold
        } else if last.contains(&Seen::Excised) {
            // Of a split lesion with an excised part the rest did not heal without amputation.
            Seen::Excised
        } else {
            Seen::Closed
        };
        sightings.push(Sighting {
            at: Dated::new(date, day[0].1.source),
            state,
            rows: day.iter().map(|(_, row)| *row).collect(),
        });
    }
    sightings
}

/// The same of one part that nothing replaces: each day tells its own state.
fn sightings_of_one<'a>(only: &Thread<'a>) -> Vec<Sighting<'a>> {
    let days = only.rows.chunk_by(|left, right| left.date == right.date);
    days.map(|day| Sighting {
        at: Dated::new(day[0].date, day[0].source),
        state: day
            .iter()
            .map(|row| seen(row))
            .fold(Seen::NotTold, stronger),
        rows: day.iter().copied().collect(),
    })
    .collect()
}

/// What one row tells of the state; only a clinician closes.
pub(crate) fn seen(row: &UlcerObservation) -> Seen {
    match row.state {
        Some(UlcerState::Open) => Seen::Open,
        Some(UlcerState::Closed) if row.seen_by == SeenBy::Clinician => Seen::Closed,
        Some(UlcerState::Excised) => Seen::Excised,
        Some(UlcerState::Closed | UlcerState::PreUlcerative) | None => Seen::NotTold,
    }
}

/// Of two rows of one day the one that keeps the lesion open wins.
fn stronger(left: Seen, right: Seen) -> Seen {
    let rank = |state: Seen| match state {
        Seen::Open => 3,
        Seen::Excised => 2,
        Seen::Closed => 1,
        Seen::NotTold => 0,
    };
    if rank(right) > rank(left) {
        right
    } else {
        left
    }
}

/// Whether others stand for a part on a day: a lesion that has merged and was not seen open by itself since, a parent
/// not seen since its parts appeared.
fn is_replaced(parts: &[&Thread<'_>], part: usize, date: NaiveDate) -> bool {
    let thread = parts[part];
    let seen = thread.rows.iter().filter(|row| row.date <= date);
    let merged = seen.clone().filter(|row| {
        row.merged_into
            .is_some_and(|survivor| parts.iter().any(|other| other.label == survivor))
    });
    if let Some(merged) = merged.map(|row| row.date).max() {
        return !seen
            .clone()
            .any(|row| row.date > merged && row.state == Some(UlcerState::Open));
    }
    let children = parts.iter().filter(|other| {
        other
            .rows
            .iter()
            .any(|row| row.parent == Some(thread.label))
    });
    let first_child = children
        .filter_map(|other| other.rows.first())
        .map(|row| row.date)
        .min();
    first_child.is_some_and(|first| first <= date && !seen.clone().any(|row| row.date >= first))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tables::{Patient, SourceRow};

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
                let label = NameId(below(3) as u32);
                let source = SourceRow {
                    file: 0,
                    record: record as u32,
                };
                let mut row = UlcerObservation::new(PatientKey(0), date, side, label, source);
                let sites = ["heel", "mth-1", "toe-2", "midfoot", "above-foot"];
                row.site = FootSite::from_code(sites[below(5) as usize]).filter(|_| below(3) > 0);
                row.state = Some(UlcerState::ALL[below(4) as usize]).filter(|_| below(5) > 0);
                row.origin = (below(9) == 0).then_some(Origin::PostSurgical);
                row.parent = (below(40) == 0).then_some(NameId(0));
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
    fn lesions_known_to_be_apart_are_those_read_from_the_rows_up_to_a_day() {
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
            let Some(apart) = Apart::of(&person) else {
                continue;
            };
            n_apart += 1;
            for row in &rows {
                let read = lesions(&person.up_to(row.date), &rules);
                assert_eq!(told(&apart.lesions(row.date)), told(&read), "seed {seed}");
            }
        }
        assert!((100..400).contains(&n_apart), "{n_apart}");
    }
}
