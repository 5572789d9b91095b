//! What is known of every pixel's score curve: the best score and its neighbours, kept apart so that many pixels are done in one go.

use super::room::filled;
use crate::geometry::Rect;
use crate::imaging::basics::wide::wide;
use crate::pixels::Plane;
use crate::pixels::convert::count_f32;
use rayon::prelude::*;

/// A frame's sharpest score over the mean of its others: no confidence at the first, full confidence at the second.
const CONFIDENCE: (f32, f32) = (1.25, 1.85);
/// Stands for no neighbour frame.
const ABSENT: f32 = -1.0;
/// Pixels that one thread works on at a time; no value depends on it.
const RUN: usize = 1 << 14;

/// The score curves of a picture in one window.
#[derive(Debug)]
pub(super) struct Curves {
    /// How often the picture is halved.
    halvings: u32,
    /// Where its pixels lie.
    pub(super) rect: Rect,
    best: Vec<f32>,
    before: Vec<f32>,
    after: Vec<f32>,
    previous: Vec<f32>,
    sum: Vec<f32>,
    /// The frame of the best score.
    frame: Vec<f32>,
}

/// A run of curves.
pub(super) struct Part<'a> {
    best: &'a mut [f32],
    before: &'a mut [f32],
    after: &'a mut [f32],
    previous: &'a mut [f32],
    sum: &'a mut [f32],
    frame: &'a mut [f32],
}

/// The frame whose scores are taken in, and the one before it (a number that no frame has, for none).
#[derive(Debug, Clone, Copy)]
pub(super) struct Turn {
    pub(super) frame: f32,
    pub(super) last: f32,
}

impl Curves {
    pub(super) fn new(halvings: u32, rect: Rect) -> Self {
        let absent = || filled(ABSENT, rect.area());
        Self {
            halvings,
            rect,
            best: absent(),
            before: absent(),
            after: absent(),
            previous: absent(),
            sum: filled(0.0, rect.area()),
            frame: filled(0.0, rect.area()),
        }
    }

    /// The curves cut into runs of `count`.
    pub(super) fn parts(&mut self, count: usize) -> Vec<Part<'_>> {
        let count = count.max(1);
        let mut before = self.before.chunks_mut(count);
        let mut after = self.after.chunks_mut(count);
        let mut previous = self.previous.chunks_mut(count);
        let mut sum = self.sum.chunks_mut(count);
        let mut frame = self.frame.chunks_mut(count);
        self.best
            .chunks_mut(count)
            .map(|best| Part {
                best,
                before: before.next().unwrap_or_default(),
                after: after.next().unwrap_or_default(),
                previous: previous.next().unwrap_or_default(),
                sum: sum.next().unwrap_or_default(),
                frame: frame.next().unwrap_or_default(),
            })
            .collect()
    }

    /// Takes in a whole picture of scores.
    pub(super) fn take(&mut self, turn: Turn, scores: &Plane) {
        self.parts(RUN)
            .into_par_iter()
            .zip(scores.data.par_chunks(RUN))
            .for_each(|(mut part, scores)| {
                wide(
                    #[inline(always)]
                    || part.take(0, turn, scores),
                );
            });
    }

    /// Depth and confidence of every pixel after `frames` were taken in.
    pub(super) fn found(&self, frames: usize) -> Found<'_> {
        let others = count_f32(frames.saturating_sub(1).max(1));
        let small = (self.halvings > 0).then(|| {
            let mut planes = [(); 2].map(|()| Plane::unwritten(self.rect));
            let [depth, sure] = &mut planes;
            depth
                .data
                .par_chunks_mut(RUN)
                .zip(sure.data.par_chunks_mut(RUN))
                .enumerate()
                .for_each(|(run, (depth, sure))| {
                    let here = run * RUN..run * RUN + depth.len();
                    wide(
                        #[inline(always)]
                        || {
                            self.peaks(here.clone(), depth);
                            self.confidences(here, others, sure);
                        },
                    );
                });
            planes
        });
        Found {
            curves: self,
            others,
            small,
        }
    }

    #[inline(always)]
    fn confidences(&self, here: std::ops::Range<usize>, others: f32, sure: &mut [f32]) {
        let best = &self.best[here.clone()];
        let sums = &self.sum[here];
        for ((sure, best), sum) in sure.iter_mut().zip(best).zip(sums) {
            let rest = (sum - best) / others;
            let ratio = best / rest.max(1e-6);
            *sure = ((ratio - CONFIDENCE.0) / (CONFIDENCE.1 - CONFIDENCE.0)).clamp(0.0, 1.0);
        }
    }

    /// The tops of the Gaussians through the best score and its neighbours (Nayar and Nakagawa 1994), in frames.
    #[inline(always)]
    fn peaks(&self, here: std::ops::Range<usize>, depth: &mut [f32]) {
        let scores = self.before[here.clone()]
            .iter()
            .zip(&self.best[here.clone()])
            .zip(&self.after[here.clone()]);
        let frames = &self.frame[here];
        for ((depth, ((before, best), after)), frame) in depth.iter_mut().zip(scores).zip(frames) {
            let alone = *before < 0.0 || *after < 0.0;
            let a = logarithm(before.max(0.0) + 1e-12);
            let b = logarithm(best.max(0.0) + 1e-12);
            let c = logarithm(after.max(0.0) + 1e-12);
            let bend = a - 2.0 * b + c;
            let flat = bend > -1e-9;
            let off = (0.5 * (a - c) / if flat { -1.0 } else { bend }).clamp(-0.5, 0.5);
            *depth = frame + if alone || flat { 0.0 } else { off };
        }
    }
}

