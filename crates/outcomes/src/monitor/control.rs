//! Control charts by kind of data, with one set of run rules.

use super::SEED;
use crate::expectation::Refusal;
use survival::counts::chart::{
    ChartKind, ChartOptions, ChartPoint, ControlChart, LimitSource, MovingRangeRule, RuleSet,
    Signal, Variation, count_chart, false_alarm_chances, individuals_chart, proportion_chart,
    signals, time_between_chart,
};
use survival::counts::{Scale, Winsorising, proportion_overdispersion};

/// Charts simulated for the chance of a false signal.
const N_SIMULATIONS: usize = 4000;

/// Counts below this mean a period are rare: the time between events is charted instead (common practice, no source).
const RARE_BELOW: f64 = 4.0;

/// A chart with the patterns found in it.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Watched {
    /// Centre, limits and points; one point a place given, those without a value included.
    pub chart: ControlChart,
    /// Patterns by the run rules, in order of their first point.
    pub signals: Vec<Signal>,
}

/// Events among people of one quarter.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct QuarterCount {
    /// People with the event.
    pub n_events: u64,
    /// People whose answer is known.
    pub n: u64,
}

/// The run rules of every chart, and how often they speak when nothing happened.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct RunRules {
    /// The rules.
    pub rules: RuleSet,
    /// Chance of at least one signal on pure noise when centre and spread are known exactly, 0 to 1.
    pub chance_known: f64,
    /// The same when they come from the first points of the chart, as here.
    pub chance_estimated: f64,
}

/// The rules in force and their chance of a false signal on a chart of `n_points`, of which the first `n_baseline` make the
/// limits. Simulated on normal noise with a fixed seed; charts of shares come close to it.
///
/// # Errors
/// Refused for fewer than two points.
pub(crate) fn run_rules(n_points: usize, n_baseline: usize) -> Result<RunRules, Refusal> {
    let rules = RuleSet::default();
    let limits = [
        LimitSource::Known,
        LimitSource::FirstPoints {
            n_baseline: n_baseline.min(n_points),
        },
    ];
    let [known, estimated] = false_alarm_chances(&rules, n_points, limits, N_SIMULATIONS, SEED)
        .map_err(|_| Refusal::new("a chart needs two points"))?;
    Ok(RunRules {
        rules,
        chance_known: known.chance,
        chance_estimated: estimated.chance,
    })
}

/// Chart of shares by quarter (p chart). Where the first quarters spread more than the binomial law allows, and their
/// neighbours differ more too, the limits carry that spread (Laney's p').
///
/// Centre and limits come from the first `n_baseline` quarters that have anybody.
///
/// # Errors
/// Refused with fewer than `n_baseline` such quarters, or when the first of them had the event all or never: a centre of 0
/// or 1 has no limits.
pub(crate) fn share_chart(
    quarters: &[QuarterCount],
    n_baseline: usize,
) -> Result<Watched, Refusal> {
    let places = places_of(quarters, |quarter| quarter.n > 0);
    let full: Vec<QuarterCount> = places.iter().map(|place| quarters[*place]).collect();
    enough(full.len(), n_baseline, QUARTERS)?;
    let events: Vec<u64> = full.iter().map(|quarter| quarter.n_events).collect();
    let sizes: Vec<u64> = full.iter().map(|quarter| quarter.n).collect();
    let chart = |variation| {
        let options = ChartOptions {
            n_baseline: Some(n_baseline),
            variation,
        };
        proportion_chart(&events, &sizes, &options)
            .map_err(|_| Refusal::new("the counts make no chart"))
    };
    let plain = chart(Variation::Chance)?;
    if plain.centre <= 0.0 || plain.centre >= 1.0 {
        return Err(Refusal::new(format!(
            "the first {n_baseline} quarters had the event {}, so there are no limits",
            if plain.centre <= 0.0 {
                "never"
            } else {
                "always"
            }
        )));
    }
    let spread = proportion_overdispersion(
        events.get(..n_baseline).unwrap_or(&events),
        sizes.get(..n_baseline).unwrap_or(&sizes),
        plain.centre,
        Scale::Stabilised,
        Winsorising::Count { share: 0.1 },
    );
    let chart = if spread.is_some_and(|spread| spread.is_overdispersed) {
        // Moving ranges may be small where the spread is a trend; limits are never narrower than chance.
        chart(Variation::Laney)
            .ok()
            .filter(|wide| wide.sigma_z.is_some_and(|sigma| sigma > 1.0))
            .unwrap_or(plain)
    } else {
        plain
    };
    Ok(watched(spread_out(chart, &places, quarters.len())))
}

