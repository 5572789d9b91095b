//! The fore part of the barge: cutting deck, conveyor, gantry saw, crane and the two grinding wheels.

use crate::kit::{Kit, Pad};
use crate::part::Paint;
use crate::vec3::{V3, v3};

const UP: V3 = v3(0.0, 0.0, 1.0);

/// Builds everything forward of the furnace.
pub(crate) fn cutting_deck(kit: &mut Kit) {
    conveyor(kit);
    gantry(kit);
    crane(kit);
    bulwark(kit);
    for y in [-36.0, 36.0] {
        wheel(kit, y);
    }
    bow(kit);
}

fn conveyor(kit: &mut Kit) {
    for y in [-27.0, 27.0] {
        kit.slab([84.0, y - 2.0, 20.0], [238.0, y + 2.0, 25.0], Paint::Ochre);
        kit.slab([84.0, y - 2.6, 24.4], [238.0, y + 2.6, 25.6], Paint::Metal);
        let mut x = 92.0;
        while x < 236.0 {
            kit.slab([x, y - 1.4, 12.0], [x + 3.0, y + 1.4, 20.0], Paint::Dark);
            kit.slab(
                [x - 1.0, y - 3.0, 12.0],
                [x + 4.0, y + 3.0, 13.4],
                Paint::Metal,
            );
            x += 16.0;
        }
    }
    let mut x = 88.0;
    while x < 236.0 {
        kit.rod(v3(x, -26.0, 23.0), v3(x, 26.0, 23.0), 1.9, Paint::Metal);
        x += 4.6;
    }
    // The block under the saw, with a kerf already cut, and a slab on its way to the furnace.
    for (x0, x1, y0, y1, h) in [
        (168.0, 190.5, -20.0, 17.0, 52.0),
        (193.0, 224.0, -21.0, 19.0, 50.0),
        (112.0, 132.0, -16.0, 20.0, 44.0),
    ] {
        let prof = [
            (y0, 25.0),
            (y1 - 1.5, 25.0),
            (y1, 28.0),
            (y1 - 3.0, h - 6.0),
            (y1 - 9.0, h - 1.0),
            (y0 + 6.0, h),
            (y0 - 1.0, h - 7.0),
        ];
        kit.prism(0, &prof, (x0, x1), Paint::Ice);
    }
    for _ in 0..90 {
        let (x, y) = (kit.dice.span(112.0, 236.0), kit.dice.span(-58.0, 40.0));
        let z = if y.abs() < 29.0 { 25.0 } else { 13.0 };
        let r = kit.dice.span(0.5, 2.1);
        let (a, b) = (kit.dice.span(-1.0, 1.0), kit.dice.span(-1.0, 1.0));
        kit.turned(
            v3(x, y, z + r * 0.4),
            (v3(1.0, a, b), v3(-a, 1.0, 0.0)),
            v3(r, r * 0.8, r * 0.6),
            Paint::Ice,
        );
    }
}

fn gantry(kit: &mut Kit) {
    let x = 192.0;
    for y in [-48.0, 48.0] {
        kit.truss(v3(x, y, 14.0), v3(x, y, 88.0), 9.0, Paint::Ochre);
        kit.slab(
            [x - 9.0, y - 7.0, 12.0],
            [x + 9.0, y + 7.0, 16.0],
            Paint::Dark,
        );
        kit.slab(
            [x - 6.0, y - 6.0, 16.0],
            [x + 6.0, y + 6.0, 24.0],
            Paint::Hazard,
        );
        kit.slab([110.0, y - 1.2, 12.0], [238.0, y + 1.2, 14.0], Paint::Metal);
    }
    kit.truss(v3(x, -52.0, 90.0), v3(x, 52.0, 90.0), 10.0, Paint::Ochre);
    kit.slab([x - 6.5, -56.0, 95.0], [x + 6.5, 56.0, 96.4], Paint::Deck);
    kit.rail(
        &[v3(x - 6.0, -56.0, 96.4), v3(x - 6.0, 56.0, 96.4)],
        UP,
        Paint::Ochre,
    );
    kit.rail(
        &[v3(x + 6.0, -56.0, 96.4), v3(x + 6.0, 56.0, 96.4)],
        UP,
        Paint::Ochre,
    );
    kit.machinery(
        &Pad::new(v3(0.0, 0.0, 96.4), v3(1.0, 0.0, 0.0), v3(0.0, 1.0, 0.0)),
        [x - 5.0, 20.0, x + 5.0, 54.0],
        7.0,
        0.9,
    );
    trolley(kit, x);
}

