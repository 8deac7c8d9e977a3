//! Run rules: patterns that chance alone rarely makes.

use serde::{Deserialize, Serialize};

use super::{ChartPoint, ControlChart, SIGMA_LIMIT};

/// A named set of rules; a rule set to `None` is off.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct RuleSet {
    /// Standard deviations beyond which one point signals; at 3 exactly the chart's own limits decide.
    pub beyond_sigma: Option<f64>,
    /// Points in a row on one side of the centre that make a shift.
    pub shift_length: Option<usize>,
    /// Points in a row that rise (or fall) steadily that make a trend.
    pub trend_length: Option<usize>,
    /// Standard deviations beyond which, on one side, two of three points in a row signal.
    pub two_of_three_sigma: Option<f64>,
}

impl Default for RuleSet {
    /// Beyond 3 standard deviations, shift of 7, trend of 6, 2 of 3 beyond 2 (common practice, no source).
    fn default() -> RuleSet {
        RuleSet {
            beyond_sigma: Some(SIGMA_LIMIT),
            shift_length: Some(7),
            trend_length: Some(6),
            two_of_three_sigma: Some(2.0),
        }
    }
}

impl std::fmt::Display for RuleSet {
    /// The rules in words, to be printed beside every chart they were used on.
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let rules = [
            self.beyond_sigma
                .map(|sigma| format!("1 point beyond {sigma} standard deviations")),
            self.shift_length
                .map(|length| format!("{length} in a row on one side of the centre")),
            self.trend_length
                .map(|length| format!("{length} in a row rising or falling")),
            self.two_of_three_sigma
                .map(|sigma| format!("2 of 3 beyond {sigma} standard deviations on one side")),
        ];
        let rules: Vec<String> = rules.into_iter().flatten().collect();
        out.write_str(if rules.is_empty() { "no rule" } else { "" })?;
        out.write_str(&rules.join("; "))
    }
}

/// A rule that can signal.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Rule {
    /// One point beyond a limit.
    BeyondLimit,
    /// A run on one side of the centre.
    Shift,
    /// A steady rise or fall.
    Trend,
    /// Two of three neighbours far out on one side.
    TwoOfThree,
}

/// A pattern found in a chart.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
pub struct Signal {
    /// First point of the pattern, from 1.
    pub first: usize,
    /// Last point of the pattern.
    pub last: usize,
    /// The rule.
    pub rule: Rule,
    /// Whether the pattern lies above the centre (or rises).
    pub is_upward: bool,
}

/// Every pattern of `rules` in `chart`, in order of their first point.
///
/// Points without a value are passed over. A point on the centre neither adds to a shift nor breaks it; equal
/// neighbours neither add to a trend nor break it. On charts without even zones only points beyond a limit signal.
/// Source: Western Electric, Statistical Quality Control Handbook, 1956; Nelson, J Qual Technol 1984;16:237-239.
pub fn signals(chart: &ControlChart, rules: &RuleSet) -> Vec<Signal> {
    let deviations: Vec<Placed> = chart
        .points
        .iter()
        .filter(|point| point.value.is_some())
        .map(|point| Placed {
            position: point.position,
            deviation: point.deviation.unwrap_or(0.0),
        })
        .collect();
    let mut found: Vec<Signal> = Vec::new();
    if let Some(sigma) = rules.beyond_sigma {
        let far = chart.points.iter().filter(|point| is_beyond(point, sigma));
        found.extend(far.map(|point| Signal {
            first: point.position,
            last: point.position,
            rule: Rule::BeyondLimit,
            is_upward: point.value > Some(chart.centre),
        }));
    }
    if chart.has_even_zones {
        found.extend(pattern_signals(&deviations, rules));
    }
    found.sort();
    found
}

fn is_beyond(point: &ChartPoint, sigma: f64) -> bool {
    match point.deviation {
        Some(deviation) if sigma != SIGMA_LIMIT => deviation.abs() > sigma,
        _ => point.is_outside,
    }
}

#[derive(Clone, Copy)]
struct Placed {
    position: usize,
    deviation: f64,
}

