//! The lamp buoy *Tansy* and the ice castings; millimetres, up +z.

use crate::kit::{Group, Kit, Lamp, Pad};
use crate::num::real;
use crate::part::{Paint, Plane};
use crate::vec3::{V3, v3};

const X: V3 = v3(1.0, 0.0, 0.0);
const Y: V3 = v3(0.0, 1.0, 0.0);
const Z: V3 = v3(0.0, 0.0, 1.0);

/// Builds the lamp buoy.
pub(crate) fn buoy() -> Kit {
    let mut k = Kit::new(55);
    // Float with collar and fins.
    k.cone(
        v3(0.0, 0.0, -30.0),
        v3(0.0, 0.0, -8.0),
        (13.0, 21.0),
        Paint::Oxide,
    );
    k.rod(v3(0.0, 0.0, -8.0), v3(0.0, 0.0, 6.0), 21.0, Paint::Hull);
    k.rod(v3(0.0, 0.0, -2.6), v3(0.0, 0.0, 1.2), 22.6, Paint::Dark);
    k.cone(
        v3(0.0, 0.0, 6.0),
        v3(0.0, 0.0, 12.0),
        (21.0, 14.0),
        Paint::Warm,
    );
    k.rod(v3(0.0, 0.0, 12.0), v3(0.0, 0.0, 14.0), 15.0, Paint::Dark);
    for i in 0..12 {
        let a = real(i) * std::f32::consts::TAU / 12.0;
        let o = v3(libm::cosf(a), libm::sinf(a), 0.0);
        let side = Z.cross(o);
        k.turned(
            o * 21.6 + Z * 3.6,
            (side, Z),
            v3(1.0, 2.0, 0.8),
            Paint::Metal,
        );
        k.turned(
            o * 21.2 + Z * -5.4,
            (side, Z),
            v3(3.6, 1.8, 0.5),
            if i % 3 == 0 {
                Paint::Hazard
            } else {
                Paint::Hull
            },
        );
        let rib = o * 17.4 + Z * -19.0;
        k.turned(
            rib,
            (side, v3(o.x * 0.34, o.y * 0.34, 0.94)),
            v3(0.6, 11.0, 1.0),
            Paint::Oxide,
        );
        if i % 3 == 1 {
            k.hatch(
                &Pad::new(o * 18.4 + Z * 8.6, side, v3(-o.x * 0.76, -o.y * 0.76, 0.65)),
                (0.0, 0.0),
                2.4,
                Paint::Hull,
            );
        }
        k.rod(o * 24.0 + Z * -0.7, o * 21.0 + Z * -0.7, 0.9, Paint::Metal);
    }
    // Name plate towards the camera, mark plate beside it, a ladder and valves.
    for (a, seed, w) in [(-0.62_f32, 2, 7.5), (-1.75, 4, 4.6), (0.5, 4, 4.6)] {
        let o = v3(libm::cosf(a), libm::sinf(a), 0.0);
        let p = Pad::new(o * 20.2 + Z * -7.4, Z.cross(o), Z);
        k.block(&p, [-w, 0.2, w, 4.4], (-2.0, 1.7), Paint::Named);
        if let Some(q) = k.parts.last_mut() {
            q.seed = seed;
        }
    }
    for (a, n) in [(-1.25_f32, 3), (0.05, 2), (1.3, 3)] {
        let o = v3(libm::cosf(a), libm::sinf(a), 0.0);
        let p = Pad::new(
            o * 17.2 + Z * -19.0,
            Z.cross(o),
            v3(o.x * 0.34, o.y * 0.34, 0.94),
        );
        for i in 0..n {
            k.block(
                &p,
                [-2.4, 5.6 * real(i) - 7.0, 2.4, 5.6 * real(i) - 3.6],
                (-1.0, 0.9),
                Paint::Metal,
            );
        }
        k.run(
            &[
                p.at(3.2, -9.0, 0.8),
                p.at(3.2, 6.0, 0.8),
                p.at(5.0, 9.0, 0.8),
            ],
            0.5,
            Paint::Dark,
        );
    }
    // Mooring eye and counterweight.
    k.rod(v3(0.0, 0.0, -38.0), v3(0.0, 0.0, -30.0), 7.0, Paint::Dark);
    k.rod(v3(0.0, 0.0, -46.0), v3(0.0, 0.0, -38.0), 9.0, Paint::Metal);
    k.rod(v3(0.0, 0.0, -43.0), v3(0.0, 0.0, -41.0), 9.8, Paint::Dark);
    buoy_tower(&mut k);
    k
}

