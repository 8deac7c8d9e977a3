//! Every chart of a report, with the curves of incidence among them.

use super::follow_up_calendar::follow_up_calendar;
use super::healing_by_severity::healing_by_severity;
use super::interval_beside::interval_beside;
use super::outcomes_stacked::outcomes_stacked;
use super::sheets::{last_mature_quarter, trend};
use super::tier_flows::tier_flows;
use super::trajectories::trajectories;
use super::{Counted, Material};
use crate::measure::{Cohort, FollowUp, Method, Prepared, incidence_curves};
use crate::report::words::percent;
use crate::report::{
    AtRiskRow, BandPoint, Count, Figure, FigureFrame, IncidenceCurve, StackedQuarter, TrendPoint,
    Unit, Value,
};
use crate::rules::{Outcome, Rule};
use survival::Curve;

/// Every chart whose numbers exist, in the order of the families.
pub(super) fn figures(material: &Material<'_>, counted: &[Counted]) -> Vec<Figure> {
    let find = |id: &str| counted.iter().find(|counted| counted.measure.id == id);
    let mut figures = Vec::new();
    figures.extend(
        find("healed-within-24-weeks").and_then(|counted| healing_curve(material, counted)),
    );
    figures.extend(
        find("healed-within-24-weeks").and_then(|counted| outcomes_stacked(material, counted)),
    );
    figures.extend(
        find("healed-within-24-weeks").and_then(|counted| healing_by_severity(material, counted)),
    );
    figures.extend(
        find("healed-within-24-weeks").and_then(|counted| interval_beside(material, counted)),
    );
    figures.extend(
        // drawn up to twelve weeks, so of those whose twelve weeks are known
        find("area-halved-at-4-weeks")
            .zip(find("healed-within-12-weeks"))
            .and_then(|(counted, matured)| trajectories(material, counted, matured)),
    );
    figures.extend(
        find("healed-within-12-weeks")
            .map(|counted| trend_figure(material, counted, "Healed within 12 weeks, by quarter")),
    );
    figures.extend(find("ulcer-free-at-12-weeks").map(|counted| {
        trend_figure(
            material,
            counted,
            "Alive and ulcer-free at 12 weeks, by quarter",
        )
    }));
    figures.extend(
        find("recurrence-within-12-months").and_then(|counted| recurrence_curve(material, counted)),
    );
    figures.extend(
        find("vascular-referral-after-trigger")
            .and_then(|counted| referral_curve(material, counted)),
    );
    figures.extend(find("risk-tier-distribution").and_then(|counted| tiers(material, counted)));
    figures
        .extend(find("risk-tier-distribution").and_then(|counted| tier_flows(material, counted)));
    figures.extend(find("healed-within-24-weeks").and_then(|_| follow_up_calendar(material)));
    figures
}

/// Id of the chart of healing, which the public copy stacks its outcomes from.
pub(crate) const HEALING_CURVE: &str = "healing-curve";

/// What one incidence chart shows and how it is worded.
struct CurveWords {
    id: &'static str,
    ticks: Vec<u32>,
    tick_unit: &'static str,
    marks: Vec<(u32, String)>,
    subject: &'static str,
    outcome: &'static str,
    others: &'static [(&'static str, &'static [Outcome])],
}

fn healing_curve(material: &Material<'_>, counted: &Counted) -> Option<Figure> {
    let words = CurveWords {
        id: HEALING_CURVE,
        ticks: (0..=6).map(|n| n * 28).collect(),
        tick_unit: "weeks",
        marks: vec![(84, "12 weeks".to_owned()), (168, "24 weeks".to_owned())],
        subject: "ulcers first seen",
        outcome: "Healed",
        others: &[
            (
                "Amputated",
                &[Outcome::MinorAmputation, Outcome::MajorAmputation],
            ),
            ("Died first", &[Outcome::Death]),
        ],
    };
    incidence_figure(material, counted, &words)
}

fn recurrence_curve(material: &Material<'_>, counted: &Counted) -> Option<Figure> {
    let words = CurveWords {
        id: "recurrence-curve",
        ticks: vec![0, 91, 182, 273, 365],
        tick_unit: "months",
        marks: vec![(28, "closure stands".to_owned())],
        subject: "people whose last wound closed",
        outcome: "New ulcer",
        others: &[("Died first", &[Outcome::Death])],
    };
    incidence_figure(material, counted, &words)
}

fn referral_curve(material: &Material<'_>, counted: &Counted) -> Option<Figure> {
    let words = CurveWords {
        id: "referral-curve",
        ticks: vec![0, 7, 14, 21, 28],
        tick_unit: "days",
        marks: vec![(14, "14 days".to_owned())],
        subject: "limbs whose first vascular trigger fell",
        outcome: "Referred",
        others: &[(
            "Healed, amputated or died first",
            &[
                Outcome::LimbHealed,
                Outcome::MajorAmputation,
                Outcome::Death,
            ],
        )],
    };
    incidence_figure(material, counted, &words)
}

