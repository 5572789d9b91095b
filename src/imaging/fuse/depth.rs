//! Pass 1: in which frame each pixel is sharpest.

use super::curve::{Curves, Turn};
use super::guided::Guided;
use super::look::{Look, half, halved};
use super::noise::NoiseModel;
use super::pieces::{Pieces, ROWS, WholeLuma, pieces_of};
use super::room::filled;
use crate::geometry::Rect;
use crate::imaging::basics::blur::{gaussian_taps, smooth};
use crate::imaging::basics::wide::wide;
use crate::pixels::Plane;
use crate::pixels::convert::{coordinate, count_f32, count_f64, index, narrow};
use rayon::prelude::*;

/// Pixels that one thread works on at a time; no value depends on it.
const RUN: usize = 1 << 14;

/// The three windows in which sharpness is gathered: how often the score is halved before smoothing, and the sigma at that size.
/// Together they act like 1.5, 4 and 10 pixels.
const WINDOWS: [(u32, f32); 3] = [(0, 1.5), (1, 1.95), (2, 2.4)];

/// Rows whose depth one thread finds at a time; no value depends on it.
const MIXED_ROWS: usize = 16;

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
        let (mut depth, mut sure) = self.mixed();
        drop(self.curves);
        if self.added > 1 && !depth.data.is_empty() {
            smooth_unsure(&self.picked, &mut depth, &sure);
        }
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

    /// Depth and confidence over the three windows.
    fn mixed(&self) -> (Plane, Plane) {
        let rect = self.picked.rect;
        let width = rect.width();
        let [fine, middle, coarse] = self
            .curves
            .each_ref()
            .map(|curves| curves.found(self.added));
        let (mut depth, mut sure) = (Plane::unwritten(rect), Plane::unwritten(rect));
        let bands = depth
            .data
            .par_chunks_mut(width.max(1) * MIXED_ROWS)
            .zip(sure.data.par_chunks_mut(width.max(1) * MIXED_ROWS));
        bands.enumerate().for_each(|(band, (depth, sure))| {
            let mut room = Vec::new();
            let mut here = [(); 2].map(|()| vec![0.0_f32; width]);
            let rows = depth.chunks_mut(width).zip(sure.chunks_mut(width));
            for (y, (depth, sure)) in (band * MIXED_ROWS..).zip(rows) {
                wide(
                    #[inline(always)]
                    || {
                        // The coarsest window has nothing below it to fall back on.
                        coarse.row(y, &mut room, [&mut *depth, &mut *sure]);
                        for window in [&middle, &fine] {
                            let [found, confidence] = &mut here;
                            window.row(y, &mut room, [&mut *found, &mut *confidence]);
                            finer([&mut *depth, &mut *sure], [found, confidence]);
                        }
                    },
                );
            }
        });
        (depth, sure)
    }
}

/// Takes over the depth that a finer window `found`, as far as it is confident.
#[inline(always)]
fn finer([depth, sure]: [&mut [f32]; 2], [found, confidence]: [&[f32]; 2]) {
    let known = found.iter().zip(confidence);
    for ((depth, sure), (found, confidence)) in depth.iter_mut().zip(sure).zip(known) {
        *depth += confidence * (found - *depth);
        *sure = sure.max(*confidence);
    }
}

/// Smooths `depth` along the edges of the picture `guide` where it is not `sure`.
fn smooth_unsure(guide: &Plane, depth: &mut Plane, sure: &Plane) {
    let width = depth.rect.width();
    let guided = Guided::new(guide, 1e-3);
    let here = |y: usize| y * width..(y + 1) * width;
    let bottom = guided.filter(|y, out| {
        let sure = &sure.data[here(y)];
        wide(
            #[inline(always)]
            || {
                let places = out.iter_mut().zip(sure);
                places.for_each(|(out, sure)| *out = weight(*sure));
            },
        );
    });
    let top = guided.filter(|y, out| {
        let (depth, sure) = (&depth.data[here(y)], &sure.data[here(y)]);
        wide(
            #[inline(always)]
            || {
                let places = out.iter_mut().zip(depth.iter().zip(sure));
                places.for_each(|(out, (depth, sure))| *out = weight(*sure) * depth);
            },
        );
    });
    guided.rows([&top, &bottom], depth, |y, [top, bottom], depth| {
        let sure = &sure.data[here(y)];
        for (((depth, sure), top), bottom) in depth.iter_mut().zip(sure).zip(top).zip(bottom) {
            let smooth = top / bottom.max(1e-4);
            *depth += (1.0 - sure) * (smooth - *depth);
        }
    });
}

/// How much a pixel counts in smoothing by how sure its depth is.
#[inline(always)]
fn weight(sure: f32) -> f32 {
    sure * sure + 1e-3
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
