//! The barge's furnace: house, doors, glowing hearth, chimneys.

use crate::barge::{front, starboard, top};
use crate::kit::{Group, Kit, Lamp, Pad};
use crate::part::{Paint, Plane};
use crate::vec3::v3;

/// The house with its opening.
pub(crate) fn furnace(kit: &mut Kit) {
    let wall = |kit: &mut Kit, lo: [f32; 3], hi: [f32; 3], p: Paint| kit.slab(lo, hi, p);
    wall(kit, [-40.0, -62.0, 28.0], [-8.0, -57.0, 86.0], Paint::Hull);
    wall(kit, [56.0, -62.0, 28.0], [84.0, -57.0, 86.0], Paint::Hull);
    wall(kit, [-8.0, -62.0, 71.0], [56.0, -57.0, 86.0], Paint::Hull);
    wall(kit, [-8.0, -63.0, 28.0], [56.0, -57.0, 33.0], Paint::Dark);
    wall(kit, [80.0, -62.0, 28.0], [84.0, 62.0, 86.0], Paint::Hull);
    wall(kit, [-40.0, -62.0, 28.0], [-36.0, 62.0, 86.0], Paint::Hull);
    wall(kit, [-40.0, 58.0, 28.0], [84.0, 62.0, 86.0], Paint::Hull);
    wall(kit, [-44.0, -66.0, 86.0], [88.0, 66.0, 90.0], Paint::Deck);
    // Frame of the opening.
    for (lo, hi) in [
        ([-11.0, -65.0, 30.0], [-7.0, -60.0, 74.0]),
        ([55.0, -65.0, 30.0], [59.0, -60.0, 74.0]),
        ([-11.0, -65.0, 70.5], [59.0, -60.0, 74.5]),
    ] {
        kit.slab(lo, hi, Paint::Heat);
    }
    house_fittings(kit);
}

fn house_fittings(kit: &mut Kit) {
    doors(kit);
    let s = starboard(-62.0);
    kit.machinery(&s, [-39.0, 30.0, -12.0, 84.0], 4.0, 0.6);
    kit.machinery(&s, [60.0, 30.0, 83.0, 84.0], 3.0, 0.35);
    kit.machinery(&s, [-8.0, 76.0, 56.0, 85.0], 3.0, 0.6);
    let f = front(84.0);
    // Mouth of the conveyor and glowing slots on the fore face.
    kit.block(&f, [-30.0, 30.0, 30.0, 58.0], (-1.0, 0.4), Paint::Void);
    kit.block(&f, [-33.0, 58.0, 33.0, 62.0], (0.0, 5.0), Paint::Hazard);
    kit.block(&f, [-34.0, 28.0, -30.0, 62.0], (0.0, 4.0), Paint::Dark);
    kit.block(&f, [30.0, 28.0, 34.0, 62.0], (0.0, 4.0), Paint::Dark);
    for i in 0..6_u8 {
        let v = -29.0 + 10.0 * f32::from(i);
        kit.block(&f, [v, 36.0, v + 8.0, 57.5], (0.4, 1.0), Paint::Dark);
        kit.block(&f, [v, 38.0, v + 8.0, 39.0], (0.4, 1.6), Paint::Metal);
    }
    for row in [66.0, 71.0, 76.0] {
        kit.block(&f, [-54.0, row, -36.0, row + 2.6], (0.0, 0.5), Paint::Ember);
        kit.block(
            &f,
            [-55.0, row + 2.4, -35.0, row + 3.6],
            (0.0, 2.4),
            Paint::Heat,
        );
        kit.block(&f, [-26.0, row, 26.0, row + 2.6], (0.0, 0.5), Paint::Ember);
        kit.block(
            &f,
            [-27.0, row + 2.4, 27.0, row + 3.6],
            (0.0, 2.4),
            Paint::Heat,
        );
    }
    let across = (v3(0.0, 26.0, 0.0), v3(0.0, 0.0, 6.0));
    kit.lamps.push(Lamp {
        at: v3(87.0, 0.0, 72.0),
        facing: v3(1.0, 0.0, 0.0),
        across,
        power: v3(2.4, 0.75, 0.14) * 7.0,
        reach: 130.0,
        group: Group::Furnace,
    });
    kit.machinery(&f, [-60.0, 30.0, -36.0, 62.0], 4.0, 0.6);
    kit.machinery(&f, [36.0, 30.0, 60.0, 84.0], 4.0, 0.6);
    kit.ladder(&f, -58.5, (29.0, 88.0), Paint::Metal);
    house_trim(kit);
}

