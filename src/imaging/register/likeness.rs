//! What of a picture is compared, as a pyramid.

use crate::geometry::Point;
use crate::imaging::basics::blur::gaussian;
use crate::imaging::basics::pyramid::reduce;
use crate::pixels::Plane;
use crate::pixels::convert::{coordinate, count_f64};

/// Whether two pictures were taken under the same light.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Light {
    /// Same light, perhaps other focus.
    Same,
    /// Other lamps on.
    Other,
}

/// Light from which on a pixel counts as saturated.
const SATURATED: f32 = 0.97;
/// Pixels of the largest level that is compared.
const LARGEST_LEVEL: usize = 4_200_000;
/// Shortest side of the smallest level.
const SMALLEST_SIDE: usize = 48;

/// A picture made ready to be compared.
#[derive(Debug, Clone)]
pub struct Prepared {
    /// Finest first; level 0 has been halved `first_level` times.
    pub(super) levels: Vec<Level>,
    first_level: u32,
    width: usize,
    height: usize,
}

/// One level of the pyramid.
#[derive(Debug, Clone)]
pub(super) struct Level {
    pub(super) value: Plane,
    pub(super) across: Plane,
    pub(super) down: Plane,
    /// 0 where a pixel is left out, else 1.
    pub(super) weight: Plane,
}

impl Prepared {
    /// Prepares a picture given by its luminance, linear light, which must not be empty.
    #[must_use]
    pub fn new(luma: &Plane, light: Light) -> Self {
        let (width, height) = (luma.rect.width(), luma.rect.height());
        let mut current = Plane {
            rect: luma.rect.shift(-luma.rect.x0, -luma.rect.y0),
            data: luma.data.clone(),
        };
        let mut first_level = 0;
        while current.data.len() > LARGEST_LEVEL {
            current = reduce(&current);
            first_level += 1;
        }
        let mut levels = vec![Level::new(&current, light)];
        while current.rect.width().min(current.rect.height()) >= 2 * SMALLEST_SIDE {
            current = reduce(&current);
            levels.push(Level::new(&current, light));
        }
        Self {
            levels,
            first_level,
            width,
            height,
        }
    }

    /// Full-size pixels per pixel of level `level`.
    pub(super) fn scale(&self, level: usize) -> f64 {
        let halvings = usize::try_from(self.first_level).unwrap_or(0) + level;
        count_f64(1_usize << halvings.min(30))
    }

    /// The middle of the picture: where the optical axis is taken to be.
    #[must_use]
    pub fn middle(&self) -> Point {
        Point::new(count_f64(self.width) * 0.5, count_f64(self.height) * 0.5)
    }

    /// The shorter side in pixels.
    pub(super) fn side(&self) -> f64 {
        count_f64(self.width.min(self.height))
    }
}

impl Level {
    fn new(luma: &Plane, light: Light) -> Self {
        let value = match light {
            Light::Same => gaussian(luma, 1.5),
            Light::Other => band_passed(luma),
        };
        let weight = unsaturated(luma);
        Self {
            across: slope(&value, (1, 0)),
            down: slope(&value, (0, 1)),
            value,
            weight,
        }
    }
}

/// Band-pass of the square root over the local standard deviation: n = d / (sqrt(G10(d^2)) + 0.002), d = y - G6(y).
fn band_passed(luma: &Plane) -> Plane {
    let root = gaussian(&luma.map(|light| light.max(0.0).sqrt()), 0.7);
    let smooth = gaussian(&root, 6.0);
    let mut band = root;
    band.data
        .iter_mut()
        .zip(&smooth.data)
        .for_each(|(value, low)| *value -= low);
    let energy = gaussian(&band.map(|value| value * value), 10.0);
    band.data
        .iter_mut()
        .zip(&energy.data)
        .for_each(|(value, energy)| *value /= energy.max(0.0).sqrt() + 2e-3);
    band
}

/// 0 at and near saturated pixels, else 1.
fn unsaturated(luma: &Plane) -> Plane {
    let hot = luma.map(|light| if light >= SATURATED { 1.0 } else { 0.0 });
    if hot.data.iter().all(|value| *value == 0.0) {
        return Plane::filled(luma.rect, 1.0);
    }
    gaussian(&hot, 2.0).map(|near| if near > 1e-3 { 0.0 } else { 1.0 })
}

/// Half the difference of the two neighbours along `step`; the edge repeats.
fn slope(value: &Plane, (dx, dy): (i32, i32)) -> Plane {
    let (width, height) = (value.rect.width(), value.rect.height());
    let mut out = Plane::zero(value.rect);
    for y in 0..coordinate(height) {
        let (above, below) = (
            value.row((y - dy).max(0)),
            value.row((y + dy).min(coordinate(height) - 1)),
        );
        let row = out.row_mut(y);
        for (x, slope) in row.iter_mut().enumerate() {
            let (left, right) = if dx == 0 {
                (x, x)
            } else {
                (x.saturating_sub(1), (x + 1).min(width - 1))
            };
            *slope = (below[right] - above[left]) * 0.5;
        }
    }
    out
}
