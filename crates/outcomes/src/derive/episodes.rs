//! How the sightings of a lesion become its episodes.

use super::View;
use super::episode::{Closure, Episode, EpisodeEnd, Prevalent};
use super::facts::Facts;
use super::lesions::{Lesion, Seen, Sighting, seen};
use crate::rules::days_between;
use crate::tables::{
    AmputationHeight, AmputationLevel, Dated, NameId, Onset, Origin, Region, UlcerObservation,
    UlcerState,
};
use chrono::NaiveDate;

/// What has been read of an episode so far.
struct Draft {
    /// Positions of its sightings among those of the lesion.
    from: usize,
    to: usize,
    index: Dated,
    last_open: Dated,
    last_known: Dated,
    n_reopened: u32,
    closure: Option<Closure>,
    excised: Option<Dated>,
}

/// Adds the episodes of one lesion, read from rows dated up to the view's day.
///
/// An episode begins at the first visit where the lesion is open. The first closed visit heals it unless it is open
/// again up to the reopening window later, even if a closure had been confirmed in between. Open again after
/// that is a new episode.
pub(super) fn add_episodes(
    position: usize,
    lesion: &Lesion<'_>,
    facts: &Facts,
    view: &View<'_>,
    episodes: &mut Vec<Episode>,
) {
    let context = Context {
        lesion,
        position,
        facts,
        view,
        removals: &removals_of(lesion, facts, view),
        n_before: episodes.len(),
    };
    let mut current: Option<Draft> = None;
    for (place, sighting) in lesion.sightings.iter().enumerate() {
        let Some(draft) = &mut current else {
            if sighting.state == Seen::Open || begins_untold(lesion, sighting) {
                current = Some(Draft::begin(place, sighting));
            }
            continue;
        };
        let was_removed = draft.excised.is_some()
            || context.removals.iter().any(|removal| {
                removal.at.date >= draft.index.date && removal.at.date < sighting.at.date
            });
        match sighting.state {
            Seen::Open
                if was_removed
                    || !draft.reopens(sighting.at.date, view.rules.reopening_window_days) =>
            {
                let next = Draft::begin(place, sighting);
                add(draft, Some(next.index.date), &context, episodes);
                *draft = next;
                continue;
            }
            Seen::Open => draft.see_open(sighting),
            Seen::Closed if !was_removed => {
                draft.see_closed(sighting, view.rules.confirmation_gap_days)
            }
            Seen::Excised => draft.see_excised(sighting),
            Seen::Closed | Seen::NotTold => {}
        }
        draft.to = place + 1;
    }
    if let Some(last) = &current {
        add(last, None, &context, episodes);
    }
}

/// Finishes an episode, known not to go on from the day on which the lesion's next one begins.
fn add(
    draft: &Draft,
    next_index: Option<NaiveDate>,
    context: &Context<'_, '_>,
    episodes: &mut Vec<Episode>,
) {
    let (lesion, rules) = (context.lesion, context.view.rules);
    let own = episodes.get(context.n_before..).unwrap_or_default();
    // Open again soon after its removal, under its old label: the surgical wound. A part that was never seen closed
    // is what the operation left, however late it is looked at again.
    let is_surgical_wound = own.last().is_some_and(|before: &Episode| {
        before.end.is_amputation()
            && (days_between(before.end_at.date, draft.index.date) <= rules.reopening_window_days
                || was_never_closed(lesion, before.index.date, draft.index.date))
    });
    let ordinal = u32::try_from(own.len() + 1).unwrap_or(u32::MAX);
    let episode = finish(draft, ordinal, next_index, context);
    let is_post_surgical = episode.is_post_surgical || is_surgical_wound;
    episodes.push(Episode {
        is_post_surgical,
        ..episode
    });
}

/// A surgical wound is open when it is first told of, even where its state is not, unless its skin is whole.
fn begins_untold(lesion: &Lesion<'_>, sighting: &Sighting<'_>) -> bool {
    let is_whole = || {
        let mut rows = sighting.rows.iter();
        rows.any(|row| row.state == Some(UlcerState::PreUlcerative))
    };
    lesion.is_post_surgical && sighting.state == Seen::NotTold && !is_whole()
}

/// Whether a part that is open on a day had been open when it was last told of, since the lesion began.
fn was_never_closed(lesion: &Lesion<'_>, began: NaiveDate, day: NaiveDate) -> bool {
    let rows = || {
        let told = lesion
            .sightings
            .iter()
            .flat_map(|sighting| sighting.rows.iter());
        told.filter(|row| row.date >= began && seen(row) != Seen::NotTold)
    };
    let open_now = rows().filter(|row| row.date == day && seen(row) == Seen::Open);
    open_now.into_iter().any(|now| {
        let mut earlier = rows().filter(|row| row.date < day && row.label == now.label);
        earlier
            .next_back()
            .is_some_and(|row| seen(row) == Seen::Open)
    })
}

