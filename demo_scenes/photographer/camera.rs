//! The camera: a thin lens with an eight-blade opening, and where a traced ray lands in a frame of another focus.

use crate::vec3::{V3, v3};

/// Length of the sensor's long side, mm.
pub(crate) const SENSOR_MM: f32 = 36.0;

/// A camera on its tripod with the lens at a reference focus.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Camera {
    /// Entrance pupil, mm.
    pub(crate) eye: V3,
    /// To the right in the picture (unit).
    pub(crate) right: V3,
    /// Up in the picture (unit).
    pub(crate) up: V3,
    /// Along the optical axis (unit).
    pub(crate) ahead: V3,
    /// Focal length, mm.
    pub(crate) focal: f32,
    /// F-number.
    pub(crate) f_number: f32,
    /// Reference focus distance from the pupil, mm.
    pub(crate) focus: f32,
    /// Picture size, px.
    pub(crate) size: (usize, usize),
}

/// A small similarity of a frame against the reference, besides breathing.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Nudge {
    /// Shift right, px.
    pub(crate) dx: f32,
    /// Shift down, px.
    pub(crate) dy: f32,
    /// Turn, degrees (from the first axis towards the second).
    pub(crate) turn: f32,
}

/// The map from reference positions to one frame.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Landing {
    centre: (f32, f32),
    cos: f32,
    sin: f32,
    /// Breathing: image scale against the reference.
    pub(crate) scale: f32,
    shift: (f32, f32),
    /// Pixels per mm of lens offset.
    pub(crate) slide: f32,
}

impl Camera {
    /// Aims from `eye` at `target`, rolled clockwise by `roll` degrees.
    pub(crate) fn aim(eye: V3, target: V3, roll: f32) -> Self {
        let ahead = (target - eye).unit();
        let r0 = ahead.cross(v3(0.0, 0.0, 1.0)).unit();
        let u0 = r0.cross(ahead);
        let a = roll.to_radians();
        let (c, s) = (libm::cosf(a), libm::sinf(a));
        Self {
            eye,
            right: r0 * c - u0 * s,
            up: u0 * c + r0 * s,
            ahead,
            focal: 60.0,
            f_number: 5.0,
            focus: (target - eye).len(),
            size: (2100, 1400),
        }
    }

    /// Image distance at a focus distance (thin lens), mm.
    pub(crate) fn image_distance(&self, focus: f32) -> f32 {
        self.focal * focus / (focus - self.focal)
    }

    /// Pixels per unit of tangent at the reference focus.
    pub(crate) fn scale(&self) -> f32 {
        self.image_distance(self.focus) * crate::num::real(self.size.0) / SENSOR_MM
    }

    /// Middle of the picture, px.
    pub(crate) fn centre(&self) -> (f32, f32) {
        (
            0.5 * crate::num::real(self.size.0),
            0.5 * crate::num::real(self.size.1),
        )
    }

    /// Ray through a reference position (px) and a lens point (mm right, mm up).
    pub(crate) fn ray(&self, at: (f32, f32), lens: (f32, f32)) -> (V3, V3) {
        let k = self.focus / self.scale();
        let c = self.centre();
        let o = self.eye + self.right * lens.0 + self.up * lens.1;
        let p = self.eye
            + self.ahead * self.focus
            + self.right * ((at.0 - c.0) * k)
            + self.up * ((c.1 - at.1) * k);
        (o, (p - o).unit())
    }

    /// Reference position (px) of a point in space and its distance along the axis, mm.
    pub(crate) fn project(&self, p: V3) -> (f32, f32, f32) {
        let d = p - self.eye;
        let z = d.dot(self.ahead);
        let k = self.scale() / z;
        let c = self.centre();
        (c.0 + d.dot(self.right) * k, c.1 - d.dot(self.up) * k, z)
    }

    /// The map to a frame focused at `focus` mm.
    pub(crate) fn landing(&self, focus: f32, nudge: Nudge) -> Landing {
        let scale = self.image_distance(focus) / self.image_distance(self.focus);
        let a = nudge.turn.to_radians();
        Landing {
            centre: self.centre(),
            cos: libm::cosf(a),
            sin: libm::sinf(a),
            scale,
            shift: (nudge.dx, nudge.dy),
            slide: self.scale() * scale * (1.0 / focus - 1.0 / self.focus),
        }
    }

    /// Radius of the opening, mm.
    pub(crate) fn opening(&self) -> f32 {
        0.5 * self.focal / self.f_number
    }

    /// Point of the opening (mm) for a point of the unit square: concentric rings pressed to eight blades.
    pub(crate) fn lens_point(&self, u: f32, v: f32) -> (f32, f32) {
        let (a, b) = (2.0 * u - 1.0, 2.0 * v - 1.0);
        if a == 0.0 && b == 0.0 {
            return (0.0, 0.0);
        }
        let quarter = std::f32::consts::FRAC_PI_4;
        let (r, t) = if a.abs() > b.abs() {
            (a, quarter * (b / a))
        } else {
            (b, 2.0 * quarter - quarter * (a / b))
        };
        // Blades are slightly curved: mix the octagon with the circle.
        let w = (t / quarter + 0.21) - libm::floorf(t / quarter + 0.21);
        let flat = libm::cosf(0.5 * quarter) / libm::cosf((w - 0.5) * quarter);
        let rad = r * self.opening() * (0.35 + 0.65 * flat);
        (rad * libm::cosf(t), rad * libm::sinf(t))
    }
}

impl Landing {
    /// Position in the frame (px) of a ray traced through a reference position and a lens point.
    #[inline]
    pub(crate) fn land(&self, at: (f32, f32), lens: (f32, f32)) -> (f32, f32) {
        let x = (at.0 - self.centre.0) * self.scale + lens.0 * self.slide;
        let y = (at.1 - self.centre.1) * self.scale - lens.1 * self.slide;
        (
            self.centre.0 + x * self.cos - y * self.sin + self.shift.0,
            self.centre.1 + x * self.sin + y * self.cos + self.shift.1,
        )
    }

    /// 3x3 matrix (rows) from frame positions to reference positions.
    pub(crate) fn to_reference(self) -> [[f64; 3]; 3] {
        let k = 1.0 / f64::from(self.scale);
        let (c, s) = (f64::from(self.cos) * k, f64::from(self.sin) * k);
        let (cx, cy) = (f64::from(self.centre.0), f64::from(self.centre.1));
        let (tx, ty) = (cx + f64::from(self.shift.0), cy + f64::from(self.shift.1));
        [
            [c, s, cx - c * tx - s * ty],
            [-s, c, cy + s * tx - c * ty],
            [0.0, 0.0, 1.0],
        ]
    }
}
