//! The ice-cutting barge *Grindstone*: forked bow with the cutting wheel, cutting deck, open furnace amidships, tank
//! farm and bridge aft. Forward is +x, port is +y; millimetres.

use crate::barge_works;
use crate::bow;
use crate::furnace;
use crate::kit::{Kit, Pad};
use crate::num::real;
use crate::paint::Soot;
use crate::part::{Paint, Plane};
use crate::vec3::{V3, v3};

const X: V3 = v3(1.0, 0.0, 0.0);
const Y: V3 = v3(0.0, 1.0, 0.0);
const Z: V3 = v3(0.0, 0.0, 1.0);

/// Height of the middle of the seam gap, mm.
pub(crate) const SEAM_Z: f32 = -9.6;
/// Ends of the seam gap along the starboard side, mm.
pub(crate) const SEAM_X: (f32, f32) = (-147.0, 57.0);
/// Half breadth of the hull, mm.
pub(crate) const HALF_BREADTH: f32 = 46.0;

/// Places that the furnace soots.
pub(crate) fn soot() -> Vec<Soot> {
    vec![
        (v3(-8.0, 0.0, 32.0), 34.0),
        (v3(2.0, 0.0, 2.0), 40.0),
        (v3(-50.0, 16.0, 84.0), 30.0),
        (v3(-50.0, -4.0, 84.0), 30.0),
        (v3(-34.0, -40.0, 22.0), 20.0),
        (v3(-96.0, -62.0, -4.0), 22.0),
    ]
}

/// Builds the barge; the seam's half width (mm) follows the viewing distance so that it looks equally wide all along.
pub(crate) fn build(seam: impl Fn(f32) -> f32) -> Kit {
    let mut k = Kit::new(74);
    hull(&mut k, &seam);
    sides(&mut k);
    bow::prongs(&mut k);
    bow::wheel(&mut k, v3(122.0, 0.0, 4.0), 37.0);
    cutting_deck(&mut k);
    furnace::furnace(&mut k);
    barge_works::gantry(&mut k);
    barge_works::tank_farm(&mut k);
    barge_works::bridge(&mut k);
    barge_works::engines(&mut k);
    barge_works::crane(&mut k);
    barge_works::hands(&mut k);
    k
}

fn sloped(k: &mut Kit, x: (f32, f32), z: ((f32, f32), (f32, f32)), half: f32, paint: Paint) {
    // A slab whose low and high faces may slope along x: `z` = (low, high) at either end.
    let (lo, hi) = z;
    let run = x.1 - x.0;
    let (sl, sh) = ((lo.1 - lo.0) / run, (hi.1 - hi.0) / run);
    let face = |s: f32, z0: f32, sign: f32| {
        let n = v3(-s * sign, 0.0, sign);
        let l = n.len();
        let n = n * (1.0 / l);
        Plane {
            n,
            d: n.dot(v3(x.0, 0.0, z0)),
        }
    };
    let planes = [
        Plane { n: X, d: x.1 },
        Plane { n: -X, d: -x.0 },
        Plane { n: Y, d: half },
        Plane { n: -Y, d: half },
        face(sl, lo.0, -1.0),
        face(sh, hi.0, 1.0),
    ];
    let (a, b) = (lo.0.min(lo.1), hi.0.max(hi.1));
    k.solid(&planes, (v3(x.0, -half, a), v3(x.1, half, b)), paint);
}

fn hull(k: &mut Kit, seam: &impl Fn(f32) -> f32) {
    let (a, b) = (seam(SEAM_X.0), seam(SEAM_X.1));
    let h = HALF_BREADTH;
    // Upper strakes, aft and forward; the low edge follows the gap.
    sloped(
        k,
        (SEAM_X.0, SEAM_X.1),
        ((SEAM_Z + a, SEAM_Z + b), (1.0, 1.0)),
        h,
        Paint::Hull,
    );
    k.prism(
        0,
        &[(-h, 1.0), (h, 1.0), (h - 5.0, 6.0), (5.0 - h, 6.0)],
        (SEAM_X.0, -14.0),
        Paint::Hull,
    );
    k.slab([-14.0, -h, 1.0], [57.0, -h + 6.0, 8.0], Paint::Hull);
    k.slab([-14.0, h - 6.0, 1.0], [57.0, h, 8.0], Paint::Hull);
    // Dark core seen through the gap.
    k.slab(
        [SEAM_X.0 + 1.0, -h + 0.3, -14.0],
        [SEAM_X.1 - 0.2, h - 4.0, -6.0],
        Paint::Void,
    );
    // Lower hull, with its bilge.
    sloped(
        k,
        (SEAM_X.0, SEAM_X.1),
        ((-15.0, -15.0), (SEAM_Z - a, SEAM_Z - b)),
        h,
        Paint::Oxide,
    );
    k.prism(
        0,
        &[(-h, -15.0), (h, -15.0), (31.0, -31.0), (-31.0, -31.0)],
        (-138.0, 57.0),
        Paint::Oxide,
    );
    k.prism(
        1,
        &[(57.0, -9.0), (57.0, -31.0), (74.0, -20.0), (76.0, -9.0)],
        (-31.0, 31.0),
        Paint::Oxide,
    );
    let mut x = -130.0;
    while x < 50.0 {
        // Bilge frames.
        k.turned(
            v3(x, -38.8, -23.2),
            (X, v3(0.0, 0.684, -0.73)),
            v3(0.9, 10.6, 0.7),
            Paint::Oxide,
        );
        x += 12.5;
    }
    k.slab(
        [-146.0, -h - 0.8, -15.6],
        [57.0, -h + 1.0, -14.2],
        Paint::Oxide,
    );
}

