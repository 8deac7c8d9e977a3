//! Funnel limits: how far a unit of a given size may lie from the target by chance.

use serde::{Deserialize, Serialize};

use super::{PoissonBinomial, Widening};
use crate::distribution::{
    Tail, binomial_mass, binomial_probability, normal_quantile, poisson_mass, poisson_probability,
};

/// How a funnel limit is made.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum FunnelMethod {
    /// Smallest count whose lower tail reaches the probability, over the size of the unit.
    Quantile,
    /// The same count moved back by the share of its own probability that overshoots, so that limits change smoothly
    /// with size. Source: Spiegelhalter, Stat Med 2005;24:1185-1202, appendix A.1.
    #[default]
    Interpolated,
    /// Target plus z standard errors at the target. Rough for small units.
    Normal,
    /// Target plus z standard errors on the square-root (ratios) or arcsine (proportions) scale, brought back.
    Stabilised,
    /// Score limits around the target, for proportions only.
    Wilson,
}

/// What funnel limits are drawn for.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FunnelOptions {
    /// Ratio or proportion that every unit is compared with.
    pub target: f64,
    /// Lower-tail probabilities of the limits, each strictly between 0 and 1.
    pub probabilities: Vec<f64>,
    /// How the limits are made.
    pub method: FunnelMethod,
    /// Widening for spread beyond chance. Additive: tau squared on the plain scale for `Normal` and `Wilson`, on the
    /// stabilised scale for the others. The exact kinds are widened by scaling their distance from the target.
    pub widening: Widening,
}

/// Limits at one size.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FunnelPoint {
    /// Expected events (ratios) or people (proportions).
    pub size: f64,
    /// One limit for each probability, in the order asked.
    pub limits: Vec<FunnelLimit>,
}

/// One limit.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct FunnelLimit {
    /// Lower-tail probability.
    pub probability: f64,
    /// Ratio (0 and above) or proportion (0 to 1); `None` when not estimable.
    pub value: Option<f64>,
}

/// Limits of observed/expected ratios at each number of `expected` events, under a Poisson law.
///
/// Lower and upper limits of the exact kinds are not mirror images. Clipped at 0. A limit is `None` when the expected
/// number or target is not above 0, the probability not strictly between 0 and 1, or the method is `Wilson`.
/// Source: Spiegelhalter, Stat Med 2005;24:1185-1202.
pub fn ratio_funnel(expected: &[f64], options: &FunnelOptions) -> Vec<FunnelPoint> {
    points(expected.iter().copied(), options, ratio_limit)
}

/// Limits of proportions at each denominator `n`, under a binomial law.
///
/// Clipped to [0, 1]. A limit is `None` when `n` is 0 or the target or the probability is not strictly between 0 and 1.
/// Source: Spiegelhalter, Stat Med 2005;24:1185-1202.
///
/// ```
/// use survival::counts::{FunnelMethod, FunnelOptions, Widening, proportion_funnel};
/// let options = FunnelOptions {
///     target: 0.5,
///     probabilities: vec![0.025, 0.975],
///     method: FunnelMethod::Interpolated,
///     widening: Widening::Nothing,
/// };
/// let values: Vec<f64> = proportion_funnel(&[20], &options)[0].limits.iter().filter_map(|limit| limit.value).collect();
/// assert!((values[0] - 0.2558).abs() < 5e-5 && (values[1] - 0.6942).abs() < 5e-5);
/// ```
pub fn proportion_funnel(n: &[u64], options: &FunnelOptions) -> Vec<FunnelPoint> {
    points(n.iter().map(|n| *n as f64), options, proportion_limit)
}

/// Limits of the observed/expected ratio of units whose people have predicted chances of their own, around 1.
///
/// `chances_by_unit` holds the chances of each unit's people, 0 to 1; a point's `size` is their sum. Exact by the
/// Poisson-binomial law, which is narrower than [`ratio_funnel`] where outcomes are common. Clipped at 0. A limit is
/// `None` when nothing is expected, a chance lies outside [0, 1], the probability is not strictly between 0 and 1, or the
/// method is other than `Quantile`, `Interpolated` or `Normal`.
/// Source: Spiegelhalter, Stat Med 2005;24:1185-1202, with the law of [`PoissonBinomial`].
pub fn predicted_funnel(
    chances_by_unit: &[Vec<f64>],
    probabilities: &[f64],
    method: FunnelMethod,
) -> Vec<FunnelPoint> {
    chances_by_unit
        .iter()
        .map(|chances| {
            let law = PoissonBinomial::new(chances);
            let limit = |probability: f64| predicted_limit(law.as_ref()?, probability, method);
            FunnelPoint {
                size: chances.iter().sum(),
                limits: probabilities
                    .iter()
                    .map(|&probability| FunnelLimit {
                        probability,
                        value: limit(probability),
                    })
                    .collect(),
            }
        })
        .collect()
}

fn predicted_limit(law: &PoissonBinomial, probability: f64, method: FunnelMethod) -> Option<f64> {
    let z = normal_quantile(probability)?;
    let count = law.quantile(probability)?;
    let value = match method {
        FunnelMethod::Quantile | FunnelMethod::Interpolated => moved_back(
            count,
            law.at_most(count) - probability,
            law.probability(count),
            method,
        ),
        FunnelMethod::Normal => law.mean() + z * law.variance().sqrt(),
        FunnelMethod::Stabilised | FunnelMethod::Wilson => return None,
    };
    (law.mean() > 0.0).then(|| (value / law.mean()).max(0.0))
}