fn trolley(kit: &mut Kit, x: f32) {
    // Trolley, carriage and blade.
    kit.slab([x - 9.0, -14.0, 78.0], [x + 9.0, 12.0, 86.0], Paint::Dark);
    kit.machinery(
        &Pad::new(v3(0.0, -14.0, 0.0), v3(1.0, 0.0, 0.0), UP),
        [x - 8.0, 78.5, x + 8.0, 85.5],
        3.0,
        0.9,
    );
    kit.slab([x - 4.0, -9.0, 58.0], [x + 4.0, -3.0, 80.0], Paint::Grey);
    kit.rod(
        v3(x - 9.0, -4.0, 58.0),
        v3(x + 9.0, -4.0, 58.0),
        4.5,
        Paint::Ochre,
    );
    kit.rod(
        v3(x - 0.5, -4.0, 54.0),
        v3(x + 0.5, -4.0, 54.0),
        22.0,
        Paint::Metal,
    );
    kit.rod(
        v3(x - 1.6, -4.0, 54.0),
        v3(x + 1.6, -4.0, 54.0),
        7.0,
        Paint::Dark,
    );
    for k in 0..40_u8 {
        let a = f32::from(k) * 0.157_08;
        let d = v3(0.0, libm::cosf(a), libm::sinf(a));
        kit.turned(
            v3(x, -4.0, 54.0) + d * 22.3,
            (d, v3(1.0, 0.0, 0.0)),
            v3(1.1, 0.5, 0.6),
            Paint::Dark,
        );
    }
    let hood = [(-30.0, 60.0), (-24.0, 76.0), (16.0, 76.0), (22.0, 60.0)];
    kit.prism(0, &hood, (x - 4.0, x - 2.4), Paint::Hazard);
    gantry_lamps(kit, x);
}

fn gantry_lamps(kit: &mut Kit, x: f32) {
    for y in [-44.0, -16.0, 16.0, 44.0] {
        kit.slab(
            [x + 6.0, y - 2.0, 84.0],
            [x + 9.0, y + 2.0, 87.0],
            Paint::Dark,
        );
        kit.lamp(
            v3(x + 7.5, y, 83.4),
            v3(0.2, 0.0, -0.98),
            1.8,
            Paint::LampWhite,
        );
    }
    kit.lamp(v3(x, -58.0, 97.0), V3::default(), 1.2, Paint::LampAmber);
    kit.lamp(v3(x, 58.0, 97.0), V3::default(), 1.2, Paint::LampAmber);
    kit.run(
        &[
            v3(x - 5.0, -53.0, 24.0),
            v3(x - 5.0, -53.0, 93.0),
            v3(x - 5.0, -10.0, 93.0),
        ],
        0.8,
        Paint::Dark,
    );
}

