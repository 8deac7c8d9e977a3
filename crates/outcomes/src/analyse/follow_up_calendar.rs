//! Who was followed when: the ulcers of the quarters of the trend, a line each without any name.

use super::Material;
use crate::derive::{Episode, EpisodeEnd};
use crate::report::words::{counted as count_words, whole};
use crate::report::{Count, Figure, FigureFrame, FollowUpCalendar, FollowUpSpan, StackedQuarter};
use crate::rules::{DateKind, Quarter};

/// Longest follow-up drawn; a longer line leaves the picture at the top.
const UNTIL: u32 = 364;
/// Lines drawn at most; of more, every so many-th is left in. The table counts all.
const LINES: usize = 400;
const ENDINGS: [&str; 6] = [
    "healed",
    "amputated",
    "died",
    "lost from sight",
    "open, still followed",
    "moved to another service",
];
const HEALED: usize = 0;
const LOST: usize = 3;

/// The ulcers first seen in the quarters of the trend, as they stand at the cut-off. `None` where dates are not true, and where
/// there are none.
pub(super) fn follow_up_calendar(material: &Material<'_>) -> Option<Figure> {
    if material.dates.kind == DateKind::Shifted {
        return None;
    }
    let trend = material.trend();
    let (first, cut_off) = (*trend.first()?, material.horizon.cut_off);
    let of_people = material
        .people
        .iter()
        .flat_map(|person| &person.reading.episodes);
    let mut spans: Vec<FollowUpSpan> = of_people
        .filter(|ulcer| !ulcer.is_post_surgical && ulcer.prevalent.is_none())
        .filter(|ulcer| trend.contains(&Quarter::of(ulcer.index.date)))
        .map(span)
        .collect();
    spans.sort_by_key(|span| (span.start, span.days, span.ending));
    let quarters: Vec<StackedQuarter> = trend.iter().map(|quarter| bar(*quarter, &spans)).collect();
    let n = spans.len();
    if n == 0 {
        return None;
    }
    let of_ending = |ending: usize| spans.iter().filter(|span| span.ending == ending).count();
    let (healed, lost) = (of_ending(HEALED), of_ending(LOST));
    let step = n.div_ceil(LINES).max(1);
    let ulcers = count_words(n, "ulcer", "ulcers");
    let left_out = if step > 1 {
        format!(" One line in {step} is drawn; the table counts all.")
    } else {
        String::new()
    };
    Some(Figure::FollowUpCalendar(FollowUpCalendar {
        frame: FigureFrame {
            id: "follow-up-calendar".to_owned(),
            family: "data".to_owned(),
            title: format!(
                "Of {ulcers} first seen since the start of {first}, {} had healed and {} were lost from sight while open",
                whole(healed as u64),
                whole(lost as u64)
            ),
            caption: format!(
                "A line an ulcer: it starts at the bottom on the day of the first visit and climbs to its end, or to the last look at it; \
                 the mark says which. {} Lines longer than 52 weeks leave the picture at the top.{left_out} What became of an ulcer lost \
                 from sight nobody here knows.",
                material.rules.fill(
                    "Lost from sight: open and not seen in the last {lost_after_days} days before the cut-off."
                )
            ),
            alt: format!(
                "Slanted lines for {ulcers} from {first} to the cut-off, each as long as the ulcer was followed. {}.",
                ENDINGS
                    .iter()
                    .enumerate()
                    .map(|(place, ending)| format!("{ending} {}", whole(of_ending(place) as u64)))
                    .collect::<Vec<_>>()
                    .join(", ")
            ),
        },
        from: first.start(),
        to: cut_off,
        until_days: UNTIL,
        endings: ENDINGS.map(str::to_owned).to_vec(),
        spans: spans.into_iter().step_by(step).collect(),
        quarters,
    }))
}

fn span(ulcer: &Episode) -> FollowUpSpan {
    let ending = match ulcer.end {
        EpisodeEnd::Healed => HEALED,
        EpisodeEnd::MinorAmputation | EpisodeEnd::MajorAmputation => 1,
        EpisodeEnd::Died => 2,
        EpisodeEnd::Lost => LOST,
        EpisodeEnd::Open => 4,
        EpisodeEnd::Transferred => 5,
    };
    FollowUpSpan {
        start: ulcer.index.date,
        days: u32::try_from(ulcer.day_of(ulcer.end_at)).unwrap_or(0),
        ending,
    }
}

fn bar(quarter: Quarter, spans: &[FollowUpSpan]) -> StackedQuarter {
    let own = || {
        spans
            .iter()
            .filter(move |span| Quarter::of(span.start) == quarter)
    };
    let counts = (0..ENDINGS.len())
        .map(|ending| Count::Shown(own().filter(|span| span.ending == ending).count() as u64))
        .collect();
    StackedQuarter {
        quarter: quarter.to_string(),
        counts,
        n: Count::Shown(own().count() as u64),
    }
}
