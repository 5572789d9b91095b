//! What stands on the barge's hull: gantry, tanks, bridge, engines, crane and hands.

use crate::kit::{Kit, Pad};
use crate::num::real;
use crate::part::{Paint, Shape};
use crate::vec3::{V3, v3};

const X: V3 = v3(1.0, 0.0, 0.0);
const Y: V3 = v3(0.0, 1.0, 0.0);
const Z: V3 = v3(0.0, 0.0, 1.0);

/// The gantry over the cutting deck.
pub(crate) fn gantry(k: &mut Kit) {
    let x = 66.0;
    for y in [-37.0, 37.0] {
        k.truss(v3(x, y, 8.0), v3(x, y, 50.0), 5.0, Paint::Ochre);
        k.slab(
            [x - 6.0, y - 5.0, 6.0],
            [x + 6.0, y + 5.0, 10.0],
            Paint::Dark,
        );
        k.rod(v3(x - 16.0, y, 8.0), v3(x, y, 34.0), 1.1, Paint::Ochre);
    }
    k.truss(v3(x, -43.0, 52.0), v3(x, 43.0, 52.0), 6.5, Paint::Ochre);
    k.slab(
        [x - 4.0, -44.5, 48.0],
        [x + 4.0, -41.5, 56.0],
        Paint::Hazard,
    );
    k.slab([x - 4.0, 41.5, 48.0], [x + 4.0, 44.5, 56.0], Paint::Hazard);
    // Trolley with its fall and claw over the large block.
    k.slab([x - 6.0, -9.0, 55.5], [x + 6.0, 5.0, 59.0], Paint::Dark);
    let top = Pad::new(v3(x - 6.0, -9.0, 59.0), X, Y);
    k.machinery(&top, [0.5, 0.5, 11.5, 13.5], 3.6, 0.95);
    for (dx, dy) in [(-3.0, -5.0), (3.0, -5.0), (-3.0, 1.0), (3.0, 1.0)] {
        k.rod(
            v3(x + dx, dy - 1.0, 56.0),
            v3(x + dx * 0.6, dy * 0.6 - 1.0, 41.0),
            0.28,
            Paint::Metal,
        );
    }
    k.slab([x - 4.0, -5.5, 38.0], [x + 4.0, 2.5, 41.2], Paint::Hazard);
    k.rod(v3(x, -1.5, 33.0), v3(x, -1.5, 38.5), 1.2, Paint::Dark);
    for s in [-1.0, 1.0] {
        k.run(
            &[
                v3(x, -1.5, 34.0),
                v3(x, -1.5 + 7.0 * s, 30.0),
                v3(x, -1.5 + 5.0 * s, 23.0),
            ],
            0.8,
            Paint::Metal,
        );
    }
    k.lamp(v3(x, -30.0, 47.6), -Z, 1.5, Paint::LampWhite);
    k.lamp(v3(x, 24.0, 47.6), -Z, 1.5, Paint::LampWhite);
    k.lamp(v3(x, -43.0, 57.0), Z, 0.6, Paint::LampRed);
    k.lamp(v3(x, 43.0, 57.0), Z, 0.6, Paint::LampRed);
}

