//! Funnels: sites and clinicians against the limits that chance alone would leave them in. No ranks, no league table.

use crate::expectation::Refusal;
use survival::counts::{
    FunnelMethod, FunnelOptions, Scale, Widening, Winsorising, proportion_funnel,
    proportion_overdispersion,
};

/// Inner and outer limits hold this share of units that differ by chance alone. Source: Spiegelhalter, Stat Med
/// 2005;24:1185-1202.
pub(crate) const LEVELS: [f64; 2] = [0.95, 0.998];

/// Most sizes at which limits are given.
const MOST_SIZES: u64 = 200;

/// One unit: a site, a clinician.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct UnitCount {
    /// Its pseudonymous key.
    pub key: String,
    /// People with the event.
    pub n_events: u64,
    /// People whose answer is known.
    pub n: u64,
}

/// Where a unit lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum UnitPlace {
    /// Inside the inner limits.
    Inside,
    /// Between the inner and the outer limits, above or below.
    Between {
        /// Above the target.
        is_above: bool,
    },
    /// Outside the outer limits.
    Outside {
        /// Above the target.
        is_above: bool,
    },
}

/// A unit in the funnel.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct UnitShare {
    /// The counts.
    pub unit: UnitCount,
    /// Share with the event, 0 to 1.
    pub share: f64,
    /// Where it lies.
    pub place: UnitPlace,
}

/// Limits of one level at one size.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct SizeLimits {
    /// People.
    pub size: u64,
    /// Lower limit, 0 to 1.
    pub lower: f64,
    /// Upper limit, 0 to 1.
    pub upper: f64,
}

/// A funnel.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct FunnelChart {
    /// Share of everybody together.
    pub target: f64,
    /// Limits of each level by rising size, the inner level first.
    pub limits: [Vec<SizeLimits>; 2],
    /// Units large enough, by key.
    pub units: Vec<UnitShare>,
    /// Units that are too small to compare, by key.
    pub too_few: Vec<UnitCount>,
    /// Mean squared standardised distance of the units; 1 by chance alone. `None` with fewer than two units.
    pub phi: Option<f64>,
    /// Whether the limits were widened because units spread by more than chance.
    pub is_widened: bool,
}

/// Sets units of at least `n_least` people against exact binomial limits around the share of everybody together.
///
/// Where the units spread by more than chance (phi above 1 + 2 sqrt(2 / units), a tenth of them pulled in at each end) the
/// limits are widened by sqrt(phi). Units come out by key, never by value.
///
/// # Errors
/// Refused with fewer than two units of that size, or when everybody or nobody had the event.
/// Source: Spiegelhalter, Stat Med 2005;24:1185-1202; exact limits interpolated as in its appendix.
pub(crate) fn unit_funnel(mut units: Vec<UnitCount>, n_least: u64) -> Result<FunnelChart, Refusal> {
    units.sort_by(|one, other| one.key.cmp(&other.key));
    let n_events: u64 = units.iter().map(|unit| unit.n_events).sum();
    let n: u64 = units.iter().map(|unit| unit.n).sum();
    let (large, small): (Vec<UnitCount>, Vec<UnitCount>) =
        units.into_iter().partition(|unit| unit.n >= n_least.max(1));
    if large.len() < 2 {
        return Err(Refusal::new(format!(
            "needs two with at least {n_least} known outcomes, has {}",
            large.len()
        )));
    }
    if n_events == 0 || n_events >= n {
        return Err(Refusal::new(
            "everybody had the same outcome, so there are no limits",
        ));
    }
    let target = n_events as f64 / n as f64;
    let events: Vec<u64> = large.iter().map(|unit| unit.n_events).collect();
    let sizes: Vec<u64> = large.iter().map(|unit| unit.n).collect();
    let spread = proportion_overdispersion(
        &events,
        &sizes,
        target,
        Scale::Stabilised,
        Winsorising::default(),
    );
    let widening = spread
        .as_ref()
        .map_or(Widening::Nothing, |spread| spread.multiplicative());
    let at = |sizes: &[u64], level: f64| limits(sizes, target, level, widening);
    let largest = sizes.iter().copied().max().unwrap_or(n_least);
    let step = (largest.saturating_sub(n_least) / MOST_SIZES).max(1);
    let mut drawn: Vec<u64> = (n_least.max(1)..=largest)
        .step_by(usize::try_from(step).unwrap_or(1))
        .collect();
    drawn.extend(&sizes);
    drawn.sort_unstable();
    drawn.dedup();
    let own = LEVELS.map(|level| at(&sizes, level));
    let placed = large.into_iter().enumerate().map(|(place, unit)| {
        let share = unit.n_events as f64 / unit.n as f64;
        let is_beyond = |limits: &[SizeLimits]| {
            limits
                .get(place)
                .is_some_and(|limits| share < limits.lower || share > limits.upper)
        };
        let is_above = share > target;
        let place = match (is_beyond(&own[0]), is_beyond(&own[1])) {
            (_, true) => UnitPlace::Outside { is_above },
            (true, false) => UnitPlace::Between { is_above },
            (false, false) => UnitPlace::Inside,
        };
        UnitShare { unit, share, place }
    });
    Ok(FunnelChart {
        target,
        units: placed.collect(),
        limits: LEVELS.map(|level| at(&drawn, level)),
        too_few: small,
        phi: spread.map(|spread| spread.phi),
        is_widened: widening != Widening::Nothing,
    })
}

