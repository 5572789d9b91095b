//! Pass 1: in which frame each pixel is sharpest.

use super::fill::{continued, is_complete};
use super::guided::Guided;
use super::noise::{NoiseModel, rooted};
use crate::geometry::{Rect, Transform};
use crate::imaging::basics::blur::gaussian;
use crate::imaging::basics::resample::{Kernel, sample_plane};
use crate::pixels::Plane;
use crate::pixels::convert::{coordinate, count_f32, count_f64, index, narrow};
use rayon::prelude::*;

/// The three windows in which sharpness is gathered: how often the score is halved before smoothing, and the sigma at that size.
/// Together they act like 1.5, 4 and 10 pixels.
const WINDOWS: [(u32, f32); 3] = [(0, 1.5), (1, 1.95), (2, 2.4)];

/// A frame's sharpest score over the mean of its others: no confidence at the first, full confidence at the second.
const CONFIDENCE: (f32, f32) = (1.25, 1.85);
/// Below this confidence a pixel counts as sharp nowhere.
const NEVER_SHARP: f32 = 0.1;

/// The first pass over a focus stack. Hand in the frames with [`DepthPass::add`] by rising index, then [`DepthPass::finish`].
#[derive(Debug)]
pub struct DepthPass {
    rect: Rect,
    frames: usize,
    noise: NoiseModel,
    scales: Vec<Scale>,
    picked: Plane,
    added: usize,
}

/// What is known of the score curve of every pixel, in one window.
#[derive(Debug)]
struct Scale {
    halvings: u32,
    sigma: f32,
    cells: Vec<Cell>,
    rect: Rect,
}

/// The score curve of a pixel so far. `ABSENT` stands for no neighbour frame.
#[derive(Debug, Clone, Copy)]
struct Cell {
    best: f32,
    before: f32,
    after: f32,
    previous: f32,
    sum: f32,
    frame: u32,
    /// 1 when the next frame's score belongs in `after`.
    waits: u32,
}

const ABSENT: f32 = -1.0;
const NEW: Cell = Cell {
    best: ABSENT,
    before: ABSENT,
    after: ABSENT,
    previous: ABSENT,
    sum: 0.0,
    frame: 0,
    waits: 0,
};

/// Where each pixel is sharpest, and how sure that is.
#[derive(Debug, Clone, PartialEq)]
pub struct DepthMap {
    /// Frame index, fractional, 0 to the number of frames - 1.
    pub depth: Plane,
    /// 0 (no frame stands out) to 1.
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
        let scale = |(halvings, sigma)| {
            let rect = halved(local, halvings);
            Scale {
                halvings,
                sigma,
                cells: vec![NEW; rect.area()],
                rect,
            }
        };
        Self {
            rect,
            frames,
            noise: *noise,
            scales: WINDOWS.into_iter().map(scale).collect(),
            picked: Plane::zero(local),
            added: 0,
        }
    }

    /// Looks at frame `k`. `luma` is linear light, `valid` how much of each pixel lies on the frame; both cover the rectangle of the
    /// pass. Frames that are left out are not added; the others come by rising `k`.
    pub fn add(&mut self, k: usize, luma: &Plane, valid: &Plane) {
        let complete = is_complete(valid);
        let filled = if complete {
            rooted(luma, self.noise.offset)
        } else {
            rooted(&continued(luma, valid), self.noise.offset)
        };
        let mut score = modified_laplacian(&filled);
        score.rect = self.picked.rect;
        if !complete {
            for (value, present) in score.data.iter_mut().zip(&valid.data) {
                *value *= if *present >= 1.0 { 1.0 } else { 0.0 };
            }
        }
        let frame = u32::try_from(k).unwrap_or(u32::MAX);
        for (at, scale) in self.scales.iter_mut().enumerate() {
            if at > 0 {
                score = half(&score);
            }
            let smooth = gaussian(&score, scale.sigma);
            let pick = (at == 0).then_some((&mut self.picked, &filled));
            scale.take(frame, &smooth, pick);
        }
        self.added += 1;
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
        let mut depth = Plane::zero(rect);
        let mut sure = Plane::zero(rect);
        for scale in self.scales.iter().rev() {
            let (found, confidence) = scale.curve(self.added, rect);
            let pairs = found.data.iter().zip(&confidence.data);
            for ((depth, sure), (found, confidence)) in
                depth.data.iter_mut().zip(&mut sure.data).zip(pairs)
            {
                // The coarsest window has nothing below it to fall back on: `sure` is 0 and `depth` unset there.
                let weight = if scale.halvings == WINDOWS[2].0 {
                    1.0
                } else {
                    *confidence
                };
                *depth += weight * (found - *depth);
                *sure = sure.max(*confidence);
            }
        }
        self.smooth_unsure(&mut depth, &sure);
        let last = count_f32(self.frames.saturating_sub(1));
        depth.data.iter_mut().for_each(|d| *d = d.clamp(0.0, last));
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
        let guided = Guided::new(&self.picked, 4.9, 1e-3);
        let weight = sure.map(|sure| sure * sure + 1e-3);
        let mut weighted = weight.clone();
        for (value, depth) in weighted.data.iter_mut().zip(&depth.data) {
            *value *= depth;
        }
        let (top, bottom) = (guided.filter(&weighted), guided.filter(&weight));
        for (index, value) in depth.data.iter_mut().enumerate() {
            let smooth = top.data[index] / bottom.data[index].max(1e-4);
            *value += (1.0 - sure.data[index]) * (smooth - *value);
        }
    }
}