/// Tanks and machinery of the after deck.
pub(crate) fn tank_farm(k: &mut Kit) {
    k.slab([-146.0, -41.0, 6.0], [-66.0, 41.0, 7.4], Paint::Deck);
    for (y, z, r) in [(-30.0, 17.0, 9.0), (-12.0, 15.0, 8.0)] {
        let (a, b) = (v3(-128.0, y, z), v3(-78.0, y, z));
        k.rod(a, b, r, Paint::White);
        k.put(b, [X, Y, Z], v3(r * 0.5, r, r), (Shape::Ball, Paint::White));
        k.put(a, [X, Y, Z], v3(r * 0.5, r, r), (Shape::Ball, Paint::White));
        for t in [0.04, 0.27, 0.5, 0.73, 0.96] {
            let m = a.mix(b, t);
            k.rod(m - X * 0.7, m + X * 0.7, r + 0.5, Paint::Grey);
            k.slab(
                [m.x - 1.4, y - r * 0.8, 7.0],
                [m.x + 1.4, y + r * 0.8, z - r * 0.4],
                Paint::Dark,
            );
        }
        k.run(
            &[
                v3(-82.0, y, z + r),
                v3(-82.0, y, z + r + 3.0),
                v3(-70.0, y, z + r + 3.0),
                v3(-66.0, y, z + r),
            ],
            0.9,
            Paint::Metal,
        );
        k.rod(
            v3(-104.0, y, z + r - 0.4),
            v3(-104.0, y, z + r + 1.6),
            2.6,
            Paint::Dark,
        );
        k.grating(
            &Pad::new(v3(-124.0, y - 2.0, z + r + 0.4), X, Y),
            [0.0, 0.0, 14.0, 4.0],
            Paint::Grey,
        );
    }
    let p = Pad::new(v3(-146.0, -41.0, 7.4), X, Y);
    k.machinery(&p, [0.5, 1.0, 14.0, 80.0], 8.0, 0.9);
    k.machinery(&p, [14.0, 48.0, 36.0, 80.0], 7.0, 0.85);
    k.machinery(&p, [14.0, 37.0, 80.0, 48.0], 6.0, 0.8);
    k.machinery(&p, [70.0, 1.0, 80.0, 36.0], 7.0, 0.9);
    for i in 0..3 {
        let y = -3.0 + 3.0 * real(i);
        k.run(
            &[
                v3(-140.0, y, 12.0),
                v3(-90.0, y, 12.0),
                v3(-88.0, y, 16.0),
                v3(-66.0, y, 16.0),
            ],
            1.0,
            if i == 1 { Paint::Ochre } else { Paint::Metal },
        );
    }
}

/// The bridge tower.
pub(crate) fn bridge(k: &mut Kit) {
    let (x, y) = (-100.0, 21.0);
    k.slab(
        [x - 13.0, y - 13.0, 6.0],
        [x + 15.0, y + 15.0, 30.0],
        Paint::Hull,
    );
    k.slab(
        [x - 10.0, y - 10.0, 30.0],
        [x + 11.0, y + 12.0, 62.0],
        Paint::Hull,
    );
    k.prism(
        1,
        &[
            (x - 14.0, 62.0),
            (x + 14.0, 62.0),
            (x + 18.0, 70.0),
            (x + 14.0, 80.0),
            (x - 14.0, 80.0),
        ],
        (y - 20.0, y + 20.0),
        Paint::Hull,
    );
    k.slab(
        [x - 16.0, y - 21.0, 80.0],
        [x + 16.0, y + 21.0, 81.8],
        Paint::Dark,
    );
    // Window band: sloped front, and the starboard end.
    let front = Pad::new(v3(x + 18.0, y - 20.0, 70.0), Y, v3(-4.0, 0.0, 10.0));
    k.windows(&front, [2.0, 2.4, 38.0, 7.4], 9);
    let end = Pad::new(v3(x - 14.0, y - 20.0, 70.0), X, Z);
    k.windows(&end, [3.0, 2.4, 26.0, 7.0], 5);
    k.block(&front, [1.0, -7.2, 39.0, -1.4], (-3.0, -0.6), Paint::Warm);
    k.block(&end, [2.0, -6.6, 26.0, -1.2], (0.0, 0.6), Paint::Hull);
    // Tower faces: cabin windows, ducts, ladders.
    let t = Pad::new(v3(x + 11.0, y - 10.0, 30.0), Y, Z);
    k.windows(&t, [2.0, 22.0, 12.0, 25.0], 3);
    k.windows(&t, [8.0, 8.0, 20.0, 11.0], 4);
    k.machinery(&t, [1.0, 1.0, 7.0, 20.0], 2.2, 0.85);
    k.louvre(&t, [11.0, 13.0, 20.0, 20.0], Paint::Dark);
    let w = Pad::new(v3(x - 10.0, y - 10.0, 30.0), X, Z);
    k.windows(&w, [3.0, 18.0, 11.0, 21.0], 3);
    k.windows(&w, [3.0, 8.0, 8.0, 11.0], 2);
    k.ladder(&w, 16.0, (0.0, 32.0), Paint::Ochre);
    k.machinery(&w, [10.0, 3.0, 14.0, 15.0], 2.0, 0.8);
    let b = Pad::new(v3(x + 15.0, y - 13.0, 6.0), Y, Z);
    k.windows(&b, [4.0, 15.0, 24.0, 18.5], 5);
    k.machinery(&b, [1.0, 1.0, 27.0, 12.0], 2.8, 0.85);
    let bs = Pad::new(v3(x - 13.0, y - 13.0, 6.0), X, Z);
    k.windows(&bs, [4.0, 16.0, 14.0, 19.5], 3);
    k.machinery(&bs, [15.0, 2.0, 27.0, 20.0], 2.2, 0.85);
    for h in [33.0, 36.0] {
        k.run(
            &[
                v3(x + 12.4, y + 8.0, h - 10.0),
                v3(x + 12.4, y + 8.0, h + 24.0),
                v3(x + 10.0, y + 12.8, h + 28.0),
            ],
            0.7,
            Paint::Metal,
        );
    }
    k.rail(
        &[v3(x + 14.0, y - 12.0, 30.0), v3(x + 14.0, y + 14.0, 30.0)],
        Z,
        Paint::White,
    );
    k.rail(
        &[v3(x - 12.0, y - 12.0, 30.0), v3(x + 14.0, y - 12.0, 30.0)],
        Z,
        Paint::White,
    );
    k.rail(
        &[v3(x + 15.5, y - 20.5, 81.8), v3(x + 15.5, y + 20.5, 81.8)],
        Z,
        Paint::White,
    );
    k.rail(
        &[v3(x - 15.5, y - 20.5, 81.8), v3(x + 15.5, y - 20.5, 81.8)],
        Z,
        Paint::White,
    );
    mast(k, v3(x - 4.0, y, 81.8));
    let roof = Pad::new(v3(x - 14.0, y - 18.0, 81.8), X, Y);
    k.machinery(&roof, [14.0, 1.0, 27.0, 14.0], 4.0, 0.7);
    k.machinery(&roof, [12.0, 24.0, 27.0, 35.0], 3.5, 0.7);
    k.lamp(v3(x + 16.6, y - 20.0, 79.0), X, 1.0, Paint::LampWhite);
    k.lamp(v3(x + 16.6, y + 20.0, 79.0), X, 1.0, Paint::LampWhite);
    k.lamp(v3(x - 14.0, y - 21.0, 66.0), -Y, 0.9, Paint::LampGreen);
}

