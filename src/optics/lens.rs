//! Depth of field, focus steps, diffraction, angles of view, scale.

/// A lens set to a distance; thin, with a pupil ratio.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lens {
    /// Focal length in mm.
    pub focal_mm: f64,
    /// f-number marked on the lens.
    pub f_number: f64,
    /// Distance from the front principal plane in mm, above the focal length.
    pub distance_mm: f64,
    /// Diameter of the exit pupil over that of the entrance pupil; 1 for a symmetric lens.
    pub pupil_ratio: f64,
}

/// What is sharp in front of and behind the distance, in mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SharpZone {
    /// Nearest sharp distance from the front principal plane.
    pub near_mm: f64,
    /// Farthest sharp distance; infinite beyond the hyperfocal distance.
    pub far_mm: f64,
}

impl SharpZone {
    /// Depth of field in mm.
    #[must_use]
    pub fn depth_mm(&self) -> f64 {
        self.far_mm - self.near_mm
    }
}

impl Lens {
    /// Magnification `f / (s - f)`.
    #[must_use]
    pub fn magnification(&self) -> f64 {
        self.focal_mm / (self.distance_mm - self.focal_mm)
    }

    /// f-number that counts close up: `N (1 + m / P)`.
    #[must_use]
    pub fn effective_f_number(&self) -> f64 {
        self.f_number * (1.0 + self.magnification() / self.pupil_ratio)
    }

    /// Light lost close up, in stops: `2 log2(1 + m / P)`.
    #[must_use]
    pub fn bellows_stops(&self) -> f64 {
        2.0 * libm::log2(1.0 + self.magnification() / self.pupil_ratio)
    }

    /// Distance from the subject to the entrance pupil in mm: `f (1/m + 1/P)`.
    #[must_use]
    pub fn pupil_distance_mm(&self) -> f64 {
        self.focal_mm * (1.0 / self.magnification() + 1.0 / self.pupil_ratio)
    }

    /// Hyperfocal distance `f^2 / (N c) + f` in mm for a circle of confusion of `circle_mm`.
    ///
    /// Source: Ray, Applied Photographic Optics.
    #[must_use]
    pub fn hyperfocal_mm(&self, circle_mm: f64) -> f64 {
        self.focal_mm * self.focal_mm / (self.f_number * circle_mm) + self.focal_mm
    }

    /// Nearest and farthest sharp distance for a circle of confusion of `circle_mm`.
    ///
    /// With U from subject to entrance pupil and opening d = f/N: near depth `U c / (m d + c)`, far depth `U c / (m d - c)`.
    /// Source: van Walree, derivation of the depth-of-field equations.
    #[must_use]
    pub fn sharp_zone(&self, circle_mm: f64) -> SharpZone {
        let (u, m) = (self.pupil_distance_mm(), self.magnification());
        let opening = m * self.focal_mm / self.f_number;
        // At the hyperfocal distance the two are equal but for rounding.
        let far_mm = if opening <= circle_mm * (1.0 + 1e-7) {
            f64::INFINITY
        } else {
            self.distance_mm + u * circle_mm / (opening - circle_mm)
        };
        SharpZone {
            near_mm: self.distance_mm - u * circle_mm / (opening + circle_mm),
            far_mm,
        }
    }

    /// Close-up form of the depth of field: `2 N c (1 + m / P) / m^2`, in mm.
    #[must_use]
    pub fn close_up_depth_mm(&self, circle_mm: f64) -> f64 {
        let m = self.magnification();
        2.0 * self.effective_f_number() * circle_mm / (m * m)
    }

    /// Diameter in mm, on the sensor, of the blur disc of a point `point_mm` from the front principal plane.
    #[must_use]
    pub fn blur_mm(&self, point_mm: f64) -> f64 {
        let u = self.pupil_distance_mm();
        let point = u + (point_mm - self.distance_mm);
        self.magnification() * self.focal_mm / self.f_number * (u - point).abs() / point
    }

