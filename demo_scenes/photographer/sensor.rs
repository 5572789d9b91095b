//! From light sums to a camera's eight-bit picture: glare, vignetting, sensor dust, noise, hot pixels, sRGB.

use crate::field::Px;
use crate::vec3::{ease, hash2, unit_of};
use rayon::prelude::*;

/// A soft dark disc of dust before the sensor: place in parts of the picture, radius in px at full width, depth.
pub(crate) const SENSOR_DUST: [(f32, f32, f32, f32); 9] = [
    (0.112, 0.207, 9.0, 0.05),
    (0.274, 0.823, 13.0, 0.035),
    (0.391, 0.134, 7.0, 0.06),
    (0.538, 0.452, 10.0, 0.03),
    (0.642, 0.716, 8.0, 0.05),
    (0.731, 0.281, 15.0, 0.03),
    (0.853, 0.634, 9.0, 0.055),
    (0.918, 0.118, 12.0, 0.04),
    (0.203, 0.561, 6.0, 0.06),
];

/// A pixel that is always too bright: place in parts of the picture, what it adds per unit of gain, channel.
pub(crate) const HOT_PIXELS: [(f32, f32, f32, usize); 6] = [
    (0.0731, 0.6412, 0.10, 0),
    (0.3117, 0.3571, 0.07, 1),
    (0.4823, 0.9133, 0.13, 2),
    (0.6692, 0.1508, 0.06, 0),
    (0.7914, 0.7735, 0.09, 1),
    (0.9377, 0.4466, 0.12, 0),
];

/// How a frame is exposed.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Exposure {
    /// Factor on the light.
    pub(crate) gain: f32,
    /// White-balance factors.
    pub(crate) balance: [f32; 3],
    /// Sensitivity (sets the full well).
    pub(crate) iso: u16,
    /// Seed of the noise.
    pub(crate) seed: u32,
}

/// sRGB transfer curve (IEC 61966-2-1), 0..1.
pub(crate) fn srgb(x: f32) -> f32 {
    let x = x.clamp(0.0, 1.0);
    if x <= 0.003_130_8 {
        12.92 * x
    } else {
        1.055 * libm::powf(x, 1.0 / 2.4) - 0.055
    }
}

/// A value in 0..=255 as a byte.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "clamped"
)]
pub(crate) fn byte(x: f32) -> u8 {
    x.clamp(0.0, 255.0) as u8
}

/// Wide faint glare of the lens: the picture, shrunk by 16, blurred and read back smoothly.
#[derive(Debug)]
struct Glare {
    w: usize,
    h: usize,
    px: Vec<[f32; 3]>,
}

const SHRINK: usize = 16;

impl Glare {
    #[expect(clippy::cast_precision_loss, reason = "picture sizes")]
    fn new(sum: &[Px], size: (usize, usize), scale: f32) -> Self {
        let (w, h) = (size.0.div_ceil(SHRINK), size.1.div_ceil(SHRINK));
        let mut px = vec![[0.0_f32; 3]; w * h];
        for y in 0..size.1 {
            for x in 0..size.0 {
                let at = &mut px[y / SHRINK * w + x / SHRINK];
                for k in 0..3 {
                    at[k] += (sum[y * size.0 + x][k] * scale).min(3.0) / (SHRINK * SHRINK) as f32;
                }
            }
        }
        for r in [2, 5, 5] {
            px = smear(&px, (w, h), r, 1);
            px = smear(&px, (w, h), r, 0);
        }
        Self { w, h, px }
    }

    #[expect(
        clippy::cast_precision_loss,
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "clamped"
    )]
    fn at(&self, x: usize, y: usize) -> [f32; 3] {
        let f = |v: usize, n: usize| {
            ((v as f32 + 0.5) / SHRINK as f32 - 0.5).clamp(0.0, n as f32 - 1.001)
        };
        let (fx, fy) = (f(x, self.w), f(y, self.h));
        let (ix, iy) = (fx as usize, fy as usize);
        let (ax, ay) = (fx - ix as f32, fy - iy as f32);
        let p = |dx: usize, dy: usize| self.px[(iy + dy) * self.w + ix + dx];
        let (a, b, c, d) = (p(0, 0), p(1, 0), p(0, 1), p(1, 1));
        [0, 1, 2].map(|k| {
            (a[k] * (1.0 - ax) + b[k] * ax) * (1.0 - ay) + (c[k] * (1.0 - ax) + d[k] * ax) * ay
        })
    }
}

