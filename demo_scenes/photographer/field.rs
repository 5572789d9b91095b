//! The light field of one pose: pinhole views through stratified lens points, each traced and shaded once, and their
//! landing in the frames of every pass.

use crate::camera::{Camera, Landing};
use crate::light::{Draw, Stage};
use crate::num::{index, real, word};
use crate::part::Paint;
use crate::vec3::{V3, cloud3, hash2, unit_of, v3};
use rayon::prelude::*;

/// What stands behind a model.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Backdrop {
    /// Near-black velvet that catches a little spill.
    Velvet,
    /// Plain mid-grey card, unevenly lit.
    Card,
}

/// One traced ray.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Traced {
    /// Reference position, px.
    pub(crate) at: (f32, f32),
    /// Lens point, mm.
    pub(crate) lens: (f32, f32),
    /// Key light with its bounce.
    pub(crate) key: V3,
    /// Furnace group.
    pub(crate) furnace: V3,
    /// Running group.
    pub(crate) running: V3,
    /// 1 where anything stands before the backdrop.
    pub(crate) solid: f32,
}

/// Share of each light in a frame.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Mix {
    /// Key.
    pub(crate) key: f32,
    /// Furnace group.
    pub(crate) furnace: f32,
    /// Running group.
    pub(crate) running: f32,
    /// Evenly lit backdrop (silhouette pass).
    pub(crate) even: f32,
}

/// A frame under exposure: sums of red, green, blue and the number of rays.
#[derive(Debug)]
pub(crate) struct Plate {
    /// Map from reference positions.
    pub(crate) landing: Landing,
    /// Lights.
    pub(crate) mix: Mix,
    /// Sums.
    pub(crate) sums: Vec<[f32; 4]>,
    size: (usize, usize),
}

impl Plate {
    /// An unexposed frame.
    pub(crate) fn new(size: (usize, usize), landing: Landing, mix: Mix) -> Self {
        Self {
            landing,
            mix,
            sums: vec![[0.0; 4]; size.0 * size.1],
            size,
        }
    }

    fn expose(&mut self, rays: &[Traced]) {
        let m = self.mix;
        for r in rays {
            let (x, y) = self.landing.land(r.at, r.lens);
            if x < 0.0 || y < 0.0 {
                continue;
            }
            let (ix, iy) = (index(x), index(y));
            if ix >= self.size.0 || iy >= self.size.1 {
                continue;
            }
            let c = r.key * m.key + r.furnace * m.furnace + r.running * m.running;
            let e = m.even * (1.0 - r.solid);
            if let Some(s) = self.sums.get_mut(iy * self.size.0 + ix) {
                *s = [s[0] + c.x + e, s[1] + c.y + e, s[2] + c.z + e, s[3] + 1.0];
            }
        }
    }

    /// Mean radiance at a pixel; where no ray landed, the mean of the neighbours that have some.
    pub(crate) fn at(&self, x: usize, y: usize) -> V3 {
        let mut sum = [0.0_f32; 4];
        for reach in 0..4 {
            for j in y.saturating_sub(reach)..=(y + reach).min(self.size.1 - 1) {
                for i in x.saturating_sub(reach)..=(x + reach).min(self.size.0 - 1) {
                    let s = self.sums[j * self.size.0 + i];
                    sum = [sum[0] + s[0], sum[1] + s[1], sum[2] + s[2], sum[3] + s[3]];
                }
            }
            if sum[3] > 0.5 {
                break;
            }
        }
        v3(sum[0], sum[1], sum[2]) * (1.0 / sum[3].max(1.0))
    }
}

/// Radiance of the backdrop at a position in units of the picture's half width.
pub(crate) fn backdrop(kind: Backdrop, x: f32, y: f32) -> V3 {
    let q = v3(x * 3.0, y * 3.0, 7.0);
    match kind {
        Backdrop::Velvet => {
            let spill = (0.75 - 0.45 * x - 0.5 * y).max(0.15);
            let nap = 0.75 + 0.5 * cloud3(q * 2.2, 91);
            v3(1.0, 0.97, 0.95) * (0.0019 * spill * nap)
        }
        Backdrop::Card => {
            let fall = 1.0 - 0.055 * x - 0.045 * y - 0.05 * (x * x + y * y);
            let grain = 1.0 + 0.02 * (cloud3(q * 1.3, 92) - 0.5);
            v3(1.0, 0.995, 0.985) * (0.205 * fall * grain)
        }
    }
}

