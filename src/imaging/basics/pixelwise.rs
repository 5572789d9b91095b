//! Planes made pixel by pixel from others, by all threads.

use super::wide::wide;
use crate::pixels::Plane;
use rayon::prelude::*;

/// Pixels that one thread works on at a time; no value depends on it.
const RUN: usize = 1 << 14;

/// `change` of every pixel.
#[inline(always)]
pub fn changed(plane: &Plane, change: impl Fn(f32) -> f32 + Sync) -> Plane {
    let mut out = Plane::unwritten(plane.rect);
    let runs = out.data.par_chunks_mut(RUN).zip(plane.data.par_chunks(RUN));
    runs.for_each(|(to, from)| {
        wide(
            #[inline(always)]
            || {
                let pairs = to.iter_mut().zip(from);
                pairs.for_each(|(to, from)| *to = change(*from));
            },
        );
    });
    out
}

/// `mix` of the pixels of two planes of one size, on the place of the first.
#[inline(always)]
pub fn combined(one: &Plane, other: &Plane, mix: impl Fn(f32, f32) -> f32 + Sync) -> Plane {
    let mut out = Plane::unwritten(one.rect);
    let runs = one.data.par_chunks(RUN).zip(other.data.par_chunks(RUN));
    out.data
        .par_chunks_mut(RUN)
        .zip(runs)
        .for_each(|(to, (one, other))| {
            wide(
                #[inline(always)]
                || {
                    for (to, (one, other)) in to.iter_mut().zip(one.iter().zip(other)) {
                        *to = mix(*one, *other);
                    }
                },
            );
        });
    out
}

/// `mix` of the three colours of every pixel.
#[inline(always)]
pub fn of_colours(rgb: &[Plane; 3], mix: impl Fn([f32; 3]) -> f32 + Sync) -> Plane {
    let [red, green, blue] = rgb;
    let mut out = Plane::unwritten(red.rect);
    let others = green.data.par_chunks(RUN).zip(blue.data.par_chunks(RUN));
    out.data
        .par_chunks_mut(RUN)
        .zip(red.data.par_chunks(RUN).zip(others))
        .for_each(|(to, (red, (green, blue)))| {
            wide(
                #[inline(always)]
                || {
                    let colours = red.iter().zip(green.iter().zip(blue));
                    for (to, (red, (green, blue))) in to.iter_mut().zip(colours) {
                        *to = mix([*red, *green, *blue]);
                    }
                },
            );
        });
    out
}
