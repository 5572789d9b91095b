//! The sums of [`super::solver`] for size, turn and shift, many pixels in one go: the moved picture is resampled to the reference once,
//! and its slopes are taken from what came out.
//!
//! With a motion x -> A x + t and g the slope of the resampled picture, the slope at the moved place is A g / s^2, s being the scale. So
//! the columns of size and turn are (p . g) and (p x g), p being the place from the centre, and those of the shift come out of g in the end.

use super::level::Level;
use super::motion::{Motion, Turning};
use super::solver::Sums;
use crate::geometry::{Point, Rect, Transform};
use crate::imaging::basics::resample::{Kernel, sample_values};
use crate::imaging::basics::wide::wide;
use crate::pixels::Plane;
use crate::pixels::convert::{clamp_index, coordinate, narrow};
use rayon::prelude::*;
use std::sync::Arc;

/// Rows per band; sums are merged in the order of the bands.
const BAND: usize = 32;
/// Pixels that are summed in one go.
const LANES: usize = 8;
/// Numbers of a pixel: size, turn, slope across, slope down, moved value, reference value, 1.
const COUNT: usize = 7;
/// The resampler holds back its lobes next to bright light, which filtered pictures are not: they are brought below that.
const TALLEST: f32 = 0.5;

/// The moved picture as the reference sees it.
#[derive(Debug)]
pub(super) struct Resampled {
    plane: Plane,
    kept: Arc<Kept>,
    motion: Turning,
}

/// Which pixels count.
#[derive(Debug)]
struct Kept {
    /// 1 where the picture's slopes may be used.
    keep: Vec<f32>,
    /// For which part and which motion that was found.
    inner: Rect,
    motion: Turning,
}

/// As far as this a picture may move until it is found again which of its pixels count: a small part of the margin that is kept from
/// those that must not be used. Pixels of the level.
const STAYS_PX: f64 = 0.25;

impl Resampled {
    /// `moved` brought to the pixels of `reference` by `motion`, both of which are to be used where they are valid. `before`: the same two
    /// by another motion, if that is at hand.
    pub(super) fn new(
        reference: &Level,
        moved: &Level,
        (motion, before): (&Turning, Option<&Self>),
    ) -> Self {
        let rect = rect_of(reference);
        let from = rect_of(moved);
        let tallest = moved
            .data
            .iter()
            .fold(0.0_f32, |most, value| most.max(value.abs()));
        let scale = if tallest > TALLEST {
            TALLEST / tallest
        } else {
            1.0
        };
        let source = Plane {
            rect: from,
            data: moved.data.iter().map(|value| value * scale).collect(),
        };
        let transform = motion.transform();
        // Only what lies well inside the moved picture: its border is no part of the scene.
        let inner = well_inside(rect, from, &transform);
        let sampled = sample_values(&source, inner, &transform, Kernel::Lanczos3);
        let near = before.filter(|before| before.kept.holds_for(inner, motion, rect));
        let kept = near.map_or_else(
            || Arc::new(Kept::new(reference, moved, (inner, motion))),
            |before| Arc::clone(&before.kept),
        );
        Self {
            plane: sampled.crop(rect),
            kept,
            motion: *motion,
        }
    }

    /// Sums over the whole reference.
    pub(super) fn whole(&self, reference: &Level) -> Sums<8> {
        let bands: Vec<Rect> = (0..reference.height)
            .step_by(BAND)
            .map(|top| {
                let bottom = (top + BAND).min(reference.height);
                Rect::new(
                    0,
                    coordinate(top),
                    coordinate(reference.width),
                    coordinate(bottom),
                )
            })
            .collect();
        let parts: Vec<[[f64; COUNT]; COUNT]> = bands
            .par_iter()
            .map(|band| self.band(reference, *band))
            .collect();
        let mut total = [[0.0_f64; COUNT]; COUNT];
        for part in &parts {
            add(&mut total, part);
        }
        self.told_by_parameters(&total)
    }