fn crane(kit: &mut Kit) {
    let (x, y) = (132.0, 70.0);
    kit.rod(v3(x, y, 12.0), v3(x, y, 44.0), 10.0, Paint::Hull);
    kit.rod(v3(x, y, 44.0), v3(x, y, 48.0), 12.5, Paint::Dark);
    kit.slab(
        [x - 12.0, y - 9.0, 48.0],
        [x + 10.0, y + 9.0, 66.0],
        Paint::Ochre,
    );
    let cab = Pad::new(v3(x + 10.0, y, 48.0), v3(0.0, 1.0, 0.0), UP);
    kit.windows(&cab, [-7.0, 7.0, 7.0, 14.0], 3);
    let side = Pad::new(v3(x, y - 9.0, 48.0), v3(1.0, 0.0, 0.0), UP);
    kit.machinery(&side, [-11.0, 1.0, 9.0, 17.0], 3.0, 0.6);
    let (root, tip) = (v3(x + 8.0, y, 62.0), v3(232.0, 44.0, 128.0));
    kit.truss(root, tip, 7.5, Paint::Ochre);
    kit.truss(
        v3(x - 6.0, y, 64.0),
        v3(x - 14.0, y, 104.0),
        5.0,
        Paint::Ochre,
    );
    kit.rod(v3(x - 14.0, y, 104.0), tip, 0.3, Paint::Metal);
    kit.rod(
        v3(x - 14.0, y, 104.0),
        root.mix(tip, 0.5) + UP * 3.0,
        0.3,
        Paint::Metal,
    );
    kit.rod(
        v3(x - 14.0, y, 104.0),
        v3(x - 26.0, y, 50.0),
        0.4,
        Paint::Metal,
    );
    kit.slab(
        [x - 30.0, y - 8.0, 46.0],
        [x - 12.0, y + 8.0, 58.0],
        Paint::Dark,
    );
    hook(kit, tip);
}

fn hook(kit: &mut Kit, tip: V3) {
    kit.rod(tip, v3(tip.x, tip.y, 78.0), 0.25, Paint::Metal);
    kit.rod(
        tip + v3(2.0, 0.0, 0.0),
        v3(tip.x + 2.0, tip.y, 78.0),
        0.25,
        Paint::Metal,
    );
    kit.slab(
        [tip.x - 2.0, tip.y - 1.6, 70.0],
        [tip.x + 4.0, tip.y + 1.6, 78.0],
        Paint::Hazard,
    );
    kit.run(
        &[
            v3(tip.x + 1.0, tip.y, 70.0),
            v3(tip.x + 1.0, tip.y, 66.0),
            v3(tip.x + 4.0, tip.y, 63.0),
            v3(tip.x + 1.0, tip.y, 60.0),
        ],
        0.8,
        Paint::Metal,
    );
    kit.lamp(tip + v3(2.0, 0.0, 2.0), V3::default(), 1.0, Paint::LampRed);
}

fn bulwark(kit: &mut Kit) {
    let mut x = 112.0;
    while x < 186.0 {
        kit.slab([x, -95.0, 12.0], [x + 17.0, -92.6, 19.0], Paint::Hull);
        kit.slab(
            [x + 17.0, -95.0, 14.6],
            [x + 18.8, -92.6, 19.0],
            Paint::Hull,
        );
        kit.prism(
            0,
            &[(-92.6, 12.0), (-88.0, 12.0), (-92.6, 18.0)],
            (x + 8.0, x + 9.2),
            Paint::Hull,
        );
        x += 18.8;
    }
    kit.slab([112.0, -95.6, 18.8], [187.0, -91.8, 20.0], Paint::Grey);
    kit.slab([112.0, 92.6, 12.0], [187.0, 95.0, 20.0], Paint::Hull);
    let deck = Pad::new(v3(0.0, 0.0, 12.5), v3(1.0, 0.0, 0.0), v3(0.0, 1.0, 0.0));
    kit.machinery(&deck, [113.0, -90.0, 150.0, -58.0], 9.0, 0.7);
    kit.hatch(&deck, (166.0, -74.0), 8.0, Paint::Grey);
    kit.machinery(&deck, [178.0, -88.0, 196.0, -60.0], 7.0, 0.6);
    kit.machinery(&deck, [150.0, 56.0, 200.0, 90.0], 9.0, 0.7);
    kit.grating(&deck, [114.0, -44.0, 182.0, -32.0], Paint::Metal);
    kit.grating(&deck, [202.0, -44.0, 236.0, -32.0], Paint::Metal);
    winch(kit, v3(214.0, -60.0, 12.0));
    let rail_from = v3(192.0, -92.0, 12.0);
    kit.rail(&[rail_from, v3(252.0, -63.0, 12.0)], UP, Paint::Ochre);
}

