//! Planes sampled band by band: whole blocks the fast way, what it does not take pixel by pixel.

use super::blocks::{BLOCK_COLUMNS, BLOCK_ROWS, Kernels, Widen};
use super::kernel::{Kernel, Taps};
use super::patch::Source;
use super::{Way, blocks_of_band, first_of, inside, plain, relabel, scatter, whole_shift};
use crate::geometry::{Rect, Transform};
use crate::pixels::Plane;
use crate::pixels::convert::coordinate;
use rayon::prelude::*;

/// `channels` on the pixels of `target`. `source`: the same with their marks. `valid` is filled unless the shift is one of whole pixels.
pub(super) fn sampled<const C: usize, const N: usize>(
    channels: &[&Plane; C],
    source: &impl Source<N>,
    (target, source_from_target, kernel): (Rect, &Transform, Kernel),
    valid: Option<&mut Plane>,
) -> [Plane; C] {
    if let Some((dx, dy)) = whole_shift(source_from_target) {
        let from = target.shift(dx, dy);
        return channels.map(|plane| relabel(plane.crop(from), target));
    }
    if target.is_empty() || source.rect().is_empty() {
        return core::array::from_fn(|_channel| Plane::zero(target));
    }
    let mut out = core::array::from_fn(|_channel| Plane::unwritten(target));
    let table = Taps::of(kernel);
    let way = Way::new(source_from_target, Widen::Never);
    let band = target.width() * BLOCK_ROWS;
    let mut rows = out.each_mut().map(|plane| plane.data.chunks_mut(band));
    let mut valid = valid.map(|valid| valid.data.chunks_mut(band));
    let bands = (0..target.height().div_ceil(BLOCK_ROWS)).map(|_band| {
        let rows = rows.each_mut().map(|rows| rows.next().unwrap_or_default());
        (rows, valid.as_mut().and_then(Iterator::next))
    });
    let bands: Vec<_> = bands.collect();
    let filling = Filling {
        channels,
        source,
        target,
        way,
        kernels: plain(kernel, table),
    };
    bands.into_par_iter().enumerate().for_each_init(
        inside::Weights::default,
        |weights, (index, mut rows)| {
            for place in blocks_of_band(target, index) {
                if !filling.way.upright {
                    filling.slow(place, &mut rows);
                    continue;
                }
                if filling.fast(place, &mut rows, weights) {
                    continue;
                }
                // Most of a block at the border, or with something bright in it, is plain.
                for part in parts_of(place) {
                    if !filling.fast(part, &mut rows, weights) {
                        filling.slow(part, &mut rows);
                    }
                }
            }
        },
    );
    out
}

/// Blocks of a target being filled.
struct Filling<'a, S, const C: usize, const N: usize> {
    channels: &'a [&'a Plane; C],
    source: &'a S,
    target: Rect,
    way: Way<'a>,
    kernels: Kernels<'a>,
}

/// The rows of a band: one slice per channel, and one for the validity where it is asked for.
type BandRows<'a, const C: usize> = ([&'a mut [f32]; C], Option<&'a mut [f32]>);

impl<S: Source<N>, const C: usize, const N: usize> Filling<'_, S, C, N> {
    /// Fills `place` channel by channel if it allows that; whether it did.
    fn fast(
        &self,
        place: Rect,
        (out, valid): &mut BandRows<'_, C>,
        weights: &mut inside::Weights,
    ) -> bool {
        let table = self.kernels.table;
        if !self
            .way
            .fill(self.channels, place, self.target, table, (out, weights))
        {
            return false;
        }
        if let Some(valid) = valid {
            fill_rows(valid, place, self.target);
        }
        true
    }

    /// Fills any `place`, pixel by pixel.
    fn slow(&self, place: Rect, (out, valid): &mut BandRows<'_, C>) {
        let block = self.way.block(self.source, place, self.kernels);
        scatter(&block, place, self.target, |at, pixel, presence| {
            for (out, value) in out.iter_mut().zip(pixel) {
                out[at] = value;
            }
            if let Some(valid) = valid {
                valid[at] = presence;
            }
        });
    }
}

/// A sixteenth of a block each.
fn parts_of(block: Rect) -> impl Iterator<Item = Rect> {
    let part = move |x: i32, y: i32| {
        let end = (
            x + coordinate(BLOCK_COLUMNS / 4),
            y + coordinate(BLOCK_ROWS / 4),
        );
        Rect::new(x, y, end.0, end.1).intersect(block)
    };
    let rows = (block.y0..block.y1).step_by(BLOCK_ROWS / 4);
    rows.flat_map(move |y| {
        let columns = (block.x0..block.x1).step_by(BLOCK_COLUMNS / 4);
        columns.map(move |x| part(x, y))
    })
}

/// Marks the pixels of a block as lying wholly on the source.
fn fill_rows(valid: &mut [f32], place: Rect, target: Rect) {
    let first = first_of(place, target);
    for row in 0..place.height() {
        valid[first + row * target.width()..][..place.width()].fill(1.0);
    }
}
