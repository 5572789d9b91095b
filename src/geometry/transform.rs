//! Plane transforms as 3 x 3 matrices on column vectors (x, y, 1).

use crate::geometry::{Point, Rect};
use serde::{Deserialize, Serialize};

/// A projective transform of the plane, stored row by row; affine when the last row is (0, 0, 1).
///
/// `a.after(&b)` applies `b` first, so neighbouring names match: `window_from_plate.after(&plate_from_frame)`.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Transform {
    /// The matrix, row by row.
    pub rows: [[f64; 3]; 3],
}

/// Size, turn and shift: what a locked-off camera does between two frames.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Similarity {
    /// Natural logarithm of the magnification.
    pub log_scale: f64,
    /// Turn in radians, clockwise as seen (y runs down).
    pub angle_rad: f64,
    /// Where the centre goes, minus the centre, in pixels.
    pub shift: Point,
}

impl Default for Transform {
    fn default() -> Self {
        Self::IDENTITY
    }
}

impl Transform {
    /// The transform that moves nothing.
    pub const IDENTITY: Self = Self {
        rows: [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]],
    };

    /// A shift by (x, y) pixels.
    #[must_use]
    pub const fn translation(x: f64, y: f64) -> Self {
        Self {
            rows: [[1.0, 0.0, x], [0.0, 1.0, y], [0.0, 0.0, 1.0]],
        }
    }

    /// Scales x and y about the origin.
    #[must_use]
    pub const fn scaling(x: f64, y: f64) -> Self {
        Self {
            rows: [[x, 0.0, 0.0], [0.0, y, 0.0], [0.0, 0.0, 1.0]],
        }
    }

    /// Size and turn about `centre`, then a shift.
    #[must_use]
    pub fn similarity(similarity: Similarity, centre: Point) -> Self {
        let scale = libm::exp(similarity.log_scale);
        let (sin, cos) = (
            libm::sin(similarity.angle_rad),
            libm::cos(similarity.angle_rad),
        );
        let (a, b) = (scale * cos, scale * sin);
        let tx = centre.x + similarity.shift.x - a * centre.x + b * centre.y;
        let ty = centre.y + similarity.shift.y - b * centre.x - a * centre.y;
        Self {
            rows: [[a, -b, tx], [b, a, ty], [0.0, 0.0, 1.0]],
        }
    }

    /// The similarity nearest to this transform's behaviour at `centre`.
    #[must_use]
    pub fn to_similarity(self, centre: Point) -> Similarity {
        let [[a, b, _], [c, d, _], _] = self.rows;
        let (cos, sin) = ((a + d) * 0.5, (c - b) * 0.5);
        let moved = self.apply(centre);
        Similarity {
            log_scale: 0.5 * libm::log(cos * cos + sin * sin),
            angle_rad: libm::atan2(sin, cos),
            shift: Point::new(moved.x - centre.x, moved.y - centre.y),
        }
    }

    /// The perspective that takes each of `from` to the same place in `to`.
    ///
    /// `None` when three of the points lie on a line. Source: Hartley and Zisserman, direct linear transform, solved
    /// exactly for four pairs.
    #[must_use]
    pub fn from_corners(from: [Point; 4], to: [Point; 4]) -> Option<Self> {
        let mut system = [[0.0_f64; 9]; 8];
        for (pair, (source, target)) in from.iter().zip(&to).enumerate() {
            let (x, y, u, v) = (source.x, source.y, target.x, target.y);
            system[2 * pair] = [x, y, 1.0, 0.0, 0.0, 0.0, -u * x, -u * y, u];
            system[2 * pair + 1] = [0.0, 0.0, 0.0, x, y, 1.0, -v * x, -v * y, v];
        }
        let h = solve8(system)?;
        let found = Self {
            rows: [[h[0], h[1], h[2]], [h[3], h[4], h[5]], [h[6], h[7], 1.0]],
        };
        found.inverse().map(|_| found)
    }

    /// This transform after `first`.
    #[must_use]
    pub fn after(&self, first: &Self) -> Self {
        let mut rows = [[0.0; 3]; 3];
        for (row, left) in rows.iter_mut().zip(&self.rows) {
            for (column, cell) in row.iter_mut().enumerate() {
                *cell = left[0] * first.rows[0][column]
                    + left[1] * first.rows[1][column]
                    + left[2] * first.rows[2][column];
            }
        }
        Self { rows }
    }

    /// Where `point` goes. Points on the horizon of a perspective go to infinity.
    #[must_use]
    pub fn apply(&self, point: Point) -> Point {
        let [x, y, w] = self
            .rows
            .map(|row| row[0] * point.x + row[1] * point.y + row[2]);
        if self.is_affine() {
            Point::new(x, y)
        } else {
            Point::new(x / w, y / w)
        }
    }

    /// Whether parallel lines stay parallel.
    #[must_use]
    pub fn is_affine(&self) -> bool {
        self.rows[2] == [0.0, 0.0, 1.0]
    }

    /// Whether it moves nothing at all.
    #[must_use]
    pub fn is_identity(&self) -> bool {
        *self == Self::IDENTITY
    }

    /// The way back, `None` when the plane is squashed to a line.
    #[must_use]
    pub fn inverse(&self) -> Option<Self> {
        let [[a, b, c], [d, e, f], [g, h, i]] = self.rows;
        let minors = [e * i - f * h, f * g - d * i, d * h - e * g];
        let determinant = a * minors[0] + b * minors[1] + c * minors[2];
        if !determinant.is_finite() || determinant.abs() < 1e-300 {
            return None;
        }
        let over = |value: f64| value / determinant;
        let rows = [
            [over(minors[0]), over(c * h - b * i), over(b * f - c * e)],
            [over(minors[1]), over(a * i - c * g), over(c * d - a * f)],
            [over(minors[2]), over(b * g - a * h), over(a * e - b * d)],
        ];
        let affine = self.is_affine();
        Some(Self {
            rows: if affine {
                [rows[0], rows[1], [0.0, 0.0, 1.0]]
            } else {
                rows
            },
        })
    }

    /// The same transform between pictures that were both shrunk by 2^`level`.
    #[must_use]
    pub fn at_level(&self, level: u32) -> Self {
        let shrink = 1.0 / f64::from(1_u32 << level.min(31));
        Self::scaling(shrink, shrink)
            .after(self)
            .after(&Self::scaling(1.0 / shrink, 1.0 / shrink))
    }

    /// Magnification near `point`: square root of the area one square pixel becomes.
    #[must_use]
    pub fn magnification(&self, point: Point) -> f64 {
        let step = 0.5;
        let across = (
            self.apply(Point::new(point.x - step, point.y)),
            self.apply(Point::new(point.x + step, point.y)),
        );
        let down = (
            self.apply(Point::new(point.x, point.y - step)),
            self.apply(Point::new(point.x, point.y + step)),
        );
        let (ux, uy) = (across.1.x - across.0.x, across.1.y - across.0.y);
        let (vx, vy) = (down.1.x - down.0.x, down.1.y - down.0.y);
        (ux * vy - uy * vx).abs().sqrt()
    }

    /// The smallest rectangle of whole pixels that holds the image of `rect`; `None` if the horizon crosses it.
    #[must_use]
    pub fn bounds_of(&self, rect: Rect) -> Option<Rect> {
        if rect.is_empty() {
            return Some(Rect::default());
        }
        let corners = rect.corners();
        let weight = |p: &Point| self.rows[2][0] * p.x + self.rows[2][1] * p.y + self.rows[2][2];
        let first = weight(&corners[0]);
        if corners.iter().any(|corner| weight(corner) * first <= 0.0) {
            return None;
        }
        Some(Rect::around(&corners.map(|corner| self.apply(corner))))
    }
}