/// Chart of one value a quarter (XmR), for values that are no simple share: curve estimates, ratios. Quarters without a value
/// keep their place.
///
/// # Errors
/// Refused with fewer than `n_baseline` values.
pub(crate) fn value_chart(values: &[Option<f64>], n_baseline: usize) -> Result<Watched, Refusal> {
    let places = places_of(values, |value| value.is_some_and(f64::is_finite));
    let known: Vec<f64> = places.iter().filter_map(|place| values[*place]).collect();
    enough(known.len(), n_baseline, QUARTERS)?;
    let made = individuals_chart(&known, Some(n_baseline), MovingRangeRule::Mean)
        .map_err(|_| Refusal::new("the values make no chart"))?;
    Ok(watched(spread_out(made.chart, &places, values.len())))
}

/// Chart of event counts by quarter (c chart).
///
/// # Errors
/// Refused with fewer than `n_baseline` quarters, or when events are rare: fewer than 4 a quarter on average in the first
/// of them.
pub(crate) fn event_chart(n_events: &[u64], n_baseline: usize) -> Result<Watched, Refusal> {
    enough(n_events.len(), n_baseline, QUARTERS)?;
    let made = count_chart(n_events, Some(n_baseline))
        .map_err(|_| Refusal::new("the counts make no chart"))?;
    if made.centre < RARE_BELOW {
        return Err(Refusal::new(format!(
            "fewer than {RARE_BELOW} a quarter in the first {n_baseline}: the time between them is charted"
        )));
    }
    Ok(watched(made))
}

/// Chart of the days between rare events (t chart).
///
/// # Errors
/// Refused with fewer than `n_baseline` gaps, or when all of the first are 0.
pub(crate) fn gap_chart(gap_days: &[i64], n_baseline: usize) -> Result<Watched, Refusal> {
    enough(gap_days.len(), n_baseline, "gaps between events")?;
    let days: Vec<f64> = gap_days.iter().map(|days| *days as f64).collect();
    if days.iter().take(n_baseline).all(|days| *days == 0.0) {
        return Err(Refusal::new("the first events all fell on one day"));
    }
    time_between_chart(&days, Some(n_baseline))
        .map(watched)
        .map_err(|_| Refusal::new("the gaps make no chart"))
}

const QUARTERS: &str = "mature quarters with a value";

fn enough(n: usize, n_needed: usize, of: &str) -> Result<(), Refusal> {
    if n_needed < 2 || n < n_needed {
        return Err(Refusal::new(format!(
            "needs {} {of}, has {n}",
            n_needed.max(2)
        )));
    }
    Ok(())
}

fn watched(chart: ControlChart) -> Watched {
    Watched {
        signals: signals(&chart, &RuleSet::default()),
        chart,
    }
}

fn places_of<T>(series: &[T], has_value: impl Fn(&T) -> bool) -> Vec<usize> {
    let places = series.iter().enumerate();
    places
        .filter(|(_, item)| has_value(item))
        .map(|(place, _)| place)
        .collect()
}

/// Puts the points of a chart back on their places in a series with gaps.
fn spread_out(chart: ControlChart, places: &[usize], n: usize) -> ControlChart {
    let mut points: Vec<ChartPoint> = (1..=n).map(ChartPoint::empty).collect();
    for (point, place) in chart.points.iter().zip(places) {
        if let Some(slot) = points.get_mut(*place) {
            *slot = ChartPoint {
                position: slot.position,
                ..*point
            };
        }
    }
    ControlChart { points, ..chart }
}

