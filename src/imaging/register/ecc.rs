//! Climbs the correlation coefficient, coarse to fine.

use super::likeness::{Level, Prepared};
use crate::geometry::{Point, Transform};
use crate::imaging::basics::statistics::median;
use crate::pixels::convert::{clamp_index, coordinate, count_f64, floor_f64, narrow};
use nalgebra::{Matrix4, Vector4};
use rayon::prelude::*;

/// A place: moved = middle + (1 + a) u - b v + x, middle + b u + (1 + a) v + y for u, v from the reference's middle.
#[derive(Debug, Clone, Copy)]
pub(super) struct Fit {
    /// a, b, x, y in full-size pixels.
    parameters: [f64; 4],
    pub(super) correlation: f32,
}

/// What one pass over the pixels adds up.
#[derive(Debug, Clone, Copy, Default)]
struct Sums {
    count: f64,
    moved: f64,
    reference: f64,
    moved2: f64,
    reference2: f64,
    both: f64,
    slope: [f64; 4],
    slope_moved: [f64; 4],
    slope_reference: [f64; 4],
    slopes: [[f64; 4]; 4],
}

impl Fit {
    pub(super) fn from_transform(moved_from_reference: &Transform, middle: Point) -> Self {
        let [[a, b, _], [c, d, _], _] = moved_from_reference.rows;
        let at = moved_from_reference.apply(middle);
        let parameters = [
            (a + d) * 0.5 - 1.0,
            (c - b) * 0.5,
            at.x - middle.x,
            at.y - middle.y,
        ];
        Self {
            parameters,
            correlation: -1.0,
        }
    }

    /// Reference position to moved position.
    pub(super) fn transform(&self, middle: Point) -> Transform {
        let [a, b, x, y] = self.parameters;
        let scale = 1.0 + a;
        let tx = middle.x + x - scale * middle.x + b * middle.y;
        let ty = middle.y + y - b * middle.x - scale * middle.y;
        Transform {
            rows: [[scale, -b, tx], [b, scale, ty], [0.0, 0.0, 1.0]],
        }
    }
}

/// Refines at the coarsest level only.
pub(super) fn coarsest(reference: &Prepared, moved: &Prepared, fit: Fit) -> Option<Fit> {
    let last = reference.levels.len() - 1;
    climb(reference, moved, fit, (last, 12))
}

/// Refines from the coarsest level (less `skip`) to the finest.
pub(super) fn descend(
    reference: &Prepared,
    moved: &Prepared,
    fit: Fit,
    skip: usize,
) -> Option<Fit> {
    let mut fit = fit;
    for level in (0..reference.levels.len().saturating_sub(skip)).rev() {
        fit = climb(reference, moved, fit, (level, 30))?;
    }
    Some(fit)
}

fn climb(
    reference: &Prepared,
    moved: &Prepared,
    start: Fit,
    (level, rounds): (usize, usize),
) -> Option<Fit> {
    let scale = reference.scale(level);
    let half = reference.side() * 0.5;
    let mut fit = start;
    for _round in 0..rounds {
        let sums = pass(
            &reference.levels[level],
            moved.levels.get(level)?,
            &fit,
            (reference, level),
        );
        let (step, correlation) = step_of(&sums)?;
        fit.correlation = narrow(correlation);
        // Slopes are per level pixel and the first two are over half the side: back to full-size parameters.
        let change = [
            step[0] / half * scale,
            step[1] / half * scale,
            step[2] * scale,
            step[3] * scale,
        ];
        for (parameter, change) in fit.parameters.iter_mut().zip(change) {
            *parameter += change;
        }
        let moved_px =
            (change[0].abs() + change[1].abs()) * half + change[2].abs() + change[3].abs();
        if !moved_px.is_finite() || fit.parameters[0].abs() > 0.5 {
            return None;
        }
        if moved_px < 2e-4 * scale {
            break;
        }
    }
    Some(fit)
}

