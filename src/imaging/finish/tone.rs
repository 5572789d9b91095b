//! The tone curve: contrast about a pivot, and a soft shoulder.

use crate::pixels::convert::{clamp_index, count_f64, narrow};

/// Contrast about a pivot in the logarithm of light, then a shoulder that brings strong light below white.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tone {
    /// Slope in the logarithm of light at every level below the shoulder; 1 leaves it.
    pub contrast: f32,
    /// Light that contrast leaves where it is; 0.18 is mid grey.
    pub pivot: f32,
    /// Light above which the shoulder begins, 0..1; slope and level are continuous there.
    pub shoulder: f32,
    /// Light (after contrast) that the shoulder brings to exactly 1. At 1 or less there is no shoulder.
    pub white: f32,
}

impl Default for Tone {
    fn default() -> Self {
        Self {
            contrast: 1.0,
            pivot: 0.18,
            shoulder: 0.6,
            white: 1.0,
        }
    }
}

impl Tone {
    /// Whether light passes unchanged.
    #[must_use]
    pub fn is_straight(&self) -> bool {
        (self.contrast - 1.0).abs() <= 0.0 && self.white <= 1.0
    }

    /// The curve itself for light above 0.
    ///
    /// `y = pivot (x / pivot)^contrast`; above the shoulder's start s, with `u = (y - s) / (1 - s)` and `w = (white - s) / (1 - s)`:
    /// `s + (1 - s) u (1 + u / w^2) / (1 + u)`, which has slope 1 at s and meets 1 at the white (Reinhard et al. 2002, eq. 4).
    #[must_use]
    pub fn light(&self, x: f64) -> f64 {
        let pivot = f64::from(self.pivot.max(1e-4));
        let y = pivot * libm::pow(x / pivot, f64::from(self.contrast.max(0.0)));
        let start = f64::from(self.shoulder.clamp(0.0, 0.99));
        if self.white <= 1.0 || y <= start {
            return y;
        }
        let u = (y - start) / (1.0 - start);
        let w = (f64::from(self.white) - start) / (1.0 - start);
        start + (1.0 - start) * u * (1.0 + u / (w * w)) / (1.0 + u)
    }
}

/// Octaves of light in the table, from 2^-20 to 2^10.
const OCTAVES: u32 = 30;
const PIECES: u32 = 256;
const SHIFT: u32 = 15;
const FIRST: u32 = (127 - 20) << 23;

/// A [`Tone`] made ready: 256 straight pieces per octave, within 1e-5 of the curve, relative.
#[derive(Debug, Clone)]
pub struct ToneCurve {
    table: Option<Vec<f32>>,
}

impl ToneCurve {
    /// Works the curve out.
    #[must_use]
    pub fn new(tone: &Tone) -> Self {
        let table = (!tone.is_straight()).then(|| {
            (0..=clamp_index((OCTAVES * PIECES).cast_signed()))
                .map(|piece| {
                    let light = libm::exp2(-20.0) * octave(piece);
                    narrow(tone.light(light))
                })
                .collect()
        });
        Self { table }
    }

    /// The toned light. Light outside 2^-20 ..= 2^10 is scaled like the nearest end; negative light passes unchanged.
    #[must_use]
    #[inline]
    pub fn apply(&self, light: f32) -> f32 {
        let Some(table) = &self.table else {
            return light;
        };
        if light.is_nan() || light <= 0.0 {
            return light;
        }
        let low = f32::from_bits(FIRST);
        if light < low {
            return table[0] * (light / low);
        }
        let bits = light.to_bits() - FIRST;
        let piece = clamp_index((bits >> SHIFT).cast_signed());
        if piece + 1 >= table.len() {
            return table[table.len() - 1];
        }
        let part = f32::from_bits((127 << 23) | ((bits << (23 - SHIFT)) & 0x007f_ffff)) - 1.0;
        table[piece] + (table[piece + 1] - table[piece]) * part
    }
}

/// `2^(piece / PIECES)` rounded down to whole octaves, with straight steps inside: the light at the start of a piece.
fn octave(piece: usize) -> f64 {
    let pieces = clamp_index(PIECES.cast_signed());
    let whole = libm::exp2(count_f64(piece / pieces));
    whole * (1.0 + count_f64(piece % pieces) / count_f64(pieces))
}