/// What curves say of a picture, told by its rows at full size.
pub(super) struct Found<'a> {
    curves: &'a Curves,
    others: f32,
    /// Depth and confidence, where the curves are those of a smaller picture.
    small: Option<[Plane; 2]>,
}

impl Found<'_> {
    /// Depth and confidence of row `y`. `room` is room to work in.
    #[inline(always)]
    pub(super) fn row(&self, y: usize, room: &mut Vec<f32>, [depth, sure]: [&mut [f32]; 2]) {
        let Some([small_depth, small_sure]) = &self.small else {
            let here = y * depth.len()..(y + 1) * depth.len();
            self.curves.peaks(here.clone(), depth);
            self.curves.confidences(here, self.others, sure);
            return;
        };
        for (small, out) in [(small_depth, depth), (small_sure, sure)] {
            match self.curves.halvings {
                1 => grown_row::<2>(small, y, room, out),
                _ => grown_row::<4>(small, y, room, out),
            }
        }
    }
}

/// Row `y` of `plane`, whose pixels are `N` x `N` pixels, interpolated linearly between the middles of its pixels; beyond those of the
/// border its values go on. `between` is room to work in.
#[inline(always)]
fn grown_row<const N: usize>(plane: &Plane, y: usize, between: &mut Vec<f32>, out: &mut [f32]) {
    let (width, high) = (plane.rect.width(), plane.rect.height());
    // From the middle of the pixel before, in pixels of the smaller plane.
    let off: [f32; N] = core::array::from_fn(|phase| {
        let off = (count_f32(phase) + 0.5) / count_f32(N);
        if 2 * phase < N { off + 0.5 } else { off - 0.5 }
    });
    let line = |row: usize| &plane.data[row.min(high - 1) * width..][..width];
    let (row, phase) = (y / N, y % N);
    let around = [line(row.saturating_sub(1)), line(row), line(row + 1)];
    let first = 2 * phase / N;
    let (above, below) = (around[first], around[first + 1]);
    // One pixel of the border more on both sides.
    between.resize(width + 2, 0.0);
    let places = between[1..].iter_mut().zip(above.iter().zip(below));
    places.for_each(|(value, (a, b))| *value = a + off[phase] * (b - a));
    (between[0], between[width + 1]) = (between[1], between[width]);
    let (pixels, rest) = out.as_chunks_mut::<N>();
    for (pixels, taps) in pixels.iter_mut().zip(between.windows(3)) {
        *pixels = spread(taps, &off);
    }
    if let Some(taps) = between.windows(3).nth(pixels.len()) {
        let last = spread(taps, &off);
        rest.copy_from_slice(&last[..rest.len()]);
    }
}

/// The `N` values that belong to the middle one of three.
#[inline(always)]
fn spread<const N: usize>(taps: &[f32], off: &[f32; N]) -> [f32; N] {
    core::array::from_fn(|phase| {
        let first = 2 * phase / N;
        taps[first] + off[phase] * (taps[first + 1] - taps[first])
    })
}