fn sides(k: &mut Kit) {
    let s = Pad::new(v3(-146.0, -HALF_BREADTH, -7.6), X, Z);
    // Rubbing strakes and armour.
    k.block(&s, [0.0, 7.4, 203.0, 8.9], (0.0, 1.5), Paint::Dark);
    for (u, w) in [
        (4.0, 26.0),
        (33.0, 17.0),
        (96.0, 22.0),
        (121.0, 34.0),
        (160.0, 14.0),
        (178.0, 22.0),
    ] {
        k.block(&s, [u, 1.6, u + w, 6.8], (0.0, 0.6), Paint::Hull);
    }
    let mut u = 2.0;
    while u < 200.0 {
        k.block(&s, [u, 8.9, u + 0.8, 12.0], (-2.0, 0.7), Paint::Hull);
        u += 6.3;
    }
    let ports = Pad {
        o: s.at(0.0, 0.0, 0.6),
        ..s
    };
    k.windows(&ports, [98.0, 2.9, 105.0, 5.3], 3);
    k.windows(&ports, [124.0, 2.9, 152.0, 5.3], 11);
    k.windows(&ports, [8.0, 2.9, 28.0, 5.3], 8);
    // The name, on a plate of its own.
    k.block(&s, [52.0, 0.9, 93.0, 7.0], (0.0, 0.5), Paint::Named);
    if let Some(p) = k.parts.last_mut() {
        p.seed = 0;
    }
    k.block(&s, [158.0, 1.2, 176.0, 6.9], (0.0, 0.9), Paint::Hazard);
    // Lower hull: fenders, valves, pipe runs and a warm patch or two.
    let l = Pad::new(v3(-146.0, -HALF_BREADTH, -15.0), X, Z);
    for u in [18.0, 47.0, 76.0, 105.0, 134.0, 163.0, 192.0] {
        k.rod(l.at(u, -1.5, 2.4), l.at(u, 3.4, 2.4), 1.7, Paint::Dark);
        k.rod(l.at(u, 3.4, 2.4), l.at(u, 4.2, 0.2), 0.22, Paint::Metal);
    }
    k.run(
        &[
            l.at(22.0, 1.0, 0.9),
            l.at(70.0, 1.0, 0.9),
            l.at(73.0, 2.6, 0.9),
            l.at(128.0, 2.6, 0.9),
        ],
        0.55,
        Paint::Metal,
    );
    k.run(
        &[
            l.at(30.0, 2.9, 0.8),
            l.at(66.0, 2.9, 0.8),
            l.at(68.0, 0.6, 0.8),
            l.at(120.0, 0.6, 0.8),
        ],
        0.45,
        Paint::Ochre,
    );
    for u in [9.0, 88.0, 113.0, 146.0, 174.0] {
        k.block(&l, [u, 0.4, u + 7.0, 3.4], (0.0, 0.5), Paint::Warm);
        k.rod(
            l.at(u + 3.5, 1.9, 0.0),
            l.at(u + 3.5, 1.9, 1.6),
            0.9,
            Paint::Dark,
        );
    }
    k.ladder(&s, 111.0, (-0.6, 13.0), Paint::Ochre);
    // Clusters of machinery on sponsons, with quiet plating between.
    k.block(&s, [8.0, 9.2, 40.0, 10.4], (0.0, 9.0), Paint::Hull);
    let top = Pad::new(v3(-138.0, -55.0, 2.8), X, Y);
    k.machinery(&top, [1.0, 1.0, 31.0, 9.0], 5.0, 0.9);
    let face = Pad::new(v3(-138.0, -55.0, 1.6), X, Z);
    k.block(&face, [0.0, -5.0, 32.0, 1.2], (-8.5, 0.0), Paint::Hull);
    k.machinery(&face, [1.0, -4.5, 31.0, 0.8], 1.8, 0.85);
    // Mooring bitts on the rail.
    for x in [-20.0, 2.0, 30.0, 50.0] {
        for d in [-1.6, 1.6] {
            k.rod(
                v3(x + d, -43.0, 8.0),
                v3(x + d, -43.0, 10.6),
                0.9,
                Paint::Dark,
            );
            k.rod(
                v3(x + d, -43.0, 10.6),
                v3(x + d, -43.0, 11.0),
                1.2,
                Paint::Metal,
            );
        }
    }
    k.rail(
        &[v3(-144.0, -41.5, 6.0), v3(-70.0, -41.5, 6.0)],
        Z,
        Paint::White,
    );
    k.rail(
        &[v3(-144.0, 41.5, 6.0), v3(-16.0, 41.5, 6.0)],
        Z,
        Paint::White,
    );
}

