//! A stack of five small frames whose focus runs from left to right.

use platebench::files::output::{OutputColour, Picture, Pixels, WriteOptions, write};
use platebench::geometry::Size;
use platebench::imaging::basics::blur::gaussian;
use platebench::imaging::basics::colour::encode_srgb;
use platebench::pixels::Plane;
use platebench::pixels::convert::{narrow, unit_to_u16};
use platebench::session::Settings;
use std::path::{Path, PathBuf};

pub(crate) const SIZE: Size = Size::new(320, 240);
pub(crate) const FRAMES: u8 = 5;

/// A fixed sequence of numbers evenly spread over 0..1.
struct Chance(u64);

impl Chance {
    fn next(&mut self) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        let top = u32::try_from(self.0 >> 40).unwrap();
        f64::from(top) / f64::from(1_u32 << 24)
    }
}

/// A textured plane whose left end is in focus in the first frame and whose right end is in the last.
pub(crate) fn frame(k: u8, noise_seed: u64) -> Plane {
    let rect = SIZE.rect();
    let mut chance = Chance(11);
    let grain = gaussian(&Plane::from_fn(rect, |_, _| narrow(chance.next())), 0.8);
    let coarse = gaussian(&grain, 6.0);
    let sharp = Plane::from_fn(rect, |x, y| {
        let (fine, wide) = (grain.at(x, y) - 0.5, coarse.at(x, y) - 0.5);
        (0.25 + 0.6 * fine + 3.0 * wide).clamp(0.02, 0.9)
    });
    let steps: Vec<Plane> = (0..=12_u8)
        .map(|step| gaussian(&sharp, 0.4 * f32::from(step)))
        .collect();
    let mut chance = Chance(noise_seed);
    Plane::from_fn(rect, |x, y| {
        let across = narrow(f64::from(x) / 320.0) * f32::from(FRAMES - 1);
        let off = ((across - f32::from(k)).abs() * 3.0).min(11.0);
        let step = usize::try_from(platebench::pixels::convert::floor_i32(off)).unwrap();
        let part = off - f32::from(u8::try_from(step).unwrap());
        let value = steps[step].at(x, y) * (1.0 - part) + steps[step + 1].at(x, y) * part;
        let noise: f64 = (0..4).map(|_| chance.next() - 0.5).sum();
        value + narrow(noise * 0.002)
    })
}

pub(crate) fn write_grey(path: &Path, plane: &Plane, gain: [f32; 3]) {
    let data = plane
        .data
        .iter()
        .flat_map(|value| gain.map(|gain| unit_to_u16(encode_srgb((value * gain).clamp(0.0, 1.0)))))
        .collect();
    let size = Size::new(plane.rect.x1.cast_unsigned(), plane.rect.y1.cast_unsigned());
    let picture = Picture {
        size,
        pixels: Pixels::U16 { channels: 3, data },
    };
    write(path, &picture, &WriteOptions::new(16, OutputColour::Srgb)).unwrap();
}

pub(crate) fn lay_out(folder: &Path) -> Vec<PathBuf> {
    (0..FRAMES)
        .map(|k| {
            let path = folder.join(format!("frame_{k}.tif"));
            write_grey(&path, &frame(k, 100 + u64::from(k)), [1.0; 3]);
            path
        })
        .collect()
}

pub(crate) fn settings() -> Settings {
    Settings {
        scratch_bytes: 0,
        ..Settings::for_memory(1 << 30)
    }
    .with_tile_side(512)
}
