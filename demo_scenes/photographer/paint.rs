//! Paint, panel lines, rivets, wear and dirt, worked out where a ray meets a part.

use crate::part::{Hit, Paint, Part, Plane, Shape};
use crate::plating::{NAMES, Plating, lettering, plating};
use crate::spot::{Spot, spot_of};
use crate::vec3::{V3, cloud3, ease, hash2, noise2, noise3, unit_of, v3};

/// What the light needs to know of a surface point.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Surface {
    /// Bumped unit normal, turned to the viewer.
    pub(crate) normal: V3,
    /// Plain unit normal, turned to the viewer.
    pub(crate) plain: V3,
    /// Diffuse reflectance.
    pub(crate) albedo: V3,
    /// Strength of the soft highlight.
    pub(crate) gloss: f32,
    /// Sharpness of the highlight (0..1).
    pub(crate) shine: f32,
    /// Share of light that goes through (ice).
    pub(crate) milk: f32,
    /// Own light of the furnace group.
    pub(crate) furnace: V3,
    /// Own light of the running group.
    pub(crate) running: V3,
}

/// Places that soot the model: centre, reach in mm.
pub(crate) type Soot = (V3, f32);

/// Light of a window pane of this seed, if it is lit.
pub(crate) fn pane(seed: u32) -> Option<V3> {
    let h = hash2(seed, 77);
    if unit_of(h) > 0.72 {
        return None;
    }
    let warm = unit_of(hash2(h, 3));
    Some(v3(1.0, 0.74 + 0.12 * warm, 0.42 + 0.3 * warm) * (0.5 + 0.8 * unit_of(hash2(h, 5))))
}

/// Base reflectance of a paint, without any wear.
pub(crate) fn base(paint: Paint) -> V3 {
    match paint {
        Paint::Hull | Paint::Named => v3(0.235, 0.262, 0.232),
        Paint::Warm => v3(0.33, 0.275, 0.175),
        Paint::Oxide => v3(0.17, 0.072, 0.05),
        Paint::Deck => v3(0.13, 0.135, 0.125),
        Paint::Dark => v3(0.055, 0.057, 0.06),
        Paint::Grey => v3(0.17, 0.175, 0.18),
        Paint::Metal => v3(0.3, 0.29, 0.275),
        Paint::Ochre => v3(0.43, 0.235, 0.045),
        Paint::Hazard => v3(0.3, 0.2, 0.05),
        Paint::Soot => v3(0.022, 0.021, 0.02),
        Paint::Heat => v3(0.16, 0.11, 0.085),
        Paint::White => v3(0.42, 0.415, 0.385),
        Paint::Glass => v3(0.012, 0.014, 0.018),
        Paint::Coal => v3(0.10, 0.045, 0.02),
        Paint::Ember => v3(0.12, 0.06, 0.03),
        Paint::LampWhite => v3(0.5, 0.5, 0.48),
        Paint::LampRed => v3(0.3, 0.03, 0.025),
        Paint::LampGreen => v3(0.03, 0.22, 0.1),
        Paint::LampAmber => v3(0.4, 0.2, 0.03),
        Paint::Ice => v3(0.27, 0.33, 0.36),
        Paint::Cell => v3(0.012, 0.018, 0.045),
        Paint::Stand => v3(0.03, 0.03, 0.03),
        Paint::Void => v3(0.008, 0.008, 0.008),
        Paint::Lint => v3(0.6, 0.58, 0.54),
    }
}

fn plated(paint: Paint) -> bool {
    matches!(
        paint,
        Paint::Hull
            | Paint::Named
            | Paint::Warm
            | Paint::Oxide
            | Paint::Deck
            | Paint::White
            | Paint::Grey
    )
}

