//! Where on a part's face a hit lies: face coordinates, edges, tangents.

use crate::part::{Hit, Part, Plane, Shape};
use crate::vec3::{V3, frame_of, hash2, v3};
use std::f32::consts::PI;

/// Position on a face.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Spot {
    /// Outer unit normal of the face, in the part's frame.
    pub(crate) n: V3,
    /// First tangent.
    pub(crate) u_dir: V3,
    /// Second tangent.
    pub(crate) v_dir: V3,
    /// First face coordinate, mm.
    pub(crate) u: f32,
    /// Second face coordinate, mm.
    pub(crate) v: f32,
    /// Half sizes of the face, mm.
    pub(crate) ext: (f32, f32),
    /// Distance to the nearest edge, mm.
    pub(crate) edge: f32,
    /// Lean of the normal by a rounded edge.
    pub(crate) lean: V3,
    /// Seed of the face.
    pub(crate) seed: u32,
}

fn brick_spot(l: V3, h: V3, face: u32, seed: u32) -> Spot {
    let s = if face.is_multiple_of(2) { -1.0 } else { 1.0 };
    let (x, y, z) = (v3(1.0, 0.0, 0.0), v3(0.0, 1.0, 0.0), v3(0.0, 0.0, 1.0));
    let (n, a, b, u, v, hu, hv) = match face / 2 {
        0 => (x, y, z, l.y, l.z, h.y, h.z),
        1 => (y, x, z, l.x, l.z, h.x, h.z),
        _ => (z, x, y, l.x, l.y, h.x, h.y),
    };
    let (du, dv) = (hu - u.abs(), hv - v.abs());
    let round = (0.12 * h.x.min(h.y).min(h.z)).clamp(0.05, 0.3);
    let mut lean = V3::default();
    if du < round {
        lean += a * (u.signum() * (1.0 - du / round));
    }
    if dv < round {
        lean += b * (v.signum() * (1.0 - dv / round));
    }
    Spot {
        n: n * s,
        u_dir: a,
        v_dir: b,
        u,
        v,
        ext: (hu, hv),
        edge: du.min(dv),
        lean,
        seed: hash2(seed, face),
    }
}

fn facet_spot(l: V3, part: &Part, planes: &[Plane], face: u32) -> Spot {
    let n = planes.get(face as usize).map_or(v3(0.0, 0.0, 1.0), |p| p.n);
    let (mut edge, mut lean) = (1e3_f32, V3::default());
    for (i, p) in planes.iter().enumerate() {
        if i != face as usize {
            let c = n.dot(p.n);
            let d = (p.d - p.n.dot(l)) / (1.0 - c * c).max(1e-4).sqrt();
            edge = edge.min(d);
            if d < 0.3 {
                lean += p.n * (0.8 * (1.0 - d / 0.3));
            }
        }
    }
    let (u, v) = frame_of(n);
    let m = part.half.x.max(part.half.y).max(part.half.z);
    let du = u.x.abs() * part.half.x + u.y.abs() * part.half.y + u.z.abs() * part.half.z;
    let dv = v.x.abs() * part.half.x + v.y.abs() * part.half.y + v.z.abs() * part.half.z;
    Spot {
        n,
        u_dir: u,
        v_dir: v,
        u: u.dot(l),
        v: v.dot(l),
        ext: (du.min(m), dv.min(m)),
        edge,
        lean,
        seed: hash2(part.seed, face),
    }
}

fn rod_spot(l: V3, part: &Part, face: u32) -> Spot {
    let h = part.half;
    let seed = hash2(part.seed, face);
    let rho = (l.x * l.x + l.y * l.y).sqrt().max(1e-6);
    let radial = v3(l.x / rho, l.y / rho, 0.0);
    if face == 0 {
        let k = (h.y - h.x) / (2.0 * h.z);
        let n = v3(radial.x, radial.y, -k).unit();
        let around = v3(-radial.y, radial.x, 0.0);
        let r = h.x.max(h.y);
        let u = libm::atan2f(l.y, l.x) * r;
        let edge = h.z - l.z.abs();
        let lean = if edge < 0.2 {
            v3(0.0, 0.0, l.z.signum() * (1.0 - edge / 0.2))
        } else {
            V3::default()
        };
        return Spot {
            n,
            u_dir: around,
            v_dir: n.cross(around),
            u,
            v: l.z,
            ext: (r * PI, h.z),
            edge,
            lean,
            seed,
        };
    }
    let (s, r) = if face == 1 { (-1.0, h.x) } else { (1.0, h.y) };
    let edge = r - rho;
    let lean = if edge < 0.2 {
        radial * (1.0 - edge / 0.2)
    } else {
        V3::default()
    };
    let (x, y) = (v3(1.0, 0.0, 0.0), v3(0.0, 1.0, 0.0));
    Spot {
        n: v3(0.0, 0.0, s),
        u_dir: x,
        v_dir: y,
        u: l.x,
        v: l.y,
        ext: (r, r),
        edge,
        lean,
        seed,
    }
}

impl Spot {
    /// The same place on a face `k` times as large (edge distance and lean stay).
    pub(crate) fn scaled(&self, k: f32) -> Self {
        Self {
            u: self.u * k,
            v: self.v * k,
            ext: (self.ext.0 * k, self.ext.1 * k),
            ..*self
        }
    }
}

/// Face coordinates of a hit at `l` in the part's frame.
pub(crate) fn spot_of(part: &Part, planes: &[Plane], l: V3, hit: &Hit) -> Spot {
    match part.shape {
        Shape::Brick => brick_spot(l, part.half, hit.face, part.seed),
        Shape::Rod | Shape::Pipe => rod_spot(l, part, hit.face),
        Shape::Ball => {
            let h = part.half;
            let n = v3(l.x / (h.x * h.x), l.y / (h.y * h.y), l.z / (h.z * h.z)).unit();
            let (u, v) = frame_of(n);
            let a = libm::atan2f(l.y, l.x) * h.x;
            Spot {
                n,
                u_dir: u,
                v_dir: v,
                u: a,
                v: l.z,
                ext: (h.x * PI, h.z),
                edge: 10.0,
                lean: V3::default(),
                seed: part.seed,
            }
        }
        Shape::Facets { first, count } => {
            let a = first as usize;
            facet_spot(
                l,
                part,
                planes.get(a..a + count as usize).unwrap_or(&[]),
                hit.face,
            )
        }
    }
}

/// Plain normal under a hit, turned to the viewer, without any paint.
pub(crate) fn plain_normal(part: &Part, planes: &[Plane], pos: V3, ray: (V3, &Hit)) -> V3 {
    let l = part.inward(pos - part.centre);
    let n = part.outward(spot_of(part, planes, l, ray.1).n);
    if n.dot(ray.0) > 0.0 { -n } else { n }
}
