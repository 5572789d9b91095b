//! Blur by an even disc, and what is measured with it.

use crate::imaging::basics::wide::wide;
use crate::pixels::Plane;
use crate::pixels::convert::{
    ceil_i32, clamp_index, coordinate, count_f64, floor_i32, narrow, small_f32,
};
use rayon::prelude::*;

/// Farthest that blur is followed, in pixels.
pub(super) const FARTHEST_PX: f32 = 64.0;
/// Radii in pixels per frame that are tried.
pub(super) const RADII: (f32, f32) = (0.3, 4.0);

/// Most radii that a blur of many is mixed from, less one.
const MOST_RADII: i32 = 16;

/// The largest value within `reach` along rows or columns.
#[expect(
    clippy::fn_params_excessive_bools,
    reason = "the same along rows and along columns"
)]
pub(super) fn most_within(plane: &Plane, reach: usize, down: bool) -> Plane {
    let (width, height) = (plane.rect.width(), plane.rect.height());
    let mut out = plane.clone();
    out.data
        .par_chunks_mut(width.max(1))
        .enumerate()
        .for_each(|(y, row)| {
            for (x, value) in row.iter_mut().enumerate() {
                let (at, end) = if down { (y, height) } else { (x, width) };
                for near in at.saturating_sub(reach)..(at + reach + 1).min(end) {
                    let index = if down {
                        near * width + x
                    } else {
                        y * width + near
                    };
                    *value = value.max(plane.data[index]);
                }
            }
        });
    out
}

/// Distance to the nearest covered pixel, pinned to `reach_px` and a little more.
pub(super) fn distance_to(cover: &Plane, reach_px: f32) -> Plane {
    let reach = ceil_i32(reach_px) + 4;
    let (width, height) = (cover.rect.width(), cover.rect.height());
    let far = small_f32(reach);
    // Columns first: distance to the nearest covered pixel of the same column; then along rows.
    let mut down = vec![far; cover.data.len()];
    for x in 0..width {
        let mut since = far;
        for y in (0..height).chain((0..height).rev()) {
            since = if cover.data[y * width + x] > 0.0 {
                0.0
            } else {
                (since + 1.0).min(far)
            };
            let value = &mut down[y * width + x];
            *value = value.min(since);
        }
    }
    let mut out = Plane::filled(cover.rect, far);
    out.data
        .par_chunks_mut(width.max(1))
        .enumerate()
        .for_each(|(y, row)| {
            for (x, value) in row.iter_mut().enumerate() {
                let first = x.saturating_sub(clamp_index(reach));
                for near in first..(x + clamp_index(reach) + 1).min(width) {
                    let along = small_f32(coordinate(near) - coordinate(x));
                    let straight = down[y * width + near];
                    *value = value.min((along * along + straight * straight).sqrt());
                }
            }
        });
    out
}

/// `plane` blurred by an even disc of `radius_px`, the border repeated. Rows of the disc end between pixels.
pub(super) fn disc(plane: &Plane, radius_px: f32) -> Plane {
    let (width, height) = (plane.rect.width(), plane.rect.height());
    if radius_px < 0.3 || plane.data.is_empty() {
        return plane.clone();
    }
    let rows = disc_rows(radius_px);
    let around = clamp_index(ceil_i32(radius_px)) + 2;
    let long = width + 2 * around;
    let mut sums = vec![0.0_f64; (long + 1) * height];
    sums.par_chunks_mut(long + 1)
        .zip(plane.data.par_chunks(width))
        .for_each(|(sums, row)| {
            let ends = [row[0], row[width - 1]].map(|end| std::iter::repeat_n(end, around));
            let [left, right] = ends;
            let mut sum = 0.0_f64;
            let values = left.chain(row.iter().copied()).chain(right);
            for (to, value) in sums[1..].iter_mut().zip(values) {
                sum += f64::from(value);
                *to = sum;
            }
        });
    let area: f32 = rows.iter().map(|(_, half)| 2.0 * half).sum();
    let mut out = Plane::zero(plane.rect);
    out.data
        .par_chunks_mut(width)
        .enumerate()
        .for_each(|(y, line)| {
            let mut total = vec![0.0_f64; width];
            for (away, half) in &rows {
                let at = (coordinate(y) + away).clamp(0, coordinate(height) - 1);
                let sums = &sums[clamp_index(at) * (long + 1)..][..=long];
                wide(
                    #[inline(always)]
                    || add_run(sums, around, f64::from(*half), &mut total),
                );
            }
            for (value, total) in line.iter_mut().zip(total) {
                *value = narrow(total) / area;
            }
        });
    out
}

/// `plane` blurred at every pixel by an even disc of its own radius: mixed from discs of evenly spaced radii.
pub(super) fn disc_of_radii(plane: &Plane, radius: &Plane) -> Plane {
    let range = radius.data.iter().fold((f32::MAX, 0.0_f32), |range, at| {
        (range.0.min(*at), range.1.max(*at))
    });
    let steps = ceil_i32(range.1 - range.0).clamp(1, MOST_RADII);
    let step = (range.1 - range.0).max(1e-3) / small_f32(steps);
    let mut out = Plane::zero(plane.rect);
    for number in 0..=steps {
        let blurred = disc(plane, range.0 + step * small_f32(number));
        let places = out.data.iter_mut().zip(&blurred.data);
        for ((sum, value), radius) in places.zip(&radius.data) {
            let off = ((radius - range.0) / step - small_f32(number)).abs();
            *sum += (1.0 - off).max(0.0) * value;
        }
    }
    out
}

