use super::View;
use super::episode::{Closure, Episode, EpisodeEnd, Prevalent};
use super::facts::{Amputation, Facts};
use super::lesions::{Lesion, Seen, Sighting};
use crate::rules::days_between;
use crate::tables::{AmputationHeight, AmputationLevel, Dated, Onset, Origin, Region};
use chrono::NaiveDate;

/// What has been read of an episode so far.
struct Draft<'l, 'a> {
    sightings: Vec<&'l Sighting<'a>>,
    index: Dated,
    last_open: Dated,
    last_known: Dated,
    n_reopened: u32,
    closure: Option<Closure>,
    excised: Option<Dated>,
}

/// The episodes of one lesion, read from rows dated up to the view's day.
///
/// An episode begins at the first visit where the lesion is open. The first closed visit heals it unless it is open
/// again up to the reopening window later, even if a closure had been confirmed in between. Open again after
/// that is a new episode.
pub(super) fn episodes(lesion: &Lesion<'_>, facts: &Facts, view: &View<'_>) -> Vec<Episode> {
    let removals = removals_of(lesion, facts);
    let mut drafts: Vec<Draft<'_, '_>> = Vec::new();
    for sighting in lesion
        .sightings
        .iter()
        .filter(|sighting| sighting.at.date <= view.until)
    {
        let Some(draft) = drafts.last_mut() else {
            if sighting.state == Seen::Open {
                drafts.push(Draft::begin(sighting));
            }
            continue;
        };
        let was_removed = draft.excised.is_some()
            || removals
                .iter()
                .any(|date| *date >= draft.index.date && *date < sighting.at.date);
        match sighting.state {
            Seen::Open
                if was_removed
                    || !draft.reopens(sighting.at.date, view.rules.reopening_window_days) =>
            {
                drafts.push(Draft::begin(sighting));
            }
            Seen::Open => draft.see_open(sighting),
            Seen::Closed if !was_removed => {
                draft.see_closed(sighting, view.rules.confirmation_gap_days)
            }
            Seen::Excised => draft.see_excised(sighting),
            Seen::Closed | Seen::NotTold => draft.sightings.push(sighting),
        }
    }
    let n_drafts = drafts.len();
    drafts
        .into_iter()
        .zip(1u32..)
        .map(|(draft, ordinal)| {
            let is_last = ordinal as usize == n_drafts;
            finish(draft, ordinal, is_last, lesion, facts, view)
        })
        .collect()
}

impl<'l, 'a> Draft<'l, 'a> {
    fn begin(sighting: &'l Sighting<'a>) -> Self {
        let at = sighting.at;
        Self {
            sightings: vec![sighting],
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

    fn see_open(&mut self, sighting: &'l Sighting<'a>) {
        if self.closure.take().is_some() {
            self.n_reopened += 1;
        }
        self.last_open = sighting.at;
        self.last_known = sighting.at;
        self.sightings.push(sighting);
    }

    fn see_closed(&mut self, sighting: &'l Sighting<'a>, confirmation_gap_days: i64) {
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
        self.sightings.push(sighting);
    }

    fn see_excised(&mut self, sighting: &'l Sighting<'a>) {
        if self.closure.is_none() {
            self.excised = self.excised.or(Some(sighting.at));
            self.last_known = sighting.at;
        }
        self.sightings.push(sighting);
    }
}

/// Days on which an amputation is known to have removed this lesion: any major one of the limb, and minor ones that
/// name the lesion.
fn removals_of(lesion: &Lesion<'_>, facts: &Facts) -> Vec<NaiveDate> {
    facts
        .amputations
        .iter()
        .filter(|amputation| amputation.side == lesion.side)
        .filter(|amputation| {
            amputation.level == AmputationLevel::Major || names(amputation, lesion)
        })
        .map(|amputation| amputation.at.date)
        .collect()
}

fn names(amputation: &Amputation, lesion: &Lesion<'_>) -> bool {
    amputation.ulcer_labels.iter().any(|label| {
        *label == lesion.label
            || lesion
                .sightings
                .iter()
                .any(|sighting| sighting.rows.iter().any(|row| row.label == *label))
    })
}

fn finish(
    draft: Draft<'_, '_>,
    ordinal: u32,
    is_last: bool,
    lesion: &Lesion<'_>,
    facts: &Facts,
    view: &View<'_>,
) -> Episode {
    let major_amputation = facts
        .first_amputation(lesion.side, AmputationLevel::Major, draft.index.date)
        .map(|amputation| amputation.at)
        .filter(|_| is_last);
    let minor_amputation = minor_amputation_of(&draft, is_last, lesion, facts, major_amputation);
    let death = facts.death.filter(|death| {
        is_last
            && death.date >= draft.index.date
            && days_between(draft.last_known.date, death.date) <= view.rules.death_link_days
    });
    let transferred_out = facts
        .transfers_out
        .iter()
        .copied()
        .find(|at| is_last && at.date >= draft.index.date);
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
    let origin = draft.rows().find_map(|row| row.origin);
    Episode {
        patient: lesion.patient,
        side: lesion.side,
        label: lesion.label,
        site: lesion.site,
        ordinal,
        is_post_surgical: lesion.is_post_surgical,
        parent: lesion.parent,
        origin,
        index: draft.index,
        onset: earliest_onset(&draft),
        prevalent: prevalent(draft.index, origin, view),
        last_open: draft.last_open,
        last_known: draft.last_known,
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

impl<'a> Draft<'_, 'a> {
    fn rows(&self) -> impl Iterator<Item = &'a crate::tables::UlcerObservation> + '_ {
        self.sightings
            .iter()
            .flat_map(|sighting| sighting.rows.iter().copied())
    }
}

/// The minor amputation that removed this lesion: one that names it, else one of that foot at or above its site after
/// which it was not seen open again, else the day it was recorded as excised.
fn minor_amputation_of(
    draft: &Draft<'_, '_>,
    is_last: bool,
    lesion: &Lesion<'_>,
    facts: &Facts,
    major_amputation: Option<Dated>,
) -> Option<Dated> {
    let ends = draft.closure.map(|closure| closure.first_closed.date);
    let in_time = |amputation: &&Amputation| {
        amputation.side == lesion.side
            && amputation.level == AmputationLevel::Minor
            && amputation.at.date >= draft.index.date
            && ends.is_none_or(|end| amputation.at.date <= end)
    };
    let named = facts
        .amputations
        .iter()
        .filter(in_time)
        .find(|amputation| names(amputation, lesion));
    let unnamed = facts.amputations.iter().filter(in_time).find(|amputation| {
        is_last
            && amputation.ulcer_labels.is_empty()
            && !lesion.is_post_surgical
            && reaches(amputation.height, lesion)
            && draft.last_open.date <= amputation.at.date
    });
    let excised = draft
        .excised
        .filter(|at| major_amputation.is_none_or(|major| major.date > at.date));
    named
        .or(unnamed)
        .map(|amputation| amputation.at)
        .or(excised)
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

fn earliest_onset(draft: &Draft<'_, '_>) -> Option<Onset> {
    draft
        .rows()
        .filter_map(|row| row.onset)
        .filter(|onset| onset.dated.date <= draft.index.date)
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
