//! From a vascular trigger to referral, imaging and revascularisation.

use super::episode::{Episode, EpisodeEnd};
use super::lesions::{Lesion, Seen};
use super::person_episodes::{PersonEpisode, spans_of};
use super::presentation::{areas, exam_items};
use super::{Person, Reading, View};
use crate::grade::{
    Perfusion, Trigger, infection_grade, is_measured, ischaemia_grade, perfusion_triggers, stage,
    wound_grade,
};
use crate::rules::{Outcome, days_after, days_between};
use crate::tables::{AmputationLevel, Attendance, Dated, EventKind, Gangrene, PatientKey, Side};
use chrono::NaiveDate;

/// A step of the pathway, timed from the trigger.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Step {
    /// Day and row of the step itself.
    pub at: Dated,
    /// Whole days from the trigger; a step before it is day 0.
    pub day: i64,
    /// The step came before the trigger.
    pub was_before: bool,
}

/// A limb with an ulcer that met a trigger, and what followed, in whatever order.
#[derive(Debug, Clone, PartialEq)]
pub struct VascularPathway {
    /// Whose.
    pub patient: PatientKey,
    /// Which leg.
    pub side: Side,
    /// The first trigger met.
    pub trigger: Trigger,
    /// When, and the row that shows it; day 0.
    pub at: Dated,
    /// Bedside screen.
    pub screen: Option<Step>,
    /// Physiologic study.
    pub study: Option<Step>,
    /// Imaging.
    pub imaging: Option<Step>,
    /// Referral to a vascular service.
    pub referral: Option<Step>,
    /// Seen there.
    pub seen: Option<Step>,
    /// Revascularisation.
    pub revascularisation: Option<Step>,
    /// Every wound of the limb closed.
    pub limb_healed: Option<Dated>,
    /// Major amputation of the limb.
    pub major_amputation: Option<Dated>,
    /// Death.
    pub death: Option<Dated>,
    /// Last day somebody of the clinic saw the person, day 0 at the earliest.
    pub last_seen: Dated,
}

impl VascularPathway {
    /// Every step with the outcome it stands for, in the usual order; any order is legal.
    pub fn steps(&self) -> [(Outcome, Option<Step>); 6] {
        [
            (Outcome::BedsideScreen, self.screen),
            (Outcome::PhysiologicStudy, self.study),
            (Outcome::VascularImaging, self.imaging),
            (Outcome::VascularReferral, self.referral),
            (Outcome::VascularSeen, self.seen),
            (Outcome::Revascularisation, self.revascularisation),
        ]
    }

    /// The step that stands for this outcome.
    pub fn step(&self, outcome: Outcome) -> Option<Step> {
        let mut steps = self.steps().into_iter();
        steps.find_map(|(of, step)| step.filter(|_| of == outcome))
    }

    /// What ends the wait for any step: the limb healed, was lost, or the person died.
    pub fn ends(&self) -> impl Iterator<Item = (Outcome, Dated)> + use<> {
        [
            (Outcome::MajorAmputation, self.major_amputation),
            (Outcome::LimbHealed, self.limb_healed),
            (Outcome::Death, self.death),
        ]
        .into_iter()
        .filter_map(|(outcome, at)| at.map(|at| (outcome, at)))
    }

    /// Every step, on the trigger's day at the earliest, and every end, for the follow-up builder: a rule times one of
    /// the steps against the ends.
    pub fn outcomes(&self) -> impl Iterator<Item = (Outcome, Dated)> + use<> {
        let trigger = self.at.date;
        let steps = self.steps().into_iter().filter_map(move |(outcome, step)| {
            let at = step?.at;
            Some((outcome, Dated::new(at.date.max(trigger), at.source)))
        });
        steps.chain(self.ends())
    }
}

