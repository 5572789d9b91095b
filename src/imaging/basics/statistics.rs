//! Robust statistics.

use crate::pixels::convert::{count_f32, index};

/// The value below which `share` (0..=1) of `values` lie; 0 for none. Values that are not numbers are left out.
#[must_use]
pub fn percentile(values: &[f32], share: f32) -> f32 {
    let mut sorted: Vec<f32> = values
        .iter()
        .copied()
        .filter(|value| value.is_finite())
        .collect();
    let Some(last) = sorted.len().checked_sub(1) else {
        return 0.0;
    };
    let at = index(share.clamp(0.0, 1.0) * count_f32(last), last);
    *sorted.select_nth_unstable_by(at, f32::total_cmp).1
}

/// The middle value; 0 for none.
#[must_use]
pub fn median(values: &[f32]) -> f32 {
    percentile(values, 0.5)
}

/// The median distance from the median, times 1.4826: the standard deviation where values are normally distributed.
#[must_use]
pub fn spread(values: &[f32]) -> f32 {
    let middle = median(values);
    let distances: Vec<f32> = values.iter().map(|value| (value - middle).abs()).collect();
    1.4826 * median(&distances)
}