    /// Angle of view in degrees for a sensor side of `side_mm`: `2 atan(d / (2 f (1 + m)))` (pupil ratio 1).
    #[must_use]
    pub fn view_degrees(&self, side_mm: f64) -> f64 {
        view_degrees(side_mm, self.focal_mm, self.magnification())
    }
}

/// Angle of view in degrees of a rectilinear lens of `focal_mm` at magnification `m` (0 at infinity) on a side of `side_mm`.
#[must_use]
pub fn view_degrees(side_mm: f64, focal_mm: f64, m: f64) -> f64 {
    2.0 * libm::atan(side_mm / (2.0 * focal_mm * (1.0 + m))).to_degrees()
}

/// Distances (mm from the front principal plane) to focus on so that everything from `near_mm` to `far_mm` is sharp.
///
/// Spans of exact depth of field are chained from the near end; `overlap` (0..0.9) is the share of each span that the next one covers
/// again. At most 2000 steps; the focal length must be below `near_mm`.
#[must_use]
pub fn focus_steps(lens: &Lens, circle_mm: f64, range_mm: [f64; 2], overlap: f64) -> Vec<f64> {
    let mut found = Vec::new();
    let mut start = range_mm[0];
    let at = |distance_mm: f64| Lens {
        distance_mm,
        ..*lens
    };
    while start < range_mm[1] && found.len() < 2000 && start > lens.focal_mm {
        // The distance whose near limit is the start of this span: near limits grow with the distance, so halve.
        let (mut low, mut high) = (start, start * 2.0);
        while at(high).sharp_zone(circle_mm).near_mm < start && high < 1e9 {
            high *= 2.0;
        }
        for _ in 0..200 {
            let middle = f64::midpoint(low, high);
            if at(middle).sharp_zone(circle_mm).near_mm < start {
                low = middle;
            } else {
                high = middle;
            }
        }
        let focus = f64::midpoint(low, high);
        found.push(focus);
        let zone = at(focus).sharp_zone(circle_mm);
        if zone.far_mm >= range_mm[1] {
            break;
        }
        start = zone.far_mm - overlap.clamp(0.0, 0.9) * zone.depth_mm();
    }
    found
}

/// Diameter of the Airy disc (first dark ring) in micrometres: `2.44 lambda Ne`. Source: Hecht, Optics.
#[must_use]
pub fn airy_um(wavelength_um: f64, effective_f_number: f64) -> f64 {
    2.44 * wavelength_um * effective_f_number
}

/// Highest spatial frequency that passes a lens, in line pairs per mm: `1 / (lambda Ne)`.
#[must_use]
pub fn cutoff_lp_mm(wavelength_um: f64, effective_f_number: f64) -> f64 {
    1000.0 / (wavelength_um * effective_f_number)
}

/// Number of spikes about bright points with `blades` straight aperture blades: as many when even, twice as many when odd.
#[must_use]
pub const fn spikes(blades: u32) -> u32 {
    if blades.is_multiple_of(2) {
        blades
    } else {
        2 * blades
    }
}

/// Angle between neighbouring spikes in degrees.
#[must_use]
pub fn spike_spacing_degrees(blades: u32) -> f64 {
    360.0 / f64::from(spikes(blades).max(1))
}

/// Scale-model arithmetic for a scale of 1 to `scale`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scale {
    /// The S of 1:S.
    pub scale: f64,
}

impl Scale {
    /// Length on the set in mm of `metres` in the story.
    #[must_use]
    pub fn mm(&self, metres: f64) -> f64 {
        metres * 1000.0 / self.scale
    }

    /// Factor on frame rate for falling things and water: the square root of the scale.
    #[must_use]
    pub fn frame_rate_factor(&self) -> f64 {
        self.scale.sqrt()
    }

    /// f-number that gives the model the depth of field that `f_number` gives the real thing, with the same lens.
    #[must_use]
    pub fn twin_f_number(&self, f_number: f64) -> f64 {
        f_number * self.scale
    }
}

/// How much larger the near end of a subject of `length` looks than its far end, from `distance` to the near end: `(D + L) / D`.
#[must_use]
pub fn perspective_ratio(distance: f64, length: f64) -> f64 {
    (distance + length) / distance
}
