//! Pass 1: in which frame each pixel is sharpest.

use super::curve::{Curves, Part, Turn};
use super::fill::continued;
use super::guided::Guided;
use super::noise::{NoiseModel, root};
use super::pieces::{Pieces, ROWS, WholeLuma, even_margin, pieces_of};
use super::room::filled;
use crate::geometry::Rect;
use crate::imaging::basics::blur::{filter_row, gaussian_taps, smooth, smooth_row};
use crate::imaging::basics::pixelwise::{changed, combined};
use crate::imaging::basics::wide::wide;
use crate::pixels::Plane;
use crate::pixels::convert::{clamp_index, coordinate, count_f32, count_f64, index, narrow};
use crate::pixels::spare::{give_back, unwritten};
use rayon::prelude::*;

/// Pixels that one thread works on at a time; no value depends on it.
const RUN: usize = 1 << 14;

/// The three windows in which sharpness is gathered: how often the score is halved before smoothing, and the sigma at that size.
/// Together they act like 1.5, 4 and 10 pixels.
const WINDOWS: [(u32, f32); 3] = [(0, 1.5), (1, 1.95), (2, 2.4)];

/// Below this confidence a pixel counts as sharp nowhere.
const NEVER_SHARP: f32 = 0.1;

/// The first pass over a focus stack. Hand in the frames with [`DepthPass::add`] by rising index, then [`DepthPass::finish`].
#[derive(Debug)]
pub struct DepthPass {
    rect: Rect,
    frames: usize,
    noise: NoiseModel,
    /// Finest window first.
    curves: [Curves; 3],
    /// The rooted luma of the frame that is sharpest, from (0, 0).
    picked: Plane,
    /// Scores of the frame at hand at half size.
    half: Plane,
    last: f32,
    added: usize,
}

/// Where each pixel is sharpest, and how sure that is.
#[derive(Debug, Clone, PartialEq)]
pub struct DepthMap {
    /// Frame index, fractional, 0 to the number of frames - 1.
    pub depth: Plane,
    /// 0 (no frame stands out) to 1; above 1 where the frame at `depth` alone is to be taken.
    pub confidence: Plane,
    /// For each frame, the share of all pixels that are confidently sharpest in it (nearest index).
    pub sharp_share: Vec<f32>,
    /// Share of all pixels that stand out in no frame.
    pub never_sharp_share: f32,
    /// Number of frames of the stack, excluded ones included.
    pub frames: usize,
}

impl DepthMap {
    /// This map with `bias` (in frames) added to the depth: strokes that say "prefer the nearer frame" or "the farther one". Where the
    /// bias is not 0 the depth counts as certain. `bias` covers the same rectangle.
    #[must_use]
    pub fn biased(&self, bias: &Plane) -> Self {
        let mut out = self.clone();
        let last = count_f32(self.frames.saturating_sub(1));
        for ((depth, sure), bias) in out
            .depth
            .data
            .iter_mut()
            .zip(&mut out.confidence.data)
            .zip(&bias.data)
        {
            if bias.abs() > 0.0 {
                *depth = (*depth + bias).clamp(0.0, last);
                *sure = sure.max(bias.abs().min(1.0));
            }
        }
        out
    }
}

impl DepthPass {
    /// A pass over the pixels of `rect` for a stack of `frames` frames with the noise of `noise`.
    #[must_use]
    pub fn new(rect: Rect, frames: usize, noise: &NoiseModel) -> Self {
        let (width, height) = (coordinate(rect.width()), coordinate(rect.height()));
        let local = Rect::new(0, 0, width, height);
        let curves = WINDOWS.map(|(halvings, _)| Curves::new(halvings, halved(local, halvings)));
        Self {
            rect,
            frames,
            noise: *noise,
            curves,
            picked: Plane {
                rect: local,
                data: filled(0.0, local.area()),
            },
            half: Plane::zero(halved(local, 1)),
            last: -1.0,
            added: 0,
        }
    }

    /// Looks at frame `k`. `luma` is linear light, `valid` how much of each pixel lies on the frame; both cover the rectangle of the
    /// pass. Frames that are left out are not added; the others come by rising `k`.
    pub fn add(&mut self, k: usize, luma: &Plane, valid: &Plane) {
        let Ok(()) = self.add_pieces(k, &WholeLuma { luma, valid });
    }

    /// The same with the luma of frame `k` asked for piece by piece.
    ///
    /// # Errors
    /// When a piece cannot be had; the pass is of no use then.
    pub fn add_pieces<E: Send>(
        &mut self,
        k: usize,
        frame: &impl Pieces<Plane, Error = E>,
    ) -> Result<(), E> {
        let turn = Turn {
            frame: count_f32(k),
            last: self.last,
        };
        self.fine(turn, frame)?;
        let quarter = half(&self.half);
        let planes = [&self.half, &quarter].into_iter().zip(&WINDOWS[1..]);
        for (curves, (plane, (_, sigma))) in self.curves[1..].iter_mut().zip(planes) {
            curves.take(turn, &smooth(plane, &gaussian_taps(*sigma)));
        }
        self.last = turn.frame;
        self.added += 1;
        Ok(())
    }