/// The cumulative incidence of the year to the last mature quarter, with numbers at risk under it.
fn incidence_figure(
    material: &Material<'_>,
    counted: &Counted,
    words: &CurveWords,
) -> Option<Figure> {
    let (cohort, subjects) = year_of(material, counted)?;
    let rule = &counted.measure.rule;
    let level = material.rules.confidence_level;
    let incidence = incidence_curves(rule, &subjects, level)?;
    let until = *words.ticks.last()?;
    let main = incidence
        .causes
        .iter()
        .find(|curve| curve.cause == Some(1))?;
    let until_day = last_day(&subjects, until)?;
    let mut curves = vec![IncidenceCurve {
        label: words.outcome.to_owned(),
        is_main: true,
        until_day,
        points: steps(main, until),
    }];
    for (label, outcomes) in words.others {
        if let Some(points) = merged_steps(rule, &subjects, outcomes, level, until) {
            curves.push(IncidenceCurve {
                label: (*label).to_owned(),
                is_main: false,
                until_day,
                points,
            });
        }
    }
    let counts = words
        .ticks
        .iter()
        .map(|&tick| n_at_risk(&subjects, tick))
        .collect();
    let end = main
        .points
        .iter()
        .rev()
        .find(|point| point.time <= f64::from(until))?;
    let n = subjects.len();
    let by = by_words(until_day, until, words.tick_unit);
    let period = cohort.label();
    let outcome = words.outcome.to_lowercase();
    let title = format!("{}: {} by {by}", words.outcome, percent(end.estimate));
    Some(Figure::CumulativeIncidence {
        frame: FigureFrame {
            id: words.id.to_owned(),
            family: counted.measure.family.to_owned(),
            title,
            caption: format!(
                "Of {n} {} in {period}: the share with each outcome by each day, everything that can come first allowed for. \
                 The band is the {:.0}% interval, which allows for several counts from one person.",
                words.subject,
                material.rules.confidence_level * 100.0
            ),
            alt: format!(
                "Step curves over {by} for {n} {} in {period}. The curve for {outcome} rises to {}.",
                words.subject,
                percent(end.estimate)
            ),
        },
        until_days: until,
        ticks: words.ticks.clone(),
        tick_unit: words.tick_unit.to_owned(),
        curves,
        at_risk: vec![AtRiskRow {
            label: "At risk".to_owned(),
            counts,
        }],
        marks: words.marks.clone(),
    })
}

/// The year to the last mature quarter, and whom a measure follows in it.
pub(super) fn year_of(
    material: &Material<'_>,
    counted: &Counted,
) -> Option<(Cohort, Vec<FollowUp>)> {
    let Prepared::FollowUps(all) = &*counted.prepared else {
        return None;
    };
    let last = last_mature_quarter(material, counted)?;
    let cohort = Cohort::year_to(last, material.horizon.data_start);
    let own = all
        .iter()
        .filter(|subject| cohort.contains(subject.index.date));
    Some((cohort, own.copied().collect()))
}

/// The last day to which a curve of these subjects can be drawn.
pub(super) fn last_day(subjects: &[FollowUp], until: u32) -> Option<f64> {
    let last_seen = subjects.iter().map(|subject| subject.exit_day).max()?;
    Some(f64::from(until).min(f64::from(last_seen)))
}

/// How far a chart of this outcome reaches, in words: `24 weeks`, or the last day followed where that comes first.
pub(super) fn by_words(until_day: f64, until: u32, tick_unit: &str) -> String {
    match tick_unit {
        _ if until_day < f64::from(until) => format!("day {until_day:.0}, the last day followed"),
        "weeks" => format!("{} weeks", until / 7),
        "months" => "12 months".to_owned(),
        _ => format!("{until} days"),
    }
}

/// Steps of several competing outcomes taken as one: they are timed again as one. `None` where none of them happened.
pub(super) fn merged_steps(
    rule: &Rule,
    subjects: &[FollowUp],
    outcomes: &[Outcome],
    level: f64,
    until: u32,
) -> Option<Vec<BandPoint>> {
    let first = *outcomes.first()?;
    let merged: Vec<FollowUp> = subjects
        .iter()
        .map(|subject| {
            let is_one = subject
                .ending
                .is_some_and(|ending| outcomes.contains(&ending));
            FollowUp {
                ending: if is_one { Some(first) } else { subject.ending },
                ..*subject
            }
        })
        .collect();
    let position = rule
        .competing
        .iter()
        .position(|outcome| *outcome == first)?;
    let cause = u32::try_from(position + 2).ok()?;
    let merged = incidence_curves(rule, &merged, level)?;
    merged.of_cause(cause).map(|curve| steps(curve, until))
}