fn limits(sizes: &[u64], target: f64, level: f64, widening: Widening) -> Vec<SizeLimits> {
    let tail = (1.0 - level) / 2.0;
    let options = FunnelOptions {
        target,
        probabilities: vec![tail, 1.0 - tail],
        method: FunnelMethod::Interpolated,
        widening,
    };
    let points = proportion_funnel(sizes, &options);
    points
        .into_iter()
        .zip(sizes)
        .map(|(point, size)| {
            let value = |place: usize| point.limits.get(place).and_then(|limit| limit.value);
            SizeLimits {
                size: *size,
                lower: value(0).unwrap_or(0.0),
                upper: value(1).unwrap_or(1.0),
            }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn unit(key: &str, n_events: u64, n: u64) -> UnitCount {
        UnitCount {
            key: key.to_owned(),
            n_events,
            n,
        }
    }

    /// Target 0.5, 20 people: 95% limits 0.2558 and 0.6942, 99.8% limits 0.1367 and 0.8133 (Spiegelhalter's interpolated form,
    /// computed outside the project).
    #[test]
    fn published_limits_decide_where_a_unit_lies() {
        for (n_events, wanted) in [
            (10, UnitPlace::Inside),
            (6, UnitPlace::Inside),
            (5, UnitPlace::Between { is_above: false }),
            (3, UnitPlace::Between { is_above: false }),
            (2, UnitPlace::Outside { is_above: false }),
            (13, UnitPlace::Inside),
            (14, UnitPlace::Between { is_above: true }),
            (17, UnitPlace::Outside { is_above: true }),
        ] {
            // Others bring the share of everybody to one half, so close to it that nothing is widened.
            let mut units: Vec<UnitCount> = (0..10)
                .map(|place| unit(&format!("room {place}"), 50, 100))
                .collect();
            units.push(unit("hill", n_events, 20));
            units.push(unit("quay", 500 - n_events, 980));
            let funnel = unit_funnel(units, 10).unwrap();
            assert!((funnel.target - 0.5).abs() < 1e-12);
            assert!(!funnel.is_widened);
            assert_eq!(funnel.units[0].place, wanted, "{n_events} of 20");
            for (level, (lower, upper)) in [(0.2558, 0.6942), (0.1367, 0.8133)].iter().enumerate() {
                let own = &funnel.limits[level];
                let at_20 = own.iter().find(|limits| limits.size == 20).unwrap();
                assert!((at_20.lower - lower).abs() < 5e-5);
                assert!((at_20.upper - upper).abs() < 5e-5);
            }
        }
    }

    #[test]
    fn nine_people_are_too_few_and_ten_are_enough_and_order_is_by_key() {
        let units = vec![unit("c", 5, 10), unit("b", 1, 9), unit("a", 6, 12)];
        let funnel = unit_funnel(units, 10).unwrap();
        let keys: Vec<&str> = funnel
            .units
            .iter()
            .map(|unit| unit.unit.key.as_str())
            .collect();
        assert_eq!(keys, ["a", "c"]);
        assert_eq!(funnel.too_few, [unit("b", 1, 9)]);
        // The share of everybody together counts the small unit too.
        assert!((funnel.target - 12.0 / 31.0).abs() < 1e-12);
        assert!(unit_funnel(vec![unit("a", 5, 10), unit("b", 5, 9)], 10).is_err());
        assert!(unit_funnel(vec![unit("a", 0, 10), unit("b", 0, 10)], 10).is_err());
    }

    #[test]
    fn units_that_spread_by_more_than_chance_get_wider_limits() {
        let wild: Vec<UnitCount> = (0..10)
            .map(|place| {
                unit(
                    &format!("u{place}"),
                    if place % 2 == 0 { 20 } else { 80 },
                    100,
                )
            })
            .collect();
        let funnel = unit_funnel(wild, 10).unwrap();
        assert!(funnel.is_widened);
        let narrow = limits(&[100], 0.5, 0.95, Widening::Nothing);
        let wide = funnel.limits[0]
            .iter()
            .find(|limits| limits.size == 100)
            .unwrap();
        assert!(wide.lower < narrow[0].lower && wide.upper > narrow[0].upper);
    }

    proptest! {
        #[test]
        fn shuffled_units_give_the_same_funnel(
            counts in prop::collection::vec((0u64..20, 20u64..60), 2..12), seed in any::<u64>()
        ) {
            let units: Vec<UnitCount> = counts
                .iter()
                .enumerate()
                .map(|(place, (events, n))| unit(&format!("unit {place:02}"), *events, *n))
                .collect();
            let mut shuffled = units.clone();
            let turn = usize::try_from(seed % counts.len() as u64).unwrap();
            shuffled.rotate_left(turn);
            prop_assert_eq!(unit_funnel(units, 10), unit_funnel(shuffled, 10));
        }
    }
}
