//! The ice-cutting barge *Grindstone*: hull, furnace, tanks, tower and drives (the cutting deck has its own file).

use crate::kit::{Kit, Pad};
use crate::paint::Soot;
use crate::part::{Paint, Plane};
use crate::vec3::v3;

/// Where the seam gap runs on the starboard side: from and to, along the hull, mm.
pub(crate) const SEAM: (f32, f32) = (-292.0, 186.0);
/// Starboard side plane.
pub(crate) const SIDE: f32 = -95.0;

/// A pad on a starboard face at this y.
pub(crate) fn starboard(y: f32) -> Pad {
    Pad::new(v3(0.0, y, 0.0), v3(1.0, 0.0, 0.0), v3(0.0, 0.0, 1.0))
}
/// A pad on an upper face at this z.
pub(crate) fn top(z: f32) -> Pad {
    Pad::new(v3(0.0, 0.0, z), v3(1.0, 0.0, 0.0), v3(0.0, 1.0, 0.0))
}
/// A pad on a fore face at this x.
pub(crate) fn front(x: f32) -> Pad {
    Pad::new(v3(x, 0.0, 0.0), v3(0.0, 1.0, 0.0), v3(0.0, 0.0, 1.0))
}

/// Places that soot the barge.
pub(crate) fn soot() -> Vec<Soot> {
    vec![
        (v3(24.0, -62.0, 80.0), 52.0),
        (v3(24.0, -74.0, 30.0), 26.0),
        (v3(-18.0, 18.0, 142.0), 34.0),
        (v3(12.0, 18.0, 142.0), 34.0),
        (v3(42.0, 18.0, 142.0), 34.0),
        (v3(-318.0, -114.0, 20.0), 40.0),
    ]
}

/// Builds the barge; `gap` is the seam's width at both of its ends, mm.
pub(crate) fn barge(kit: &mut Kit, gap: (f32, f32)) {
    hull(kit, gap);
    sides(kit);
    crate::furnace::furnace(kit);
    crate::furnace::hearth(kit);
    crate::furnace::stacks(kit);
    crate::upper::tanks(kit);
    crate::upper::tower(kit);
    crate::upper::mast(kit);
    crate::upper::drives(kit);
    crate::upper::deck(kit);
    crate::cutting::cutting_deck(kit);
}

fn hull(kit: &mut Kit, gap: (f32, f32)) {
    let k = (gap.1 - gap.0) / (SEAM.1 - SEAM.0);
    let z0 = -gap.0 + k * SEAM.0;
    let n = v3(k, 0.0, 1.0);
    let l = n.len();
    let face = |a: f32, b: f32, c: f32, d: f32| {
        let m = v3(a, b, c);
        Plane {
            n: m.unit(),
            d: d / m.len(),
        }
    };
    // The lower hull's rim falls away towards the viewer so that the gap keeps its width in the picture.
    let planes = [
        Plane {
            n: n * (1.0 / l),
            d: z0 / l,
        },
        face(0.0, 0.0, -1.0, 40.0),
        face(1.0, 0.0, 0.0, 190.0),
        face(-1.0, 0.0, 0.0, 300.0),
        face(0.0, 1.0, 0.0, 95.0),
        face(0.0, -1.0, 0.0, 95.0),
        face(0.0, -22.0, -33.0, 22.0 * 95.0 + 33.0 * 18.0),
        face(0.0, 22.0, -33.0, 22.0 * 95.0 + 33.0 * 18.0),
        face(-20.0, 0.0, -30.0, 20.0 * 300.0 + 30.0 * 12.0),
    ];
    kit.solid(
        &planes,
        (v3(-300.0, -95.0, -40.0), v3(190.0, 95.0, 0.0)),
        Paint::Oxide,
    );
    kit.slab([-298.0, -94.4, -20.0], [189.0, 94.0, 8.0], Paint::Void);
    kit.slab([-300.0, -88.0, 0.0], [110.0, 88.0, 27.0], Paint::Dark);
    // Gunwale strips: continuous below the deck and above the seam.
    kit.slab([-300.0, -95.0, 0.0], [190.0, -88.0, 6.0], Paint::Hull);
    kit.slab([-300.0, -96.0, 24.0], [110.0, -88.0, 28.0], Paint::Hull);
    kit.slab([-300.0, 88.0, 0.0], [110.0, 95.0, 28.0], Paint::Hull);
    kit.slab([-300.0, -93.0, 26.6], [110.0, 93.0, 28.4], Paint::Deck);
    kit.slab([-301.0, -95.0, 0.0], [-296.0, 95.0, 28.0], Paint::Hull);
    // Low fore deck and the bow.
    kit.slab([110.0, -95.0, 0.0], [190.0, 95.0, 12.0], Paint::Hull);
    let plan = [(190.0, -95.0), (256.0, -64.0), (256.0, 64.0), (190.0, 95.0)];
    kit.prism(2, &plan, (-6.0, 12.0), Paint::Hull);
    let low = [(190.0, -94.0), (252.0, -64.0), (252.0, 64.0), (190.0, 94.0)];
    kit.prism(2, &low, (-18.0, -6.0), Paint::Oxide);
    let keel = [
        (180.0, -40.0),
        (215.0, -40.0),
        (250.0, -18.0),
        (180.0, -18.0),
    ];
    kit.prism(1, &keel, (-64.0, 64.0), Paint::Oxide);
    kit.slab([110.0, -92.0, 11.4], [200.0, 92.0, 12.5], Paint::Deck);
}

