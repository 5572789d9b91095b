//! What is near and what is behind in a piece of a plate, by depth alone, at half size.

use super::DepthMap;
use super::behind::filled;
use super::look::half;
use super::veil_piece::share;
use crate::geometry::Rect;
use crate::imaging::basics::pyramid::smaller;
use crate::pixels::convert::{clamp_index, coordinate, count_f32};
use crate::pixels::{Plane, Planes};

/// How far a near part is looked for, in pixels of half size; for what lies before the whole piece; and where its own depth is taken
/// from.
pub(super) const REACH: usize = 12;
const WIDE_REACH: usize = 22;
const OWN_REACH: usize = 3;
/// A far part must be wider than twice this, and a near part.
const LEAST_FAR: usize = 2;
const LEAST_NEAR: usize = 2;
/// Distances in which near parts are looked for whose blur would reach a pixel.
const RINGS: [usize; 7] = [1, 2, 3, 4, 6, 8, 12];
/// Confidence from which on a depth is believed.
const SURE: f32 = 0.5;
/// Blur in pixels by which what is behind must differ from what is near, and the least such difference in frames.
const APART_PX: f32 = 2.0;
const APART: f32 = 1.0;
/// Pixels around the inner part whose light counts there.
const AROUND: i32 = 32;
/// Farther than any frame.
const NONE: f32 = 1e9;

/// The depths of a piece. All planes have half its size.
pub(super) struct Depths {
    pub(super) rect: Rect,
    /// Frames that what is near and what is behind lie apart.
    pub(super) gap: f32,
    /// The depth of what is behind.
    pub(super) far: Plane,
    /// The depth of the near part at or next to each pixel; its own where there is none.
    pub(super) near: Plane,
    /// The depth that shows.
    pub(super) visible: Plane,
    pub(super) sure: Vec<bool>,
    /// Where a near part may cover what is behind.
    pub(super) covered: Vec<bool>,
    /// Where a near part stands within reach, in the inner part.
    pub(super) beside: Vec<bool>,
    /// The same and a little more: where what is behind is worked out.
    pub(super) veiled: Vec<bool>,
    /// Certainly behind, and free.
    free: Plane,
}

impl Depths {
    /// Those of `outer`; `None` where nothing stands before anything else in `inner`.
    pub(super) fn of(map: &DepthMap, (inner, outer): (Rect, Rect), step_px: f32) -> Option<Self> {
        let gap = (APART_PX / step_px).max(APART);
        let depth = middles(&every_other(&map.depth, outer));
        let sure: Vec<bool> = every_other(&map.confidence, outer)
            .data
            .iter()
            .map(|sure| *sure >= SURE)
            .collect();
        let near = chosen(&depth, &sure);
        // Near parts no wider than this are specks of the depth map.
        let near = least_within(&most_within(&near, LEAST_NEAR), LEAST_NEAR);
        let near_around = least_within(&near, REACH);
        let steps = depth.data.iter().zip(&near_around.data);
        if !steps.into_iter().any(|(depth, near)| depth - near > gap) {
            return None;
        }
        let believed = believed(&depth, &sure, &near, (gap, 0.5 * step_px));
        let (far, wide) = farthest(&depth, &believed);
        let before = |far: &Plane| -> Vec<bool> {
            let pairs = depth.data.iter().zip(&far.data);
            pairs.map(|(depth, far)| *depth < far - gap).collect()
        };
        let (close, covered) = (before(&far), before(&wide));
        let within = inside(depth.rect, (inner, outer), 0);
        let pairs = near_around.data.iter().zip(&far.data);
        let reached: Vec<bool> = pairs.map(|(near, far)| *near < far - gap).collect();
        let pairs = reached.iter().zip(&within);
        let beside: Vec<bool> = pairs.map(|(reached, within)| *reached && *within).collect();
        if !beside.contains(&true) {
            return None;
        }
        let mut free = Plane::zero(depth.rect);
        for (at, value) in free.data.iter_mut().enumerate() {
            let behind = depth.data[at] >= wide.data[at] - gap - 1.0;
            *value = if believed[at] && behind { 1.0 } else { 0.0 };
        }
        let around = inside(depth.rect, (inner, outer), AROUND);
        let near = own_depth(&depth, &close, &sure);
        let mut visible = depth.clone();
        for (at, value) in visible.data.iter_mut().enumerate() {
            *value = if close[at] { near.data[at] } else { *value };
        }
        Some(Self {
            rect: depth.rect,
            gap,
            near,
            far,
            visible,
            sure,
            veiled: veiled(&reached, &covered, &around),
            covered,
            beside,
            free,
        })
    }