/// What kind of chart it is, in words.
impl Watched {
    /// The kind of chart, in words.
    pub(crate) fn kind_words(&self) -> &'static str {
        match self.chart.kind {
            ChartKind::Proportion => {
                "shares, with limits from each quarter's number of people (p chart)"
            }
            ChartKind::ProportionLaney => {
                "shares, with limits widened because quarters differ by more than the binomial law allows (Laney's p' chart)"
            }
            ChartKind::Individuals => {
                "single values, with limits from the differences of neighbours (XmR chart)"
            }
            ChartKind::Count => "counts a quarter (c chart)",
            ChartKind::TimeBetween => "days between rare events (t chart)",
            ChartKind::CasesBetween => "cases between rare events (g chart)",
            ChartKind::Rate | ChartKind::RateLaney => "rates (u chart)",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use survival::counts::chart::Rule;

    fn quarters(counts: &[(u64, u64)]) -> Vec<QuarterCount> {
        counts
            .iter()
            .map(|&(n_events, n)| QuarterCount { n_events, n })
            .collect()
    }

    /// p-bar 0.2313 and 50 a quarter: limits 0.4102 and 0.0524 (definition of the chart, three standard errors).
    #[test]
    fn a_share_outside_its_limits_signals_on_its_own_quarter_and_a_gap_keeps_its_place() {
        let mut counts = vec![
            (12, 50),
            (11, 50),
            (13, 50),
            (0, 0),
            (11, 50),
            (12, 50),
            (11, 50),
            (12, 50),
            (11, 50),
        ];
        counts.push((25, 50));
        let watched = share_chart(&quarters(&counts), 8).unwrap();
        assert_eq!(watched.chart.kind, ChartKind::Proportion);
        // 93 of 400 in the first eight full quarters.
        assert!((watched.chart.centre - 0.2325).abs() < 1e-12);
        assert_eq!(watched.chart.points[3].value, None);
        let reach = 3.0 * (0.2325_f64 * 0.7675 / 50.0).sqrt();
        assert!((watched.chart.points[9].upper.unwrap() - 0.2325 - reach).abs() < 1e-12);
        let far: Vec<usize> = watched
            .signals
            .iter()
            .filter(|signal| signal.rule == Rule::BeyondLimit)
            .map(|signal| signal.first)
            .collect();
        assert_eq!(far, [10]);
    }

    #[test]
    fn quarters_that_differ_by_more_than_chance_get_wider_limits() {
        let wild = quarters(&[
            (10, 100),
            (45, 100),
            (12, 100),
            (50, 100),
            (9, 100),
            (48, 100),
            (11, 100),
            (47, 100),
        ]);
        let watched = share_chart(&wild, 8).unwrap();
        assert_eq!(watched.chart.kind, ChartKind::ProportionLaney);
        assert!(watched.chart.sigma_z.unwrap() > 1.0);
    }

    #[test]
    fn seven_mature_quarters_make_no_chart_and_eight_do() {
        let full = quarters(&[(5, 20); 8]);
        assert_eq!(
            share_chart(&full[..7], 8).unwrap_err().reason,
            "needs 8 mature quarters with a value, has 7"
        );
        assert!(share_chart(&full, 8).is_ok());
        assert!(share_chart(&quarters(&[(0, 20); 8]), 8).is_err());
        assert!(share_chart(&quarters(&[(20, 20); 8]), 8).is_err());
    }

    /// NIST/SEMATECH handbook, section 6.3.2.2: mean 50.81, mean moving range 1.87778; 2.66 of them reach 55.805 and 45.815.
    #[test]
    fn single_values_have_the_limits_of_the_handbook_example() {
        let values = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1];
        let values: Vec<Option<f64>> = values.into_iter().map(Some).collect();
        let watched = value_chart(&values, 10).unwrap();
        assert!((watched.chart.centre - 50.81).abs() < 1e-9);
        assert!((watched.chart.points[0].upper.unwrap() - 55.8049).abs() < 1e-3);
        assert!((watched.chart.points[0].lower.unwrap() - 45.8151).abs() < 1e-3);
    }

    #[test]
    fn rare_events_are_charted_by_the_days_between_them() {
        assert!(event_chart(&[1, 0, 2, 1, 0, 1, 1, 0], 8).is_err());
        assert!(event_chart(&[5, 4, 6, 5, 3, 4, 5, 6], 8).is_ok());
        let gaps = [40, 55, 38, 61, 47, 52, 44, 58, 900];
        let watched = gap_chart(&gaps, 8).unwrap();
        assert!(
            watched
                .signals
                .iter()
                .any(|signal| signal.first == 9 && signal.is_upward)
        );
        assert!(gap_chart(&gaps[..7], 8).is_err());
        assert!(gap_chart(&[0; 8], 8).is_err());
    }

    /// On known limits the common set speaks on 6.2% of charts of 8 points, 11.6% of 12 and 21.4% of 20 (simulated outside
    /// the project).
    #[test]
    fn the_chance_of_a_false_signal_is_the_simulated_one_and_grows_with_estimated_limits() {
        for (n_points, wanted) in [(8, 0.062), (12, 0.116), (20, 0.214)] {
            let rules = run_rules(n_points, 8).unwrap();
            assert!(
                (rules.chance_known - wanted).abs() < 0.02,
                "{n_points}: {rules:?}"
            );
        }
        let rules = run_rules(12, 8).unwrap();
        assert!(rules.chance_estimated > rules.chance_known);
        assert!(run_rules(1, 8).is_err());
    }

    proptest! {
        #[test]
        fn a_later_quarter_moves_no_limit_and_no_earlier_signal(
            counts in prop::collection::vec((0u64..30, 30u64..60), 9..20)
        ) {
            let all = quarters(&counts);
            let before = share_chart(&all[..all.len() - 1], 8);
            let after = share_chart(&all, 8);
            prop_assert_eq!(before.is_ok(), after.is_ok());
            if let (Ok(before), Ok(after)) = (before, after) {
                let n = before.chart.points.len();
                prop_assert_eq!(&before.chart.points[..], &after.chart.points[..n]);
                let complete = |watched: &Watched| watched
                    .signals
                    .iter()
                    .filter(|signal| signal.rule == Rule::BeyondLimit && signal.last <= n)
                    .copied()
                    .collect::<Vec<_>>();
                prop_assert_eq!(complete(&before), complete(&after));
            }
        }
    }
}
