//! The table-top lighting: one hard key, a weak bounce card, the practicals; one bounce between parts.

use crate::kit::{Group, Lamp};
use crate::paint::{Soot, Surface, base, look};
use crate::part::{Hit, Paint};
use crate::tree::Tree;
use crate::vec3::{V3, ease, frame_of, hash2, unit_of, v3};

/// Lights of a set.
#[derive(Clone, Debug)]
pub(crate) struct Set {
    /// Centre of the key's disc, mm.
    pub(crate) key: V3,
    /// Radius of the disc, mm.
    pub(crate) key_radius: f32,
    /// Where the key gives an irradiance of 1.
    pub(crate) key_reference: f32,
    /// Direction of the bounce card.
    pub(crate) card: V3,
    /// Radiance of the bounce card.
    pub(crate) card_radiance: f32,
    /// Practicals.
    pub(crate) lamps: Vec<Lamp>,
    /// Soot of the model.
    pub(crate) soot: Vec<Soot>,
}

/// Light of one ray: key, furnace group, running group.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Shaded {
    /// Key with its bounce.
    pub(crate) key: V3,
    /// Furnace group.
    pub(crate) furnace: V3,
    /// Running group.
    pub(crate) running: V3,
}

/// Numbers in 0..1 for one ray: rotated points of a fixed additive sequence.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Draw {
    /// Pixel hash.
    pub(crate) pixel: u32,
    /// View index.
    pub(crate) view: u32,
}

impl Draw {
    /// Pair number `slot`.
    pub(crate) fn pair(self, slot: u32) -> (f32, f32) {
        let rot = hash2(self.pixel, slot);
        // Additive recurrence with the plastic number (two dimensions).
        let a = unit_of(self.view.wrapping_mul(3_242_174_889).wrapping_add(rot));
        let b = unit_of(
            self.view
                .wrapping_mul(2_447_445_414)
                .wrapping_add(hash2(rot, 5)),
        );
        (a, b)
    }
}

/// Everything a ray needs.
#[derive(Debug)]
pub(crate) struct Stage {
    /// Model.
    pub(crate) tree: Tree,
    /// Lights.
    pub(crate) set: Set,
    grid: Vec<Vec<u16>>,
    grid_lo: V3,
    grid_n: [usize; 3],
}

const CELL: f32 = 20.0;

