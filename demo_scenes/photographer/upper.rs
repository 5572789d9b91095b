//! The barge aft of the furnace: tanks, tower, mast, drives, deck fittings.

use crate::barge::{front, starboard, top};
use crate::kit::{Kit, Pad};
use crate::part::Paint;
use crate::vec3::{V3, v3};

/// Melt-water tanks with their walks.
pub(crate) fn tanks(kit: &mut Kit) {
    let r = 19.0;
    for (i, y) in [-66.0, -22.0, 22.0, 66.0].into_iter().enumerate() {
        let z = 28.0 + r + 5.0;
        let (a, b) = (v3(-138.0, y, z), v3(-62.0, y, z));
        let paint = if i == 1 { Paint::Warm } else { Paint::White };
        kit.rod(a, b, r, paint);
        kit.ball(a, v3(10.0, r, r), paint);
        kit.ball(b, v3(10.0, r, r), paint);
        for x in [-136.0, -112.0, -88.0, -64.0] {
            kit.rod(v3(x, y, z), v3(x + 2.2, y, z), r + 0.7, Paint::Grey);
            kit.slab(
                [x - 1.0, y - 15.0, 28.0],
                [x + 3.2, y + 15.0, 40.0],
                Paint::Dark,
            );
        }
        kit.run(
            &[
                v3(-54.0, y, z),
                v3(-46.0, y, z),
                v3(-46.0, y, 34.0),
                v3(-40.0, y, 34.0),
            ],
            2.4,
            Paint::Metal,
        );
        kit.rod(
            v3(-50.0, y, z - 0.9),
            v3(-48.4, y, z - 0.9),
            3.6,
            Paint::Dark,
        );
        // The glue seam of the two tank halves, not quite sanded away.
        let seam = v3(0.0, -r * 0.5, r * 0.866);
        kit.rod(a + seam, b + seam, 0.22, paint);
        let crown = top(z + r);
        kit.hatch(&crown, (-100.0, y), 4.0, Paint::Grey);
        kit.rod(
            v3(-124.0, y, z + r - 1.0),
            v3(-124.0, y, z + r + 6.0),
            1.6,
            Paint::Ochre,
        );
        kit.rod(
            v3(-78.0, y, z + r - 1.0),
            v3(-78.0, y, z + r + 4.0),
            2.2,
            Paint::Metal,
        );
    }
    walks(kit);
}

fn walks(kit: &mut Kit) {
    let walk = top(70.0);
    for y in [-44.0, 0.0, 44.0] {
        kit.grating(&walk, [-146.0, y - 4.5, -44.0, y + 4.5], Paint::Grey);
        let (a, b) = (v3(-146.0, y - 4.5, 70.0), v3(-44.0, y - 4.5, 70.0));
        kit.rail(&[a, b], v3(0.0, 0.0, 1.0), Paint::Ochre);
        kit.rail(
            &[a + v3(0.0, 9.0, 0.0), b + v3(0.0, 9.0, 0.0)],
            v3(0.0, 0.0, 1.0),
            Paint::Ochre,
        );
    }
    for (x, y) in [(-146.0, -44.0), (-95.0, -44.0), (-46.0, -44.0)] {
        kit.rod(v3(x, y, 28.0), v3(x, y, 70.0), 1.0, Paint::Grey);
    }
    kit.run(
        &[
            v3(-140.0, -90.0, 32.0),
            v3(-60.0, -90.0, 32.0),
            v3(-50.0, -84.0, 32.0),
            v3(-40.0, -84.0, 32.0),
            v3(-40.0, -64.0, 44.0),
        ],
        1.5,
        Paint::Grey,
    );
    kit.run(
        &[
            v3(-140.0, -86.5, 31.0),
            v3(-64.0, -86.5, 31.0),
            v3(-44.0, -76.0, 31.0),
        ],
        1.0,
        Paint::Ochre,
    );
}

