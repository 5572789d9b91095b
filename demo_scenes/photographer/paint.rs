//! Paint, panel lines, rivets, wear and dirt, worked out where a ray meets a part.

use crate::part::{Hit, Paint, Part, Plane};
use crate::plates::{Plating, Spot, plating, spot_of};
use crate::vec3::{V3, cloud3, ease, floor_i, hash2, noise2, noise3, unit_of, v3};
use crate::weather::{ice, smoke, weather};

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

const GLYPHS: [(char, [u8; 7]); 17] = [
    ('G', [14, 17, 16, 23, 17, 17, 14]),
    ('R', [30, 17, 17, 30, 20, 18, 17]),
    ('I', [14, 4, 4, 4, 4, 4, 14]),
    ('N', [17, 25, 21, 19, 17, 17, 17]),
    ('D', [30, 17, 17, 17, 17, 17, 30]),
    ('S', [15, 16, 16, 14, 1, 1, 30]),
    ('T', [31, 4, 4, 4, 4, 4, 4]),
    ('O', [14, 17, 17, 17, 17, 17, 14]),
    ('E', [31, 16, 16, 30, 16, 16, 31]),
    ('U', [17, 17, 17, 17, 17, 17, 14]),
    ('C', [14, 17, 16, 16, 16, 17, 14]),
    ('K', [17, 18, 20, 24, 20, 18, 17]),
    ('A', [14, 17, 17, 31, 17, 17, 17]),
    ('Y', [17, 17, 10, 4, 4, 4, 4]),
    ('7', [31, 1, 2, 4, 4, 4, 4]),
    ('4', [2, 6, 10, 18, 31, 2, 2]),
    ('-', [0, 0, 0, 14, 0, 0, 0]),
];

/// Names by the seed of a named part.
const NAMES: [&str; 5] = ["GRINDSTONE", "DUNNOCK", "TANSY", "GR-74", "T-4"];

/// 1 where the name's strokes are; `x` grows to the right, both in letter heights from the middle.
#[expect(
    clippy::cast_precision_loss,
    clippy::cast_sign_loss,
    reason = "cells of a small raster"
)]
fn lettering(name: &str, x: f32, y: f32) -> f32 {
    let n = name.chars().count() as f32;
    let cx = x * 7.0 + n * 3.0;
    let cy = (0.5 - y) * 7.0;
    if cx < 0.0 || !(0.0..7.0).contains(&cy) || cx >= n * 6.0 {
        return 0.0;
    }
    let (at, row) = (floor_i(cx / 6.0), floor_i(cy));
    let col = floor_i(cx - 6.0 * at as f32);
    let Some(c) = name.chars().nth(at as usize) else {
        return 0.0;
    };
    let bits = GLYPHS
        .iter()
        .find(|g| g.0 == c)
        .map_or(0, |g| g.1[row as usize]);
    // A stencil bridge keeps it from looking printed.
    let bridge = (cy - 3.3).abs() < 0.22;
    if col < 5 && (bits >> (4 - col)) & 1 == 1 && !bridge {
        1.0
    } else {
        0.0
    }
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
        Paint::White => v3(0.56, 0.55, 0.5),
        Paint::Glass => v3(0.012, 0.014, 0.018),
        Paint::Coal => v3(0.10, 0.045, 0.02),
        Paint::Ember => v3(0.12, 0.06, 0.03),
        Paint::LampWhite => v3(0.5, 0.5, 0.48),
        Paint::LampRed => v3(0.3, 0.03, 0.025),
        Paint::LampGreen => v3(0.03, 0.22, 0.1),
        Paint::LampAmber => v3(0.4, 0.2, 0.03),
        Paint::Ice => v3(0.62, 0.70, 0.76),
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
    let mut slope = (0.0, 0.0);
    if plated(part.paint) && s.ext.0.min(s.ext.1) > 2.0 && s.ext.0.max(s.ext.1) > 6.0 {
        let p = plating(&s, 7, 11.0);
        slope = p.slope;
        tone(&mut out, &p, &s);
    }
    special(&mut out, part, &s, pos);
    if !matches!(
        part.paint,
        Paint::Lint | Paint::Void | Paint::Stand | Paint::Ice | Paint::Glass
    ) {
        weather(&mut out, part.paint, &s, pos);
        smoke(&mut out, soot, pos);
    }
    let tilt = s.n + s.lean * 0.8 - s.u_dir * slope.0 - s.v_dir * slope.1;
    let hacked = out.normal - out.plain;
    out.normal = (part.outward(tilt.unit()) * flip + grain(pos, part.paint) + hacked).unit();
    if out.normal.dot(dir) > -0.02 {
        out.normal = (out.normal - dir * (out.normal.dot(dir) + 0.05)).unit();
    }
    out
}

fn grain(pos: V3, paint: Paint) -> V3 {
    let k = match paint {
        Paint::Ice => return V3::default(),
        Paint::Soot | Paint::Heat => 0.12,
        _ => 0.05,
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
    // A pin wash settles in the lines and fades beside them.
    let wash = 0.75 * p.line + 0.16 * (1.0 - ease(0.1, 1.4, p.gap)) + 0.12 * p.rivet;
    let stain = 0.7 + 0.6 * noise2(s.u * 0.3, s.v * 0.3, s.seed);
    out.albedo = out.albedo * (1.0 - (wash * stain).min(0.9));
}

fn special(out: &mut Surface, part: &Part, s: &Spot, pos: V3) {
    match part.paint {
        Paint::Named => {
            let name = NAMES.get(part.seed as usize).copied().unwrap_or("");
            let tall = 1.25 * s.ext.1;
            // Names stand on the outer face of a plate laid on a pad (its own third axis).
            if s.n.z > 0.5 {
                let ink = lettering(name, s.u / tall, s.v / tall);
                let worn = ease(0.30, 0.44, cloud3(pos * 0.7, 5));
                out.albedo = out.albedo.mix(v3(0.56, 0.53, 0.45), ink * worn * 0.92);
            }
        }
        Paint::Hazard => {
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
                out.running = c * (k * (0.5 + 0.5 * edge) * 0.62);
            }
        }
        Paint::Coal => {
            let t = cloud3(pos * 0.22, 21);
            let hot = ease(0.36, 0.72, t);
            out.furnace = v3(0.9, 0.13, 0.012).mix(v3(2.6, 1.25, 0.36), hot) * (0.10 + 0.26 * hot);
        }
        Paint::Ember => {
            let k = 0.6 + 0.8 * noise3(pos * 0.3, 4);
            out.furnace = v3(0.75, 0.22, 0.035) * k;
        }
        Paint::LampWhite => out.running = v3(2.2, 1.8, 1.25),
        Paint::LampRed => out.running = v3(2.0, 0.10, 0.06),
        Paint::LampGreen => out.running = v3(0.12, 1.8, 0.65),
        Paint::LampAmber => out.running = v3(1.4, 0.42, 0.06),
        Paint::Ice => ice(out, part, s, pos),
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

/// Plain normal under a hit, turned to the viewer, without any paint.
pub(crate) fn plain_normal(part: &Part, planes: &[Plane], pos: V3, ray: (V3, &Hit)) -> V3 {
    let l = part.inward(pos - part.centre);
    let n = part.outward(spot_of(part, planes, l, ray.1).n);
    if n.dot(ray.0) > 0.0 { -n } else { n }
}
