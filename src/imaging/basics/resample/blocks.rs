//! Sampling block by block: a fast way for transforms that are nearly a shift, and a general way for all others.

use super::kernel::{Kernel, MOST_TAPS, PHASES, Taps, split};
use super::patch::{Patch, Source, weigh};
use crate::geometry::rect::whole;
use crate::geometry::{Point, Rect, Transform};
use crate::pixels::convert::{clamp_index, coordinate, count_f64, narrow};

/// Sides of the blocks that are sampled in one go. A pixel's value does not depend on them.
pub(super) const BLOCK_ROWS: usize = 72;
pub(super) const BLOCK_COLUMNS: usize = 288;

/// The largest widening of a kernel. What is shrunk further should be sampled from a halved picture.
const MOST_WIDENING: f64 = 8.0;

/// How much of the unit square around position `at` (in pixel indices, along one axis) lies on pixels `first..end`.
fn overlap(at: f64, first: i32, end: i32) -> f32 {
    let from_start = at - f64::from(first) + 1.0;
    let to_end = f64::from(end) - at;
    narrow(from_start.min(to_end).clamp(0.0, 1.0))
}

/// How much of the sample at (u, v), in pixel indices, lies on the source: 1 inside, 0 from one pixel outside on.
pub(super) fn presence(rect: Rect, u: f64, v: f64) -> f32 {
    overlap(u, rect.x0, rect.x1) * overlap(v, rect.y0, rect.y1)
}

/// One block of samples and how much of each lies on the source.
pub(super) struct Block<const N: usize> {
    pub(super) data: Vec<[f32; N]>,
    pub(super) presence: Vec<f32>,
}

impl<const N: usize> Block<N> {
    fn empty(rect: Rect) -> Self {
        Self {
            data: vec![[0.0; N]; rect.area()],
            presence: vec![0.0; rect.area()],
        }
    }
}

/// Whether the fast way is open to `transform`: affine, nearly upright, nearly life size. Depends on the transform alone, so that
/// all tiles of a picture go the same way.
pub(super) fn is_nearly_shift(transform: &Transform) -> bool {
    let [[a, b, _], [c, d, _], _] = transform.rows;
    transform.is_affine()
        && b.abs() < 0.15
        && c.abs() < 0.15
        && (0.5..2.0).contains(&a)
        && (0.5..2.0).contains(&d)
}

/// Samples the pixels of `target` along rows first and then along columns (Catmull and Smith 1980): 12 taps in place of 36.
///
/// The first pass fills, for every column of the target, the source rows it needs; positions are exact in both passes.
pub(super) fn sample_upright<const N: usize>(
    source: &impl Source<N>,
    target: Rect,
    transform: &Transform,
    table: &Taps,
) -> Block<N> {
    let [[a, b, tx], [c, d, ty], _] = transform.rows;
    let inside = source.rect();
    let mut block = Block::empty(target);
    let Some(bounds) = transform.bounds_of(target) else {
        return block;
    };
    let need = bounds
        .grow(table.reach + 1)
        .intersect(inside.grow(table.reach + 1));
    if need.is_empty() || bounds.grow(1).intersect(inside).is_empty() {
        return block;
    }
    // The bounds hold pixel corners, which lie half a pixel outside the centres.
    let clear = inside.grow(-1).covers(bounds);
    let width = target.width();
    let count = table.count();
    // Along a source row v, the target column x lies at u = along * x + shift(v).
    let along = a - b * c / d;
    let mut between = vec![[0.0_f32; N]; width * need.height()];
    let columns = column_positions(target, along);
    let shift = |v: i32| b / d * (f64::from(v) + 0.5 - ty) + tx - 0.5;
    let patch = Patch::read(source, span(&columns, need, shift));
    for (v, row) in (need.y0..need.y1).zip(between.chunks_mut(width)) {
        let moved = shift(v);
        let pixels = patch.from(patch.rect.x0, v);
        let last = coordinate(pixels.len()) - coordinate(count);
        for (out, column) in row.iter_mut().zip(&columns) {
            let (base, phase) = split(column + moved);
            let start = (base + 1 - table.reach - patch.rect.x0).clamp(0, last);
            *out = weigh(&pixels[clamp_index(start)..][..count], table, phase);
        }
    }
    let shape = Columns {
        between: &between,
        rows: need,
        width,
    };
    for (y, (row, presence_row)) in (target.y0..target.y1).zip(
        block
            .data
            .chunks_mut(width)
            .zip(block.presence.chunks_mut(width)),
    ) {
        let at_y = f64::from(y) + 0.5;
        for (index, (out, present)) in row.iter_mut().zip(presence_row).enumerate() {
            let at_x = f64::from(target.x0 + coordinate(index)) + 0.5;
            let v = c * at_x + d * at_y + ty - 0.5;
            *present = if clear {
                1.0
            } else {
                presence(inside, a * at_x + b * at_y + tx - 0.5, v)
            };
            if *present > 0.0 {
                *out = shape.sample(index, v, table);
            }
        }
    }
    block
}

