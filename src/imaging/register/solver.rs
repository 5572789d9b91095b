//! Gauss-Newton on the enhanced correlation coefficient at one pyramid level.
//!
//! Source: Evangelidis and Psarakis 2008, "Parametric image alignment using enhanced correlation coefficient maximization",
//! forward-additive form. With gain and offset left free, each step is the least-squares fit of the reference by the moved
//! picture, its slopes along the parameters, and a constant; the correlation does not see a change of exposure or of flare.

use super::level::Level;
use super::motion::Motion;
use super::upright::Resampled;
use crate::geometry::{Point, Rect};
use crate::pixels::convert::coordinate;
use nalgebra::{SMatrix, SVector};
use rayon::prelude::*;

/// Rows per band; sums are merged in the order of the bands.
const BAND: usize = 16;

/// Levels with more pixels than this are read at every other pixel of every other row: they are low-passed so far (2 px) that
/// nothing lies between, and the sums take a quarter of the time.
const SPARSE_PIXELS: usize = 1_500_000;

/// How long to go on.
#[derive(Debug, Clone, Copy)]
pub(super) struct Patience {
    /// Steps at most.
    pub steps: usize,
    /// Stop when no corner moved further than this, pixels of the level.
    pub still_px: f64,
}

/// Products of slopes, moved value, reference value and 1, summed over pixels.
pub(super) type Sums<const L: usize> = [[f64; L]; L];

/// One step: what to add to the parameters, and how well the pictures agreed before it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Step<const N: usize> {
    pub change: [f64; N],
    pub correlation: f64,
}

/// Sums over the pixels of `rect` of the reference.
pub(super) fn sums<M: Motion<N, L>, const N: usize, const L: usize>(
    reference: &Level,
    moved: &Level,
    motion: &M,
    rect: Rect,
) -> Sums<L> {
    let mut total = [[0.0_f64; L]; L];
    let stride = stride(reference);
    for y in (rect.y0..rect.y1).step_by(stride) {
        let row = row_sums(reference, moved, motion, y, rect);
        add(&mut total, &row);
    }
    total
}

/// Sums over the whole reference, in parallel bands merged from the top. `seen` holds the moved picture as a step before saw it, and then
/// as this one does.
pub(super) fn whole_sums<M: Motion<N, L>, const N: usize, const L: usize>(
    reference: &Level,
    moved: &Level,
    motion: &M,
    seen: &mut Option<Resampled>,
) -> Sums<L> {
    *seen = motion.resampled(reference, moved, seen.as_ref());
    if let Some(resampled) = seen {
        let mut total = [[0.0_f64; L]; L];
        for (row, from) in total.iter_mut().zip(resampled.whole(reference)) {
            row.iter_mut()
                .zip(from)
                .for_each(|(sum, value)| *sum = value);
        }
        return total;
    }
    let width = coordinate(reference.width);
    let bands: Vec<Rect> = (0..reference.height)
        .step_by(BAND)
        .map(|first| {
            let last = (first + BAND).min(reference.height);
            Rect::new(0, coordinate(first), width, coordinate(last))
        })
        .collect();
    let parts: Vec<Sums<L>> = bands
        .par_iter()
        .map(|band| sums(reference, moved, motion, *band))
        .collect();
    let mut total = [[0.0_f64; L]; L];
    for part in &parts {
        for (row, from) in total.iter_mut().zip(part) {
            row.iter_mut()
                .zip(from)
                .for_each(|(sum, value)| *sum += value);
        }
    }
    total
}

/// Every how many pixels a level is read, across and down.
pub(super) fn stride(reference: &Level) -> usize {
    if reference.data.len() > SPARSE_PIXELS {
        2
    } else {
        1
    }
}

fn add<const L: usize>(total: &mut Sums<L>, row: &[[f32; L]; L]) {
    for (sum, from) in total.iter_mut().zip(row) {
        sum.iter_mut()
            .zip(from)
            .for_each(|(sum, value)| *sum += f64::from(*value));
    }
}

