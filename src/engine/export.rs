//! The finished scene as numbers for a file, row band by row band.

use crate::geometry::Size;
use crate::imaging::basics::colour::Gamut;
use crate::imaging::finish::encode::Channels;
use crate::imaging::finish::{self, Dither};
use crate::pixels::Image;
use crate::pixels::convert::unit_to_u16;

/// How finished light becomes numbers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Encoding {
    /// 8-bit sRGB, dithered.
    Srgb8,
    /// 16-bit sRGB, dithered.
    Srgb16,
    /// Linear light with BT.709 primaries, unclipped.
    Linear,
}

/// Numbers of a picture: red, green, blue, row by row.
#[derive(Debug, Clone, PartialEq)]
pub enum Exported {
    /// 8-bit codes.
    U8(Vec<u8>),
    /// 16-bit codes.
    U16(Vec<u16>),
    /// Linear light.
    F32(Vec<f32>),
}

impl Exported {
    /// An empty picture with room for `size`.
    #[must_use]
    pub fn new(size: Size, encoding: Encoding) -> Self {
        let room = size.rect().area() * 3;
        match encoding {
            Encoding::Srgb8 => Self::U8(Vec::with_capacity(room)),
            Encoding::Srgb16 => Self::U16(Vec::with_capacity(room)),
            Encoding::Linear => Self::F32(Vec::with_capacity(room)),
        }
    }

    /// Adds the next rows, which must be as wide as the picture.
    pub fn add(&mut self, rows: &Image) {
        match self {
            Self::U8(codes) => codes.extend(finish::encode_8(
                rows,
                Channels::Rgb,
                Gamut::KeepHue,
                Dither::ByPlace,
            )),
            Self::U16(codes) => {
                codes.extend(finish::encode_16(rows, Channels::Rgb, Gamut::KeepHue));
            }
            Self::F32(values) => values.extend(
                finish::linear_bt709(rows)
                    .iter()
                    .flat_map(|pixel| [pixel[0], pixel[1], pixel[2]]),
            ),
        }
    }
}

/// Linear light with BT.709 primaries as 16-bit codes: light times the factor given, which is 1, or less where light goes beyond white.
/// Light below 0, which is noise, is written as 0.
#[must_use]
pub fn scaled_light(light: &Image) -> (Vec<u16>, f32) {
    let pixels = finish::linear_bt709(light);
    let most = pixels
        .iter()
        .flat_map(|pixel| &pixel[..3])
        .fold(1.0_f32, |most, value| most.max(*value));
    let scale = 1.0 / most;
    let codes = pixels
        .iter()
        .flat_map(|pixel| &pixel[..3])
        .map(|value| unit_to_u16(value * scale));
    (codes.collect(), scale)
}