/// Where the middles of the target's columns lie along a source row, but for the row's own shift.
pub(super) fn column_positions(target: Rect, along: f64) -> Vec<f64> {
    (target.x0..target.x1)
        .map(|x| along * (f64::from(x) + 0.5))
        .collect()
}

/// The rows of `need` with all pixels that the columns read in them.
pub(super) fn span(columns: &[f64], need: Rect, shift: impl Fn(i32) -> f64) -> Rect {
    let (first, last) = columns
        .first()
        .zip(columns.last())
        .map_or((0.0, 0.0), |(a, b)| (*a, *b));
    let (top, bottom) = (shift(need.y0), shift(need.y1 - 1));
    let low = whole((first + top.min(bottom)).floor()) - 3;
    let high = whole((last + top.max(bottom)).floor()) + 5;
    Rect::new(low, need.y0, high, need.y1)
}

/// The picture between the two passes: the target's columns, the source's rows.
struct Columns<'a, const N: usize> {
    between: &'a [[f32; N]],
    rows: Rect,
    width: usize,
}

impl<const N: usize> Columns<'_, N> {
    #[inline]
    fn sample(&self, column: usize, v: f64, table: &Taps) -> [f32; N] {
        let (base, phase) = split(v);
        let count = table.count();
        let last = self.rows.height() - count;
        let start = clamp_index(base + 1 - table.reach - self.rows.y0).min(last);
        let mut taps = [[0.0_f32; N]; MOST_TAPS];
        let mut at = start * self.width + column;
        for tap in taps.iter_mut().take(count) {
            *tap = self.between[at];
            at += self.width;
        }
        weigh(&taps[..count], table, phase)
    }
}

/// Where a target pixel reads: source position in pixel indices and how far the kernel is widened (1 = not).
#[derive(Debug, Clone, Copy)]
pub(super) struct Spot {
    pub(super) u: f64,
    pub(super) v: f64,
    pub(super) widening: f64,
}

/// The spot of a target point under `transform`; `None` on and behind the horizon of a perspective.
///
/// `widen`: whether the kernel grows with the local reduction (the larger of the two directions).
pub(super) fn spot_of(transform: &Transform, point: Point, widen: Widen) -> Option<Spot> {
    let [x, y, w] = transform
        .rows
        .map(|row| row[0] * point.x + row[1] * point.y + row[2]);
    if w <= 1e-12 {
        return None;
    }
    let (u, v) = (x / w, y / w);
    let widening = match widen {
        Widen::Never => 1.0,
        Widen::WithReduction => {
            let [[a, b, _], [c, d, _], [g, h, _]] = transform.rows;
            let across = ((a - u * g) / w, (c - v * g) / w);
            let down = ((b - u * h) / w, (d - v * h) / w);
            let length = |(x, y): (f64, f64)| (x * x + y * y).sqrt();
            length(across).max(length(down)).clamp(1.0, MOST_WIDENING)
        }
    };
    Some(Spot {
        u: u - 0.5,
        v: v - 0.5,
        widening,
    })
}

/// Whether a kernel grows where the picture is made smaller.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Widen {
    Never,
    WithReduction,
}

/// The kernels that pixels are sampled with one by one.
#[derive(Debug, Clone, Copy)]
pub(super) struct Kernels<'a> {
    pub(super) kernel: Kernel,
    /// Where the picture is not made smaller.
    pub(super) table: &'a Taps,
    /// Where it is made smaller by the same everywhere.
    pub(super) wide: Option<&'a WideTable>,
}

/// Samples the pixels of `target` one by one where `spot` says.
pub(super) fn sample_freely<const N: usize>(
    source: &impl Source<N>,
    target: Rect,
    spot: &(impl Fn(Point) -> Option<Spot> + Sync),
    kernels: Kernels<'_>,
) -> Block<N> {
    let table = kernels.table;
    let inside = source.rect();
    let mut block = Block::empty(target);
    let mut spots = Vec::with_capacity(target.area());
    let (mut corners, mut widest) = (Vec::new(), 1.0_f64);
    for y in target.y0..target.y1 {
        for x in target.x0..target.x1 {
            let found = spot(Point::new(f64::from(x) + 0.5, f64::from(y) + 0.5))
                .filter(|spot| presence(inside, spot.u, spot.v) > 0.0);
            if let Some(spot) = found {
                grow_corners(&mut corners, spot);
                widest = widest.max(spot.widening);
            }
            spots.push(found);
        }
    }
    if corners.is_empty() {
        return block;
    }
    let margin = whole((f64::from(table.reach) * widest).ceil()) + 2;
    let patch = Patch::read(source, Rect::around(&corners).grow(margin));
    for (index, found) in spots.iter().enumerate() {
        if let Some(spot) = found {
            block.presence[index] = presence(inside, spot.u, spot.v);
            let alike = |wide: &&WideTable| wide.widening.to_bits() == spot.widening.to_bits();
            block.data[index] = match kernels.wide.filter(alike) {
                Some(wide) => weigh_wide(&patch, wide.at(spot.u), wide.at(spot.v)),
                None if spot.widening > 1.0 => sample_wide(&patch, *spot, kernels.kernel),
                None => sample_square(&patch, *spot, table),
            };
        }
    }
    block
}

