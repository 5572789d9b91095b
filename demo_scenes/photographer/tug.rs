//! The tug *Dunnock*: a stubby hull, two drive pods, a tow frame and a big window.

use crate::kit::{Kit, Pad};
use crate::paint::Soot;
use crate::part::Paint;
use crate::vec3::{V3, v3};

const UP: V3 = v3(0.0, 0.0, 1.0);

fn starboard(y: f32) -> Pad {
    Pad::new(v3(0.0, y, 0.0), v3(1.0, 0.0, 0.0), UP)
}
fn top(z: f32) -> Pad {
    Pad::new(v3(0.0, 0.0, z), v3(1.0, 0.0, 0.0), v3(0.0, 1.0, 0.0))
}

/// Places that soot the tug.
pub(crate) fn soot() -> Vec<Soot> {
    vec![(v3(-84.0, -37.0, 4.0), 24.0), (v3(-84.0, 37.0, 4.0), 24.0)]
}

/// Builds the tug (about 170 mm long).
pub(crate) fn tug(kit: &mut Kit) {
    hull(kit);
    cabin(kit);
    for side in [-1.0, 1.0] {
        pod(kit, side);
    }
    tow_frame(kit);
    arms(kit);
    trim(kit);
}

fn hull(kit: &mut Kit) {
    let side = [
        (-58.0, -16.0),
        (46.0, -16.0),
        (68.0, -4.0),
        (70.0, 5.0),
        (56.0, 12.0),
        (-62.0, 12.0),
        (-66.0, 2.0),
    ];
    kit.prism(1, &side, (-23.0, 23.0), Paint::Hull);
    kit.slab([-60.0, -26.0, -10.0], [38.0, 26.0, 2.0], Paint::Hull);
    kit.slab([-56.0, -24.6, 2.0], [30.0, 24.6, 7.0], Paint::Dark);
    kit.slab([-60.0, -26.0, 7.0], [34.0, 26.0, 10.0], Paint::Hull);
    let keel = [(-44.0, -24.0), (30.0, -24.0), (44.0, -16.0), (-54.0, -16.0)];
    kit.prism(1, &keel, (-15.0, 15.0), Paint::Oxide);
    let s = starboard(-26.0);
    kit.machinery(
        &Pad {
            o: v3(0.0, -24.6, 0.0),
            ..s
        },
        [-54.0, 2.4, -8.0, 6.8],
        1.6,
        0.95,
    );
    kit.machinery(
        &Pad {
            o: v3(0.0, -24.6, 0.0),
            ..s
        },
        [4.0, 2.4, 28.0, 6.8],
        1.6,
        0.95,
    );
    kit.board(&s, [-12.0, -9.0, 34.0, 1.0], (0.0, 0.5), 1);
    kit.machinery(&s, [-58.0, -9.5, -14.0, 1.5], 2.2, 0.5);
    kit.block(&s, [-60.0, 7.4, 34.0, 9.6], (0.0, 0.4), Paint::Hazard);
    // Fender cushions round the bow: the tug pushes as well as pulls.
    for k in 0..9_u8 {
        let y = -20.0 + 5.0 * f32::from(k);
        kit.rod(v3(67.0, y, -7.0), v3(71.5, y, 5.0), 2.5, Paint::Soot);
        kit.rod(v3(67.6, y, -5.4), v3(68.1, y, -4.2), 2.8, Paint::Metal);
    }
    kit.slab([60.0, -22.0, -9.0], [66.0, 22.0, -5.0], Paint::Hazard);
    let deck = top(12.0);
    kit.machinery(&deck, [-60.0, -21.0, -26.0, 21.0], 5.0, 0.85);
    kit.machinery(&deck, [36.0, -19.0, 56.0, 19.0], 3.2, 0.85);
    let shoulder = top(10.0);
    kit.machinery(&shoulder, [-58.0, -25.6, 32.0, -23.2], 1.6, 0.8);
    let nose = Pad::new(v3(56.0, 0.0, 12.0), v3(0.0, 1.0, 0.0), v3(-14.0, 0.0, 7.0));
    kit.machinery(&nose, [-20.0, -14.0, 20.0, -1.0], 1.3, 0.45);
    let low = Pad::new(v3(0.0, -23.0, -16.0), v3(1.0, 0.0, 0.0), v3(0.0, 0.0, 1.0));
    kit.machinery(&low, [-50.0, 0.5, 40.0, 5.5], 1.8, 0.7);
}

