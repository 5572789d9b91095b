//! The last steps of a scene: exposure, tone, saturation, vignette, grain, and encoding for files and screens.

pub mod encode;
mod grain;
mod tone;

pub use encode::{Dither, display, encode_8, encode_16, linear_bt709};
pub use grain::Grain;
pub use tone::{Tone, ToneCurve};

use crate::geometry::Size;
use crate::imaging::basics::colour::luma;
use crate::pixels::Image;
use crate::pixels::convert::{coordinate, count_f32, narrow};
use rayon::prelude::*;

/// Darkening towards the corners, as a lens does it.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Vignette {
    /// Stops lost in the corners (0 = none); negative brightens them.
    pub stops: f32,
}

/// All finishing of a scene, in the order in which it is done: exposure, vignette, saturation, tone, grain.
#[derive(Debug, Clone, PartialEq)]
pub struct Finish {
    /// Stops; each doubles the light.
    pub exposure_ev: f32,
    /// Darker corners.
    pub vignette: Vignette,
    /// Distance from grey: 1 leaves colours, 0 makes them grey.
    pub saturation: f32,
    /// Contrast and shoulder.
    pub tone: Tone,
    /// Grain over everything.
    pub grain: Grain,
}

impl Default for Finish {
    /// Leaves the picture as it is.
    fn default() -> Self {
        Self {
            exposure_ev: 0.0,
            vignette: Vignette::default(),
            saturation: 1.0,
            tone: Tone::default(),
            grain: Grain::default(),
        }
    }
}

impl Finish {
    /// Whether it changes nothing.
    #[must_use]
    pub fn is_neutral(&self) -> bool {
        *self == Self::default()
            || (self.exposure_ev.abs() <= 0.0
                && self.vignette.stops.abs() <= 0.0
                && (self.saturation - 1.0).abs() <= 0.0
                && self.tone.is_straight()
                && self.grain.strength <= 0.0)
    }
}

/// Finishes `image`, a part of a canvas of `canvas` pixels (full size) shrunk by 2^`level`.
///
/// Colours are treated as they stand behind their coverage, so edges keep their tone. *Needs*: nothing beyond each pixel.
pub fn finish(image: &mut Image, recipe: &Finish, canvas: Size, level: u32) {
    if recipe.is_neutral() || image.rect.is_empty() {
        return;
    }
    let gain = libm::exp2f(recipe.exposure_ev);
    let curve = ToneCurve::new(&recipe.tone);
    let falloff = Falloff::new(recipe.vignette, canvas, level);
    let rect = image.rect;
    image
        .data
        .par_chunks_mut(rect.width())
        .enumerate()
        .for_each(|(row, pixels)| {
            let y = rect.y0 + coordinate(row);
            let grain = grain::Row::new(&recipe.grain, rect.x0, y, pixels.len(), level);
            for (at, pixel) in pixels.iter_mut().enumerate() {
                let coverage = pixel[3];
                if coverage <= 0.0 {
                    continue;
                }
                let gain = gain * falloff.at(rect.x0 + coordinate(at), y);
                let light = [0, 1, 2].map(|channel| pixel[channel] * gain / coverage);
                let grey = luma(light);
                let toned =
                    light.map(|value| curve.apply(grey + (value - grey) * recipe.saturation));
                let done = grain.apply(at, toned);
                *pixel = [
                    done[0] * coverage,
                    done[1] * coverage,
                    done[2] * coverage,
                    coverage,
                ];
            }
        });
}

/// Light left at a distance from the middle: `1 / (1 + a r^2)^2`, the cosine-to-the-fourth law in terms of the tangent.
struct Falloff {
    centre: [f32; 2],
    over_radius_squared: f32,
    a: f32,
}

impl Falloff {
    fn new(vignette: Vignette, canvas: Size, level: u32) -> Self {
        let shrink = 1.0 / count_f32(1_usize << level.min(24));
        let side = |length: u32| narrow(f64::from(length)) * shrink * 0.5;
        let centre = [side(canvas.width), side(canvas.height)];
        let radius_squared = centre[0] * centre[0] + centre[1] * centre[1];
        Self {
            centre,
            over_radius_squared: 1.0 / radius_squared.max(1e-6),
            a: libm::exp2f(vignette.stops * 0.5) - 1.0,
        }
    }

    #[inline]
    fn at(&self, x: i32, y: i32) -> f32 {
        if self.a.abs() <= 0.0 {
            return 1.0;
        }
        let dx = narrow(f64::from(x)) + 0.5 - self.centre[0];
        let dy = narrow(f64::from(y)) + 0.5 - self.centre[1];
        let below = (1.0 + self.a * (dx * dx + dy * dy) * self.over_radius_squared).max(0.05);
        1.0 / (below * below)
    }
}

#[cfg(test)]
mod tests;