/// Quarters and bridge.
pub(crate) fn tower(kit: &mut Kit) {
    kit.slab([-240.0, -62.0, 28.0], [-156.0, 62.0, 56.0], Paint::Hull);
    kit.slab([-242.0, -64.0, 55.0], [-154.0, 64.0, 57.0], Paint::Deck);
    kit.slab([-234.0, -50.0, 57.0], [-166.0, 50.0, 80.0], Paint::Hull);
    kit.slab([-236.0, -60.0, 79.0], [-162.0, 60.0, 81.0], Paint::Deck);
    let bridge = [
        (-226.0, 81.0),
        (-174.0, 81.0),
        (-168.0, 88.0),
        (-172.0, 101.0),
        (-226.0, 101.0),
    ];
    kit.prism(1, &bridge, (-46.0, 46.0), Paint::Hull);
    kit.slab([-228.0, -49.0, 101.0], [-168.0, 49.0, 103.5], Paint::Hull);
    let face = Pad::new(
        v3(-168.0, 0.0, 88.0),
        v3(0.0, 1.0, 0.0),
        v3(-4.0, 0.0, 13.0),
    );
    kit.windows(&face, [-44.0, 2.0, 44.0, 10.0], 13);
    let s = starboard(-46.0);
    kit.windows(&s, [-222.0, 90.0, -178.0, 97.5], 7);
    let s2 = starboard(-50.0);
    kit.windows(&s2, [-230.0, 66.0, -190.0, 71.5], 6);
    kit.machinery(&s2, [-188.0, 59.0, -168.0, 77.0], 4.0, 0.7);
    let f2 = front(-166.0);
    kit.windows(&f2, [-40.0, 66.0, -8.0, 71.0], 5);
    kit.windows(&f2, [8.0, 66.0, 40.0, 71.0], 5);
    let s1 = starboard(-62.0);
    kit.windows(&s1, [-236.0, 44.0, -208.0, 49.0], 5);
    kit.hatch(&s1, (-198.0, 39.0), 5.5, Paint::Warm);
    kit.machinery(&s1, [-188.0, 30.0, -158.0, 54.0], 5.0, 0.75);
    let f1 = front(-156.0);
    kit.machinery(&f1, [-60.0, 30.0, 60.0, 54.0], 5.0, 0.6);
    kit.ladder(&s1, -203.0, (29.0, 60.0), Paint::Metal);
    for (z, x0, x1, y) in [(57.0, -242.0, -154.0, -64.0), (81.0, -236.0, -162.0, -60.0)] {
        kit.rail(
            &[v3(x0, y, z), v3(x1, y, z), v3(x1, -y, z)],
            v3(0.0, 0.0, 1.0),
            Paint::Grey,
        );
    }
    let roof = top(103.5);
    kit.machinery(&roof, [-226.0, -46.0, -172.0, 46.0], 6.0, 0.65);
    let low = top(57.0);
    kit.machinery(&low, [-240.0, -62.0, -170.0, -52.0], 4.0, 0.6);
    kit.machinery(&low, [-164.0, -60.0, -156.0, 60.0], 4.0, 0.7);
    let mid = top(81.0);
    kit.machinery(&mid, [-228.0, -58.0, -180.0, -49.0], 4.0, 0.7);
    // A bridge wing with its lamp.
    kit.slab([-190.0, -72.0, 81.0], [-174.0, -46.0, 83.0], Paint::Deck);
    kit.slab([-190.0, -73.0, 83.0], [-174.0, -71.0, 90.0], Paint::Hull);
    kit.slab([-174.0, -73.0, 83.0], [-172.6, -47.0, 90.0], Paint::Hull);
    kit.lamp(
        v3(-182.0, -74.0, 88.0),
        v3(0.0, -1.0, 0.0),
        1.6,
        Paint::LampGreen,
    );
}