fn cabin(kit: &mut Kit) {
    let side = [
        (-24.0, 12.0),
        (32.0, 12.0),
        (38.0, 20.0),
        (30.0, 34.0),
        (-16.0, 36.0),
        (-24.0, 28.0),
    ];
    kit.prism(1, &side, (-15.0, 15.0), Paint::Warm);
    kit.slab([-18.0, -16.2, 34.6], [31.0, 16.2, 37.0], Paint::Hull);
    let slope = v3(-8.0, 0.0, 14.0);
    let face = Pad::new(v3(38.0, 0.0, 20.0), v3(0.0, 1.0, 0.0), slope);
    kit.windows(&face, [-13.5, 2.2, 13.5, 11.6], 4);
    let s = starboard(-15.0);
    kit.windows(&s, [4.0, 22.0, 26.0, 30.0], 3);
    kit.hatch(&s, (-6.0, 22.0), 4.6, Paint::Warm);
    kit.machinery(&s, [-22.0, 13.0, -13.0, 31.0], 2.6, 0.8);
    kit.machinery(&s, [0.0, 13.0, 30.0, 18.0], 2.0, 0.7);
    let roof = top(37.0);
    kit.machinery(&roof, [-17.0, -15.0, 16.0, 15.0], 3.4, 0.75);
    kit.rod(v3(-6.0, 8.0, 37.0), v3(-6.0, 8.0, 62.0), 0.5, Paint::Metal);
    kit.rod(
        v3(-10.0, -6.0, 37.0),
        v3(-10.0, -6.0, 52.0),
        0.3,
        Paint::Metal,
    );
    kit.truss(v3(-14.0, 0.0, 37.0), v3(-14.0, 0.0, 58.0), 4.0, Paint::Grey);
    kit.tube(
        v3(-12.0, 0.0, 58.0),
        v3(-9.0, -1.5, 60.0),
        (1.2, 5.6),
        Paint::White,
    );
    kit.lamp(v3(-14.0, 0.0, 61.5), V3::default(), 3.6, Paint::LampRed);
    for y in [-10.0, 0.0, 10.0] {
        kit.rod(v3(27.0, y, 38.4), v3(30.5, y, 38.2), 1.9, Paint::Dark);
        kit.lamp(
            v3(30.8, y, 38.2),
            v3(1.0, 0.0, -0.15),
            3.2,
            Paint::LampWhite,
        );
    }
    kit.lamp(
        v3(8.0, -16.4, 33.2),
        v3(0.0, -1.0, 0.0),
        1.6,
        Paint::LampGreen,
    );
    kit.rail(
        &[v3(-18.0, -15.6, 37.0), v3(22.0, -15.6, 37.0)],
        UP * 0.7,
        Paint::Ochre,
    );
}

fn pod(kit: &mut Kit, side: f32) {
    let (y, z) = (side * 37.0, 2.0);
    let x = |v: f32| v3(v, y, z);
    kit.rod(x(-62.0), x(-18.0), 12.5, Paint::Hull);
    kit.cone(x(-18.0), x(-8.0), (12.5, 8.0), Paint::Ochre);
    kit.ball(x(-8.0), v3(5.0, 7.0, 7.0), Paint::Metal);
    kit.cone(x(-70.0), x(-62.0), (9.0, 12.5), Paint::Dark);
    kit.tube(x(-70.0), x(-92.0), (8.0, 14.0), Paint::Heat);
    for v in [-60.0, -44.0, -24.0] {
        kit.rod(x(v), x(v + 1.6), 13.2, Paint::Grey);
    }
    kit.rod(x(-34.0), x(-31.0), 12.9, Paint::Hazard);
    for k in 0..12_u8 {
        let a = f32::from(k) * std::f32::consts::FRAC_PI_6;
        let (c, w) = (libm::cosf(a), libm::sinf(a));
        let d = v3(0.0, c, w);
        kit.turned(
            x(-53.0) + d * 12.7,
            (v3(1.0, 0.0, 0.0), v3(0.0, -w, c)),
            v3(5.0, 1.5, 0.7),
            Paint::Dark,
        );
        kit.rod(x(-72.0) + d * 9.6, x(-90.0) + d * 14.2, 0.45, Paint::Metal);
    }
    for v in [-54.0, -28.0] {
        kit.slab(
            [v, side * 22.0, -4.0],
            [v + 10.0, side * 30.0, 6.0],
            Paint::Dark,
        );
    }
    kit.rod(
        v3(-50.0, side * 24.0, 10.0),
        v3(-50.0, side * 33.0, 13.0),
        1.2,
        Paint::Metal,
    );
    kit.lamp(
        x(-40.0) + v3(0.0, side * 13.4, 0.0),
        v3(0.0, side, 0.0),
        1.2,
        Paint::LampAmber,
    );
}