fn grow_corners(corners: &mut Vec<Point>, spot: Spot) {
    if let [low, high] = corners.as_mut_slice() {
        *low = Point::new(low.x.min(spot.u), low.y.min(spot.v));
        *high = Point::new(high.x.max(spot.u), high.y.max(spot.v));
    } else {
        corners.extend([Point::new(spot.u, spot.v); 2]);
    }
}

fn sample_square<const N: usize>(patch: &Patch<N>, spot: Spot, table: &Taps) -> [f32; N] {
    let ((x, across), (y, down)) = (split(spot.u), split(spot.v));
    let count = table.count();
    let mut rows = [[0.0_f32; N]; MOST_TAPS];
    let top = y + 1 - table.reach;
    for (row, v) in rows.iter_mut().zip(top..top + coordinate(count)) {
        let pixels = patch.from(x + 1 - table.reach, v);
        *row = weigh(&pixels[..count], table, across);
    }
    weigh(&rows[..count], table, down)
}

/// A sample with a widened kernel: the weights are the kernel's own, stretched, and brought to a sum of 1.
fn sample_wide<const N: usize>(patch: &Patch<N>, spot: Spot, kernel: Kernel) -> [f32; N] {
    let (across, down) = (
        WideTaps::new(kernel, spot.u, spot.widening),
        WideTaps::new(kernel, spot.v, spot.widening),
    );
    weigh_wide(
        patch,
        (across.first, across.weights()),
        (down.first, down.weights()),
    )
}

/// Sums the pixels from a first column and row on with the weights of columns and rows.
fn weigh_wide<const N: usize>(
    patch: &Patch<N>,
    (left, across): (i32, &[f32]),
    (top, down): (i32, &[f32]),
) -> [f32; N] {
    let mut sum = [0.0_f32; N];
    for (v, down) in (top..).zip(down) {
        let mut row = [0.0_f32; N];
        for (pixel, weight) in patch.from(left, v).iter().zip(across) {
            for (total, value) in row.iter_mut().zip(pixel) {
                *total += weight * value;
            }
        }
        for (total, value) in sum.iter_mut().zip(row) {
            *total += down * value;
        }
    }
    sum
}

/// Weights of one widened kernel for every sub-pixel step, for transforms that make a picture smaller by the same everywhere.
#[derive(Debug)]
pub(super) struct WideTable {
    widening: f64,
    reach: i32,
    /// `2 * reach` weights for each step.
    rows: Vec<f32>,
}

impl WideTable {
    /// `widening`: 1..=[`MOST_WIDENING`].
    pub(super) fn new(kernel: Kernel, widening: f64) -> Self {
        let reach = whole((f64::from(kernel.reach()) * widening).ceil());
        let count = clamp_index(2 * reach);
        let mut rows = Vec::with_capacity((PHASES + 1) * count);
        for phase in 0..=PHASES {
            let at = count_f64(phase) / count_f64(PHASES);
            let tap = |index: usize| {
                let place = f64::from(coordinate(index) + 1 - reach);
                kernel.at((place - at) / widening)
            };
            let sum: f64 = (0..count).map(tap).sum();
            rows.extend((0..count).map(|index| narrow(tap(index) / sum)));
        }
        Self {
            widening,
            reach,
            rows,
        }
    }

    /// The first pixel that position `at` (in pixel indices) reads, and the weights from there on.
    fn at(&self, at: f64) -> (i32, &[f32]) {
        let (base, phase) = split(at);
        let count = clamp_index(2 * self.reach);
        let weights = &self.rows[phase * count..][..count];
        (base + 1 - self.reach, weights)
    }
}

const MOST_WIDE_TAPS: usize = 50;

struct WideTaps {
    first: i32,
    count: usize,
    taps: [f32; MOST_WIDE_TAPS],
}

impl WideTaps {
    fn new(kernel: Kernel, at: f64, widening: f64) -> Self {
        let reach = f64::from(kernel.reach()) * widening;
        let first = whole((at - reach).ceil());
        let count = clamp_index(whole((at + reach).floor()) - first + 1).min(MOST_WIDE_TAPS);
        let mut raw = [0.0_f64; MOST_WIDE_TAPS];
        let mut whole_sum = 0.0;
        for (index, tap) in raw.iter_mut().enumerate().take(count) {
            let place = f64::from(first) + count_f64(index);
            *tap = kernel.at((place - at) / widening);
            whole_sum += *tap;
        }
        Self {
            first,
            count,
            taps: raw.map(|tap| narrow(tap / whole_sum)),
        }
    }

    fn weights(&self) -> &[f32] {
        &self.taps[..self.count]
    }
}