fn points(
    sizes: impl Iterator<Item = f64>,
    options: &FunnelOptions,
    limit: impl Fn(f64, f64, &FunnelOptions) -> Option<f64>,
) -> Vec<FunnelPoint> {
    sizes
        .map(|size| FunnelPoint {
            size,
            limits: options
                .probabilities
                .iter()
                .map(|&probability| FunnelLimit {
                    probability,
                    value: limit(size, probability, options).filter(|value| value.is_finite()),
                })
                .collect(),
        })
        .collect()
}

fn ratio_limit(expected: f64, probability: f64, options: &FunnelOptions) -> Option<f64> {
    let target = options.target;
    let mean = expected * target;
    if !(expected > 0.0 && target > 0.0 && mean > 0.0 && mean.is_finite() && is_inside(probability))
    {
        return None;
    }
    let z = normal_quantile(probability)?;
    let value = match options.method {
        FunnelMethod::Quantile | FunnelMethod::Interpolated => {
            let highest = (mean + 40.0 * (mean.sqrt() + 20.0)).ceil() as u64;
            let count = smallest_count(
                |count| poisson_probability(count, Tail::Lower, mean),
                probability,
                highest,
            )?;
            let overshoot = poisson_probability(count, Tail::Lower, mean)? - probability;
            let moved = moved_back(count, overshoot, poisson_mass(count, mean)?, options.method);
            scaled_distance(
                moved / expected,
                target,
                1.0 / (4.0 * expected),
                options.widening,
            )
        }
        FunnelMethod::Normal => target + z * widened(target / expected, options.widening).sqrt(),
        FunnelMethod::Stabilised => (target.sqrt()
            + z * widened(1.0 / (4.0 * expected), options.widening).sqrt())
        .max(0.0)
        .powi(2),
        FunnelMethod::Wilson => return None,
    };
    Some(value.max(0.0))
}

fn proportion_limit(n: f64, probability: f64, options: &FunnelOptions) -> Option<f64> {
    let target = options.target;
    if !(n > 0.0 && is_inside(target) && is_inside(probability)) {
        return None;
    }
    let z = normal_quantile(probability)?;
    let plain_variance = target * (1.0 - target) / n;
    let value = match options.method {
        FunnelMethod::Quantile | FunnelMethod::Interpolated => {
            let whole = n as u64;
            let at_most = |count| binomial_probability(count, Tail::Lower, whole, target);
            let count = smallest_count(at_most, probability, whole)?;
            let moved = moved_back(
                count,
                at_most(count)? - probability,
                binomial_mass(count, whole, target)?,
                options.method,
            );
            scaled_distance(moved / n, target, 1.0 / (4.0 * n), options.widening)
        }
        FunnelMethod::Normal => target + z * widened(plain_variance, options.widening).sqrt(),
        FunnelMethod::Stabilised => {
            let angle =
                target.sqrt().asin() + z * widened(1.0 / (4.0 * n), options.widening).sqrt();
            angle.clamp(0.0, std::f64::consts::FRAC_PI_2).sin().powi(2)
        }
        FunnelMethod::Wilson => {
            let z = z * (widened(plain_variance, options.widening) / plain_variance).sqrt();
            let share = z * z / n;
            (target + share / 2.0 + z * (plain_variance + share / (4.0 * n)).sqrt()) / (1.0 + share)
        }
    };
    Some(value.clamp(0.0, 1.0))
}

fn is_inside(probability: f64) -> bool {
    probability > 0.0 && probability < 1.0
}

/// Smallest count, at most `highest`, whose lower tail reaches `wanted`.
fn smallest_count(at_most: impl Fn(u64) -> Option<f64>, wanted: f64, highest: u64) -> Option<u64> {
    // Rounding must not push a tail that equals the wanted share just below it.
    let wanted = wanted * (1.0 - 64.0 * f64::EPSILON);
    let (mut not_yet, mut reached) = (None, highest);
    loop {
        let lowest = not_yet.map_or(0, |count: u64| count + 1);
        if lowest >= reached {
            return Some(reached);
        }
        let middle = lowest + (reached - lowest) / 2;
        if at_most(middle)? >= wanted {
            reached = middle;
        } else {
            not_yet = Some(middle);
        }
    }
}

fn moved_back(count: u64, overshoot: f64, own: f64, method: FunnelMethod) -> f64 {
    match method {
        FunnelMethod::Interpolated if own > 0.0 => count as f64 - overshoot / own,
        _ => count as f64,
    }
}

fn widened(variance: f64, widening: Widening) -> f64 {
    match widening {
        Widening::Nothing => variance,
        Widening::Multiplicative { phi } => variance * phi.max(1.0),
        Widening::Additive { tau_squared } => variance + tau_squared.max(0.0),
    }
}

fn scaled_distance(limit: f64, target: f64, variance: f64, widening: Widening) -> f64 {
    match widening {
        Widening::Nothing => limit,
        _ => target + (limit - target) * (widened(variance, widening) / variance).sqrt(),
    }
}