fn tow_frame(kit: &mut Kit) {
    for y in [-17.0, 17.0] {
        kit.truss(
            v3(-40.0, y, 12.0),
            v3(-62.0, y * 0.45, 44.0),
            4.2,
            Paint::Ochre,
        );
        kit.rod(
            v3(-26.0, y, 13.0),
            v3(-58.0, y * 0.5, 39.0),
            0.7,
            Paint::Metal,
        );
    }
    kit.rod(
        v3(-62.0, -9.0, 44.0),
        v3(-62.0, 9.0, 44.0),
        2.4,
        Paint::Ochre,
    );
    kit.rod(
        v3(-62.0, -2.0, 44.0),
        v3(-62.0, 2.0, 44.0),
        4.4,
        Paint::Dark,
    );
    winch(kit);
}

fn winch(kit: &mut Kit) {
    let at = v3(-36.0, 0.0, 18.0);
    for y in [-9.0, 9.0] {
        kit.rod(
            at + v3(0.0, y - 0.5, 0.0),
            at + v3(0.0, y + 0.5, 0.0),
            6.4,
            Paint::Hazard,
        );
    }
    let mut y = -8.0;
    while y < 8.2 {
        kit.rod(
            at + v3(0.0, y - 0.3, 0.0),
            at + v3(0.0, y + 0.3, 0.0),
            4.6,
            Paint::Metal,
        );
        y += 0.8;
    }
    kit.rod(
        at + v3(-2.0, 0.0, 4.0),
        v3(-62.0, 0.0, 48.4),
        0.35,
        Paint::Metal,
    );
    kit.rod(
        v3(-62.0, 0.0, 48.4),
        v3(-84.0, 0.0, 42.0),
        0.35,
        Paint::Metal,
    );
    kit.rod(
        v3(-84.0, 0.0, 42.0),
        v3(-88.0, 0.0, 39.0),
        1.2,
        Paint::Ochre,
    );
    kit.lamp(v3(-62.0, 0.0, 50.0), V3::default(), 3.6, Paint::LampAmber);
}

fn arms(kit: &mut Kit) {
    for side in [-1.0, 1.0] {
        let a = v3(40.0, side * 24.0, -4.0);
        let b = v3(62.0, side * 31.0, 8.0);
        let c = v3(82.0, side * 25.0, -5.0);
        kit.ball(a, v3(4.2, 4.2, 4.2), Paint::Dark);
        kit.rod(a, b, 2.2, Paint::Ochre);
        kit.rod(
            b + v3(0.0, -2.4, 0.0),
            b + v3(0.0, 2.4, 0.0),
            3.4,
            Paint::Grey,
        );
        kit.rod(b, c, 1.8, Paint::Ochre);
        kit.rod(
            a.mix(b, 0.3) + UP * 2.6,
            b.mix(c, 0.4) + UP * 2.2,
            0.7,
            Paint::Metal,
        );
        kit.ball(c, v3(2.6, 2.6, 2.6), Paint::Dark);
        for k in [-1.0, 0.0, 1.0] {
            let d = v3(0.86, -side * 0.2, -0.45);
            let f = c + v3(0.0, k * 1.9, 0.0);
            kit.rod(f, f + d * 6.0, 0.7, Paint::Metal);
            kit.rod(
                f + d * 6.0,
                f + d * 9.0 + v3(-1.5, 0.0, -1.4),
                0.55,
                Paint::Metal,
            );
        }
    }
}

fn trim(kit: &mut Kit) {
    kit.run(
        &[
            v3(-56.0, -25.0, 11.0),
            v3(-28.0, -25.0, 11.0),
            v3(-24.0, -20.0, 14.0),
            v3(-24.0, -15.0, 20.0),
        ],
        0.8,
        Paint::Metal,
    );
    kit.run(
        &[
            v3(-56.0, -22.5, 13.0),
            v3(-30.0, -22.5, 13.0),
            v3(-22.0, -16.0, 16.0),
        ],
        0.6,
        Paint::Ochre,
    );
    kit.rail(
        &[
            v3(34.0, -21.0, 12.0),
            v3(55.0, -21.0, 12.0),
            v3(55.0, 21.0, 12.0),
        ],
        UP * 0.7,
        Paint::Ochre,
    );
    kit.ladder(&starboard(-23.0), 44.0, (-15.0, 11.0), Paint::Metal);
    for y in [-14.0, 14.0] {
        kit.rod(v3(66.0, y, 1.0), v3(70.4, y, 1.4), 2.4, Paint::Dark);
        kit.lamp(v3(71.0, y, 1.4), v3(1.0, 0.0, 0.0), 6.2, Paint::LampWhite);
    }
    for x in [-48.0, -34.0] {
        kit.rod(v3(x, -19.0, 12.0), v3(x, -19.0, 20.0), 3.4, Paint::White);
        kit.ball(v3(x, -19.0, 20.0), v3(3.4, 3.4, 2.2), Paint::White);
        kit.rod(v3(x, -19.0, 15.0), v3(x, -19.0, 16.0), 3.7, Paint::Grey);
    }
}
