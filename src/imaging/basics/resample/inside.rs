//! The fast way for blocks that lie wholly inside the source and hold nothing bright: channel by channel, several pixels in one
//! go. Each value comes out bit for bit as [`super::blocks::sample_upright`] makes it.

use super::blocks::{column_positions, span};
use super::kernel::{MOST_TAPS, STEP_BITS, STEP_MASK, Taps, steps};
use super::patch::BRIGHT;
use crate::geometry::{Rect, Transform};
use crate::pixels::Plane;
use crate::pixels::convert::{clamp_index, coordinate};
use crate::pixels::spare::{give_back, unwritten};

/// Pixels that are weighed in one go: as many as keep the processor busy while it finds its way to all the taps,
const MANY: usize = 32;
/// and as few as its registers hold, for what is left.
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
    (out, weights): (&mut Out<'_, '_, C>, &mut Weights),
) -> bool {
    match table.count() {
        2 => fill_counted::<C, 2>(source, target, transform, table, (out, weights)),
        4 => fill_counted::<C, 4>(source, target, transform, table, (out, weights)),
        _ => fill_counted::<C, MOST_TAPS>(source, target, transform, table, (out, weights)),
    }
}

#[inline(always)]
fn fill_counted<const C: usize, const T: usize>(
    source: &[&Plane; C],
    target: Rect,
    transform: &Transform,
    table: &Taps,
    (out, weights): (&mut Out<'_, '_, C>, &mut Weights),
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
    // Per channel the picture between the two passes: the target's columns, the source's rows.
    let mut between = [(); C].map(|()| unwritten(width * need.height()));
    let mut moved = None;
    for (row, v) in (need.y0..need.y1).enumerate() {
        if moved != Some(shift(v)) {
            moved = Some(shift(v));
            let moved = shift(v);
            weights.set::<T>(&columns, |column| column + moved, table);
            weights.run_along(table.reach - 1 + read.x0, read.width() - T);
        }
        for (plane, between) in source.iter().zip(between.iter_mut()) {
            let pixels = &plane.row(v)[clamp_index(read.x0 - inside.x0)..][..read.width()];
            let out = &mut between[row * width..][..width];
            for run in &weights.runs {
                let count = run.end - run.first;
                let taps = core::array::from_fn(|tap| &pixels[run.from + tap..][..count]);
                weigh_each::<T>(weights.of(run), taps, &mut out[run.first..run.end]);
            }
        }
    }
    let tilts: Vec<f64> = (target.x0..target.x1)
        .map(|x| c * (f64::from(x) + 0.5))
        .collect();
    for (row, y) in (target.y0..target.y1).enumerate() {
        let down = d * (f64::from(y) + 0.5);
        weights.set::<T>(&tilts, |tilt| tilt + down + ty - 0.5, table);
        weights.run_level(table.reach - 1 + need.y0, need.height() - T);
        for (between, channel) in between.iter().zip(out.channels.iter_mut()) {
            let start = out.first + row * out.stride;
            let out = &mut channel[start..start + width];
            for run in &weights.runs {
                let row = |tap: usize| &between[(run.from + tap) * width..][run.first..run.end];
                let taps = core::array::from_fn(row);
                weigh_each::<T>(weights.of(run), taps, &mut out[run.first..run.end]);
            }
        }
    }
    between.into_iter().for_each(give_back);
    true
}

#[inline(always)]
fn is_bright<const C: usize>(source: &[&Plane; C], read: Rect) -> bool {
    let first = clamp_index(read.x0 - source[0].rect.x0);
    let mut most = [0.0_f32; MANY];
    for plane in source {
        for y in read.y0..read.y1 {
            let (blocks, rest) = plane.row(y)[first..][..read.width()].as_chunks::<MANY>();
            for block in blocks {
                brightest(&mut most, block);
            }
            brightest(&mut most[..rest.len()], rest);
        }
    }
    most.iter().any(|value| *value >= BRIGHT)
}

#[inline(always)]
fn brightest(most: &mut [f32], values: &[f32]) {
    for (most, value) in most.iter_mut().zip(values) {
        *most = if *value > *most { *value } else { *most };
    }
}

/// The weights of a row of samples; worked with from block to block, so that their room is made once.
#[derive(Debug, Default)]
pub(super) struct Weights {
    /// Positions in sub-pixel steps.
    steps: Vec<i32>,
    /// Ways from the middle between two pixels.
    offs: Vec<f32>,
    /// Per tap one for each sample.
    taps: [Vec<f32>; MOST_TAPS],
    runs: Vec<Run>,
    /// 0, 1, 2 and so on.
    ramp: Vec<i32>,
}

/// Samples `first..end`, the first of which reads from place `from` on.
#[derive(Debug, Clone, Copy)]
struct Run {
    first: usize,
    end: usize,
    from: usize,
}

impl Weights {
    /// Sets the weights of samples at the `place` of each of `numbers`.
    #[inline(always)]
    fn set<const T: usize>(&mut self, numbers: &[f64], place: impl Fn(f64) -> f64, table: &Taps) {
        let count = numbers.len();
        self.steps.resize(count, 0);
        self.offs.resize(count, 0.0);
        for (step, number) in self.steps.iter_mut().zip(numbers) {
            *step = steps(place(*number));
        }
        for (off, step) in self.offs.iter_mut().zip(&self.steps) {
            *off = off_middle(*step);
        }
        let (before, after) = self.taps[..T].split_at_mut(T / 2);
        for ((near, far), pair) in before
            .iter_mut()
            .zip(after.iter_mut().rev())
            .zip(&table.mirrored)
        {
            near.resize(count, 0.0);
            far.resize(count, 0.0);
            for ((near, far), off) in near.iter_mut().zip(far).zip(&self.offs) {
                (*near, *far) = pair.weights(*off);
            }
        }
    }

