//! What near parts spread over the frames behind them.

use super::disc::{FARTHEST_PX, disc};
use super::look::half;
use crate::geometry::Rect;
use crate::imaging::basics::pyramid::smaller;
use crate::pixels::Plane;
use crate::pixels::convert::{clamp_index, count_f32, floor_i32};

/// Radius at half size from which on blur is worked out at a quarter of the size.
const WIDE_PX: f32 = 5.0;
/// How far the radii of neighbouring depths lie apart at half size, at least.
const APART_PX: f32 = 0.8;

/// All that shows in a piece, at half size, sorted by depth.
pub(super) struct Parts {
    rect: Rect,
    /// Pixels at half size that the radius of blur grows per frame, and frames that a part must lie before what it veils.
    step_px: f32,
    gap: f32,
    /// Frames between two depths that are told apart.
    width: f32,
    /// Red, green, blue and coverage of what lies around each depth.
    parts: Vec<(f32, [Plane; 4])>,
}

impl Parts {
    /// `visible` light and coverage at `depth`; the blur grows by `step_px` pixels of the plate per frame.
    pub(super) fn new(visible: &[Plane; 4], depth: &Plane, (step_px, gap): (f32, f32)) -> Self {
        let step_px = 0.5 * step_px;
        let width = (APART_PX / step_px).max(1.0);
        let around = |focus: f32| {
            let share = shares(depth, focus, width);
            let mut pairs = share.data.iter().zip(&visible[3].data);
            pairs.any(|(share, cover)| share * cover > 0.0).then(|| {
                let part = visible.each_ref().map(|plane| product(plane, &share));
                (focus, part)
            })
        };
        Self {
            rect: depth.rect,
            step_px,
            gap,
            width,
            parts: depths(depth, width).filter_map(around).collect(),
        }
    }

    /// What they spread over the frames that show each pixel at `far`, where `wanted`; at half size.
    pub(super) fn spread_to(&self, far: &Plane, wanted: &[bool]) -> [Plane; 4] {
        let mut out = [(); 4].map(|()| Plane::zero(self.rect));
        for focus in depths(far, self.width) {
            let mut share = shares(far, focus, self.width);
            let pairs = share.data.iter_mut().zip(wanted);
            pairs.for_each(|(share, wanted)| *share = if *wanted { *share } else { 0.0 });
            if share.data.iter().any(|share| *share > 0.0) {
                for (sum, plane) in out.iter_mut().zip(self.spread(focus)) {
                    add(sum, &product(&plane, &share));
                }
            }
        }
        out
    }

    /// What the parts before `focus` spread over its frame. Wide blur is worked out at a quarter of the size.
    fn spread(&self, focus: f32) -> [Plane; 4] {
        let mut fine = [(); 4].map(|()| Plane::zero(self.rect));
        let mut wide = [(); 4].map(|()| Plane::zero(smaller(self.rect)));
        for (depth, part) in self.parts.iter().filter(|part| part.0 < focus - self.gap) {
            let radius = (self.step_px * (focus - depth)).min(FARTHEST_PX);
            for ((fine, wide), plane) in fine.iter_mut().zip(&mut wide).zip(part) {
                if radius < WIDE_PX {
                    add(fine, &disc(plane, radius));
                } else {
                    add(wide, &disc(&half(plane), 0.5 * radius));
                }
            }
        }
        for (sum, plane) in fine.iter_mut().zip(&wide) {
            add(sum, &doubled(plane, self.rect));
        }
        fine
    }
}

/// Depths `width` apart that all of `depth` lies between.
fn depths(depth: &Plane, width: f32) -> impl Iterator<Item = f32> {
    let (least, most) = depth.data.iter().fold((f32::MAX, 0.0_f32), |range, at| {
        (range.0.min(*at), range.1.max(*at))
    });
    let number = move |depth: f32| clamp_index(floor_i32(depth / width));
    (number(least)..=number(most) + 1).map(move |number| width * count_f32(number))
}

/// How much of each pixel's depth lies around `focus`.
fn shares(depth: &Plane, focus: f32, width: f32) -> Plane {
    depth.map(|depth| (1.0 - (depth - focus).abs() / width).max(0.0))
}

fn product(plane: &Plane, share: &Plane) -> Plane {
    let mut out = plane.clone();
    let pairs = out.data.iter_mut().zip(&share.data);
    pairs.for_each(|(value, share)| *value *= share);
    out
}

fn add(sum: &mut Plane, plane: &Plane) {
    let pairs = sum.data.iter_mut().zip(&plane.data);
    pairs.for_each(|(sum, value)| *sum += value);
}

/// `small`, which holds the means of 2 x 2 pixels of `rect`, brought to its size along straight lines; the border repeated.
pub(super) fn doubled(small: &Plane, rect: Rect) -> Plane {
    let (width, height) = (rect.width(), rect.height());
    let (narrow, low) = (small.rect.width(), small.rect.height());
    let mut out = Plane::zero(rect);
    let mut line = vec![0.0_f32; narrow];
    for y in 0..height {
        let own = &small.data[y / 2 * narrow..][..narrow];
        let other = if y % 2 == 0 {
            (y / 2).saturating_sub(1)
        } else {
            (y / 2 + 1).min(low - 1)
        };
        let other = &small.data[other * narrow..][..narrow];
        for (value, (own, other)) in line.iter_mut().zip(own.iter().zip(other)) {
            *value = 0.75 * own + 0.25 * other;
        }
        let row = &mut out.data[y * width..(y + 1) * width];
        row[0] = line[0];
        for (pair, near) in row[1..].chunks_mut(2).zip(line.windows(2)) {
            pair[0] = 0.75 * near[0] + 0.25 * near[1];
            if let Some(second) = pair.get_mut(1) {
                *second = 0.25 * near[0] + 0.75 * near[1];
            }
        }
        if width % 2 == 0 {
            row[width - 1] = line[narrow - 1];
        }
    }
    out
}
