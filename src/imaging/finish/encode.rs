//! From the working space to the numbers of files and screens.

use crate::geometry::Size;
use crate::imaging::basics::colour::{Gamut, OutputTransform, encode_srgb};
use crate::imaging::basics::random::{bits_at, unit_f32};
use crate::pixels::convert::{coordinate, floor_index, unit_to_u16};
use crate::pixels::{DisplayImage, Image};
use rayon::prelude::*;

/// How values between two codes are rounded.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Dither {
    /// To the nearest code.
    Nearest,
    /// Up or down by chance, in proportion to the distance, so that smooth shades show no bands. The chance depends on the place in the
    /// picture and on the seed alone, and a value that is exactly a code stays that code.
    #[default]
    ByPlace,
}

/// What of a pixel goes out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Channels {
    /// Red, green, blue, over black.
    Rgb,
    /// Red, green, blue without coverage multiplied in, then coverage.
    Rgba,
}

impl Channels {
    /// Numbers per pixel.
    #[must_use]
    pub const fn count(self) -> usize {
        match self {
            Self::Rgb => 3,
            Self::Rgba => 4,
        }
    }

    fn colour(self, pixel: [f32; 4]) -> [f32; 3] {
        let [r, g, b, coverage] = pixel;
        match self {
            Self::Rgba if coverage > 0.0 => [r / coverage, g / coverage, b / coverage],
            Self::Rgb | Self::Rgba => [r, g, b],
        }
    }
}

/// Seed of the dither pattern.
const PATTERN: u64 = 0x6469_7468_6572;

/// 8-bit sRGB codes, row by row. Colours outside sRGB are treated by `gamut`.
#[must_use]
pub fn encode_8(image: &Image, channels: Channels, gamut: Gamut, dither: Dither) -> Vec<u8> {
    let transform = OutputTransform::new(gamut);
    let (rect, count) = (image.rect, channels.count());
    let mut out = vec![0_u8; image.data.len() * count];
    if rect.is_empty() {
        return out;
    }
    out.par_chunks_mut(rect.width() * count)
        .zip(image.data.par_chunks(rect.width()))
        .enumerate()
        .for_each(|(row, (out, pixels))| {
            let y = rect.y0 + coordinate(row);
            for (at, (codes, pixel)) in out.chunks_exact_mut(count).zip(pixels).enumerate() {
                let encoded = transform.to_bt709(channels.colour(*pixel)).map(encode_srgb);
                let chance = match dither {
                    Dither::Nearest => [0.5; 3],
                    Dither::ByPlace => chances(rect.x0 + coordinate(at), y),
                };
                for ((code, value), chance) in codes.iter_mut().zip(encoded).zip(chance) {
                    *code = code_8(value, chance);
                }
                if let Some(code) = codes.get_mut(3) {
                    *code = code_8(pixel[3].clamp(0.0, 1.0), 0.5);
                }
            }
        });
    out
}

/// Three independent numbers between 1/512 and 511/512: exact codes, off by a rounding error, then keep their code.
fn chances(x: i32, y: i32) -> [f32; 3] {
    let bits = bits_at(PATTERN, x, y);
    [bits, bits << 21, bits << 42].map(|bits| {
        let coarse = unit_f32(bits & 0xffff_f800_0000_0000);
        1.0 / 512.0 + coarse * (510.0 / 512.0)
    })
}

fn code_8(value: f32, chance: f32) -> u8 {
    u8::try_from(floor_index(f64::from(value) * 255.0 + f64::from(chance)).min(255)).unwrap_or(255)
}

/// 16-bit sRGB codes, row by row, rounded to nearest (a 16-bit step is far below what can be seen).
#[must_use]
pub fn encode_16(image: &Image, channels: Channels, gamut: Gamut) -> Vec<u16> {
    let transform = OutputTransform::new(gamut);
    let (rect, count) = (image.rect, channels.count());
    let mut out = vec![0_u16; image.data.len() * count];
    if rect.is_empty() {
        return out;
    }
    out.par_chunks_mut(rect.width() * count)
        .zip(image.data.par_chunks(rect.width()))
        .for_each(|(out, pixels)| {
            for (codes, pixel) in out.chunks_exact_mut(count).zip(pixels) {
                let encoded = transform.to_bt709(channels.colour(*pixel)).map(encode_srgb);
                for (code, value) in codes.iter_mut().zip(encoded) {
                    *code = unit_to_u16(value);
                }
                if let Some(code) = codes.get_mut(3) {
                    *code = unit_to_u16(pixel[3].clamp(0.0, 1.0));
                }
            }
        });
    out
}

/// Linear light with BT.709 primaries, unclipped, premultiplied, red, green, blue, coverage: what `OpenEXR` files hold.
#[must_use]
pub fn linear_bt709(image: &Image) -> Vec<[f32; 4]> {
    let transform = OutputTransform::new(Gamut::Leave);
    let convert = |pixel: &[f32; 4]| {
        let [r, g, b] = transform.to_bt709([pixel[0], pixel[1], pixel[2]]);
        [r, g, b, pixel[3]]
    };
    image.data.par_iter().map(convert).collect()
}

/// 8-bit sRGB with coverage for screens and thumbnails, dithered.
#[must_use]
pub fn display(image: &Image, gamut: Gamut) -> DisplayImage {
    let side = |length: usize| u32::try_from(length).unwrap_or(u32::MAX);
    DisplayImage {
        size: Size::new(side(image.rect.width()), side(image.rect.height())),
        rgba: encode_8(image, Channels::Rgba, gamut, Dither::ByPlace),
    }
}