/// Buttresses, roof haunches and the big ducts of the furnace house.
fn house_trim(kit: &mut Kit) {
    for y in [-61.0, -35.0, 35.0, 61.0] {
        kit.prism(
            1,
            &[
                (84.0, 28.0),
                (96.0, 28.0),
                (96.0, 40.0),
                (88.0, 80.0),
                (84.0, 84.0),
            ],
            (y - 1.8, y + 1.8),
            Paint::Hull,
        );
        kit.slab([92.0, y - 3.0, 28.0], [99.0, y + 3.0, 31.0], Paint::Dark);
    }
    for x in [-41.0, -24.0, 81.0] {
        kit.prism(
            0,
            &[
                (-62.0, 28.0),
                (-70.0, 28.0),
                (-70.0, 36.0),
                (-64.0, 82.0),
                (-62.0, 84.0),
            ],
            (x, x + 3.4),
            Paint::Hull,
        );
    }
    haunch(kit);
}

fn haunch(kit: &mut Kit) {
    // Haunch of the roof: a sloping row of plates over the doors.
    kit.prism(
        0,
        &[
            (-66.0, 86.0),
            (-62.0, 86.0),
            (-44.0, 97.0),
            (-44.0, 99.0),
            (-48.0, 99.0),
            (-66.0, 90.0),
        ],
        (-44.0, 88.0),
        Paint::Hull,
    );
    let slope = Pad::new(v3(0.0, -66.0, 90.0), v3(1.0, 0.0, 0.0), v3(0.0, 18.0, 9.0));
    for i in 0..7_u8 {
        let u = -42.0 + 18.4 * f32::from(i);
        kit.block(&slope, [u, 1.0, u + 2.0, 19.5], (0.0, 1.4), Paint::Dark);
        kit.louvre(&slope, [u + 4.5, 4.0, u + 14.5, 16.0], Paint::Hull);
    }
    ducts(kit);
}

fn ducts(kit: &mut Kit) {
    kit.run(
        &[
            v3(-36.0, -30.0, 52.0),
            v3(-50.0, -30.0, 52.0),
            v3(-50.0, -30.0, 96.0),
            v3(-20.0, -30.0, 104.0),
            v3(60.0, -30.0, 104.0),
            v3(74.0, -16.0, 104.0),
            v3(74.0, 14.0, 104.0),
        ],
        4.2,
        Paint::Grey,
    );
    for x in [-14.0, 4.0, 22.0, 40.0, 56.0] {
        kit.rod(
            v3(x, -30.0, 104.0),
            v3(x + 2.0, -30.0, 104.0),
            5.2,
            Paint::Dark,
        );
        kit.slab([x, -32.0, 90.0], [x + 2.0, -28.0, 101.0], Paint::Dark);
    }
    kit.run(
        &[
            v3(92.0, -48.0, 29.0),
            v3(92.0, -48.0, 60.0),
            v3(86.0, -48.0, 66.0),
        ],
        2.0,
        Paint::Metal,
    );
    kit.run(
        &[
            v3(90.0, -42.0, 29.0),
            v3(90.0, -42.0, 48.0),
            v3(90.0, 46.0, 48.0),
            v3(86.0, 46.0, 56.0),
        ],
        1.3,
        Paint::Ochre,
    );
}