/// Mast, aerials and mast lamps.
pub(crate) fn mast(kit: &mut Kit) {
    kit.truss(
        v3(-206.0, 0.0, 103.0),
        v3(-206.0, 0.0, 160.0),
        8.0,
        Paint::Grey,
    );
    kit.rod(
        v3(-206.0, -26.0, 140.0),
        v3(-206.0, 26.0, 140.0),
        0.9,
        Paint::Grey,
    );
    kit.turned(
        v3(-200.0, 0.0, 152.0),
        (v3(0.5, 0.86, 0.0), v3(-0.86, 0.5, 0.0)),
        v3(15.0, 1.2, 2.0),
        Paint::White,
    );
    kit.rod(
        v3(-200.0, 0.0, 146.0),
        v3(-200.0, 0.0, 151.0),
        1.4,
        Paint::Dark,
    );
    aerials(kit);
}

fn aerials(kit: &mut Kit) {
    for (y, h) in [(-26.0, 24.0), (-14.0, 14.0), (15.0, 18.0), (26.0, 28.0)] {
        kit.rod(
            v3(-206.0, y, 140.0),
            v3(-206.0, y, 140.0 + h),
            0.3,
            Paint::Metal,
        );
    }
    kit.ball(v3(-218.0, -26.0, 112.0), v3(7.0, 7.0, 7.0), Paint::White);
    kit.rod(
        v3(-218.0, -26.0, 103.0),
        v3(-218.0, -26.0, 107.0),
        3.5,
        Paint::Grey,
    );
    kit.tube(
        v3(-190.0, 30.0, 112.0),
        v3(-184.0, 27.0, 116.0),
        (2.0, 9.0),
        Paint::White,
    );
    kit.rod(
        v3(-194.0, 30.0, 103.0),
        v3(-190.0, 30.0, 112.0),
        1.2,
        Paint::Grey,
    );
    kit.lamp(v3(-206.0, 0.0, 162.0), V3::default(), 1.5, Paint::LampRed);
    kit.lamp(
        v3(-201.0, 0.0, 132.0),
        v3(1.0, 0.0, 0.0),
        2.7,
        Paint::LampWhite,
    );
    for z in [118.0, 130.0] {
        kit.rod(
            v3(-206.0, 0.0, z + 20.0),
            v3(-232.0, -40.0, 81.0),
            0.2,
            Paint::Metal,
        );
        kit.rod(
            v3(-206.0, 0.0, z + 20.0),
            v3(-232.0, 40.0, 81.0),
            0.2,
            Paint::Metal,
        );
    }
}

/// Engine house and the two drive pods.
pub(crate) fn drives(kit: &mut Kit) {
    let aft = top(28.4);
    kit.slab([-292.0, -60.0, 28.0], [-246.0, 60.0, 62.0], Paint::Hull);
    kit.machinery(&top(62.0), [-290.0, -58.0, -248.0, 58.0], 7.0, 0.85);
    let s = starboard(-60.0);
    for u in [-290.0, -275.0, -260.0] {
        kit.louvre(&s, [u, 32.0, u + 11.0, 58.0], Paint::Hull);
    }
    kit.machinery(&aft, [-294.0, -90.0, -246.0, -64.0], 6.0, 0.6);
    for side in [-1.0, 1.0] {
        let (y, z) = (side * 116.0, 20.0);
        let x = |v: f32| v3(v, y, z);
        kit.rod(x(-300.0), x(-238.0), 19.0, Paint::Hull);
        kit.cone(x(-238.0), x(-228.0), (19.0, 12.0), Paint::Hull);
        kit.rod(x(-229.0), x(-226.0), 12.5, Paint::Dark);
        kit.ball(x(-226.0), v3(8.0, 9.0, 9.0), Paint::Metal);
        kit.tube(x(-300.0), x(-334.0), (12.0, 21.0), Paint::Heat);
        kit.rod(x(-304.0), x(-300.0), 15.0, Paint::Dark);
        for v in [-296.0, -282.0, -256.0, -243.0] {
            kit.rod(x(v), x(v + 2.4), 20.2, Paint::Dark);
        }
        kit.rod(x(-270.0), x(-266.0), 19.6, Paint::Hazard);
        for k in 0..16_u8 {
            let a = f32::from(k) * std::f32::consts::FRAC_PI_8;
            let (c, w) = (libm::cosf(a), libm::sinf(a));
            let d = v3(0.0, c, w);
            kit.turned(
                x(-250.0) + d * 19.6,
                (v3(1.0, 0.0, 0.0), v3(0.0, -w, c)),
                v3(5.0, 1.1, 1.2),
                Paint::Grey,
            );
            kit.turned(
                x(-289.0) + d * 19.8,
                (v3(1.0, 0.0, 0.0), v3(0.0, -w, c)),
                v3(5.6, 1.8, 0.9),
                Paint::Hull,
            );
            kit.rod(
                x(-308.0) + d * 14.5,
                x(-330.0) + d * 20.4,
                0.6,
                Paint::Metal,
            );
        }
        kit.slab(
            [-290.0, side * 88.0, 8.0],
            [-246.0, side * 104.0, 24.0],
            Paint::Dark,
        );
        for v in [-286.0, -268.0, -252.0] {
            kit.rod(
                v3(v, side * 92.0, 30.0),
                v3(v, side * 108.0, 33.0),
                1.8,
                Paint::Metal,
            );
        }
    }
}