    /// The finest window, and the scores at half size.
    fn fine<E: Send>(
        &mut self,
        turn: Turn,
        frame: &impl Pieces<Plane, Error = E>,
    ) -> Result<(), E> {
        let picture = self.picked.rect;
        let (width, height) = (picture.width(), picture.height());
        if picture.is_empty() {
            return Ok(());
        }
        let look = Look {
            picture,
            origin: self.rect,
            offset: self.noise.offset,
            taps: gaussian_taps(WINDOWS[0].1),
        };
        let half_width = self.half.rect.width();
        let parts = self.curves[0].parts(width * ROWS);
        let picked = self.picked.data.chunks_mut(width * ROWS);
        let halves = self.half.data.chunks_mut(half_width * ROWS / 2);
        let bands: Vec<_> = parts.into_iter().zip(picked.zip(halves)).collect();
        bands
            .into_par_iter()
            .enumerate()
            .try_for_each(|(band, (mut part, (picked, halves)))| {
                for inner in pieces_of(band * ROWS, width, height) {
                    let seen = look.at(inner, frame)?;
                    wide(
                        #[inline(always)]
                        || seen.take(turn, width, &mut part, picked),
                    );
                    seen.halve(half_width, halves);
                    seen.give_back();
                }
                Ok(())
            })
    }

    /// Frames added so far.
    #[must_use]
    pub const fn added(&self) -> usize {
        self.added
    }

    /// The depth map: fine where the fine window is sure, coarser elsewhere, then smoothed along the edges of the picture where no
    /// window is sure.
    #[must_use]
    pub fn finish(self) -> DepthMap {
        let rect = self.picked.rect;
        let [fine, middle, coarse] = &self.curves;
        // The coarsest window has nothing below it to fall back on.
        let (mut depth, mut sure) = coarse.found(self.added, rect);
        for curves in [middle, fine] {
            let (found, confidence) = curves.found(self.added, rect);
            let pairs = found
                .data
                .par_chunks(RUN)
                .zip(confidence.data.par_chunks(RUN));
            depth
                .data
                .par_chunks_mut(RUN)
                .zip(sure.data.par_chunks_mut(RUN))
                .zip(pairs)
                .for_each(|((depth, sure), (found, confidence))| {
                    let places = depth.iter_mut().zip(sure);
                    for ((depth, sure), (found, confidence)) in
                        places.zip(found.iter().zip(confidence))
                    {
                        *depth += confidence * (found - *depth);
                        *sure = sure.max(*confidence);
                    }
                });
        }
        self.smooth_unsure(&mut depth, &sure);
        let last = count_f32(self.frames.saturating_sub(1));
        depth
            .data
            .par_chunks_mut(RUN)
            .for_each(|run| run.iter_mut().for_each(|d| *d = d.clamp(0.0, last)));
        depth.rect = self.rect;
        sure.rect = self.rect;
        let (sharp_share, never_sharp_share) = shares(&depth, &sure, self.frames);
        DepthMap {
            depth,
            confidence: sure,
            sharp_share,
            never_sharp_share,
            frames: self.frames,
        }
    }

    fn smooth_unsure(&self, depth: &mut Plane, sure: &Plane) {
        if self.added < 2 || depth.data.is_empty() {
            return;
        }
        let guided = Guided::new(&self.picked, 1e-3);
        let weight = changed(sure, |sure| sure * sure + 1e-3);
        let bottom = guided.filter(&weight);
        let top = guided.filter(&combined(&weight, depth, |weight, depth| weight * depth));
        drop(weight);
        let width = depth.rect.width();
        guided.rows([&top, &bottom], depth, |y, [top, bottom], depth| {
            let sure = &sure.data[y * width..(y + 1) * width];
            for (((depth, sure), top), bottom) in depth.iter_mut().zip(sure).zip(top).zip(bottom) {
                let smooth = top / bottom.max(1e-4);
                *depth += (1.0 - sure) * (smooth - *depth);
            }
        });
    }
}

/// How pieces are looked at.
struct Look {
    picture: Rect,
    /// Where the picture's first pixel lies for the frames.
    origin: Rect,
    offset: f32,
    taps: Vec<f32>,
}

/// A piece that was looked at: its rooted luma and its scores with a margin around `inner`.
struct Seen<'a> {
    look: &'a Look,
    inner: Rect,
    rooted: Plane,
    score: Plane,
}

impl Look {
    fn at<E>(&self, inner: Rect, frame: &impl Pieces<Plane, Error = E>) -> Result<Seen<'_>, E> {
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
    fn take(&self, turn: Turn, width: usize, part: &mut Part<'_>, picked: &mut [f32]) {
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
    fn halve(&self, half_width: usize, out: &mut [f32]) {
        let inner = cut(&self.score, self.inner);
        let small = half(&inner);
        inner.give_back();
        let left = clamp_index(self.inner.x0) / 2;
        for (row, values) in small.data.chunks(small.rect.width()).enumerate() {
            out[row * half_width + left..][..values.len()].copy_from_slice(values);
        }
        small.give_back();
    }

    fn give_back(self) {
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

fn halved(rect: Rect, times: u32) -> Rect {
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

fn shares(depth: &Plane, sure: &Plane, frames: usize) -> (Vec<f32>, f32) {
    // Per frame, and last those that are sharp nowhere.
    let none = || vec![0_usize; frames.max(1) + 1];
    let runs = depth.data.par_chunks(RUN).zip(sure.data.par_chunks(RUN));
    let counts: Vec<Vec<usize>> = runs
        .fold(none, |mut counts, (depth, sure)| {
            let never = counts.len() - 1;
            for (depth, sure) in depth.iter().zip(sure) {
                if *sure >= 0.5 {
                    counts[index(*depth, frames.saturating_sub(1))] += 1;
                } else if *sure < NEVER_SHARP {
                    counts[never] += 1;
                }
            }
            counts
        })
        .collect();
    let mut sharp = none();
    for counts in counts {
        sharp
            .iter_mut()
            .zip(counts)
            .for_each(|(all, count)| *all += count);
    }
    let never = sharp.pop().unwrap_or(0);
    let all = count_f64(depth.data.len().max(1));
    let share = |count: usize| narrow(count_f64(count) / all);
    (
        sharp.into_iter().take(frames).map(share).collect(),
        share(never),
    )
}
