//! The finished scene as numbers for a file, row band by row band.

use crate::geometry::Size;
use crate::imaging::finish;
use crate::pixels::Image;

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

impl Encoding {
    /// The encoding for a float format, or for a whole-number one of `bits` bits.
    #[must_use]
    pub const fn for_output(float: Float, bits: u8) -> Self {
        match (float, bits) {
            (Float::Yes, _) | (Float::No, 32) => Self::Linear,
            (Float::No, 8) => Self::Srgb8,
            (Float::No, _) => Self::Srgb16,
        }
    }
}

/// Whether a format holds floating-point numbers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Float {
    /// It does.
    Yes,
    /// It holds whole numbers.
    No,
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
            Self::U8(codes) => codes.extend(finish::encode_u8(rows)),
            Self::U16(codes) => codes.extend(finish::encode_u16(rows)),
            Self::F32(values) => values.extend(finish::encode_linear(rows)),
        }
    }
}