fn mast(k: &mut Kit, foot: V3) {
    k.truss(foot, foot + Z * 27.0, 3.6, Paint::Grey);
    k.rod(foot + Z * 27.0, foot + Z * 37.0, 0.4, Paint::Metal);
    for (h, w) in [(12.0, 14.0), (20.0, 10.0), (25.0, 7.0)] {
        k.rod(
            foot + v3(0.0, -w, h),
            foot + v3(0.0, w, h),
            0.45,
            Paint::Metal,
        );
        for s in [-1.0, 1.0] {
            k.rod(
                foot + v3(0.0, w * s, h - 1.0),
                foot + v3(0.0, w * s, h + 5.0),
                0.22,
                Paint::Metal,
            );
        }
    }
    // Scanner bar and a dish.
    k.rod(
        foot + v3(2.6, 0.0, 16.0),
        foot + v3(2.6, 0.0, 18.0),
        1.4,
        Paint::Dark,
    );
    k.turned(
        foot + v3(3.0, 0.0, 19.0),
        (v3(0.35, 1.0, 0.0), v3(-1.0, 0.35, 0.0)),
        v3(8.0, 0.8, 1.1),
        Paint::White,
    );
    let d = foot + v3(8.0, -11.0, 4.0);
    let n = v3(0.7, -0.5, 0.5).unit();
    k.rod(foot + v3(8.0, -11.0, 0.0), d, 0.9, Paint::Dark);
    k.tube(d, d + n * 2.6, (1.2, 6.0), Paint::White);
    k.rod(d, d + n * 5.0, 0.3, Paint::Metal);
    k.lamp(foot + Z * 37.8, Z, 0.8, Paint::LampRed);
    k.lamp(foot + v3(1.8, 0.0, 24.0), X, 1.0, Paint::LampWhite);
}