/// The pathways of one person: one a limb that met a trigger while it had an open ulcer, from the first of them.
pub(super) fn pathways(reading: &Reading<'_>, view: &View<'_>) -> Vec<VascularPathway> {
    let first_ulcer = |side: Side| {
        let of_limb = reading
            .episodes
            .iter()
            .filter(|episode| episode.side == side);
        of_limb
            .filter(|episode| !episode.is_post_surgical)
            .map(|episode| episode.index.date)
            .min()
    };
    let limbs = Side::ALL
        .iter()
        .filter_map(|&side| Some((side, first_ulcer(side)?)));
    limbs
        .filter_map(|(side, from)| pathway(reading, side, from, view))
        .collect()
}

/// The pathways of limbs with an open ulcer, from the first trigger since their present wounds began.
pub(super) fn present_pathways(reading: &Reading<'_>, view: &View<'_>) -> Vec<VascularPathway> {
    let present = |side: Side| {
        let last = limb_spans(reading, side, view).pop()?;
        last.all_closed.is_none().then_some(last.index.date)
    };
    let limbs = Side::ALL
        .iter()
        .filter_map(|&side| Some((side, present(side)?)));
    limbs
        .filter_map(|(side, from)| pathway(reading, side, from, view))
        .collect()
}

/// Spells of open wounds of one limb, by date.
fn limb_spans(reading: &Reading<'_>, side: Side, view: &View<'_>) -> Vec<PersonEpisode> {
    let episodes = &reading.episodes;
    let of_limb = (0..episodes.len()).filter(|place| episodes[*place].side == side);
    spans_of(of_limb, episodes, &reading.closures, view.rules)
}

fn pathway(
    reading: &Reading<'_>,
    side: Side,
    from: NaiveDate,
    view: &View<'_>,
) -> Option<VascularPathway> {
    let person = &reading.person;
    let (trigger, at) = first_trigger(reading, side, from, view)?;
    let limb_healed = limb_spans(reading, side, view)
        .into_iter()
        .rev()
        .find(|span| span.index.date <= at.date)
        .and_then(|span| span.all_closed)
        .filter(|closed| closed.date >= at.date);
    let kept = person
        .visits
        .iter()
        .filter(|visit| visit.attendance == Attendance::Kept);
    let last_seen = kept
        .map(|visit| Dated::new(visit.date, visit.source))
        .chain(person.foot_looks())
        .max()
        .filter(|seen| seen.date >= at.date)
        .unwrap_or(at);
    let step = |kind| step(person, kind, side, at, view);
    Some(VascularPathway {
        patient: person.key,
        side,
        trigger,
        at,
        screen: step(EventKind::BedsideScreen),
        study: step(EventKind::PhysiologicStudy),
        imaging: step(EventKind::VascularImaging),
        referral: step(EventKind::VascularReferral),
        seen: step(EventKind::VascularSeen),
        revascularisation: step(EventKind::Revascularisation),
        limb_healed,
        major_amputation: reading
            .facts
            .first_amputation(side, AmputationLevel::Major, at.date)
            .map(|amputation| amputation.at),
        death: reading.facts.death.filter(|death| death.date >= at.date),
        last_seen,
    })
}

/// First step of a kind on this leg, or on a leg not recorded, from the look-back before the trigger onwards.
fn step(
    person: &Person<'_>,
    kind: EventKind,
    side: Side,
    trigger: Dated,
    view: &View<'_>,
) -> Option<Step> {
    let from = days_after(trigger.date, -view.rules.referral_look_back_days);
    let event = person.events.iter().find(|event| {
        event.kind == kind
            && event.side.is_none_or(|known| known == side)
            && event.date >= from
            && event.date <= view.until
    })?;
    let days = days_between(trigger.date, event.date);
    Some(Step {
        at: Dated::new(event.date, event.source),
        day: days.max(0),
        was_before: days < 0,
    })
}

