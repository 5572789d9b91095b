//! Soft edges.

use crate::imaging::basics::blur::gaussian_taps;
use crate::pixels::Plane;
use crate::pixels::convert::{ceil_i32, clamp_index, coordinate, floor_index, narrow};
use rayon::prelude::*;

/// Standard deviation of the Gaussian whose edge takes one pixel from a tenth to nine tenths.
const SIGMA_PER_WIDTH: f32 = 0.390_152;
/// From this standard deviation on, running means take the place of the kernel.
const FROM_BOXES: f32 = 4.0;

/// Pixels over which a soft edge of `width` reaches.
#[must_use]
pub fn soften_reach(width: f32) -> i32 {
    let sigma = width * SIGMA_PER_WIDTH;
    if sigma < 0.05 {
        0
    } else if sigma < FROM_BOXES {
        ceil_i32(sigma * 3.5).max(1)
    } else {
        box_halves(sigma).iter().map(|half| coordinate(*half)).sum()
    }
}

/// `mask` with edges softened to `width_px` pixels, measured from a tenth to nine tenths of a straight edge.
///
/// A Gaussian; from a standard deviation of 4 pixels on, three running means (P. Kovesi, Fast almost-Gaussian filtering, 2010),
/// added up in whole numbers so that a pixel does not depend on where its row begins. *Edge*: outside the plane the mask is 0.
/// *Needs*: about 1.4 `width_px` on every side.
#[must_use]
pub fn soften(mask: &Plane, width_px: f32) -> Plane {
    let sigma = width_px * SIGMA_PER_WIDTH;
    if sigma < 0.05 || mask.rect.is_empty() {
        return mask.clone();
    }
    let width = mask.rect.width();
    if sigma < FROM_BOXES {
        let taps = gaussian_taps(sigma);
        let across = along_rows(&mask.data, width, |row, out| filter(row, &taps, out));
        let turned = transpose(&across, width);
        let height = mask.rect.height();
        let down = along_rows(&turned, height, |row, out| filter(row, &taps, out));
        return Plane {
            rect: mask.rect,
            data: transpose(&down, height),
        };
    }
    let halves = box_halves(sigma);
    let across = along_rows(&mask.data, width, |row, out| boxes(row, halves, out));
    let turned = transpose(&across, width);
    let height = mask.rect.height();
    let down = along_rows(&turned, height, |row, out| boxes(row, halves, out));
    Plane {
        rect: mask.rect,
        data: transpose(&down, height),
    }
}

fn along_rows(data: &[f32], width: usize, change: impl Fn(&[f32], &mut [f32]) + Sync) -> Vec<f32> {
    let mut out = vec![0.0; data.len()];
    out.par_chunks_mut(width)
        .zip(data.par_chunks(width))
        .for_each(|(out, row)| change(row, out));
    out
}

fn transpose(data: &[f32], width: usize) -> Vec<f32> {
    let height = data.len() / width.max(1);
    let mut out = vec![0.0; data.len()];
    // Strips of columns keep both sides of the copy in the cache.
    const STRIP: usize = 16;
    out.par_chunks_mut(height * STRIP)
        .enumerate()
        .for_each(|(strip, columns)| {
            let first = strip * STRIP;
            for y in 0..height {
                for (at, column) in columns.chunks_mut(height).enumerate() {
                    column[y] = data[y * width + first + at];
                }
            }
        });
    out
}

fn filter(row: &[f32], taps: &[f32], out: &mut [f32]) {
    let reach = taps.len() - 1;
    let mut padded = vec![0.0; row.len() + 2 * reach];
    padded[reach..reach + row.len()].copy_from_slice(row);
    for (at, value) in out.iter_mut().enumerate() {
        let here = at + reach;
        let mut sum = taps[0] * padded[here];
        for (distance, tap) in taps.iter().enumerate().skip(1) {
            sum += tap * (padded[here - distance] + padded[here + distance]);
        }
        *value = sum;
    }
}

/// Half widths of three running means that together have standard deviation `sigma`, as near as odd widths allow.
fn box_halves(sigma: f32) -> [usize; 3] {
    let variance = f64::from(sigma) * f64::from(sigma);
    let ideal = (4.0 * variance + 1.0).sqrt();
    let small = {
        let whole = floor_index(ideal);
        if whole.is_multiple_of(2) {
            whole - 1
        } else {
            whole
        }
    };
    let w = f64::from(coordinate(small));
    let smaller = ((12.0 * variance - 3.0 * w * w - 12.0 * w - 9.0) / (-4.0 * w - 4.0)).round();
    [0, 1, 2].map(|pass| {
        let wide = f64::from(pass) >= smaller;
        (small - 1) / 2 + usize::from(wide)
    })
}

/// Steps of coverage in the whole-number sums.
const STEPS: f64 = 1_048_576.0;

fn boxes(row: &[f32], halves: [usize; 3], out: &mut [f32]) {
    let margin = halves[0] + halves[1] + halves[2];
    let mut values = vec![0_i64; row.len() + 2 * margin];
    for (value, cover) in values[margin..].iter_mut().zip(row) {
        *value = coverage_steps(*cover);
    }
    let mut next = vec![0_i64; values.len()];
    for half in halves {
        running_mean(&values, half, &mut next);
        std::mem::swap(&mut values, &mut next);
    }
    for (out, value) in out.iter_mut().zip(&values[margin..]) {
        #[expect(clippy::cast_precision_loss, reason = "at most 2^20")]
        let value = *value as f64;
        *out = narrow(value / STEPS);
    }
}

fn coverage_steps(cover: f32) -> i64 {
    i64::try_from(floor_index(f64::from(cover.clamp(0.0, 1.0)) * STEPS + 0.5)).unwrap_or(0)
}

fn running_mean(values: &[i64], half: usize, out: &mut [i64]) {
    let window = coordinate(2 * half + 1);
    let count = i64::from(window);
    let at = |index: i32| {
        if index < 0 {
            0
        } else {
            values.get(clamp_index(index)).copied().unwrap_or(0)
        }
    };
    let reach = coordinate(half);
    let mut sum: i64 = (0..reach).map(at).sum();
    for (index, out) in out.iter_mut().enumerate() {
        let here = coordinate(index);
        sum += at(here + reach);
        *out = (sum + count / 2) / count;
        sum -= at(here - reach);
    }
}
