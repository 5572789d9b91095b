//! The colour of lamps, as the factors that the lights desk works with.

use crate::imaging::basics::colour::luma;
use crate::imaging::basics::colour::matrices::{
    apply_single, inverse, single, working_from_primaries,
};
use crate::imaging::basics::colour::white_balance::{gains_from_kelvin, kelvin_from_grey};
use crate::pixels::ColourEncoding;

/// Thousandths of the CIE 1960 diagram in one step of tint; positive tints are magenta, which is below the locus.
const STEP: f64 = -1e-3;

/// Factors for red, green and blue that turn neutral light into that of a lamp of `kelvin` (1667..=25000 K) and `tint`
/// (-100 green ..= 100 magenta), of the same luminance.
#[must_use]
pub fn factors(kelvin: f64, tint: f64) -> [f32; 3] {
    gains_from_kelvin(kelvin, tint * STEP).map(|gain| 1.0 / gain.max(1e-6))
}

/// The temperature in kelvin and the tint whose [`factors`] come nearest to `factors_rgb`.
#[must_use]
pub fn kelvin_and_tint(factors_rgb: [f32; 3]) -> (f64, f64) {
    let (kelvin, duv) = kelvin_from_grey(factors_rgb);
    (kelvin, duv / STEP)
}

/// Factors that give neutral light a colour of linear sRGB, with the luminance kept. Black gives neutral factors.
#[must_use]
pub fn picked(srgb: [f32; 3]) -> [f32; 3] {
    let matrix = single(&working_from_primaries(&ColourEncoding::BT709_XY));
    let rgb = apply_single(&matrix, srgb);
    let luma = luma(rgb);
    if luma > 1e-6 {
        rgb.map(|part| (part / luma).max(0.0))
    } else {
        [1.0; 3]
    }
}

/// The colour of linear sRGB, as bright as it can be shown, that `factors_rgb` give neutral light; what sRGB cannot show is cut off.
#[must_use]
pub fn shown(factors_rgb: [f32; 3]) -> [f32; 3] {
    let matrix = single(&inverse(&working_from_primaries(&ColourEncoding::BT709_XY)));
    let rgb = apply_single(&matrix, factors_rgb);
    let most = rgb.into_iter().fold(1e-6, f32::max);
    rgb.map(|part| (part / most).clamp(0.0, 1.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_lamp_is_found_again_from_its_factors() {
        for (kelvin, tint) in [(2800.0, 0.0), (4100.0, 12.0), (9000.0, -8.0)] {
            let (found, found_tint) = kelvin_and_tint(factors(kelvin, tint));
            assert!((found / kelvin - 1.0).abs() < 0.01, "{kelvin}: {found}");
            assert!((found_tint - tint).abs() < 1.0, "{tint}: {found_tint}");
        }
    }

    #[test]
    fn a_picked_colour_is_shown_again_and_keeps_the_luminance() {
        for rgb in [[1.0, 0.4, 0.1], [0.2, 1.0, 0.9], [1.0, 1.0, 1.0]] {
            let factors = picked(rgb);
            assert!((luma(factors) - 1.0).abs() < 1e-5, "{factors:?}");
            for (back, wanted) in shown(factors).into_iter().zip(rgb) {
                assert!((back - wanted).abs() < 1e-4, "{back} for {wanted}");
            }
        }
        assert_eq!(picked([0.0; 3]), [1.0; 3]);
    }

    #[test]
    fn warm_light_is_red_and_cool_light_blue() {
        let warm = factors(2700.0, 0.0);
        let cool = factors(12000.0, 0.0);
        assert!(warm[0] > warm[2] && cool[2] > cool[0], "{warm:?} {cool:?}");
    }
}
