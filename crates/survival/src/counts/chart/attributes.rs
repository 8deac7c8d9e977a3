//! Charts of counts: shares (p), rates (u) and plain counts (c), with Laney's adjustment for large denominators.

use serde::{Deserialize, Serialize};

use super::{
    ChartKind, ChartPoint, ControlChart, D2_OF_TWO, Range, baseline, mean, moving_ranges, point,
};
use crate::SurvivalError;
use crate::counts::checks::{check_amounts, check_not_above, too_few};
use crate::sample::check_length;

/// Where the variation of a count chart comes from.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Variation {
    /// From the binomial or Poisson law alone.
    #[default]
    Chance,
    /// The law's standard deviations times that of the standardised points, measured by their moving ranges; for large
    /// denominators. Source: Laney, Qual Eng 2002;14:531-537.
    Laney,
}

/// Settings of charts of counts.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct ChartOptions {
    /// Centre and limits come from this many first points; `None`: from all.
    pub n_baseline: Option<usize>,
    /// Where the variation comes from.
    pub variation: Variation,
}

/// Chart of shares: `n_events` of `n` in each period (p chart; p' with Laney's variation).
///
/// The centre is all events over all people of the baseline; limits are clipped to [0, 1]. A period with `n` 0 keeps its
/// place without a value. Errs when lengths differ, events exceed people or the baseline has nobody (Laney: fewer than two periods).
/// Source: Shewhart 1931; NIST/SEMATECH e-Handbook of Statistical Methods, section 6.3.3.2.
pub fn proportion_chart(
    n_events: &[u64],
    n: &[u64],
    options: &ChartOptions,
) -> Result<ControlChart, SurvivalError> {
    check_length("n", n.len(), n_events.len())?;
    check_not_above("events", n_events, n)?;
    let sizes: Vec<f64> = n.iter().map(|n| *n as f64).collect();
    let kind = ChartKind::Proportion;
    attribute_chart(n_events, &sizes, options, kind, Range::SHARE, |centre| {
        centre * (1.0 - centre)
    })
}

/// Chart of rates: `n_events` over `exposure` in each period (u chart; u' with Laney's variation).
///
/// The centre is all events over all exposure of the baseline; lower limits are clipped at 0. A period without exposure
/// keeps its place without a value. Errs when lengths differ, an exposure is negative or not finite, or the baseline has none.
/// Source: NIST/SEMATECH e-Handbook of Statistical Methods, section 6.3.3.1.
pub fn rate_chart(
    n_events: &[u64],
    exposure: &[f64],
    options: &ChartOptions,
) -> Result<ControlChart, SurvivalError> {
    check_length("exposure", exposure.len(), n_events.len())?;
    check_amounts("exposure", exposure)?;
    let kind = ChartKind::Rate;
    attribute_chart(n_events, exposure, options, kind, Range::AMOUNT, |centre| {
        centre
    })
}

/// Chart of counts over periods of equal exposure (c chart): centre plus and minus 3 times its square root, from 0.
///
/// Errs when the baseline is empty. Source: NIST/SEMATECH e-Handbook of Statistical Methods, section 6.3.3.1.
pub fn count_chart(
    n_events: &[u64],
    n_baseline: Option<usize>,
) -> Result<ControlChart, SurvivalError> {
    let exposure = vec![1.0; n_events.len()];
    let options = ChartOptions {
        n_baseline,
        variation: Variation::Chance,
    };
    let kind = ChartKind::Count;
    attribute_chart(
        n_events,
        &exposure,
        &options,
        kind,
        Range::AMOUNT,
        |centre| centre,
    )
}

/// `variance` gives the variance of one value with size 1 at the centre.
fn attribute_chart(
    n_events: &[u64],
    sizes: &[f64],
    options: &ChartOptions,
    kind: ChartKind,
    range: Range,
    variance: impl Fn(f64) -> f64,
) -> Result<ControlChart, SurvivalError> {
    let own_sizes = baseline(sizes, options.n_baseline);
    let own_events = baseline(n_events, options.n_baseline);
    let size: f64 = own_sizes.iter().sum();
    if size <= 0.0 || !size.is_finite() {
        return Err(too_few(0, 1));
    }
    let centre = own_events.iter().map(|events| *events as f64).sum::<f64>() / size;
    let sigma_of_one = variance(centre).sqrt();
    let sigma_z = match options.variation {
        Variation::Chance => None,
        // all shares 0, or all 1: no variation to be larger or smaller than chance
        Variation::Laney if sigma_of_one == 0.0 => None,
        Variation::Laney => Some(laney_sigma(own_events, own_sizes, centre, sigma_of_one)?),
    };
    let points: Vec<ChartPoint> = n_events
        .iter()
        .zip(sizes)
        .zip(1..)
        .map(|((events, size), position)| {
            if *size == 0.0 {
                return ChartPoint::empty(position);
            }
            let sigma = sigma_of_one / size.sqrt() * sigma_z.unwrap_or(1.0);
            point(position, *events as f64 / size, centre, sigma, range)
        })
        .collect();
    Ok(ControlChart {
        kind: match (kind, options.variation) {
            (ChartKind::Proportion, Variation::Laney) => ChartKind::ProportionLaney,
            (ChartKind::Rate, Variation::Laney) => ChartKind::RateLaney,
            (kind, _) => kind,
        },
        centre,
        sigma_z,
        n_baseline: own_sizes.len(),
        points,
        has_even_zones: true,
    })
}

/// Mean moving range of the standardised values over 1.128.
fn laney_sigma(
    n_events: &[u64],
    sizes: &[f64],
    centre: f64,
    sigma_of_one: f64,
) -> Result<f64, SurvivalError> {
    let z: Vec<f64> = n_events
        .iter()
        .zip(sizes)
        .filter(|(_, size)| **size > 0.0)
        .map(|(events, size)| (*events as f64 / size - centre) / (sigma_of_one / size.sqrt()))
        .collect();
    let sigma_z = mean(&moving_ranges(&z)).map(|range| range / D2_OF_TWO);
    sigma_z
        .filter(|sigma| sigma.is_finite())
        .ok_or_else(|| too_few(z.len(), 2))
}
