//! How an ulcer presented: its grades and its areas.

use super::Person;
use super::episode::Episode;
use super::lesions::{Lesion, Seen, Sighting};
use crate::grade::{
    AreaMethod, GradeRange, Perfusion, SinbadItems, area_cm2, area_method, infection_grade,
    ischaemia_grade, perimeter_cm, reduced_flow, sinbad, stage, wound_grade,
};
use crate::rules::{Rules, days_after};
use crate::tables::{
    Dated, EventKind, FootExam, Gangrene, InfectionGrade, Region, Sensation, Side, TissueDepth,
    UlcerObservation, UlcerState,
};
use chrono::{Months, NaiveDate};

/// Grades at presentation, each a range where items are missing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Presentation {
    /// Area, square cm.
    pub area_cm2: Option<f64>,
    /// SINBAD score 0 to 6.
    pub sinbad: GradeRange,
    /// WIfI stage 1 to 4.
    pub wifi_stage: GradeRange,
    /// WIfI ischaemia grade 0 to 3.
    pub ischaemia: GradeRange,
    /// Foot infection grade 0 to 3.
    pub infection: GradeRange,
    /// Extent of gangrene.
    pub gangrene: Option<Gangrene>,
    /// Deepest tissue reached.
    pub depth: Option<TissueDepth>,
    /// Osteomyelitis.
    pub has_osteomyelitis: Option<bool>,
}

impl Presentation {
    /// Gangrene seen.
    pub fn has_gangrene(&self) -> Option<bool> {
        self.gangrene.map(|gangrene| gangrene != Gangrene::Absent)
    }
}

/// One area of one episode.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AreaPoint {
    /// Day and row.
    pub at: Dated,
    /// Square cm; 0 once closed.
    pub area_cm2: f64,
    /// Perimeter in cm, 0 once closed; `None` where areas were traced.
    pub perimeter_cm: Option<f64>,
}

/// Grades of one ulcer at its first visit, from that day's rows and from exams of that foot: the newest known item
/// in the months an item stays known, up to the presentation window after the first visit.
pub(super) fn presentation(
    episode: &Episode,
    lesion: &Lesion<'_>,
    person: &Person<'_>,
    rules: &Rules,
) -> Presentation {
    let index = episode.index;
    let first_day = first_day(episode, lesion);
    let first =
        |pick: fn(&UlcerObservation) -> Option<bool>| first_day.iter().find_map(|row| pick(row));
    let worst_depth: Option<TissueDepth> =
        first_day.iter().filter_map(|row| row.tissue_depth).max();
    let gangrene: Option<Gangrene> = first_day.iter().filter_map(|row| row.gangrene).max();
    let infection: Option<InfectionGrade> = first_day.iter().filter_map(|row| row.infection).max();
    let method = area_method(first_day, rules.area_formula);
    let area = method.and_then(|method| {
        first_day
            .iter()
            .filter_map(|row| area_cm2(row, method))
            .reduce(f64::max)
    });
    let exam = presentation_items(person, lesion.side, index.date, rules);
    let limit = rules.abi_non_compressible_above;
    let ischaemia = ischaemia_grade(&exam.perfusion, limit);
    let has_osteomyelitis = first(|row| row.osteomyelitis);
    let infection_range = infection_grade(infection, has_osteomyelitis);
    let items = SinbadItems {
        site: lesion.site.and_then(|site| is_behind_forefoot(site.region)),
        ischaemia: reduced_flow(&exam.perfusion, limit),
        neuropathy: exam.sensation_lost,
        bacterial_infection: infection_range.at_least(1),
        area: area.map(|area| area >= 1.0),
        depth: worst_depth.map(|depth| depth >= TissueDepth::TendonOrMuscle),
    };
    let wifi_stage: GradeRange = stage(
        wound_grade(worst_depth, lesion.site, gangrene),
        ischaemia,
        infection_range,
    );
    Presentation {
        area_cm2: area,
        sinbad: sinbad(&items),
        wifi_stage,
        ischaemia,
        infection: infection_range,
        gangrene,
        depth: worst_depth,
        has_osteomyelitis,
    }
}

