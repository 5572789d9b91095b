//! Mean light of large blocks of a frame, in the geometry of the reference.

use crate::geometry::{Point, Rect, Size, Transform};
use crate::imaging::basics::colour::matrices::apply_single;
use crate::imaging::basics::wide::wide;
use crate::pixels::convert::{clamp_index, coordinate, floor_f64, narrow};
use crate::pixels::{Plane, Planes};
use rayon::prelude::*;

/// Mean linear light of a grid of square blocks, of one frame as seen from the reference.
#[derive(Debug, Clone, PartialEq)]
pub struct BlockMeans {
    /// Blocks across.
    pub columns: usize,
    /// Blocks down.
    pub rows: usize,
    /// Side of a block, pixels at full size.
    pub side_px: u32,
    /// Red, green, blue of each block, row by row; `None` where the frame does not reach or a pixel is saturated.
    pub rgb: Vec<Option<[f32; 3]>>,
}

/// Samples along the side of a block.
const SAMPLES: i32 = 16;
/// Blocks along the longer side of large pictures.
const ALONG: u32 = 64;
/// Least side of a block in pixels: wider than the blur between neighbouring focus distances.
const LEAST_SIDE_PX: u32 = 32;

impl BlockMeans {
    /// Blocks of `frame` on the grid of a reference of size `reference`.
    ///
    /// `reference_from_frame` is what registration found; `saturation` is the linear value from which a channel counts as
    /// saturated. Incomplete blocks at the right and bottom border are left out. A transform without an inverse gives no
    /// blocks.
    #[must_use]
    pub fn new(
        frame: &Planes,
        reference_from_frame: &Transform,
        reference: Size,
        saturation: f32,
    ) -> Self {
        let side_px = (reference.width.max(reference.height) / ALONG).max(LEAST_SIDE_PX);
        let count = |length: u32| usize::try_from(length / side_px).unwrap_or(0);
        let (columns, rows) = (count(reference.width), count(reference.height));
        let inverse = reference_from_frame.inverse();
        let rgb = (0..columns * rows)
            .into_par_iter()
            .map(|index| {
                let corner = Point::new(
                    f64::from(coordinate(index % columns.max(1))) * f64::from(side_px),
                    f64::from(coordinate(index / columns.max(1))) * f64::from(side_px),
                );
                mean(
                    frame,
                    inverse.as_ref()?,
                    corner,
                    (f64::from(side_px), saturation),
                )
            })
            .collect();
        Self {
            columns,
            rows,
            side_px,
            rgb,
        }
    }

    /// The same blocks with their colours turned by `matrix`.
    #[must_use]
    pub fn turned(&self, matrix: &[[f32; 3]; 3]) -> Self {
        let turn = |colour: &Option<[f32; 3]>| colour.map(|colour| apply_single(matrix, colour));
        Self {
            rgb: self.rgb.iter().map(turn).collect(),
            ..self.clone()
        }
    }
}

/// `frame` at a quarter of its size, as far as block means need it: means of 4 x 4 pixels, but the largest of them where it is saturated.
/// The right and bottom border that do not fill such squares are left out.
#[must_use]
pub fn quarter_size(frame: &Planes, saturation: f32) -> Planes {
    let whole = frame.rect();
    let (width, height) = (whole.width() / 4, whole.height() / 4);
    let rect = Rect::new(0, 0, coordinate(width), coordinate(height));
    let small = |plane: &Plane| {
        let mut out = Plane::zero(rect);
        out.data
            .par_chunks_mut(width.max(1))
            .enumerate()
            .for_each(|(y, out)| {
                let rows = [0, 1, 2, 3]
                    .map(|row| &plane.data[(4 * y + row) * whole.width()..][..whole.width()]);
                wide(
                    #[inline(always)]
                    || quarter_row(rows, saturation, out),
                );
            });
        out
    };
    Planes {
        rgb: frame.rgb.each_ref().map(small),
    }
}

#[inline(always)]
fn quarter_row(rows: [&[f32]; 4], saturation: f32, out: &mut [f32]) {
    let [a, b, c, d] = rows.map(|row| row.as_chunks::<4>().0);
    for ((out, (a, b)), (c, d)) in out.iter_mut().zip(a.iter().zip(b)).zip(c.iter().zip(d)) {
        let (mut sum, mut most) = (0.0_f32, f32::MIN);
        for values in [a, b, c, d] {
            for value in values {
                sum += value;
                most = if *value > most { *value } else { most };
            }
        }
        *out = if most >= saturation {
            most
        } else {
            sum * (1.0 / 16.0)
        };
    }
}

fn mean(
    frame: &Planes,
    frame_from_reference: &Transform,
    corner: Point,
    (side, saturation): (f64, f32),
) -> Option<[f32; 3]> {
    let step = side / f64::from(SAMPLES);
    let mut sum = [0.0_f64; 3];
    for row in 0..SAMPLES {
        for column in 0..SAMPLES {
            let at = frame_from_reference.apply(Point::new(
                corner.x + (f64::from(column) + 0.5) * step,
                corner.y + (f64::from(row) + 0.5) * step,
            ));
            let colour = averaged(frame, at, step)?;
            if colour.iter().any(|value| *value >= saturation) {
                return None;
            }
            for (total, value) in sum.iter_mut().zip(colour) {
                *total += f64::from(value);
            }
        }
    }
    let pixels = f64::from(SAMPLES * SAMPLES);
    Some(sum.map(|total| narrow(total / pixels)))
}

/// Mean of the frame's pixels in the square of `side` pixels around `at`, with parts of pixels counted as parts, so that a
/// shift of a fraction of a pixel does not change which light a block holds. A saturated pixel shows as its own value.
fn averaged(frame: &Planes, at: Point, side: f64) -> Option<[f32; 3]> {
    let rect = frame.rect();
    let (x0, y0) = (at.x - side * 0.5, at.y - side * 0.5);
    let (x1, y1) = (x0 + side, y0 + side);
    let (first_x, first_y) = (floor_f64(x0), floor_f64(y0));
    let (last_x, last_y) = (floor_f64(x1 - 1e-9), floor_f64(y1 - 1e-9));
    if !rect.contains(first_x, first_y) || !rect.contains(last_x, last_y) {
        return None;
    }
    let part = |low: f64, high: f64, pixel: i32| {
        narrow((high.min(f64::from(pixel) + 1.0) - low.max(f64::from(pixel))).max(0.0))
    };
    let (mut sum, mut total) = ([0.0_f32; 3], 0.0_f32);
    for y in first_y..=last_y {
        let down = part(y0, y1, y);
        let line = rect.index(first_x, y);
        for x in first_x..=last_x {
            let weight = down * part(x0, x1, x);
            let colour = frame.pixel(line + clamp_index(x - first_x));
            for (value, channel) in sum.iter_mut().zip(colour) {
                *value += weight * channel;
            }
            total += weight;
        }
    }
    (total > 0.0).then(|| sum.map(|value| value / total))
}
