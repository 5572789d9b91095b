//! Growing and shrinking masks by a disc.

use crate::pixels::Plane;
use crate::pixels::convert::{clamp_index, coordinate, floor_i32};
use rayon::prelude::*;

/// Pixels over which growing by `radius` reaches.
#[must_use]
pub fn grow_reach(radius: f32) -> i32 {
    if radius > 0.0 {
        floor_i32(radius) + 1
    } else {
        0
    }
}

/// `mask` grown by `radius_px` pixels (negative shrinks): the largest (smallest) value within a disc.
///
/// Radii between whole numbers are blended from their neighbours, so that soft edges move evenly. *Edge*: outside the plane the mask is
/// 0. *Needs*: the radius, rounded up, on every side.
#[must_use]
pub fn grow(mask: &Plane, radius_px: f32) -> Plane {
    let radius = radius_px.abs();
    if radius < 1e-3 || mask.rect.is_empty() {
        return mask.clone();
    }
    let shrinking = radius_px < 0.0;
    let turn = |plane: &Plane| plane.map(|value| 1.0 - value);
    let source = if shrinking { turn(mask) } else { mask.clone() };
    let outside = if shrinking { 1.0 } else { 0.0 };
    let below = floor_i32(radius);
    let part = radius - radius.floor();
    let mut out = dilate(&source, below, outside);
    if part > 1e-3 {
        let above = dilate(&source, below + 1, outside);
        for (value, above) in out.data.iter_mut().zip(&above.data) {
            *value += (above - *value) * part;
        }
    }
    if shrinking { turn(&out) } else { out }
}

/// Largest value within a disc of whole radius.
fn dilate(plane: &Plane, radius: i32, outside: f32) -> Plane {
    if radius == 0 {
        return plane.clone();
    }
    let (width, height) = (plane.rect.width(), plane.rect.height());
    let mut out = plane.clone();
    let squared = f64::from(radius * radius);
    for dy in 0..=radius {
        let chord = (squared - f64::from(dy * dy)).sqrt() + 0.5;
        let half = crate::pixels::convert::floor_index(chord);
        let mut wide = vec![0.0_f32; plane.data.len()];
        wide.par_chunks_mut(width)
            .zip(plane.data.par_chunks(width))
            .for_each(|(out, row)| widest(row, half, outside, out));
        let row_of = |y: i32| {
            (0..coordinate(height))
                .contains(&y)
                .then(|| &wide[clamp_index(y) * width..][..width])
        };
        out.data
            .par_chunks_mut(width)
            .enumerate()
            .for_each(|(y, out)| {
                for y in [coordinate(y) - dy, coordinate(y) + dy] {
                    match row_of(y) {
                        Some(row) => out.iter_mut().zip(row).for_each(|(o, v)| *o = o.max(*v)),
                        None => out.iter_mut().for_each(|o| *o = o.max(outside)),
                    }
                }
            });
    }
    out
}

/// Largest value within `half` pixels along a row (van Herk 1992, Gil and Werman 1993: three comparisons per pixel at any width).
fn widest(row: &[f32], half: usize, outside: f32, out: &mut [f32]) {
    let window = 2 * half + 1;
    let length = row.len() + 2 * half;
    let padded = length.div_ceil(window) * window;
    let mut forward = vec![outside; padded];
    forward[half..half + row.len()].copy_from_slice(row);
    let mut backward = forward.clone();
    for block in forward.chunks_mut(window) {
        for at in 1..block.len() {
            block[at] = block[at].max(block[at - 1]);
        }
    }
    for block in backward.chunks_mut(window) {
        for at in (1..block.len()).rev() {
            block[at - 1] = block[at - 1].max(block[at]);
        }
    }
    for (at, value) in out.iter_mut().enumerate() {
        *value = backward[at].max(forward[at + window - 1]);
    }
}
