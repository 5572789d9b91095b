//! Chance that is the same on every machine: numbers computed from a seed and a place, not drawn from a running generator.
//!
//! A value depends on its seed, place and channel alone, so pictures come out the same however they are cut into tiles.

use crate::pixels::convert::{low_u32, narrow};

/// Scrambles 64 bits so that each input bit changes half of the output bits.
///
/// Source: the output function of `SplitMix64` (Steele, Lea, Flood 2014, variant 13 of Stafford's mixers).
#[must_use]
#[inline]
pub const fn mix(value: u64) -> u64 {
    let value = value.wrapping_add(0x9e37_79b9_7f4a_7c15);
    let value = (value ^ (value >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    let value = (value ^ (value >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    value ^ (value >> 31)
}

/// 64 random bits for place (x, y) under `seed`.
#[must_use]
#[inline]
pub fn bits_at(seed: u64, x: i32, y: i32) -> u64 {
    let place = (u64::from(x.cast_unsigned()) << 32) | u64::from(y.cast_unsigned());
    mix(mix(seed) ^ mix(place))
}

/// The upper 53 of `bits` as a number 0 <= u < 1.
#[must_use]
#[inline]
pub fn unit(bits: u64) -> f64 {
    #[expect(clippy::cast_precision_loss, reason = "53 bits fit a double exactly")]
    let whole = (bits >> 11) as f64;
    whole * (1.0 / 9_007_199_254_740_992.0)
}

/// The upper 24 of `bits` as a number 0 <= u < 1.
#[must_use]
#[inline]
pub fn unit_f32(bits: u64) -> f32 {
    #[expect(clippy::cast_precision_loss, reason = "24 bits fit a single exactly")]
    let whole = (low_u32(bits >> 40)) as f32;
    whole * (1.0 / 16_777_216.0)
}

/// A normal number (mean 0, standard deviation 1) from `bits`, by Box and Muller 1958.
#[must_use]
pub fn normal(bits: u64) -> f64 {
    let radius = (-2.0 * libm::log(1.0 - unit(bits))).sqrt();
    radius * libm::cos(std::f64::consts::TAU * unit(mix(bits ^ 0x6a09_e667_f3bc_c909)))
}

/// A quick, nearly normal number (mean 0, standard deviation 1, within +-3) for grain: the sum of four 16-bit numbers.
#[must_use]
#[inline]
pub fn normal_quick(bits: u64) -> f32 {
    let part = |shift: u32| narrow(f64::from(low_u32(bits >> shift) & 0xffff));
    // Each part has variance (2^32 - 1) / 12; four of them have a standard deviation of 37837.2.
    (part(0) + part(16) + part(32) + part(48) - 131_070.0) * (1.0 / 37_837.227)
}

/// A row of random numbers that belong to one place: a star, a rock, a stroke.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Stream {
    state: u64,
}

impl Stream {
    /// The numbers of place (x, y) under `seed`.
    #[must_use]
    pub fn at(seed: u64, x: i32, y: i32) -> Self {
        Self {
            state: bits_at(seed, x, y),
        }
    }

    /// The numbers of item `index` under `seed`.
    #[must_use]
    pub const fn of_item(seed: u64, index: u64) -> Self {
        Self {
            state: mix(mix(seed) ^ mix(index ^ 0x3c6e_f372_fe94_f82b)),
        }
    }

    /// The next 64 bits.
    pub const fn bits(&mut self) -> u64 {
        self.state = self.state.wrapping_add(0x9e37_79b9_7f4a_7c15);
        mix(self.state)
    }

    /// The next number 0 <= u < 1.
    pub fn unit(&mut self) -> f64 {
        unit(self.bits())
    }

    /// The next normal number (mean 0, standard deviation 1).
    pub fn normal(&mut self) -> f64 {
        normal(self.bits())
    }

    /// The next Poisson number of mean `mean`: by multiplication below 30 (Knuth), above that a rounded normal number whose third
    /// moment is kept by the square-root form (Anscombe 1948). 0 for means that are not positive.
    pub fn poisson(&mut self, mean: f64) -> f64 {
        if mean.is_nan() || mean <= 0.0 {
            return 0.0;
        }
        if mean >= 30.0 {
            let root = (mean + 0.375).sqrt() - 1.0 / (8.0 * mean.sqrt()) + 0.5 * self.normal();
            let jitter = self.unit() - 0.5;
            return (root * root - 0.375 + jitter + 0.25 / (4.0 * mean))
                .max(0.0)
                .round();
        }
        let limit = libm::exp(-mean);
        let (mut product, mut count) = (self.unit(), 0.0);
        while product > limit {
            product *= self.unit();
            count += 1.0;
        }
        count
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn moments(values: &[f64]) -> (f64, f64) {
        let count = crate::pixels::convert::count_f64(values.len());
        let mean = values.iter().sum::<f64>() / count;
        let spread = values.iter().map(|v| (v - mean) * (v - mean)).sum::<f64>() / count;
        (mean, spread)
    }

    #[test]
    fn the_same_place_gives_the_same_bits_for_ever() {
        assert_eq!(
            mix(0),
            0xe220_a839_7b1d_cdaf,
            "first output of SplitMix64 for seed 0"
        );
        assert_ne!(bits_at(1, 2, 3), bits_at(1, 3, 2));
        assert_ne!(bits_at(1, 2, 3), bits_at(2, 2, 3));
        assert_eq!(Stream::at(5, -3, 8), Stream::at(5, -3, 8));
    }

    #[test]
    fn moments_are_as_named() {
        let uniform: Vec<f64> = (0..40_000).map(|x| unit(bits_at(7, x, 0))).collect();
        let (mean, spread) = moments(&uniform);
        assert!(
            (mean - 0.5).abs() < 0.01 && (spread - 1.0 / 12.0).abs() < 0.003,
            "{mean} {spread}"
        );
        let normals: Vec<f64> = (0..40_000).map(|x| normal(bits_at(7, x, 1))).collect();
        let (mean, spread) = moments(&normals);
        assert!(
            mean.abs() < 0.02 && (spread - 1.0).abs() < 0.03,
            "{mean} {spread}"
        );
        let quick: Vec<f64> = (0..40_000)
            .map(|x| f64::from(normal_quick(bits_at(7, x, 2))))
            .collect();
        let (mean, spread) = moments(&quick);
        assert!(
            mean.abs() < 0.02 && (spread - 1.0).abs() < 0.03,
            "{mean} {spread}"
        );
    }

    #[test]
    fn poisson_numbers_have_the_variance_of_their_mean() {
        for mean in [0.4, 6.0, 29.0, 31.0, 400.0] {
            let mut stream = Stream::of_item(3, 9);
            let drawn: Vec<f64> = (0..40_000).map(|_| stream.poisson(mean)).collect();
            let (found, spread) = moments(&drawn);
            assert!((found / mean - 1.0).abs() < 0.02, "mean {mean}: {found}");
            assert!(
                (spread / mean - 1.0).abs() < 0.04,
                "mean {mean}: variance {spread}"
            );
        }
        assert!(Stream::of_item(1, 1).poisson(-1.0).abs() < 1e-12);
    }
}
