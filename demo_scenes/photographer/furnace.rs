//! The barge's furnace house: open mouth, doors, outside plumbing, uptakes and the glow.

use crate::kit::{Group, Kit, Lamp, Pad};
use crate::num::real;
use crate::part::Paint;
use crate::vec3::{V3, v3};

const X: V3 = v3(1.0, 0.0, 0.0);
const Y: V3 = v3(0.0, 1.0, 0.0);
const Z: V3 = v3(0.0, 0.0, 1.0);

/// The furnace house with its open mouth, doors, uptakes and glow.
pub(crate) fn furnace(k: &mut Kit) {
    let (x0, x1) = (-66.0, -14.0);
    // Walls round an open chamber.
    k.slab([x0, -38.0, 6.0], [x1, -23.0, 40.0], Paint::Hull);
    k.slab([x0, 23.0, 6.0], [x1, 38.0, 40.0], Paint::Hull);
    k.slab([x0, -38.0, 34.0], [x1, 38.0, 42.0], Paint::Hull);
    k.prism(
        0,
        &[(-38.0, 42.0), (38.0, 42.0), (29.0, 50.0), (-29.0, 50.0)],
        (x0, x1 - 4.0),
        Paint::Hull,
    );
    k.slab([x0, -23.0, 2.0], [-54.0, 23.0, 34.0], Paint::Soot);
    k.slab([-54.0, -23.0, 1.0], [x1 + 4.0, 23.0, 6.6], Paint::Soot);
    k.slab([-52.0, -21.0, 6.4], [-17.0, 21.0, 8.2], Paint::Coal);
    k.slab([-54.0, -20.0, 10.0], [-53.4, 20.0, 26.0], Paint::Ember);
    for s in [-1.0, 1.0] {
        for x in [-50.0, -42.0, -34.0, -26.0] {
            k.slab(
                [x, 22.2 * s - 1.0, 7.0],
                [x + 4.0, 22.2 * s + 1.0, 33.0],
                Paint::Soot,
            );
        }
    }
    for i in 0..9 {
        // Lumps of burning stuff on the grate.
        let c = v3(k.dice.span(-46.0, -20.0), k.dice.span(-18.0, 18.0), 8.4);
        let q = k.dice.span(1.6, 3.6);
        k.ball(
            c,
            v3(q * 1.3, q, q * 0.8),
            if i % 3 == 0 { Paint::Soot } else { Paint::Coal },
        );
    }
    // Heavy frame round the mouth with studs.
    let f = Pad::new(v3(x1, 0.0, 0.0), Y, Z);
    k.block(&f, [-28.0, 6.0, -22.5, 38.0], (0.0, 3.0), Paint::Heat);
    k.block(&f, [22.5, 6.0, 28.0, 38.0], (0.0, 3.0), Paint::Heat);
    k.block(&f, [-28.0, 32.5, 28.0, 38.5], (0.0, 3.4), Paint::Heat);
    k.block(&f, [-24.0, 4.6, 24.0, 6.8], (0.0, 4.5), Paint::Metal);
    for i in 0..14 {
        let t = real(i) * 4.0 - 26.0;
        k.rod(f.at(t, 35.5, 3.0), f.at(t, 35.5, 4.2), 0.9, Paint::Metal);
    }
    for s in [-1.0, 1.0] {
        for i in 0..7 {
            let z = 9.0 + 4.0 * real(i);
            k.rod(
                f.at(25.3 * s, z, 2.8),
                f.at(25.3 * s, z, 3.9),
                0.9,
                Paint::Metal,
            );
        }
        door(k, s);
    }
    for y in [-17.0, -8.5, 0.0, 8.5, 17.0] {
        // Raised grate: teeth that hang from the lintel.
        k.slab(
            [x1 - 2.0, y - 0.7, 27.5],
            [x1 - 0.4, y + 0.7, 34.0],
            Paint::Soot,
        );
    }
    // Plates over the front, above and beside the mouth.
    k.machinery(&f, [-37.0, 9.0, -29.0, 32.0], 2.4, 0.85);
    k.machinery(&f, [29.0, 9.0, 37.0, 32.0], 2.4, 0.85);
    k.block(&f, [-30.0, 38.6, 30.0, 41.6], (0.0, 1.2), Paint::Hazard);
    furnace_outside(k);
    let power = v3(1.0, 0.36, 0.075);
    let across = (Y * 18.0, Z * 9.0);
    k.lamps.push(Lamp {
        at: v3(-15.0, 0.0, 19.0),
        facing: X,
        across,
        power: power * 38.0,
        reach: 260.0,
        group: Group::Furnace,
    });
    let bed = (Y * 16.0, X * 14.0);
    let inside = Lamp {
        at: v3(-36.0, 0.0, 12.6),
        facing: Z,
        across: bed,
        power: power * 8.0,
        reach: 60.0,
        group: Group::Furnace,
    };
    k.lamps.push(inside);
}

