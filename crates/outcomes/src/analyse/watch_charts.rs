//! From a chart's numbers to its figure and its finding in words.

use super::Counted;
use crate::monitor::{RunRules, Watched};
use crate::report::{
    ControlChart, ControlPoint, Estimate, FigureFrame, MeasureResult, NamedSignal, Unit, Value,
    words,
};
use survival::counts::chart::{ChartKind, Rule, Signal};

/// What a point of a chart is called and was made from.
pub(super) struct PointOf<'a> {
    pub(super) label: String,
    /// The result of its quarter; `None` for a gap between events.
    pub(super) result: Option<&'a MeasureResult>,
}

/// Every rule with its short name and its words.
const RULES: [(Rule, &str, &str); 4] = [
    (
        Rule::BeyondLimit,
        "beyond a limit",
        "one point more than 3 standard deviations from the centre",
    ),
    (
        Rule::Shift,
        "shift",
        "7 points in a row on one side of the centre",
    ),
    (Rule::Trend, "trend", "6 points in a row rising, or falling"),
    (
        Rule::TwoOfThree,
        "two of three",
        "2 of 3 points in a row more than 2 standard deviations out on one side",
    ),
];

/// Most signals told in a sentence.
const MOST_TOLD: usize = 3;

/// What the chart found: the signals, the newest last, or that there is none.
pub(super) fn finding(watched: &Watched, points: &[PointOf<'_>], direction: &str) -> String {
    let n = watched
        .chart
        .points
        .iter()
        .filter(|point| point.value.is_some())
        .count();
    let of = if watched.chart.kind == ChartKind::TimeBetween {
        words::counted(n, "gap", "gaps")
    } else {
        words::counted(n, "quarter", "quarters")
    };
    let signals = &watched.signals;
    if signals.is_empty() {
        return format!("no signal in {of}");
    }
    let more = signals.len().saturating_sub(MOST_TOLD);
    let told: Vec<String> = signals
        .iter()
        .skip(more)
        .map(|signal| signal_words(signal, watched, points, direction))
        .collect();
    let earlier = if more > 0 {
        format!("{} earlier; ", words::counted(more, "signal", "signals"))
    } else {
        String::new()
    };
    format!("{earlier}{}, in {of}", told.join("; "))
}

fn signal_words(
    signal: &Signal,
    watched: &Watched,
    points: &[PointOf<'_>],
    direction: &str,
) -> String {
    let label = |position: usize| {
        let place = position.checked_sub(1).and_then(|place| points.get(place));
        place.map_or("", |point| point.label.as_str())
    };
    let is_gap = watched.chart.kind == ChartKind::TimeBetween;
    let side = match (is_gap, signal.is_upward) {
        (false, true) => "above",
        (false, false) => "below",
        (true, true) => "longer than",
        (true, false) => "shorter than",
    };
    // A longer time between events is fewer of them.
    let is_more = signal.is_upward != is_gap;
    let meaning = match (direction, is_more) {
        ("better", true) | ("worse", false) => " (for the better)",
        ("better", false) | ("worse", true) => " (for the worse)",
        _ => "",
    };
    let (first, last) = (label(signal.first), label(signal.last));
    match signal.rule {
        Rule::BeyondLimit => format!("{last} {side} the limits{meaning}"),
        Rule::Shift => format!("{first} to {last} all {side} the centre{meaning}"),
        Rule::Trend if signal.is_upward => format!("rising from {first} to {last}{meaning}"),
        Rule::Trend => format!("falling from {first} to {last}{meaning}"),
        Rule::TwoOfThree => {
            format!("two of three far {side} the centre, {first} to {last}{meaning}")
        }
    }
}

/// The chart as a figure.
pub(super) fn charted(
    counted: &Counted,
    title: &str,
    finding: &str,
    watched: &Watched,
    rules: &RunRules,
    points: &[PointOf<'_>],
) -> ControlChart {
    let measure = counted.measure;
    let chart = &watched.chart;
    let is_gap = chart.kind == ChartKind::TimeBetween;
    let unit = if is_gap { Unit::Days } else { measure.unit };
    let n = chart
        .points
        .iter()
        .filter(|point| point.value.is_some())
        .count();
    let each = if is_gap {
        "Each point is the time from one event to the next, named by the later one"
    } else {
        "Each point is one quarter's cohort; a quarter without a point has not been followed long enough or had nobody"
    };
    ControlChart {
        frame: FigureFrame {
            id: format!("{}-{}", measure.id, if is_gap { "gaps" } else { "control" }),
            family: measure.family.to_owned(),
            title: format!("{title}: {finding}"),
            caption: format!(
                "{each}. Centre and limits come from the first {} and never move. If nothing had changed, a chart of {n} \
                 points would still give at least one signal in {}; were the limits known exactly, in {}. A signal says that \
                 something differs from that time, not why.",
                words::counted(chart.n_baseline, "point", "points"),
                words::times_of_100(rules.chance_estimated),
                words::times_of_100(rules.chance_known),
            ),
            alt: format!(
                "Control chart of {n} points around a centre of {}. {}.",
                words::number(unit, chart.centre),
                capitalised(finding)
            ),
        },
        unit,
        kind_of_chart: watched.kind_words().to_owned(),
        limits_words: "3 standard deviations from the centre".to_owned(),
        points: chart
            .points
            .iter()
            .zip(points)
            .map(|(point, of)| ControlPoint {
                label: of.label.clone(),
                value: match (point.value, of.result) {
                    (Some(estimate), _) => Value::Known(Estimate {
                        estimate,
                        interval: None,
                    }),
                    (None, Some(result)) => result.value.clone(),
                    (None, None) => Value::NotEstimable {
                        reason: "no value".to_owned(),
                    },
                },
                n: of.result.and_then(|result| result.denominator),
                centre: point.value.map(|_| chart.centre),
                lower: point.lower.map(|lower| within(unit, lower)),
                upper: point.upper.map(|upper| within(unit, upper)),
                signals: watched
                    .signals
                    .iter()
                    .filter(|signal| signal.last == point.position)
                    .map(|signal| name_of(signal.rule).to_owned())
                    .collect(),
            })
            .collect(),
        signals: RULES
            .iter()
            .map(|(_, name, words)| NamedSignal {
                name: (*name).to_owned(),
                words: (*words).to_owned(),
            })
            .collect(),
    }
}

fn name_of(rule: Rule) -> &'static str {
    let found = RULES.iter().find(|(of, ..)| *of == rule);
    found.map_or("", |(_, name, _)| name)
}

/// A limit is drawn no further than a value can go.
fn within(unit: Unit, limit: f64) -> f64 {
    match unit {
        Unit::Share => limit.clamp(0.0, 1.0),
        _ => limit.max(0.0),
    }
}

pub(super) fn capitalised(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}
