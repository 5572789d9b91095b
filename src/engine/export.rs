//! The finished scene as numbers for a file, row band by row band.

use crate::geometry::Size;
use crate::imaging::basics::colour::Gamut;
use crate::imaging::finish::encode::Channels;
use crate::imaging::finish::{self, Dither};
use crate::pixels::Image;
use crate::pixels::convert::{coordinate, unit_to_u16};
use rayon::prelude::*;

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

    /// A picture whose rows from the first number to before the second come from `rows_of`, several bands of them at a time.
    #[must_use]
    pub fn of_rows(
        size: Size,
        encoding: Encoding,
        rows_of: &(impl Fn(i32, i32) -> Image + Sync),
    ) -> Self {
        let count = size.rect().area() * 3;
        match encoding {
            Encoding::Srgb8 => Self::U8(in_bands(size, vec![0; count], rows_of, codes_8)),
            Encoding::Srgb16 => Self::U16(in_bands(size, vec![0; count], rows_of, codes_16)),
            Encoding::Linear => Self::F32(in_bands(size, vec![0.0; count], rows_of, linear)),
        }
    }

    /// Adds the next rows, which must be as wide as the picture.
    pub fn add(&mut self, rows: &Image) {
        match self {
            Self::U8(codes) => codes.extend(codes_8(rows)),
            Self::U16(codes) => codes.extend(codes_16(rows)),
            Self::F32(values) => values.extend(linear(rows)),
        }
    }
}

fn codes_8(rows: &Image) -> Vec<u8> {
    finish::encode_8(rows, Channels::Rgb, Gamut::KeepHue, Dither::ByPlace)
}

fn codes_16(rows: &Image) -> Vec<u16> {
    finish::encode_16(rows, Channels::Rgb, Gamut::KeepHue)
}

fn linear(rows: &Image) -> Vec<f32> {
    let pixels = finish::linear_bt709(rows);
    let numbers = pixels
        .iter()
        .flat_map(|pixel| [pixel[0], pixel[1], pixel[2]]);
    numbers.collect()
}

/// Rows of a picture that one thread encodes at a time; no number depends on it.
const BAND_ROWS: usize = 32;

/// The numbers of a picture, put into `out` band by band.
fn in_bands<T: Copy + Send>(
    size: Size,
    mut out: Vec<T>,
    rows_of: &(impl Fn(i32, i32) -> Image + Sync),
    encode: fn(&Image) -> Vec<T>,
) -> Vec<T> {
    let rect = size.rect();
    let bands = out.par_chunks_mut((rect.width() * 3 * BAND_ROWS).max(1));
    bands.enumerate().for_each(|(band, out)| {
        let top = coordinate(band * BAND_ROWS);
        let bottom = (top + coordinate(BAND_ROWS)).min(rect.y1);
        out.copy_from_slice(&encode(&rows_of(top, bottom)));
    });
    out
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