    /// The rectangle around all pixels beside near parts, in the plate, where the piece is `outer`. It begins at even pixels of the piece.
    pub(super) fn bounds(&self, outer: Rect) -> Rect {
        self.around(|at| self.beside[at]).shift(outer.x0, outer.y0)
    }

    /// The rectangle of the piece, at full size, in which frame `number` shows anything veiled, or what veils it.
    pub(super) fn wanted(&self, number: usize) -> Rect {
        let shown = |at: usize| {
            self.veiled[at]
                && [&self.far, &self.near]
                    .iter()
                    .any(|depth| share(depth.data[at], number) > 0.0)
        };
        self.around(shown)
    }

    /// The smallest rectangle at full size around all pixels at half size that `which` tells.
    fn around(&self, which: impl Fn(usize) -> bool) -> Rect {
        let width = self.rect.width();
        let mut found = Rect::default();
        for (row, y) in (0..self.rect.height()).zip(0..) {
            let places = row * width..(row + 1) * width;
            let first = places.clone().find(|at| which(*at));
            let last = places.rev().find(|at| which(*at));
            if let Some((first, last)) = first.zip(last) {
                let x = |at: usize| coordinate(at - row * width);
                found = found.union(Rect::new(2 * x(first), 2 * y, 2 * x(last) + 2, 2 * y + 2));
            }
        }
        found
    }

    /// `light` at half size, with what is behind carried in from where it is free.
    pub(super) fn carried_in(&self, light: &Planes) -> Planes {
        let small = Planes {
            rgb: light.rgb.each_ref().map(half),
        };
        filled(&small, &self.free)
    }
}

/// The farthest depth that is believed within reach of each pixel, its own at least, and that in a wider reach.
fn farthest(depth: &Plane, believed: &[bool]) -> (Plane, Plane) {
    let mut found = least_within(&chosen(depth, believed), LEAST_FAR);
    for (far, believed) in found.data.iter_mut().zip(believed) {
        *far = if *believed && *far < NONE { *far } else { -1.0 };
    }
    let wide = most_within(&found, WIDE_REACH);
    let mut far = most_within(&found, REACH);
    let pairs = far.data.iter_mut().zip(&depth.data);
    pairs.for_each(|(far, depth)| *far = far.max(*depth));
    (far, wide)
}

/// The depth of near parts, carried over from the pixels around to where they may end.
fn own_depth(depth: &Plane, close: &[bool], sure: &[bool]) -> Plane {
    let certain: Vec<bool> = close.iter().zip(sure).map(|(a, b)| *a && *b).collect();
    let mut near = least_within(&chosen(depth, &certain), OWN_REACH);
    let pairs = near.data.iter_mut().zip(&depth.data);
    pairs.for_each(|(near, depth)| *near = near.min(*depth));
    near
}

/// Whether each pixel's depth is believed: no nearer part blurs over it there.
fn believed(depth: &Plane, sure: &[bool], near: &Plane, (gap, step_px): (f32, f32)) -> Vec<bool> {
    let mut out = sure.to_vec();
    let (mut around, mut reached) = (near.clone(), 0);
    for ring in RINGS {
        around = least_within(&around, ring - reached);
        reached = ring;
        let pairs = out.iter_mut().zip(depth.data.iter().zip(&around.data));
        for (believed, (depth, near)) in pairs {
            let steps = depth - near;
            let reaches = step_px * steps + 1.5 >= count_f32(ring);
            *believed &= !(steps > gap && reaches);
        }
    }
    out
}