/// Rails, bollards, deck lamps.
pub(crate) fn deck(kit: &mut Kit) {
    let d = top(28.4);
    let up = v3(0.0, 0.0, 1.0);
    kit.rail(
        &[v3(-226.0, -94.0, 28.0), v3(-70.0, -94.0, 28.0)],
        up,
        Paint::Ochre,
    );
    kit.rail(
        &[
            v3(66.0, -94.0, 28.0),
            v3(109.0, -94.0, 28.0),
            v3(109.0, -66.0, 28.0),
        ],
        up,
        Paint::Ochre,
    );
    kit.rail(
        &[
            v3(109.0, 66.0, 28.0),
            v3(109.0, 94.0, 28.0),
            v3(-226.0, 94.0, 28.0),
        ],
        up,
        Paint::Ochre,
    );
    kit.machinery(&d, [-40.0, -92.0, -14.0, -66.0], 5.0, 0.55);
    kit.machinery(&d, [64.0, -92.0, 106.0, -66.0], 6.0, 0.7);
    kit.machinery(&d, [86.0, -58.0, 108.0, -36.0], 8.0, 0.8);
    kit.machinery(&d, [86.0, 36.0, 108.0, 90.0], 8.0, 0.8);
    kit.machinery(&d, [-234.0, -92.0, -150.0, -66.0], 5.0, 0.45);
    kit.machinery(&d, [-60.0, -50.0, -42.0, 60.0], 8.0, 0.7);
    kit.grating(&d, [-8.0, -93.0, 56.0, -68.0], Paint::Dark);
    for (x, y) in [
        (-200.0, -90.0),
        (-110.0, -91.0),
        (75.0, -91.0),
        (100.0, -91.0),
    ] {
        for k in [0.0, 5.0] {
            kit.rod(v3(x + k, y, 28.0), v3(x + k, y, 32.5), 1.3, Paint::Dark);
            kit.rod(v3(x + k, y, 32.0), v3(x + k, y, 33.0), 1.8, Paint::Metal);
        }
    }
    deck_lamps(kit);
}

fn deck_lamps(kit: &mut Kit) {
    for x in [-215.0, -165.0, -115.0, -75.0, 70.0, 104.0] {
        kit.rod(v3(x, -92.5, 28.0), v3(x, -92.5, 40.0), 0.45, Paint::Grey);
        kit.slab([x - 1.0, -92.5, 39.4], [x + 1.0, -89.5, 40.8], Paint::Dark);
        kit.lamp(
            v3(x, -90.4, 39.0),
            v3(0.0, 0.3, -0.95),
            1.6,
            Paint::LampWhite,
        );
    }
    for x in [-286.0, -258.0] {
        kit.lamp(
            v3(x, -96.3, 26.0),
            v3(0.0, -1.0, 0.0),
            0.7,
            Paint::LampAmber,
        );
    }
}
