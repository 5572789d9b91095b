//! Sampling a picture through a transform: one resample, exact positions, nothing outside.
//!
//! Common to all functions here: pixel centres lie at half coordinates; a whole-pixel shift copies the pixels bit for bit; a target
//! pixel's value does not depend on the target rectangle, so tiles fit together bit for bit; at the border the picture is carried
//! outwards for the kernel's sake, so that it does not ring, and what lies outside counts as nothing. Next to values of 0.9 and
//! more the kernels' negative lobes are held back.

mod blocks;
mod inside;
mod kernel;
mod noise_kept;
mod patch;
mod planes;
mod presence;

pub use kernel::Kernel;
pub use noise_kept::noise_kept;
pub use presence::presence;

use super::wide::wide;
use crate::geometry::rect::whole;
use crate::geometry::{Point, Rect, Transform};
use crate::pixels::convert::{coordinate, count_f64};
use crate::pixels::{Image, Plane, Planes};
use blocks::{
    BLOCK_COLUMNS, BLOCK_ROWS, Block, Kernels, Spot, WideTable, Widen, is_nearly_shift,
    sample_freely, sample_upright, spot_of,
};
use kernel::Taps;
use patch::Source;
use planes::sampled;
use rayon::prelude::*;

/// The pixels of `target`, sampled from `source` through `source_from_target`, and how much of each lies on the source (0 to 1).
///
/// Pixels that lie wholly outside are black with validity 0. *Needs*: [`needed`].
#[must_use]
pub fn sample_planes(
    source: &Planes,
    target: Rect,
    source_from_target: &Transform,
    kernel: Kernel,
) -> (Planes, Plane) {
    let how = (target, source_from_target, kernel);
    let (rgb, valid) = with_validity(&source.rgb.each_ref(), source, how);
    (Planes { rgb }, valid)
}

/// [`sample_planes`] for those who do not ask how much lies on the source.
#[must_use]
pub fn sample_light(
    source: &Planes,
    target: Rect,
    source_from_target: &Transform,
    kernel: Kernel,
) -> Planes {
    let how = (target, source_from_target, kernel);
    let rgb = sampled(&source.rgb.each_ref(), source, how, None);
    Planes { rgb }
}

/// One plane, sampled like [`sample_planes`], with its validity. Bright values are held back too.
#[must_use]
pub fn sample_plane(
    source: &Plane,
    target: Rect,
    source_from_target: &Transform,
    kernel: Kernel,
) -> (Plane, Plane) {
    let how = (target, source_from_target, kernel);
    let ([plane], valid) = with_validity(&[source], source, how);
    (plane, valid)
}

/// [`sample_plane`] for those who do not ask how much lies on the source.
#[must_use]
pub fn sample_values(
    source: &Plane,
    target: Rect,
    source_from_target: &Transform,
    kernel: Kernel,
) -> Plane {
    let how = (target, source_from_target, kernel);
    let [plane] = sampled(&[source], source, how, None);
    plane
}

fn with_validity<const C: usize, const N: usize>(
    channels: &[&Plane; C],
    source: &impl Source<N>,
    how: (Rect, &Transform, Kernel),
) -> ([Plane; C], Plane) {
    let (target, source_from_target, _kernel) = how;
    let mut valid = match whole_shift(source_from_target) {
        Some((dx, dy)) => inside_of(source.rect(), target.shift(dx, dy), target),
        None => Plane::zero(target),
    };
    let planes = sampled(channels, source, how, Some(&mut valid));
    (planes, valid)
}

/// A picture with coverage, sampled like [`sample_planes`]; the border and the outside come out as coverage. Along edges of the
/// coverage all channels stay within the range of the neighbouring pixels.
#[must_use]
pub fn sample_image(
    source: &Image,
    target: Rect,
    source_from_target: &Transform,
    kernel: Kernel,
) -> Image {
    sample_image_by(source, target, source_from_target, (kernel, Widen::Never))
}

/// [`sample_image`] for placements: where the transform makes the picture smaller, the kernel is widened by the local reduction
/// (the larger of the two directions), up to 8 times. Beyond a reduction of 2 hand in a halved picture
/// ([`halve`](super::pyramid::halve)): it is faster.
#[must_use]
pub fn sample_image_scaled(
    source: &Image,
    target: Rect,
    source_from_target: &Transform,
    kernel: Kernel,
) -> Image {
    let widen = if reduces(source_from_target) {
        Widen::WithReduction
    } else {
        Widen::Never
    };
    sample_image_by(source, target, source_from_target, (kernel, widen))
}