impl Stage {
    /// Sorts the practicals into cells.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        clippy::cast_precision_loss,
        reason = "small grids"
    )]
    pub(crate) fn new(tree: Tree, set: Set) -> Self {
        let big = 1e9;
        let (mut lo, mut hi) = (v3(big, big, big), v3(-big, -big, -big));
        for p in &tree.parts {
            if p.paint != Paint::Stand {
                let b = p.bounds();
                lo = lo.min(b.0);
                hi = hi.max(b.1);
            }
        }
        let span = hi - lo;
        let n = [0, 1, 2].map(|i| (span.at(i) / CELL) as usize + 1);
        let mut grid = vec![Vec::new(); n[0] * n[1] * n[2]];
        for (i, cell) in grid.iter_mut().enumerate() {
            let c = lo
                + v3(
                    (i % n[0]) as f32 + 0.5,
                    (i / n[0] % n[1]) as f32 + 0.5,
                    (i / n[0] / n[1]) as f32 + 0.5,
                ) * CELL;
            for (k, lamp) in set.lamps.iter().enumerate() {
                let behind = lamp.facing.len() > 0.5 && lamp.facing.dot(c - lamp.at) < -CELL;
                if (lamp.at - c).len() < lamp.reach + CELL * 0.87 && !behind {
                    cell.push(u16::try_from(k).unwrap_or(0));
                }
            }
        }
        Self {
            tree,
            set,
            grid,
            grid_lo: lo,
            grid_n: n,
        }
    }

    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "small grids, clamped"
    )]
    fn lamps_near(&self, p: V3) -> &[u16] {
        let q = (p - self.grid_lo) * (1.0 / CELL);
        let i = [0, 1, 2].map(|k| (q.at(k).max(0.0) as usize).min(self.grid_n[k] - 1));
        &self.grid[i[0] + self.grid_n[0] * (i[1] + self.grid_n[1] * i[2])]
    }

    /// Surface under a hit.
    pub(crate) fn surface(&self, o: V3, d: V3, hit: &Hit) -> (V3, Surface) {
        let pos = o + d * hit.t;
        let part = &self.tree.parts[hit.part as usize];
        (
            pos,
            look((part, &self.tree.planes, &self.set.soot), pos, d, hit),
        )
    }

    fn key_at(&self, pos: V3, plain: V3, r: (f32, f32)) -> Option<(V3, f32)> {
        let to = self.set.key - pos;
        let dist = to.len();
        let axis = to * (1.0 / dist);
        let (u, v) = frame_of(axis);
        let (rad, ang) = (r.0.sqrt() * self.set.key_radius, r.1 * 6.283_185_5);
        let aim = to + u * (rad * libm::cosf(ang)) + v * (rad * libm::sinf(ang));
        let l = aim.unit();
        if l.dot(plain) <= 0.0 || self.tree.blocked(pos + plain * 0.02, l, (0.02, 1400.0)) {
            return None;
        }
        let k = self.set.key_reference / dist;
        Some((l, k * k))
    }

    /// Light that leaves the point towards the viewer.
    pub(crate) fn shade(&self, pos: V3, dir: V3, s: &Surface, draw: Draw) -> Shaded {
        let mut out = Shaded {
            key: V3::default(),
            furnace: s.furnace,
            running: s.running,
        };
        if let Some((l, e)) = self.key_at(pos, s.plain, draw.pair(1)) {
            let c = s.normal.dot(l).max(0.0);
            out.key += s.albedo * (c * e) + sheen(s, l, dir) * (c * e);
        }
        if s.milk > 0.0 {
            self.glow_through(pos, s, draw, &mut out);
        }
        self.bounce(pos, s, draw, &mut out);
        out.furnace += self.practicals(pos, s, Group::Furnace, draw.pair(5), Some(dir));
        out.running += self.practicals(pos, s, Group::Running, draw.pair(6), Some(dir));
        out
    }

    /// Light that a translucent casting passes on: the key, from a jittered point under the surface.
    fn glow_through(&self, pos: V3, s: &Surface, draw: Draw, out: &mut Shaded) {
        let (a, b) = draw.pair(9);
        let to = (self.set.key - pos).unit();
        let depth = 2.0 + 16.0 * a * a;
        let from = pos - s.plain * 0.5;
        let path = self
            .tree
            .nearest(from, to, (0.01, 400.0))
            .map_or(depth, |h| h.t.min(300.0));
        let e = libm::expf(-path * (0.03 + 0.02 * b));
        out.key += s.albedo * v3(0.75, 0.95, 1.0) * (s.milk * 0.62 * e);
    }

    fn bounce(&self, pos: V3, s: &Surface, draw: Draw, out: &mut Shaded) {
        let r = draw.pair(2);
        let (u, v) = frame_of(s.normal);
        let (rad, ang) = (r.0.sqrt(), r.1 * 6.283_185_5);
        let up = (1.0 - r.0).max(0.0).sqrt();
        let d = u * (rad * libm::cosf(ang)) + v * (rad * libm::sinf(ang)) + s.normal * up;
        if d.dot(s.plain) <= 0.0 {
            return;
        }
        let from = pos + s.plain * 0.02;
        let Some(hit) = self.tree.nearest(from, d, (0.02, 500.0)) else {
            let k = 0.006 + self.set.card_radiance * ease(0.45, 0.8, d.dot(self.set.card));
            out.key += s.albedo * v3(1.0, 0.97, 0.93) * k;
            return;
        };
        let part = &self.tree.parts[hit.part as usize];
        let q = from + d * hit.t;
        let n = normal_only(self, &hit, q, d);
        let a = base(part.paint);
        if let Some((l, e)) = self.key_at(q, n, draw.pair(3)) {
            out.key += s.albedo * a * (n.dot(l).max(0.0) * e);
        }
        let flat = Surface {
            normal: n,
            plain: n,
            albedo: a,
            gloss: 0.0,
            shine: 0.0,
            milk: 0.0,
            furnace: V3::default(),
            running: V3::default(),
        };
        out.furnace += s.albedo * self.practicals(q, &flat, Group::Furnace, draw.pair(7), None);
        out.running += s.albedo * self.practicals(q, &flat, Group::Running, draw.pair(8), None);
    }

    /// One of the near practicals of a group, chosen by what it would give, with one shadow ray.
    fn practicals(&self, pos: V3, s: &Surface, group: Group, r: (f32, f32), dir: Option<V3>) -> V3 {
        let near = self.lamps_near(pos);
        let mut total = 0.0;
        for k in near {
            total += worth(&self.set.lamps[usize::from(*k)], group, pos, s);
        }
        if total <= 1e-5 {
            return V3::default();
        }
        let mut left = r.0 * total;
        for k in near {
            let lamp = &self.set.lamps[usize::from(*k)];
            let w = worth(lamp, group, pos, s);
            if w <= 0.0 {
                continue;
            }
            if left > w {
                left -= w;
                continue;
            }
            return self.one_lamp(pos, s, lamp, (left / w, r.1), dir) * (total / w);
        }
        V3::default()
    }

    fn one_lamp(&self, pos: V3, s: &Surface, lamp: &Lamp, r: (f32, f32), dir: Option<V3>) -> V3 {
        let at = lamp.at + lamp.across.0 * (2.0 * r.0 - 1.0) + lamp.across.1 * (2.0 * r.1 - 1.0);
        let to = at - pos;
        let dist = to.len().max(0.5);
        let l = to * (1.0 / dist);
        let c = s.normal.dot(l);
        if c <= 0.0 || s.plain.dot(l) <= 0.0 {
            return V3::default();
        }
        if self
            .tree
            .blocked(pos + s.plain * 0.02, l, (0.02, (dist - 1.1).max(0.03)))
        {
            return V3::default();
        }
        let e = fall(lamp, dist, l);
        let shine = dir.map_or_else(V3::default, |d| sheen(s, l, d));
        lamp.power * (s.albedo + shine) * (c * e)
    }
}

