//! Ice and weather: what time does to a painted surface.

use crate::paint::{Soot, Surface};
use crate::part::{Paint, Part};
use crate::plates::Spot;
use crate::vec3::{V3, cloud3, ease, floor_i, hash2, noise2, noise3, unit_of, v3};

/// Ice: clear and rimed patches, flakes, fractures.
pub(crate) fn ice(out: &mut Surface, part: &Part, s: &Spot, pos: V3) {
    let q = pos * 0.05 + v3(unit_of(part.seed) * 50.0, 0.0, 0.0);
    let cloud = cloud3(q * 1.4, 71);
    let up = ease(0.1, 0.9, s.n.z);
    // Rime lies on level faces and in patches; clear ice shows on the broken ones.
    let rime = (ease(0.36, 0.70, cloud3(q * 3.1, 72)) * (0.30 + 0.5 * up) + 0.35 * up).min(1.0);
    let powder = ease(0.48, 0.62, cloud3(pos * 0.55, 81)) * (0.2 + 0.5 * rime);
    let crack = fractures(part.seed, pos);
    let deep = v3(0.155, 0.235, 0.275).mix(v3(0.30, 0.39, 0.43), cloud);
    out.albedo = deep.mix(v3(0.54, 0.57, 0.58), (rime * 0.8).max(powder));
    out.albedo = out.albedo.mix(v3(0.60, 0.63, 0.64), 0.75 * crack.0) * (1.0 - 0.45 * crack.1);
    let ragged = 0.4 + 1.6 * noise3(pos * 0.8, 82);
    let edge = 1.0 - ease(0.0, ragged, s.edge);
    out.albedo = out.albedo.mix(v3(0.60, 0.63, 0.64), 0.55 * edge);
    out.albedo = out.albedo * 0.82;
    out.gloss = 0.5 * (1.0 - rime) * (1.0 - powder);
    out.shine = 0.8;
    out.milk = 0.20 * (1.0 - 0.6 * rime);
    let (chip, depth) = flakes(
        pos * 0.15
            + v3(
                noise3(pos * 0.2, 85),
                noise3(pos * 0.2, 86),
                unit_of(part.seed) * 9.0,
            ) * 0.9,
    );
    let hacked = ease(0.42, 0.58, cloud3(pos * 0.035, 83));
    out.albedo = out.albedo * (1.0 - 0.06 * hacked * depth);
    let w = pos * 0.6;
    let bump = v3(
        noise3(w, 75) - 0.5,
        noise3(w, 76) - 0.5,
        noise3(w, 77) - 0.5,
    );
    let fine = v3(
        noise3(w * 5.0, 78) - 0.5,
        noise3(w * 5.0, 79) - 0.5,
        noise3(w * 5.0, 80) - 0.5,
    );
    out.normal =
        (out.normal + chip * (0.32 * hacked) + bump * 0.16 + fine * (0.10 + 0.30 * powder)).unit();
}

/// Flat flakes of a hacked surface: the tilt of the nearest of a jittered lattice of seeds, and 1 deep between seeds.
fn flakes(p: V3) -> (V3, f32) {
    let (ix, iy, iz) = (floor_i(p.x), floor_i(p.y), floor_i(p.z));
    let (mut best, mut next, mut id) = (1e9_f32, 1e9_f32, 0_u32);
    for i in 0..27 {
        let (cx, cy, cz) = (ix + i % 3 - 1, iy + i / 3 % 3 - 1, iz + i / 9 - 1);
        let h = hash2(
            hash2(cx.cast_unsigned(), cy.cast_unsigned()),
            cz.cast_unsigned(),
        );
        let seed = v3(unit_of(h), unit_of(hash2(h, 1)), unit_of(hash2(h, 2)));
        #[expect(clippy::cast_precision_loss, reason = "lattice indices are small")]
        let d = v3(cx as f32, cy as f32, cz as f32) + seed - p;
        let d2 = d.dot(d);
        if d2 < best {
            (next, best, id) = (best, d2, h);
        } else {
            next = next.min(d2);
        }
    }
    let tilt = v3(
        unit_of(hash2(id, 4)),
        unit_of(hash2(id, 5)),
        unit_of(hash2(id, 6)),
    ) * 2.0
        - v3(1.0, 1.0, 1.0);
    (tilt, 1.0 - ease(0.0, 0.12, next.sqrt() - best.sqrt()))
}

