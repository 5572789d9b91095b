//! Made plates: stars, dust, planets with rings, and the sizes of rocks. Pictures from plain numbers, no photo needed.
//!
//! Every `render` is a function of the recipe and the pixel: tiles agree bit for bit. Positions and lengths are pixels of the
//! canvas at full size; `level` shrinks them by 2^level. Axes: x right, y down, z towards the viewer. Colours are in the working
//! space; light 1 is white.

pub mod dust;
mod noise;
pub mod planet;
pub mod ring;
pub mod rocks;
pub mod stars;

pub use dust::Dust;
pub use planet::{Air, Planet};
pub use ring::{Gap, Ring};
pub use stars::Stars;

use crate::imaging::basics::colour::matrices::{apply, working_from_xyz, xyz_from_xy};
use crate::optics::light::planckian_xy;
use crate::pixels::convert::{count_f32, narrow};

/// Colour of a black body of `kelvin` (1667..=25000) in the working space, luminance 1, never negative.
#[must_use]
pub fn glow_colour(kelvin: f64) -> [f32; 3] {
    let rgb = apply(&working_from_xyz(), xyz_from_xy(planckian_xy(kelvin)));
    rgb.map(|value| narrow(value.max(0.0)))
}

/// Direction to a light at `azimuth` (0 from the camera, positive to the right, pi from behind) and `elevation` (positive up), radians.
#[must_use]
pub fn direction(azimuth: f64, elevation: f64) -> [f32; 3] {
    let across = libm::cos(elevation);
    [
        narrow(libm::sin(azimuth) * across),
        narrow(-libm::sin(elevation)),
        narrow(libm::cos(azimuth) * across),
    ]
}

fn shrink(level: u32) -> f32 {
    1.0 / count_f32(1_usize << level.min(24))
}

fn dot(a: [f32; 3], b: [f32; 3]) -> f32 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

fn mix(a: f32, b: f32, t: f32) -> f32 {
    a + (b - a) * t
}

fn mix_colour(a: [f32; 3], b: [f32; 3], t: f32) -> [f32; 3] {
    [0, 1, 2].map(|at| mix(a[at], b[at], t))
}

/// 0 below `from`, 1 above `to`, smooth between.
fn smooth(from: f32, to: f32, value: f32) -> f32 {
    let t = ((value - from) / (to - from)).clamp(0.0, 1.0);
    t * t * (3.0 - 2.0 * t)
}

#[cfg(test)]
mod tests;