/// Box mean of radius `r` along one axis (0 across, 1 down), edges repeated.
#[expect(clippy::cast_precision_loss, reason = "small radii")]
fn smear(px: &[[f32; 3]], size: (usize, usize), r: usize, axis: usize) -> Vec<[f32; 3]> {
    let (w, h) = size;
    let mut out = vec![[0.0; 3]; px.len()];
    let n = 1.0 / (2 * r + 1) as f32;
    for y in 0..h {
        for x in 0..w {
            for d in 0..=2 * r {
                let q = if axis == 0 {
                    y * w + (x + d).saturating_sub(r).min(w - 1)
                } else {
                    (y + d).saturating_sub(r).min(h - 1) * w + x
                };
                for k in 0..3 {
                    out[y * w + x][k] += px[q][k] * n;
                }
            }
        }
    }
    out
}

/// Two standard normal numbers for a place (Box and Muller 1958).
fn normal(h: u32) -> (f32, f32) {
    let a = unit_of(hash2(h, 1)).max(1e-7);
    let b = unit_of(hash2(h, 2)) * 6.283_185_5;
    let r = (-2.0 * libm::logf(a)).sqrt();
    (r * libm::cosf(b), r * libm::sinf(b))
}

/// Share of light that the corner loses.
const VIGNETTE: f32 = 0.22;

/// Develops a frame.
#[expect(clippy::cast_precision_loss, reason = "picture sizes")]
pub(crate) fn develop(sum: &[Px], size: (usize, usize), e: &Exposure, glare: f32) -> Vec<u8> {
    let veil = Glare::new(sum, size, e.gain);
    let (w, h) = (size.0 as f32, size.1 as f32);
    let full = 22_000.0 * 100.0 / f32::from(e.iso);
    let read = 3.5;
    let k_px = w / 2400.0;
    let mut out = vec![0_u8; size.0 * size.1 * 3];
    out.par_chunks_mut(size.0 * 3)
        .enumerate()
        .for_each(|(y, row)| {
            for x in 0..size.0 {
                let s = &sum[y * size.0 + x];
                let v = veil.at(x, y);
                let (dx, dy) = ((x as f32 + 0.5) / w - 0.5, ((y as f32 + 0.5) - 0.5 * h) / w);
                let r2 = (dx * dx + dy * dy) / 0.361;
                let mut pass = 1.0 - VIGNETTE * r2 * (0.6 + 0.4 * r2);
                for d in &SENSOR_DUST {
                    let (ux, uy) = (x as f32 + 0.5 - d.0 * w, y as f32 + 0.5 - d.1 * h);
                    let dist = (ux * ux + uy * uy).sqrt();
                    pass *= 1.0 - d.3 * (1.0 - ease(0.4 * d.2 * k_px, 1.2 * d.2 * k_px, dist));
                }
                let here = hash2(
                    hash2(u32::try_from(x).unwrap_or(0), e.seed),
                    u32::try_from(y).unwrap_or(0),
                );
                for k in 0..3 {
                    let light =
                        (s[k] * e.gain * (1.0 - glare) + v[k] * glare) * pass * e.balance[k];
                    let g = normal(hash2(here, u32::try_from(k).unwrap_or(0)));
                    let dither = unit_of(hash2(here, 40 + u32::try_from(k).unwrap_or(0)));
                    let noise = ((light.max(0.0) * full).sqrt() * g.0 + read * g.1) / full;
                    row[x * 3 + k] = byte(srgb(light + noise) * 255.0 + dither);
                }
            }
        });
    for hot in &HOT_PIXELS {
        let at = hot_place(hot, size);
        let i = (at.1 * size.0 + at.0) * 3 + hot.3;
        let add = (hot.2 * e.gain).min(0.6);
        out[i] = byte(f32::from(out[i]) + 255.0 * srgb(add));
    }
    out
}

/// Pixel of a hot pixel.
#[expect(
    clippy::cast_precision_loss,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "inside the picture"
)]
pub(crate) fn hot_place(hot: &(f32, f32, f32, usize), size: (usize, usize)) -> (usize, usize) {
    (
        (hot.0 * size.0 as f32) as usize,
        (hot.1 * size.1 as f32) as usize,
    )
}

/// Plain encoding without any camera effect, for the truth.
pub(crate) fn plain(sum: &[Px], gain: f32) -> Vec<u8> {
    let mut out = vec![0_u8; sum.len() * 3];
    out.par_chunks_mut(3)
        .zip(sum.par_iter())
        .for_each(|(o, s)| {
            for k in 0..3 {
                o[k] = byte(srgb(s[k] * gain) * 255.0 + 0.5);
            }
        });
    out
}