/// A picture with coverage, sampled where `source_from_target` says for each target point (both in pixels); `None` gives nothing.
/// The place must move smoothly; the kernel is not widened. A map that moves nothing copies the pixels bit for bit.
#[must_use]
pub fn sample_image_mapped(
    source: &Image,
    target: Rect,
    source_from_target: &(impl Fn(Point) -> Option<Point> + Sync),
    kernel: Kernel,
) -> Image {
    let at = |point: Point| source_from_target(point).map(|found| (found, 1.0));
    sample_image_through(source, target, &at, kernel)
}

/// [`sample_image_mapped`] with the kernel widened by what `source_from_target` says beside the place: source pixels per target pixel
/// where the picture is made smaller, 1 elsewhere.
#[must_use]
pub fn sample_image_through(
    source: &Image,
    target: Rect,
    source_from_target: &(impl Fn(Point) -> Option<(Point, f64)> + Sync),
    kernel: Kernel,
) -> Image {
    let spot = |point: Point| {
        source_from_target(point).map(|(found, widening)| Spot {
            u: found.x - 0.5,
            v: found.y - 0.5,
            widening: widening.clamp(1.0, 8.0),
        })
    };
    let table = Taps::of(kernel);
    fill_image(source, target, |place| {
        sample_freely(source, place, &spot, plain(kernel, table))
    })
}

/// The part of the source that sampling `target` reads, grown by the kernel's reach and the widening of
/// [`sample_image_scaled`]. If the horizon of a perspective crosses `target`, everything may be needed: the answer then holds
/// any picture.
#[must_use]
pub fn needed(target: Rect, source_from_target: &Transform, kernel: Kernel) -> Rect {
    const ALL: Rect = Rect::new(i32::MIN / 4, i32::MIN / 4, i32::MAX / 4, i32::MAX / 4);
    if target.is_empty() {
        return Rect::default();
    }
    if let Some((dx, dy)) = whole_shift(source_from_target) {
        return target.shift(dx, dy);
    }
    let Some(bounds) = source_from_target.bounds_of(target) else {
        return ALL;
    };
    let widest = target
        .corners()
        .iter()
        .filter_map(|corner| spot_of(source_from_target, *corner, Widen::WithReduction))
        .map(|spot| spot.widening)
        .fold(1.0, f64::max);
    let margin = whole((f64::from(kernel.reach()) * widest).ceil()) + 1;
    bounds.grow(margin).intersect(ALL)
}

fn sample_image_by(
    source: &Image,
    target: Rect,
    transform: &Transform,
    (kernel, widen): (Kernel, Widen),
) -> Image {
    if let Some((dx, dy)) = whole_shift(transform) {
        let mut moved = source.crop(target.shift(dx, dy));
        moved.rect = target;
        return moved;
    }
    let table = Taps::of(kernel);
    let way = Way::new(transform, widen);
    let wide = way.widening().map(|by| WideTable::new(kernel, by));
    let kernels = Kernels {
        kernel,
        table,
        wide: wide.as_ref(),
    };
    fill_image(source, target, |place| way.block(source, place, kernels))
}

fn fill_image(source: &Image, target: Rect, block: impl Fn(Rect) -> Block<5> + Sync) -> Image {
    let mut out = Image::empty(target);
    let width = target.width();
    if target.is_empty() || source.rect.is_empty() {
        return out;
    }
    out.data
        .par_chunks_mut(width * BLOCK_ROWS)
        .enumerate()
        .for_each(|(index, rows)| {
            for place in blocks_of_band(target, index) {
                scatter(&block(place), place, target, |at, pixel, presence| {
                    let colour = [pixel[0], pixel[1], pixel[2], pixel[3]];
                    rows[at] = if presence < 1.0 {
                        colour.map(|value| value * presence)
                    } else {
                        colour
                    };
                });
            }
        });
    out
}

/// Kernels for pictures that are not made smaller.
const fn plain(kernel: Kernel, table: &Taps) -> Kernels<'_> {
    Kernels {
        kernel,
        table,
        wide: None,
    }
}

/// Which of the two ways a transform is sampled.
struct Way<'a> {
    transform: &'a Transform,
    upright: bool,
    widen: Widen,
}

impl<'a> Way<'a> {
    fn new(transform: &'a Transform, widen: Widen) -> Self {
        Self {
            transform,
            upright: widen == Widen::Never && is_nearly_shift(transform),
            widen,
        }
    }