fn fall(lamp: &Lamp, dist: f32, l: V3) -> f32 {
    let face = if lamp.facing.len() > 0.5 {
        (-lamp.facing.dot(l)).max(0.0) * 0.9 + 0.05
    } else {
        1.0
    };
    100.0 / (dist * dist + 9.0) * face * (1.0 - ease(0.6, 1.0, dist / lamp.reach))
}

fn worth(lamp: &Lamp, group: Group, pos: V3, s: &Surface) -> f32 {
    if lamp.group != group {
        return 0.0;
    }
    let to = lamp.at - pos;
    let dist = to.len().max(0.5);
    let size = lamp.across.0.len() + lamp.across.1.len();
    let l = to * (1.0 / dist);
    if s.plain.dot(l) * dist < -size {
        return 0.0;
    }
    fall(lamp, dist, l) * (lamp.power.x + lamp.power.y) + if size > 0.0 { 1e-3 } else { 0.0 }
}

/// Soft highlight of matt paint (a normalised power lobe about the half vector).
fn sheen(s: &Surface, l: V3, dir: V3) -> V3 {
    let h = (l - dir).unit();
    let c = s.normal.dot(h).max(0.0);
    let p = 8.0 + 300.0 * s.shine * s.shine * s.shine;
    let f = 1.0 - l.dot(h).max(0.0);
    let fresnel = 1.0 + 6.0 * f * f * f * f;
    let k = s.gloss * (p + 2.0) * 0.04 * libm::powf(c, p) * fresnel;
    v3(k, k, k)
}

fn normal_only(stage: &Stage, hit: &Hit, pos: V3, d: V3) -> V3 {
    let part = &stage.tree.parts[hit.part as usize];
    crate::spot::plain_normal(part, &stage.tree.planes, pos, (d, hit))
}