/// What an episode is finished with.
struct Context<'c, 'a> {
    lesion: &'c Lesion<'a>,
    /// The lesion's place in the reading.
    position: usize,
    facts: &'c Facts,
    view: &'c View<'c>,
    removals: &'c [Removal],
    /// How many episodes other lesions have added before.
    n_before: usize,
}

impl Draft {
    fn begin(place: usize, sighting: &Sighting<'_>) -> Self {
        let at = sighting.at;
        Self {
            from: place,
            to: place + 1,
            index: at,
            last_open: at,
            last_known: at,
            n_reopened: 0,
            closure: None,
            excised: None,
        }
    }

    /// Whether being open on `date` continues this episode.
    fn reopens(&self, date: NaiveDate, window_days: i64) -> bool {
        self.closure
            .is_none_or(|closure| days_between(closure.first_closed.date, date) <= window_days)
    }

    fn see_open(&mut self, sighting: &Sighting<'_>) {
        if self.closure.take().is_some() {
            self.n_reopened += 1;
        }
        self.last_open = sighting.at;
        self.last_known = sighting.at;
    }

    fn see_closed(&mut self, sighting: &Sighting<'_>, confirmation_gap_days: i64) {
        let at = sighting.at;
        match &mut self.closure {
            None => {
                self.closure = Some(Closure {
                    last_open: self.last_open,
                    first_closed: at,
                    confirmed: None,
                })
            }
            Some(closure) => {
                let gap = days_between(closure.first_closed.date, at.date);
                if closure.confirmed.is_none() && gap >= confirmation_gap_days {
                    closure.confirmed = Some(at);
                }
            }
        }
        self.last_known = at;
    }

    fn see_excised(&mut self, sighting: &Sighting<'_>) {
        if self.closure.is_none() {
            self.excised = self.excised.or(Some(sighting.at));
            self.last_known = sighting.at;
        }
    }
}

/// An amputation that removed a lesion.
struct Removal {
    level: AmputationLevel,
    at: Dated,
}

/// Amputations known to have removed this lesion, by date: any major one of the limb, minor ones (or stages) that name
/// the lesion, and minor ones that name none, reach its site and after which it was not seen open within the reopening
/// window.
fn removals_of(lesion: &Lesion<'_>, facts: &Facts, view: &View<'_>) -> Vec<Removal> {
    let mut removals: Vec<Removal> = Vec::new();
    for amputation in facts
        .amputations
        .iter()
        .filter(|amputation| amputation.side == lesion.side)
    {
        let whole = Removal {
            level: amputation.level,
            at: amputation.at,
        };
        match amputation.level {
            AmputationLevel::Major => removals.push(whole),
            AmputationLevel::Minor if amputation.ulcer_labels.is_empty() => {
                let takes_it = !lesion.is_post_surgical
                    && reaches(amputation.height, lesion)
                    && !is_seen_open_after(lesion, amputation.at.date, view);
                removals.extend(takes_it.then_some(whole));
            }
            AmputationLevel::Minor => {
                let named = amputation
                    .ulcer_labels
                    .iter()
                    .filter(|(label, at)| is_label_of(*label, *at, lesion));
                removals.extend(named.map(|(_, at)| Removal {
                    level: AmputationLevel::Minor,
                    at: *at,
                }));
            }
        }
    }
    removals.sort_by_key(|removal| removal.at);
    removals
}

fn is_seen_open_after(lesion: &Lesion<'_>, date: NaiveDate, view: &View<'_>) -> bool {
    lesion.sightings.iter().any(|sighting| {
        let days = days_between(date, sighting.at.date);
        sighting.state == Seen::Open && days > 0 && days <= view.rules.reopening_window_days
    })
}

/// Whether a lesion had been seen under this label by the day of the operation.
fn is_label_of(label: NameId, operated: Dated, lesion: &Lesion<'_>) -> bool {
    let seen_by_then = lesion
        .sightings
        .iter()
        .take_while(|sighting| sighting.at.date <= operated.date);
    seen_by_then
        .flat_map(|sighting| sighting.rows.iter())
        .any(|row| row.label == label)
}