/// The surface under a hit at `pos` seen along `dir`.
pub(crate) fn look(scene: (&Part, &[Plane], &[Soot]), pos: V3, dir: V3, hit: &Hit) -> Surface {
    let (part, planes, soot) = scene;
    let l = part.inward(pos - part.centre);
    let s = spot_of(part, planes, l, hit);
    let mut plain = part.outward(s.n);
    let flip = if plain.dot(dir) > 0.0 { -1.0 } else { 1.0 };
    plain = plain * flip;
    let mut out = Surface {
        normal: plain,
        plain,
        albedo: base(part.paint),
        gloss: 0.03,
        shine: 0.25,
        milk: 0.0,
        furnace: V3::default(),
        running: V3::default(),
    };
    // The primer ends below the seam: above its waterline the lower hull wears the hull's colour.
    if part.paint == Paint::Oxide && pos.z > -9.0 {
        out.albedo = base(Paint::Hull);
    }
    let mut slope = (0.0, 0.0);
    let board = part.paint == Paint::Named && s.ext.0 < 40.0;
    if plated(part.paint)
        && !board
        && s.ext.0.min(s.ext.1) > 2.0 * part.fine
        && s.ext.0.max(s.ext.1) > 6.0 * part.fine
    {
        let p = plating(&s.scaled(1.0 / part.fine), 7, 11.0);
        slope = p.slope;
        tone(&mut out, &p, &s.scaled(1.0 / part.fine));
    }
    special(&mut out, part, &s, pos);
    if !matches!(
        part.paint,
        Paint::Lint | Paint::Void | Paint::Stand | Paint::Ice | Paint::Glass | Paint::Cell
    ) {
        weather(&mut out, part.paint, &s, pos);
        smoke(&mut out, soot, pos);
    }
    let bumped = out.normal - plain;
    let tilt = s.n + s.lean * 0.8 - s.u_dir * slope.0 - s.v_dir * slope.1;
    out.normal = (part.outward(tilt.unit()) * flip + bumped + grain(pos, part.paint)).unit();
    if out.normal.dot(dir) > -0.02 {
        out.normal = (out.normal - dir * (out.normal.dot(dir) + 0.05)).unit();
    }
    out
}

fn grain(pos: V3, paint: Paint) -> V3 {
    if paint == Paint::Ice {
        return V3::default();
    }
    let k = if matches!(paint, Paint::Soot | Paint::Heat) {
        0.12
    } else {
        0.05
    };
    let q = pos * 1.9;
    v3(
        noise3(q, 11) - 0.5,
        noise3(q, 12) - 0.5,
        noise3(q, 13) - 0.5,
    ) * k
}

fn tone(out: &mut Surface, p: &Plating, s: &Spot) {
    let tones = [1.0, 0.95, 1.06, 0.88, 1.0, 1.13, 0.93, 1.03, 0.82, 1.2];
    let k = tones[(hash2(p.cell, 61) % 10) as usize];
    let hue = unit_of(hash2(p.cell, 62)) - 0.5;
    out.albedo = out.albedo * v3(k * (1.0 + 0.06 * hue), k, k * (1.0 - 0.09 * hue));
    if hash2(p.cell, 63).is_multiple_of(23) {
        out.albedo = out.albedo * v3(1.25, 1.02, 0.74);
    }
    if p.ink > 0.0 {
        let c = [
            v3(0.5, 0.48, 0.42),
            v3(0.45, 0.27, 0.04),
            v3(0.30, 0.05, 0.03),
        ][(hash2(p.cell, 75) % 3) as usize];
        out.albedo = out.albedo.mix(c, 0.75);
    }
    // A pin wash settles in the lines and fades beside them.
    let wash = 0.75 * p.line + 0.16 * (1.0 - ease(0.1, 1.4, p.gap)) + 0.12 * p.rivet;
    let stain = 0.7 + 0.6 * noise2(s.u * 0.3, s.v * 0.3, s.seed);
    out.albedo = out.albedo * (1.0 - (wash * stain).min(0.9));
}

