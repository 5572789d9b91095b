//! Which pixels may take part: not saturated, not near saturated ones, and (for another light) only where both pictures
//! show the same structure.

use super::level::Level;
use super::motion::Motion;
use crate::geometry::Rect;
use crate::imaging::basics::blur::gaussian;
use crate::pixels::Plane;
use crate::pixels::convert::{coordinate, count_f32};
use rayon::prelude::*;

/// A mask with one byte per pixel, 1 = may be used.
#[derive(Debug, Clone)]
pub(super) struct Mask {
    pub width: usize,
    pub height: usize,
    pub keep: Vec<u8>,
}

impl Mask {
    /// Where `plane` is below `limit` (not-a-number is left out).
    pub(super) fn below(plane: &Plane, limit: f32) -> Self {
        let mut keep = vec![0_u8; plane.data.len()];
        keep.par_chunks_mut(4096)
            .zip(plane.data.par_chunks(4096))
            .for_each(|(out, values)| {
                for (cell, value) in out.iter_mut().zip(values) {
                    *cell = u8::from(*value < limit);
                }
            });
        Self {
            width: plane.rect.width(),
            height: plane.rect.height(),
            keep,
        }
    }

    /// Half size; a pixel is kept only if all four below it are.
    pub(super) fn halved(&self) -> Self {
        let (width, height) = (self.width.div_ceil(2), self.height.div_ceil(2));
        let mut keep = vec![0_u8; width * height];
        keep.par_chunks_mut(width.max(1))
            .enumerate()
            .for_each(|(y, out)| {
                let line = |row: usize| {
                    let from = row.min(self.height - 1) * self.width;
                    &self.keep[from..from + self.width]
                };
                let (upper, lower) = (line(2 * y), line(2 * y + 1));
                let pairs = upper.chunks(2).zip(lower.chunks(2));
                for (cell, (upper, lower)) in out.iter_mut().zip(pairs) {
                    *cell = upper[0] & upper[upper.len() - 1] & lower[0] & lower[lower.len() - 1];
                }
            });
        Self {
            width,
            height,
            keep,
        }
    }

    /// Left-out places grown by `reach` pixels in every direction (a square).
    pub(super) fn shrunk(&self, reach: usize) -> Vec<u8> {
        if self.keep.iter().all(|kept| *kept == 1) {
            return self.keep.clone();
        }
        let across = self.shrunk_along_rows(reach);
        let mut out = vec![1_u8; self.keep.len()];
        out.par_chunks_mut(self.width.max(1))
            .enumerate()
            .for_each(|(y, line)| {
                let last = (y + reach).min(self.height - 1);
                for from in y.saturating_sub(reach)..=last {
                    let source = &across[from * self.width..][..self.width];
                    line.iter_mut()
                        .zip(source)
                        .for_each(|(cell, kept)| *cell &= kept);
                }
            });
        out
    }

    fn shrunk_along_rows(&self, reach: usize) -> Vec<u8> {
        let mut out = vec![1_u8; self.keep.len()];
        out.par_chunks_mut(self.width.max(1))
            .zip(self.keep.par_chunks(self.width.max(1)))
            .for_each(|(line, source)| {
                for (x, _) in source.iter().enumerate().filter(|(_, kept)| **kept == 0) {
                    let last = (x + reach).min(source.len() - 1);
                    line[x.saturating_sub(reach)..=last].fill(0);
                }
            });
        out
    }
}

/// Side of the blocks that local correlation is measured in, pixels of the level.
const BLOCK: usize = 4;
/// Reach of the window of local correlation in blocks: 8 px of the level.
const WINDOW_BLOCKS: f32 = 2.0;

/// Local correlation from which on two pictures show the same, and what is enough where fewer than 5 % would be left.
///
/// Source: the trust mask of the light-pass experiments; window 8 px.
pub(super) const AGREE: (f32, f32) = (0.6, 0.3);
/// The same in the narrow band of large pictures: seldom more than a twentieth is lit, and 0.3 lets shading in.
pub(super) const NARROW_AGREE: (f32, f32) = (0.8, 0.5);

/// Pixels of `reference` where `moved`, brought over by `motion`, correlates locally above `usual`, or above `least` if fewer than 5 %
/// would be left.
pub(super) fn agreeing<M: Motion<N, L>, const N: usize, const L: usize>(
    (reference, moved): (&Level, &Level),
    motion: &M,
    (usual, least): (f32, f32),
) -> Vec<u8> {
    let columns = reference.width.div_ceil(BLOCK);
    let rows = reference.height.div_ceil(BLOCK);
    let mut sums = vec![[0.0_f32; 3]; columns * rows];
    sums.par_chunks_mut(columns.max(1))
        .enumerate()
        .for_each(|(row, out)| {
            for y in row * BLOCK..((row + 1) * BLOCK).min(reference.height) {
                add_row(reference, moved, motion, y, out);
            }
        });
    let rect = Rect::new(0, 0, coordinate(columns), coordinate(rows));
    let part = |index: usize| {
        let data = sums.iter().map(|sum| sum[index]).collect();
        gaussian(&Plane { rect, data }, WINDOW_BLOCKS)
    };
    let (both, first, second) = (part(0), part(1), part(2));
    let local: Vec<f32> = (0..both.data.len())
        .map(|at| both.data[at] / ((first.data[at] * second.data[at]).max(0.0).sqrt() + 1e-9))
        .collect();
    let share = |limit: f32| {
        count_f32(local.iter().filter(|value| **value > limit).count())
            / count_f32(local.len().max(1))
    };
    let limit = if share(usual) >= 0.05 { usual } else { least };
    let mut keep = vec![0_u8; reference.data.len()];
    keep.par_chunks_mut(reference.width.max(1))
        .enumerate()
        .for_each(|(y, out)| {
            let line = &local[(y / BLOCK) * columns..][..columns];
            for (x, cell) in out.iter_mut().enumerate() {
                *cell = u8::from(line[x / BLOCK] > limit);
            }
        });
    keep
}

fn add_row<M: Motion<N, L>, const N: usize, const L: usize>(
    reference: &Level,
    moved: &Level,
    motion: &M,
    y: usize,
    out: &mut [[f32; 3]],
) {
    let line = &reference.data[y * reference.width..][..reference.width];
    for (x, a) in line.iter().enumerate() {
        let (u, v) = motion.at(
            f64::from(coordinate(x)) + 0.5,
            f64::from(coordinate(y)) + 0.5,
        );
        if let Some(found) = moved.sample(u, v) {
            let sum = &mut out[x / BLOCK];
            sum[0] += a * found.value;
            sum[1] += a * a;
            sum[2] += found.value * found.value;
        }
    }
}