/// Engine pods on either quarter.
pub(crate) fn engines(k: &mut Kit) {
    for s in [-1.0_f32, 1.0] {
        let y = 61.0 * s;
        let (a, b) = (v3(-150.0, y, -12.0), v3(-92.0, y, -12.0));
        k.rod(a, b, 11.0, Paint::Hull);
        k.cone(b, b + X * 9.0, (11.0, 6.5), Paint::Metal);
        k.rod(b + X * 9.0, b + X * 9.6, 5.4, Paint::Void);
        k.tube(a - X * 10.0, a, (13.5, 9.0), Paint::Heat);
        for t in [0.02, 0.2, 0.38, 0.7, 0.88, 0.99] {
            let m = a.mix(b, t);
            k.rod(m - X * 0.9, m + X * 0.9, 11.7, Paint::Dark);
        }
        for i in 0..8 {
            let an = real(i) * std::f32::consts::FRAC_PI_4 + 0.2;
            let o = v3(0.0, libm::cosf(an) * 11.4, libm::sinf(an) * 11.4);
            k.rod(
                a.mix(b, 0.4) + o,
                a.mix(b, 0.68) + o,
                0.9,
                if i % 3 == 0 {
                    Paint::Ochre
                } else {
                    Paint::Metal
                },
            );
        }
        for x in [-138.0, -110.0] {
            k.slab(
                [x - 4.0, 44.0 * s, -15.0],
                [x + 4.0, 52.0 * s, -6.0],
                Paint::Dark,
            );
        }
        let out = Pad::new(
            v3(-128.0, y + 11.0 * s, -16.0),
            if s < 0.0 { X } else { -X },
            Z,
        );
        k.block(&out, [0.0, 0.0, 10.0, 8.0], (-3.0, 1.0), Paint::Warm);
    }
    k.slab([-152.0, -36.0, -26.0], [-146.0, 36.0, 2.0], Paint::Dark);
}

/// The jib crane.
pub(crate) fn crane(k: &mut Kit) {
    let c = v3(-66.0, 34.0, 42.0);
    k.rod(v3(-66.0, 34.0, 6.0), c, 4.2, Paint::Ochre);
    k.rod(c, c + Z * 4.0, 6.2, Paint::Dark);
    k.slab([-72.0, 28.0, 46.0], [-60.0, 40.0, 55.0], Paint::Ochre);
    let w = Pad::new(v3(-60.0, 28.0, 46.0), Y, Z);
    k.windows(&w, [2.0, 3.0, 10.0, 7.0], 2);
    let tip = v3(24.0, 40.0, 84.0);
    k.truss(v3(-58.0, 34.0, 52.0), tip, 5.0, Paint::Ochre);
    k.rod(
        v3(-70.0, 34.0, 55.0),
        v3(-68.0, 34.0, 72.0),
        0.9,
        Paint::Dark,
    );
    k.rod(v3(-68.0, 34.0, 72.0), tip, 0.28, Paint::Metal);
    k.slab([-80.0, 29.0, 46.0], [-72.0, 39.0, 54.0], Paint::Hazard);
    k.rod(tip, tip - Z * 24.0, 0.25, Paint::Metal);
    k.slab([22.4, 38.4, 57.0], [25.6, 41.6, 61.0], Paint::Hazard);
    k.lamp(tip + Z * 3.4, Z, 0.6, Paint::LampRed);
}

/// The hands at work: they give the scale.
pub(crate) fn hands(k: &mut Kit) {
    for (x, y, z, lx, ly, p) in [
        (36.0, -30.0, 2.0, 0.6, 0.8, Paint::Ochre),
        (4.0, -33.5, 3.2, -0.9, 0.4, Paint::White),
        (71.0, -30.0, 10.0, -0.6, 0.8, Paint::Ochre),
        (84.0, 30.0, 9.4, -0.8, -0.6, Paint::Warm),
        (-24.0, -16.0, 50.2, 1.0, -0.2, Paint::Ochre),
        (-86.0, -5.6, 53.0, 0.8, -0.6, Paint::Warm),
        (-112.0, -30.0, 27.0, 0.9, -0.3, Paint::Ochre),
        (8.0, 31.0, 3.0, -1.0, -0.2, Paint::White),
    ] {
        let lean = v3(lx, ly, 0.0).unit();
        k.figure(v3(x, y, z), lean, p);
    }
}
