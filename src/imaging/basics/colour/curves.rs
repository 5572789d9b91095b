//! Curves between codes and light.

use crate::pixels::Curve;
use crate::pixels::convert::{clamp_index, count_f64, floor_index, narrow};
use std::sync::{Arc, LazyLock, Mutex, PoisonError};

/// Light (0..=1) of an sRGB-encoded number (0..=1), IEC 61966-2-1. Numbers above 1 follow the curve on; negative ones are mirrored.
#[must_use]
pub fn srgb_to_linear(encoded: f64) -> f64 {
    let size = encoded.abs();
    let light = if size <= 0.040_45 {
        size / 12.92
    } else {
        libm::pow((size + 0.055) / 1.055, 2.4)
    };
    light.copysign(encoded)
}

/// sRGB-encoded number (0..=1) of a light (0..=1), IEC 61966-2-1. Light above 1 follows the curve on; negative light is mirrored.
#[must_use]
pub fn linear_to_srgb(light: f64) -> f64 {
    let size = light.abs();
    let encoded = if size <= 0.003_130_8 {
        size * 12.92
    } else {
        1.055 * libm::pow(size, 1.0 / 2.4) - 0.055
    };
    encoded.copysign(light)
}

/// Light of the encoded number `code` (0..=1) by `curve`.
///
/// Numbers outside 0..=1 are mirrored (sRGB, gamma) or follow the formula on; tables are pinned to their ends.
#[must_use]
pub fn to_light(curve: &Curve, code: f64) -> f64 {
    match curve {
        Curve::Linear => code,
        Curve::Srgb => srgb_to_linear(code),
        Curve::Gamma(exponent) => libm::pow(code.abs(), *exponent).copysign(code),
        Curve::Parametric([g, a, b, c, d, e, f]) => {
            if code >= *d {
                libm::pow((a * code + b).max(0.0), *g) + e
            } else {
                c * code + f
            }
        }
        Curve::Table(values) => from_table(values, code),
    }
}

fn from_table(values: &[f32], code: f64) -> f64 {
    let Some(last) = values.len().checked_sub(1) else {
        return code;
    };
    let place = code.clamp(0.0, 1.0) * count_f64(last);
    let below = floor_index(place).min(last);
    let above = (below + 1).min(last);
    let part = place - count_f64(below);
    let (low, high) = (f64::from(values[below]), f64::from(values[above]));
    low + (high - low) * part
}

/// Light of each of the `codes` codes 0, 1, … of an integer encoding; the largest code stands for 1.
#[must_use]
pub fn light_table(curve: &Curve, codes: usize) -> Vec<f32> {
    let largest = count_f64(codes.saturating_sub(1)).max(1.0);
    (0..codes)
        .map(|code| narrow(to_light(curve, count_f64(code) / largest)))
        .collect()
}

/// Tables that are kept for the next photo.
const KEPT_TABLES: usize = 4;

/// A curve, a number of codes and their light.
type KeptTable = (Curve, usize, Arc<[f32]>);

static TABLES: Mutex<Vec<KeptTable>> = Mutex::new(Vec::new());

/// [`light_table`], made once for photos alike: a stack's frames are each read several times.
#[must_use]
pub fn kept_light_table(curve: &Curve, codes: usize) -> Arc<[f32]> {
    let mut tables = TABLES.lock().unwrap_or_else(PoisonError::into_inner);
    let is_it = |kept: &&KeptTable| kept.1 == codes && kept.0 == *curve;
    if let Some((_, _, table)) = tables.iter().find(is_it) {
        return Arc::clone(table);
    }
    let table: Arc<[f32]> = light_table(curve, codes).into();
    if tables.len() == KEPT_TABLES {
        tables.remove(0);
    }
    tables.push((curve.clone(), codes, Arc::clone(&table)));
    table
}

/// Straight pieces per octave of light in the fast sRGB curve; 1024 keep the error below 0.002 of a 16-bit step.
const PIECES: u32 = 1024;
/// Bits of the mantissa below a piece.
const PIECE_SHIFT: u32 = 13;
/// Bit pattern of 2^-9, the power of two below the start of the curved part.
const FIRST_BITS: u32 = (127 - 9) << 23;

static SRGB_PIECES: LazyLock<Box<[f32]>> = LazyLock::new(|| {
    (0..=9 * PIECES)
        .map(|piece| {
            let light = f32::from_bits(FIRST_BITS + (piece << PIECE_SHIFT));
            narrow(1.055 * libm::pow(f64::from(light), 1.0 / 2.4) - 0.055)
        })
        .collect()
});

/// sRGB-encoded number 0..=1 of `light`; light outside 0..=1 is clipped, not-a-number gives 0.
///
/// The curve is interpolated between 1024 points per octave, found from the bits of the number: within 0.01 of a 16-bit step of
/// the exact curve.
#[must_use]
pub fn encode_srgb(light: f32) -> f32 {
    if light.is_nan() || light <= 0.0 {
        return 0.0;
    }
    if light <= 0.003_130_8 {
        return light * 12.92;
    }
    if light >= 1.0 {
        return 1.0;
    }
    let bits = light.to_bits() - FIRST_BITS;
    let piece = clamp_index((bits >> PIECE_SHIFT).cast_signed());
    let part = f32::from_bits((127 << 23) | ((bits << (23 - PIECE_SHIFT)) & 0x007f_ffff)) - 1.0;
    let low = SRGB_PIECES[piece];
    low + (SRGB_PIECES[piece + 1] - low) * part
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_fast_curve_stays_within_a_hundredth_of_a_16_bit_step() {
        let mut worst = 0.0_f64;
        for step in 0..200_000_u32 {
            let light = (f64::from(step) + 0.37) / 200_000.0;
            let light = f64::from(narrow(light * light));
            let found = f64::from(encode_srgb(narrow(light)));
            worst = worst.max((found - linear_to_srgb(light)).abs() * 65535.0);
        }
        assert!(worst < 0.01, "worst error {worst} of a step");
        assert!(encode_srgb(f32::NAN).abs() < 1e-9 && encode_srgb(7.0) <= 1.0);
    }

    #[test]
    fn parametric_and_table_forms_agree_with_srgb() {
        let form = Curve::Parametric([
            2.4,
            1.0 / 1.055,
            0.055 / 1.055,
            1.0 / 12.92,
            0.04045,
            0.0,
            0.0,
        ]);
        let table = Curve::Table(light_table(&Curve::Srgb, 4096).into());
        for code in [0.0, 0.01, 0.04, 0.2, 0.5, 0.77, 1.0] {
            let exact = srgb_to_linear(code);
            assert!((to_light(&form, code) - exact).abs() < 1e-12, "{code}");
            assert!((to_light(&table, code) - exact).abs() < 1e-6, "{code}");
        }
    }
}