fn sides(kit: &mut Kit) {
    let out = starboard(-88.0);
    let skin =
        |kit: &mut Kit, a: f32, b: f32, p: Paint| kit.slab([a, -95.0, 6.0], [b, -88.0, 24.0], p);
    skin(kit, -300.0, -226.0, Paint::Hull);
    skin(kit, -166.0, -62.0, Paint::Named);
    if let Some(p) = kit.parts.last_mut() {
        p.seed = 0;
    }
    skin(kit, -20.0, 26.0, Paint::Hull);
    skin(kit, 26.0, 66.0, Paint::Warm);
    skin(kit, 100.0, 110.0, Paint::Hull);
    for (a, b) in [(-226.0, -166.0), (-62.0, -20.0), (66.0, 100.0)] {
        kit.machinery(&out, [a + 1.0, 6.5, b - 1.0, 23.5], 6.0, 0.93);
        kit.run(
            &[out.at(a, 20.5, 5.0), out.at(b, 20.5, 5.0)],
            0.9,
            Paint::Metal,
        );
        kit.run(
            &[out.at(a, 9.0, 5.4), out.at(b, 9.0, 5.4)],
            0.6,
            Paint::Ochre,
        );
    }
    let skin = starboard(-95.0);
    ribs_and_ports(kit, &skin);
    // Lower hull: keel cooler, sea chests, a long duct.
    let low = Pad::new(v3(0.0, -95.0, 0.0), v3(1.0, 0.0, 0.0), v3(0.0, 0.0, 1.0));
    for (a, b) in [(-270.0, -190.0), (-120.0, -70.0), (40.0, 120.0)] {
        kit.machinery(&low, [a, -17.0, b, -7.0], 2.2, 0.75);
    }
    kit.run(
        &[
            low.at(-290.0, -9.0, 1.1),
            low.at(-180.0, -9.0, 1.1),
            low.at(-175.0, -14.0, 1.1),
            low.at(30.0, -14.0, 1.1),
        ],
        0.9,
        Paint::Grey,
    );
    let bilge = Pad::new(
        v3(0.0, -95.0, -18.0),
        v3(1.0, 0.0, 0.0),
        v3(0.0, -33.0, 22.0),
    );
    for i in 0..12_u8 {
        let u = -280.0 + 38.0 * f32::from(i);
        kit.block(&bilge, [u, -36.0, u + 1.6, -0.5], (-0.4, 1.4), Paint::Oxide);
    }
    kit.machinery(&bilge, [-240.0, -30.0, -150.0, -6.0], 2.4, 0.4);
    kit.machinery(&bilge, [-40.0, -30.0, 70.0, -6.0], 2.4, 0.4);
}

fn ribs_and_ports(kit: &mut Kit, skin: &Pad) {
    for u in [
        -298.0, -262.0, -227.0, -165.0, -63.0, -19.0, 25.2, 65.2, 101.0,
    ] {
        kit.block(skin, [u, 5.0, u + 2.0, 25.0], (0.0, 1.1), Paint::Hull);
    }
    for u in [-290.0, -282.0, -274.0, -254.0, -246.0] {
        kit.rod(
            skin.at(u, 17.0, 0.0),
            skin.at(u, 17.0, 0.7),
            2.0,
            Paint::Dark,
        );
        kit.rod(
            skin.at(u, 17.0, 0.0),
            skin.at(u, 17.0, 0.9),
            1.4,
            Paint::Glass,
        );
    }
    for u in [-12.0, -2.0, 8.0, 18.0] {
        kit.louvre(skin, [u, 9.0, u + 7.0, 21.0], Paint::Hull);
    }
    kit.ladder(skin, -234.0, (-16.0, 27.0), Paint::Metal);
    kit.ladder(skin, 104.5, (0.5, 27.0), Paint::Metal);
    kit.hatch(skin, (46.0, 14.5), 5.0, Paint::Warm);
    for u in [116.0, 128.0, 140.0, 152.0, 164.0, 176.0] {
        kit.block(skin, [u, 1.0, u + 3.0, 11.0], (0.0, 3.0), Paint::Dark);
    }
    kit.block(skin, [112.0, 9.6, 188.0, 12.2], (0.0, 0.8), Paint::Hazard);
    kit.block(skin, [-20.0, 24.4, 66.0, 27.8], (1.0, 1.7), Paint::Hazard);
    for (i, u) in [-210.0, -180.0, -48.0, -30.0, 74.0, 92.0]
        .into_iter()
        .enumerate()
    {
        let r = if i % 2 == 0 { 2.2 } else { 1.5 };
        kit.tube(
            skin.at(u, 3.0, -0.2),
            skin.at(u, 3.0, 1.6),
            (r, r),
            Paint::Dark,
        );
    }
}
