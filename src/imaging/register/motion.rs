//! The two motion models as the solver sees them: where a pixel goes, how that depends on the parameters, and how a step
//! changes them. Positions are pixels of one pyramid level; they run from the reference to the moved frame.

use super::level::Level;
use super::upright::Resampled;
use crate::geometry::{Point, Similarity, Transform};
use crate::pixels::convert::narrow;

/// A motion with `N` parameters, each scaled so that one unit moves the rim of the picture by about one pixel.
/// `L` is the length of the solver's vectors: at least `N` + 3.
pub(super) trait Motion<const N: usize, const L: usize>: Copy + Send + Sync {
    /// Where the point (x, y) of the reference lies in the moved frame.
    fn at(&self, x: f64, y: f64) -> (f64, f64);
    /// How a value with slope (dx, dy) at the moved position changes with each parameter; the first `N` of `L` numbers.
    fn columns(&self, x: f64, y: f64, dx: f32, dy: f32) -> [f32; L];
    /// The motion after a step of the parameters.
    fn stepped(&self, step: &[f64; N]) -> Self;
    /// The moved picture as the reference sees it, where sums come faster that way. `before`: how it was seen by a step before, if it was.
    fn resampled(
        &self,
        _reference: &Level,
        _moved: &Level,
        _before: Option<&Resampled>,
    ) -> Option<Resampled> {
        None
    }
}

/// Size, turn and shift about a centre.
#[derive(Debug, Clone, Copy)]
pub(super) struct Turning {
    values: Similarity,
    centre: Point,
    /// Half the diagonal: parameters of size and turn are measured in pixels there.
    reach: f64,
    a: f64,
    b: f64,
}

impl Turning {
    /// `values` about `centre`; `reach` is half the diagonal of the picture. All in pixels of the level.
    pub(super) fn new(values: Similarity, centre: Point, reach: f64) -> Self {
        let scale = libm::exp(values.log_scale);
        Self {
            values,
            centre,
            reach,
            a: scale * libm::cos(values.angle_rad),
            b: scale * libm::sin(values.angle_rad),
        }
    }

    /// The motion as a transform, reference to moved frame.
    pub(super) fn transform(&self) -> Transform {
        Transform::similarity(self.values, self.centre)
    }

    /// What it turns about.
    pub(super) fn centre(&self) -> Point {
        self.centre
    }

    /// The unit of length of size and turn.
    pub(super) fn reach(&self) -> f64 {
        self.reach
    }

    /// Scale times cosine and sine of the turn.
    pub(super) fn turn(&self) -> (f64, f64) {
        (self.a, self.b)
    }

    /// Size, turn and shift.
    pub(super) fn values(&self) -> Similarity {
        self.values
    }
}

impl Motion<4, 8> for Turning {
    #[inline]
    fn at(&self, x: f64, y: f64) -> (f64, f64) {
        let (dx, dy) = (x - self.centre.x, y - self.centre.y);
        (
            self.a * dx - self.b * dy + self.centre.x + self.values.shift.x,
            self.b * dx + self.a * dy + self.centre.y + self.values.shift.y,
        )
    }

    #[inline]
    fn columns(&self, x: f64, y: f64, dx: f32, dy: f32) -> [f32; 8] {
        let (px, py) = (x - self.centre.x, y - self.centre.y);
        let along = narrow((self.a * px - self.b * py) / self.reach);
        let down = narrow((self.b * px + self.a * py) / self.reach);
        [
            dx * along + dy * down,
            dy * along - dx * down,
            dx,
            dy,
            0.0,
            0.0,
            0.0,
            0.0,
        ]
    }

    fn resampled(
        &self,
        reference: &Level,
        moved: &Level,
        before: Option<&Resampled>,
    ) -> Option<Resampled> {
        // Pictures of very different scale do not fill one another's pixels.
        let (a, b) = self.turn();
        let scale = (a * a + b * b).sqrt();
        (0.8..1.25)
            .contains(&scale)
            .then(|| Resampled::new(reference, moved, (self, before)))
    }

    fn stepped(&self, step: &[f64; 4]) -> Self {
        let values = Similarity {
            log_scale: self.values.log_scale + step[0] / self.reach,
            angle_rad: self.values.angle_rad + step[1] / self.reach,
            shift: Point::new(self.values.shift.x + step[2], self.values.shift.y + step[3]),
        };
        Self::new(values, self.centre, self.reach)
    }
}

/// Turn and shift about a centre; the size stays as it is.
#[derive(Debug, Clone, Copy)]
pub(super) struct Rigid(pub(super) Turning);

impl Motion<3, 8> for Rigid {
    #[inline]
    fn at(&self, x: f64, y: f64) -> (f64, f64) {
        self.0.at(x, y)
    }

