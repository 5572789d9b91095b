//! From exposed plates to picture bytes: vignetting, sensor dust, noise, the sRGB curve, dithered 8 bits, JPEG.

use crate::field::Plate;
use crate::num::{byte, real, word};
use crate::vec3::{V3, ease, hash2, unit_of, v3};
use rayon::prelude::*;

/// The sRGB curve (IEC 61966-2-1), from linear light to signal, both 0..1.
pub(crate) fn encode(x: f32) -> f32 {
    let x = x.clamp(0.0, 1.0);
    if x <= 0.003_130_8 {
        12.92 * x
    } else {
        1.055 * libm::powf(x, 1.0 / 2.4) - 0.055
    }
}

/// A mote on the sensor: place and radius in shares of the picture's width, depth of its shadow.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Mote {
    /// Across.
    pub(crate) x: f32,
    /// Down.
    pub(crate) y: f32,
    /// Radius.
    pub(crate) radius: f32,
    /// Light lost in the middle.
    pub(crate) depth: f32,
}

/// Dust on the sensor of our camera; the same in every photograph.
pub(crate) const MOTES: [Mote; 7] = [
    Mote {
        x: 0.137,
        y: 0.112,
        radius: 0.0058,
        depth: 0.09,
    },
    Mote {
        x: 0.3172,
        y: 0.423,
        radius: 0.0044,
        depth: 0.07,
    },
    Mote {
        x: 0.547,
        y: 0.286,
        radius: 0.0068,
        depth: 0.055,
    },
    Mote {
        x: 0.694,
        y: 0.371,
        radius: 0.0040,
        depth: 0.10,
    },
    Mote {
        x: 0.781,
        y: 0.168,
        radius: 0.0076,
        depth: 0.05,
    },
    Mote {
        x: 0.861,
        y: 0.508,
        radius: 0.0050,
        depth: 0.08,
    },
    Mote {
        x: 0.421,
        y: 0.587,
        radius: 0.0054,
        depth: 0.06,
    },
];

/// Hot pixels of our camera: place in shares of the width, colour added in linear light.
pub(crate) const HOT: [(f32, f32, [f32; 3]); 6] = [
    (0.0912, 0.3021, [0.30, 0.02, 0.01]),
    (0.2713, 0.1208, [0.02, 0.26, 0.03]),
    (0.4604, 0.4810, [0.28, 0.25, 0.26]),
    (0.6409, 0.2502, [0.03, 0.02, 0.33]),
    (0.8231, 0.3907, [0.24, 0.03, 0.02]),
    (0.9312, 0.0911, [0.02, 0.22, 0.04]),
];

/// How a frame is developed.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Bath {
    /// Factor from radiance to signal (exposure).
    pub(crate) gain: f32,
    /// White-balance factors.
    pub(crate) balance: [f32; 3],
    /// Electrons at full signal and read noise in electrons.
    pub(crate) well: (f32, f32),
    /// Seed of the noise.
    pub(crate) seed: u32,
}

/// Light kept at a place (px): mild vignetting, 1 in the middle.
pub(crate) fn vignette(x: f32, y: f32, size: (usize, usize)) -> f32 {
    let (cx, cy) = (0.5 * real(size.0), 0.5 * real(size.1));
    let r2 = ((x - cx) * (x - cx) + (y - cy) * (y - cy)) / (cx * cx + cy * cy);
    1.0 - 0.13 * r2 - 0.06 * r2 * r2
}

/// Light kept under the sensor's dust.
pub(crate) fn dusty(x: f32, y: f32, size: (usize, usize)) -> f32 {
    let w = real(size.0);
    MOTES.iter().fold(1.0, |k, m| {
        let (dx, dy) = (x - m.x * w, y - m.y * w);
        let d = (dx * dx + dy * dy).sqrt() / (m.radius * w);
        k * (1.0 - m.depth * (1.0 - ease(0.55, 1.15, d)))
    })
}

fn bell(h: u32) -> f32 {
    // Sum of four even numbers: near enough to a normal of unit spread for a sensor.
    let s = unit_of(h) + unit_of(hash2(h, 1)) + unit_of(hash2(h, 2)) + unit_of(hash2(h, 3));
    (s - 2.0) * 1.732
}

/// Signal of one pixel, linear, with noise.
fn expose(c: V3, at: (usize, usize), size: (usize, usize), bath: &Bath) -> V3 {
    let (x, y) = (real(at.0) + 0.5, real(at.1) + 0.5);
    let kept = bath.gain * vignette(x, y, size) * dusty(x, y, size);
    let mut s = [c.x * kept, c.y * kept, c.z * kept];
    let base = hash2(hash2(word(at.0), word(at.1)), bath.seed);
    for (i, v) in s.iter_mut().enumerate() {
        let electrons = (*v).max(0.0) * bath.well.0;
        let spread = (electrons + bath.well.1 * bath.well.1).sqrt();
        *v += bell(hash2(base, word(i) + 11)) * spread / bath.well.0;
        *v *= bath.balance[i];
    }
    for h in HOT {
        let w = real(size.0);
        if at.0 == crate::num::index(h.0 * w) && at.1 == crate::num::index(h.1 * w) {
            s = [s[0] + h.2[0], s[1] + h.2[1], s[2] + h.2[2]];
        }
    }
    v3(s[0], s[1], s[2])
}

/// Linear picture to dithered 8-bit sRGB rows.
pub(crate) fn to_bytes(
    size: (usize, usize),
    seed: u32,
    pixel: impl Fn(usize, usize) -> V3 + Sync,
) -> Vec<u8> {
    let mut out = vec![0_u8; size.0 * size.1 * 3];
    out.par_chunks_mut(size.0 * 3)
        .enumerate()
        .for_each(|(y, row)| {
            for (x, px) in row.chunks_exact_mut(3).enumerate() {
                let c = pixel(x, y);
                let h = hash2(hash2(word(x), word(y)), seed ^ 0xD17);
                for (i, (b, v)) in px.iter_mut().zip([c.x, c.y, c.z]).enumerate() {
                    *b = byte(encode(v) * 255.0 + unit_of(hash2(h, word(i))));
                }
            }
        });
    out
}

/// Develops a plate into 8-bit sRGB.
pub(crate) fn develop(plate: &Plate, size: (usize, usize), bath: &Bath) -> Vec<u8> {
    to_bytes(size, bath.seed, |x, y| {
        expose(plate.at(x, y), (x, y), size, bath)
    })
}
