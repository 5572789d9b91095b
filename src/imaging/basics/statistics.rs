//! Medians, percentiles and means of short lists, in a fixed order.

use crate::pixels::convert::{count_f32, floor_index, narrow};

/// Factor from the median absolute deviation to the standard deviation of a normal distribution.
pub const NORMAL_FROM_MAD: f32 = 1.482_602_2;

/// The value below which `share` (0..=1) of the sorted `values` lie, linearly interpolated between neighbours.
///
/// Not-a-numbers are left out; `None` when nothing is left.
///
/// ```
/// use platebench::imaging::basics::statistics::percentile;
/// assert_eq!(percentile(&[4.0, 1.0, 3.0, 2.0], 0.5), Some(2.5));
/// ```
#[must_use]
pub fn percentile(values: &[f32], share: f32) -> Option<f32> {
    let mut sorted: Vec<f32> = values
        .iter()
        .filter(|value| !value.is_nan())
        .copied()
        .collect();
    sorted.sort_unstable_by(f32::total_cmp);
    let last = sorted.len().checked_sub(1)?;
    let place = f64::from(share.clamp(0.0, 1.0)) * f64::from(count_f32(last));
    let below = floor_index(place).min(last);
    let above = (below + 1).min(last);
    let part = narrow(place - place.floor());
    Some(sorted[below] * (1.0 - part) + sorted[above] * part)
}

/// The middle of `values`; the mean of the two middle ones for even counts. `None` for an empty list.
#[must_use]
pub fn median(values: &[f32]) -> Option<f32> {
    percentile(values, 0.5)
}

/// Median of the distances from the median. `None` for an empty list.
#[must_use]
pub fn median_absolute_deviation(values: &[f32]) -> Option<f32> {
    let middle = median(values)?;
    let distances: Vec<f32> = values.iter().map(|value| (value - middle).abs()).collect();
    median(&distances)
}

/// Mean of `values` with `weights`, added up from the first; `None` when the weights sum to nothing.
#[must_use]
pub fn weighted_mean(values: &[f32], weights: &[f32]) -> Option<f32> {
    let (mut sum, mut total) = (0.0_f64, 0.0_f64);
    for (value, weight) in values.iter().zip(weights) {
        sum += f64::from(*value) * f64::from(*weight);
        total += f64::from(*weight);
    }
    (total > 0.0).then(|| narrow(sum / total))
}

/// Mean of `values` with outliers faded out by Tukey's biweight around the median (three rounds, 4.685 deviations).
///
/// `floor` is the least deviation assumed, so that nearly equal values do not throw each other out. `None` for an empty list.
/// *Source*: Beaton and Tukey 1974.
#[must_use]
pub fn robust_mean(values: &[f32], floor: f32) -> Option<f32> {
    let mut centre = median(values)?;
    for _ in 0..3 {
        let distances: Vec<f32> = values.iter().map(|value| (value - centre).abs()).collect();
        let deviation = (median(&distances)? * NORMAL_FROM_MAD).max(floor);
        let weights: Vec<f32> = distances
            .iter()
            .map(|distance| {
                let u = distance / (4.685 * deviation);
                let rest = (1.0 - u * u).max(0.0);
                rest * rest
            })
            .collect();
        centre = weighted_mean(values, &weights)?;
    }
    Some(centre)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn middle_and_spread_of_short_lists() {
        assert_eq!(median(&[]), None);
        assert_eq!(median(&[f32::NAN, 3.0]), Some(3.0));
        assert_eq!(median(&[5.0, 1.0, 3.0]), Some(3.0));
        assert_eq!(percentile(&[0.0, 10.0], 0.25), Some(2.5));
        assert_eq!(median_absolute_deviation(&[1.0, 2.0, 9.0]), Some(1.0));
        assert_eq!(weighted_mean(&[1.0, 3.0], &[1.0, 3.0]), Some(2.5));
        assert_eq!(weighted_mean(&[1.0], &[0.0]), None);
    }

    #[test]
    fn one_wild_value_does_not_move_the_robust_mean() {
        let mean = robust_mean(&[1.0, 1.01, 0.99, 1.0, 50.0], 1e-6).unwrap();
        assert!((mean - 1.0).abs() < 1e-3, "{mean}");
    }
}
