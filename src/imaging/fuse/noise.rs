//! How noisy the frames are, found from the frames themselves.

use crate::imaging::basics::pixelwise::{changed, of_colours};
use crate::imaging::basics::pyramid::{WHITE_NOISE_SHARE as BAND_SHARE, band, reduce};
use crate::pixels::convert::{count_f64, floor_index, narrow};
use crate::pixels::{Plane, Planes};
use rayon::prelude::*;

/// Noise of a frame, after a root that makes it equally strong in dark and bright parts (Anscombe 1948).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NoiseModel {
    /// Added to the light before the root: read noise over photon noise, in units of white.
    pub offset: f32,
    /// Variance of the rooted luma per pixel.
    pub luma_variance: f32,
    /// Variance of the rooted red, green and blue per pixel, added up.
    pub colour_variance: f32,
}

/// Side of the blocks in which noise is looked for.
const BLOCK: usize = 16;
/// Which block of all, ordered by energy, is taken as free of texture.
const QUIET: f64 = 0.10;
/// What the quiet blocks' energy is of the mean block's, for pure noise.
const QUIET_SHARE: f64 = 0.92;

impl NoiseModel {
    /// Estimates the noise of `frame` from its quietest blocks. Texture in every block makes the estimate too high, never too low by
    /// much. An empty or tiny frame gives a small default.
    #[must_use]
    pub fn of_frame(frame: &Planes) -> Self {
        let luma = plain_luma(frame);
        let offset = offset_of(&luma);
        let variance = |plane: &Plane| band_energy(&rooted(plane, offset));
        let [red, green, blue] = &frame.rgb;
        let mut found: Vec<Vec<f64>> = [&luma, red, green, blue]
            .into_par_iter()
            .map(variance)
            .collect();
        let mut total = found.split_off(1).into_iter();
        let first = total.next().unwrap_or_default();
        let total = total.fold(first, |sums, other| {
            sums.iter()
                .zip(other)
                .map(|(sum, value)| sum + value)
                .collect()
        });
        Self {
            offset,
            luma_variance: quiet(found.pop().unwrap_or_default()),
            colour_variance: quiet(total),
        }
    }

    /// The least noisy of several estimates: a frame whose texture hid its noise does not count. `None` without any.
    #[must_use]
    pub fn quietest(models: &[Self]) -> Option<Self> {
        models
            .iter()
            .copied()
            .min_by(|a, b| a.colour_variance.total_cmp(&b.colour_variance))
    }

    /// Noise energy of red, green and blue together in band `level` of a Laplacian pyramid of the rooted frame.
    #[must_use]
    pub fn band_energy(&self, level: usize) -> f32 {
        let last = BAND_SHARE.len() - 1;
        let mut share = BAND_SHARE[level.min(last)];
        for _ in last..level {
            share *= 0.25;
        }
        (share * self.colour_variance).max(1e-14)
    }
}

/// The root of the light plus `offset`.
pub(super) fn rooted(plane: &Plane, offset: f32) -> Plane {
    changed(plane, |light| root(light, offset))
}

/// The same of one number.
#[inline(always)]
pub(super) fn root(light: f32, offset: f32) -> f32 {
    (light + offset).max(0.0).sqrt()
}

/// The luma that sharpness and noise are judged on: a quarter red, half green, a quarter blue.
#[must_use]
pub fn plain_luma(frame: &Planes) -> Plane {
    of_colours(&frame.rgb, |[red, green, blue]| {
        0.5 * green + 0.25 * (red + blue)
    })
}

/// Mean square of the finest band in every block.
fn band_energy(plane: &Plane) -> Vec<f64> {
    if plane.rect.is_empty() {
        return Vec::new();
    }
    let fine = band(plane, &reduce(plane));
    blocks(&fine, |values| {
        let sum: f64 = values.map(|v| f64::from(v) * f64::from(v)).sum();
        sum / count_f64(BLOCK * BLOCK)
    })
}

/// `measure` of every whole block, given its values row by row.
fn blocks<T: Send>(
    plane: &Plane,
    measure: impl Fn(&mut dyn Iterator<Item = f32>) -> T + Sync,
) -> Vec<T> {
    let (width, height) = (plane.rect.width(), plane.rect.height());
    let measure = &measure;
    let rows = (0..height / BLOCK).into_par_iter().map(|row| row * BLOCK);
    rows.flat_map_iter(|top| {
        let across = (0..width / BLOCK).map(|column| column * BLOCK);
        across.map(move |left| {
            let mut values = (top..top + BLOCK)
                .flat_map(|y| &plane.data[y * width + left..][..BLOCK])
                .copied();
            measure(&mut values)
        })
    })
    .collect()
}

fn quiet(mut energies: Vec<f64>) -> f32 {
    energies.sort_unstable_by(f64::total_cmp);
    let at = floor_index(count_f64(energies.len()) * QUIET);
    let found = energies.get(at).copied().unwrap_or(1e-6);
    narrow(found / (QUIET_SHARE * f64::from(BAND_SHARE[0]))).max(1e-10)
}

