//! Gradient noise with its slope, and sums of it.
//!
//! Source: Perlin, Improving noise, 2002; the slope by differentiating the interpolation. Hashing replaces the permutation table, so
//! that the pattern repeats only after 2^32 cells.

use crate::pixels::convert::floor_i32;

/// Value (about -1..1) and slope of a noise field at a place.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Sample {
    pub(super) value: f32,
    pub(super) slope: [f32; 3],
}

/// Scrambles a lattice place (a 32-bit mixer with full avalanche, after Wellons' search for good multipliers).
fn hash(seed: u32, x: i32, y: i32, z: i32) -> u32 {
    let mut h = seed
        ^ x.cast_unsigned().wrapping_mul(0x8da6_b343)
        ^ y.cast_unsigned().wrapping_mul(0xd816_3841)
        ^ z.cast_unsigned().wrapping_mul(0xcb1a_b31f);
    h = (h ^ (h >> 16)).wrapping_mul(0x7feb_352d);
    h = (h ^ (h >> 15)).wrapping_mul(0x846c_a68b);
    h ^ (h >> 16)
}

/// One of the twelve edge directions of a cube.
const EDGES: [[f32; 3]; 16] = [
    [1.0, 1.0, 0.0],
    [-1.0, 1.0, 0.0],
    [1.0, -1.0, 0.0],
    [-1.0, -1.0, 0.0],
    [1.0, 0.0, 1.0],
    [-1.0, 0.0, 1.0],
    [1.0, 0.0, -1.0],
    [-1.0, 0.0, -1.0],
    [0.0, 1.0, 1.0],
    [0.0, -1.0, 1.0],
    [0.0, 1.0, -1.0],
    [0.0, -1.0, -1.0],
    [1.0, 1.0, 0.0],
    [-1.0, 1.0, 0.0],
    [0.0, -1.0, 1.0],
    [0.0, -1.0, -1.0],
];

fn fade(t: f32) -> (f32, f32) {
    (
        t * t * t * (t * (t * 6.0 - 15.0) + 10.0),
        30.0 * t * t * (t * (t - 2.0) + 1.0),
    )
}

/// Gradient noise at `p`, one cell per unit.
pub(super) fn gradient(seed: u32, p: [f32; 3]) -> Sample {
    let cell = p.map(floor_i32);
    let part = p.map(|value| value - value.floor());
    let ((u, du), (v, dv), (w, dw)) = (fade(part[0]), fade(part[1]), fade(part[2]));
    let mut value = [0.0_f32; 8];
    let mut slope = [[0.0_f32; 3]; 8];
    for corner in 0..8_i32 {
        let (i, j, k) = (corner & 1, (corner >> 1) & 1, corner >> 2);
        let edge = EDGES[crate::pixels::convert::clamp_index(
            (hash(seed, cell[0] + i, cell[1] + j, cell[2] + k) & 15).cast_signed(),
        )];
        let at = crate::pixels::convert::clamp_index(corner);
        let step = |whole: i32| if whole == 1 { 1.0 } else { 0.0 };
        value[at] = edge[0] * (part[0] - step(i))
            + edge[1] * (part[1] - step(j))
            + edge[2] * (part[2] - step(k));
        slope[at] = edge;
    }
    let [a, b, c, d, e, f, g, h] = value;
    let (k1, k2, k3) = (b - a, c - a, e - a);
    let (k4, k5, k6) = (a - b - c + d, a - c - e + g, a - b - e + f);
    let k7 = b - a + c - d + e - f - g + h;
    let mut out = Sample {
        value: a + k1 * u + k2 * v + k3 * w + k4 * u * v + k5 * v * w + k6 * w * u + k7 * u * v * w,
        slope: [
            du * (k1 + k4 * v + k6 * w + k7 * v * w),
            dv * (k2 + k5 * w + k4 * u + k7 * w * u),
            dw * (k3 + k6 * u + k5 * v + k7 * u * v),
        ],
    };
    for (at, along) in out.slope.iter_mut().enumerate() {
        let s = |corner: usize| slope[corner][at];
        let near = [
            s(0) + (s(1) - s(0)) * u,
            s(2) + (s(3) - s(2)) * u,
            s(4) + (s(5) - s(4)) * u,
            s(6) + (s(7) - s(6)) * u,
        ];
        let (low, high) = (
            near[0] + (near[1] - near[0]) * v,
            near[2] + (near[3] - near[2]) * v,
        );
        *along += low + (high - low) * w;
    }
    out
}

