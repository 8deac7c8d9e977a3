//! The series watched over the quarters: control charts, cumulative sums and funnels, with their findings in words.
//!
//! Every quarter from the first whole one after the prevalent window is charted, and the first mature ones make the limits,
//! whatever the length of the trend: so neither a later quarter nor a shorter trend moves a limit.

use super::sheets::headline_of;
use super::watch_charts::{PointOf, charted, finding};
use super::{Counted, Material, watch_sums, watch_units};
use crate::expectation::Refusal;
use crate::measure::{Cohort, Measure, Method, Prepared};
use crate::monitor::{
    QuarterCount, RunRules, Watched, event_chart, gap_chart, run_rules, share_chart, value_chart,
};
use crate::report::{
    Audience, Count, Figure, MeasureResult, Monitoring, Unit, Value, WatchedSeries, words,
};
use crate::rules::{Quarter, days_after, days_between};
use std::collections::BTreeMap;
use survival::counts::chart::RuleSet;

/// Ids of the measures watched, in the order of the page.
const WATCHED: &[&str] = &[
    "healed-within-12-weeks",
    "ulcer-free-at-12-weeks",
    "ulcer-free-at-24-weeks",
    "healed-against-published-strata",
    "recurrence-within-12-months",
    "major-amputations",
    "minor-amputations",
    "vascular-referral-after-trigger",
    "never-referred-after-trigger",
    "outcome-known-at-12-weeks",
];

/// What is watched, and its charts.
pub(super) struct Watch {
    pub(super) monitoring: Monitoring,
    pub(super) figures: Vec<Figure>,
}

/// The run rules of charts by their number of points: their chance of a false signal is simulated once a length.
type RulesByLength = BTreeMap<usize, Result<RunRules, Refusal>>;

/// One series with its chart, or the reason there is none.
pub(super) struct Series {
    pub(super) line: WatchedSeries,
    pub(super) figure: Option<Figure>,
    /// Chance of a false signal on this chart, where it is known.
    pub(super) false_alarm: Option<f64>,
}

impl Series {
    pub(super) fn refused(title: impl Into<String>, refusal: Refusal) -> Self {
        Self {
            line: WatchedSeries {
                title: title.into(),
                figure: None,
                finding: refusal.reason,
                is_signal: false,
            },
            figure: None,
            false_alarm: None,
        }
    }
}

/// Watches everything that can be watched. A public copy has none of it: points and limits would give small counts away.
pub(super) fn watch(material: &Material<'_>, counted: &[Counted]) -> Watch {
    if material.audience == Audience::Public || material.dates.is_year_only() {
        return Watch {
            monitoring: Monitoring::default(),
            figures: Vec::new(),
        };
    }
    let find = |id: &str| counted.iter().find(|counted| counted.measure.id == id);
    let mut known = RulesByLength::new();
    let mut series: Vec<Series> = WATCHED
        .iter()
        .filter_map(|id| find(id))
        .map(|counted| of_measure(material, counted, &mut known))
        .collect();
    let sums =
        find("healed-against-published-strata").filter(|_| !material.dates.has_shifted_quarters());
    if let Some(counted) = sums {
        series.extend(watch_sums::sums(material, counted, &quarters(material)));
    }
    if let Some(counted) = find("ulcer-free-at-12-weeks") {
        series.extend(watch_units::funnels(material, counted));
    }
    let rules = rules(material, &series);
    let (lines, figures): (Vec<_>, Vec<_>) = series
        .into_iter()
        .map(|series| (series.line, series.figure))
        .unzip();
    Watch {
        monitoring: Monitoring {
            rules,
            series: lines,
        },
        figures: figures.into_iter().flatten().collect(),
    }
}

/// Whether a measure has a chart over all quarters.
pub(super) fn is_watched(measure: &Measure) -> bool {
    WATCHED.contains(&measure.id)
}

/// From the first whole quarter after the prevalent window to the reporting quarter.
pub(super) fn quarters(material: &Material<'_>) -> Vec<Quarter> {
    let from = days_after(
        material.horizon.data_start,
        material.rules.prevalent_window_days,
    );
    let mut quarter = Quarter::of(from);
    if quarter.start() < from {
        quarter = quarter.next();
    }
    let mut quarters = Vec::new();
    while quarter <= material.quarter {
        quarters.push(quarter);
        quarter = quarter.next();
    }
    quarters
}

pub(super) fn n_baseline(material: &Material<'_>) -> usize {
    usize::try_from(material.rules.chart_baseline_quarters).unwrap_or(usize::MAX)
}

/// The headline of every quarter.
fn points(material: &Material<'_>, counted: &Counted) -> Vec<(Quarter, MeasureResult)> {
    quarters(material)
        .into_iter()
        .filter_map(|quarter| {
            let results = counted.of(material, &Cohort::quarter(quarter));
            Some((quarter, headline_of(counted.measure, results)?))
        })
        .collect()
}

/// The chart for the kind of data: shares of known answers, counts, or single values.
fn quarterly(
    material: &Material<'_>,
    counted: &Counted,
    points: &[(Quarter, MeasureResult)],
) -> Result<Watched, Refusal> {
    let baseline = n_baseline(material);
    let results = || points.iter().map(|(_, result)| result);
    match counted.measure.method {
        Method::Status { .. } => {
            let counts: Vec<QuarterCount> = results().map(quarter_count).collect();
            share_chart(&counts, baseline)
        }
        Method::Count { .. } => {
            let known: Vec<u64> = results().filter_map(n_events).collect();
            event_chart(&known, baseline)
        }
        Method::FollowUp { .. }
        | Method::Expected { .. }
        | Method::Described { .. }
        | Method::TimeFree { .. }
        | Method::MeanCount { .. }
        | Method::Bands { .. }
        | Method::CountRatio { .. }
        | Method::Snapshot { .. } => {
            let values: Vec<Option<f64>> = results().map(known_value).collect();
            value_chart(&values, baseline)
        }
    }
}

