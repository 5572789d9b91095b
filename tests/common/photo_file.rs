//! Photos of made scenes as files.
#![allow(
    unreachable_pub,
    clippy::unwrap_used,
    clippy::cast_possible_truncation,
    clippy::allow_attributes,
    reason = "shared by several test binaries"
)]

use super::layered_scene::noisy;
use platebench::files::output::{OutputColour, Picture, Pixels, WriteOptions, write};
use platebench::geometry::Size;
use platebench::imaging::basics::colour::encode_srgb;
use platebench::pixels::Planes;
use platebench::pixels::convert::unit_to_u16;
use std::path::Path;

/// Writes the photo that a camera of little noise takes of `picture`, as TIFF of 16 bits.
pub fn write_photo(path: &Path, picture: &Planes, seed: u64) {
    let picture = noisy(picture, seed, 60_000.0, 3.0);
    let rect = picture.rect();
    let data = (0..rect.area())
        .flat_map(|at| picture.pixel(at))
        .map(|light| unit_to_u16(encode_srgb(light.clamp(0.0, 1.0))))
        .collect();
    let size = Size::new(rect.width() as u32, rect.height() as u32);
    let picture = Picture {
        size,
        pixels: Pixels::U16 { channels: 3, data },
    };
    write(path, &picture, &WriteOptions::new(16, OutputColour::Srgb)).unwrap();
}