fn cutting_deck(k: &mut Kit) {
    // Floor of the well and the walls' inner side.
    k.slab([-14.0, -40.0, -5.0], [78.0, 40.0, 1.4], Paint::Deck);
    for y in [-40.0_f32, 40.0] {
        let s = y.signum();
        let p = Pad::new(v3(-12.0, y - s * 0.2, 1.4), if s < 0.0 { -X } else { X }, Z);
        let (a, b) = if s < 0.0 { (-66.0, 0.0) } else { (0.0, 66.0) };
        k.machinery(&p, [a, 0.5, b, 6.5], 1.6, 0.7);
    }
    // Roller bed that feeds the furnace.
    for s in [-1.0, 1.0] {
        k.slab(
            [-10.0, 20.0 * s - 1.5, 1.0],
            [76.0, 20.0 * s + 1.5, 6.0],
            Paint::Ochre,
        );
        k.slab(
            [-10.0, 22.4 * s - 1.2, 1.0],
            [76.0, 22.4 * s + 1.2, 3.4],
            Paint::Dark,
        );
    }
    let mut x = -7.0;
    while x < 75.0 {
        k.rod(v3(x, -19.0, 4.6), v3(x, 19.0, 4.6), 1.7, Paint::Metal);
        for s in [-1.0, 1.0] {
            k.rod(v3(x, 21.4 * s, 4.6), v3(x, 23.0 * s, 4.6), 1.1, Paint::Dark);
        }
        x += 4.7;
    }
    ice_cargo(k, v3(48.0, -3.0, 6.4), (13.0, 11.0, 15.0));
    ice_cargo(k, v3(22.0, 6.0, 6.4), (8.0, 7.5, 8.5));
    ice_cargo(k, v3(24.0, -11.0, 6.4), (5.0, 4.5, 5.0));
    for (s, n) in [(-1.0_f32, 1_u32), (1.0, 2)] {
        let p = Pad::new(v3(-10.0, if s < 0.0 { -39.0 } else { 26.0 }, 1.4), X, Y);
        k.machinery(&p, [2.0, 1.0, 24.0, 12.0], 5.0, 0.75);
        k.machinery(&p, [40.0, 1.0, 62.0, 12.0], 4.5, 0.7);
        k.grating(
            &Pad {
                o: p.o + Z * 1.0,
                ..p
            },
            [25.0, 1.0, 39.0, 12.0],
            Paint::Grey,
        );
        for i in 0..n {
            k.rod(
                p.at(66.0 + 5.0 * real(i as usize), 6.0, 0.0),
                p.at(66.0 + 5.0 * real(i as usize), 6.0, 7.0),
                2.2,
                Paint::White,
            );
        }
    }
    for x in [-6.0, 18.0, 40.0, 58.0] {
        k.lamp(
            v3(x, 38.9, 8.6),
            v3(0.0, -0.7, -0.7).unit(),
            1.1,
            Paint::LampAmber,
        );
    }
}

fn ice_cargo(k: &mut Kit, foot: V3, half: (f32, f32, f32)) {
    let c = foot + Z * half.2;
    let turn = k.dice.span(-0.3, 0.3);
    let (cs, sn) = (libm::cosf(turn), libm::sinf(turn));
    let (u, v) = (v3(cs, sn, 0.0), v3(-sn, cs, 0.0));
    let mut planes = vec![Plane {
        n: -Z,
        d: (-Z).dot(foot),
    }];
    for (n, d) in [
        (u, half.0),
        (-u, half.0),
        (v, half.1),
        (-v, half.1),
        (Z, half.2),
    ] {
        let tilt = v3(
            k.dice.span(-0.12, 0.12),
            k.dice.span(-0.12, 0.12),
            k.dice.span(-0.1, 0.1),
        );
        let n = (n + tilt).unit();
        planes.push(Plane { n, d: n.dot(c) + d });
    }
    for _ in 0..9 {
        let n =
            (u * k.dice.span(-1.0, 1.0) + v * k.dice.span(-1.0, 1.0) + Z * k.dice.span(0.1, 1.0))
                .unit();
        let far = u.dot(n).abs() * half.0 + v.dot(n).abs() * half.1 + n.z.abs() * half.2;
        planes.push(Plane {
            n,
            d: n.dot(c) + far * k.dice.span(0.72, 0.9),
        });
    }
    let r = v3(half.0 + half.1, half.0 + half.1, half.2 + 1.0);
    k.solid(&planes, (c - r, c + r), Paint::Ice);
}
