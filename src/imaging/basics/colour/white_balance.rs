//! Gains in the working space that make the light of a set white.

use crate::imaging::basics::colour::luma;
use crate::imaging::basics::colour::matrices::{apply, working_from_xyz, xyz_from_xy};
use crate::optics::light::planckian_xy;
use crate::pixels::convert::narrow;

fn uv_from_xy([x, y]: [f64; 2]) -> [f64; 2] {
    let below = -2.0 * x + 12.0 * y + 3.0;
    [4.0 * x / below, 6.0 * y / below]
}

fn xy_from_uv([u, v]: [f64; 2]) -> [f64; 2] {
    let below = 2.0 * u - 8.0 * v + 4.0;
    [3.0 * u / below, 2.0 * v / below]
}

/// CIE xy of a light of correlated temperature `kelvin`, `duv` off the black-body locus in the CIE 1960 diagram.
///
/// Positive `duv` is greener, negative more magenta; daylight has about +0.003, lamps stay within +-0.02.
#[must_use]
pub fn light_xy(kelvin: f64, duv: f64) -> [f64; 2] {
    let step = kelvin * 1e-3;
    let here = uv_from_xy(planckian_xy(kelvin));
    let warm = uv_from_xy(planckian_xy(kelvin - step));
    let cool = uv_from_xy(planckian_xy(kelvin + step));
    let along = [cool[0] - warm[0], cool[1] - warm[1]];
    let length = (along[0] * along[0] + along[1] * along[1])
        .sqrt()
        .max(1e-12);
    // From warm to cool the locus runs to smaller u and v; a quarter turn from that direction points to green.
    let green = [along[1] / length, -along[0] / length];
    xy_from_uv([here[0] + duv * green[0], here[1] + duv * green[1]])
}

/// Gains for red, green and blue that turn a light of `kelvin` and `duv` into neutral grey of the same luminance.
#[must_use]
pub fn gains_from_kelvin(kelvin: f64, duv: f64) -> [f32; 3] {
    let colour = apply(&working_from_xyz(), xyz_from_xy(light_xy(kelvin, duv)));
    gains_from_grey(colour.map(narrow))
}

/// Gains for red, green and blue that make `picked` (the mean of a grey patch, working space) neutral and keep its luminance.
///
/// Patches with a channel at or below 0 say nothing about the light: all gains are 1.
#[must_use]
pub fn gains_from_grey(picked: [f32; 3]) -> [f32; 3] {
    let grey = luma(picked);
    if grey <= 0.0 || picked.iter().any(|value| *value <= 0.0) {
        return [1.0; 3];
    }
    picked.map(|value| grey / value)
}

/// The temperature in kelvin and the distance `duv` from the black-body locus that [`gains_from_kelvin`] needs for `picked`.
///
/// The nearest point of the locus is found by stepping, then by halving, between 1667 K and 25000 K.
#[must_use]
pub fn kelvin_from_grey(picked: [f32; 3]) -> (f64, f64) {
    let xyz = apply(
        &crate::imaging::basics::colour::matrices::xyz_from_working(),
        picked.map(f64::from),
    );
    let sum = (xyz[0] + xyz[1] + xyz[2]).max(1e-9);
    let target = uv_from_xy([xyz[0] / sum, xyz[1] / sum]);
    let away = |mired: f64| {
        let at = uv_from_xy(planckian_xy(1e6 / mired));
        let (du, dv) = (target[0] - at[0], target[1] - at[1]);
        (du * du + dv * dv).sqrt()
    };
    let (mut low, mut high) = (40.0_f64, 599.0_f64);
    for _ in 0..60 {
        let (a, b) = (low + (high - low) / 3.0, high - (high - low) / 3.0);
        if away(a) < away(b) {
            high = b;
        } else {
            low = a;
        }
    }
    let mired = f64::midpoint(low, high);
    let kelvin = 1e6 / mired;
    let at = uv_from_xy(planckian_xy(kelvin));
    (kelvin, away(mired).copysign(target[1] - at[1]))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_lamp_becomes_neutral_and_its_temperature_is_read_back() {
        for (kelvin, duv) in [(2800.0, 0.0), (5200.0, 0.004), (7500.0, -0.006)] {
            let lamp = apply(&working_from_xyz(), xyz_from_xy(light_xy(kelvin, duv))).map(narrow);
            let gains = gains_from_kelvin(kelvin, duv);
            let out = [lamp[0] * gains[0], lamp[1] * gains[1], lamp[2] * gains[2]];
            assert!(
                out.iter().all(|value| (value - 1.0).abs() < 1e-5),
                "{out:?}"
            );
            let (read, off) = kelvin_from_grey(lamp);
            assert!(
                (read / kelvin - 1.0).abs() < 0.01,
                "{kelvin} read as {read}"
            );
            assert!((off - duv).abs() < 3e-4, "{duv} read as {off}");
        }
    }

    #[test]
    fn warm_light_needs_more_blue_and_green_light_less_green() {
        let warm = gains_from_kelvin(3000.0, 0.0);
        assert!(warm[2] > 1.5 && warm[0] < 1.0, "{warm:?}");
        assert!(gains_from_kelvin(5000.0, 0.02)[1] < gains_from_kelvin(5000.0, 0.0)[1]);
        assert_eq!(gains_from_grey([0.2, 0.0, 0.1]), [1.0; 3]);
    }
}