impl Scale {
    fn take(&mut self, frame: u32, score: &Plane, pick: Option<(&mut Plane, &Plane)>) {
        let width = self.rect.width().max(1);
        let rows = self
            .cells
            .par_chunks_mut(width)
            .zip(score.data.par_chunks(width));
        if let Some((picked, values)) = pick {
            rows.zip(picked.data.par_chunks_mut(width))
                .zip(values.data.par_chunks(width))
                .for_each(|(((cells, scores), picked), values)| {
                    for (((cell, score), picked), value) in
                        cells.iter_mut().zip(scores).zip(picked).zip(values)
                    {
                        if cell.take(frame, *score) {
                            *picked = *value;
                        }
                    }
                });
        } else {
            rows.for_each(|(cells, scores)| {
                for (cell, score) in cells.iter_mut().zip(scores) {
                    cell.take(frame, *score);
                }
            });
        }
    }

    /// Depth and confidence at the pixels of `rect`.
    fn curve(&self, frames: usize, rect: Rect) -> (Plane, Plane) {
        let others = count_f32(frames.saturating_sub(1).max(1));
        let depth: Vec<f32> = self.cells.par_iter().map(Cell::peak).collect();
        let sure: Vec<f32> = self
            .cells
            .par_iter()
            .map(|cell| {
                let rest = (cell.sum - cell.best) / others;
                let ratio = cell.best / rest.max(1e-6);
                ((ratio - CONFIDENCE.0) / (CONFIDENCE.1 - CONFIDENCE.0)).clamp(0.0, 1.0)
            })
            .collect();
        let grown = |data| {
            let plane = Plane {
                rect: self.rect,
                data,
            };
            if self.halvings == 0 {
                return plane;
            }
            let shrink = 1.0 / f64::from(1_u32 << self.halvings);
            let towards = Transform::scaling(shrink, shrink);
            sample_plane(&plane, rect, &towards, Kernel::Linear).0
        };
        (grown(depth), grown(sure))
    }
}

impl Cell {
    /// Takes in the score of the next frame; whether it is the best so far.
    fn take(&mut self, frame: u32, score: f32) -> bool {
        if self.waits == 1 {
            self.after = score;
        }
        let leads = score > self.best;
        if leads {
            self.best = score;
            self.before = self.previous;
            self.after = ABSENT;
            self.frame = frame;
        }
        self.waits = u32::from(leads);
        self.previous = score;
        self.sum += score;
        leads
    }

    /// The top of the Gaussian through the best score and its neighbours (Nayar and Nakagawa 1994), in frames.
    fn peak(&self) -> f32 {
        let frame = narrow(f64::from(self.frame));
        if self.before < 0.0 || self.after < 0.0 {
            return frame;
        }
        let log = |score: f32| libm::logf(score + 1e-12);
        let (a, b, c) = (log(self.before), log(self.best), log(self.after));
        let bend = a - 2.0 * b + c;
        if bend > -1e-9 {
            return frame;
        }
        frame + (0.5 * (a - c) / bend).clamp(-0.5, 0.5)
    }
}

/// |2p - left - right| + |2p - above - below| (Nayar and Nakagawa 1994), the border pixels repeated.
#[must_use]
pub(super) fn modified_laplacian(plane: &Plane) -> Plane {
    let (width, height) = (plane.rect.width(), plane.rect.height());
    let mut out = Plane::zero(plane.rect);
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
            for (x, value) in out.iter_mut().enumerate() {
                *value = (2.0 * here[x] - above[x] - below[x]).abs();
            }
            for (x, value) in out.iter_mut().enumerate() {
                let (left, right) = (here[x.saturating_sub(1)], here[(x + 1).min(width - 1)]);
                *value += (2.0 * here[x] - left - right).abs();
            }
        });
    out
}

fn halved(rect: Rect, times: u32) -> Rect {
    let size = |length: usize| coordinate(length.div_ceil(1 << times));
    Rect::new(0, 0, size(rect.width()), size(rect.height()))
}

/// Means of 2 x 2 pixels; a last odd row or column counts twice.
fn half(plane: &Plane) -> Plane {
    let rect = halved(plane.rect, 1);
    let (wide, high) = (plane.rect.width(), plane.rect.height());
    let mut out = Plane::zero(rect);
    out.data
        .par_chunks_mut(rect.width().max(1))
        .enumerate()
        .for_each(|(y, out)| {
            let above = &plane.data[2 * y * wide..][..wide];
            let below = &plane.data[(2 * y + 1).min(high - 1) * wide..][..wide];
            for (value, (a, b)) in out.iter_mut().zip(above.chunks(2).zip(below.chunks(2))) {
                let last = a.len() - 1;
                *value = 0.25 * (a[0] + a[last] + b[0] + b[last]);
            }
        });
    out
}

fn shares(depth: &Plane, sure: &Plane, frames: usize) -> (Vec<f32>, f32) {
    let mut sharp = vec![0_usize; frames.max(1)];
    let mut never = 0_usize;
    for (depth, sure) in depth.data.iter().zip(&sure.data) {
        if *sure >= 0.5 {
            sharp[index(*depth, frames.saturating_sub(1))] += 1;
        } else if *sure < NEVER_SHARP {
            never += 1;
        }
    }
    let all = count_f64(depth.data.len().max(1));
    let share = |count: usize| narrow(count_f64(count) / all);
    (
        sharp.into_iter().take(frames).map(share).collect(),
        share(never),
    )
}
