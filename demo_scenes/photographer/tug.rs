//! The tug *Dunnock*; millimetres, forward +x, up +z.

use crate::kit::{Kit, Pad};
use crate::num::real;
use crate::paint::Soot;
use crate::part::Paint;
use crate::vec3::{V3, v3};

const X: V3 = v3(1.0, 0.0, 0.0);
const Y: V3 = v3(0.0, 1.0, 0.0);
const Z: V3 = v3(0.0, 0.0, 1.0);

/// Soot of the tug.
pub(crate) fn tug_soot() -> Vec<Soot> {
    vec![
        (v3(-46.0, -15.0, 2.0), 16.0),
        (v3(-8.0, 6.0, 40.0), 16.0),
        (v3(-8.0, -6.0, 40.0), 16.0),
    ]
}

/// Builds the tug.
pub(crate) fn tug() -> Kit {
    let mut k = Kit::new(231);
    tug_hull(&mut k);
    tug_house(&mut k);
    tug_stern(&mut k);
    k
}

fn tug_hull(k: &mut Kit) {
    // Stout wedge hull with a blunt pushing bow.
    k.prism(
        1,
        &[
            (-44.0, -1.0),
            (36.0, -1.0),
            (50.0, 4.0),
            (52.0, 9.0),
            (-46.0, 8.0),
            (-47.0, 2.0),
        ],
        (-21.0, 21.0),
        Paint::Hull,
    );
    k.prism(
        1,
        &[(-42.0, -2.0), (34.0, -2.0), (24.0, -13.0), (-36.0, -13.0)],
        (-16.0, 16.0),
        Paint::Oxide,
    );
    k.prism(
        0,
        &[(-21.0, -1.8), (21.0, -1.8), (14.0, -9.0), (-14.0, -9.0)],
        (-42.0, 34.0),
        Paint::Oxide,
    );
    k.slab([-46.0, -22.4, 4.6], [40.0, -20.6, 7.0], Paint::Dark);
    k.slab([-46.0, 20.6, 4.6], [40.0, 22.4, 7.0], Paint::Dark);
    // Push knees with rubber ribs.
    for y in [-15.0, -5.0, 5.0, 15.0] {
        k.prism(
            1,
            &[
                (46.0, -4.0),
                (53.0, -2.0),
                (58.0, 6.0),
                (57.0, 14.0),
                (48.0, 14.0),
            ],
            (y - 2.6, y + 2.6),
            Paint::Hull,
        );
        k.slab([49.0, y - 2.7, 13.4], [57.4, y + 2.7, 14.6], Paint::Hazard);
        for s in [-2.9, 2.9] {
            k.prism(
                1,
                &[
                    (47.0, 0.0),
                    (52.0, 1.0),
                    (54.0, 7.0),
                    (53.0, 12.0),
                    (49.0, 12.0),
                ],
                (y + s - 0.3, y + s + 0.3),
                Paint::Ochre,
            );
            k.rod(
                v3(51.0, y + s - 0.7, 6.5),
                v3(51.0, y + s + 0.7, 6.5),
                1.3,
                Paint::Dark,
            );
        }
        let p = Pad::new(v3(57.8, y - 2.6, 0.0), Y, Z);
        for i in 0..5 {
            k.block(
                &p,
                [0.2, 2.0 + 2.3 * real(i), 5.0, 3.4 + 2.3 * real(i)],
                (-2.0, 1.0),
                Paint::Dark,
            );
        }
    }
    tug_sides(k);
    tug_deck(k);
}