/// The offset under the root: where read noise and photon noise are equal. Found by a line through the quiet blocks' variance over
/// their light; a frame of one brightness gives the default.
fn offset_of(luma: &Plane) -> f32 {
    const DEFAULT: f32 = 3e-4;
    // Texture in dark blocks makes the estimate too high, and an offset that is too high hides dark detail.
    const MOST: f32 = 5e-4;
    let mut found = noise_over_light(luma);
    found.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
    let group = (found.len() / 12).max(12);
    let mut points = Vec::new();
    for part in found.chunks(group).filter(|part| part.len() == group) {
        let mut noise: Vec<f64> = part.iter().map(|(_, variance)| *variance).collect();
        noise.sort_unstable_by(f64::total_cmp);
        points.push((part[group / 2].0.max(0.0), noise[group / 8].max(1e-14)));
    }
    let range = points.iter().fold((f64::MAX, 0.0_f64), |(low, high), p| {
        (low.min(p.0), high.max(p.0))
    });
    if points.len() < 3 || range.1 < 3.0 * range.0 {
        return DEFAULT;
    }
    for _ in 0..3 {
        let Some((floor, slope)) = line_through(&points) else {
            return DEFAULT;
        };
        let kept: Vec<_> = points
            .iter()
            .copied()
            .filter(|(light, variance)| *variance < 1.5 * (floor + slope * light))
            .collect();
        if kept.len() == points.len() || kept.len() < 3 {
            return narrow(floor / slope).clamp(2e-5, MOST);
        }
        points = kept;
    }
    line_through(&points).map_or(DEFAULT, |(floor, slope)| {
        narrow(floor / slope).clamp(2e-5, MOST)
    })
}

/// Mean light and noise variance of every block, by the difference of two Laplacians (Immerkaer 1996), which edges hardly touch.
fn noise_over_light(luma: &Plane) -> Vec<(f64, f64)> {
    let rect = luma.rect;
    let mut detail = Plane::zero(rect);
    let rows = detail.data.par_chunks_mut(rect.width().max(1));
    rows.zip(rect.y0..rect.y1).for_each(|(row, y)| {
        for (value, x) in row.iter_mut().zip(rect.x0..) {
            let at = |dx: i32, dy: i32| luma.nearest(x + dx, y + dy);
            let corners = at(-1, -1) + at(1, -1) + at(-1, 1) + at(1, 1);
            let sides = at(-1, 0) + at(1, 0) + at(0, -1) + at(0, 1);
            *value = corners - 2.0 * sides + 4.0 * at(0, 0);
        }
    });
    let light = blocks(luma, |values| {
        values.map(f64::from).sum::<f64>() / count_f64(BLOCK * BLOCK)
    });
    let noise = blocks(&detail, |values| {
        let sum: f64 = values.map(|v| f64::from(v) * f64::from(v)).sum();
        sum / count_f64(36 * BLOCK * BLOCK)
    });
    light.into_iter().zip(noise).collect()
}

/// Least squares line (floor, slope) with weights 1 / variance squared; both positive, or `None`.
fn line_through(points: &[(f64, f64)]) -> Option<(f64, f64)> {
    let mut sums = [0.0_f64; 5];
    for (x, y) in points {
        let weight = 1.0 / (y * y);
        for (sum, term) in sums.iter_mut().zip([1.0, *x, *y, x * x, x * y]) {
            *sum += weight * term;
        }
    }
    let [one, x, y, xx, xy] = sums;
    let slope = (one * xy - x * y) / (one * xx - x * x);
    let floor = (y - slope * x) / one;
    (slope.is_finite() && slope > 0.0).then(|| (floor.max(slope * 2e-5), slope))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Rect;
    use crate::imaging::basics::pyramid::build;

    /// Nearly normal noise of variance 1 from a fixed sequence.
    fn noise(state: &mut u64) -> f64 {
        let mut sum = 0.0;
        for _ in 0..12 {
            *state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            sum += count_f64(floor_index(
                count_f64(1 << 20)
                    * (f64::from(crate::pixels::convert::low_u32(*state >> 32)) / 4_294_967_296.0),
            )) / count_f64(1 << 20);
        }
        sum - 6.0
    }

    #[test]
    fn bands_hold_the_stated_share_of_white_noise() {
        let mut state = 7;
        let plane = Plane::from_fn(Rect::new(0, 0, 1024, 1024), |_, _| {
            narrow(noise(&mut state))
        });
        for (level, band) in build(&plane, 4).levels[..4].iter().enumerate() {
            let sum: f64 = band
                .data
                .iter()
                .map(|v| f64::from(*v) * f64::from(*v))
                .sum();
            let share = narrow(sum / count_f64(band.data.len()));
            let ratio = share / BAND_SHARE[level];
            assert!((ratio - 1.0).abs() < 0.05, "level {level}: {share}");
        }
    }

    #[test]
    fn the_estimate_finds_photon_and_read_noise() {
        let (full_well, read) = (20_000.0, 4.0);
        let mut state = 3;
        let mut plane = |shade: f64| {
            Plane::from_fn(Rect::new(0, 0, 512, 384), |x, _| {
                let light = shade * (0.002 + 0.7 * f64::from(x / 128) / 4.0);
                let sigma = (light * full_well + read * read).sqrt() / full_well;
                narrow(light + sigma * noise(&mut state))
            })
        };
        let frame = Planes {
            rgb: [plane(1.0), plane(0.9), plane(1.1)],
        };
        let found = NoiseModel::of_frame(&frame);
        let expected = narrow(3.0 / (4.0 * full_well));
        let ratio = found.colour_variance / expected;
        assert!((0.8..1.25).contains(&ratio), "{found:?}, ratio {ratio}");
        // Read noise over photon noise, less for luma because that is a mean of three channels.
        assert!((3e-4..2e-3).contains(&found.offset), "{found:?}");
    }

    #[test]
    fn odd_frames_give_usable_numbers() {
        for rect in [
            Rect::default(),
            Rect::new(0, 0, 3, 3),
            Rect::new(0, 0, 40, 40),
        ] {
            let found = NoiseModel::of_frame(&Planes::zero(rect));
            assert!(
                found.band_energy(9) > 0.0 && found.offset > 0.0,
                "{found:?}"
            );
        }
    }
}
