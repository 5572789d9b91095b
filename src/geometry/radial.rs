//! The shift of a lens whose distortion is not that of another picture's.

use super::Point;

/// Points moved away from the middle of a picture, the more the farther out: by the cube of the distance, the first term of radial
/// distortion (Brown 1966).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Radial {
    centre: Point,
    /// Half the diagonal.
    reach: f64,
    corner_px: f64,
}

impl Radial {
    /// One that moves the corners of a picture from (0, 0) to twice `centre` outwards by `corner_px` pixels.
    #[must_use]
    pub fn about(centre: Point, corner_px: f64) -> Self {
        Self {
            centre,
            reach: centre.distance(Point::default()).max(1.0),
            corner_px,
        }
    }

    /// Where `point` goes.
    #[must_use]
    pub fn apply(&self, point: Point) -> Point {
        let (x, y) = (
            (point.x - self.centre.x) / self.reach,
            (point.y - self.centre.y) / self.reach,
        );
        let share = self.corner_px * (x * x + y * y);
        Point::new(point.x + share * x, point.y + share * y)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn corners_move_by_what_was_said_and_the_middle_stays() {
        let radial = Radial::about(Point::new(30.0, 40.0), 2.0);
        assert_eq!(radial.apply(Point::new(30.0, 40.0)), Point::new(30.0, 40.0));
        let corner = radial.apply(Point::default());
        assert!(corner.distance(Point::new(-1.2, -1.6)) < 1e-12);
        let halfway = radial.apply(Point::new(15.0, 20.0));
        assert!((halfway.distance(Point::new(15.0, 20.0)) - 0.25).abs() < 1e-12);
    }
}