fn doors(kit: &mut Kit) {
    // Fore leaf folded back on the wall, aft leaf swung out square: it catches the glow.
    for (hinge, dir) in [
        (v3(60.0, -66.0, 52.0), v3(0.985, -0.17, 0.0)),
        (v3(-11.0, -65.0, 52.0), v3(-0.30, -0.95, 0.0)),
    ] {
        let up = v3(0.0, 0.0, 1.0);
        let p = Pad::new(hinge, dir, up);
        let p = if p.n.x < 0.0 { Pad { n: -p.n, ..p } } else { p };
        kit.block(&p, [0.5, -20.0, 30.0, 20.0], (-1.5, 1.5), Paint::Heat);
        for v in [-19.0, -7.0, 5.0, 17.0] {
            kit.block(&p, [0.5, v, 30.0, v + 2.4], (-2.8, 2.6), Paint::Dark);
            kit.rod(
                p.at(0.0, v - 1.0, 0.0),
                p.at(0.0, v + 3.4, 0.0),
                1.6,
                Paint::Metal,
            );
        }
        for u in [3.0, 15.0, 27.5] {
            kit.block(&p, [u, -20.0, u + 1.6, 20.0], (-2.2, 2.1), Paint::Dark);
        }
        for u in [5.5, 17.5] {
            for v in [-15.8, -3.8, 8.2] {
                kit.block(&p, [u + 0.8, v, u + 9.0, v + 8.0], (1.0, 2.0), Paint::Soot);
            }
        }
        kit.rod(
            p.at(22.0, 0.0, -2.0),
            p.at(22.0, 0.0, -6.0),
            1.0,
            Paint::Metal,
        );
    }
}

/// The glowing bed and what stands before it.
pub(crate) fn hearth(kit: &mut Kit) {
    kit.slab([-36.0, -57.0, 28.0], [80.0, 12.0, 32.0], Paint::Soot);
    kit.slab([-36.0, 6.0, 28.0], [80.0, 12.0, 86.0], Paint::Heat);
    kit.slab([-14.0, -57.0, 28.0], [-10.0, 12.0, 86.0], Paint::Heat);
    kit.slab([58.0, -57.0, 28.0], [62.0, 12.0, 86.0], Paint::Heat);
    kit.slab([-14.0, -57.0, 76.0], [62.0, 12.0, 80.0], Paint::Heat);
    for i in 0..420_u16 {
        let u = kit.dice.span(-8.0, 56.0);
        let d = kit.dice.span(0.0, 1.0);
        let y = -54.0 + 58.0 * d;
        let z = 32.0 + 3.0 + 15.0 * d + kit.dice.span(-2.0, 1.0);
        let r = kit.dice.span(1.4, 3.6);
        let (a, b) = (kit.dice.span(-1.0, 1.0), kit.dice.span(-1.0, 1.0));
        let axes = (v3(1.0, a, b), v3(-a, 1.0, 0.0));
        let p = if i % 5 == 0 { Paint::Soot } else { Paint::Coal };
        kit.turned(v3(u, y, z), axes, v3(r, r * 0.8, r * 0.7), p);
    }
    kit.solid(
        &[
            Plane {
                n: v3(0.0, -15.0, 58.0).unit(),
                d: v3(0.0, -15.0, 58.0).unit().dot(v3(0.0, -54.0, 33.0)),
            },
            Plane {
                n: v3(0.0, 0.0, -1.0),
                d: -30.0,
            },
            Plane {
                n: v3(0.0, 1.0, 0.0),
                d: 8.0,
            },
            Plane {
                n: v3(1.0, 0.0, 0.0),
                d: 58.0,
            },
            Plane {
                n: v3(-1.0, 0.0, 0.0),
                d: 10.0,
            },
        ],
        (v3(-10.0, -56.0, 30.0), v3(58.0, 8.0, 52.0)),
        Paint::Coal,
    );
    fire_bars(kit);
}

