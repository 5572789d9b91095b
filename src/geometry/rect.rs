//! Whole-pixel rectangles and sizes.

use crate::geometry::Point;
use serde::{Deserialize, Serialize};

/// Width and height of a picture in pixels.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Size {
    /// Pixels across.
    pub width: u32,
    /// Pixels down.
    pub height: u32,
}

impl Size {
    /// A size of `width` by `height` pixels.
    #[must_use]
    pub const fn new(width: u32, height: u32) -> Self {
        Self { width, height }
    }

    /// Number of pixels.
    #[must_use]
    pub const fn area(self) -> u64 {
        self.width as u64 * self.height as u64
    }

    /// The rectangle from the origin that this size covers. Sizes beyond 2^31 - 1 do not occur: `files` refuses them.
    #[must_use]
    pub fn rect(self) -> Rect {
        let side = |length: u32| i32::try_from(length).unwrap_or(i32::MAX);
        Rect::new(0, 0, side(self.width), side(self.height))
    }

    /// The size at zoom level `level`: halved that many times, rounded up.
    #[must_use]
    pub fn at_level(self, level: u32) -> Self {
        let halve = |length: u32| length.div_ceil(1 << level.min(31)).max(1);
        Self::new(halve(self.width), halve(self.height))
    }
}

/// A half-open rectangle of whole pixels: `x0 <= x < x1`, `y0 <= y < y1`. Empty when a side is not positive.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub struct Rect {
    /// First column.
    pub x0: i32,
    /// First row.
    pub y0: i32,
    /// One past the last column.
    pub x1: i32,
    /// One past the last row.
    pub y1: i32,
}

impl Rect {
    /// The rectangle from (x0, y0) to, but not including, (x1, y1).
    #[must_use]
    pub const fn new(x0: i32, y0: i32, x1: i32, y1: i32) -> Self {
        Self { x0, y0, x1, y1 }
    }

    /// Pixels across, 0 when empty.
    #[must_use]
    pub fn width(self) -> usize {
        usize::try_from(self.x1.saturating_sub(self.x0)).unwrap_or(0)
    }

    /// Pixels down, 0 when empty.
    #[must_use]
    pub fn height(self) -> usize {
        usize::try_from(self.y1.saturating_sub(self.y0)).unwrap_or(0)
    }

    /// Number of pixels.
    #[must_use]
    pub fn area(self) -> usize {
        self.width() * self.height()
    }

    /// Whether it holds no pixel.
    #[must_use]
    pub fn is_empty(self) -> bool {
        self.x1 <= self.x0 || self.y1 <= self.y0
    }

    /// Whether pixel (x, y) lies inside.
    #[must_use]
    pub fn contains(self, x: i32, y: i32) -> bool {
        self.x0 <= x && x < self.x1 && self.y0 <= y && y < self.y1
    }

    /// Whether `other` lies wholly inside.
    #[must_use]
    pub fn covers(self, other: Self) -> bool {
        other.is_empty()
            || (self.x0 <= other.x0
                && self.y0 <= other.y0
                && other.x1 <= self.x1
                && other.y1 <= self.y1)
    }

    /// The pixels in both; empty if they do not meet.
    #[must_use]
    pub fn intersect(self, other: Self) -> Self {
        let met = Self::new(
            self.x0.max(other.x0),
            self.y0.max(other.y0),
            self.x1.min(other.x1),
            self.y1.min(other.y1),
        );
        if met.is_empty() { Self::default() } else { met }
    }

    /// The smallest rectangle that holds both; an empty one does not count.
    #[must_use]
    pub fn union(self, other: Self) -> Self {
        if self.is_empty() {
            return other;
        }
        if other.is_empty() {
            return self;
        }
        Self::new(
            self.x0.min(other.x0),
            self.y0.min(other.y0),
            self.x1.max(other.x1),
            self.y1.max(other.y1),
        )
    }

    /// Grown by `margin` pixels on every side (negative shrinks).
    #[must_use]
    pub fn grow(self, margin: i32) -> Self {
        Self::new(
            self.x0.saturating_sub(margin),
            self.y0.saturating_sub(margin),
            self.x1.saturating_add(margin),
            self.y1.saturating_add(margin),
        )
    }

    /// Moved by (dx, dy).
    #[must_use]
    pub const fn shift(self, dx: i32, dy: i32) -> Self {
        Self::new(self.x0 + dx, self.y0 + dy, self.x1 + dx, self.y1 + dy)
    }

    /// The point in the middle.
    #[must_use]
    pub fn middle(self) -> Point {
        Point::new(
            0.5 * (f64::from(self.x0) + f64::from(self.x1)),
            0.5 * (f64::from(self.y0) + f64::from(self.y1)),
        )
    }

    /// The four outer corners, clockwise from the top left, as points.
    #[must_use]
    pub fn corners(self) -> [Point; 4] {
        let (x0, y0) = (f64::from(self.x0), f64::from(self.y0));
        let (x1, y1) = (f64::from(self.x1), f64::from(self.y1));
        [
            Point::new(x0, y0),
            Point::new(x1, y0),
            Point::new(x1, y1),
            Point::new(x0, y1),
        ]
    }

    /// The smallest rectangle of whole pixels that holds all `points`; empty without points.
    ///
    /// Coordinates beyond the range of `i32` are pinned to its ends.
    #[must_use]
    pub fn around(points: &[Point]) -> Self {
        let Some(first) = points.first() else {
            return Self::default();
        };
        let (mut low, mut high) = (*first, *first);
        for point in points {
            low = Point::new(low.x.min(point.x), low.y.min(point.y));
            high = Point::new(high.x.max(point.x), high.y.max(point.y));
        }
        Self::new(
            whole(low.x.floor()),
            whole(low.y.floor()),
            whole(high.x.ceil()),
            whole(high.y.ceil()),
        )
    }

    /// Index of pixel (x, y) in a row-by-row buffer over this rectangle. The pixel must lie inside.
    #[must_use]
    pub fn index(self, x: i32, y: i32) -> usize {
        debug_assert!(self.contains(x, y), "pixel ({x}, {y}) outside {self:?}");
        usize::try_from(y - self.y0).unwrap_or(0) * self.width()
            + usize::try_from(x - self.x0).unwrap_or(0)
    }
}

/// `value` as a whole number, pinned to the range of `i32`; not-a-number becomes 0.
#[must_use]
#[expect(
    clippy::cast_possible_truncation,
    reason = "pinned to the range of i32, which is what `as` does"
)]
pub fn whole(value: f64) -> i32 {
    value as i32
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rectangles_are_half_open() {
        let rect = Rect::new(2, 3, 5, 7);
        assert_eq!((rect.width(), rect.height(), rect.area()), (3, 4, 12));
        assert!(rect.contains(4, 6) && !rect.contains(5, 6));
        assert_eq!(rect.index(4, 6), 11);
        assert!(rect.intersect(Rect::new(5, 3, 9, 9)).is_empty());
    }

    #[test]
    fn levels_round_up() {
        assert_eq!(Size::new(5, 9).at_level(1), Size::new(3, 5));
        assert_eq!(Size::new(5, 9).at_level(5), Size::new(1, 1));
    }
}