fn tug_sides(k: &mut Kit) {
    let s = Pad::new(v3(-44.0, -21.0, -1.0), X, Z);
    k.block(&s, [1.0, 0.4, 20.0, 5.2], (0.0, 0.5), Paint::Hull);
    k.block(&s, [30.0, 0.7, 60.0, 5.2], (0.0, 0.5), Paint::Named);
    if let Some(p) = k.parts.last_mut() {
        p.seed = 1;
    }
    k.block(&s, [64.0, 0.4, 76.0, 5.2], (0.0, 0.6), Paint::Hazard);
    k.machinery(&s, [21.0, 0.6, 29.0, 5.0], 1.4, 0.9);
    let l = Pad::new(v3(-40.0, -18.2, -6.0), X, v3(0.0, -0.55, 0.8));
    k.run(
        &[
            l.at(2.0, 0.0, 0.6),
            l.at(34.0, 0.0, 0.6),
            l.at(36.0, 1.6, 0.6),
            l.at(66.0, 1.6, 0.6),
        ],
        0.5,
        Paint::Metal,
    );
    for u in [8.0, 24.0, 44.0, 58.0] {
        k.block(
            &l,
            [u, -2.0, u + 6.0, 1.0],
            (0.0, 0.5),
            if u < 20.0 { Paint::Warm } else { Paint::Oxide },
        );
    }
    // Tyre-like fenders along the strake.
    for u in [6.0, 20.0, 34.0, 48.0, 62.0] {
        let c = s.at(u, 1.2, 1.9);
        k.rod(c - Y * 0.9, c + Y * 0.9, 2.6, Paint::Dark);
        k.rod(c - Y * 1.1, c + Y * 1.1, 1.2, Paint::Void);
        k.rod(c + Z * 2.0, c + Z * 7.5 + Y * 1.0, 0.2, Paint::Metal);
    }
}

fn tug_deck(k: &mut Kit) {
    let d = Pad::new(v3(14.0, -19.0, 8.6), X, Y);
    k.machinery(&d, [0.5, 0.5, 8.0, 37.0], 3.0, 0.75);
    k.hatch(&d, (20.0, 19.0), 3.6, Paint::Warm);
    k.machinery(&d, [24.0, 2.0, 31.0, 14.0], 3.2, 0.85);
    k.machinery(&d, [24.0, 24.0, 31.0, 36.0], 3.2, 0.85);
    k.machinery(&d, [9.0, 0.5, 17.0, 12.0], 3.0, 0.7);
    k.machinery(&d, [9.0, 26.0, 17.0, 37.0], 3.4, 0.8);
    k.rail(
        &[
            v3(16.0, -20.2, 8.6),
            v3(45.0, -20.2, 8.8),
            v3(45.0, 20.2, 8.8),
        ],
        Z,
        Paint::White,
    );
    // Coils of line, bitts, hands.
    for (x, y, r) in [(24.5, 7.0, 3.0), (31.0, -7.4, 2.6)] {
        for i in 0..4 {
            let q = r - 0.15 * real(i);
            k.tube(
                v3(x, y, 8.8 + 0.55 * real(i)),
                v3(x, y, 9.3 + 0.55 * real(i)),
                (q, q - 0.1),
                Paint::Ochre,
            );
            k.rod(
                v3(x, y, 8.8 + 0.55 * real(i)),
                v3(x, y, 9.2 + 0.55 * real(i)),
                q - 0.25,
                Paint::Warm,
            );
        }
        k.rod(v3(x, y, 8.8), v3(x, y, 11.4), r * 0.45, Paint::Void);
    }
    for y in [-12.0, 12.0] {
        for s in [-1.5, 1.5] {
            k.rod(
                v3(42.0 + s, y, 8.6),
                v3(42.0 + s, y, 12.0),
                0.9,
                Paint::Dark,
            );
            k.rod(
                v3(42.0 + s, y, 12.0),
                v3(42.0 + s, y, 12.4),
                1.2,
                Paint::Metal,
            );
        }
        k.rod(v3(39.6, y, 10.4), v3(44.4, y, 10.4), 0.5, Paint::Metal);
    }
    k.figure(v3(37.0, -3.0, 8.8), v3(0.7, -0.7, 0.0), Paint::Ochre);
    k.figure(v3(21.0, -16.0, 9.0), v3(-0.8, 0.5, 0.0), Paint::White);
    k.run(
        &[
            v3(15.0, -9.0, 10.0),
            v3(22.0, -9.0, 10.0),
            v3(24.0, -7.0, 10.0),
            v3(43.0, -7.0, 10.0),
        ],
        0.6,
        Paint::Metal,
    );
    k.run(
        &[
            v3(15.0, -10.6, 9.6),
            v3(23.0, -10.6, 9.6),
            v3(25.0, -8.6, 9.6),
            v3(43.0, -8.6, 9.6),
        ],
        0.5,
        Paint::Oxide,
    );
}