/// How a sum of octaves is made.
#[derive(Debug, Clone, Copy)]
pub(super) struct Octaves {
    pub(super) count: u32,
    /// Size of each octave against the one before.
    pub(super) gain: f32,
    /// Smallest wavelength, in the unit of the place, that the picture can show; finer octaves fade out.
    pub(super) finest: f32,
}

/// Share of an octave of wavelength `wave` that a picture with `finest` shows.
pub(super) fn shown(wave: f32, finest: f32) -> f32 {
    super::smooth(finest, 2.0 * finest, wave)
}

/// A sum of octaves, each twice as fine as the one before.
pub(super) fn octaves(seed: u32, p: [f32; 3], how: Octaves) -> Sample {
    let mut sum = Sample::default();
    let (mut size, mut scale) = (1.0_f32, 1.0_f32);
    for octave in 0..how.count {
        let share = size * shown(1.0 / scale, how.finest);
        if share <= 0.0 {
            break;
        }
        let place = [
            p[0] * scale + 17.3 * size,
            p[1] * scale - 31.7 * size,
            p[2] * scale + 5.1 * size,
        ];
        let one = gradient(seed.wrapping_add(octave.wrapping_mul(0x9e37_79b9)), place);
        sum.value += share * one.value;
        for (total, along) in sum.slope.iter_mut().zip(one.slope) {
            *total += share * scale * along;
        }
        size *= how.gain;
        scale *= 2.03;
    }
    sum
}

/// A sum of octaves of `1 - |noise|`: sharp ridges (or cracks), about 0..1.
pub(super) fn ridges(seed: u32, p: [f32; 3], how: Octaves) -> f32 {
    let (mut sum, mut whole, mut size, mut scale) = (0.0_f32, 0.0_f32, 1.0_f32, 1.0_f32);
    for octave in 0..how.count {
        let place = p.map(|value| value * scale + 9.2 * size);
        let shown = shown(1.0 / scale, how.finest);
        let one = if shown > 0.0 {
            gradient(seed.wrapping_add(octave.wrapping_mul(0x85eb_ca6b)), place).value
        } else {
            0.4
        };
        let ridge = (1.0 - 1.6 * one.abs()).max(0.0);
        sum += size * mixed(ridge * ridge, 0.3, shown);
        whole += size;
        size *= how.gain;
        scale *= 2.1;
    }
    sum / whole.max(1e-6)
}

/// `value` where the octave is shown, its mean where it is too fine.
fn mixed(value: f32, mean: f32, shown: f32) -> f32 {
    mean + (value - mean) * shown
}

/// Thin, long, branching lines, 0..1: places where slow noises pass through zero, broken up by another.
pub(super) fn seams(seed: u32, p: [f32; 3], finest: f32) -> f32 {
    let mut most = 0.0_f32;
    for (layer, (scale, width)) in [
        (1.3_f32, 0.020_f32),
        (2.4, 0.024),
        (4.7, 0.030),
        (8.9, 0.036),
    ]
    .into_iter()
    .enumerate()
    {
        let salt = seed
            ^ crate::pixels::convert::coordinate(layer)
                .cast_unsigned()
                .wrapping_mul(0x51ed_270b);
        let across = gradient(salt, p.map(|value| value * scale + 2.7));
        // Value over slope is the distance to the line, so that lines keep their width.
        let slope = super::dot(across.slope, across.slope).sqrt().max(0.35);
        let away = across.value.abs() / slope;
        // A line stays at least a pixel wide and fades instead of getting thinner.
        let least = 0.7 * finest * scale;
        let wide = width.max(least);
        let line = super::smooth(wide, 0.0, away) * (width / wide).min(1.0);
        let kept = gradient(
            salt ^ 0x77,
            [p[1] * scale * 0.6, p[2] * scale * 0.6, p[0] * scale * 0.6],
        )
        .value;
        most = most.max(line * super::smooth(-0.25, 0.3, kept));
    }
    most
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_slope_is_the_slope_of_the_value() {
        for at in 0..200_u16 {
            let t = f32::from(at) * 0.173;
            let p = [t, 2.0 - 0.7 * t, 0.31 * t + 0.5];
            let here = gradient(9, p);
            assert!(here.value.abs() < 1.2);
            for axis in 0..3 {
                let step = 1e-2;
                let (mut ahead, mut behind) = (p, p);
                ahead[axis] += step;
                behind[axis] -= step;
                let measured =
                    (gradient(9, ahead).value - gradient(9, behind).value) / (2.0 * step);
                assert!(
                    (measured - here.slope[axis]).abs() < 2e-2,
                    "{measured} {:?}",
                    here.slope
                );
            }
        }
    }
}
