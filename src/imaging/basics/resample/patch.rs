//! A piece of a source picture with its channels side by side and its border pixels carried outwards, so that the inner loops
//! need no tests.

use super::kernel::Taps;
use crate::geometry::Rect;
use crate::pixels::convert::clamp_index;
use crate::pixels::{Image, Plane, Planes};

/// From this light on a channel counts as bright: next to it the negative lobes of a kernel would draw a dark rim.
pub(super) const BRIGHT: f32 = 0.9;

/// Something that can be sampled: `N - 1` channels and, in the last place, a mark that is 1 where a channel is bright. The mark
/// travels with the pixels from the pass along rows to the pass along columns.
pub(super) trait Source<const N: usize>: Sync {
    fn rect(&self) -> Rect;
    /// Copies the pixels `x0..x0 + out.len()` of row `y`; all of them lie inside.
    fn fetch(&self, x0: i32, y: i32, out: &mut [[f32; N]]);
}

impl Source<4> for Planes {
    fn rect(&self) -> Rect {
        self.rgb[0].rect
    }

    fn fetch(&self, x0: i32, y: i32, out: &mut [[f32; 4]]) {
        let start = self.rect().index(x0, y);
        let [red, green, blue] = &self.rgb;
        let (red, green) = (&red.data[start..], &green.data[start..]);
        let blue = &blue.data[start..];
        for (pixel, ((r, g), b)) in out.iter_mut().zip(red.iter().zip(green).zip(blue)) {
            *pixel = [*r, *g, *b, mark(r.max(*g).max(*b))];
        }
    }
}

impl Source<5> for Image {
    fn rect(&self) -> Rect {
        self.rect
    }

    fn fetch(&self, x0: i32, y: i32, out: &mut [[f32; 5]]) {
        let start = self.rect.index(x0, y);
        for (pixel, [r, g, b, cover]) in out.iter_mut().zip(&self.data[start..]) {
            *pixel = [*r, *g, *b, *cover, mark(r.max(*g).max(*b))];
        }
    }
}

impl Source<2> for Plane {
    fn rect(&self) -> Rect {
        self.rect
    }

    fn fetch(&self, x0: i32, y: i32, out: &mut [[f32; 2]]) {
        let start = self.rect.index(x0, y);
        for (pixel, value) in out.iter_mut().zip(&self.data[start..]) {
            *pixel = [*value, mark(*value)];
        }
    }
}

fn mark(value: f32) -> f32 {
    if value >= BRIGHT { 1.0 } else { 0.0 }
}

/// The pixels of `rect`, some of which may lie outside the source.
#[derive(Debug)]
pub(super) struct Patch<const N: usize> {
    pub(super) rect: Rect,
    pub(super) data: Vec<[f32; N]>,
}

impl<const N: usize> Patch<N> {
    /// Reads `rect` from `source`, which must not be empty; outside pixels repeat the nearest border pixel.
    pub(super) fn read(source: &impl Source<N>, rect: Rect) -> Self {
        let inside = source.rect();
        let width = rect.width();
        let mut data = vec![[0.0; N]; rect.area()];
        let x0 = rect.x0.clamp(inside.x0, inside.x1 - 1);
        let x1 = rect.x1.clamp(x0 + 1, inside.x1);
        let left = clamp_index(x0 - rect.x0).min(width - 1);
        let count = clamp_index(x1 - x0).min(width - left);
        let rows = rect.y0..rect.y1;
        for (y, row) in rows.zip(data.chunks_mut(width)) {
            let y = y.clamp(inside.y0, inside.y1 - 1);
            source.fetch(x0, y, &mut row[left..left + count]);
            let (first, last) = (row[left], row[left + count - 1]);
            row[..left].fill(first);
            row[left + count..].fill(last);
        }
        Self { rect, data }
    }

    /// The row `y` from column `x` on.
    pub(super) fn from(&self, x: i32, y: i32) -> &[[f32; N]] {
        let start = clamp_index(y - self.rect.y0) * self.rect.width();
        &self.data[start + clamp_index(x - self.rect.x0)..start + self.rect.width()]
    }
}

/// Channels of a picture with coverage, its mark included.
const WITH_COVERAGE: usize = 5;
const COVERAGE: usize = 3;

/// How samples are held back where a kernel would ring: next to a bright value, and where the coverage changes, all channels stay
/// within the two pixels nearest to the sample, so that colour and coverage keep step along the edge of a cut-out.
#[inline]
fn hold<const N: usize>(sum: [f32; N], taps: &[[f32; N]], first: usize) -> [f32; N] {
    let mut marked = taps.iter().any(|tap| tap[N - 1] > 0.0);
    if N == WITH_COVERAGE {
        let cover = taps[0][COVERAGE];
        marked |= taps.iter().any(|tap| (tap[COVERAGE] - cover).abs() > 0.0);
    }
    let mut held = sum;
    if marked {
        let (before, after) = (taps[first], taps[first + 1]);
        for (lane, value) in held.iter_mut().enumerate() {
            let low = before[lane].min(after[lane]);
            let high = before[lane].max(after[lane]);
            *value = value.max(low).min(high);
        }
    }
    held[N - 1] = if marked { 1.0 } else { 0.0 };
    held
}

/// Weighs `taps` (as many as the table has) at sub-pixel step `phase`.
#[inline]
pub(super) fn weigh<const N: usize>(taps: &[[f32; N]], table: &Taps, phase: usize) -> [f32; N] {
    match table.count() {
        2 => weigh_counted::<N, 2>(taps, table, phase),
        4 => weigh_counted::<N, 4>(taps, table, phase),
        _ => weigh_counted::<N, 6>(taps, table, phase),
    }
}

#[inline]
fn weigh_counted<const N: usize, const T: usize>(
    taps: &[[f32; N]],
    table: &Taps,
    phase: usize,
) -> [f32; N] {
    let taps = &taps[..T];
    let weights = table.row(phase);
    let mut sum = [0.0_f32; N];
    for (pixel, weight) in taps.iter().zip(weights) {
        for (total, value) in sum.iter_mut().zip(pixel) {
            *total += weight * value;
        }
    }
    if T == 2 {
        sum
    } else {
        hold(sum, taps, T / 2 - 1)
    }
}
