//! The lamp buoy *Tansy*: ballast sphere, drum, lattice mast, lamp house.

use crate::kit::{Group, Kit, Lamp, Pad};
use crate::part::Paint;
use crate::vec3::{V3, v3};

const UP: V3 = v3(0.0, 0.0, 1.0);

fn ring(kit: &mut Kit, n: u8, mut f: impl FnMut(&mut Kit, V3, V3, u8)) {
    for k in 0..n {
        let a = 6.283_185_5 * f32::from(k) / f32::from(n);
        let (c, s) = (libm::cosf(a), libm::sinf(a));
        f(kit, v3(c, s, 0.0), v3(-s, c, 0.0), k);
    }
}

/// Builds the buoy (about 215 mm tall, standing on z = -105).
pub(crate) fn buoy(kit: &mut Kit) {
    ballast(kit);
    drum(kit);
    mast(kit);
    lamp_house(kit);
}

fn ballast(kit: &mut Kit) {
    let c = v3(0.0, 0.0, -72.0);
    kit.ball(c, v3(27.0, 27.0, 25.0), Paint::Oxide);
    kit.rod(c - UP * 1.6, c + UP * 1.6, 28.0, Paint::Grey);
    ring(kit, 16, |k, d, t, _| {
        k.turned(c + d * 28.0, (t, UP), v3(1.4, 3.4, 1.3), Paint::Dark);
        k.rod(
            c + d * 28.4 + UP * 2.4,
            c + d * 29.8 + UP * 2.4,
            0.8,
            Paint::Metal,
        );
    });
    ring(kit, 8, |k, d, _, _| {
        let mut last = c + d * 27.2;
        for i in 1..8_u8 {
            let a = 0.19 * f32::from(i);
            let p = c + d * (27.2 * libm::cosf(a)) - UP * (25.3 * libm::sinf(a));
            k.rod(last, p, 0.5, Paint::Oxide);
            last = p;
        }
    });
    kit.rod(c - UP * 22.0, c - UP * 30.0, 9.0, Paint::Dark);
    kit.rod(c - UP * 30.0, c - UP * 33.0, 6.0, Paint::Metal);
    kit.cone(c + UP * 20.0, c + UP * 30.0, (17.0, 20.0), Paint::Dark);
}

fn drum(kit: &mut Kit) {
    kit.rod(v3(0.0, 0.0, -44.0), v3(0.0, 0.0, -8.0), 21.0, Paint::Ochre);
    kit.rod(v3(0.0, 0.0, -31.0), v3(0.0, 0.0, -21.0), 21.3, Paint::White);
    for z in [-44.0, -33.0, -20.0, -9.0] {
        kit.rod(v3(0.0, 0.0, z), v3(0.0, 0.0, z + 1.6), 22.3, Paint::Dark);
    }
    kit.rod(v3(0.0, 0.0, -8.0), v3(0.0, 0.0, -5.4), 25.0, Paint::Deck);
    ring(kit, 24, |k, d, t, _| {
        k.turned(
            v3(0.0, 0.0, -7.0) + d * 25.0,
            (t, UP),
            v3(1.9, 1.6, 0.5),
            Paint::Hazard,
        );
    });
    ring(kit, 20, |k, d, _, _| {
        k.rod(
            v3(0.0, 0.0, -5.4) + d * 23.6,
            v3(0.0, 0.0, 1.0) + d * 23.6,
            0.3,
            Paint::Grey,
        );
    });
    for z in [-2.2, 1.0] {
        ring(kit, 28, |k, d, t, _| {
            let p = v3(0.0, 0.0, z) + d * 23.6;
            k.rod(p - t * 2.7, p + t * 2.7, 0.28, Paint::Ochre);
        });
    }
    // Equipment on the drum: name board, boxes, charging plug, ladder, and the four fins.
    ring(kit, 12, |k, d, t, i| {
        let p = Pad {
            o: d * 21.0,
            u: t,
            v: UP,
            n: d,
        };
        match i % 4 {
            0 => k.machinery(&p, [-4.6, -42.0, 4.6, -34.0], 3.0, 0.9),
            1 => k.louvre(&p, [-3.6, -18.0, 3.6, -11.0], Paint::Ochre),
            2 => {
                k.machinery(&p, [-4.0, -42.0, 4.0, -34.0], 2.6, 0.8);
                k.hatch(&p, (0.0, -14.6), 3.0, Paint::White);
            }
            _ => k.ladder(&p, 0.0, (-44.0, -6.0), Paint::Metal),
        }
    });
    let d = v3(libm::cosf(-1.0), libm::sinf(-1.0), 0.0);
    let p = Pad {
        o: d * 21.4,
        u: v3(-d.y, d.x, 0.0),
        v: UP,
        n: d,
    };
    kit.board(&p, [-11.0, -31.0, 11.0, -22.0], (0.0, 1.0), 2);
    fins(kit);
}

fn fins(kit: &mut Kit) {
    for a in [-0.15_f32, 1.42, 2.99, 4.56] {
        let d = v3(libm::cosf(a), libm::sinf(a), 0.0);
        let t = v3(-d.y, d.x, 0.0);
        let c = d * 41.0 - UP * 16.0;
        let n = (d * 0.2 + UP * 0.35 + t * 0.9).unit();
        let v = n.cross(d).unit();
        kit.turned(c, (d, v), v3(16.0, 22.0, 0.7), Paint::Dark);
        for i in 0..4_u8 {
            for j in 0..6_u8 {
                let (x, y) = (-12.0 + 8.0 * f32::from(i), -18.0 + 7.2 * f32::from(j));
                for s in [-1.0, 1.0] {
                    kit.turned(
                        c + d * x + v * y + n * (0.75 * s),
                        (d, v),
                        v3(3.7, 3.3, 0.15),
                        Paint::Cell,
                    );
                }
            }
        }
        for y in [-22.4, 22.4] {
            kit.rod(
                c + v * y - d * 16.0,
                c + v * y + d * 16.0,
                0.7,
                Paint::Metal,
            );
        }
        kit.rod(d * 20.0 - UP * 16.0, c + n * 1.0, 1.3, Paint::Grey);
        kit.rod(d * 20.0 - UP * 34.0, c - v * 12.0, 0.8, Paint::Grey);
        kit.rod(d * 20.0 - UP * 10.0, c + v * 12.0, 0.8, Paint::Grey);
    }
}