    /// Samples a block of an upright transform channel by channel into the slices of its band, where the block allows it; whether it did.
    fn fill<const C: usize>(
        &self,
        source: &[&Plane; C],
        place: Rect,
        target: Rect,
        table: &Taps,
        (channels, weights): (&mut [&mut [f32]; C], &mut inside::Weights),
    ) -> bool {
        let mut out = inside::Out {
            channels,
            first: first_of(place, target),
            stride: target.width(),
        };
        wide(
            #[inline(always)]
            || inside::fill(source, place, self.transform, table, (&mut out, weights)),
        )
    }

    fn block<const N: usize>(
        &self,
        source: &impl Source<N>,
        place: Rect,
        kernels: Kernels<'_>,
    ) -> Block<N> {
        if self.upright {
            return sample_upright(source, place, self.transform, kernels.table);
        }
        let spot = |point| spot_of(self.transform, point, self.widen);
        sample_freely(source, place, &spot, kernels)
    }

    /// How much the kernel is widened, where that is the same everywhere.
    fn widening(&self) -> Option<f64> {
        let same = self.widen == Widen::WithReduction && self.transform.is_affine();
        let spot = same.then(|| spot_of(self.transform, Point::default(), self.widen))??;
        (spot.widening > 1.0).then_some(spot.widening)
    }
}

/// The blocks of a band of rows, from left to right.
fn blocks_of_band(target: Rect, band: usize) -> impl Iterator<Item = Rect> {
    let y0 = target.y0 + coordinate(band * BLOCK_ROWS);
    let y1 = (y0 + coordinate(BLOCK_ROWS)).min(target.y1);
    // Shared out evenly: a narrow block takes nearly as long to prepare as a wide one.
    let width = target.width().max(1);
    let step = width
        .div_ceil(width.div_ceil(BLOCK_COLUMNS))
        .next_multiple_of(8);
    (target.x0..target.x1)
        .step_by(step)
        .map(move |x0| Rect::new(x0, y0, (x0 + coordinate(step)).min(target.x1), y1))
}

/// Hands the pixels of `block` to `put` with their index in the band that holds it.
fn scatter<const N: usize>(
    block: &Block<N>,
    place: Rect,
    target: Rect,
    mut put: impl FnMut(usize, [f32; N], f32),
) {
    let start = first_of(place, target);
    let width = place.width();
    for (row, (pixels, presence)) in block
        .data
        .chunks(width)
        .zip(block.presence.chunks(width))
        .enumerate()
    {
        let first = start + row * target.width();
        for (offset, (pixel, presence)) in pixels.iter().zip(presence).enumerate() {
            put(first + offset, *pixel, *presence);
        }
    }
}

/// Where the first pixel of `place` lies in the slice of its band of `target`.
fn first_of(place: Rect, target: Rect) -> usize {
    target.index(place.x0, place.y0) % (target.width() * BLOCK_ROWS)
}

/// The shift by whole pixels that `transform` is, if it is one.
fn whole_shift(transform: &Transform) -> Option<(i32, i32)> {
    let [[a, b, x], [c, d, y], _] = transform.rows;
    let plain = transform.is_affine() && [a, b, c, d] == [1.0, 0.0, 0.0, 1.0];
    let (dx, dy) = (whole(x), whole(y));
    let exact = x.abs().max(y.abs()) < count_f64(1 << 30)
        && (f64::from(dx) - x).abs().max((f64::from(dy) - y).abs()) <= 0.0;
    (plain && exact).then_some((dx, dy))
}

fn relabel(mut plane: Plane, rect: Rect) -> Plane {
    plane.rect = rect;
    plane
}

/// 1 where the pixels `from` (shown at `target`) lie inside `source`.
fn inside_of(source: Rect, from: Rect, target: Rect) -> Plane {
    let met = source.intersect(from);
    let (dx, dy) = (target.x0 - from.x0, target.y0 - from.y0);
    let mut inside = Plane::zero(target);
    if !met.is_empty() {
        let met = met.shift(dx, dy);
        let columns = inside.rect.index(met.x0, met.y0) % target.width();
        for y in met.y0..met.y1 {
            inside.row_mut(y)[columns..columns + met.width()].fill(1.0);
        }
    }
    inside
}

/// Whether the transform makes the picture smaller anywhere (perspectives always may).
fn reduces(transform: &Transform) -> bool {
    let [[a, b, _], [c, d, _], _] = transform.rows;
    !transform.is_affine() || (a * a + c * c).max(b * b + d * d) > 1.0 + 1e-9
}

#[cfg(test)]
mod tests;