fn fire_bars(kit: &mut Kit) {
    // Fire bars and roof tubes stand black against the glow.
    for i in 0..9_u8 {
        let u = -4.0 + 7.0 * f32::from(i);
        kit.rod(v3(u, -58.0, 32.0), v3(u, -58.0, 40.0), 0.9, Paint::Soot);
    }
    kit.rod(
        v3(-8.0, -58.0, 40.0),
        v3(56.0, -58.0, 40.0),
        1.1,
        Paint::Soot,
    );
    for i in 0..6_u8 {
        let y = -48.0 + 9.0 * f32::from(i);
        kit.rod(v3(-10.0, y, 71.0), v3(58.0, y, 71.0), 2.0, Paint::Heat);
    }
    let (x, y, z) = (v3(26.0, 0.0, 0.0), v3(0.0, 20.0, 4.0), v3(0.0, 0.0, 12.0));
    let group = Group::Furnace;
    let colour = v3(1.0, 0.33, 0.062);
    kit.lamps.push(Lamp {
        at: v3(24.0, -46.0, 52.0),
        facing: v3(0.0, -1.0, 0.0),
        across: (x, z),
        power: colour * 165.0,
        reach: 280.0,
        group,
    });
    kit.lamps.push(Lamp {
        at: v3(24.0, -24.0, 50.0),
        facing: v3(0.0, 0.0, 1.0),
        across: (x, y),
        power: colour * 30.0,
        reach: 120.0,
        group,
    });
}

/// Roof machinery and chimneys.
pub(crate) fn stacks(kit: &mut Kit) {
    let roof = top(90.0);
    kit.machinery(&roof, [-42.0, -43.0, 86.0, -35.0], 7.0, 0.8);
    kit.machinery(&roof, [-42.0, 40.0, 86.0, 64.0], 7.0, 0.8);
    kit.machinery(&roof, [-42.0, -30.0, 86.0, 4.0], 4.0, 0.7);
    for i in 0..14_u8 {
        let u = -40.0 + 9.0 * f32::from(i);
        kit.block(&roof, [u, -33.0, u + 1.2, -1.0], (0.0, 6.0), Paint::Heat);
    }
    for (x, h) in [(-18.0, 146.0), (12.0, 152.0), (42.0, 146.0)] {
        let y = 20.0;
        kit.cone(v3(x, y, 90.0), v3(x, y, 98.0), (14.5, 11.5), Paint::Dark);
        kit.cone(v3(x, y, 98.0), v3(x, y, h - 8.0), (10.5, 9.0), Paint::Hull);
        kit.tube(v3(x, y, h - 8.0), v3(x, y, h), (10.2, 10.2), Paint::Soot);
        kit.rod(v3(x, y, h - 9.0), v3(x, y, h - 7.0), 10.6, Paint::Dark);
        for z in [106.0, 116.0, 126.0] {
            kit.rod(v3(x, y, z), v3(x, y, z + 1.4), 11.0, Paint::Grey);
        }
        kit.rod(v3(x, y, 111.0), v3(x, y, 114.0), 10.5, Paint::Ochre);
        kit.run(
            &[
                v3(x + 8.0, y - 9.0, 90.0),
                v3(x + 8.0, y - 9.0, 128.0),
                v3(x + 3.0, y - 6.0, 131.0),
            ],
            0.9,
            Paint::Metal,
        );
        let side = Pad::new(v3(x, y - 10.8, 0.0), v3(1.0, 0.0, 0.0), v3(0.0, 0.0, 1.0));
        kit.ladder(&side, -3.0, (92.0, h - 9.0), Paint::Metal);
    }
    for z in [121.0, 137.0] {
        kit.truss(v3(-18.0, 20.0, z), v3(42.0, 20.0, z), 4.0, Paint::Grey);
    }
    kit.rod(
        v3(-18.0, 20.0, 138.0),
        v3(-60.0, 55.0, 30.0),
        0.25,
        Paint::Metal,
    );
    kit.rod(
        v3(42.0, 20.0, 138.0),
        v3(84.0, 60.0, 90.0),
        0.25,
        Paint::Metal,
    );
}