fn special(out: &mut Surface, part: &Part, s: &Spot, pos: V3) {
    match part.paint {
        Paint::Named => named(out, part, s, pos),
        Paint::Hazard => hazard(out, part, s, pos),
        Paint::Metal => {
            out.gloss = 0.35;
            out.shine = 0.5;
        }
        Paint::Heat => {
            let t = cloud3(pos * 0.12, 15);
            out.albedo = v3(0.19, 0.12, 0.07).mix(v3(0.07, 0.075, 0.11), ease(0.35, 0.65, t));
            out.gloss = 0.22;
            out.shine = 0.45;
        }
        Paint::Glass => {
            out.gloss = 0.5;
            out.shine = 0.9;
            if let Some(c) = pane(part.seed) {
                // A curtain or a bunk edge behind the pane breaks the evenness.
                let k = 0.55 + 0.9 * noise2(s.u * 0.8, s.v * 0.25, part.seed);
                let edge = ease(0.0, 0.5, s.edge);
                out.running = c * (k * (0.5 + 0.5 * edge) * 1.3);
            }
        }
        Paint::Coal
        | Paint::Ember
        | Paint::LampWhite
        | Paint::LampRed
        | Paint::LampGreen
        | Paint::LampAmber => glowing(out, part, s, pos),
        Paint::Ice => ice(out, part, s, pos),
        Paint::Cell => {
            out.gloss = 0.3;
            out.shine = 0.8;
        }
        Paint::Hull
        | Paint::Warm
        | Paint::Oxide
        | Paint::Deck
        | Paint::Dark
        | Paint::Grey
        | Paint::Ochre
        | Paint::Soot
        | Paint::White
        | Paint::Stand
        | Paint::Void
        | Paint::Lint => {}
    }
}

fn named(out: &mut Surface, part: &Part, s: &Spot, pos: V3) {
    let name = NAMES.get(part.seed as usize).copied().unwrap_or("");
    let mirror = if s.n.y > 0.5 || s.n.x < -0.5 {
        -1.0
    } else {
        1.0
    };
    let tall = 1.25 * s.ext.1;
    if s.n.y.abs() > 0.5 {
        let ink = lettering(name, s.u * mirror / tall, s.v / tall);
        let worn = ease(0.22, 0.36, cloud3(pos * 0.5, 5));
        out.albedo = out.albedo.mix(v3(0.56, 0.53, 0.45), ink * worn * 0.96);
    }
}

fn hazard(out: &mut Surface, part: &Part, s: &Spot, pos: V3) {
    let w = 2.0
        * part
            .half
            .x
            .min(part.half.y)
            .min(part.half.z)
            .clamp(1.2, 4.5);
    let q = (s.u + s.v) / w;
    let dark = q - libm::floorf(q) < 0.5;
    let worn = ease(0.3, 0.42, cloud3(pos * 0.6, 8));
    let c = if dark {
        v3(0.03, 0.03, 0.03)
    } else {
        v3(0.48, 0.3, 0.04)
    };
    out.albedo = v3(0.16, 0.15, 0.13).mix(c, worn);
}

/// Own light of embers and lamps.
fn glowing(out: &mut Surface, part: &Part, s: &Spot, pos: V3) {
    if part.paint == Paint::Coal {
        let t = cloud3(pos * 0.22, 21);
        let hot = ease(0.36, 0.72, t);
        out.furnace = v3(0.55, 0.06, 0.006).mix(v3(1.5, 0.62, 0.15), hot) * (0.25 + 0.85 * hot);
    } else if part.paint == Paint::Ember {
        let k = 0.6 + 0.8 * noise3(pos * 0.3, 4);
        out.furnace = v3(0.85, 0.2, 0.03) * k;
    } else if part.paint == Paint::LampWhite {
        out.running = v3(3.2, 2.7, 2.0);
    } else if part.paint == Paint::LampRed {
        out.running = v3(3.0, 0.18, 0.1);
    } else if part.paint == Paint::LampGreen {
        out.running = v3(0.2, 2.6, 1.0);
    } else if part.paint == Paint::LampAmber {
        let t = (s.v / s.ext.1).clamp(-1.0, 1.0);
        // The rings of a big lamp's lens are brightest in their middle; a bead is bright all over.
        let k = if matches!(part.shape, Shape::Rod) {
            0.14 + 0.42 * (1.0 - t * t)
        } else {
            1.0
        };
        out.running = v3(3.0, 1.3, 0.25) * k;
    }
}

