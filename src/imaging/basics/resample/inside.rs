//! The fast way for blocks that lie wholly inside the source and hold nothing bright: channel by channel, several pixels in one
//! go. Each value comes out bit for bit as [`super::blocks::sample_upright`] makes it.

use super::blocks::{column_positions, span};
use super::kernel::{MOST_TAPS, PHASES, STEP_BITS, STEP_MASK, Taps, split, steps};
use super::patch::BRIGHT;
use crate::geometry::{Rect, Transform};
use crate::pixels::Plane;
use crate::pixels::convert::{clamp_index, coordinate, count_f64, floor_index};

/// Pixels that are weighed in one go.
const LANES: usize = 8;

/// Where samples go: one slice per channel, `first` is the place of the block's first pixel and `stride` the way to the next row.
pub(super) struct Out<'a, 'b, const C: usize> {
    pub(super) channels: &'a mut [&'b mut [f32]; C],
    pub(super) first: usize,
    pub(super) stride: usize,
}

/// Samples the pixels of `target` if the block allows it; whether it did.
#[inline(always)]
pub(super) fn fill<const C: usize>(
    source: &[&Plane; C],
    target: Rect,
    transform: &Transform,
    table: &Taps,
    out: &mut Out<'_, '_, C>,
) -> bool {
    match table.count() {
        2 => fill_counted::<C, 2>(source, target, transform, table, out),
        4 => fill_counted::<C, 4>(source, target, transform, table, out),
        _ => fill_counted::<C, MOST_TAPS>(source, target, transform, table, out),
    }
}

#[inline(always)]
fn fill_counted<const C: usize, const T: usize>(
    source: &[&Plane; C],
    target: Rect,
    transform: &Transform,
    table: &Taps,
    out: &mut Out<'_, '_, C>,
) -> bool {
    let inside = source[0].rect;
    let [[a, b, tx], [c, d, ty], _] = transform.rows;
    let Some(bounds) = transform.bounds_of(target) else {
        return false;
    };
    let need = bounds.grow(table.reach + 1);
    let columns = column_positions(target, a - b * c / d);
    let shift = |v: i32| b / d * (f64::from(v) + 0.5 - ty) + tx - 0.5;
    let read = span(&columns, need, shift);
    if !inside.grow(-1).covers(bounds) || !inside.covers(read) || (T > 2 && is_bright(source, read))
    {
        return false;
    }
    let width = target.width();
    let mut between = [const { Vec::new() }; C];
    between
        .iter_mut()
        .for_each(|plane| plane.resize(width * need.height(), 0.0_f32));
    let mut across = Across::<T>::new(&columns);
    for (row, v) in (need.y0..need.y1).enumerate() {
        across.move_to(shift(v), table, read);
        for (plane, between) in source.iter().zip(&mut between) {
            let pixels = &plane.row(v)[clamp_index(read.x0 - inside.x0)..][..read.width()];
            across.weigh(pixels, &mut between[row * width..][..width]);
        }
    }
    for (row, y) in (target.y0..target.y1).enumerate() {
        let at_y = f64::from(y) + 0.5;
        let v = |column: usize| {
            let at_x = f64::from(target.x0 + coordinate(column)) + 0.5;
            c * at_x + d * at_y + ty - 0.5
        };
        let mut from = 0;
        while from < width {
            let (base, phase) = split(v(from));
            let end = end_of_run(from, width, c, v);
            let top = clamp_index(base + 1 - table.reach - need.y0).min(need.height() - T);
            let weights = table.row(phase);
            for (between, channel) in between.iter().zip(out.channels.iter_mut()) {
                let taps = core::array::from_fn(|tap| &between[(top + tap) * width..][from..end]);
                let start = out.first + row * out.stride;
                weigh_alike::<T>(weights, taps, &mut channel[start + from..start + end]);
            }
            from = end;
        }
    }
    true
}

#[inline(always)]
fn is_bright<const C: usize>(source: &[&Plane; C], read: Rect) -> bool {
    let first = clamp_index(read.x0 - source[0].rect.x0);
    source.iter().any(|plane| {
        (read.y0..read.y1).any(|y| {
            let row = &plane.row(y)[first..][..read.width()];
            is_bright_row(row)
        })
    })
}

#[inline(always)]
fn is_bright_row(row: &[f32]) -> bool {
    let (blocks, rest) = row.as_chunks::<LANES>();
    let mut bright = [false; LANES];
    for block in blocks {
        for (bright, value) in bright.iter_mut().zip(block) {
            *bright |= *value >= BRIGHT;
        }
    }
    bright.contains(&true) || rest.iter().any(|value| *value >= BRIGHT)
}