/// Solves eight linear equations by elimination with row exchange; `None` when they do not settle the unknowns.
fn solve8(mut system: [[f64; 9]; 8]) -> Option<[f64; 8]> {
    for column in 0..8 {
        let pivot = (column..8)
            .max_by(|&a, &b| system[a][column].abs().total_cmp(&system[b][column].abs()))?;
        if system[pivot][column].abs() < 1e-12 {
            return None;
        }
        system.swap(column, pivot);
        for row in 0..8 {
            if row == column {
                continue;
            }
            let factor = system[row][column] / system[column][column];
            let above = system[column];
            for (cell, value) in system[row].iter_mut().zip(above).skip(column) {
                *cell -= factor * value;
            }
        }
    }
    let mut answer = [0.0; 8];
    for (row, value) in answer.iter_mut().enumerate() {
        *value = system[row][8] / system[row][row];
    }
    Some(answer)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn scaling_about_the_centre_leaves_the_centre() {
        let centre = Point::new(960.0, 640.0);
        let doubled = Similarity {
            log_scale: libm::log(2.0),
            angle_rad: 0.3,
            shift: Point::default(),
        };
        let moved = Transform::similarity(doubled, centre).apply(centre);
        assert!(
            moved.distance(centre) < 1e-9,
            "the centre went to {moved:?}"
        );
    }

    #[test]
    fn similarity_round_trip() {
        let centre = Point::new(100.0, 50.0);
        let given = Similarity {
            log_scale: 0.01,
            angle_rad: -0.002,
            shift: Point::new(3.0, -4.0),
        };
        let back = Transform::similarity(given, centre).to_similarity(centre);
        assert!((back.log_scale - given.log_scale).abs() < 1e-12, "{back:?}");
        assert!((back.angle_rad - given.angle_rad).abs() < 1e-12, "{back:?}");
        assert!(back.shift.distance(given.shift) < 1e-9, "{back:?}");
    }

    #[test]
    fn four_corners_land_where_asked_and_come_back() {
        let from = Rect::new(0, 0, 100, 60).corners();
        let to = [
            Point::new(10.0, 5.0),
            Point::new(90.0, 12.0),
            Point::new(80.0, 70.0),
            Point::new(3.0, 55.0),
        ];
        let there = Transform::from_corners(from, to).unwrap();
        let back = there.inverse().unwrap();
        for (source, target) in from.iter().zip(&to) {
            assert!(there.apply(*source).distance(*target) < 1e-9, "{source:?}");
            assert!(back.apply(*target).distance(*source) < 1e-9, "{target:?}");
        }
    }

    #[test]
    fn points_on_a_line_are_no_corners() {
        let line = [
            Point::new(0.0, 0.0),
            Point::new(1.0, 0.0),
            Point::new(2.0, 0.0),
            Point::new(0.0, 1.0),
        ];
        assert!(Transform::from_corners(Rect::new(0, 0, 1, 1).corners(), line).is_none());
    }
}