fn pattern_signals(placed: &[Placed], rules: &RuleSet) -> Vec<Signal> {
    let deviations: Vec<f64> = placed.iter().map(|placed| placed.deviation).collect();
    let sides: Vec<Option<bool>> = deviations
        .iter()
        .map(|z| (*z != 0.0).then_some(*z > 0.0))
        .collect();
    let as_signal = |rule: Rule| {
        move |stretch: &Stretch| {
            let (first, last) = (
                placed.get(stretch.first)?.position,
                placed.get(stretch.last)?.position,
            );
            Some(Signal {
                first,
                last,
                rule,
                is_upward: stretch.is_upward,
            })
        }
    };
    let mut found = Vec::new();
    if let Some(length) = rules.shift_length {
        let runs = longest_runs(&sides);
        found.extend(
            runs.iter()
                .filter(|run| run.n_points >= length.max(1))
                .filter_map(as_signal(Rule::Shift)),
        );
    }
    if let Some(length) = rules.trend_length {
        let stretches = steady_stretches(&deviations);
        found.extend(
            stretches
                .iter()
                .filter(|run| run.n_points >= length.max(2))
                .filter_map(as_signal(Rule::Trend)),
        );
    }
    if let Some(sigma) = rules.two_of_three_sigma {
        found.extend(
            two_of_three(&deviations, sigma)
                .iter()
                .filter_map(as_signal(Rule::TwoOfThree)),
        );
    }
    found
}

/// Points from `first` to `last` (from 0) that form one pattern; `n_points` of them count.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Stretch {
    pub(super) first: usize,
    pub(super) last: usize,
    pub(super) n_points: usize,
    pub(super) is_upward: bool,
}

/// Maximal runs on one side; points without a side are passed over.
pub(super) fn longest_runs(sides: &[Option<bool>]) -> Vec<Stretch> {
    let mut runs: Vec<Stretch> = Vec::new();
    for (index, side) in sides.iter().enumerate() {
        let Some(is_upward) = *side else { continue };
        match runs.last_mut() {
            Some(run) if run.is_upward == is_upward => {
                run.last = index;
                run.n_points += 1;
            }
            _ => runs.push(Stretch {
                first: index,
                last: index,
                n_points: 1,
                is_upward,
            }),
        }
    }
    runs
}

/// Maximal stretches that rise (or fall) steadily, both ends counted; equal neighbours count once.
pub(super) fn steady_stretches(values: &[f64]) -> Vec<Stretch> {
    let mut stretches: Vec<Stretch> = Vec::new();
    let Some((mut before, mut turn)) = values.first().map(|first| (*first, 0)) else {
        return stretches;
    };
    for (index, value) in values.iter().enumerate() {
        if *value == before {
            continue;
        }
        let is_upward = *value > before;
        match stretches.last_mut() {
            Some(stretch) if stretch.is_upward == is_upward => {
                stretch.last = index;
                stretch.n_points += 1;
            }
            _ => stretches.push(Stretch {
                first: turn,
                last: index,
                n_points: 2,
                is_upward,
            }),
        }
        (before, turn) = (*value, index);
    }
    stretches
}

/// Windows of three neighbours of which two or more lie beyond `sigma` on one side; overlapping windows join.
fn two_of_three(deviations: &[f64], sigma: f64) -> Vec<Stretch> {
    let mut found: Vec<Stretch> = Vec::new();
    for is_upward in [true, false] {
        let start = found.len();
        for (index, window) in deviations.windows(3).enumerate() {
            let n_far = window
                .iter()
                .filter(|z| if is_upward { **z > sigma } else { **z < -sigma })
                .count();
            if n_far < 2 {
                continue;
            }
            let last = index + 2;
            match found.get_mut(start..).and_then(<[Stretch]>::last_mut) {
                Some(stretch) if index <= stretch.last => {
                    stretch.last = last;
                    stretch.n_points = last - stretch.first + 1;
                }
                _ => found.push(Stretch {
                    first: index,
                    last,
                    n_points: 3,
                    is_upward,
                }),
            }
        }
    }
    found
}
