//! Panel lines, raised plates, rivets and stencilled names on a face.

use crate::spot::Spot;
use crate::vec3::{ease, floor_i, hash2, unit_of};

/// What plating does at a point.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Plating {
    /// Cell of the splitting.
    pub(crate) cell: u32,
    /// 0..1, 1 in the middle of a panel line.
    pub(crate) line: f32,
    /// Slope along u and v.
    pub(crate) slope: (f32, f32),
    /// Distance to the nearest line, mm.
    pub(crate) gap: f32,
    /// 1 on a rivet.
    pub(crate) rivet: f32,
    /// 1 where a small stencilled notice has ink.
    pub(crate) ink: f32,
}

/// Splits the face 3 to 5 times and finds the cell, its lines and its rivets.
pub(crate) fn plating(s: &Spot, levels: u32, least: f32) -> Plating {
    let (mut lo, mut hi) = ((-s.ext.0, -s.ext.1), (s.ext.0, s.ext.1));
    let mut wide = [0.0_f32; 4];
    let mut cell = hash2(s.seed, 9);
    for level in 0..levels {
        let (w, h) = (hi.0 - lo.0, hi.1 - lo.1);
        if w.max(h) < least || (level > 2 && unit_of(hash2(cell, 21)) < 0.25) {
            break;
        }
        let cut = 0.3 + 0.1 * libm::floorf(unit_of(hash2(cell, 22)) * 5.0);
        let line = [0.13, 0.18, 0.24, 0.4][(hash2(cell, 23) % 4) as usize];
        let along_u = if w > 1.6 * h {
            true
        } else if h > 1.6 * w {
            false
        } else {
            hash2(cell, 24) & 1 == 0
        };
        let high;
        if along_u {
            let m = lo.0 + w * cut;
            high = s.u > m;
            if high {
                (lo.0, wide[0]) = (m, line);
            } else {
                (hi.0, wide[1]) = (m, line);
            }
        } else {
            let m = lo.1 + h * cut;
            high = s.v > m;
            if high {
                (lo.1, wide[2]) = (m, line);
            } else {
                (hi.1, wide[3]) = (m, line);
            }
        }
        cell = hash2(cell, if high { 31 } else { 32 });
    }
    let d = [s.u - lo.0, hi.0 - s.u, s.v - lo.1, hi.1 - s.v];
    let mut out = lines(cell, &d, &wide);
    rivets(s, &d, (lo, hi), &mut out);
    out.ink = notice(cell, (s.u - lo.0, hi.1 - s.v), (hi.0 - lo.0, hi.1 - lo.1));
    out
}

/// Lines and lips of a cell whose borders are `d` away and `wide`.
fn lines(cell: u32, d: &[f32; 4], wide: &[f32; 4]) -> Plating {
    let mut out = Plating {
        cell,
        gap: 1e3,
        ..Plating::default()
    };
    let raise = match hash2(cell, 41) % 5 {
        0 => 0.55,
        1 => -0.45,
        _ => 0.0,
    };
    for i in 0..4 {
        if wide[i] <= 0.0 {
            continue;
        }
        out.gap = out.gap.min(d[i]);
        out.line = out
            .line
            .max(1.0 - ease(wide[i] * 0.7, wide[i] * 1.25, d[i]));
        let sign = if i % 2 == 0 { 1.0 } else { -1.0 };
        let lip = (1.0 - ease(0.0, wide[i] + 0.35, d[i])) * (raise + 0.35) * sign;
        if i < 2 {
            out.slope.0 += lip;
        } else {
            out.slope.1 += lip;
        }
    }
    out
}

/// A few lines of small stencilled words near a corner of some cells; `at` from the cell's upper corner, mm.
fn notice(cell: u32, at: (f32, f32), size: (f32, f32)) -> f32 {
    if !hash2(cell, 71).is_multiple_of(6) || size.0 < 9.0 || size.1 < 6.0 {
        return 0.0;
    }
    let wide = 3.0 + 3.5 * unit_of(hash2(cell, 72));
    let rows = 1 + floor_i(3.0 * unit_of(hash2(cell, 73)));
    let (x, y) = (at.0 - 1.8, (at.1 - 1.8) / 0.85);
    let row = floor_i(y);
    if x < 0.0 || x > wide || row < 0 || row >= rows || y - y.floor() > 0.55 {
        return 0.0;
    }
    let letter = hash2(
        hash2(cell, 74),
        hash2(row.cast_unsigned(), floor_i(x / 0.36).cast_unsigned()),
    );
    if letter.is_multiple_of(4) { 0.0 } else { 1.0 }
}

fn rivets(s: &Spot, d: &[f32; 4], box_: ((f32, f32), (f32, f32)), out: &mut Plating) {
    let (lo, hi) = box_;
    let small = (hi.0 - lo.0).min(hi.1 - lo.1) < 5.0;
    if small || unit_of(hash2(out.cell, 51)) < 0.45 {
        return;
    }
    let pitch = 1.7 + 0.9 * unit_of(hash2(out.cell, 52));
    let (i, near) =
        d.iter().enumerate().fold(
            (0, 1e9_f32),
            |a, b| if *b.1 < a.1 { (b.0, *b.1) } else { a },
        );
    let along = if i < 2 { s.v - lo.1 } else { s.u - lo.0 };
    let a = (along / pitch - libm::floorf(along / pitch) - 0.5) * pitch;
    let b = near - 1.0;
    let r2 = a * a + b * b;
    if r2 < 0.1 {
        out.rivet = 1.0;
        let sign = if i % 2 == 0 { 1.0 } else { -1.0 };
        let (du, dv) = if i < 2 { (b * sign, a) } else { (a, b * sign) };
        out.slope.0 -= du * 2.6;
        out.slope.1 -= dv * 2.6;
    }
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
pub(crate) const NAMES: [&str; 5] = ["GRINDSTONE", "DUNNOCK", "TANSY", "GR-74", "T-4"];

/// 1 where the name's strokes are; `x` grows to the right, both in letter heights from the middle.
#[expect(
    clippy::cast_precision_loss,
    clippy::cast_sign_loss,
    reason = "cells of a small raster"
)]
pub(crate) fn lettering(name: &str, x: f32, y: f32) -> f32 {
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
