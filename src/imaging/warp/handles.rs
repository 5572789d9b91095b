//! Handles: points that are moved, the model following as stiffly as it can.

use super::smoothstep;
use crate::geometry::{Point, Rect};

/// A point and where it was moved to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Handle {
    /// Where it was.
    pub was: Point,
    /// Where it is now.
    pub now: Point,
}

/// Moved points inside an outline that stays.
#[derive(Debug, Clone, PartialEq)]
pub struct Handles {
    handles: Vec<Handle>,
    outline: Vec<Point>,
    soft_px: f64,
}

/// Handles that stand for a line that is to stay straight.
const ALONG_LINE: u8 = 8;

impl Handles {
    /// `handles` move what lies inside `outline` (everything without one); the move dies away over the last `soft_px` inside it.
    #[must_use]
    pub fn new(handles: Vec<Handle>, outline: Vec<Point>, soft_px: f64) -> Self {
        Self {
            handles,
            outline,
            soft_px: soft_px.max(1.0),
        }
    }

    /// The handles of a straight line that is to stay one: from `was` (its two ends) to `now`.
    #[must_use]
    pub fn of_line(was: [Point; 2], now: [Point; 2]) -> Vec<Handle> {
        let share = |step: u8| f64::from(step) / f64::from(ALONG_LINE);
        (0..=ALONG_LINE)
            .map(|step| Handle {
                was: was[0].towards(was[1], share(step)),
                now: now[0].towards(now[1], share(step)),
            })
            .collect()
    }

    /// Where `point` of the warped plate was.
    #[must_use]
    pub fn was_at(&self, point: Point) -> Point {
        let share = self.share(point);
        if share <= 0.0 {
            return point;
        }
        point.towards(self.stiffly(point), share)
    }

    /// The turn and shift that takes the handles back where they were, near ones counting most.
    ///
    /// Source: Schaefer, `McPhail` and Warren 2006, rigid moving least squares with weights of one over the distance squared, written as
    /// the turn that is nearest by least squares. Taken from `now` to `was`, it is the way back itself and needs no inverse.
    fn stiffly(&self, point: Point) -> Point {
        let mut sums = [0.0_f64; 5];
        for handle in &self.handles {
            let away = point.distance(handle.now);
            if away < 1e-9 {
                return handle.was;
            }
            let weight = 1.0 / (away * away);
            let of = [1.0, handle.now.x, handle.now.y, handle.was.x, handle.was.y];
            for (sum, of) in sums.iter_mut().zip(of) {
                *sum += weight * of;
            }
        }
        let [total, now_x, now_y, was_x, was_y] = sums;
        if total <= 0.0 {
            return point;
        }
        let now = Point::new(now_x / total, now_y / total);
        let was = Point::new(was_x / total, was_y / total);
        let (mut cos, mut sin) = (0.0, 0.0);
        for handle in &self.handles {
            let away = point.distance(handle.now);
            let weight = 1.0 / (away * away);
            let (ax, ay) = (handle.now.x - now.x, handle.now.y - now.y);
            let (bx, by) = (handle.was.x - was.x, handle.was.y - was.y);
            cos += weight * (ax * bx + ay * by);
            sin += weight * (ax * by - ay * bx);
        }
        let size = (cos * cos + sin * sin).sqrt();
        let (cos, sin) = if size < 1e-12 {
            (1.0, 0.0)
        } else {
            (cos / size, sin / size)
        };
        let (x, y) = (point.x - now.x, point.y - now.y);
        Point::new(was.x + cos * x - sin * y, was.y + sin * x + cos * y)
    }

    fn share(&self, point: Point) -> f64 {
        if self.outline.len() < 3 {
            return 1.0;
        }
        smoothstep(depth_inside(&self.outline, point) / self.soft_px)
    }

    /// Pixels that it changes.
    #[must_use]
    pub fn bounds(&self) -> Rect {
        if self.outline.len() < 3 {
            return Rect::new(i32::MIN / 4, i32::MIN / 4, i32::MAX / 4, i32::MAX / 4);
        }
        Rect::around(&self.outline)
    }
}

/// How far `point` lies inside a closed line; negative outside.
pub(super) fn depth_inside(outline: &[Point], point: Point) -> f64 {
    let mut nearest = f64::MAX;
    let mut inside = false;
    for (at, from) in outline.iter().enumerate() {
        let to = outline[(at + 1) % outline.len()];
        nearest = nearest.min(nearest_on(*from, to, point).distance(point));
        if (from.y > point.y) != (to.y > point.y) {
            let x = from.x + (point.y - from.y) / (to.y - from.y) * (to.x - from.x);
            inside ^= point.x < x;
        }
    }
    if inside { nearest } else { -nearest }
}

/// The place of the straight piece from `from` to `to` that lies nearest to `point`.
pub(super) fn nearest_on(from: Point, to: Point, point: Point) -> Point {
    let (x, y) = (to.x - from.x, to.y - from.y);
    let length = x * x + y * y;
    if length <= 0.0 {
        return from;
    }
    let t = ((point.x - from.x) * x + (point.y - from.y) * y) / length;
    from.towards(to, t.clamp(0.0, 1.0))
}