impl Part<'_> {
    /// Takes in scores from place `first` of the run on.
    #[inline(always)]
    pub(super) fn take(&mut self, first: usize, turn: Turn, scores: &[f32]) {
        let count = scores.len();
        let best = &mut self.best[first..][..count];
        let before = &mut self.before[first..][..count];
        let after = &mut self.after[first..][..count];
        let previous = &mut self.previous[first..][..count];
        let sum = &mut self.sum[first..][..count];
        let frame = &mut self.frame[first..][..count];
        for (at, score) in scores.iter().enumerate() {
            let score = *score;
            let leads = score > best[at];
            let waits = frame[at].to_bits() == turn.last.to_bits();
            let after_it = if waits { score } else { after[at] };
            after[at] = if leads { ABSENT } else { after_it };
            before[at] = if leads { previous[at] } else { before[at] };
            best[at] = if leads { score } else { best[at] };
            frame[at] = if leads { turn.frame } else { frame[at] };
            previous[at] = score;
            sum[at] += score;
        }
    }

    /// Keeps `values` in `picked` where the frame that was taken in last leads.
    #[inline(always)]
    pub(super) fn pick(&self, first: usize, turn: Turn, values: &[f32], picked: &mut [f32]) {
        let frames = &self.frame[first..first + values.len()];
        for ((picked, value), frame) in picked.iter_mut().zip(values).zip(frames) {
            // Written in bits: a choice between two places in memory would be made pixel by pixel.
            let leads = u32::from(frame.to_bits() == turn.frame.to_bits()).wrapping_neg();
            let kept = picked.to_bits() & !leads;
            *picked = f32::from_bits(kept | (value.to_bits() & leads));
        }
    }
}

/// Natural logarithm of a positive normal number to a few units of the last place: 2 artanh((m - 1) / (m + 1)) of the mantissa between
/// the roots of a half and of two, by its series.
#[inline(always)]
fn logarithm(value: f32) -> f32 {
    const LN_2: f32 = core::f32::consts::LN_2;
    // Bits of the root of a half: below it lies the half of the mantissas that are doubled.
    const ROOT: u32 = 0x3f35_04f3;
    let bits = value.to_bits().wrapping_sub(ROOT);
    let exponent = bits.cast_signed() >> 23;
    let mantissa = f32::from_bits((bits & 0x007f_ffff).wrapping_add(ROOT));
    let t = (mantissa - 1.0) / (mantissa + 1.0);
    let square = t * t;
    let series = 1.0 + square * (1.0 / 3.0 + square * (0.2 + square * (1.0 / 7.0 + square / 9.0)));
    crate::pixels::convert::small_f32(exponent) * LN_2 + 2.0 * t * series
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slope_stays_a_slope_when_it_grows() {
        fn check<const N: usize>() {
            let small = Plane::from_fn(Rect::new(0, 0, 5, 4), |x, y| {
                crate::pixels::convert::small_f32(3 * x - 2 * y)
            });
            let size = crate::pixels::convert::coordinate(N);
            // The last pixels of the smaller plane reach beyond the picture.
            let rect = Rect::new(0, 0, 5 * size - 1, 4 * size - 1);
            let mut large = Plane::zero(rect);
            for (y, row) in large.data.chunks_mut(rect.width()).enumerate() {
                grown_row::<N>(&small, y, &mut Vec::new(), row);
            }
            let inner = Rect::new(size, size, 4 * size, 3 * size);
            let place =
                |at: i32| (crate::pixels::convert::small_f32(at) + 0.5) / count_f32(N) - 0.5;
            for (x, y) in
                (inner.y0..inner.y1).flat_map(|y| (inner.x0..inner.x1).map(move |x| (x, y)))
            {
                let want = 3.0 * place(x) - 2.0 * place(y);
                assert!((large.at(x, y) - want).abs() < 1e-5, "{x} {y}");
            }
            assert_eq!(large.at(0, 0), small.at(0, 0), "the border goes on");
        }
        check::<2>();
        check::<4>();
    }

    #[test]
    fn logarithms_are_the_librarys() {
        for value in [
            1e-12_f32, 3e-5, 0.4999, 0.5, 0.707, 0.7072, 0.99, 1.0, 1.5, 77.0,
        ] {
            let (got, want) = (logarithm(value), libm::logf(value));
            assert!(
                (got - want).abs() <= 2e-6 * want.abs().max(0.5),
                "{value}: {got} {want}"
            );
        }
    }
}
