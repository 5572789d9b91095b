//! What near parts spread over the frames behind them.

use super::depth::half;
use super::disc::{FARTHEST_PX, disc};
use crate::geometry::Rect;
use crate::imaging::basics::pyramid::smaller;
use crate::pixels::Plane;
use crate::pixels::convert::count_f32;

/// Radius at half size from which on blur is worked out at a quarter of the size, and how near two radii share a disc.
const WIDE_PX: f32 = 5.0;
const ALIKE_PX: f32 = 0.8;

/// All that shows in a piece, at half size, sorted by depth.
pub(super) struct Parts {
    rect: Rect,
    /// Pixels that the radius of blur grows per frame, and frames that a part must lie before what it veils.
    step_px: f32,
    gap: f32,
    /// Red, green, blue and coverage of what lies around each whole frame.
    parts: Vec<(f32, [Plane; 4])>,
}

impl Parts {
    /// `visible` light and coverage at `depth`, in a stack whose last frame is `last`.
    pub(super) fn new(
        visible: &[Plane; 4],
        depth: &Plane,
        (step_px, gap): (f32, f32),
        last: usize,
    ) -> Self {
        let around = |number: usize| {
            let focus = count_f32(number);
            let share = depth.map(|depth| (1.0 - (depth - focus).abs()).max(0.0));
            let mut pairs = share.data.iter().zip(&visible[3].data);
            pairs.any(|(share, cover)| share * cover > 0.0).then(|| {
                let part = visible.each_ref().map(|plane| {
                    let mut part = plane.clone();
                    let pairs = part.data.iter_mut().zip(&share.data);
                    pairs.for_each(|(value, share)| *value *= share);
                    part
                });
                (focus, part)
            })
        };
        Self {
            rect: depth.rect,
            step_px,
            gap,
            parts: (0..=last).filter_map(around).collect(),
        }
    }

    /// What the parts before `focus` spread over its frame, at half size. Wide blur is worked out at a quarter of the size.
    pub(super) fn spread(&self, focus: f32) -> [Plane; 4] {
        let mut fine = [(); 4].map(|()| Plane::zero(self.rect));
        let small = smaller(self.rect);
        let mut wide = [(); 4].map(|()| Plane::zero(small));
        let mut waiting: Option<(f32, [Plane; 4])> = None;
        for (depth, part) in self.parts.iter().filter(|part| part.0 < focus - self.gap) {
            let radius = (0.5 * self.step_px * (focus - depth)).min(FARTHEST_PX);
            if radius < WIDE_PX {
                add_discs(&mut fine, part, radius);
            } else {
                let part = part.each_ref().map(half);
                // Two neighbouring depths share a disc between them.
                waiting = match waiting.take() {
                    Some((other, mut sum)) if other - radius < ALIKE_PX => {
                        sum.iter_mut()
                            .zip(&part)
                            .for_each(|(sum, part)| add(sum, part));
                        add_discs(&mut wide, &sum, 0.25 * (other + radius));
                        None
                    }
                    Some((other, sum)) => {
                        add_discs(&mut wide, &sum, 0.5 * other);
                        Some((radius, part))
                    }
                    None => Some((radius, part)),
                };
            }
        }
        if let Some((radius, part)) = waiting {
            add_discs(&mut wide, &part, 0.5 * radius);
        }
        for (sum, plane) in fine.iter_mut().zip(&wide) {
            add(sum, &doubled(plane, self.rect));
        }
        fine
    }
}

fn add(sum: &mut Plane, plane: &Plane) {
    let pairs = sum.data.iter_mut().zip(&plane.data);
    pairs.for_each(|(sum, value)| *sum += value);
}

fn add_discs(sums: &mut [Plane; 4], part: &[Plane; 4], radius: f32) {
    for (sum, plane) in sums.iter_mut().zip(part) {
        add(sum, &disc(plane, radius));
    }
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