/// Where the run that begins at `from` ends: the first place of another sub-pixel step. Positions (`at`) move by `slope` pixels from
/// place to place.
#[inline(always)]
fn end_of_run(from: usize, end: usize, slope: f64, at: impl Fn(usize) -> f64) -> usize {
    let start = at(from);
    let step = steps(start);
    let same = |place: usize| steps(at(place)) == step;
    if same(end - 1) {
        return end;
    }
    // How far it is to the next step, which rounding may put one place earlier or later.
    let phases = count_f64(PHASES);
    let off = start * phases - f64::from(step);
    let room = if slope > 0.0 { 0.5 - off } else { 0.5 + off };
    let places = floor_index(room / (phases * slope.abs()).max(1e-12));
    let mut found = (from + places).clamp(from + 1, end - 1);
    while found > from + 1 && !same(found - 1) {
        found -= 1;
    }
    while same(found) {
        found += 1;
    }
    found
}

/// The weights of every column of a block for one source row.
struct Across<'a, const T: usize> {
    columns: &'a [f64],
    /// Positions in sub-pixel steps.
    steps: Vec<i32>,
    before: Vec<i32>,
    weights: [Vec<f32>; T],
    /// Ends of the runs of columns that read neighbouring pixels, each with the place that its first column reads from.
    runs: Vec<(usize, usize)>,
    moved: Option<f64>,
}

impl<'a, const T: usize> Across<'a, T> {
    fn new(columns: &'a [f64]) -> Self {
        Self {
            columns,
            steps: vec![0; columns.len()],
            // No column has a step of this kind yet.
            before: vec![-1; columns.len()],
            weights: core::array::from_fn(|_| vec![0.0; columns.len()]),
            runs: Vec::new(),
            moved: None,
        }
    }

    /// Sets the weights for a row that lies at `moved`.
    #[inline(always)]
    fn move_to(&mut self, moved: f64, table: &Taps, read: Rect) {
        if self.moved == Some(moved) {
            return;
        }
        self.moved = Some(moved);
        for (step, column) in self.steps.iter_mut().zip(self.columns) {
            *step = steps(column + moved);
        }
        self.runs.clear();
        let last = coordinate(read.width()) - coordinate(T);
        let mut next = i32::MIN;
        for (index, (step, old)) in self.steps.iter().zip(&mut self.before).enumerate() {
            let start = ((step >> STEP_BITS) + 1 - table.reach - read.x0).clamp(0, last);
            if start == next {
                if let Some(run) = self.runs.last_mut() {
                    run.0 = index + 1;
                }
            } else {
                self.runs.push((index + 1, clamp_index(start)));
            }
            next = start + 1;
            let phase = step & STEP_MASK;
            if phase != *old {
                *old = phase;
                let row = table.row(clamp_index(phase));
                for (weights, weight) in self.weights.iter_mut().zip(row) {
                    weights[index] = *weight;
                }
            }
        }
    }

    #[inline(always)]
    fn weigh(&self, pixels: &[f32], out: &mut [f32]) {
        let mut from = 0;
        for (end, start) in &self.runs {
            let count = end - from;
            let weights = core::array::from_fn(|tap| &self.weights[tap][from..*end]);
            let taps = core::array::from_fn(|tap| &pixels[start + tap..][..count]);
            weigh_each::<T>(weights, taps, &mut out[from..*end]);
            from = *end;
        }
    }
}

/// Weighs runs of pixels, each with weights of its own.
#[inline(always)]
fn weigh_each<const T: usize>(weights: [&[f32]; T], taps: [&[f32]; T], out: &mut [f32]) {
    let (blocks, rest) = out.as_chunks_mut::<LANES>();
    let whole = blocks.len() * LANES;
    let weights_of = weights.map(|weights| weights.as_chunks::<LANES>().0);
    let taps_of = taps.map(|taps| taps.as_chunks::<LANES>().0);
    for (index, block) in blocks.iter_mut().enumerate() {
        let mut sum = [0.0_f32; LANES];
        for (weights, taps) in weights_of.iter().zip(&taps_of) {
            for ((sum, weight), value) in sum.iter_mut().zip(&weights[index]).zip(&taps[index]) {
                *sum += weight * value;
            }
        }
        *block = sum;
    }
    for (offset, value) in rest.iter_mut().enumerate() {
        let pairs = weights.iter().zip(&taps);
        *value = pairs.fold(0.0, |sum, (weights, taps)| {
            sum + weights[whole + offset] * taps[whole + offset]
        });
    }
}

/// Weighs runs of pixels, all with the same weights.
#[inline(always)]
fn weigh_alike<const T: usize>(weights: &[f32; MOST_TAPS], taps: [&[f32]; T], out: &mut [f32]) {
    let (blocks, rest) = out.as_chunks_mut::<LANES>();
    let whole = blocks.len() * LANES;
    let taps_of = taps.map(|taps| taps.as_chunks::<LANES>().0);
    for (index, block) in blocks.iter_mut().enumerate() {
        let mut sum = [0.0_f32; LANES];
        for (weight, taps) in weights.iter().zip(&taps_of) {
            for (sum, value) in sum.iter_mut().zip(&taps[index]) {
                *sum += weight * value;
            }
        }
        *block = sum;
    }
    for (offset, value) in rest.iter_mut().enumerate() {
        let pairs = weights.iter().zip(&taps);
        *value = pairs.fold(0.0, |sum, (weight, taps)| {
            sum + weight * taps[whole + offset]
        });
    }
}