fn finish(
    draft: &Draft,
    ordinal: u32,
    next_index: Option<NaiveDate>,
    context: &Context<'_, '_>,
) -> Episode {
    let Context {
        lesion,
        facts,
        view,
        ..
    } = context;
    let is_own =
        |at: Dated| at.date >= draft.index.date && next_index.is_none_or(|next| at.date < next);
    let removed = |level: AmputationLevel| {
        let by_level = context
            .removals
            .iter()
            .filter(|removal| removal.level == level);
        by_level.map(|removal| removal.at).find(|at| is_own(*at))
    };
    let major_amputation = removed(AmputationLevel::Major);
    let healed_on = draft.closure.map(|closure| closure.first_closed.date);
    let operated = removed(AmputationLevel::Minor)
        .filter(|at| healed_on.is_none_or(|healed| at.date <= healed));
    let found_excised = draft
        .excised
        .filter(|at| major_amputation.is_none_or(|major| major.date > at.date));
    let minor_amputation = operated.into_iter().chain(found_excised).min();
    let death = facts.death.filter(|death| {
        is_own(*death)
            && days_between(draft.last_known.date, death.date) <= view.rules.death_link_days
    });
    // Somebody whose ulcer was seen here again had not gone for good.
    let transferred_out = facts
        .transfers_out
        .iter()
        .copied()
        .find(|at| is_own(*at) && at.date >= draft.last_known.date);
    let healed = draft.closure.map(|closure| closure.first_closed);
    // The order here is the order of things on the same day.
    let first = [
        (EpisodeEnd::MajorAmputation, major_amputation),
        (EpisodeEnd::MinorAmputation, minor_amputation),
        (EpisodeEnd::Healed, healed),
        (EpisodeEnd::Died, death),
    ]
    .into_iter()
    .filter_map(|(end, at)| at.map(|at| (end, at)))
    .min_by_key(|(_, at)| at.date);
    let (end, end_at) = first.unwrap_or_else(|| {
        let unseen_days = days_between(draft.last_known.date, view.until);
        match transferred_out {
            Some(at) => (EpisodeEnd::Transferred, at),
            None if unseen_days > view.rules.lost_after_days => {
                (EpisodeEnd::Lost, draft.last_known)
            }
            None => (EpisodeEnd::Open, draft.last_known),
        }
    });
    let sightings = draft.of(lesion);
    let origin = rows(sightings).find_map(|row| row.origin);
    let last = sightings.last().map_or(draft.index, |last| last.at);
    let known_days = match sightings {
        [first, later @ ..] if first.state == Seen::NotTold => {
            let told = later.iter().filter(|later| later.state != Seen::NotTold);
            std::iter::once(first)
                .chain(told)
                .map(|seen| seen.at.date)
                .collect()
        }
        _ => lesion.sightings.told_within(draft.index.date, last.date),
    };
    Episode {
        patient: lesion.patient,
        lesion: context.position,
        side: lesion.side,
        label: lesion.label,
        site: lesion.site,
        ordinal,
        is_post_surgical: lesion.is_post_surgical,
        parent: rows(sightings).find_map(|row| row.parent).or(lesion.parent),
        origin,
        index: draft.index,
        onset: earliest_onset(sightings, draft.index),
        prevalent: prevalent(draft.index, origin, view),
        last_open: draft.last_open,
        last_known: draft.last_known,
        known_days,
        n_reopened: draft.n_reopened,
        closure: draft.closure,
        minor_amputation,
        major_amputation,
        death,
        transferred_out,
        end,
        end_at,
    }
}

impl Draft {
    fn of<'l, 'a>(&self, lesion: &'l Lesion<'a>) -> &'l [Sighting<'a>] {
        lesion.sightings.get(self.from..self.to).unwrap_or_default()
    }
}

fn rows<'l, 'a>(
    sightings: &'l [Sighting<'a>],
) -> impl Iterator<Item = &'a UlcerObservation> + use<'l, 'a> {
    sightings
        .iter()
        .flat_map(|sighting| sighting.rows.iter().copied())
}

/// Whether a minor amputation at this height takes the lesion's site with it. An unrecorded height may be any.
fn reaches(height: Option<AmputationHeight>, lesion: &Lesion<'_>) -> bool {
    let Some(region) = lesion.site.map(|site| site.region) else {
        return false;
    };
    match height {
        None => matches!(
            region,
            Region::Toe | Region::MetatarsalHead | Region::Forefoot
        ),
        Some(AmputationHeight::Toe) => region == Region::Toe,
        Some(AmputationHeight::Ray) => matches!(region, Region::Toe | Region::MetatarsalHead),
        Some(AmputationHeight::Transmetatarsal) => {
            matches!(
                region,
                Region::Toe | Region::MetatarsalHead | Region::Forefoot
            )
        }
        Some(AmputationHeight::Midfoot) => !matches!(region, Region::Heel | Region::Hindfoot),
        Some(_) => true,
    }
}

fn earliest_onset(sightings: &[Sighting<'_>], index: Dated) -> Option<Onset> {
    rows(sightings)
        .filter_map(|row| row.onset)
        .filter(|onset| onset.dated.date <= index.date)
        .min_by_key(|onset| onset.dated)
}

fn prevalent(index: Dated, origin: Option<Origin>, view: &View<'_>) -> Option<Prevalent> {
    if origin == Some(Origin::TransferredIn) {
        Some(Prevalent::TransferredIn)
    } else if days_between(view.horizon.data_start, index.date) <= view.rules.prevalent_window_days
    {
        Some(Prevalent::OpenAtDataStart)
    } else {
        None
    }
}
