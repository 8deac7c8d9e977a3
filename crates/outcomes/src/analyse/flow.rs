//! From rows read to the cohorts counted, step by step.

use super::Material;
use crate::derive::{EpisodeEnd, Prevalent};
use crate::report::{Count, FlowStep};

/// How an ulcer stood at the cut-off, in words.
fn end_words(end: EpisodeEnd) -> &'static str {
    match end {
        EpisodeEnd::Healed => "healed by the cut-off",
        EpisodeEnd::MinorAmputation => "removed by a minor amputation",
        EpisodeEnd::MajorAmputation => "ended by a major amputation of that leg",
        EpisodeEnd::Died => "the person died first",
        EpisodeEnd::Transferred => "transferred out",
        EpisodeEnd::Lost => "lost to follow-up",
        EpisodeEnd::Open => "open and followed at the cut-off",
    }
}

/// From rows read to the cohorts counted.
pub(super) fn flow(material: &Material<'_>) -> Vec<FlowStep> {
    let step = |label: &str, n: usize, depth: u8| FlowStep {
        label: label.to_owned(),
        n: Count::Shown(n as u64),
        depth,
    };
    let rows = |pick: fn(&crate::finding::FileAccount) -> u64| {
        material.accounts.iter().map(pick).sum::<u64>()
    };
    let readings = || material.people.iter().map(|person| &person.reading);
    let episodes = || readings().flat_map(|reading| &reading.episodes);
    let ulcers = || episodes().filter(|episode| !episode.is_post_surgical);
    let prevalent = |reason: Prevalent| {
        ulcers()
            .filter(|ulcer| ulcer.prevalent == Some(reason))
            .count()
    };
    let people_with_ulcers = readings()
        .filter(|reading| {
            reading
                .episodes
                .iter()
                .any(|episode| !episode.is_post_surgical)
        })
        .count();
    let spans = || readings().flat_map(|reading| &reading.person_episodes);
    let limbs = || readings().flat_map(|reading| reading.limbs());
    let mut steps = vec![
        FlowStep {
            label: "rows read".to_owned(),
            n: Count::Shown(rows(|account| account.n_read)),
            depth: 0,
        },
        FlowStep {
            label: "rows set aside".to_owned(),
            n: Count::Shown(rows(|account| account.n_set_aside())),
            depth: 1,
        },
        FlowStep {
            label: "rows used".to_owned(),
            n: Count::Shown(rows(|account| account.n_used)),
            depth: 1,
        },
        step("people", material.people.len(), 0),
        step("people with a foot ulcer in view", people_with_ulcers, 1),
        step("ulcer episodes", ulcers().count(), 0),
        step(
            &format!(
                "first seen up to {} days after data start",
                material.rules.prevalent_window_days
            ),
            prevalent(Prevalent::OpenAtDataStart),
            1,
        ),
        step("transferred in", prevalent(Prevalent::TransferredIn), 1),
        step(
            "first seen here: counted from the first visit",
            ulcers().filter(|ulcer| ulcer.prevalent.is_none()).count(),
            1,
        ),
    ];
    steps.extend(EpisodeEnd::ALL.iter().map(|end| {
        let own = ulcers().filter(|ulcer| ulcer.prevalent.is_none() && ulcer.end == *end);
        step(end_words(*end), own.count(), 2)
    }));
    steps.extend([
        step(
            "surgical wounds, counted apart",
            episodes()
                .filter(|episode| episode.is_post_surgical)
                .count(),
            0,
        ),
        step("person-episodes", spans().count(), 0),
        step(
            "counted from the first visit",
            spans().filter(|span| !span.is_prevalent).count(),
            1,
        ),
        step("limbs with an ulcer in view", limbs().count(), 0),
        step(
            "counted from the first visit",
            limbs().filter(|limb| !limb.is_prevalent).count(),
            1,
        ),
    ]);
    steps.push(step(
        "limbs that met a vascular trigger",
        material
            .people
            .iter()
            .map(|person| person.pathways.len())
            .sum(),
        0,
    ));
    steps.push(step(
        "remissions",
        readings().map(|reading| reading.remissions.len()).sum(),
        0,
    ));
    steps
}