fn ice(out: &mut Surface, part: &Part, s: &Spot, pos: V3) {
    let q = pos * 0.09 + v3(unit_of(part.seed) * 50.0, 0.0, 0.0);
    // Sawn faces are frosted all over, broken ones clear with patches of rime.
    let own = unit_of(hash2(s.seed, 81));
    let grainy = 0.72 * cloud3(q * 4.0, 72) + 0.28 * cloud3(q * 17.0, 70);
    let frost = ease(
        0.0,
        1.0,
        1.25 * own - 0.28 + 1.25 * (grainy - 0.48) + 0.5 * (cloud3(q * 0.9, 69) - 0.5),
    );
    let cloud = cloud3(q * 1.4, 71);
    let ridge = |k: f32, seed: u32, w: f32| 1.0 - ease(0.0, w, (cloud3(q * k, seed) - 0.5).abs());
    let torn = ease(0.45, 0.6, cloud3(q * 0.8, 68));
    let crack = (ridge(0.45, 73, 0.010) * torn).max(0.5 * ridge(1.1, 74, 0.012) * (1.0 - torn));
    let veil = 0.35 * ridge(0.7, 67, 0.07);
    let deep = v3(0.075, 0.135, 0.165).mix(v3(0.17, 0.235, 0.265), cloud);
    out.albedo = deep.mix(v3(0.335, 0.365, 0.38), frost.max(0.8 * crack).max(veil));
    let edge = (1.0 - ease(0.0, 0.9, s.edge)) * ease(0.35, 0.6, grainy);
    out.albedo = out.albedo.mix(v3(0.36, 0.38, 0.385), 0.8 * edge);
    out.gloss = 0.22 * (1.0 - frost);
    out.shine = 0.72;
    out.milk = 0.34;
    let w = pos * 0.22;
    let bump = v3(
        noise3(w, 75) - 0.5,
        noise3(w, 76) - 0.5,
        noise3(w, 77) - 0.5,
    );
    let k = part.fine;
    let w = pos * (2.3 / k);
    let fine = v3(
        noise3(w, 78) - 0.5,
        noise3(w, 79) - 0.5,
        noise3(w, 80) - 0.5,
    );
    out.normal = out.normal + bump * (0.34 - 0.2 * frost) + fine * ((0.06 + 0.2 * frost) * k * k);
    if own > 0.62 {
        let saw = noise2(s.u * 0.03, s.v * 1.4, s.seed) - 0.5;
        out.normal += part.outward(s.v_dir) * (0.15 * saw * k);
    }
    out.normal = out.normal.unit();
}

fn weather(out: &mut Surface, paint: Paint, s: &Spot, pos: V3) {
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
    let chip = cloud3(pos * 0.85, 38);
    let near = 1.0 - ease(0.05, 0.55, s.edge);
    let lift = out.albedo * 1.45 + v3(0.035, 0.034, 0.032);
    out.albedo = out.albedo.mix(lift, 0.75 * near);
    let bare = ease(0.55, 0.62, chip) * (1.0 - ease(0.25, 0.9, s.edge));
    let under = if paint == Paint::Oxide {
        v3(0.2, 0.18, 0.16)
    } else {
        v3(0.30, 0.28, 0.25)
    };
    out.albedo = out.albedo.mix(under, 0.75 * bare);
    out.gloss += 0.12 * bare;
    let scuff = ease(0.70, 0.74, cloud3(pos * 0.4, 39));
    out.albedo = out.albedo.mix(v3(0.10, 0.095, 0.09), 0.55 * scuff);
}

fn smoke(out: &mut Surface, soot: &[Soot], pos: V3) {
    for (c, reach) in soot {
        let d = pos - *c;
        let k = (d.len() / reach) * (1.0 - 0.25 * (d.z / reach).clamp(-1.0, 1.0));
        let dark = (1.0 - ease(0.25, 1.0, k + 0.5 * (cloud3(pos * 0.09, 41) - 0.5))) * 0.85;
        out.albedo = out.albedo * (1.0 - dark);
    }
}
