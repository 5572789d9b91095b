//! Corners: a region is put into another perspective.

use super::handles::{depth_inside, nearest_on};
use super::smoothstep;
use crate::geometry::{Point, Rect, Transform};

/// Four corners that were moved; what lies round them gives way.
#[derive(Debug, Clone, PartialEq)]
pub struct Corners {
    now: [Point; 4],
    was_from_now: Transform,
    soft_px: f64,
}

/// A soft edge is at least so many times as wide as the largest move: below 1.5 the picture would fold.
const LEAST_SOFT: f64 = 2.0;

impl Corners {
    /// The region with the corners `was`, in order round it, is seen with them at `now`. What lies outside follows less and less over
    /// `soft_px`, which is widened to twice the largest move.
    ///
    /// `None` when three corners lie on a line or the region would be turned over.
    #[must_use]
    pub fn new(was: [Point; 4], now: [Point; 4], soft_px: f64) -> Option<Self> {
        if turn(&was)? != turn(&now)? {
            return None;
        }
        let largest = was.iter().zip(&now).map(|(was, now)| was.distance(*now));
        Some(Self {
            was_from_now: Transform::from_corners(now, was)?,
            soft_px: soft_px
                .max(LEAST_SOFT * largest.fold(0.0, f64::max))
                .max(1.0),
            now,
        })
    }

    /// Where `point` of the warped plate was.
    #[must_use]
    pub fn was_at(&self, point: Point) -> Point {
        if depth_inside(&self.now, point) >= 0.0 {
            return self.was_from_now.apply(point);
        }
        let edges = (0..4).map(|at| nearest_on(self.now[at], self.now[(at + 1) % 4], point));
        let nearest = edges.fold(self.now[0], |best, edge| {
            if edge.distance(point) < best.distance(point) {
                edge
            } else {
                best
            }
        });
        let share = 1.0 - smoothstep(nearest.distance(point) / self.soft_px);
        if share <= 0.0 {
            return point;
        }
        let was = self.was_from_now.apply(nearest);
        Point::new(
            point.x + share * (was.x - nearest.x),
            point.y + share * (was.y - nearest.y),
        )
    }

    /// Pixels that it changes.
    #[must_use]
    pub fn bounds(&self) -> Rect {
        let margin = crate::geometry::rect::whole(self.soft_px.ceil()) + 2;
        Rect::around(&self.now).grow(margin)
    }
}

/// Which way round four corners run: whether clockwise as seen; `None` unless they make a convex region.
fn turn(corners: &[Point; 4]) -> Option<bool> {
    let cross = |at: usize| {
        let [a, b, c] = [0, 1, 2].map(|step| corners[(at + step) % 4]);
        (b.x - a.x) * (c.y - b.y) - (b.y - a.y) * (c.x - b.x)
    };
    let first = cross(0) > 0.0;
    let same = (0..4).all(|at| (cross(at) > 0.0) == first && cross(at).abs() > 1e-6);
    same.then_some(first)
}
