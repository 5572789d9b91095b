//! CIE L*a*b* and the CIEDE2000 colour difference, for tests and read-outs.

use crate::imaging::basics::colour::matrices::{D65_XY, apply, xyz_from_working, xyz_from_xy};

/// CIE 1976 L*a*b* of XYZ (Y of white = 1) under `white` (CIE 15:2004, with the exact constants 216/24389 and 24389/27).
#[must_use]
pub fn lab_from_xyz(xyz: [f64; 3], white: [f64; 3]) -> [f64; 3] {
    let bent = |value: f64| {
        if value > 216.0 / 24389.0 {
            libm::cbrt(value)
        } else {
            (24389.0 / 27.0 * value + 16.0) / 116.0
        }
    };
    let x = bent(xyz[0] / white[0]);
    let y = bent(xyz[1] / white[1]);
    let z = bent(xyz[2] / white[2]);
    [116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)]
}

/// CIE 1976 L*a*b* (white D65) of a colour of the working space.
#[must_use]
pub fn lab_from_working(rgb: [f32; 3]) -> [f64; 3] {
    let xyz = apply(&xyz_from_working(), rgb.map(f64::from));
    lab_from_xyz(xyz, xyz_from_xy(D65_XY))
}

fn power7(value: f64) -> f64 {
    let cube = value * value * value;
    cube * cube * value
}

/// Hue angle in degrees, 0..360; 0 for a colour without hue.
fn hue_degrees(a: f64, b: f64) -> f64 {
    if a == 0.0 && b == 0.0 {
        return 0.0;
    }
    let degrees = libm::atan2(b, a).to_degrees();
    if degrees < 0.0 {
        degrees + 360.0
    } else {
        degrees
    }
}

/// Difference and mean of two hues in degrees, the short way round; a colour without hue (product of the
/// chromas 0) takes the other's.
fn hue_pair(first: f64, second: f64, chromas: f64) -> (f64, f64) {
    if chromas <= 0.0 {
        return (0.0, first + second);
    }
    let (difference, sum) = (second - first, first + second);
    if difference.abs() <= 180.0 {
        return (difference, sum / 2.0);
    }
    let turned = if difference > 0.0 {
        difference - 360.0
    } else {
        difference + 360.0
    };
    let mean = if sum < 360.0 {
        f64::midpoint(sum, 360.0)
    } else {
        (sum - 360.0) / 2.0
    };
    (turned, mean)
}

/// CIEDE2000 difference of two L*a*b* colours with all weights 1.
///
/// Source: Sharma, Wu, Dalal, Color Research and Application 30 (2005) 21.
#[must_use]
pub fn ciede2000(first: [f64; 3], second: [f64; 3]) -> f64 {
    let chroma = |a: f64, b: f64| (a * a + b * b).sqrt();
    let mean = f64::midpoint(chroma(first[1], first[2]), chroma(second[1], second[2]));
    let near_grey = 0.5 * (1.0 - (power7(mean) / (power7(mean) + power7(25.0))).sqrt());
    let (a1, a2) = (first[1] * (1.0 + near_grey), second[1] * (1.0 + near_grey));
    let (c1, c2) = (chroma(a1, first[2]), chroma(a2, second[2]));
    let (hue_difference, hue) = hue_pair(
        hue_degrees(a1, first[2]),
        hue_degrees(a2, second[2]),
        c1 * c2,
    );
    let lightness_step = second[0] - first[0];
    let chroma_step = c2 - c1;
    let hue_step = 2.0 * (c1 * c2).sqrt() * libm::sin((hue_difference / 2.0).to_radians());

    let lightness = f64::midpoint(first[0], second[0]);
    let chroma_mean = f64::midpoint(c1, c2);
    let cos = |degrees: f64| libm::cos(degrees.to_radians());
    let t = 1.0 - 0.17 * cos(hue - 30.0) + 0.24 * cos(2.0 * hue) + 0.32 * cos(3.0 * hue + 6.0)
        - 0.20 * cos(4.0 * hue - 63.0);
    let off_blue = (hue - 275.0) / 25.0;
    let turn = 30.0 * libm::exp(-off_blue * off_blue);
    let rotation = 2.0 * (power7(chroma_mean) / (power7(chroma_mean) + power7(25.0))).sqrt();
    let off_mid = (lightness - 50.0) * (lightness - 50.0);
    let scale_l = 1.0 + 0.015 * off_mid / (20.0 + off_mid).sqrt();
    let scale_c = 1.0 + 0.045 * chroma_mean;
    let scale_h = 1.0 + 0.015 * chroma_mean * t;
    let crossed = -libm::sin((2.0 * turn).to_radians()) * rotation;

    let l = lightness_step / scale_l;
    let c = chroma_step / scale_c;
    let h = hue_step / scale_h;
    (l * l + c * c + h * h + crossed * c * h).max(0.0).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_difference_is_symmetric_and_zero_for_equals() {
        let (a, b) = ([52.0, 20.0, -31.0], [40.0, -8.0, 14.0]);
        assert!((ciede2000(a, b) - ciede2000(b, a)).abs() < 1e-12);
        assert!(ciede2000(a, a).abs() < 1e-12);
        let white = lab_from_working([1.0; 3]);
        assert!(
            (white[0] - 100.0).abs() < 1e-6 && white[1].abs() < 1e-6,
            "{white:?}"
        );
    }
}