fn tug_house(k: &mut Kit) {
    k.slab([-20.0, -15.0, 8.0], [14.0, 15.0, 20.0], Paint::Hull);
    k.prism(
        1,
        &[
            (-14.0, 20.0),
            (13.0, 20.0),
            (16.0, 27.0),
            (11.0, 34.0),
            (-14.0, 34.0),
        ],
        (-12.0, 12.0),
        Paint::Hull,
    );
    k.slab([-16.0, -13.4, 34.0], [13.4, 13.4, 35.4], Paint::Warm);
    let front = Pad::new(v3(16.0, -12.0, 27.0), Y, v3(-5.0, 0.0, 7.0));
    k.windows(&front, [1.2, 1.2, 22.8, 6.4], 6);
    let side = Pad::new(v3(-14.0, -12.0, 20.0), X, Z);
    k.windows(&side, [4.0, 7.6, 24.0, 12.2], 4);
    k.machinery(&side, [2.0, 0.6, 24.0, 5.4], 1.2, 0.6);
    let low = Pad::new(v3(-20.0, -15.0, 8.0), X, Z);
    k.windows(&low, [3.0, 6.0, 12.0, 9.0], 3);
    k.hatch(&low, (19.0, 5.6), 3.6, Paint::Ochre);
    k.ladder(&low, 26.5, (0.0, 12.0), Paint::Ochre);
    k.machinery(&low, [29.0, 1.0, 33.0, 11.0], 1.6, 0.9);
    let fl = Pad::new(v3(14.0, -15.0, 8.0), Y, Z);
    k.louvre(&fl, [3.0, 2.0, 11.0, 9.0], Paint::Dark);
    k.windows(&fl, [14.0, 6.0, 26.0, 9.4], 4);
    k.machinery(&fl, [12.0, 0.5, 29.0, 4.6], 1.8, 0.8);
    k.rail(
        &[
            v3(-19.0, -14.4, 20.0),
            v3(13.4, -14.4, 20.0),
            v3(13.4, 14.4, 20.0),
        ],
        Z,
        Paint::White,
    );
    let roof = Pad::new(v3(-15.0, -12.0, 35.4), X, Y);
    k.machinery(&roof, [14.0, 1.0, 26.0, 9.0], 2.8, 0.75);
    k.machinery(&roof, [15.0, 15.0, 26.0, 23.0], 2.4, 0.7);
    for y in [-6.0, 6.0] {
        let dir = v3(-0.3, 0.0, 1.0).unit();
        let a = v3(-16.0, y, 20.0);
        k.rod(a, a + dir * 24.0, 3.0, Paint::Heat);
        k.rod(a, a + dir * 8.0, 4.0, Paint::Dark);
        k.tube(a + dir * 22.0, a + dir * 26.0, (3.4, 4.0), Paint::Soot);
        k.rod(a + dir * 24.0, a + dir * 24.2, 2.8, Paint::Void);
    }
    k.truss(v3(-4.0, 0.0, 35.4), v3(-4.0, 0.0, 54.0), 2.4, Paint::Grey);
    for (h, w) in [(6.0, 8.0), (12.0, 5.5)] {
        k.rod(
            v3(-4.0, -w, 35.4 + h),
            v3(-4.0, w, 35.4 + h),
            0.3,
            Paint::Metal,
        );
    }
    k.rod(v3(-4.0, 0.0, 54.0), v3(-4.0, 0.0, 63.0), 0.25, Paint::Metal);
    k.rod(
        v3(-4.0, -7.6, 41.0),
        v3(-4.0, -7.6, 52.0),
        0.18,
        Paint::Metal,
    );
    k.tube(
        v3(2.0, 8.0, 38.0),
        v3(3.6, 7.2, 39.2),
        (0.8, 4.0),
        Paint::White,
    );
    k.rod(v3(2.0, 8.0, 35.4), v3(2.0, 8.0, 38.0), 0.6, Paint::Dark);
    k.turned(
        v3(-2.0, 0.0, 47.6),
        (v3(0.5, 1.0, 0.0), v3(-1.0, 0.5, 0.0)),
        v3(5.0, 0.5, 0.7),
        Paint::White,
    );
    for (p, n, c) in [
        (v3(-4.0, 0.0, 63.4), Z, Paint::LampWhite),
        (v3(14.6, -12.6, 33.0), -Y, Paint::LampGreen),
        (v3(14.6, 12.6, 33.0), Y, Paint::LampRed),
        (v3(16.4, -6.0, 35.8), X, Paint::LampWhite),
        (v3(16.4, 6.0, 35.8), X, Paint::LampWhite),
        (v3(-19.0, -13.0, 21.4), Z, Paint::LampAmber),
    ] {
        k.lamp(p, n, 1.0, c);
    }
}