/// Subjects under observation and without an outcome just before a day; on day 0 everybody there from the start.
pub(super) fn n_at_risk(subjects: &[FollowUp], day: u32) -> Count {
    let day = i64::from(day);
    let is_at_risk = |subject: &&FollowUp| {
        let entry_day = i64::from(subject.entry_day);
        let has_entered = entry_day < day || (day == 0 && entry_day == 0);
        has_entered && i64::from(subject.exit_day) >= day
    };
    Count::Shown(subjects.iter().filter(is_at_risk).count() as u64)
}

/// Steps of a curve where it rises, up to a day, and its value on that day.
pub(super) fn steps(curve: &Curve, until: u32) -> Vec<BandPoint> {
    let until = f64::from(until);
    let mut points: Vec<BandPoint> = Vec::new();
    for point in curve.points.iter().filter(|point| point.time <= until) {
        let step = BandPoint {
            day: point.time,
            estimate: point.estimate,
            lower: point.lower,
            upper: point.upper,
        };
        if point.n_events > 0.0 {
            points.push(step);
        }
    }
    points
}

fn trend_figure(material: &Material<'_>, counted: &Counted, subject: &str) -> Figure {
    let points: Vec<TrendPoint> = trend(material, counted);
    let known: Vec<&TrendPoint> = points
        .iter()
        .filter(|point| point.estimate.is_some())
        .collect();
    let say = |point: &TrendPoint| {
        format!(
            "{} in {}",
            percent(point.estimate.unwrap_or_default()),
            point.quarter
        )
    };
    let (title, alt) = match (known.first(), known.last()) {
        (Some(first), Some(last)) if known.len() > 1 => (
            format!(
                "{subject}: {} in {}, the newest that can be judged",
                percent(last.estimate.unwrap_or_default()),
                last.quarter
            ),
            format!(
                "{} quarters with a value, from {} to {}.",
                known.len(),
                say(first),
                say(last)
            ),
        ),
        _ => (
            format!("{subject}: no trend yet"),
            "Fewer than two quarters have a value.".to_owned(),
        ),
    };
    Figure::QuarterlyTrend {
        frame: FigureFrame {
            id: format!("{}-trend", counted.measure.id),
            family: counted.measure.family.to_owned(),
            title,
            caption: format!(
                "Each point is one quarter's cohort with its {:.0}% interval. Quarters without a point have not been followed \
                 long enough, or had nobody to count. Most movement between quarters is chance.",
                material.rules.confidence_level * 100.0
            ),
            alt,
        },
        unit: Unit::Share,
        points,
        context: None,
    }
}

fn tiers(material: &Material<'_>, counted: &Counted) -> Option<Figure> {
    let Method::Snapshot { classes, .. } = counted.measure.method else {
        return None;
    };
    let quarters: Vec<StackedQuarter> = material
        .trend()
        .into_iter()
        .filter_map(|quarter| {
            let results = counted.of(material, &Cohort::quarter(quarter));
            let counted = |count: Option<Count>| count.unwrap_or(Count::Shown(0));
            let is_known = results
                .iter()
                .any(|result| matches!(result.value, Value::Known(_)));
            is_known.then(|| StackedQuarter {
                quarter: quarter.to_string(),
                counts: results
                    .iter()
                    .map(|result| counted(result.numerator))
                    .collect(),
                n: results
                    .first()
                    .map_or(Count::Shown(0), |result| counted(result.denominator)),
            })
        })
        .collect();
    let last = quarters.last()?;
    let share = |layer: usize| match (last.counts.get(layer), last.n) {
        (Some(Count::Shown(count)), Count::Shown(n)) => percent(*count as f64 / n.max(1) as f64),
        _ => Count::Suppressed.to_string(),
    };
    let (tier_3, active) = (share(3), share(4));
    Some(Figure::StackedShares {
        frame: FigureFrame {
            id: "tier-distribution".to_owned(),
            family: counted.measure.family.to_owned(),
            title: format!("At the end of {}: {active} with an open wound, {tier_3} in tier 3", last.quarter),
            caption: material.rules.fill(
                "People alive and seen in the {seen_within_months} months before each quarter's end, by IWGDF risk tier. \
                 People with an open wound are a class of their own; a missing test makes a tier not gradable.",
            ),
            alt: format!(
                "Stacked bars for {} quarters. In the last, of {} people, {active} had an open wound and {tier_3} were in \
                 tier 3.",
                quarters.len(),
                last.n
            ),
        },
        layers: classes.iter().map(|class| (*class).to_owned()).collect(),
        quarters,
    })
}