fn buoy_tower(k: &mut Kit) {
    let corner = |i: usize, r: f32, z: f32| {
        let a = real(i) * std::f32::consts::FRAC_PI_2 + 0.45;
        v3(libm::cosf(a) * r, libm::sinf(a) * r, z)
    };
    for i in 0..4 {
        k.rod(
            corner(i, 12.0, 14.0),
            corner(i, 6.4, 58.0),
            0.9,
            Paint::Ochre,
        );
        let mut z = 14.0;
        while z < 54.0 {
            let (r, q) = (12.0 - 0.127 * (z - 14.0), 12.0 - 0.127 * (z - 3.0));
            k.rod(corner(i, r, z), corner(i + 1, r, z), 0.5, Paint::Ochre);
            k.rod(
                corner(i, r, z),
                corner(i + 1, q, z + 11.0),
                0.4,
                Paint::Ochre,
            );
            z += 11.0;
        }
    }
    // Boxes hung in the lattice, panels, ladder, deck.
    k.slab([-5.0, -5.0, 14.0], [5.0, 5.0, 30.0], Paint::Grey);
    for (o, u) in [(v3(5.0, -5.0, 14.0), Y), (v3(-5.0, -5.0, 14.0), X)] {
        let p = Pad::new(o, u, Z);
        k.machinery(&p, [0.5, 1.0, 9.5, 15.0], 1.8, 0.9);
    }
    k.rod(v3(0.0, 0.0, 30.0), v3(0.0, 0.0, 57.0), 2.2, Paint::White);
    k.rod(v3(3.4, -2.0, 30.0), v3(2.4, -1.4, 57.0), 0.6, Paint::Metal);
    k.rod(v3(0.0, 0.0, 57.0), v3(0.0, 0.0, 59.0), 12.0, Paint::Dark);
    k.tube(
        v3(0.0, 0.0, 59.0),
        v3(0.0, 0.0, 60.2),
        (12.2, 12.2),
        Paint::Ochre,
    );
    let rim: Vec<V3> = (0..=16)
        .map(|i| {
            v3(
                libm::cosf(real(i) * std::f32::consts::FRAC_PI_8) * 11.4,
                libm::sinf(real(i) * std::f32::consts::FRAC_PI_8) * 11.4,
                59.0,
            )
        })
        .collect();
    k.rail(&rim, Z, Paint::White);
    lamp_house(k);
}

/// Lamp house: base, glowing lens, cage, cap; floodlights, panel and the lamp's light.
fn lamp_house(k: &mut Kit) {
    k.rod(v3(0.0, 0.0, 59.0), v3(0.0, 0.0, 64.0), 6.4, Paint::Hull);
    k.rod(v3(0.0, 0.0, 64.0), v3(0.0, 0.0, 65.4), 7.4, Paint::Dark);
    k.rod(
        v3(0.0, 0.0, 65.4),
        v3(0.0, 0.0, 76.0),
        4.6,
        Paint::LampAmber,
    );
    for z in [67.5, 70.0, 72.5, 75.0] {
        k.rod(
            v3(0.0, 0.0, z - 0.25),
            v3(0.0, 0.0, z + 0.25),
            5.4,
            Paint::Metal,
        );
    }
    for i in 0..8 {
        let a = real(i) * std::f32::consts::FRAC_PI_4;
        let o = v3(libm::cosf(a) * 6.6, libm::sinf(a) * 6.6, 0.0);
        k.rod(o + Z * 65.0, o + Z * 76.5, 0.4, Paint::Dark);
    }
    k.rod(v3(0.0, 0.0, 76.0), v3(0.0, 0.0, 77.4), 7.4, Paint::Dark);
    k.cone(
        v3(0.0, 0.0, 77.4),
        v3(0.0, 0.0, 82.0),
        (7.0, 2.4),
        Paint::Warm,
    );
    k.rod(v3(0.0, 0.0, 82.0), v3(0.0, 0.0, 96.0), 0.4, Paint::Metal);
    k.turned(
        v3(0.0, 0.0, 88.0),
        (v3(1.0, -1.0, 0.0), Z),
        v3(3.6, 3.0, 0.2),
        Paint::Hazard,
    );
    for a in [-2.3_f32, -1.2, -0.15, 0.9, 2.4] {
        let o = v3(libm::cosf(a), libm::sinf(a), 0.0);
        k.rod(o * 11.0 + Z * 57.4, o * 14.2 + Z * 56.6, 0.7, Paint::Dark);
        k.lamp(
            o * 14.6 + Z * 55.8,
            (o * 0.12 - Z).unit(),
            2.6,
            Paint::LampWhite,
        );
    }
    let panel = Pad::new(
        v3(8.0, -17.0, 38.0),
        v3(0.8, 0.75, 0.0),
        v3(0.35, -0.35, 0.85),
    );
    k.block(&panel, [-9.0, -8.0, 9.0, 8.0], (0.0, 0.8), Paint::Dark);
    for i in 0..4 {
        for j in 0..4 {
            let (u, v) = (-8.2 + 4.2 * real(i), -7.4 + 3.8 * real(j));
            k.block(&panel, [u, v, u + 3.8, v + 3.4], (0.8, 1.0), Paint::Glass);
            if let Some(p) = k.parts.last_mut() {
                p.seed = (0..99)
                    .find(|s| crate::paint::pane(*s).is_none())
                    .unwrap_or(0);
            }
        }
    }
    k.rod(
        panel.at(0.0, 0.0, -0.2),
        v3(2.0, -2.0, 38.0),
        0.8,
        Paint::Grey,
    );
    let power = v3(1.0, 0.5, 0.12);
    for i in 0..6 {
        let a = real(i) * std::f32::consts::FRAC_PI_3 + 0.3;
        let o = v3(libm::cosf(a), libm::sinf(a), 0.0);
        let at = o * 8.4 + Z * 70.5;
        k.lamps.push(Lamp {
            at,
            facing: o,
            across: (Z * 4.0, V3::default()),
            power: power * 5.0,
            reach: 150.0,
            group: Group::Running,
        });
    }
}