/// What the first mature quarters of a measure came to.
pub(super) struct Base {
    pub(super) n_quarters: usize,
    pub(super) centre: f64,
    pub(super) unit: Unit,
}

/// The base of a watched measure that has a chart by quarter.
pub(super) fn base_of(material: &Material<'_>, counted: &Counted) -> Option<Base> {
    if !is_watched(counted.measure) || material.dates.has_shifted_quarters() {
        return None;
    }
    let watched = quarterly(material, counted, &points(material, counted)).ok()?;
    Some(Base {
        n_quarters: watched.chart.n_baseline,
        centre: watched.chart.centre,
        unit: counted.measure.unit,
    })
}

fn of_measure(material: &Material<'_>, counted: &Counted, known: &mut RulesByLength) -> Series {
    let title = counted.measure.title;
    if material.dates.has_shifted_quarters() {
        let reason =
            "not charted: dates were shifted, so people of neighbouring quarters are mixed";
        return Series::refused(title, Refusal::new(reason));
    }
    let points = points(material, counted);
    let made = quarterly(material, counted, &points);
    let is_count = matches!(counted.measure.method, Method::Count { .. });
    if is_count && made.is_err() && !material.dates.is_shifted() {
        return of_gaps(material, counted, known);
    }
    let labelled: Vec<PointOf<'_>> = points
        .iter()
        .map(|(quarter, result)| PointOf {
            label: quarter.to_string(),
            result: Some(result),
        })
        .collect();
    finish(material, counted, title.to_owned(), made, &labelled, known)
}

/// Days between rare events, as far as procedures are known.
fn of_gaps(material: &Material<'_>, counted: &Counted, known: &mut RulesByLength) -> Series {
    let Prepared::Events(events) = &*counted.prepared else {
        return Series::refused(counted.measure.title, Refusal::new("no events are counted"));
    };
    let title = format!("{}, days between them", counted.measure.title);
    let gaps: Vec<i64> = events
        .windows(2)
        .map(|pair| days_between(pair[0].at.date, pair[1].at.date))
        .collect();
    let labels: Vec<PointOf<'_>> = events
        .iter()
        .skip(1)
        .map(|event| PointOf {
            label: words::date(event.at.date),
            result: None,
        })
        .collect();
    let made = gap_chart(&gaps, n_baseline(material));
    let mut series = finish(material, counted, title, made, &labels, known);
    if let Some(last) = events.last() {
        let days = days_between(last.at.date, material.horizon.limbs_known_to());
        let since = usize::try_from(days).unwrap_or(0);
        series.line.finding.push_str(&format!(
            "; {} without one up to the day procedures are known to",
            words::counted(since, "day", "days")
        ));
    }
    series
}

fn finish(
    material: &Material<'_>,
    counted: &Counted,
    title: String,
    made: Result<Watched, Refusal>,
    points: &[PointOf<'_>],
    known: &mut RulesByLength,
) -> Series {
    let watched = match made {
        Ok(watched) => watched,
        Err(refusal) => return Series::refused(title, refusal),
    };
    let n_points = watched
        .chart
        .points
        .iter()
        .filter(|point| point.value.is_some())
        .count();
    let rules = known
        .entry(n_points)
        .or_insert_with(|| run_rules(n_points, n_baseline(material)));
    let Ok(rules) = rules else {
        return Series::refused(title, Refusal::new("a chart needs two points"));
    };
    let finding = finding(&watched, points, counted.measure.direction);
    let figure = charted(counted, &title, &finding, &watched, rules, points);
    Series {
        line: WatchedSeries {
            title,
            figure: Some(figure.frame.id.clone()),
            is_signal: !watched.signals.is_empty(),
            finding,
        },
        figure: Some(Figure::ControlChart(figure)),
        false_alarm: Some(rules.chance_estimated),
    }
}

fn quarter_count(result: &MeasureResult) -> QuarterCount {
    match (&result.value, result.numerator, result.denominator) {
        (Value::Known(_), Some(Count::Shown(n_events)), Some(Count::Shown(n))) => {
            QuarterCount { n_events, n }
        }
        _ => QuarterCount { n_events: 0, n: 0 },
    }
}

fn n_events(result: &MeasureResult) -> Option<u64> {
    match (&result.value, result.numerator) {
        (Value::Known(_), Some(Count::Shown(n))) => Some(n),
        _ => None,
    }
}

fn known_value(result: &MeasureResult) -> Option<f64> {
    match &result.value {
        Value::Known(estimate) => Some(estimate.estimate),
        _ => None,
    }
}

/// The rules, and how many of the series would speak by chance.
fn rules(material: &Material<'_>, series: &[Series]) -> Vec<String> {
    let alarms: Vec<f64> = series
        .iter()
        .filter_map(|series| series.false_alarm)
        .collect();
    let base = material.rules.chart_baseline_quarters;
    let mut sentences = vec![format!(
        "Every chart uses one set of rules: {}. Centre and limits come from the first {base} mature quarters (or gaps) and \
         never move; a signal says that something differs from that time, not why.",
        RuleSet::default()
    )];
    if !alarms.is_empty() {
        let expected: f64 = alarms.iter().sum();
        sentences.push(format!(
            "{} charted by these rules. If nothing had changed in any of them, about {} would still have given a \
             signal by chance, by simulation on pure noise with limits made from so few points.",
            words::counted(alarms.len(), "series is", "series are"),
            words::decimal(expected, 1)
        ));
    }
    sentences
}
