//! Faces: where on a part a hit lies, and the panel lines and rivets that split its face.

use crate::part::{Hit, Part, Plane, Shape};
use crate::vec3::{V3, ease, frame_of, hash2, unit_of, v3};

/// Position on a face.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Spot {
    /// Unit normal in the part's frame.
    pub(crate) n: V3,
    /// First direction on the face.
    pub(crate) u_dir: V3,
    /// Second direction on the face.
    pub(crate) v_dir: V3,
    /// Place along the first direction, mm.
    pub(crate) u: f32,
    /// Place along the second direction, mm.
    pub(crate) v: f32,
    /// Half sizes of the face, mm.
    pub(crate) ext: (f32, f32),
    /// Distance to the nearest edge, mm.
    pub(crate) edge: f32,
    /// Tilt of the rounded edge.
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
            ext: (r * std::f32::consts::PI, h.z),
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

/// Where on its part a hit lies; `l` in the part's frame.
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
                ext: (h.x * std::f32::consts::PI, h.z),
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

/// What plating does at a point.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Plating {
    /// Cell of the splitting.
    pub(crate) cell: u32,
    /// 0..1, 1 in the middle of a panel line.
    pub(crate) line: f32,
    /// Slope along u and v.
    pub(crate) slope: (f32, f32),
    /// Distance to the nearest line, mm.
    pub(crate) gap: f32,
    /// 1 on a rivet.
    pub(crate) rivet: f32,
}

/// Splits the face 3 to 5 times and finds the cell, its lines and its rivets.
pub(crate) fn plating(s: &Spot, levels: u32, least: f32) -> Plating {
    let (mut lo, mut hi) = ((-s.ext.0, -s.ext.1), (s.ext.0, s.ext.1));
    let mut wide = [0.0_f32; 4];
    let mut cell = hash2(s.seed, 9);
    for level in 0..levels {
        let (w, h) = (hi.0 - lo.0, hi.1 - lo.1);
        if w.max(h) < least || (level > 2 && unit_of(hash2(cell, 21)) < 0.25) {
            break;
        }
        let cut = 0.3 + 0.1 * libm::floorf(unit_of(hash2(cell, 22)) * 5.0);
        let line = [0.13, 0.18, 0.24, 0.4][(hash2(cell, 23) % 4) as usize];
        let along_u = if w > 1.6 * h {
            true
        } else if h > 1.6 * w {
            false
        } else {
            hash2(cell, 24) & 1 == 0
        };
        let high;
        if along_u {
            let m = lo.0 + w * cut;
            high = s.u > m;
            if high {
                (lo.0, wide[0]) = (m, line);
            } else {
                (hi.0, wide[1]) = (m, line);
            }
        } else {
            let m = lo.1 + h * cut;
            high = s.v > m;
            if high {
                (lo.1, wide[2]) = (m, line);
            } else {
                (hi.1, wide[3]) = (m, line);
            }
        }
        cell = hash2(cell, if high { 31 } else { 32 });
    }
    let d = [s.u - lo.0, hi.0 - s.u, s.v - lo.1, hi.1 - s.v];
    let mut out = Plating {
        cell,
        gap: 1e3,
        ..Plating::default()
    };
    let raise = match hash2(cell, 41) % 5 {
        0 => 0.55,
        1 => -0.45,
        _ => 0.0,
    };
    for i in 0..4 {
        if wide[i] <= 0.0 {
            continue;
        }
        out.gap = out.gap.min(d[i]);
        out.line = out
            .line
            .max(1.0 - ease(wide[i] * 0.7, wide[i] * 1.25, d[i]));
        let sign = if i % 2 == 0 { 1.0 } else { -1.0 };
        let lip = (1.0 - ease(0.0, wide[i] + 0.35, d[i])) * (raise + 0.35) * sign;
        if i < 2 {
            out.slope.0 += lip;
        } else {
            out.slope.1 += lip;
        }
    }
    rivets(s, &d, (lo, hi), &mut out);
    out
}

fn rivets(s: &Spot, d: &[f32; 4], box_: ((f32, f32), (f32, f32)), out: &mut Plating) {
    let (lo, hi) = box_;
    let small = (hi.0 - lo.0).min(hi.1 - lo.1) < 5.0;
    if small || unit_of(hash2(out.cell, 51)) < 0.45 {
        return;
    }
    let pitch = 1.7 + 0.9 * unit_of(hash2(out.cell, 52));
    let (i, near) =
        d.iter().enumerate().fold(
            (0, 1e9_f32),
            |a, b| if *b.1 < a.1 { (b.0, *b.1) } else { a },
        );
    let along = if i < 2 { s.v - lo.1 } else { s.u - lo.0 };
    let a = (along / pitch - libm::floorf(along / pitch) - 0.5) * pitch;
    let b = near - 1.0;
    let r2 = a * a + b * b;
    if r2 < 0.1 {
        out.rivet = 1.0;
        let sign = if i % 2 == 0 { 1.0 } else { -1.0 };
        let (du, dv) = if i < 2 { (b * sign, a) } else { (a, b * sign) };
        out.slope.0 -= du * 2.6;
        out.slope.1 -= dv * 2.6;
    }
}