fn tug_stern(k: &mut Kit) {
    // Towing winch on the after deck, bitts, two podded engines.
    let d = Pad::new(v3(-45.0, -19.0, 8.0), X, Y);
    k.rod(
        v3(-31.0, -7.0, 13.0),
        v3(-31.0, 7.0, 13.0),
        4.4,
        Paint::Metal,
    );
    for i in 0..9 {
        let y = -6.0 + 1.5 * real(i);
        k.rod(
            v3(-31.0, y - 0.5, 13.0),
            v3(-31.0, y + 0.5, 13.0),
            4.9,
            Paint::Dark,
        );
    }
    for y in [-8.4, 8.4] {
        k.rod(
            v3(-31.0, y - 0.8, 13.0),
            v3(-31.0, y + 0.8, 13.0),
            6.2,
            Paint::Ochre,
        );
        k.slab([-35.0, y - 1.6, 8.0], [-27.0, y + 1.6, 12.0], Paint::Dark);
    }
    k.rod(
        v3(-35.0, 0.0, 11.5),
        v3(-47.0, 0.0, 11.0),
        0.45,
        Paint::Metal,
    );
    k.tube(
        v3(-47.0, 0.0, 8.0),
        v3(-44.0, 0.0, 12.0),
        (3.0, 3.0),
        Paint::Hazard,
    );
    k.machinery(&d, [1.0, 1.0, 10.0, 12.0], 3.2, 0.9);
    k.machinery(&d, [12.0, 0.5, 24.0, 9.0], 3.0, 0.9);
    k.machinery(&d, [1.0, 27.0, 24.0, 37.0], 3.2, 0.85);
    for s in [-1.0_f32, 1.0] {
        let y = 26.5 * s;
        let (a, b) = (v3(-46.0, y, 3.0), v3(-14.0, y, 3.0));
        k.rod(a, b, 6.6, Paint::Hull);
        k.cone(b, b + X * 6.0, (6.6, 3.8), Paint::Metal);
        k.rod(b + X * 6.0, b + X * 6.3, 3.2, Paint::Void);
        k.tube(a - X * 7.0, a, (8.4, 5.6), Paint::Heat);
        for t in [0.02, 0.3, 0.62, 0.96] {
            let m = a.mix(b, t);
            k.rod(m - X * 0.6, m + X * 0.6, 7.1, Paint::Dark);
        }
        for i in 0..6 {
            let an = real(i) * 1.047 + 0.3;
            let o = v3(0.0, libm::cosf(an) * 6.9, libm::sinf(an) * 6.9);
            k.rod(
                a.mix(b, 0.36) + o,
                a.mix(b, 0.58) + o,
                0.6,
                if i == 2 { Paint::Ochre } else { Paint::Metal },
            );
        }
        k.slab([-36.0, 19.0 * s, 0.0], [-24.0, 23.0 * s, 5.0], Paint::Dark);
    }
}