/// Items of one foot as known on the first visit, gaps filled from the presentation window after it, but never from
/// after a revascularisation of that leg.
fn presentation_items(
    person: &Person<'_>,
    side: Side,
    index: NaiveDate,
    rules: &Rules,
) -> ExamItems {
    let revascularised = person.events.iter().find(|event| {
        event.kind == EventKind::Revascularisation
            && event.side.is_none_or(|known| known == side)
            && event.date >= index
    });
    let window_end = days_after(index, rules.presentation_window_days);
    let until = revascularised.map_or(window_end, |event| event.date.min(window_end));
    let by_then = |until| {
        exam_items(
            person.foot_exams,
            side,
            index,
            until,
            rules.exam_item_valid_months,
        )
    };
    let (first, later) = (by_then(index), by_then(until));
    ExamItems {
        sensation_lost: first.sensation_lost.or(later.sensation_lost),
        deformity: first.deformity.or(later.deformity),
        perfusion: first.perfusion.or(later.perfusion),
    }
}

fn first_day<'l, 'a>(episode: &Episode, lesion: &'l Lesion<'a>) -> &'l [&'a UlcerObservation] {
    lesion
        .sightings
        .iter()
        .find(|sighting| sighting.at.date == episode.index.date)
        .map_or(&[][..], |sighting| &sighting.rows[..])
}

/// Areas of one episode, all by the method of its first day. Parts of a split lesion are summed; a part without
/// an area leaves the day without one. A closed day is 0, unless the wound opened again in time to cancel the closure.
pub(super) fn areas(episode: &Episode, lesion: &Lesion<'_>, rules: &Rules) -> Vec<AreaPoint> {
    let Some(method) = area_method(first_day(episode, lesion), rules.area_formula) else {
        return Vec::new();
    };
    let is_removed = episode.minor_amputation.is_some() || episode.major_amputation.is_some();
    let last = match episode.closure {
        Some(closure) => closure.first_closed.date,
        None if is_removed => episode.last_known.date,
        None => NaiveDate::MAX,
    };
    // A wound that was measured was open, whether or not its state was written. An area of some parts is no area.
    let of_open = |sighting: &Sighting<'_>,
                   item: fn(&UlcerObservation, AreaMethod) -> Option<f64>| {
        let is_measured =
            |row: &&&UlcerObservation| matches!(row.state, Some(UlcerState::Open) | None);
        let mut measured = sighting.rows.iter().filter(is_measured).peekable();
        measured.peek()?;
        measured.map(|row| item(row, method)).sum::<Option<f64>>()
    };
    let closed_perimeter = matches!(method, AreaMethod::FromLengths(_)).then_some(0.0);
    lesion
        .sightings
        .iter()
        .filter(|sighting| (episode.index.date..=last).contains(&sighting.at.date))
        .filter_map(|sighting| {
            let (area, perimeter_cm) = match sighting.state {
                // a closure that a reopening cancelled left no area of nothing
                Seen::Closed if sighting.at.date < episode.last_open.date => (None, None),
                Seen::Closed => (Some(0.0), closed_perimeter),
                Seen::Open => (of_open(sighting, area_cm2), of_open(sighting, perimeter_cm)),
                Seen::NotTold => (
                    of_open(sighting, area_cm2).filter(|area| *area > 0.0),
                    of_open(sighting, perimeter_cm),
                ),
                Seen::Excised => (None, None),
            };
            Some(AreaPoint {
                at: sighting.at,
                area_cm2: area?,
                perimeter_cm,
            })
        })
        .collect()
}

fn is_behind_forefoot(region: Region) -> Option<bool> {
    match region {
        Region::Toe | Region::MetatarsalHead | Region::Forefoot => Some(false),
        Region::Midfoot | Region::Heel | Region::Hindfoot => Some(true),
        Region::Stump | Region::AboveFoot => None,
    }
}

/// Items of one foot as known on one day.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(crate) struct ExamItems {
    pub(crate) sensation_lost: Option<bool>,
    pub(crate) deformity: Option<bool>,
    pub(crate) perfusion: Perfusion,
}

/// The newest known item of each kind of one foot, from exams up to `until` and no older than the months an item
/// stays known before `day`.
pub(crate) fn exam_items(
    exams: &[FootExam],
    side: Side,
    day: NaiveDate,
    until: NaiveDate,
    valid_months: u32,
) -> ExamItems {
    let oldest = day
        .checked_sub_months(Months::new(valid_months))
        .unwrap_or(NaiveDate::MIN);
    let start = exams.partition_point(|exam| exam.date < oldest);
    let mut items = ExamItems::default();
    for exam in exams[start..]
        .iter()
        .take_while(|exam| exam.date <= until)
        .filter(|exam| exam.side == side)
    {
        items.sensation_lost = exam
            .sensation
            .map(|sensation| sensation == Sensation::Lost)
            .or(items.sensation_lost);
        items.deformity = exam.deformity.or(items.deformity);
        items.perfusion = Perfusion::of(exam).or(items.perfusion);
    }
    items
}