/// Rows of a disc, each with half its length; a row that the disc only touches counts as much as it covers.
fn disc_rows(radius: f32) -> Vec<(i32, f32)> {
    let reach = ceil_i32(radius);
    let slices = 8_u8;
    (-reach..=reach)
        .filter_map(|away| {
            let half: f32 = (0..slices)
                .map(|slice| {
                    let at = small_f32(away) - 0.5 + (f32::from(slice) + 0.5) / f32::from(slices);
                    (radius * radius - at * at).max(0.0).sqrt()
                })
                .sum::<f32>()
                / f32::from(slices);
            (half > 0.0).then_some((away, half))
        })
        .collect()
}

/// Adds to each pixel the sum of the values within `half` of its middle, from running sums that start `around` pixels before.
#[inline(always)]
fn add_run(sums: &[f64], around: usize, half: f64, total: &mut [f64]) {
    let steps = clamp_index(floor_i32(narrow(half + 0.5)));
    // The run covers pixels from - inner to + inner wholly, and the two beyond in part.
    let (inner, whole, part) = if steps == 0 {
        (0, 0.0, 2.0 * half)
    } else {
        let part = half + 0.5 - count_f64(steps);
        (steps, 1.0 - part, part)
    };
    let shorter = inner.saturating_sub(1);
    let run = |reach: usize| {
        let from = around - reach;
        (&sums[from..], &sums[around + reach + 1..])
    };
    let ((from, to), (start, end)) = (run(shorter), run(inner));
    let runs = from.iter().zip(to).zip(start.iter().zip(end));
    for (total, ((from, to), (start, end))) in total.iter_mut().zip(runs) {
        *total += whole * (to - from) + part * (end - start);
    }
}

/// The radius whose disc makes `sharp` most like `seen` where `keep` says; `None` where too few pixels tell.
pub(super) fn best_radius(sharp: &Plane, seen: &Plane, keep: &[bool], steps: f32) -> Option<f32> {
    if keep.iter().filter(|keep| **keep).count() < 400 {
        return None;
    }
    let misfit = |radius: f32| {
        let blurred = disc(sharp, radius);
        let pairs = blurred.data.iter().zip(&seen.data).zip(keep);
        pairs
            .filter(|(_, keep)| **keep)
            .map(|((a, b), _)| f64::from(a - b) * f64::from(a - b))
            .sum::<f64>()
    };
    let (mut low, mut high) = (RADII.0 * steps, (RADII.1 * steps).min(FARTHEST_PX));
    // The golden section: the misfit has one lowest place.
    let golden = 0.618_034;
    let (mut one, mut other) = (high - golden * (high - low), low + golden * (high - low));
    let (mut at_one, mut at_other) = (misfit(one), misfit(other));
    for _ in 0..12 {
        if at_one < at_other {
            high = other;
            (other, at_other) = (one, at_one);
            one = high - golden * (high - low);
            at_one = misfit(one);
        } else {
            low = one;
            (one, at_one) = (other, at_other);
            other = low + golden * (high - low);
            at_other = misfit(other);
        }
    }
    Some(0.5 * (low + high))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Rect;

    #[test]
    fn a_disc_spreads_light_evenly_and_keeps_it() {
        let rect = Rect::new(0, 0, 41, 37);
        let even = Plane::filled(rect, 0.7);
        let mut point = Plane::zero(rect);
        point.row_mut(18)[20] = 1.0;
        for radius in [0.4, 0.9, 1.3, 5.2, 11.7] {
            let same = disc(&even, radius);
            assert!(same.data.iter().all(|value| (value - 0.7).abs() < 1e-6));
            let spread = disc(&point, radius);
            let sum: f32 = spread.data.iter().sum();
            assert!((sum - 1.0).abs() < 1e-5, "{radius}: {sum}");
            let inside = 1.0 / (core::f32::consts::PI * radius * radius);
            let found = spread.at(20, 18);
            assert!(
                radius < 1.0 || (found / inside - 1.0).abs() < 0.05,
                "{radius}: {found} {inside}"
            );
            assert_eq!(spread.at(20 + 14, 18), 0.0);
        }
    }

    #[test]
    fn one_radius_everywhere_is_that_disc() {
        let rect = Rect::new(0, 0, 33, 20);
        let plane = Plane::from_fn(rect, |x, y| small_f32((x * 7 + y * 5) % 11));
        let one = disc(&plane, 3.4);
        let many = disc_of_radii(&plane, &Plane::filled(rect, 3.4));
        let pairs = one.data.iter().zip(&many.data);
        assert!(pairs.into_iter().all(|(a, b)| (a - b).abs() < 1e-3));
    }
}