fn row_sums<M: Motion<N, L>, const N: usize, const L: usize>(
    reference: &Level,
    moved: &Level,
    motion: &M,
    row: i32,
    rect: Rect,
) -> [[f32; L]; L] {
    let mut sums = [[0.0_f32; L]; L];
    let whole = Rect::new(
        0,
        0,
        coordinate(reference.width),
        coordinate(reference.height),
    );
    let first = whole.index(rect.x0, row);
    let values = &reference.data[first..first + rect.width()];
    let valid = &reference.valid[first..first + rect.width()];
    let y = f64::from(row) + 0.5;
    let pixels = values.iter().zip(valid).enumerate();
    for (offset, (value, kept)) in pixels.step_by(stride(reference)) {
        if *kept == 0 {
            continue;
        }
        let x = f64::from(rect.x0 + coordinate(offset)) + 0.5;
        let (u, v) = motion.at(x, y);
        let Some(found) = moved.sample(u, v) else {
            continue;
        };
        let mut vector = motion.columns(x, y, found.dx, found.dy);
        vector[N] = found.value;
        vector[N + 1] = *value;
        vector[N + 2] = 1.0;
        for (line, factor) in sums.iter_mut().zip(vector).take(N + 3) {
            for (sum, other) in line.iter_mut().zip(vector) {
                *sum += factor * other;
            }
        }
    }
    sums
}

/// The step that `sums` call for; `None` when the pictures do not settle the motion.
pub(super) fn step<const N: usize, const L: usize>(sums: &Sums<L>) -> Option<Step<N>> {
    let count = sums[N + 2][N + 2];
    if count < 4.0 * f64::from(u32::try_from(N).unwrap_or(8)) {
        return None;
    }
    let centred = |i: usize, j: usize| sums[i][j] - sums[i][N + 2] * sums[j][N + 2] / count;
    let (aa, bb, ab) = (centred(N + 1, N + 1), centred(N, N), centred(N, N + 1));
    if aa <= 0.0 || bb <= 0.0 {
        return None;
    }
    let hessian =
        SMatrix::<f64, N, N>::from_fn(|i, j| centred(i, j) * if i == j { 1.0 + 1e-9 } else { 1.0 });
    let solver = hessian.cholesky()?;
    let of_moved = SVector::<f64, N>::from_fn(|i, _| centred(i, N));
    let of_reference = SVector::<f64, N>::from_fn(|i, _| centred(i, N + 1));
    let solved_moved = solver.solve(&of_moved);
    let left = bb - of_moved.dot(&solved_moved);
    let shared = ab - of_reference.dot(&solved_moved);
    if shared <= 0.0 {
        return None;
    }
    let gain = left / shared;
    let change = solver.solve(&(of_reference * gain - of_moved));
    let mut out = [0.0; N];
    out.iter_mut()
        .zip(change.iter())
        .for_each(|(to, from)| *to = *from);
    out.iter().all(|value| value.is_finite()).then_some(Step {
        change: out,
        correlation: ab / (aa * bb).sqrt(),
    })
}

/// Where a climb ended.
#[derive(Debug)]
pub(super) struct Climbed<M> {
    pub motion: M,
    /// How well the pictures agreed before the last step.
    pub correlation: f64,
    /// The moved picture before the last step, where that hardly moved.
    pub seen: Option<Resampled>,
}

/// Steps from `start` until nothing moves.
///
/// `None` when the pictures share too little or the steps run away.
pub(super) fn climb<M: Motion<N, L>, const N: usize, const L: usize>(
    reference: &Level,
    moved: &Level,
    start: M,
    patience: Patience,
) -> Option<Climbed<M>> {
    let size = (
        f64::from(coordinate(reference.width)),
        f64::from(coordinate(reference.height)),
    );
    let mut motion = start;
    let mut correlation = 0.0;
    let mut seen = None;
    for _ in 0..patience.steps {
        let step = step::<N, L>(&whole_sums(reference, moved, &motion, &mut seen))?;
        let next = motion.stepped(&step.change);
        correlation = step.correlation;
        let travelled = farthest(&motion, &next, size);
        if travelled > size.0 {
            return None;
        }
        motion = next;
        if travelled < patience.still_px {
            return Some(Climbed {
                motion,
                correlation,
                seen,
            });
        }
    }
    Some(Climbed {
        motion,
        correlation,
        seen: None,
    })
}

fn farthest<M: Motion<N, L>, const N: usize, const L: usize>(
    one: &M,
    other: &M,
    (width, height): (f64, f64),
) -> f64 {
    let gap = |(x, y): (f64, f64)| {
        let ((ax, ay), (bx, by)) = (one.at(x, y), other.at(x, y));
        Point::new(ax, ay).distance(Point::new(bx, by))
    };
    [(0.0, 0.0), (width, 0.0), (0.0, height), (width, height)]
        .into_iter()
        .map(gap)
        .fold(0.0, f64::max)
}