/// Whether each pixel at half size lies in `inner`, grown by `around` pixels.
fn inside(small: Rect, (inner, outer): (Rect, Rect), around: i32) -> Vec<bool> {
    let inner = inner.grow(around);
    (small.y0..small.y1)
        .flat_map(|y| {
            (small.x0..small.x1).map(move |x| inner.contains(outer.x0 + 2 * x, outer.y0 + 2 * y))
        })
        .collect()
}

/// What is `reached` by near parts or `covered`, as far as `within`.
fn veiled(reached: &[bool], covered: &[bool], within: &[bool]) -> Vec<bool> {
    reached
        .iter()
        .zip(covered)
        .zip(within)
        .map(|((reached, covered), within)| *within && (*reached || *covered))
        .collect()
}

fn chosen(depth: &Plane, wanted: &[bool]) -> Plane {
    let data = depth.data.iter().zip(wanted);
    Plane {
        rect: depth.rect,
        data: data
            .map(|(depth, wanted)| if *wanted { *depth } else { NONE })
            .collect(),
    }
}

/// Every other pixel of every other row of `outer`, at (0, 0).
fn every_other(plane: &Plane, outer: Rect) -> Plane {
    let local = Rect::new(0, 0, coordinate(outer.width()), coordinate(outer.height()));
    let mut out = Plane::zero(smaller(local));
    let width = out.rect.width();
    let left = clamp_index(outer.x0 - plane.rect.x0);
    for (row, y) in out
        .data
        .chunks_mut(width.max(1))
        .zip((outer.y0..).step_by(2))
    {
        let values = plane.row(y)[left..left + outer.width()].iter().step_by(2);
        row.iter_mut()
            .zip(values)
            .for_each(|(to, from)| *to = *from);
    }
    out
}

/// Medians of 3 x 3 pixels, the border repeated.
fn middles(plane: &Plane) -> Plane {
    Plane::from_fn(plane.rect, |x, y| {
        let mut around = [0.0_f32; 9];
        for (at, value) in (0_i32..).zip(&mut around) {
            *value = plane.nearest(x + at % 3 - 1, y + at / 3 - 1);
        }
        around.sort_unstable_by(f32::total_cmp);
        around[4]
    })
}

fn least_within(plane: &Plane, reach: usize) -> Plane {
    within(plane, reach, |a, b| if a < b { a } else { b })
}

pub(super) fn most_within(plane: &Plane, reach: usize) -> Plane {
    within(plane, reach, |a, b| if a > b { a } else { b })
}

/// The pick of all values within `reach` along both axes, by windows that double.
pub(super) fn within(plane: &Plane, reach: usize, pick: impl Fn(f32, f32) -> f32 + Copy) -> Plane {
    let (width, height) = (plane.rect.width(), plane.rect.height());
    let mut out = plane.clone();
    if reach == 0 || out.data.is_empty() {
        return out;
    }
    let mut line = vec![0.0_f32; width + 2 * reach];
    for row in out.data.chunks_mut(width) {
        line[..reach].fill(row[0]);
        line[reach..reach + width].copy_from_slice(row);
        line[reach + width..].fill(row[width - 1]);
        windows(&mut line, 1, 2 * reach + 1, pick);
        row.copy_from_slice(&line[..width]);
    }
    let mut rows = Vec::with_capacity((height + 2 * reach) * width);
    for y in 0..height + 2 * reach {
        let from = y.saturating_sub(reach).min(height - 1);
        rows.extend_from_slice(&out.data[from * width..][..width]);
    }
    windows(&mut rows, width, 2 * reach + 1, pick);
    out.data.copy_from_slice(&rows[..width * height]);
    out
}

/// Turns every row of `width` values into the pick of itself and the `count` - 1 rows after it, as far as there are so many.
fn windows(rows: &mut [f32], width: usize, count: usize, pick: impl Fn(f32, f32) -> f32 + Copy) {
    let mut spanned = 1;
    while spanned < count {
        let further = spanned.min(count - spanned) * width;
        let end = rows.len() - further;
        let mut start = 0;
        while start < end {
            let length = further.min(end - start);
            let (here, there) = rows.split_at_mut(start + further);
            let pairs = here[start..start + length].iter_mut().zip(&there[..length]);
            pairs.for_each(|(here, there)| *here = pick(*here, *there));
            start += length;
        }
        spanned += further / width;
    }
}
