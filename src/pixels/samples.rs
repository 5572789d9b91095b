//! A decoded photo as it was stored, with how its numbers are to be read.

use crate::geometry::Size;
use std::sync::Arc;

/// The numbers of a photo, row by row, channels side by side.
#[derive(Debug, Clone, PartialEq)]
pub enum Numbers {
    /// 8-bit codes, 0..=255.
    U8(Vec<u8>),
    /// 16-bit codes, 0..=65535.
    U16(Vec<u16>),
    /// Floating point, 1.0 = white.
    F32(Vec<f32>),
}

/// How one channel's codes become light: input 0..=1 (code over the largest code), output linear 0..=1.
#[derive(Debug, Clone, PartialEq)]
pub enum Curve {
    /// The number is the light.
    Linear,
    /// The curve of IEC 61966-2-1 (sRGB).
    Srgb,
    /// `light = code ^ exponent`.
    Gamma(f64),
    /// The ICC parametric curve in the full form: `(a x + b)^g + e` for `x >= d`, else `c x + f`; values g a b c d e f.
    Parametric([f64; 7]),
    /// Equally spaced light values over the code range, linearly interpolated; at least two.
    Table(Arc<[f32]>),
}

/// What the numbers of a photo mean as colour.
#[derive(Debug, Clone, PartialEq)]
pub enum ColourEncoding {
    /// Curves per channel, then a matrix to linear CIE XYZ relative to D50 (the ICC connection space), Y of white = 1.
    MatrixD50 {
        /// Red, green, blue curves.
        curves: [Curve; 3],
        /// Rows X, Y, Z; columns red, green, blue.
        xyz_from_rgb: [[f64; 3]; 3],
    },
    /// Curves per channel, then primaries and white given as CIE xy: red, green, blue, white. No D50 step in between.
    Primaries {
        /// Red, green, blue curves.
        curves: [Curve; 3],
        /// Chromaticities of red, green, blue, white.
        xy: [[f64; 2]; 4],
    },
    /// A profile with look-up tables: the bytes of the ICC profile.
    IccTables(Arc<[u8]>),
}

impl ColourEncoding {
    /// sRGB of IEC 61966-2-1: BT.709 primaries, white D65.
    #[must_use]
    pub const fn srgb() -> Self {
        Self::Primaries {
            curves: [Curve::Srgb, Curve::Srgb, Curve::Srgb],
            xy: Self::BT709_XY,
        }
    }

    /// Linear light with the BT.709 primaries: what an OpenEXR file means when it says nothing.
    #[must_use]
    pub const fn linear_bt709() -> Self {
        Self::Primaries {
            curves: [Curve::Linear, Curve::Linear, Curve::Linear],
            xy: Self::BT709_XY,
        }
    }

    /// Chromaticities of ITU-R BT.709 red, green, blue and of D65.
    pub const BT709_XY: [[f64; 2]; 4] =
        [[0.64, 0.33], [0.30, 0.60], [0.15, 0.06], [0.3127, 0.3290]];
    /// Chromaticities of ITU-R BT.2020 red, green, blue and of D65.
    pub const BT2020_XY: [[f64; 2]; 4] = [
        [0.708, 0.292],
        [0.170, 0.797],
        [0.131, 0.046],
        [0.3127, 0.3290],
    ];
}

/// A decoded photo, upright, exactly as stored.
#[derive(Debug, Clone, PartialEq)]
pub struct Samples {
    /// Width and height after turning it upright.
    pub size: Size,
    /// Numbers per pixel: 1 grey, 2 grey and coverage, 3 colour, 4 colour and coverage.
    pub channels: usize,
    /// The numbers, `size.area() * channels` of them. Coverage, where there is any, is not multiplied in.
    pub numbers: Numbers,
    /// How to read them.
    pub encoding: ColourEncoding,
}

impl Samples {
    /// Bytes held.
    #[must_use]
    pub fn bytes(&self) -> usize {
        match &self.numbers {
            Numbers::U8(numbers) => numbers.len(),
            Numbers::U16(numbers) => numbers.len() * 2,
            Numbers::F32(numbers) => numbers.len() * 4,
        }
    }
}