fn winch(kit: &mut Kit, at: V3) {
    for y in [-8.0, 8.0] {
        kit.turned(
            at + v3(0.0, y, 5.0),
            (v3(1.0, 0.0, 0.0), v3(0.0, 1.0, 0.0)),
            v3(6.0, 1.2, 5.5),
            Paint::Ochre,
        );
        kit.rod(
            at + v3(0.0, y - 0.4, 7.0),
            at + v3(0.0, y + 0.4, 7.0),
            7.4,
            Paint::Dark,
        );
    }
    kit.rod(
        at + v3(0.0, -8.0, 7.0),
        at + v3(0.0, 8.0, 7.0),
        4.2,
        Paint::Dark,
    );
    let mut y = -6.6;
    while y < 6.8 {
        kit.rod(
            at + v3(0.0, y - 0.35, 7.0),
            at + v3(0.0, y + 0.35, 7.0),
            4.9,
            Paint::Metal,
        );
        y += 0.95;
    }
    kit.slab(
        [at.x - 10.0, at.y + 9.0, at.z],
        [at.x + 4.0, at.y + 15.0, at.z + 9.0],
        Paint::Grey,
    );
}

fn wheel(kit: &mut Kit, y: f32) {
    let c = v3(292.0, y, 12.0);
    let r = 40.0;
    let side = |d: f32| c + v3(0.0, d, 0.0);
    kit.rod(side(-9.0), side(9.0), r - 3.0, Paint::Metal);
    kit.rod(side(-11.0), side(11.0), r - 9.0, Paint::Dark);
    kit.rod(side(-12.2), side(12.2), r - 13.0, Paint::Hull);
    kit.rod(side(-14.0), side(14.0), 12.0, Paint::Dark);
    kit.rod(side(-17.0), side(17.0), 7.0, Paint::Metal);
    kit.rod(side(-18.0), side(18.0), 3.0, Paint::Ochre);
    for k in 0..8_u8 {
        let a = f32::from(k) * std::f32::consts::FRAC_PI_4;
        let d = v3(libm::cosf(a), 0.0, libm::sinf(a));
        let t = v3(-d.z, 0.0, d.x);
        for s in [-1.0, 1.0] {
            kit.turned(
                side(s * 12.4) + d * 18.5,
                (d, t),
                v3(7.0, 1.8, 0.8),
                Paint::Dark,
            );
            kit.rod(
                side(s * 11.0) + d * 10.0,
                side(s * 15.0) + d * 10.0,
                1.1,
                Paint::Metal,
            );
            kit.rod(
                side(s * 10.0) + d * 29.0,
                side(s * 11.8) + d * 29.0,
                1.3,
                Paint::Metal,
            );
        }
    }
    teeth(kit, c, r);
}

fn teeth(kit: &mut Kit, c: V3, r: f32) {
    let side = |d: f32| c + v3(0.0, d, 0.0);
    for k in 0..30_u8 {
        for (row, off) in [(-6.4, 0.0), (0.0, 0.5), (6.4, 0.0)] {
            let a = (f32::from(k) + off) * 0.209_44;
            let d = v3(libm::cosf(a), 0.0, libm::sinf(a));
            let t = v3(-d.z, 0.0, d.x);
            let lead = (d * 0.9 + t * 0.44).unit();
            kit.turned(
                side(row) + d * (r - 2.0),
                (lead, v3(0.0, 1.0, 0.0)),
                v3(4.2, 2.2, 1.5),
                Paint::Dark,
            );
            kit.turned(
                side(row) + d * (r + 1.6),
                (lead, v3(0.0, 1.0, 0.0)),
                v3(1.4, 1.7, 1.0),
                Paint::Metal,
            );
        }
    }
    hood(kit, c);
}

