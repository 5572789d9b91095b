//! One step of a registration pyramid: filtered numbers, which of them count, and smooth sampling with its slope.

use crate::geometry::Rect;
use crate::pixels::Plane;
use crate::pixels::convert::{clamp_index, coordinate, floor_f64, narrow};
use rayon::prelude::*;

/// A filtered picture at a fraction 1 / 2^`level` of its full size.
#[derive(Debug, Clone)]
pub(super) struct Level {
    /// How often it was halved.
    pub level: u32,
    /// Pixels across.
    pub width: usize,
    /// Pixels down.
    pub height: usize,
    /// Filtered numbers, row by row.
    pub data: Vec<f32>,
    /// 1 where the number may be used, 0 where it may not (saturated nearby, outside).
    pub valid: Vec<u8>,
}

/// A number read between pixels, with its slope along x and y.
#[derive(Debug, Clone, Copy)]
pub(super) struct Slope {
    pub value: f32,
    pub dx: f32,
    pub dy: f32,
}

impl Level {
    /// Full-size pixels per pixel of this level.
    pub(super) fn step(&self) -> f64 {
        f64::from(1_u32 << self.level.min(31))
    }

    /// The number at (x, y) with its slope, by Catmull-Rom interpolation; `None` where the picture does not reach or a
    /// pixel must not be used. Pixel centres lie at half coordinates.
    #[inline]
    pub(super) fn sample(&self, x: f64, y: f64) -> Option<Slope> {
        let (u, v) = (x - 0.5, y - 0.5);
        let (column, row) = (floor_f64(u), floor_f64(v));
        let inside = column >= 1
            && row >= 1
            && column + 2 < coordinate(self.width)
            && row + 2 < coordinate(self.height);
        if !inside {
            return None;
        }
        let (tx, ty) = (narrow(u - f64::from(column)), narrow(v - f64::from(row)));
        let first = (clamp_index(row) - 1) * self.width + clamp_index(column) - 1;
        let nearest =
            first + self.width * (1 + usize::from(ty >= 0.5)) + 1 + usize::from(tx >= 0.5);
        if self.valid[nearest] == 0 {
            return None;
        }
        let (wx, sx) = catmull_rom(tx);
        let (wy, sy) = catmull_rom(ty);
        let mut found = Slope {
            value: 0.0,
            dx: 0.0,
            dy: 0.0,
        };
        for tap in 0..4 {
            let line = &self.data[first + tap * self.width..][..4];
            let along = line[0] * wx[0] + line[1] * wx[1] + line[2] * wx[2] + line[3] * wx[3];
            let slope = line[0] * sx[0] + line[1] * sx[1] + line[2] * sx[2] + line[3] * sx[3];
            found.value += along * wy[tap];
            found.dx += slope * wy[tap];
            found.dy += along * sy[tap];
        }
        Some(found)
    }

    /// The same level with pixels left out where `keep` is 0.
    pub(super) fn masked(&self, keep: &[u8]) -> Self {
        Self {
            valid: self.valid.iter().zip(keep).map(|(a, b)| a & b).collect(),
            ..self.clone()
        }
    }
}

/// Weights of the four pixels around a point and their derivative. Source: Catmull and Rom 1974.
#[inline]
fn catmull_rom(t: f32) -> ([f32; 4], [f32; 4]) {
    let t2 = t * t;
    let t3 = t2 * t;
    (
        [
            0.5 * (-t + 2.0 * t2 - t3),
            0.5 * (2.0 - 5.0 * t2 + 3.0 * t3),
            0.5 * (t + 4.0 * t2 - 3.0 * t3),
            0.5 * (t3 - t2),
        ],
        [
            0.5 * (-1.0 + 4.0 * t - 3.0 * t2),
            0.5 * (-10.0 * t + 9.0 * t2),
            0.5 * (1.0 + 8.0 * t - 9.0 * t2),
            0.5 * (3.0 * t2 - 2.0 * t),
        ],
    )
}

/// `plane` at half size: taps 1 3 3 1 over 8 along both axes, so that the centre of an output pixel lies exactly between its
/// four input pixels and no shift creeps in. Odd sizes are rounded up; the border is repeated.
pub(super) fn halved(plane: &Plane) -> Plane {
    let (width, height) = (plane.rect.width(), plane.rect.height());
    let (half_width, half_height) = (width.div_ceil(2), height.div_ceil(2));
    let rect = Rect::new(0, 0, coordinate(half_width), coordinate(half_height));
    let mut data = vec![0.0_f32; half_width * half_height];
    data.par_chunks_mut(half_width.max(1))
        .enumerate()
        .for_each_init(
            || vec![0.0_f32; 2 * half_width + 2],
            |mixed, (y, out)| {
                let row = |offset: usize| {
                    let at = (2 * y + offset).saturating_sub(1).min(height - 1);
                    &plane.data[at * width..][..width]
                };
                let (a, b, c, d) = (row(0), row(1), row(2), row(3));
                for x in 0..width {
                    mixed[x + 1] = (a[x] + d[x]) * 0.125 + (b[x] + c[x]) * 0.375;
                }
                mixed[0] = mixed[1];
                for x in width + 1..2 * half_width + 2 {
                    mixed[x] = mixed[width];
                }
                for (x, value) in out.iter_mut().enumerate() {
                    let near = &mixed[2 * x..][..4];
                    *value = (near[0] + near[3]) * 0.125 + (near[1] + near[2]) * 0.375;
                }
            },
        );
    Plane { rect, data }
}
