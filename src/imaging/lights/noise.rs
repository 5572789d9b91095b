//! How noisy a photo's linear light is, and how much of it a separated light inherits.

use crate::imaging::basics::statistics::{NORMAL_FROM_MAD, median, percentile};
use crate::pixels::convert::{count_f32, floor_index};
use crate::pixels::{Plane, Planes};
use rayon::prelude::*;

/// Noise of linear light, channel by channel: variance = `floor + slope * light` (read noise and photon noise).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LightNoise {
    /// Variance in the dark.
    pub floor: [f32; 3],
    /// Variance per light.
    pub slope: [f32; 3],
}

/// Side of the blocks in which noise is looked for.
const SIDE: usize = 16;
/// Blocks looked at in one photo.
const MOST_BLOCKS: usize = 8000;
/// The second difference of Immerkaer (1996) has this deviation for noise of deviation 1.
const DIFFERENCE: f32 = 6.0;
/// Blocks of like brightness that are judged together.
const GROUP: usize = 24;
/// Which block of a group, ordered by noise, is taken as free of texture, and what its variance is of the mean block's for pure
/// noise (found on made noise: see the test).
const QUIET: f64 = 0.25;
const QUIET_SHARE: f32 = 0.87;
/// Share of the groups, ordered by slope, that is taken to be free of texture, and the light from which on a slope is told.
const CLEAN: f32 = 0.3;
const LEAST_LIGHT: f32 = 2e-3;
/// Light from which on clipping takes noise away.
const BRIGHTEST: f32 = 0.85;
/// Least variance: rounding of an 8-bit file in the dark.
const LEAST: f32 = 1e-10;

impl LightNoise {
    /// The noise of `frame` as it came from the camera (not resampled), from its quietest places at every brightness. Texture everywhere
    /// makes the answer too high.
    #[must_use]
    pub fn of_frame(frame: &Planes) -> Self {
        let lines = frame.rgb.each_ref().map(line_of);
        Self {
            floor: lines.map(|line| line.0),
            slope: lines.map(|line| line.1),
        }
    }

    /// Variance of `channel` at `light`.
    #[must_use]
    pub fn variance(&self, channel: usize, light: f32) -> f32 {
        self.floor[channel] + self.slope[channel] * light.max(0.0)
    }

    /// The same noise after the light is multiplied by `gain`, red, green, blue.
    #[must_use]
    pub fn gained(&self, gain: [f32; 3]) -> Self {
        let by = |values: [f32; 3], power: [f32; 3]| [0, 1, 2].map(|c| values[c] * power[c]);
        Self {
            floor: by(self.floor, gain.map(|gain| gain * gain)),
            slope: by(self.slope, gain),
        }
    }
}

/// Floor and slope of one channel.
fn line_of(plane: &Plane) -> (f32, f32) {
    let mut blocks = blocks(plane);
    blocks.retain(|(light, _)| *light < BRIGHTEST);
    blocks.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
    let points: Vec<(f32, f32)> = blocks
        .chunks(GROUP)
        .filter(|group| group.len() == GROUP)
        .map(|group| {
            let mut noise: Vec<f32> = group.iter().map(|(_, variance)| *variance).collect();
            noise.sort_unstable_by(f32::total_cmp);
            let quiet = noise[floor_index(f64::from(count_f32(GROUP)) * QUIET)];
            (
                group[GROUP / 2].0.max(0.0),
                (quiet / QUIET_SHARE).max(LEAST),
            )
        })
        .collect();
    lower_line(&points)
}

/// Mean light and noise variance of whole blocks all over the plane: the median second difference, which edges hardly move.
fn blocks(plane: &Plane) -> Vec<(f32, f32)> {
    let (columns, rows) = (plane.rect.width() / SIDE, plane.rect.height() / SIDE);
    let every = (columns * rows).div_ceil(MOST_BLOCKS).max(1);
    (0..columns * rows)
        .into_par_iter()
        .filter(|block| block % every == 0)
        .map(|block| block_of(plane, (block % columns, block / columns)))
        .collect()
}

