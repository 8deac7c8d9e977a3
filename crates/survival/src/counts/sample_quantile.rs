//! Quantiles of a list of numbers.

/// Quantile of `values` by linear interpolation between order statistics (type 7): the point at (n - 1) p.
///
/// `None` for an empty list, a value that is not a number or a `probability` outside [0, 1].
/// Source: Hyndman and Fan, Am Stat 1996;50:361-365, definition 7.
///
/// ```
/// use survival::counts::sample_quantile;
/// assert_eq!(sample_quantile(&[4.0, 1.0, 3.0, 2.0], 0.5), Some(2.5));
/// ```
pub fn sample_quantile(values: &[f64], probability: f64) -> Option<f64> {
    if values.iter().any(|value| value.is_nan()) || !(0.0..=1.0).contains(&probability) {
        return None;
    }
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let place = (sorted.len().checked_sub(1)?) as f64 * probability;
    let low = *sorted.get(place.floor() as usize)?;
    let high = *sorted.get(place.ceil() as usize)?;
    let share = place.fract();
    Some(if share == 0.0 {
        low
    } else {
        low + share * (high - low)
    })
}