/// A pose ready to be photographed.
#[derive(Debug)]
pub(crate) struct Sitting<'a> {
    /// Model and lights.
    pub(crate) stage: &'a Stage,
    /// Camera.
    pub(crate) camera: Camera,
    /// Backdrop.
    pub(crate) backdrop: Backdrop,
}

impl Sitting<'_> {
    /// Traces one ray.
    pub(crate) fn trace(&self, at: (f32, f32), lens: (f32, f32), draw: Draw) -> Traced {
        let (o, d) = self.camera.ray(at, lens);
        let mut out = Traced {
            at,
            lens,
            ..Traced::default()
        };
        if let Some(hit) = self.stage.tree.nearest(o, d, (1.0, 4000.0)) {
            let (pos, s) = self.stage.surface(o, d, &hit);
            let l = self.stage.shade(pos, d, &s, draw);
            // A small lens flares and a sensor clips: no sample may carry more than this.
            let cap = |c: V3| v3(c.x.min(8.0), c.y.min(8.0), c.z.min(8.0));
            out.key = cap(l.key);
            out.furnace = cap(l.furnace);
            out.running = cap(l.running);
            out.solid = 1.0;
        } else {
            let c = self.camera.centre();
            out.key = backdrop(self.backdrop, (at.0 - c.0) / c.0, (at.1 - c.1) / c.0);
        }
        out
    }

    /// First part on a ray and the distance along the axis, mm.
    pub(crate) fn peek(&self, at: (f32, f32)) -> Option<(Paint, f32)> {
        let (o, d) = self.camera.ray(at, (0.0, 0.0));
        let hit = self.stage.tree.nearest(o, d, (1.0, 4000.0))?;
        Some((
            self.stage.tree.parts[hit.part as usize].paint,
            hit.t * d.dot(self.camera.ahead),
        ))
    }

    /// Traces `side * side` views and lets every ray land in every frame.
    pub(crate) fn photograph(&self, plates: &mut [Plate], side: usize) {
        let (w, h) = self.camera.size;
        let margin = 14 + w / 30;
        let (tw, th) = (w + 2 * margin, h + 2 * margin);
        let mut rays = vec![Traced::default(); tw * th];
        for view in 0..side * side {
            rays.par_chunks_mut(tw).enumerate().for_each(|(row, line)| {
                for (col, ray) in line.iter_mut().enumerate() {
                    let pixel = hash2(word(col), word(row));
                    let draw = Draw {
                        pixel,
                        view: word(view),
                    };
                    let jitter = draw.pair(0);
                    let cell = hash2(pixel, word(view) ^ 0xB0CA);
                    let u = (real(view % side) + unit_of(cell)) / real(side);
                    let v = (real(view / side) + unit_of(hash2(cell, 1))) / real(side);
                    let at = (
                        real(col) - real(margin) + jitter.0,
                        real(row) - real(margin) + jitter.1,
                    );
                    *ray = self.trace(at, self.camera.lens_point(u, v), draw);
                }
            });
            plates.par_iter_mut().for_each(|p| p.expose(&rays));
        }
    }

    /// Depth range of the model without its stand (2nd to 98th percentile of what is seen), mm.
    pub(crate) fn reach(&self) -> (f32, f32) {
        let (w, h) = self.camera.size;
        let mut z = Vec::new();
        for y in (0..h).step_by(6) {
            for x in (0..w).step_by(6) {
                if let Some((paint, d)) = self.peek((real(x), real(y)))
                    && paint != Paint::Stand
                {
                    z.push(d);
                }
            }
        }
        z.sort_by(f32::total_cmp);
        let n = z.len();
        if n == 0 {
            return (self.camera.focus, self.camera.focus);
        }
        (z[n / 100], z[n - 1 - n / 100])
    }
}
