//! How much of each pixel a near part covers, found in its own frame to the pixel.

use super::veil_depth::within;
use crate::pixels::{Plane, Planes};

/// Added before the root.
const DARK: f32 = 1e-3;
/// How much less free a pixel is for every pixel that it lies inside.
const INWARDS: f32 = 0.05;
/// How far inside its outline by depth a near part may really end, in pixels.
const DEEPEST: usize = 16;
/// Where nothing differs by this many times the least difference, coverage is not told by differences.
const TELLING: f32 = 3.0;

/// Where coverage is looked for.
pub(super) struct Limits<'a> {
    /// Where a near part may cover what is behind, at half size.
    pub(super) covered: &'a [bool],
    /// Difference of rooted colours up to which a pixel looks like what is behind.
    pub(super) least: f32,
}

/// The root of light, in which noise is much the same everywhere.
#[inline(always)]
pub(super) fn rooted(light: f32) -> f32 {
    (light.max(0.0) + DARK).sqrt()
}

/// How far two pictures differ in rooted colour.
pub(super) fn rooted_distance(one: &Planes, other: &Planes) -> Plane {
    let mut out = Plane::zero(one.rect());
    for (one, other) in one.rgb.iter().zip(&other.rgb) {
        let pairs = out.data.iter_mut().zip(one.data.iter().zip(&other.data));
        for (sum, (one, other)) in pairs {
            let off = rooted(*one) - rooted(*other);
            *sum += off * off;
        }
    }
    out.data.iter_mut().for_each(|sum| *sum = sum.sqrt());
    out
}

/// How much each pixel is covered, from how far the near part's frame `differs` from what shines past: what looks like that, and is
/// reached from outside through pixels that do, is free. Deeper inside the outline by depth, pixels count as covered more and more.
pub(super) fn coverage(differs: &Plane, limits: &Limits<'_>) -> Plane {
    let rect = differs.rect;
    let (width, height) = (rect.width(), rect.height());
    let most = within(differs, 2, |a, b| if a > b { a } else { b });
    let small = width.div_ceil(2);
    let mut room = vec![1.0_f32; differs.data.len()];
    let mut free = vec![1.0_f32; differs.data.len()];
    for (at, (room, free)) in room.iter_mut().zip(&mut free).enumerate() {
        if limits.covered[at / width / 2 * small + at % width / 2] {
            let least = limits.least;
            let whole = (most.data[at] - least).max(TELLING * least);
            *room = 1.0 - ((differs.data[at] - least) / whole).clamp(0.0, 1.0);
            *free = 0.0;
        }
    }
    let mut next = free.clone();
    for _ in 0..DEEPEST {
        for y in 0..height {
            let above = &free[y.saturating_sub(1) * width..][..width];
            let below = &free[(y + 1).min(height - 1) * width..][..width];
            let here = &free[y * width..][..width];
            let room = &room[y * width..][..width];
            let out = &mut next[y * width..][..width];
            flow_row([above, here, below], room, out);
        }
        std::mem::swap(&mut free, &mut next);
    }
    Plane {
        rect,
        data: free.iter().map(|free| 1.0 - free).collect(),
    }
}

/// One row of freedom flowing in from the pixels around, as far as there is room for it.
fn flow_row([above, here, below]: [&[f32]; 3], room: &[f32], out: &mut [f32]) {
    let last = here.len() - 1;
    let most = |a: f32, b: f32| if a > b { a } else { b };
    let least = |a: f32, b: f32| if a < b { a } else { b };
    for (at, out) in out.iter_mut().enumerate() {
        let sides = most(here[at.saturating_sub(1)], here[(at + 1).min(last)]);
        let around = most(most(above[at], below[at]), sides) - INWARDS;
        *out = most(here[at], least(room[at], around));
    }
}

/// The least of some planes in the 3 x 3 pixels around each pixel.
pub(super) fn darkest(planes: [&Plane; 3]) -> Plane {
    let least = |a: f32, b: f32| if a < b { a } else { b };
    let mut out = planes[0].clone();
    for plane in &planes[1..] {
        let pairs = out.data.iter_mut().zip(&plane.data);
        pairs.for_each(|(out, value)| *out = least(*out, *value));
    }
    within(&out, 1, least)
}
