//! Grain: seeded noise by place on the canvas.

use crate::imaging::basics::random::{bits_at, mix, normal_quick};
use crate::pixels::convert::{clamp_index, coordinate, count_f32, floor_i32, narrow};

/// Light at which the strength is named: mid grey.
const MID: f32 = 0.18;
/// Light that stands for the noise of the darkest places (the read noise of a sensor), as light.
const FLOOR: f32 = 0.002;

/// Grain like that of film or a sensor: its size grows with the square root of the light.
///
/// Standard deviation at light x: `strength 0.18 sqrt((x + 0.002) / (0.18 + 0.002))` (the shot-noise law of EMVA 1288 with a floor).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Grain {
    /// Standard deviation at mid grey as a share of the light there; 0 is none, 0.03 plain to see.
    pub strength: f32,
    /// Size of a grain in pixels of the full-size canvas, 1 or more.
    pub size_px: f32,
    /// Share of coloured grain, 0 (one noise for all channels) to 1 (channels on their own).
    pub colour: f32,
    /// Chooses the pattern.
    pub seed: u64,
}

impl Default for Grain {
    fn default() -> Self {
        Self {
            strength: 0.0,
            size_px: 1.5,
            colour: 0.3,
            seed: 0,
        }
    }
}

/// The noise along one row: four fields (common, red, green, blue) of standard deviation 1.
pub(super) struct Row {
    noise: Vec<[f32; 4]>,
    strength: f32,
    share: [f32; 2],
}

impl Row {
    pub(super) fn new(grain: &Grain, x0: i32, y: i32, width: usize, level: u32) -> Self {
        let colour = grain.colour.clamp(0.0, 1.0);
        let mut row = Self {
            noise: Vec::new(),
            strength: grain.strength * MID / (MID + FLOOR).sqrt(),
            share: [(1.0 - colour * colour).max(0.0).sqrt(), colour],
        };
        if grain.strength <= 0.0 {
            return row;
        }
        let size = grain.size_px.max(1.0) / count_f32(1_usize << level.min(24));
        if size <= 1.0 {
            // Grains smaller than a pixel average out within it.
            row.strength *= size;
            row.noise = (0..width)
                .map(|at| fields(grain.seed, x0 + coordinate(at), y))
                .collect();
        } else {
            row.noise = smooth_fields(grain.seed, size, x0, y, width);
        }
        row
    }

    /// `light` with its grain.
    #[inline]
    pub(super) fn apply(&self, at: usize, light: [f32; 3]) -> [f32; 3] {
        let Some(noise) = self.noise.get(at) else {
            return light;
        };
        let grain = |channel: usize| {
            let value = self.share[0] * noise[0] + self.share[1] * noise[channel + 1];
            light[channel] + self.strength * (light[channel].max(0.0) + FLOOR).sqrt() * value
        };
        [grain(0), grain(1), grain(2)]
    }
}

/// Four normal numbers at a lattice place.
fn fields(seed: u64, x: i32, y: i32) -> [f32; 4] {
    let first = bits_at(seed, x, y);
    let second = mix(first);
    let third = mix(second);
    [first, second, third, mix(third)].map(normal_quick)
}

/// Lattice cells before a place and the weights of the three nearest (quadratic B-spline), scaled so that their squares sum to 1.
fn taps(place: f32) -> (i32, [f32; 3]) {
    let near = floor_i32(place + 0.5);
    let t = place - (narrow(f64::from(near)) - 0.5);
    let weights = [
        0.5 * (1.0 - t) * (1.0 - t),
        0.5 + t * (1.0 - t),
        0.5 * t * t,
    ];
    let size = (weights[0] * weights[0] + weights[1] * weights[1] + weights[2] * weights[2]).sqrt();
    (near - 1, weights.map(|weight| weight / size))
}

/// Noise on a lattice of `size` pixels, smoothed between its points, with the same variance at every pixel.
fn smooth_fields(seed: u64, size: f32, x0: i32, y: i32, width: usize) -> Vec<[f32; 4]> {
    let place = |pixel: i32| (narrow(f64::from(pixel)) + 0.5) / size;
    let (top, down) = taps(place(y));
    let (first, _) = taps(place(x0));
    let (last, _) = taps(place(x0 + coordinate(width)));
    let columns: Vec<[f32; 4]> = (first..=last + 2)
        .map(|x| {
            let mut sum = [0.0; 4];
            for (row, weight) in (top..).zip(down) {
                let here = fields(seed, x, row);
                for (sum, value) in sum.iter_mut().zip(here) {
                    *sum += weight * value;
                }
            }
            sum
        })
        .collect();
    (0..width)
        .map(|at| {
            let (left, across) = taps(place(x0 + coordinate(at)));
            let mut sum = [0.0; 4];
            for (column, weight) in columns[clamp_index(left - first)..].iter().zip(across) {
                for (sum, value) in sum.iter_mut().zip(column) {
                    *sum += weight * value;
                }
            }
            sum
        })
        .collect()
}