/// The first day from `from` on, while an ulcer of this limb is open, on which a trigger is met by what was recorded up
/// to it. On the day of an amputation the ulcer was still there.
fn first_trigger(
    reading: &Reading<'_>,
    side: Side,
    from: NaiveDate,
    view: &View<'_>,
) -> Option<(Trigger, Dated)> {
    let ulcers: Vec<(&Episode, &Lesion<'_>)> = reading
        .episodes
        .iter()
        .filter(|episode| episode.side == side && !episode.is_post_surgical)
        .map(|episode| (episode, reading.lesion_of(episode)))
        .collect();
    let exams = reading.person.foot_exams;
    let mut looks: Vec<Dated> = reading.person.foot_looks_from(from).collect();
    looks.sort_unstable();
    looks.dedup_by_key(|at| at.date);
    looks.into_iter().find_map(|at| {
        let is_open = |episode: &Episode| {
            let is_closed_today =
                episode.end == EpisodeEnd::Healed && episode.end_at.date == at.date;
            episode.is_open_on(at.date, episode.resolved(), view.rules) && !is_closed_today
        };
        let open = ulcers.iter().filter(|(episode, _)| is_open(episode));
        let mut open = open.peekable();
        open.peek()?;
        let valid = view.rules.exam_item_valid_months;
        let perfusion = exam_items(exams, side, at.date, at.date, valid).perfusion;
        let by_ulcers =
            open.filter_map(|(episode, lesion)| by_ulcer(episode, lesion, &perfusion, at, view));
        let limit = view.rules.abi_non_compressible_above;
        let trigger = perfusion_triggers(&perfusion, limit, view.rules.vascular_guideline)
            .into_iter()
            .chain(by_ulcers)
            .min()?;
        Some((trigger, at))
    })
}

/// The first in order of the triggers that an ulcer meets on a day.
fn by_ulcer(
    episode: &Episode,
    lesion: &Lesion<'_>,
    perfusion: &Perfusion,
    at: Dated,
    view: &View<'_>,
) -> Option<Trigger> {
    let limit = view.rules.abi_non_compressible_above;
    let today = lesion
        .sightings
        .iter()
        .find(|sighting| sighting.at.date == at.date);
    let rows = today.map_or(&[][..], |sighting| &sighting.rows[..]);
    let gangrene = rows.iter().filter_map(|row| row.gangrene).max();
    let depth = rows.iter().filter_map(|row| row.tissue_depth).max();
    let infection = rows.iter().filter_map(|row| row.infection).max();
    let osteomyelitis = rows.iter().find_map(|row| row.osteomyelitis);
    let ischaemia = ischaemia_grade(perfusion, limit);
    let staged = stage(
        wound_grade(depth, lesion.site, gangrene),
        ischaemia,
        infection_grade(infection, osteomyelitis),
    );
    let has_ischaemia = ischaemia.at_least(1) == Some(true);
    let is_unmeasured = !is_measured(perfusion, limit);
    let is_open_today = today.is_some_and(|sighting| sighting.state == Seen::Open);
    let days_open = days_between(episode.index.date, at.date);
    let is_slow = is_open_today && days_open >= 28 && (has_ischaemia || is_unmeasured) && {
        let areas = areas(episode, lesion, view.rules);
        let first = areas
            .first()
            .filter(|point| point.at.date == episode.index.date);
        let now = areas.iter().find(|point| point.at.date == at.date);
        first
            .zip(now)
            .is_some_and(|(first, now)| now.area_cm2 > first.area_cm2 / 2.0)
    };
    let is_long =
        is_open_today && is_unmeasured && days_open > view.rules.perfusion_unmeasured_days;
    [
        (
            Trigger::Gangrene,
            gangrene.is_some_and(|gangrene| gangrene != Gangrene::Absent),
        ),
        (
            Trigger::Stage,
            has_ischaemia && staged.at_least(3) == Some(true),
        ),
        (Trigger::SlowHealing, is_slow),
        (Trigger::PerfusionNotMeasured, is_long),
    ]
    .into_iter()
    .filter_map(|(trigger, is_met)| is_met.then_some(trigger))
    .min()
}
