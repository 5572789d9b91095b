//! How even the light was while a stack was shot: a slow drift, and frames that depart from it.

use crate::imaging::basics::statistics::median;
use crate::pixels::convert::{count_f32, count_f64, narrow};

/// What a series of numbers does from frame to frame.
#[derive(Debug, Clone, PartialEq)]
pub struct Steadiness {
    /// Change from the first frame to the last along a straight line.
    pub drift: f32,
    /// What each frame departs from that line.
    pub departures: Vec<f32>,
}

/// The line is the median of the slopes of all pairs, so that single frames do not turn it. *Source*: Theil 1950, Sen 1968.
///
/// `series` holds one number per frame, in stops. Fewer than two frames do not drift.
#[must_use]
pub fn steadiness(series: &[f32]) -> Steadiness {
    let mut slopes = Vec::new();
    for (first, a) in series.iter().enumerate() {
        for (later, b) in series.iter().enumerate().skip(first + 1) {
            slopes.push((b - a) / count_f32(later - first));
        }
    }
    let slope = median(&slopes).unwrap_or(0.0);
    let along = |at: usize| narrow(count_f64(at) * f64::from(slope));
    let rests: Vec<f32> = series
        .iter()
        .enumerate()
        .map(|(at, value)| value - along(at))
        .collect();
    let level = median(&rests).unwrap_or(0.0);
    Steadiness {
        drift: along(series.len().saturating_sub(1)),
        departures: rests.iter().map(|rest| rest - level).collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn drift_and_flicker_are_told_apart() {
        let series: Vec<f32> = (0..8_u8)
            .map(|k| 0.01 * f32::from(k) + if k == 5 { 0.06 } else { 0.0 })
            .collect();
        let found = steadiness(&series);
        assert!((found.drift - 0.07).abs() < 1e-5, "{found:?}");
        for (at, departure) in found.departures.iter().enumerate() {
            let asked = if at == 5 { 0.06 } else { 0.0 };
            assert!((departure - asked).abs() < 1e-5, "{found:?}");
        }
    }

    #[test]
    fn one_frame_is_steady() {
        assert_eq!(steadiness(&[0.3]).drift, 0.0);
        assert!(steadiness(&[]).departures.is_empty());
    }
}