/// The step of the forward additive form, and the correlation before it.
fn step_of(sums: &Sums) -> Option<(Vector4<f64>, f64)> {
    if sums.count < 64.0 {
        return None;
    }
    let (mean_moved, mean_reference) = (sums.moved / sums.count, sums.reference / sums.count);
    let moved2 = sums.moved2 - sums.count * mean_moved * mean_moved;
    let reference2 = sums.reference2 - sums.count * mean_reference * mean_reference;
    let both = sums.both - sums.count * mean_moved * mean_reference;
    if moved2 <= 0.0 || reference2 <= 0.0 {
        return None;
    }
    let correlation = both / (moved2 * reference2).sqrt();
    let on_moved = Vector4::from_fn(|i, _| sums.slope_moved[i] - mean_moved * sums.slope[i]);
    let on_reference =
        Vector4::from_fn(|i, _| sums.slope_reference[i] - mean_reference * sums.slope[i]);
    let slopes = Matrix4::from_fn(|i, j| {
        sums.slopes[i.min(j)][i.max(j)] - sums.slope[i] * sums.slope[j] / sums.count
    });
    let inverse = slopes.try_inverse()?;
    let toward_moved = inverse * on_moved;
    let below = both - on_reference.dot(&toward_moved);
    let above = moved2 - on_moved.dot(&toward_moved);
    let gain = if below > 0.0 {
        above / below
    } else {
        // The paper's second case: the best that keeps the correlation from falling.
        (moved2 / reference2).sqrt().max(
            (on_moved.dot(&toward_moved) - both)
                / on_reference.dot(&(inverse * on_reference)).max(1e-30),
        )
    };
    Some((inverse * (on_reference * gain - on_moved), correlation))
}

fn pass(
    reference: &Level,
    moved: &Level,
    fit: &Fit,
    (prepared, level): (&Prepared, usize),
) -> Sums {
    let height = reference.value.rect.height();
    let map = level_map(fit, prepared, level);
    let rows: Vec<Sums> = (0..height)
        .into_par_iter()
        .map(|y| row_sums(reference, moved, &map, (y, prepared, level)))
        .collect();
    // Rows are added up from the top, so the number of threads does not matter.
    rows.iter().fold(Sums::default(), |all, row| all.plus(row))
}

/// Reference pixel index to moved pixel index at a level.
fn level_map(fit: &Fit, prepared: &Prepared, level: usize) -> Transform {
    let scale = prepared.scale(level);
    let to_full = Transform {
        rows: [
            [scale, 0.0, 0.5 * scale],
            [0.0, scale, 0.5 * scale],
            [0.0, 0.0, 1.0],
        ],
    };
    let back = Transform {
        rows: [
            [1.0 / scale, 0.0, -0.5],
            [0.0, 1.0 / scale, -0.5],
            [0.0, 0.0, 1.0],
        ],
    };
    back.after(&fit.transform(prepared.middle()))
        .after(&to_full)
}

/// One pixel pair, with the slopes of the moved picture along the four parameters.
struct Pair {
    moved: f32,
    reference: f32,
    slopes: [f32; 4],
    /// Slopes across and down.
    plain: [f32; 2],
}

fn pair_at(
    reference: &Level,
    moved: &Level,
    map: &Transform,
    at: (usize, usize, f64, f64),
) -> Option<Pair> {
    let (x, y, u, v) = at;
    let (width, height) = (moved.value.rect.width(), moved.value.rect.height());
    let index = y * reference.value.rect.width() + x;
    if reference.weight.data[index] == 0.0 {
        return None;
    }
    let place = map.apply(Point::new(count_f64(x), count_f64(y)));
    let (left, top) = (floor_f64(place.x), floor_f64(place.y));
    if left < 1 || top < 1 || left + 2 >= coordinate(width) || top + 2 >= coordinate(height) {
        return None;
    }
    let first = clamp_index(top) * width + clamp_index(left);
    if moved.weight.data[first] == 0.0 {
        return None;
    }
    let (fx, fy) = (
        narrow(place.x - f64::from(left)),
        narrow(place.y - f64::from(top)),
    );
    let weights = [
        (1.0 - fx) * (1.0 - fy),
        fx * (1.0 - fy),
        (1.0 - fx) * fy,
        fx * fy,
    ];
    let sample = |plane: &[f32]| {
        weights[0] * plane[first]
            + weights[1] * plane[first + 1]
            + weights[2] * plane[first + width]
            + weights[3] * plane[first + width + 1]
    };
    let (across, down) = (sample(&moved.across.data), sample(&moved.down.data));
    let (u, v) = (narrow(u), narrow(v));
    Some(Pair {
        moved: sample(&moved.value.data),
        reference: reference.value.data[index],
        slopes: [across * u + down * v, down * u - across * v, across, down],
        plain: [across, down],
    })
}

fn row_sums(
    reference: &Level,
    moved: &Level,
    map: &Transform,
    (y, prepared, level): (usize, &Prepared, usize),
) -> Sums {
    let scale = prepared.scale(level);
    let half = prepared.side() * 0.5;
    let middle = prepared.middle();
    let mut sums = Sums::default();
    let v = ((count_f64(y) + 0.5) * scale - middle.y) / half;
    for x in 0..reference.value.rect.width() {
        let u = ((count_f64(x) + 0.5) * scale - middle.x) / half;
        if let Some(pair) = pair_at(reference, moved, map, (x, y, u, v)) {
            sums.add(&pair);
        }
    }
    sums
}