    /// Finds the runs of samples that read neighbouring places, counted from `before` places after the first.
    #[inline(always)]
    fn run_along(&mut self, before: i32, last: usize) {
        self.find_runs(before, last, 1);
    }

    /// Finds the runs of samples that read the same places, counted from `before` places after the first.
    #[inline(always)]
    fn run_level(&mut self, before: i32, last: usize) {
        self.find_runs(before, last, 0);
    }

    /// `stride`: how many places the next sample of a run reads farther on; 0 or 1.
    #[inline(always)]
    fn find_runs(&mut self, before: i32, last: usize, stride: i32) {
        self.runs.clear();
        let Some(first) = self.steps.first().map(|step| step >> STEP_BITS) else {
            return;
        };
        let known = self.ramp.len();
        self.ramp.extend((known..self.steps.len()).map(coordinate));
        let mut differs = 0;
        for (step, index) in self.steps.iter().zip(&self.ramp) {
            differs |= ((step >> STEP_BITS) - stride * index) ^ first;
        }
        let count = self.steps.len();
        let mut start = 0;
        let mut begun = first;
        let mut end_run = |end: usize, begun: i32, start: usize| {
            let from = begun + stride * coordinate(start) - before;
            self.runs.push(Run {
                first: start,
                end,
                from: clamp_index(from).min(last),
            });
        };
        if differs != 0 {
            for (number, block) in self.steps.chunks(LANES).enumerate() {
                let ramp = number * LANES..;
                // Runs are long: most blocks lie in one.
                let mut differs = 0;
                for (step, index) in block.iter().zip(&self.ramp[number * LANES..]) {
                    differs |= ((step >> STEP_BITS) - stride * index) ^ begun;
                }
                if differs == 0 {
                    continue;
                }
                for (step, index) in block.iter().zip(ramp) {
                    let here = (step >> STEP_BITS) - stride * coordinate(index);
                    if here != begun {
                        end_run(index, begun, start);
                        (start, begun) = (index, here);
                    }
                }
            }
        }
        end_run(count, begun, start);
    }

    #[inline(always)]
    fn of<const T: usize>(&self, run: &Run) -> [&[f32]; T] {
        core::array::from_fn(|tap| &self.taps[tap][run.first..run.end])
    }
}

/// The way of a position in sub-pixel steps from the middle between two pixels: the fraction of a pixel becomes the leading bits behind
/// the point of a number from 1 to 2.
#[inline(always)]
fn off_middle(step: i32) -> f32 {
    const ONE: u32 = 1.0_f32.to_bits();
    const FIRST_BIT: u32 = f32::MANTISSA_DIGITS - 1 - STEP_BITS.cast_unsigned();
    f32::from_bits(ONE | ((step & STEP_MASK).cast_unsigned() << FIRST_BIT)) - 1.5
}

/// Weighs runs of pixels, each with weights of its own.
#[inline(always)]
fn weigh_each<const T: usize>(weights: [&[f32]; T], taps: [&[f32]; T], out: &mut [f32]) {
    let many = out.len() / MANY * MANY;
    let few = out.len() / LANES * LANES;
    weigh_blocks::<T, MANY>(&weights, &taps, &mut out[..many], 0);
    weigh_blocks::<T, LANES>(&weights, &taps, &mut out[many..few], many);
    weigh_blocks::<T, 1>(&weights, &taps, &mut out[few..], few);
}

/// Weighs `N` pixels in one go, those of `out` being the ones from `first` on.
#[inline(always)]
fn weigh_blocks<const T: usize, const N: usize>(
    weights: &[&[f32]; T],
    taps: &[&[f32]; T],
    out: &mut [f32],
    first: usize,
) {
    let (blocks, _) = out.as_chunks_mut::<N>();
    let count = blocks.len();
    let weights = blocks_from::<T, N>(weights, first, count);
    let taps = blocks_from::<T, N>(taps, first, count);
    for (index, block) in blocks.iter_mut().enumerate() {
        let mut sum = [0.0_f32; N];
        for (weights, taps) in weights.iter().zip(&taps) {
            for ((sum, weight), value) in sum.iter_mut().zip(&weights[index]).zip(&taps[index]) {
                *sum += weight * value;
            }
        }
        *block = sum;
    }
}

/// `count` blocks of `N` numbers of each slice from number `first` on.
#[inline(always)]
fn blocks_from<'a, const T: usize, const N: usize>(
    slices: &[&'a [f32]; T],
    first: usize,
    count: usize,
) -> [&'a [[f32; N]]; T] {
    // Written out: closures over arrays are not always taken apart.
    let mut blocks: [&[[f32; N]]; T] = [&[]; T];
    for (blocks, slice) in blocks.iter_mut().zip(slices) {
        *blocks = &slice[first..].as_chunks::<N>().0[..count];
    }
    blocks
}
