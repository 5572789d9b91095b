//! One band of one frame: its energy, its weights, and what it adds to the plate, row by row in one go.

use super::noise::NoiseModel;
use crate::geometry::Rect;
use crate::imaging::basics::blur::{filter_padded, smooth_row};
use crate::imaging::basics::pyramid::Grown;
use crate::pixels::Plane;
use crate::pixels::convert::clamp_index;
use crate::pixels::spare::{give_back, unwritten};

/// Bands, finest first, in which the energy counts to the fourth power; in coarser ones it counts plainly.
const SHARP_BANDS: usize = 3;
/// Largest energy over noise that counts, so that its fourth power stays finite.
const MOST_ENERGY: f32 = 1e6;

/// A frame, or a piece of one, at one level of its pyramid. All planes but the smaller ones lie in one rectangle.
pub(super) struct Band<'a> {
    /// Red, green and blue to be blended, at this level and the next smaller one.
    pub(super) pixels: [&'a Plane; 3],
    pub(super) smaller: [&'a Plane; 3],
    /// The rooted guide, at this level and the next smaller one.
    pub(super) roots: [&'a Plane; 3],
    pub(super) smaller_roots: [&'a Plane; 3],
    /// How much each pixel counts by its depth and by lying on the frame; may be smaller than the others.
    pub(super) window: &'a Plane,
    pub(super) level: usize,
}

/// Where the pixels of a rectangle are added: whole rows of `stride` numbers, its first pixel at `first`.
pub(super) struct Rows<'a> {
    pub(super) sums: [&'a mut [f32]; 3],
    pub(super) weight: &'a mut [f32],
    /// The largest weight of every pixel so far and its frame, and the frame at hand.
    pub(super) best: Option<(&'a mut [f32], &'a mut [u16], u16)>,
    pub(super) first: usize,
    pub(super) stride: usize,
}

/// Room to work in.
struct Scratch {
    line: Vec<f32>,
    /// A row of the smaller level, grown.
    smooth: Vec<f32>,
    /// A row of energies with room for the taps before and after it.
    energy: Vec<f32>,
    weights: Vec<f32>,
}

/// How energy becomes weight.
#[derive(Debug, Clone, Copy)]
pub(super) struct Weighing<'a> {
    /// Over which pixels the energy of the rooted guide is gathered, red, green and blue together.
    pub(super) taps: &'a [f32],
    pub(super) noise: &'a NoiseModel,
}

impl Band<'_> {
    /// Adds the pixels of `inner`, which lies in the planes' rectangle; energy is gathered from the pixels around as far as they are there.
    #[inline(always)]
    pub(super) fn add(&self, inner: Rect, rows: &mut Rows<'_>, how: Weighing<'_>) {
        let rect = self.roots[0].rect;
        let (width, height) = (rect.width(), rect.height());
        let scale = 1.0 / how.noise.band_energy(self.level);
        let reach = how.taps.len() - 1;
        let left = clamp_index(inner.x0 - rect.x0);
        let columns = left..left + inner.width();
        let top = clamp_index(inner.y0 - rect.y0);
        let bottom = top + inner.height();
        let (first, end) = (top.saturating_sub(reach), (bottom + reach).min(height));
        let mut scratch = Scratch {
            line: Vec::with_capacity(width + 2),
            smooth: vec![0.0; width],
            energy: vec![0.0; width + 2 * reach],
            weights: vec![0.0; width],
        };
        let mut gathered = unwritten((end - first) * width);
        for (y, out) in (first..end).zip(gathered.chunks_mut(width)) {
            self.energy(y, reach, &mut scratch);
            filter_padded(&mut scratch.energy, how.taps, out);
        }
        for y in top..bottom {
            let row_of = |row: usize| &gathered[(row - first) * width..][..width];
            smooth_row(how.taps, y, height, row_of, &mut scratch.weights);
            let line = inner.y0 + crate::pixels::convert::coordinate(y - top);
            let window = &self.window.row(line)[clamp_index(inner.x0 - self.window.rect.x0)..];
            let weights = &mut scratch.weights[columns.clone()];
            self.weigh(weights, &window[..inner.width()], scale);
            let place = rows.first + (y - top) * rows.stride;
            let here = place..place + inner.width();
            for (channel, sums) in rows.sums.iter_mut().enumerate() {
                let fine = &self.pixels[channel].data[y * width..][columns.clone()];
                let grown = Grown::new(self.smaller[channel], rect);
                grown.row(y, &mut scratch.line, &mut scratch.smooth);
                let details = fine.iter().zip(&scratch.smooth[columns.clone()]);
                for ((sum, (fine, smooth)), weight) in
                    sums[here.clone()].iter_mut().zip(details).zip(&*weights)
                {
                    *sum += weight * (fine - smooth);
                }
            }
            let pairs = rows.weight[here.clone()].iter_mut().zip(&*weights);
            pairs.for_each(|(sum, weight)| *sum += weight);
            if let Some((most, frames, frame)) = &mut rows.best {
                note_best(
                    &mut most[here.clone()],
                    &mut frames[here],
                    (weights, *frame),
                );
            }
        }
        give_back(gathered);
    }

    /// The energy of row `y` of the rooted guide's band.
    #[inline(always)]
    fn energy(&self, y: usize, reach: usize, scratch: &mut Scratch) {
        let rect = self.roots[0].rect;
        let width = rect.width();
        for (channel, (fine, coarse)) in self.roots.iter().zip(&self.smaller_roots).enumerate() {
            Grown::new(coarse, rect).row(y, &mut scratch.line, &mut scratch.smooth);
            let row = &fine.data[y * width..(y + 1) * width];
            let details = row.iter().zip(&scratch.smooth);
            let places = scratch.energy[reach..].iter_mut().zip(details);
            if channel == 0 {
                places.for_each(|(sum, (fine, smooth))| {
                    let detail = fine - smooth;
                    *sum = detail * detail;
                });
            } else {
                places.for_each(|(sum, (fine, smooth))| {
                    let detail = fine - smooth;
                    *sum += detail * detail;
                });
            }
        }
    }

    /// Turns a row of energies into weights.
    #[inline(always)]
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

impl Rows<'_> {
    /// Adds pixels that count by their window alone.
    pub(super) fn add_rest(&mut self, inner: Rect, pixels: [&Plane; 3], window: &Plane) {
        for (row, y) in (inner.y0..inner.y1).enumerate() {
            let place = self.first + row * self.stride;
            let here = place..place + inner.width();
            let from = clamp_index(inner.x0 - window.rect.x0);
            let windows = &window.row(y)[from..][..inner.width()];
            for (sums, plane) in self.sums.iter_mut().zip(pixels) {
                let values = &plane.row(y)[clamp_index(inner.x0 - plane.rect.x0)..];
                let places = sums[here.clone()].iter_mut().zip(values);
                places
                    .zip(windows)
                    .for_each(|((sum, value), window)| *sum += window * window * value);
            }
            let weights = self.weight[here.clone()].iter_mut().zip(windows);
            weights.for_each(|(sum, window)| *sum += window * window);
            if let Some((most, frames, frame)) = &mut self.best {
                note_best(
                    &mut most[here.clone()],
                    &mut frames[here],
                    (windows, *frame),
                );
            }
        }
    }
}

/// Notes the largest weights and whose they are.
#[inline(always)]
fn note_best(most: &mut [f32], frames: &mut [u16], (weights, frame): (&[f32], u16)) {
    for ((most, held), weight) in most.iter_mut().zip(frames).zip(weights) {
        let leads = *weight > *most;
        *most = if leads { *weight } else { *most };
        *held = if leads { frame } else { *held };
    }
}