fn block_of(plane: &Plane, (column, row): (usize, usize)) -> (f32, f32) {
    let (width, height) = (plane.rect.width(), plane.rect.height());
    let mut differences = Vec::with_capacity(SIDE * SIDE);
    let mut sum = 0.0;
    for y in row * SIDE..(row + 1) * SIDE {
        for x in column * SIDE..(column + 1) * SIDE {
            sum += plane.data[y * width + x];
            if y > 0 && x > 0 && y + 1 < height && x + 1 < width {
                differences.push(second_difference(&plane.data, y * width + x, width).abs());
            }
        }
    }
    let spread = median(&differences).unwrap_or(0.0) * NORMAL_FROM_MAD / DIFFERENCE;
    (sum / count_f32(SIDE * SIDE), spread * spread)
}

fn second_difference(data: &[f32], at: usize, width: usize) -> f32 {
    let (up, down) = (at - width, at + width);
    let corners = data[up - 1] + data[up + 1] + data[down - 1] + data[down + 1];
    let sides = data[up] + data[at - 1] + data[at + 1] + data[down];
    corners - 2.0 * sides + 4.0 * data[at]
}

/// Floor and slope of `points` (light, variance), never negative. Texture only adds, and may hide the noise of most bright places, so
/// the slope is a low one among those that the points ask for, and the floor what the darkest points have besides.
fn lower_line(points: &[(f32, f32)]) -> (f32, f32) {
    let dark = points.len().div_ceil(8);
    let mut floor = LEAST;
    let mut slope = 0.0;
    for _ in 0..4 {
        let steps: Vec<f32> = points
            .iter()
            .filter(|(light, _)| *light > LEAST_LIGHT)
            .map(|(light, variance)| (variance - floor).max(0.0) / light)
            .collect();
        slope = percentile(&steps, CLEAN).unwrap_or(0.0);
        let rests: Vec<f32> = points[..dark]
            .iter()
            .map(|(light, variance)| variance - slope * light)
            .collect();
        floor = median(&rests).unwrap_or(LEAST).max(LEAST);
    }
    (floor, slope)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Rect;
    use crate::imaging::basics::random::{bits_at, normal};
    use crate::pixels::convert::{floor_i32, narrow};

    fn noisy(texture: f32, seed: u64) -> Planes {
        let plane = |channel: u64| {
            Plane::from_fn(Rect::new(0, 0, 512, 384), |x, y| {
                let ramp = 0.002 + 0.6 * narrow(f64::from(x) / 512.0);
                let grain = f32::from(u8::from((x / 5 + y / 7) % 2 == 0) * u8::from(y > 190));
                let light = ramp * (1.0 + texture * grain);
                let sigma = ((light * 20_000.0 + 16.0).sqrt()) / 20_000.0;
                light + sigma * narrow(normal(bits_at(seed + channel, x, y)))
            })
        };
        Planes {
            rgb: [plane(0), plane(1), plane(2)],
        }
    }

    #[test]
    fn photon_and_read_noise_are_found_beside_texture() {
        for texture in [0.0, 0.3] {
            let found = LightNoise::of_frame(&noisy(texture, 5));
            for channel in 0..3 {
                for light in [0.01, 0.2, 0.5] {
                    let truth = (light * 20_000.0 + 16.0) / 4e8;
                    let ratio = found.variance(channel, light) / truth;
                    assert!((0.85..1.2).contains(&ratio), "{texture} {light}: {ratio}");
                }
            }
        }
    }

    #[test]
    fn gains_change_light_and_noise_together() {
        let noise = LightNoise {
            floor: [4e-8; 3],
            slope: [5e-5; 3],
        };
        let half = noise.gained([0.5; 3]);
        let ratio = half.variance(1, 0.1) / (0.25 * noise.variance(1, 0.2));
        assert!((ratio - 1.0).abs() < 1e-5, "{ratio}");
    }

    #[test]
    fn tiny_and_empty_frames_give_usable_numbers() {
        for rect in [Rect::default(), Rect::new(0, 0, 20, floor_i32(9.0))] {
            let found = LightNoise::of_frame(&Planes::zero(rect));
            assert!(found.variance(0, 0.0) > 0.0, "{found:?}");
        }
    }
}
