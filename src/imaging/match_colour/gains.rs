//! Gain and offset of a frame against the reference.

use super::BlockMeans;
use crate::imaging::basics::statistics::{NORMAL_FROM_MAD, median, robust_mean};
use crate::pixels::convert::{count_f64, narrow};

/// How a frame's light relates to the reference's: frame = gain x reference + offset.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Matched {
    /// Red, green, blue factor; divide a frame by it (after taking off the offset) to match. 1 without blocks.
    pub gain_rgb: [f32; 3],
    /// Linear light added; 0 unless it is significant.
    pub offset_rgb: [f32; 3],
    /// Deviation of single blocks from the gain, as a share (robust, 1.48 x MAD).
    pub spread: [f32; 3],
    /// Blocks that both pictures show.
    pub blocks: usize,
}

/// Fewer blocks than this say nothing.
const LEAST_BLOCKS: usize = 6;
/// Darker blocks (linear) are mostly noise and rounding: an 8-bit file has a dozen codes below this light.
const DARKEST: f32 = 4e-3;
/// An offset counts if it is this many standard errors off 0 and this share of the middle block's light.
const SIGNIFICANT_ERRORS: f64 = 6.0;
const SIGNIFICANT_SHARE: f64 = 2e-3;

/// Gain (and offset, if significant) of `frame` against `reference`, both on the same grid of blocks.
///
/// Robust: blocks that differ otherwise (a moved shadow, a flickering lamp) fade out by Tukey's biweight.
#[must_use]
pub fn gains(reference: &BlockMeans, frame: &BlockMeans) -> Matched {
    let mut matched = Matched {
        gain_rgb: [1.0; 3],
        offset_rgb: [0.0; 3],
        spread: [0.0; 3],
        blocks: 0,
    };
    let pairs = shared(reference, frame);
    if pairs.len() < LEAST_BLOCKS {
        return matched;
    }
    matched.blocks = pairs.len();
    for channel in 0..3 {
        let pairs: Vec<(f32, f32)> = pairs
            .iter()
            .map(|(a, b)| (a[channel], b[channel]))
            .collect();
        let (gain, offset) = fitted(&pairs);
        let deviations: Vec<f32> = pairs
            .iter()
            .map(|(a, b)| ((b - offset) / (a * gain) - 1.0).abs())
            .collect();
        matched.gain_rgb[channel] = gain;
        matched.offset_rgb[channel] = offset;
        matched.spread[channel] = median(&deviations).unwrap_or(0.0) * NORMAL_FROM_MAD;
    }
    matched
}

/// Colours of the blocks that both show and that are bright enough in all channels.
pub(super) fn shared(one: &BlockMeans, other: &BlockMeans) -> Vec<([f32; 3], [f32; 3])> {
    if one.columns != other.columns || one.rows != other.rows {
        return Vec::new();
    }
    one.rgb
        .iter()
        .zip(&other.rgb)
        .filter_map(|(a, b)| Some(((*a)?, (*b)?)))
        .filter(|(a, _)| a.iter().all(|value| *value > DARKEST))
        .collect()
}

fn fitted(pairs: &[(f32, f32)]) -> (f32, f32) {
    let logs: Vec<f32> = pairs
        .iter()
        .map(|(a, b)| narrow(libm::log(f64::from(b.max(DARKEST * 0.1)) / f64::from(*a))))
        .collect();
    let gain = narrow(libm::exp(f64::from(
        robust_mean(&logs, 2e-5).unwrap_or(0.0),
    )));
    affine(pairs, f64::from(gain)).unwrap_or((gain, 0.0))
}