/// Builds one of the ice castings (1..=3): a broken block with lumps and shards frozen to it.
pub(crate) fn ice(which: u32) -> Kit {
    let mut k = Kit::new(900 + which);
    let half = [
        v3(36.0, 25.0, 22.0),
        v3(24.0, 22.0, 33.0),
        v3(43.0, 19.0, 18.0),
    ][(which as usize + 2) % 3];
    chunk(&mut k, V3::default(), half, (24, 0.60, 0.90));
    for i in 0..5 {
        let n = any_way(&mut k);
        let c = v3(n.x * half.x, n.y * half.y, n.z * half.z) * 0.55;
        let s = if i < 2 { 0.62 } else { 0.42 };
        let h = v3(
            half.x * k.dice.span(0.7, 1.2),
            half.y * k.dice.span(0.7, 1.2),
            half.z * k.dice.span(0.7, 1.2),
        ) * s;
        chunk(&mut k, c, h, (18, 0.58, 0.9));
    }
    for _ in 0..9 {
        let n = any_way(&mut k);
        let c = v3(n.x * half.x, n.y * half.y, n.z * half.z) * 0.86;
        let r = k.dice.span(3.0, 7.0);
        let h = v3(r * k.dice.span(0.6, 1.6), r, r * k.dice.span(0.6, 1.3));
        chunk(&mut k, c, h, (12, 0.5, 0.9));
    }
    k
}

fn any_way(k: &mut Kit) -> V3 {
    v3(
        k.dice.span(-1.0, 1.0),
        k.dice.span(-1.0, 1.0),
        k.dice.span(-1.0, 1.0),
    )
    .unit()
}

/// A convex lump: a tilted box with corners knocked off; `cuts` = how many, and how deep (share of the support).
fn chunk(k: &mut Kit, c: V3, half: V3, cuts: (u32, f32, f32)) {
    let mut planes = Vec::new();
    for n in [X, -X, Y, -Y, Z, -Z] {
        let m = (n + any_way(k) * 0.24).unit();
        let far = (n.x * half.x).abs() + (n.y * half.y).abs() + (n.z * half.z).abs();
        planes.push(Plane {
            n: m,
            d: m.dot(c) + far,
        });
    }
    for _ in 0..cuts.0 {
        let n = any_way(k);
        let far = (n.x * half.x).abs() + (n.y * half.y).abs() + (n.z * half.z).abs();
        planes.push(Plane {
            n,
            d: n.dot(c) + far * k.dice.span(cuts.1, cuts.2),
        });
    }
    k.solid(&planes, (c - half * 1.4, c + half * 1.4), Paint::Ice);
}