    #[inline]
    fn columns(&self, x: f64, y: f64, dx: f32, dy: f32) -> [f32; 8] {
        let [_size, turn, across, down, ..] = self.0.columns(x, y, dx, dy);
        [turn, across, down, 0.0, 0.0, 0.0, 0.0, 0.0]
    }

    fn stepped(&self, step: &[f64; 3]) -> Self {
        Self(self.0.stepped(&[0.0, step[0], step[1], step[2]]))
    }
}

/// What [`similarity`](super::similarity()) and [`rigid`](super::rigid()) fit.
pub(super) trait Fitted<const N: usize>: Motion<N, 8> {
    /// From size, turn and shift.
    fn of(turning: Turning) -> Self;
    /// As size, turn and shift.
    fn turning(&self) -> Turning;
}

impl Fitted<4> for Turning {
    fn of(turning: Turning) -> Self {
        turning
    }

    fn turning(&self) -> Turning {
        *self
    }
}

impl Fitted<3> for Rigid {
    fn of(turning: Turning) -> Self {
        Self(turning)
    }

    fn turning(&self) -> Turning {
        self.0
    }
}

/// A perspective, kept in coordinates about the centre in units of `reach`, so that its eight numbers are alike in size.
#[derive(Debug, Clone, Copy)]
pub(super) struct Tilting {
    /// Row by row without the last 1.
    h: [f64; 8],
    centre: Point,
    reach: f64,
}

impl Tilting {
    /// From a transform in pixels of the level; `None` if its centre lies on the horizon.
    pub(super) fn new(moved_from_reference: &Transform, centre: Point, reach: f64) -> Option<Self> {
        let unit_from_pixel = Transform::scaling(1.0 / reach, 1.0 / reach)
            .after(&Transform::translation(-centre.x, -centre.y));
        let pixel_from_unit =
            Transform::translation(centre.x, centre.y).after(&Transform::scaling(reach, reach));
        let unit = unit_from_pixel
            .after(moved_from_reference)
            .after(&pixel_from_unit);
        let [[a, b, c], [d, e, f], [g, k, i]] = unit.rows;
        (i.abs() > 1e-9).then(|| Self {
            h: [a, b, c, d, e, f, g, k].map(|value| value / i),
            centre,
            reach,
        })
    }

    /// As a transform in pixels of the level.
    pub(super) fn transform(&self) -> Transform {
        let [a, b, c, d, e, f, g, k] = self.h;
        let unit = Transform {
            rows: [[a, b, c], [d, e, f], [g, k, 1.0]],
        };
        let to_unit = Transform::scaling(1.0 / self.reach, 1.0 / self.reach)
            .after(&Transform::translation(-self.centre.x, -self.centre.y));
        let to_pixel = Transform::translation(self.centre.x, self.centre.y)
            .after(&Transform::scaling(self.reach, self.reach));
        let found = to_pixel.after(&unit).after(&to_unit);
        let last = found.rows[2][2];
        Transform {
            rows: found.rows.map(|row| row.map(|value| value / last)),
        }
    }

    fn unit(&self, x: f64, y: f64) -> (f64, f64, f64, f64, f64) {
        let (u, v) = (
            (x - self.centre.x) / self.reach,
            (y - self.centre.y) / self.reach,
        );
        let over = 1.0 / (self.h[6] * u + self.h[7] * v + 1.0);
        let across = (self.h[0] * u + self.h[1] * v + self.h[2]) * over;
        let down = (self.h[3] * u + self.h[4] * v + self.h[5]) * over;
        (u * over, v * over, over, across, down)
    }
}

impl Motion<8, 12> for Tilting {
    #[inline]
    fn at(&self, x: f64, y: f64) -> (f64, f64) {
        let (_, _, _, across, down) = self.unit(x, y);
        (
            across * self.reach + self.centre.x,
            down * self.reach + self.centre.y,
        )
    }

    #[inline]
    fn columns(&self, x: f64, y: f64, dx: f32, dy: f32) -> [f32; 12] {
        let (u, v, over, across, down) = self.unit(x, y);
        let (u, v, over) = (narrow(u), narrow(v), narrow(over));
        let back = -(dx * narrow(across) + dy * narrow(down));
        [
            dx * u,
            dx * v,
            dx * over,
            dy * u,
            dy * v,
            dy * over,
            back * u,
            back * v,
            0.0,
            0.0,
            0.0,
            0.0,
        ]
    }

    fn stepped(&self, step: &[f64; 8]) -> Self {
        let mut next = *self;
        for (value, change) in next.h.iter_mut().zip(step) {
            *value += change / self.reach;
        }
        next
    }
}