/// Gain with an offset, if the offset is significant; the relative misfit is what is made small, so bright blocks do not rule.
fn affine(pairs: &[(f32, f32)], gain: f64) -> Option<(f32, f32)> {
    let (mut slope, mut offset) = (gain, 0.0);
    let mut error = f64::INFINITY;
    for _ in 0..6 {
        let misfits: Vec<f32> = pairs
            .iter()
            .map(|(a, b)| narrow((f64::from(*b) - offset) / (f64::from(*a) * slope) - 1.0))
            .collect();
        let sizes: Vec<f32> = misfits.iter().map(|misfit| misfit.abs()).collect();
        let deviation = f64::from((median(&sizes)? * NORMAL_FROM_MAD).max(2e-5));
        let (mut s, mut sx, mut sy, mut sxx, mut sxy, mut used) = (0.0, 0.0, 0.0, 0.0, 0.0, 0.0);
        for ((a, b), misfit) in pairs.iter().zip(&misfits) {
            let (x, y) = (f64::from(*a), f64::from(*b));
            let u = f64::from(*misfit) / (4.685 * deviation);
            let rest = (1.0 - u * u).max(0.0);
            let weight = rest * rest / (x * x);
            s += weight;
            sx += weight * x;
            sy += weight * y;
            sxx += weight * x * x;
            sxy += weight * x * y;
            used += rest * rest;
        }
        let determinant = s * sxx - sx * sx;
        if determinant <= 1e-12 * s * sxx || used < 6.0 {
            return None;
        }
        slope = (s * sxy - sx * sy) / determinant;
        offset = (sxx * sy - sx * sxy) / determinant;
        // Relative misfits have this deviation, so a weight of 1 / x^2 is 1 / variance up to deviation^2.
        error = deviation * slope.abs() * (sxx / determinant).sqrt();
    }
    let light = pairs.iter().map(|(a, _)| f64::from(*a)).sum::<f64>() / count_f64(pairs.len());
    let matters =
        offset.abs() > SIGNIFICANT_ERRORS * error && offset.abs() > SIGNIFICANT_SHARE * light;
    (matters && slope > 0.0).then(|| (narrow(slope), narrow(offset)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn blocks(change: impl Fn(f32) -> f32) -> BlockMeans {
        let rgb = (0..300_u16)
            .map(|index| {
                let wave = f32::from(index % 37) / 37.0;
                let noise = 1.0 + 4e-4 * (f32::from(index * 7 % 13) / 6.0 - 1.0);
                Some([0.05, 0.2, 0.1].map(|base| change(base * (0.3 + wave)) * noise))
            })
            .collect();
        BlockMeans {
            columns: 20,
            rows: 15,
            side_px: 32,
            rgb,
        }
    }

    #[test]
    fn half_a_per_cent_reads_as_half_a_per_cent() {
        let matched = gains(&blocks(|value| value), &blocks(|value| value * 1.005));
        for gain in matched.gain_rgb {
            assert!((gain - 1.005).abs() < 1e-3, "{matched:?}");
        }
        assert_eq!(matched.offset_rgb, [0.0; 3]);
    }

    #[test]
    fn blocks_in_another_light_do_not_count() {
        let mut lit = blocks(|value| value * 0.98);
        for block in lit.rgb.iter_mut().take(80) {
            *block = block.map(|colour| colour.map(|value| value * 1.3));
        }
        let matched = gains(&blocks(|value| value), &lit);
        assert!(
            matched
                .gain_rgb
                .iter()
                .all(|gain| (gain - 0.98).abs() < 1e-3),
            "{matched:?}"
        );
    }

    #[test]
    fn flare_shows_as_an_offset() {
        let matched = gains(&blocks(|value| value), &blocks(|value| value * 1.02 + 0.01));
        assert!((matched.gain_rgb[1] - 1.02).abs() < 2e-3, "{matched:?}");
        assert!((matched.offset_rgb[1] - 0.01).abs() < 3e-4, "{matched:?}");
    }

    #[test]
    fn unlike_grids_say_nothing() {
        let mut other = blocks(|value| value);
        other.columns = 15;
        other.rows = 20;
        let matched = gains(&blocks(|value| value), &other);
        assert_eq!((matched.blocks, matched.gain_rgb), (0, [1.0; 3]));
    }
}
