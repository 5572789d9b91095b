//! Colour: curves and matrices of encodings, decoding into the working space, white balance, colour difference and the way out.
//!
//! The working space is linear light with ITU-R BT.2020 primaries and white D65, unclipped, in `f32`.

pub mod curves;
pub mod decode;
pub mod difference;
pub mod matrices;
pub mod output;
pub mod white_balance;

pub use curves::{encode_srgb, linear_to_srgb, srgb_to_linear};
pub use decode::{ColourError, Decoder, Depth};
pub use difference::{ciede2000, lab_from_working, lab_from_xyz};
pub use matrices::Matrix3;
pub use output::{Gamut, OutputTransform};
pub use white_balance::{gains_from_grey, gains_from_kelvin};

/// Weights of red, green and blue in the luminance of the working space (ITU-R BT.2020-2, table 4, from its primaries).
pub const LUMA: [f32; 3] = [0.262_700_2, 0.677_998_1, 0.059_301_72];

use crate::imaging::basics::pixelwise::of_colours;
use crate::pixels::{Plane, Planes};

/// Luminance (CIE Y, white = 1) of a colour of the working space.
#[must_use]
pub fn luma(rgb: [f32; 3]) -> f32 {
    rgb[0] * LUMA[0] + rgb[1] * LUMA[1] + rgb[2] * LUMA[2]
}

/// [`luma`] of every pixel.
#[must_use]
pub fn luma_of(planes: &Planes) -> Plane {
    of_colours(&planes.rgb, luma)
}