    /// Sums over a rectangle of the reference as if only a shift were asked for: slopes, moved value, reference value, 1.
    pub(super) fn of_shift(&self, reference: &Level, rect: Rect) -> Sums<8> {
        let all = self.told_by_parameters(&self.band(reference, rect));
        let mut out = [[0.0; 8]; 8];
        for (row, from) in out.iter_mut().zip(&all[2..]) {
            for (value, from) in row.iter_mut().zip(&from[2..]) {
                *value = *from;
            }
        }
        out
    }

    fn band(&self, reference: &Level, rect: Rect) -> [[f64; COUNT]; COUNT] {
        let mut total = [[0.0_f64; COUNT]; COUNT];
        let (centre, reach) = (self.motion.centre(), self.motion.reach());
        let columns: Vec<f32> = (rect.x0..rect.x1)
            .map(|x| narrow((f64::from(x) + 0.5 - centre.x) / reach))
            .collect();
        for y in rect.y0.max(1)..rect.y1.min(coordinate(reference.height) - 1) {
            let down = narrow((f64::from(y) + 0.5 - centre.y) / reach);
            let row = wide(
                #[inline(always)]
                || self.row(reference, (rect.x0, y), &columns, down),
            );
            add(&mut total, &row);
        }
        total
    }

    /// Sums over a row from column `left` on.
    #[inline(always)]
    fn row(
        &self,
        reference: &Level,
        (left, y): (i32, i32),
        columns: &[f32],
        down: f32,
    ) -> [[f64; COUNT]; COUNT] {
        let width = reference.width;
        let start = clamp_index(y) * width + clamp_index(left);
        // A row of the whole picture has no neighbours outside; its first and last pixel are never kept.
        let skip = usize::from(left == 0);
        let count = columns
            .len()
            .min(width - clamp_index(left) - 1)
            .saturating_sub(skip);
        let first = start + skip;
        let moved = &self.plane.data;
        let part = |from: usize| &moved[from..from + count];
        let (here, before, after) = (part(first), part(first - 1), part(first + 1));
        let (above, below) = (part(first - width), part(first + width));
        let keep = &self.kept.keep[first..first + count];
        let values = &reference.data[first..first + count];
        let columns = &columns[skip..skip + count];
        let mut sums = [[[0.0_f32; LANES]; COUNT]; COUNT];
        let mut at = 0;
        while at < count {
            let lanes = LANES.min(count - at);
            let mut numbers = [[0.0_f32; LANES]; COUNT];
            let slopes = [here, before, after, above, below];
            let rest = (keep, values, columns);
            if lanes == LANES {
                fill(&mut numbers, LANES, at, slopes, rest, down);
            } else {
                fill(&mut numbers, lanes, at, slopes, rest, down);
            }
            for i in 0..COUNT {
                for j in i..COUNT {
                    for lane in 0..LANES {
                        sums[i][j][lane] += numbers[i][lane] * numbers[j][lane];
                    }
                }
            }
            at += LANES;
        }
        let mut out = [[0.0_f64; COUNT]; COUNT];
        for i in 0..COUNT {
            for j in i..COUNT {
                let sum: f64 = sums[i][j].iter().map(|value| f64::from(*value)).sum();
                out[i][j] = sum;
                out[j][i] = sum;
            }
        }
        out
    }

    /// The sums with the slopes told at the moved place, in the order of the solver.
    fn told_by_parameters(&self, sums: &[[f64; COUNT]; COUNT]) -> Sums<8> {
        let (a, b) = self.motion.turn();
        let square = a * a + b * b;
        let mut turn = [[0.0_f64; COUNT]; COUNT];
        for (at, row) in turn.iter_mut().enumerate() {
            row[at] = 1.0;
        }
        (turn[2][2], turn[2][3]) = (a / square, -b / square);
        (turn[3][2], turn[3][3]) = (b / square, a / square);
        let mut out = [[0.0_f64; 8]; 8];
        for i in 0..COUNT {
            for j in 0..COUNT {
                let mut sum = 0.0;
                for k in 0..COUNT {
                    for l in 0..COUNT {
                        sum += turn[i][k] * sums[k][l] * turn[j][l];
                    }
                }
                out[i][j] = sum;
            }
        }
        out
    }
}