fn door(k: &mut Kit, s: f32) {
    // A leaf swung open by 118 degrees about its post.
    let (c, n) = (v3(-9.0, 30.0 * s, 0.0), 0.42_f32);
    let leaf = v3(0.91, n * s, 0.0).unit();
    let face = v3(-leaf.y, leaf.x, 0.0) * s;
    let mid = c + leaf * 10.5 + Z * 20.0;
    k.rod(c + Z * 5.0, c + Z * 36.0, 1.6, Paint::Metal);
    k.turned(mid, (leaf, Z), v3(10.0, 14.0, 1.5), Paint::Heat);
    k.turned(mid - face * 1.9, (leaf, Z), v3(8.6, 12.4, 0.6), Paint::Soot);
    for d in [-9.0, -3.0, 3.0, 9.0] {
        k.turned(
            mid + face * 1.9 + Z * d,
            (leaf, Z),
            v3(9.4, 0.9, 0.9),
            Paint::Dark,
        );
        k.turned(
            mid + face * 2.6 + Z * d - leaf * 7.0,
            (leaf, Z),
            v3(2.2, 1.3, 0.6),
            Paint::Metal,
        );
        k.rod(c + Z * (19.0 + d), c + Z * (21.0 + d), 2.2, Paint::Dark);
    }
    k.rod(
        mid + leaf * 6.0 + face * 2.0,
        mid + leaf * 6.0 + face * 4.0,
        3.0,
        Paint::Ochre,
    );
    k.rod(
        mid + leaf * 6.0 + face * 2.0,
        mid + leaf * 6.0 + face * 4.6,
        1.2,
        Paint::Dark,
    );
    k.run(
        &[
            mid + leaf * 3.0 + face * 2.6,
            v3(-16.0, 39.6 * s, 26.0),
            v3(-30.0, 39.6 * s, 26.0),
        ],
        1.0,
        Paint::Metal,
    );
}

fn furnace_outside(k: &mut Kit) {
    let s = Pad::new(v3(-66.0, -38.0, 6.0), X, Z);
    for u in [1.0, 13.0, 26.0, 38.5, 50.0] {
        k.block(&s, [u, 0.0, u + 1.8, 35.0], (0.0, 2.6), Paint::Hull);
    }
    for (u, v) in [(4.0, 3.0), (16.5, 3.0), (29.5, 3.0)] {
        k.block(
            &s,
            [u - 0.8, v - 0.8, u + 8.8, v + 9.4],
            (0.0, 1.3),
            Paint::Dark,
        );
        for i in 0..4 {
            let z = v + 0.5 + 2.2 * real(i);
            k.block(&s, [u, z, u + 8.0, z + 0.9], (1.2, 1.5), Paint::Ember);
            k.turned(
                s.at(u + 4.0, z + 1.3, 2.2),
                (X, v3(0.0, -0.7, -0.6)),
                v3(4.2, 1.1, 0.2),
                Paint::Heat,
            );
        }
        let at = s.at(u + 4.0, v + 4.0, 5.0);
        let power = v3(1.0, 0.36, 0.075) * 0.9;
        let across = (X * 4.0, Z * 4.0);
        k.lamps.push(Lamp {
            at,
            facing: -Y,
            across,
            power,
            reach: 50.0,
            group: Group::Furnace,
        });
    }
    k.machinery(&s, [3.2, 14.0, 12.6, 33.0], 2.4, 0.9);
    k.machinery(&s, [28.2, 15.0, 38.0, 34.0], 2.4, 0.9);
    k.hatch(&s, (20.0, 22.0), 4.6, Paint::Warm);
    k.ladder(&s, 44.5, (0.0, 36.0), Paint::Ochre);
    for h in [2.2, 3.9] {
        k.run(
            &[
                s.at(2.0, 12.4 + h, 3.6),
                s.at(50.0, 12.4 + h, 3.6),
                s.at(53.0, 9.0 + h, 3.6),
                s.at(53.0, -3.0, 3.6),
            ],
            0.75,
            Paint::Metal,
        );
    }
    // Roof: pads of machinery, walkway, three uptakes with collars.
    let r = Pad::new(v3(-66.0, -29.0, 50.0), X, Y);
    k.machinery(&r, [1.0, 2.0, 10.0, 56.0], 6.0, 0.9);
    k.machinery(&r, [30.0, 30.0, 47.0, 57.0], 5.0, 0.8);
    k.machinery(&r, [30.0, 1.0, 47.0, 22.0], 4.0, 0.85);
    k.grating(
        &Pad {
            o: r.o + Z * 1.0,
            ..r
        },
        [30.0, 23.0, 47.0, 29.0],
        Paint::Grey,
    );
    // Registration mark on the sloping armour.
    let slope = Pad::new(v3(-66.0, -38.0, 42.0), X, v3(0.0, 9.0, 8.0));
    k.block(&slope, [3.0, 2.4, 30.0, 9.6], (-0.3, 0.06), Paint::Named);
    if let Some(p) = k.parts.last_mut() {
        p.seed = 3;
    }
    k.rail(
        &[v3(-19.0, -28.0, 50.0), v3(-19.0, 28.0, 50.0)],
        Z,
        Paint::White,
    );
    k.rail(
        &[v3(-65.0, -28.0, 50.0), v3(-19.0, -28.0, 50.0)],
        Z,
        Paint::White,
    );
    for (y, h, q) in [(-4.0, 36.0, 5.4), (16.0, 36.0, 5.4), (6.0, 30.0, 3.6)] {
        let a = v3(-46.0, y, 48.0);
        let dir = v3(-0.18, 0.0, 1.0).unit();
        let b = a + dir * h;
        k.rod(a, a + dir * 4.0, q + 2.0, Paint::Dark);
        k.rod(a, b, q, Paint::Heat);
        k.tube(
            b - dir * 3.0,
            b + dir * 2.0,
            (q + 0.8, q + 1.3),
            Paint::Soot,
        );
        k.rod(b, b + dir * 0.3, q * 0.9, Paint::Void);
        for t in [0.3, 0.52, 0.74] {
            let m = a.mix(b, t);
            k.rod(m - dir * 0.6, m + dir * 0.6, q + 0.7, Paint::Dark);
        }
        k.rod(a.mix(b, 0.6) + X * q, v3(-26.0, y, 50.0), 0.4, Paint::Metal);
    }
}