fn hood(kit: &mut Kit, c: V3) {
    let side = |d: f32| c + v3(0.0, d, 0.0);
    let y = c.y;
    // Hood over the upper rear quarter.
    for k in 0..8_u8 {
        let a = 1.15 + 0.19 * f32::from(k);
        let d = v3(libm::cosf(a), 0.0, libm::sinf(a));
        let t = v3(-d.z, 0.0, d.x);
        let p = if k % 4 == 0 {
            Paint::Hazard
        } else {
            Paint::Ochre
        };
        kit.turned(c + d * 48.0, (t, v3(0.0, 1.0, 0.0)), v3(4.7, 14.0, 0.9), p);
        for s in [-1.0, 1.0] {
            kit.turned(side(s * 13.4) + d * 44.5, (t, d), v3(4.3, 4.0, 0.8), p);
        }
        kit.turned(
            c + d * 49.2,
            (t, v3(0.0, 1.0, 0.0)),
            v3(0.8, 14.4, 0.8),
            Paint::Dark,
        );
    }
    for s in [-16.0, 16.0] {
        arm(kit, y + s);
    }
    kit.rod(
        v3(240.0, y - 20.0, 30.0),
        v3(240.0, y + 20.0, 30.0),
        5.0,
        Paint::Dark,
    );
    kit.lamp(
        v3(270.0, y, 63.5),
        v3(0.6, 0.0, -0.8),
        1.0,
        Paint::LampAmber,
    );
}

fn arm(kit: &mut Kit, y: f32) {
    let (root, axle) = (v3(240.0, y, 30.0), v3(292.0, y, 12.0));
    let along = axle - root;
    let mid = root.mix(axle, 0.5);
    kit.turned(
        mid,
        (along, v3(0.0, 1.0, 0.0)),
        v3(0.5 * along.len(), 1.8, 6.0),
        Paint::Ochre,
    );
    kit.turned(
        mid,
        (along, v3(0.0, 1.0, 0.0)),
        v3(0.4 * along.len(), 2.4, 2.6),
        Paint::Dark,
    );
    kit.rod(
        axle - v3(0.0, 3.0, 0.0),
        axle + v3(0.0, 3.0, 0.0),
        8.5,
        Paint::Ochre,
    );
    kit.rod(
        axle - v3(0.0, 3.8, 0.0),
        axle + v3(0.0, 3.8, 0.0),
        4.5,
        Paint::Metal,
    );
    kit.slab([232.0, y - 4.0, 12.0], [248.0, y + 4.0, 27.0], Paint::Hull);
    kit.rod(v3(228.0, y, 18.0), v3(252.0, y, 44.0), 2.6, Paint::Grey);
    kit.rod(v3(252.0, y, 44.0), v3(266.0, y, 59.0), 1.3, Paint::Metal);
}

fn bow(kit: &mut Kit) {
    let f = Pad::new(v3(256.0, 0.0, 0.0), v3(0.0, 1.0, 0.0), UP);
    kit.machinery(&f, [-62.0, -5.0, 62.0, 11.0], 5.0, 0.8);
    let cheek = Pad::new(v3(190.0, -95.0, 0.0), v3(66.0, 31.0, 0.0), UP);
    kit.machinery(&cheek, [8.0, -4.0, 38.0, 9.0], 3.0, 0.5);
    kit.block(&cheek, [4.0, 9.8, 70.0, 12.2], (0.0, 0.9), Paint::Hazard);
    kit.board(&cheek, [42.0, -4.0, 70.0, 8.5], (0.0, 0.8), 3);
    for u in [6.0, 30.0, 56.0] {
        kit.block(&cheek, [u, -17.0, u + 3.0, -7.0], (-1.0, 2.0), Paint::Dark);
    }
    kit.lamp(cheek.at(40.0, 3.0, 0.8), cheek.n, 1.1, Paint::LampGreen);
    for y in [-56.0, 0.0, 56.0] {
        kit.rod(v3(255.0, y, 6.0), v3(259.0, y, 6.0), 3.4, Paint::Dark);
        kit.lamp(v3(259.0, y, 6.0), v3(1.0, 0.0, 0.0), 1.6, Paint::LampWhite);
    }
}