impl Kept {
    fn new(reference: &Level, moved: &Level, (inner, motion): (Rect, &Turning)) -> Self {
        let (rect, from) = (rect_of(reference), rect_of(moved));
        let transform = motion.transform();
        let all = moved.valid.iter().all(|valid| *valid == 1);
        let mask = (!all).then(|| {
            let marks = Plane {
                rect: from,
                data: moved.valid.iter().map(|valid| f32::from(*valid)).collect(),
            };
            sample_values(&marks, inner, &transform, Kernel::Linear).crop(rect)
        });
        let width = reference.width;
        let mut keep = vec![0.0_f32; rect.area()];
        let slopes = inner.grow(-1);
        keep.par_chunks_mut(width.max(1))
            .enumerate()
            .filter(|(y, _)| (slopes.y0..slopes.y1).contains(&coordinate(*y)))
            .for_each(|(y, out)| {
                let valid = &reference.valid[y * width..(y + 1) * width];
                let here = clamp_index(slopes.x0)..clamp_index(slopes.x1);
                for (out, valid) in out[here.clone()].iter_mut().zip(&valid[here]) {
                    *out = f32::from(*valid);
                }
                let Some(mask) = &mask else { return };
                for (x, out) in out.iter_mut().enumerate().filter(|(_, kept)| **kept > 0.0) {
                    let at = y * width + x;
                    let around = [at, at - 1, at + 1, at - width, at + width];
                    if around.into_iter().any(|at| mask.data[at] < 0.999) {
                        *out = 0.0;
                    }
                }
            });
        Self {
            keep,
            inner,
            motion: *motion,
        }
    }

    fn holds_for(&self, inner: Rect, motion: &Turning, picture: Rect) -> bool {
        let moved = |corner: &Point| {
            let ((ax, ay), (bx, by)) = (
                self.motion.at(corner.x, corner.y),
                motion.at(corner.x, corner.y),
            );
            Point::new(ax, ay).distance(Point::new(bx, by))
        };
        self.inner == inner
            && picture
                .corners()
                .iter()
                .all(|corner| moved(corner) < STAYS_PX)
    }
}

#[expect(
    clippy::needless_range_loop,
    reason = "lanes of seven rows are filled side by side"
)]
/// The numbers of some pixels; those that are not to be used count nothing.
#[inline(always)]
fn fill(
    numbers: &mut [[f32; LANES]; COUNT],
    lanes: usize,
    at: usize,
    [here, before, after, above, below]: [&[f32]; 5],
    (keep, values, columns): (&[f32], &[f32], &[f32]),
    down: f32,
) {
    for lane in 0..lanes {
        let index = at + lane;
        let kept = keep[index];
        let gx = 0.5 * (after[index] - before[index]) * kept;
        let gy = 0.5 * (below[index] - above[index]) * kept;
        let px = columns[index];
        numbers[0][lane] = px * gx + down * gy;
        numbers[1][lane] = px * gy - down * gx;
        numbers[2][lane] = gx;
        numbers[3][lane] = gy;
        numbers[4][lane] = here[index] * kept;
        numbers[5][lane] = values[index] * kept;
        numbers[6][lane] = kept;
    }
}

fn add(total: &mut [[f64; COUNT]; COUNT], part: &[[f64; COUNT]; COUNT]) {
    for (sums, from) in total.iter_mut().zip(part) {
        sums.iter_mut()
            .zip(from)
            .for_each(|(sum, value)| *sum += value);
    }
}

/// The part of `rect` that `transform` brings well inside `from`.
fn well_inside(rect: Rect, from: Rect, transform: &Transform) -> Rect {
    const MARGIN: i32 = 8;
    let (mut inner, room) = (rect.grow(-1), from.grow(-MARGIN));
    for _ in 0..3 {
        let Some(bounds) = transform.bounds_of(inner) else {
            return Rect::default();
        };
        inner = Rect::new(
            inner.x0 + (room.x0 - bounds.x0).max(0),
            inner.y0 + (room.y0 - bounds.y0).max(0),
            inner.x1 - (bounds.x1 - room.x1).max(0),
            inner.y1 - (bounds.y1 - room.y1).max(0),
        );
        if inner.is_empty() {
            return Rect::default();
        }
    }
    inner
}

fn rect_of(level: &Level) -> Rect {
    Rect::new(0, 0, coordinate(level.width), coordinate(level.height))
}
