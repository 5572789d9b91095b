//! Camera and thin lens: where a lens view's rays go, and where they land once the lens is focused.
//!
//! A view is the pinhole picture through one point of the opening, recorded on the plane that the reference
//! frame is focused on. Focusing elsewhere moves the whole view by one shift and one scale (similar triangles),
//! so a view that is traced once serves every frame of the pose.

use crate::vec3::{V3, v3};

/// Camera placement and format.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Camera {
    /// Entrance pupil, mm.
    pub(crate) eye: V3,
    /// Viewing direction.
    pub(crate) ahead: V3,
    /// To the right of the picture.
    pub(crate) right: V3,
    /// Down in the picture.
    pub(crate) down: V3,
    /// Focal length, mm.
    pub(crate) focal: f32,
    /// f-number.
    pub(crate) stop: f32,
    /// Picture size, px.
    pub(crate) size: (usize, usize),
    /// Pixel pitch, mm.
    pub(crate) pitch: f32,
    /// Focus of the reference frame, mm from the pupil.
    pub(crate) reference: f32,
}

/// How a view is laid into a frame: a frame position `q` (before the tripod) reads the view at `(q - c - shift) / scale + c`.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Landing {
    /// Scale about the middle (breathing).
    pub(crate) scale: f32,
    /// Shift, px.
    pub(crate) shift: (f32, f32),
}

impl Camera {
    /// A camera at `eye` that looks at `aim`, rolled by `roll` (sine of the angle).
    pub(crate) fn new(eye: V3, aim: V3, roll: f32) -> Self {
        let ahead = (aim - eye).unit();
        let right = ahead.cross(v3(0.0, 0.0, 1.0)).unit();
        let up = right.cross(ahead);
        let c = (1.0 - roll * roll).sqrt();
        let (r, u) = (right * c + up * roll, up * c - right * roll);
        Self {
            eye,
            ahead,
            right: r,
            down: -u,
            focal: 35.0,
            stop: 4.0,
            size: (2400, 1600),
            pitch: 0.015,
            reference: 700.0,
        }
    }

    /// Image distance for a focus distance (thin lens), mm.
    pub(crate) fn image_distance(&self, focus: f32) -> f32 {
        focus * self.focal / (focus - self.focal)
    }

    /// Middle of the picture, px.
    #[expect(clippy::cast_precision_loss, reason = "picture sizes")]
    pub(crate) fn middle(&self) -> (f32, f32) {
        (0.5 * self.size.0 as f32, 0.5 * self.size.1 as f32)
    }

    /// Ray through lens point `lens` (mm) to reference picture position `p`, px.
    pub(crate) fn ray(&self, p: (f32, f32), lens: (f32, f32)) -> (V3, V3) {
        let c = self.middle();
        let k = self.pitch * self.reference / self.image_distance(self.reference);
        let origin = self.eye + self.right * lens.0 + self.down * lens.1;
        let target = self.eye
            + self.ahead * self.reference
            + self.right * ((p.0 - c.0) * k)
            + self.down * ((p.1 - c.1) * k);
        (origin, (target - origin).unit())
    }

    /// Reference picture position of a point (through the middle of the lens), px, and its distance, mm.
    pub(crate) fn project(&self, q: V3) -> (f32, f32, f32) {
        let d = q - self.eye;
        let z = d.dot(self.ahead);
        let k = self.image_distance(self.reference) / self.pitch / z;
        let c = self.middle();
        (c.0 + d.dot(self.right) * k, c.1 + d.dot(self.down) * k, z)
    }

    /// Diameter of the opening, mm.
    pub(crate) fn opening(&self) -> f32 {
        self.focal / self.stop
    }

    /// Where the view through `lens` lands when focused at `focus`.
    pub(crate) fn landing(&self, lens: (f32, f32), focus: f32) -> Landing {
        let v = self.image_distance(focus);
        let k = v * (1.0 / focus - 1.0 / self.reference) / self.pitch;
        Landing {
            scale: v / self.image_distance(self.reference),
            shift: (lens.0 * k, lens.1 * k),
        }
    }

    /// Blur radius in px of a point at `z` when focused at `focus`.
    pub(crate) fn blur(&self, z: f32, focus: f32) -> f32 {
        0.5 * self.opening() * self.image_distance(focus) * (1.0 / focus - 1.0 / z).abs()
            / self.pitch
    }

    /// Point `i` of `n` on the eight-blade opening (a sunflower spread, stretched to the octagon), mm.
    #[expect(clippy::cast_precision_loss, reason = "view counts")]
    pub(crate) fn lens_point(&self, i: u32, n: u32) -> (f32, f32) {
        let r = ((i as f32 + 0.5) / n as f32).sqrt();
        let a = i as f32 * 2.399_963_2;
        let sector = std::f32::consts::FRAC_PI_4;
        let turn = a + 0.2;
        let in_sector = turn - sector * libm::floorf(turn / sector) - 0.5 * sector;
        // Radius of the octagon in this direction, mixed with the circle: the blades are slightly curved.
        let blade = 0.65 * libm::cosf(0.5 * sector) / libm::cosf(in_sector) + 0.35;
        let rad = 0.5 * self.opening() * r * blade * 1.03;
        (rad * libm::cosf(a), rad * libm::sinf(a))
    }
}

/// Subpixel offset of view `i`: an additive sequence, -0.5..0.5 px.
pub(crate) fn jitter(i: u32) -> (f32, f32) {
    let a = crate::vec3::unit_of((i + 1).wrapping_mul(3_242_174_889));
    let b = crate::vec3::unit_of((i + 1).wrapping_mul(2_447_445_414));
    (a - 0.5, b - 0.5)
}

/// A small similarity of the picture about its middle: the tripod's share.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Nudge {
    /// Shift, px.
    pub(crate) shift: (f32, f32),
    /// Turn, radians.
    pub(crate) turn: f32,
}

impl Nudge {
    /// No movement.
    pub(crate) const STILL: Self = Self {
        shift: (0.0, 0.0),
        turn: 0.0,
    };

    /// The 3x3 matrix from the reference frame (scaled by `scale`) to this frame, pixel positions.
    pub(crate) fn matrix(&self, scale: f64, middle: (f32, f32)) -> [[f64; 3]; 3] {
        let (c, s) = (
            libm::cos(f64::from(self.turn)) * scale,
            libm::sin(f64::from(self.turn)) * scale,
        );
        let (mx, my) = (f64::from(middle.0), f64::from(middle.1));
        let (dx, dy) = (f64::from(self.shift.0), f64::from(self.shift.1));
        [
            [c, -s, mx + dx - c * mx + s * my],
            [s, c, my + dy - s * mx - c * my],
            [0.0, 0.0, 1.0],
        ]
    }
}
