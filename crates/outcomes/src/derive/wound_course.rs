//! What versions of "healed" other than closure without amputation see of an ulcer or of a person.

use super::person_episodes::left_by;
use super::{Episode, EpisodeEnd, PersonEpisode, Reading};
use crate::rules::{Outcome, Rules};
use crate::tables::Dated;

/// An ulcer followed through minor amputations of it to the closure of the wounds they left.
#[derive(Debug, Clone, PartialEq)]
pub struct WoundCourse {
    /// Closure of everything that was left of it, major amputation of the limb, death.
    pub outcomes: [Option<(Outcome, Dated)>; 3],
    /// Last visit that found something of it open, or the day of the amputation.
    pub last_open: Dated,
    /// Last day on which it was known whether everything was closed.
    pub last_known: Dated,
}

impl Reading<'_> {
    /// An ulcer of this reading, followed through minor amputations of it.
    pub(crate) fn wound_course(&self, ulcer: &Episode, rules: &Rules) -> WoundCourse {
        let start = self.episodes.iter().position(|episode| episode == ulcer);
        let mut wounds: Vec<usize> = start.into_iter().collect();
        let mut next = 0;
        while let Some(&position) = wounds.get(next) {
            next += 1;
            let wound = &self.episodes[position];
            if wound.end == EpisodeEnd::MinorAmputation {
                for (left, _) in left_by(wound, &self.episodes, rules) {
                    if !wounds.contains(&left) {
                        wounds.push(left);
                    }
                }
            }
        }
        let of_course = || wounds.iter().map(|&position| &self.episodes[position]);
        let closed = wounds.iter().map(|&position| self.closures[position]);
        let are_all_closed = closed.clone().all(|closed| closed.is_some());
        let closed = closed.max().flatten().filter(|_| are_all_closed);
        // An operation shows that the wound was open on its day.
        let open_on = |wound: &Episode| match wound.end {
            EpisodeEnd::MinorAmputation => wound.last_open.max(wound.end_at),
            _ => wound.last_open,
        };
        let not_closed = wounds.iter().map(|&position| {
            let wound = &self.episodes[position];
            match (self.closures[position], wound.end) {
                (None, EpisodeEnd::MinorAmputation) => wound.end_at,
                (None, _) => wound.last_known,
                (Some(_), _) => open_on(wound),
            }
        });
        let first = |pick: fn(&Episode) -> Option<Dated>| of_course().filter_map(pick).min();
        let outcomes = [
            (
                Outcome::MajorAmputation,
                first(|wound| wound.major_amputation),
            ),
            (Outcome::WoundClosed, closed),
            (Outcome::Death, first(|wound| wound.death)),
        ];
        WoundCourse {
            outcomes: known(outcomes),
            last_open: of_course().map(open_on).max().unwrap_or(ulcer.last_open),
            last_known: closed.or(not_closed.max()).unwrap_or(ulcer.last_known),
        }
    }

    /// Everything that happened to a person-episode of this reading: every ulcer healed, the first amputation of each kind,
    /// death.
    pub(crate) fn person_outcomes(&self, span: &PersonEpisode) -> [Option<(Outcome, Dated)>; 4] {
        let of_span = || span.wounds.iter().map(|&position| &self.episodes[position]);
        let first = |pick: fn(&Episode) -> Option<Dated>| of_span().filter_map(pick).min();
        known([
            (
                Outcome::MajorAmputation,
                first(|wound| wound.major_amputation),
            ),
            (
                Outcome::MinorAmputation,
                first(|wound| wound.minor_amputation),
            ),
            // After an amputation everything may close, but that comes later than the amputation and so counts for nothing.
            (Outcome::AllHealed, span.all_closed),
            (Outcome::Death, first(|wound| wound.death)),
        ])
    }
}

fn known<const N: usize>(outcomes: [(Outcome, Option<Dated>); N]) -> [Option<(Outcome, Dated)>; N] {
    outcomes.map(|(outcome, at)| Some((outcome, at?)))
}