fn mast(kit: &mut Kit) {
    kit.truss(v3(0.0, 0.0, -5.0), v3(0.0, 0.0, 62.0), 17.0, Paint::Ochre);
    kit.truss(v3(0.0, 0.0, -5.0), v3(0.0, 0.0, 62.0), 9.0, Paint::Grey);
    for z in [18.0, 40.0] {
        kit.rod(v3(0.0, 0.0, z), v3(0.0, 0.0, z + 1.4), 13.5, Paint::Deck);
    }
    let p = Pad::new(v3(0.0, 0.0, 19.4), v3(1.0, 0.0, 0.0), v3(0.0, 1.0, 0.0));
    kit.machinery(&p, [-8.5, -8.5, 8.5, 8.5], 9.0, 0.9);
    let p = Pad::new(v3(0.0, 0.0, 41.4), v3(1.0, 0.0, 0.0), v3(0.0, 1.0, 0.0));
    kit.machinery(&p, [-8.5, -8.5, 8.5, 8.5], 7.0, 0.8);
    kit.run(
        &[v3(9.0, -6.0, -5.0), v3(9.0, -6.0, 60.0)],
        0.8,
        Paint::Dark,
    );
    kit.run(
        &[
            v3(6.0, -9.4, -5.0),
            v3(6.0, -9.4, 40.0),
            v3(10.0, -9.4, 44.0),
        ],
        0.5,
        Paint::Metal,
    );
    for (a, z) in [(-0.7_f32, 30.0), (2.2, 36.0)] {
        let d = v3(libm::cosf(a), libm::sinf(a), 0.0);
        kit.rod(d * 9.0 + UP * z, d * 22.0 + UP * z, 0.7, Paint::Grey);
        kit.tube(
            d * 22.0 + UP * z,
            d * 27.0 + UP * (z + 1.0),
            (1.4, 6.0),
            Paint::White,
        );
    }
    for (x, y) in [(11.0, -6.0), (-5.0, -11.0), (12.0, 6.0)] {
        for z in [39.0, 61.0] {
            kit.lamp(v3(x, y, z), v3(0.0, 0.0, -1.0), 1.6, Paint::LampWhite);
        }
    }
    for z in [12.0, 34.0, 56.0] {
        let d = v3(0.7, -0.714, 0.0);
        kit.rod(d * 8.0 + UP * z, d * 14.0 + UP * z, 0.6, Paint::Dark);
        kit.lamp(d * 15.0 + UP * z, V3::default(), 2.6, Paint::LampRed);
    }
}

fn lamp_house(kit: &mut Kit) {
    kit.rod(v3(0.0, 0.0, 62.0), v3(0.0, 0.0, 65.0), 16.0, Paint::Deck);
    ring(kit, 16, |k, d, _, _| {
        k.rod(
            v3(0.0, 0.0, 65.0) + d * 15.0,
            v3(0.0, 0.0, 70.0) + d * 15.0,
            0.3,
            Paint::Grey,
        );
    });
    ring(kit, 24, |k, d, t, _| {
        let p = v3(0.0, 0.0, 70.0) + d * 15.0;
        k.rod(p - t * 2.0, p + t * 2.0, 0.3, Paint::Ochre);
    });
    kit.rod(v3(0.0, 0.0, 65.0), v3(0.0, 0.0, 71.0), 9.0, Paint::Grey);
    for i in 0..7_u8 {
        let z = 71.0 + 2.0 * f32::from(i);
        kit.rod(
            v3(0.0, 0.0, z),
            v3(0.0, 0.0, z + 1.1),
            6.4,
            Paint::LampAmber,
        );
        kit.rod(
            v3(0.0, 0.0, z + 1.1),
            v3(0.0, 0.0, z + 2.0),
            5.4,
            Paint::LampAmber,
        );
    }
    ring(kit, 8, |k, d, _, _| {
        k.rod(
            v3(0.0, 0.0, 71.0) + d * 8.6,
            v3(0.0, 0.0, 86.0) + d * 8.6,
            0.5,
            Paint::Dark,
        );
    });
    kit.cone(
        v3(0.0, 0.0, 86.0),
        v3(0.0, 0.0, 92.0),
        (11.0, 5.0),
        Paint::Ochre,
    );
    kit.rod(v3(0.0, 0.0, 85.0), v3(0.0, 0.0, 86.2), 11.6, Paint::Dark);
    kit.rod(v3(0.0, 0.0, 92.0), v3(0.0, 0.0, 95.0), 3.0, Paint::Dark);
    kit.rod(v3(0.0, 0.0, 95.0), v3(0.0, 0.0, 112.0), 0.5, Paint::Metal);
    kit.rod(v3(4.0, 3.0, 90.0), v3(4.0, 3.0, 106.0), 0.3, Paint::Metal);
    ring(kit, 6, |k, d, _, _| {
        let across = (V3::default(), V3::default());
        k.lamps.push(Lamp {
            at: d * 7.4 + UP * 78.0,
            facing: d,
            across,
            power: v3(1.0, 0.48, 0.1) * 5.0,
            reach: 120.0,
            group: Group::Running,
        });
    });
}
