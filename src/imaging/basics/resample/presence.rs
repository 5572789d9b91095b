//! How much of each pixel lies on the picture that it is sampled from.

use super::blocks::{self, Widen, spot_of};
use super::{inside_of, whole_shift};
use crate::geometry::{Point, Rect, Transform};
use crate::pixels::Plane;
use crate::pixels::convert::coordinate;

/// Sides of the squares that are looked at as one; no value depends on it.
const SIDE: usize = 32;

/// How much of each pixel of `target` lies on `source` when sampled through `source_from_target`, as [`super::sample_planes`] tells it;
/// `None` where all of them lie on it wholly.
#[must_use]
pub fn presence(source: Rect, target: Rect, source_from_target: &Transform) -> Option<Plane> {
    let plane = if let Some((dx, dy)) = whole_shift(source_from_target) {
        if source.covers(target.shift(dx, dy)) {
            return None;
        }
        inside_of(source, target.shift(dx, dy), target)
    } else {
        let is_covered = |part: Rect| {
            let bounds = source_from_target.bounds_of(part);
            bounds.is_some_and(|bounds| source.grow(-1).covers(bounds))
        };
        if is_covered(target) {
            return None;
        }
        let mut plane = Plane::filled(target, 1.0);
        for square in squares(target).filter(|square| !is_covered(*square)) {
            for y in square.y0..square.y1 {
                for x in square.x0..square.x1 {
                    let centre = Point::new(f64::from(x) + 0.5, f64::from(y) + 0.5);
                    plane.data[target.index(x, y)] =
                        spot_of(source_from_target, centre, Widen::Never)
                            .map_or(0.0, |spot| blocks::presence(source, spot.u, spot.v));
                }
            }
        }
        plane
    };
    plane
        .data
        .iter()
        .any(|present| *present < 1.0)
        .then_some(plane)
}

fn squares(target: Rect) -> impl Iterator<Item = Rect> {
    let square =
        move |x, y| Rect::new(x, y, x + coordinate(SIDE), y + coordinate(SIDE)).intersect(target);
    let rows = (target.y0..target.y1).step_by(SIDE);
    rows.flat_map(move |y| {
        let columns = (target.x0..target.x1).step_by(SIDE);
        columns.map(move |x| square(x, y))
    })
}