/// Fracture planes through a casting: (white bruise, dark hairline), each 0..1.
fn fractures(seed: u32, pos: V3) -> (f32, f32) {
    let wobble = v3(
        noise3(pos * 0.12, 61) - 0.5,
        noise3(pos * 0.12, 62) - 0.5,
        noise3(pos * 0.12, 63) - 0.5,
    ) * 5.0
        + v3(
            noise3(pos * 0.7, 64) - 0.5,
            noise3(pos * 0.7, 65) - 0.5,
            noise3(pos * 0.7, 66) - 0.5,
        ) * 1.1;
    let p = pos + wobble;
    let mut out = (0.0_f32, 0.0_f32);
    for i in 0..5_u32 {
        let h = hash2(seed, 600 + i);
        let n = v3(
            unit_of(h) - 0.5,
            unit_of(hash2(h, 1)) - 0.5,
            unit_of(hash2(h, 2)) - 0.5,
        )
        .unit();
        let d = (n.dot(p) - (unit_of(hash2(h, 3)) - 0.5) * 34.0).abs();
        // A fracture runs for a way and dies out.
        let alive = ease(0.40, 0.56, noise3(pos * 0.05 + n * 9.0, 67 + i));
        out.0 = out
            .0
            .max(alive * (0.5 * (1.0 - ease(0.0, 1.9, d)) + 0.5 * (1.0 - ease(0.1, 0.5, d))));
        out.1 = out.1.max(alive * (1.0 - ease(0.05, 0.16, d)));
    }
    out
}

/// Streaks, dust, dry-brushed edges and chips.
pub(crate) fn weather(out: &mut Surface, paint: Paint, s: &Spot, pos: V3) {
    let blotch = cloud3(pos * 0.035, 31);
    let fine = noise3(pos * 0.9, 32);
    out.albedo = out.albedo * (0.80 + 0.34 * blotch + 0.10 * fine);
    if out.plain.z.abs() < 0.6 {
        let h = pos.x + 0.8 * pos.y;
        let run =
            noise2(h * 0.42, pos.z * 0.022, 33) * 0.65 + noise2(h * 1.7, pos.z * 0.05, 34) * 0.35;
        let dark = ease(0.54, 0.82, run);
        let rust = ease(0.66, 0.9, noise2(h * 0.8, pos.z * 0.03, 35));
        out.albedo = out.albedo * (1.0 - 0.42 * dark);
        out.albedo = out.albedo.mix(v3(0.12, 0.055, 0.025), 0.5 * rust);
        let salt = ease(0.7, 0.95, noise2(h * 1.1, pos.z * 0.035, 36));
        out.albedo = out.albedo.mix(v3(0.42, 0.41, 0.38), 0.22 * salt);
    } else if out.plain.z > 0.6 {
        let dust = ease(0.4, 0.8, cloud3(pos * 0.07, 37));
        out.albedo = out.albedo.mix(v3(0.27, 0.25, 0.22), 0.22 * dust);
    }
    // Dry-brushed edges and chipped paint.
    let near = 1.0 - ease(0.05, 0.55, s.edge);
    let lift = out.albedo * 1.45 + v3(0.035, 0.034, 0.032);
    out.albedo = out.albedo.mix(lift, 0.75 * near);
    let bare = if s.edge < 0.9 {
        ease(0.55, 0.62, cloud3(pos * 0.85, 38)) * (1.0 - ease(0.25, 0.9, s.edge))
    } else {
        0.0
    };
    let under = if paint == Paint::Oxide {
        v3(0.2, 0.18, 0.16)
    } else {
        v3(0.30, 0.28, 0.25)
    };
    out.albedo = out.albedo.mix(under, 0.6 * bare);
    out.gloss += 0.12 * bare;
    let worn = ease(0.45, 0.6, cloud3(pos * 0.09, 40));
    if worn > 0.0 {
        let scuff = ease(0.68, 0.76, cloud3(pos * 1.1, 39)) * worn;
        out.albedo = out.albedo.mix(v3(0.10, 0.095, 0.09), 0.55 * scuff);
    }
}

/// Soot about its places.
pub(crate) fn smoke(out: &mut Surface, soot: &[Soot], pos: V3) {
    for (c, reach) in soot {
        let d = pos - *c;
        let k = (d.len() / reach) * (1.0 - 0.25 * (d.z / reach).clamp(-1.0, 1.0));
        if k > 1.3 {
            continue;
        }
        let dark = (1.0 - ease(0.25, 1.0, k + 0.5 * (cloud3(pos * 0.09, 41) - 0.5))) * 0.85;
        out.albedo = out.albedo * (1.0 - dark);
    }
}
