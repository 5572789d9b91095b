//! One band of one frame: its energy, its weights, and what it adds to the plate, row by row in one go.

use super::blend::Level;
use super::noise::NoiseModel;
use crate::imaging::basics::blur::{filter_row, gaussian_taps, smooth_row};
use crate::imaging::basics::pyramid::Grown;
use crate::pixels::Plane;
use rayon::prelude::*;

/// Bands, finest first, in which the energy counts to the fourth power; in coarser ones it counts plainly.
const SHARP_BANDS: usize = 3;
/// Largest energy over noise that counts, so that its fourth power stays finite.
const MOST_ENERGY: f32 = 1e6;
/// Rows that one thread works on at a time; no value depends on it.
const ROWS: usize = 32;

/// A frame at one level of its pyramid.
pub(super) struct Band<'a> {
    /// Red, green and blue to be blended, at this level and the next smaller one.
    pub(super) pixels: [Plane; 3],
    pub(super) smaller: [Plane; 3],
    /// The rooted guide, at this level and the next smaller one.
    pub(super) roots: [Plane; 3],
    pub(super) smaller_roots: [Plane; 3],
    /// How much each pixel counts by its depth and by lying on the frame.
    pub(super) window: &'a Plane,
    pub(super) level: usize,
    pub(super) frame: f32,
}

/// The parts of a level that one thread adds to.
struct Rows<'a> {
    sums: [&'a mut [f32]; 3],
    weight: &'a mut [f32],
    best: Option<&'a mut [(f32, f32)]>,
}

/// Room to work in.
#[derive(Default)]
struct Scratch {
    line: Vec<f32>,
    row: Vec<f32>,
    energy: Vec<f32>,
}

impl Band<'_> {
    /// Adds this band to `level`, and keeps in `best` the largest weight so far and its frame. `detail`: over which radius (sigma,
    /// pixels) the energy of the rooted guide is gathered, red, green and blue together.
    pub(super) fn add_to(
        &self,
        level: &mut Level,
        best: Option<&mut [(f32, f32)]>,
        detail: f32,
        noise: &NoiseModel,
    ) {
        let chunk = self.window.rect.width().max(1) * ROWS;
        let taps = gaussian_taps(detail);
        let scale = 1.0 / noise.band_energy(self.level);
        let [red, green, blue] = &mut level.sums;
        let sums = red
            .par_chunks_mut(chunk)
            .zip(green.par_chunks_mut(chunk))
            .zip(blue.par_chunks_mut(chunk));
        let rows = sums.zip(level.weight.par_chunks_mut(chunk));
        let add =
            |(index, rows): (usize, Rows<'_>)| self.add_rows(index * ROWS, rows, &taps, scale);
        if let Some(best) = best {
            rows.zip(best.par_chunks_mut(chunk))
                .map(|((((red, green), blue), weight), best)| Rows {
                    sums: [red, green, blue],
                    weight,
                    best: Some(best),
                })
                .enumerate()
                .for_each(add);
        } else {
            rows.map(|(((red, green), blue), weight)| Rows {
                sums: [red, green, blue],
                weight,
                best: None,
            })
            .enumerate()
            .for_each(add);
        }
    }

    /// Adds the rows from `top` on.
    fn add_rows(&self, top: usize, mut rows: Rows<'_>, taps: &[f32], scale: f32) {
        let rect = self.window.rect;
        let (width, height) = (rect.width(), rect.height());
        let reach = taps.len() - 1;
        let bottom = top + rows.weight.len() / width;
        let (first, end) = (top.saturating_sub(reach), (bottom + reach).min(height));
        let mut scratch = Scratch::default();
        scratch.row.resize(width, 0.0);
        scratch.energy.resize(width, 0.0);
        let mut gathered = vec![0.0_f32; (end - first) * width];
        for (y, out) in (first..end).zip(gathered.chunks_mut(width)) {
            self.energy(y, &mut scratch);
            filter_row(&scratch.energy, taps, out);
        }
        for y in top..bottom {
            let row_of = |row: usize| &gathered[(row - first) * width..][..width];
            smooth_row(taps, y, height, row_of, &mut scratch.energy);
            let here = (y - top) * width..(y - top + 1) * width;
            let window = &self.window.data[y * width..(y + 1) * width];
            self.weigh(&mut scratch.energy, window, scale);
            let weights = &scratch.energy[..];
            for (channel, sums) in rows.sums.iter_mut().enumerate() {
                let (fine, coarse) = (&self.pixels[channel], &self.smaller[channel]);
                scratch
                    .row
                    .copy_from_slice(&fine.data[y * width..(y + 1) * width]);
                let detail = |fine, smooth| fine - smooth;
                Grown::new(coarse, rect).row(y, &mut scratch.line, &mut scratch.row, &detail);
                let pairs = sums[here.clone()].iter_mut().zip(&scratch.row).zip(weights);
                pairs.for_each(|((sum, value), weight)| *sum += weight * value);
            }
            let pairs = rows.weight[here.clone()].iter_mut().zip(weights);
            pairs.for_each(|(sum, weight)| *sum += weight);
            if let Some(best) = &mut rows.best {
                for (best, weight) in best[here].iter_mut().zip(weights) {
                    if *weight > best.0 {
                        *best = (*weight, self.frame);
                    }
                }
            }
        }
    }

    /// The energy of row `y` of the rooted guide's band.
    fn energy(&self, y: usize, scratch: &mut Scratch) {
        let rect = self.window.rect;
        let width = rect.width();
        for (channel, (fine, coarse)) in self.roots.iter().zip(&self.smaller_roots).enumerate() {
            scratch
                .row
                .copy_from_slice(&fine.data[y * width..(y + 1) * width]);
            let detail = |fine, smooth| fine - smooth;
            Grown::new(coarse, rect).row(y, &mut scratch.line, &mut scratch.row, &detail);
            let pairs = scratch.energy.iter_mut().zip(&scratch.row);
            if channel == 0 {
                pairs.for_each(|(sum, value)| *sum = value * value);
            } else {
                pairs.for_each(|(sum, value)| *sum += value * value);
            }
        }
    }

    /// Turns a row of energies into weights.
    fn weigh(&self, energies: &mut [f32], window: &[f32], scale: f32) {
        if self.level < SHARP_BANDS {
            for (value, window) in energies.iter_mut().zip(window) {
                let ratio = (*value * scale).min(MOST_ENERGY);
                let square = ratio * ratio;
                *value = window * (square * square + 1.0);
            }
        } else {
            for (value, window) in energies.iter_mut().zip(window) {
                let ratio = (*value * scale).min(MOST_ENERGY);
                *value = window * ((ratio + 1.0) * window);
            }
        }
    }
}
