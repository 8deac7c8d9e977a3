//! Healing dated at visits beside healing known only to lie between two visits.

use super::sheets::last_mature_quarter;
use super::{Counted, Material};
use crate::measure::{Cohort, FollowUp, Prepared, middle, not_yet_days, sample_of};
use crate::report::words::{counted as count_words, percent};
use crate::report::{BandPoint, Figure, FigureFrame, IncidenceCurve, IntervalBeside, IntervalMass};
use crate::rules::{Clock, days_between};
use survival::interval::{IntervalSample, Npmle, npmle};
use survival::{CurveOptions, Limits, Variance, aalen_johansen};

const UNTIL: u32 = 168;
const MARK: f64 = 84.0;

/// Both estimates compare like with like: time to closure of the ulcers of the year to the last mature quarter, amputation
/// and death ending follow-up in both. None with delayed entry, which the second estimate does not allow for.
pub(super) fn interval_beside(material: &Material<'_>, counted: &Counted) -> Option<Figure> {
    let Prepared::FollowUps(all) = &*counted.prepared else {
        return None;
    };
    if material.rules.clock != Clock::FirstVisit {
        return None;
    }
    let last = last_mature_quarter(material, counted)?;
    let cohort = Cohort::year_to(last, material.horizon.data_start);
    let subjects: Vec<FollowUp> = all
        .iter()
        .filter(|subject| cohort.contains(subject.index.date))
        .copied()
        .collect();
    let rule = &counted.measure.rule;
    let sample = sample_of(rule, &subjects)?.only_cause(1);
    let options = CurveOptions {
        level: material.rules.confidence_level,
        limits: Limits::LogLog,
        variance: Variance::Robust,
    };
    let dated = aalen_johansen(&sample, &options).ok()?;
    let curve = dated.of_cause(1)?;
    let intervals = npmle(&intervals(&subjects, sample.cause())?).ok()?;
    let by = |day: f64| {
        let free = intervals.at(day);
        (1.0 - free.highest, 1.0 - free.lowest)
    };
    let last_seen = subjects.iter().map(|subject| subject.exit_day).max()?;
    let at_visits = curve.at(MARK)?.estimate;
    let (lowest, highest) = by(MARK);
    let known = share_range(lowest, highest);
    let points: Vec<BandPoint> = curve
        .points
        .iter()
        .filter(|point| point.n_events > 0.0 && point.time <= f64::from(UNTIL))
        .map(|point| BandPoint {
            day: point.time,
            estimate: point.estimate,
            lower: point.lower,
            upper: point.upper,
        })
        .collect();
    let period = cohort.label();
    let spacing = spacing_words(material, &cohort, &subjects);
    Some(Figure::IntervalBeside(IntervalBeside {
        frame: FigureFrame {
            id: "healing-between-visits".to_owned(),
            family: counted.measure.family.to_owned(),
            title: format!(
                "Closed by 12 weeks, if nothing came first: {} dated at visits, {known} when only the time between visits is known",
                percent(at_visits)
            ),
            caption: format!(
                "{} first seen in {period}. Amputation and death end the follow-up of both curves, so both lie above the share \
                 that heals. The steps date healing at the first visit that found the ulcer closed; the boxes are the most \
                 likely curve when it is only known that healing lay after the last visit that found it open, and within a box \
                 the day is not known. {spacing} Visits further apart date healing later, not the ulcers slower.",
                count_words(subjects.len(), "ulcer", "ulcers")
            ),
            alt: format!(
                "A step curve with its band and a curve of boxes over 24 weeks. At 12 weeks the steps are at {} and the boxes at \
                 {known}.",
                percent(at_visits)
            ),
        },
        until_days: UNTIL,
        ticks: (0..=6).map(|n| n * 28).collect(),
        tick_unit: "weeks".to_owned(),
        conventional: IncidenceCurve {
            label: "Dated at visits".to_owned(),
            is_main: true,
            until_day: f64::from(UNTIL).min(last_seen as f64),
            points,
        },
        interval_label: "Between visits".to_owned(),
        masses: masses(&intervals),
    }))
}

/// Healed between two visits, or not yet by the last day of follow-up.
fn intervals(subjects: &[FollowUp], cause: &[u32]) -> Option<IntervalSample> {
    let (mut lower, mut upper) = (Vec::new(), Vec::new());
    for ((subject, cause), not_yet) in subjects.iter().zip(cause).zip(not_yet_days(subjects)) {
        if *cause == 1 {
            lower.push(not_yet);
            upper.push(f64::from(subject.exit_day));
        } else {
            lower.push(f64::from(subject.exit_day));
            upper.push(f64::INFINITY);
        }
    }
    IntervalSample::new(lower, upper).ok()
}

fn masses(estimate: &Npmle) -> Vec<IntervalMass> {
    estimate
        .masses
        .iter()
        .filter(|mass| mass.lower < f64::from(UNTIL))
        .map(|mass| IntervalMass {
            after_day: mass.lower,
            by_day: mass.upper,
            probability: mass.probability,
        })
        .collect()
}

/// One share, or the two between which it lies.
fn share_range(lowest: f64, highest: f64) -> String {
    let (low, high) = (percent(lowest), percent(highest));
    if low == high {
        low
    } else {
        format!("{low} to {high}")
    }
}

/// How far apart looks at an ulcer of this cohort were, and those between which healing lay.
fn spacing_words(material: &Material<'_>, cohort: &Cohort, subjects: &[FollowUp]) -> String {
    let episodes = material
        .people
        .iter()
        .flat_map(|person| &person.reading.episodes);
    let own = episodes.filter(|episode| {
        !episode.is_post_surgical
            && episode.prevalent.is_none()
            && cohort.contains(episode.index.date)
    });
    let mut gaps: Vec<i64> = Vec::new();
    for episode in own {
        let end = episode
            .closure
            .map_or(episode.last_known, |closure| closure.first_closed);
        let days = episode.known_days.iter().filter(|day| {
            **day <= end.date && days_between(episode.index.date, **day) <= i64::from(UNTIL)
        });
        let days: Vec<_> = days.collect();
        gaps.extend(days.windows(2).map(|pair| days_between(*pair[0], *pair[1])));
    }
    let widths = subjects
        .iter()
        .filter_map(|subject| Some(i64::from(subject.exit_day - subject.not_yet_day?)));
    let days = |n: i64| count_words(usize::try_from(n).unwrap_or(0), "day", "days");
    match (middle(gaps), middle(widths.collect())) {
        (Some(gap), Some(width)) => format!(
            "Half of the looks came {} or less after the one before; half of the healings lay between two looks {} apart or less.",
            days(gap),
            days(width)
        ),
        _ => String::new(),
    }
}
