//! Traces the lens views of a pose and lays each into all of the pose's frames.

use crate::lens::{Camera, Landing, Nudge, jitter};
use crate::light::{Draw, Stage};
use crate::vec3::{V3, floor_i, hash2, noise2};
use rayon::prelude::*;

/// Pixels that a view is wider than the picture, on every side.
pub(crate) const MARGIN: usize = 56;

/// Strength of the practicals at the unlit pass's exposure: furnace, running.
const DIMMER: (f32, f32) = (0.30, 0.42);

/// One sample of a view: red, green, blue and the share of open backdrop.
pub(crate) type Px = [f32; 4];

/// The light of a view, by source.
#[derive(Debug)]
pub(crate) struct View {
    /// Width and height with margins.
    pub(crate) size: (usize, usize),
    /// Key light; the fourth value is the open backdrop.
    pub(crate) key: Vec<Px>,
    /// Furnace group.
    pub(crate) furnace: Vec<Px>,
    /// Running group.
    pub(crate) running: Vec<Px>,
    /// Distance along the viewing direction, mm (infinite on the backdrop).
    pub(crate) depth: Vec<f32>,
}

impl View {
    fn blank(cam: &Camera) -> Self {
        let size = (cam.size.0 + 2 * MARGIN, cam.size.1 + 2 * MARGIN);
        let n = size.0 * size.1;
        let zero = [0.0_f32; 4];
        Self {
            size,
            key: vec![zero; n],
            furnace: vec![zero; n],
            running: vec![zero; n],
            depth: vec![f32::INFINITY; n],
        }
    }
}

/// The backdrop behind the model.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Backdrop {
    /// Radiance in the brightest place under the key.
    pub(crate) radiance: V3,
    /// How unevenly it is lit, 0..1.
    pub(crate) uneven: f32,
}

impl Backdrop {
    /// Radiance at a picture position in units of the picture's width, from its middle.
    pub(crate) fn at(&self, x: f32, y: f32) -> V3 {
        let (dx, dy) = (x + 0.22, y + 0.16);
        let fall = 1.0 - self.uneven * (1.2 * (dx * dx + 1.3 * dy * dy)).min(1.0);
        let cloth = 0.965 + 0.07 * noise2(x * 9.0, y * 9.0, 907);
        self.radiance * (fall * cloth)
    }
}

/// What is traced in a view.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Depth {
    /// Everything.
    Light,
    /// Only coverage and distance.
    Cover,
}

/// Traces view `i` through `lens`.
#[expect(clippy::cast_precision_loss, reason = "picture sizes")]
pub(crate) fn trace(
    stage: &Stage,
    cam: &Camera,
    back: &Backdrop,
    i: u32,
    lens: (f32, f32),
    what: Depth,
) -> View {
    let mut v = View::blank(cam);
    let size = v.size;
    let off = jitter(i);
    let m = MARGIN as f32;
    let mid = cam.middle();
    let width = cam.size.0 as f32;
    let rows = v
        .key
        .par_chunks_mut(size.0)
        .zip(v.furnace.par_chunks_mut(size.0))
        .zip(v.running.par_chunks_mut(size.0))
        .zip(v.depth.par_chunks_mut(size.0));
    rows.enumerate()
        .for_each(|(y, (((key, furnace), running), depth))| {
            for x in 0..size.0 {
                let p = (x as f32 + 0.5 + off.0 - m, y as f32 + 0.5 + off.1 - m);
                let (o, d) = cam.ray(p, lens);
                let Some(hit) = stage.tree.nearest(o, d, (10.0, 4000.0)) else {
                    let b = back.at((p.0 - mid.0) / width, (p.1 - mid.1) / width);
                    key[x] = [b.x, b.y, b.z, 1.0];
                    continue;
                };
                let on_stand =
                    stage.tree.parts[hit.part as usize].paint == crate::part::Paint::Stand;
                if what == Depth::Cover {
                    // The truth's coverage leaves the stand out; what it hides of the model does not matter below.
                    key[x] = [0.0, 0.0, 0.0, if on_stand { 1.0 } else { 0.0 }];
                    if !on_stand {
                        depth[x] = (d * hit.t).dot(cam.ahead);
                    }
                    continue;
                }
                depth[x] = (d * hit.t).dot(cam.ahead);
                let (pos, s) = stage.surface(o, d, &hit);
                let pixel = hash2(
                    u32::try_from(x).unwrap_or(0),
                    u32::try_from(y).unwrap_or(0) ^ 0x5A5A,
                );
                let l = stage.shade(pos, d, &s, Draw { pixel, view: i });
                key[x] = [l.key.x, l.key.y, l.key.z, 0.0];
                let (f, r) = (l.furnace * DIMMER.0, l.running * DIMMER.1);
                furnace[x] = [f.x, f.y, f.z, 0.0];
                running[x] = [r.x, r.y, r.z, 0.0];
            }
        });
    v
}

/// Adds a view to a frame's sum.
#[expect(
    clippy::cast_precision_loss,
    clippy::cast_sign_loss,
    reason = "picture sizes; indices clamped"
)]
pub(crate) fn lay(
    sum: &mut [Px],
    view: (&[Px], (usize, usize)),
    cam: &Camera,
    at: (Landing, Nudge, (f32, f32)),
    weight: f32,
) {
    let (src, size) = view;
    let (landing, nudge, off) = at;
    let c = cam.middle();
    let (co, si) = (libm::cosf(nudge.turn), libm::sinf(nudge.turn));
    let inv = 1.0 / landing.scale;
    let m = MARGIN as f32;
    let (mx, my) = ((size.0 - 2) as f32, (size.1 - 2) as f32);
    sum.par_chunks_mut(cam.size.0)
        .enumerate()
        .for_each(|(y, row)| {
            let py = y as f32 + 0.5 - c.1 - nudge.shift.1;
            for (x, px) in row.iter_mut().enumerate() {
                let qx = x as f32 + 0.5 - c.0 - nudge.shift.0;
                // Undo the tripod, then the focus, then the view's own subpixel offset.
                let rx = (co * qx + si * py - landing.shift.0) * inv + c.0;
                let ry = (co * py - si * qx - landing.shift.1) * inv + c.1;
                let fx = (rx - off.0 - 0.5 + m).clamp(0.0, mx);
                let fy = (ry - off.1 - 0.5 + m).clamp(0.0, my);
                let (ix, iy) = (floor_i(fx), floor_i(fy));
                let (ax, ay) = (fx - ix as f32, fy - iy as f32);
                let at = iy as usize * size.0 + ix as usize;
                let (a, b) = (&src[at], &src[at + 1]);
                let (d, e) = (&src[at + size.0], &src[at + size.0 + 1]);
                let w = [
                    (1.0 - ax) * (1.0 - ay) * weight,
                    ax * (1.0 - ay) * weight,
                    (1.0 - ax) * ay * weight,
                    ax * ay * weight,
                ];
                for k in 0..4 {
                    px[k] += a[k] * w[0] + b[k] * w[1] + d[k] * w[2] + e[k] * w[3];
                }
            }
        });
}
