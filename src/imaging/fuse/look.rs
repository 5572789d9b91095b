//! How sharp a piece of a frame is, pixel by pixel.

use super::curve::{Part, Turn};
use super::fill::continued;
use super::noise::root;
use super::pieces::{Pieces, even_margin};
use crate::geometry::Rect;
use crate::imaging::basics::blur::{filter_row, smooth_row};
use crate::imaging::basics::wide::wide;
use crate::pixels::Plane;
use crate::pixels::convert::{clamp_index, coordinate};
use crate::pixels::spare::{give_back, unwritten};
use rayon::prelude::*;

/// How pieces are looked at.
pub(super) struct Look {
    pub(super) picture: Rect,
    /// Where the picture's first pixel lies for the frames.
    pub(super) origin: Rect,
    pub(super) offset: f32,
    pub(super) taps: Vec<f32>,
}

/// A piece that was looked at: its rooted luma and its scores with a margin around `inner`.
pub(super) struct Seen<'a> {
    look: &'a Look,
    inner: Rect,
    rooted: Plane,
    score: Plane,
}

impl Look {
    pub(super) fn at<E>(
        &self,
        inner: Rect,
        frame: &impl Pieces<Plane, Error = E>,
    ) -> Result<Seen<'_>, E> {
        let outer = inner
            .grow(even_margin(self.taps.len() + 1))
            .intersect(self.picture);
        let asked = outer.shift(self.origin.x0, self.origin.y0);
        let mut rooted = frame.piece(asked)?;
        let presence = frame.presence(asked);
        if let Some(presence) = &presence {
            rooted = continued(&rooted, presence);
        }
        rooted.rect = outer;
        let offset = self.offset;
        wide(
            #[inline(always)]
            || {
                rooted
                    .data
                    .iter_mut()
                    .for_each(|light| *light = root(*light, offset));
            },
        );
        let mut score = modified_laplacian(&rooted);
        if let Some(presence) = &presence {
            for (value, present) in score.data.iter_mut().zip(&presence.data) {
                *value *= if *present >= 1.0 { 1.0 } else { 0.0 };
            }
        }
        Ok(Seen {
            look: self,
            inner,
            rooted,
            score,
        })
    }
}

impl Seen<'_> {
    /// Takes the smoothed scores into the curves of a band, and notes what was sharpest.
    #[inline(always)]
    pub(super) fn take(&self, turn: Turn, width: usize, part: &mut Part<'_>, picked: &mut [f32]) {
        let (inner, outer) = (self.inner, self.score.rect);
        let (wide, high) = (outer.width(), outer.height());
        let reach = self.look.taps.len() - 1;
        let left = clamp_index(inner.x0 - outer.x0);
        let first = clamp_index(inner.y0 - outer.y0);
        let (from, to) = (
            first.saturating_sub(reach),
            (first + inner.height() + reach).min(high),
        );
        let mut across = unwritten(wide * (to - from));
        for (row, out) in (from..to).zip(across.chunks_mut(wide)) {
            filter_row(&self.score.data[row * wide..][..wide], &self.look.taps, out);
        }
        let mut line = vec![0.0_f32; wide];
        for row in 0..inner.height() {
            let row_of = |at: usize| &across[(at - from) * wide..][..wide];
            smooth_row(&self.look.taps, first + row, high, row_of, &mut line);
            let place = row * width + clamp_index(inner.x0);
            part.take(place, turn, &line[left..left + inner.width()]);
            let values = &self.rooted.data[(first + row) * wide + left..][..inner.width()];
            part.pick(
                place,
                turn,
                values,
                &mut picked[place..place + inner.width()],
            );
        }
        give_back(across);
    }

    /// Puts the means of 2 x 2 scores into the rows of a band at half size.
    pub(super) fn halve(&self, half_width: usize, out: &mut [f32]) {
        let inner = cut(&self.score, self.inner);
        let small = half(&inner);
        inner.give_back();
        let left = clamp_index(self.inner.x0) / 2;
        for (row, values) in small.data.chunks(small.rect.width()).enumerate() {
            out[row * half_width + left..][..values.len()].copy_from_slice(values);
        }
        small.give_back();
    }

    pub(super) fn give_back(self) {
        self.rooted.give_back();
        self.score.give_back();
    }
}

fn cut(plane: &Plane, inner: Rect) -> Plane {
    let mut out = plane.crop(inner);
    out.rect = Rect::new(0, 0, coordinate(inner.width()), coordinate(inner.height()));
    out
}

/// |2p - left - right| + |2p - above - below| (Nayar and Nakagawa 1994), the border pixels repeated.
#[must_use]
pub(super) fn modified_laplacian(plane: &Plane) -> Plane {
    let (width, height) = (plane.rect.width(), plane.rect.height());
    let mut out = Plane::unwritten(plane.rect);
    if out.data.is_empty() {
        return out;
    }
    let row = |y: usize| &plane.data[y * width..(y + 1) * width];
    out.data
        .par_chunks_mut(width)
        .enumerate()
        .for_each(|(y, out)| {
            let (above, here) = (row(y.saturating_sub(1)), row(y));
            let below = row((y + 1).min(height - 1));
            wide(
                #[inline(always)]
                || laplacian_row([above, here, below], out),
            );
        });
    out
}

/// One row, from the one above it, itself and the one below it.
#[inline(always)]
fn laplacian_row([above, here, below]: [&[f32]; 3], out: &mut [f32]) {
    for (value, (here, (above, below))) in
        out.iter_mut().zip(here.iter().zip(above.iter().zip(below)))
    {
        *value = (2.0 * here - above - below).abs();
    }
    let last = here.len() - 1;
    let edge = |x: usize| {
        let (left, right) = (here[x.saturating_sub(1)], here[(x + 1).min(last)]);
        (2.0 * here[x] - left - right).abs()
    };
    out[0] += edge(0);
    if last == 0 {
        return;
    }
    out[last] += edge(last);
    let inner = out[1..last].iter_mut();
    for (value, taps) in inner.zip(here.windows(3)) {
        *value += (2.0 * taps[1] - taps[0] - taps[2]).abs();
    }
}

pub(super) fn halved(rect: Rect, times: u32) -> Rect {
    let size = |length: usize| coordinate(length.div_ceil(1 << times));
    Rect::new(0, 0, size(rect.width()), size(rect.height()))
}

/// Means of 2 x 2 pixels; a last odd row or column counts twice.
pub(super) fn half(plane: &Plane) -> Plane {
    let rect = halved(plane.rect, 1);
    let (width, height) = (plane.rect.width(), plane.rect.height());
    let mut out = Plane::unwritten(rect);
    out.data
        .par_chunks_mut(rect.width().max(1))
        .enumerate()
        .for_each(|(y, out)| {
            let above = &plane.data[2 * y * width..][..width];
            let below = &plane.data[(2 * y + 1).min(height - 1) * width..][..width];
            wide(
                #[inline(always)]
                || half_row([above, below], out),
            );
        });
    out
}

/// One row of means from the two above one another.
#[inline(always)]
fn half_row([above, below]: [&[f32]; 2], out: &mut [f32]) {
    let ((a, odd_a), (b, odd_b)) = (above.as_chunks::<2>(), below.as_chunks::<2>());
    for (value, (a, b)) in out.iter_mut().zip(a.iter().zip(b)) {
        *value = 0.25 * (a[0] + a[1] + b[0] + b[1]);
    }
    if let (Some(value), [a], [b]) = (out.last_mut(), odd_a, odd_b) {
        *value = 0.25 * (a + a + b + b);
    }
}