impl Sums {
    #[inline]
    fn add(&mut self, pair: &Pair) {
        let (moved, reference) = (f64::from(pair.moved), f64::from(pair.reference));
        let slopes = pair.slopes.map(f64::from);
        self.count += 1.0;
        self.moved += moved;
        self.reference += reference;
        self.moved2 += moved * moved;
        self.reference2 += reference * reference;
        self.both += moved * reference;
        for (i, slope) in slopes.iter().enumerate() {
            self.slope[i] += slope;
            self.slope_moved[i] += slope * moved;
            self.slope_reference[i] += slope * reference;
            for (j, other) in slopes.iter().enumerate().skip(i) {
                self.slopes[i][j] += slope * other;
            }
        }
    }

    fn plus(mut self, other: &Self) -> Self {
        self.count += other.count;
        self.moved += other.moved;
        self.reference += other.reference;
        self.moved2 += other.moved2;
        self.reference2 += other.reference2;
        self.both += other.both;
        for i in 0..4 {
            self.slope[i] += other.slope[i];
            self.slope_moved[i] += other.slope_moved[i];
            self.slope_reference[i] += other.slope_reference[i];
            for j in i..4 {
                self.slopes[i][j] += other.slopes[i][j];
            }
        }
        self
    }
}

/// Side of the tiles that residual shifts are measured on, in level pixels.
const TILE: usize = 96;

/// Root mean square over textured tiles of the shift the fit leaves, in full-size pixels.
pub(super) fn residual(reference: &Prepared, moved: &Prepared, fit: &Fit) -> f32 {
    let level = reference.levels.len().min(2) - 1;
    let (Some(one), Some(other)) = (reference.levels.get(level), moved.levels.get(level)) else {
        return 0.0;
    };
    let map = level_map(fit, reference, level);
    let (width, height) = (one.value.rect.width(), one.value.rect.height());
    let corners: Vec<(usize, usize)> = (0..height / TILE)
        .flat_map(|y| (0..width / TILE).map(move |x| (x * TILE, y * TILE)))
        .collect();
    let shifts: Vec<(f32, f32)> = corners
        .par_iter()
        .filter_map(|corner| tile_shift(one, other, &map, *corner))
        .collect();
    if shifts.is_empty() {
        return 0.0;
    }
    let strengths: Vec<f32> = shifts.iter().map(|(_square, strength)| *strength).collect();
    let typical = median(&strengths);
    let textured: Vec<f32> = shifts
        .iter()
        .filter(|(_square, strength)| *strength >= typical)
        .map(|(square, _strength)| *square)
        .collect();
    // The median of squares, not the mean: a tile with an occlusion has no one shift.
    median(&textured).sqrt() * narrow(reference.scale(level))
}

/// Squared remaining shift of a tile and the strength of its weaker texture direction.
fn tile_shift(
    one: &Level,
    other: &Level,
    map: &Transform,
    (x0, y0): (usize, usize),
) -> Option<(f32, f32)> {
    let mut pairs = Vec::with_capacity(TILE * TILE);
    for y in y0..y0 + TILE {
        for x in x0..x0 + TILE {
            pairs.extend(pair_at(one, other, map, (x, y, 0.0, 0.0)));
        }
    }
    if pairs.len() < TILE * TILE / 2 {
        return None;
    }
    let count = count_f64(pairs.len());
    let mean = |of: &dyn Fn(&Pair) -> f32| {
        pairs.iter().map(|pair| f64::from(of(pair))).sum::<f64>() / count
    };
    let (mean_moved, mean_reference) = (mean(&|pair| pair.moved), mean(&|pair| pair.reference));
    let (mut moved2, mut both) = (0.0, 0.0);
    for pair in &pairs {
        let (a, b) = (
            f64::from(pair.moved) - mean_moved,
            f64::from(pair.reference) - mean_reference,
        );
        moved2 += a * a;
        both += a * b;
    }
    let gain = if both > 0.0 {
        moved2 / both
    } else {
        return None;
    };
    let (mut xx, mut xy, mut yy, mut xe, mut ye) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for pair in &pairs {
        let [gx, gy] = pair.plain.map(f64::from);
        let error = gain * (f64::from(pair.reference) - mean_reference)
            - (f64::from(pair.moved) - mean_moved);
        xx += gx * gx;
        xy += gx * gy;
        yy += gy * gy;
        xe += gx * error;
        ye += gy * error;
    }
    let determinant = xx * yy - xy * xy;
    let weaker = determinant / (xx + yy).max(1e-30);
    if determinant <= 1e-30 {
        return None;
    }
    let (dx, dy) = (
        (yy * xe - xy * ye) / determinant,
        (xx * ye - xy * xe) / determinant,
    );
    Some((narrow(dx * dx + dy * dy), narrow(weaker)))
}
