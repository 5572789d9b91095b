//! From the working space to the smaller gamut of screens and files.

use crate::imaging::basics::colour::matrices::{
    Matrix3, apply_single, inverse, multiply, single, xyz_from_primaries,
};
use crate::pixels::ColourEncoding;

/// What happens to colours that linear BT.709 between 0 and 1 cannot hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Gamut {
    /// Lightness and hue are kept and chroma is reduced (in Oklab) until the colour fits.
    #[default]
    KeepHue,
    /// Each channel is pinned to 0..=1; hues may turn.
    Clip,
    /// Nothing is done; numbers below 0 and above 1 stay.
    Leave,
}

/// The way from the working space to linear light with BT.709 primaries.
#[derive(Debug, Clone)]
pub struct OutputTransform {
    bt709: [[f32; 3]; 3],
    lms: [[f32; 3]; 3],
    bt709_from_lms: [[f32; 3]; 3],
    gamut: Gamut,
}

/// Cone response from XYZ (D65) in Oklab (B. Ottosson, A perceptual color space for image processing, 2020).
const LMS_FROM_XYZ: Matrix3 = [
    [0.818_933_010_1, 0.361_866_742_4, -0.128_859_713_7],
    [0.032_984_543_6, 0.929_311_871_5, 0.036_145_638_7],
    [0.048_200_301_8, 0.264_366_269_1, 0.633_851_707_0],
];

/// Oklab from the cube roots of the cone response (same source).
const LAB_FROM_ROOTS: [[f32; 3]; 3] = [
    [0.210_454_26, 0.793_617_8, -0.004_072_047],
    [1.977_998_5, -2.428_592_2, 0.450_593_7],
    [0.025_904_037, 0.782_771_77, -0.808_675_77],
];

/// Cube roots of the cone response from Oklab: L plus these times (a, b) (same source).
const ROOTS_FROM_LAB: [[f32; 2]; 3] = [
    [0.396_337_78, 0.215_803_76],
    [-0.105_561_346, -0.063_854_17],
    [-0.089_484_18, -1.291_485_5],
];

/// How far outside 0..=1 a channel may lie before the gamut step takes it up: far below a 16-bit step.
const SLACK: f32 = 2e-6;

impl OutputTransform {
    /// A transform that treats colours outside by `gamut`.
    #[must_use]
    pub fn new(gamut: Gamut) -> Self {
        let xyz = xyz_from_primaries(&ColourEncoding::BT2020_XY);
        let bt709_xyz = xyz_from_primaries(&ColourEncoding::BT709_XY);
        let bt709_from_xyz = inverse(&bt709_xyz);
        Self {
            bt709: single(&multiply(&bt709_from_xyz, &xyz)),
            lms: single(&multiply(&LMS_FROM_XYZ, &xyz)),
            bt709_from_lms: single(&multiply(&bt709_from_xyz, &inverse(&LMS_FROM_XYZ))),
            gamut,
        }
    }

    /// Linear BT.709 of a colour of the working space.
    #[must_use]
    #[inline]
    pub fn to_bt709(&self, rgb: [f32; 3]) -> [f32; 3] {
        let out = apply_single(&self.bt709, rgb);
        match self.gamut {
            Gamut::Leave => out,
            Gamut::Clip => clip(out),
            Gamut::KeepHue => {
                if fits(out) {
                    clip(out)
                } else {
                    self.reduce(rgb)
                }
            }
        }
    }

    /// Whether a colour of the working space lies outside 0..=1 in linear BT.709.
    #[must_use]
    pub fn is_outside(&self, rgb: [f32; 3]) -> bool {
        !fits(apply_single(&self.bt709, rgb))
    }

    fn reduce(&self, rgb: [f32; 3]) -> [f32; 3] {
        let roots = apply_single(&self.lms, rgb).map(libm::cbrtf);
        let [lightness, a, b] = apply_single(&LAB_FROM_ROOTS, roots);
        if lightness.is_nan() || lightness <= 0.0 {
            return [0.0; 3];
        }
        if lightness >= 1.0 {
            return [1.0; 3];
        }
        let colour = |share: f32| {
            let lms = ROOTS_FROM_LAB.map(|[along_a, along_b]| {
                let root = lightness + share * (along_a * a + along_b * b);
                root * root * root
            });
            apply_single(&self.bt709_from_lms, lms)
        };
        // The grey of this lightness always fits, the colour itself does not: halve the span between them.
        let (mut inside, mut outside) = (0.0_f32, 1.0_f32);
        for _ in 0..18 {
            let middle = 0.5 * (inside + outside);
            if fits(colour(middle)) {
                inside = middle;
            } else {
                outside = middle;
            }
        }
        clip(colour(inside))
    }
}

fn fits(rgb: [f32; 3]) -> bool {
    rgb.iter()
        .all(|value| *value >= -SLACK && *value <= 1.0 + SLACK)
}

fn clip(rgb: [f32; 3]) -> [f32; 3] {
    rgb.map(|value| {
        if value.is_nan() {
            0.0
        } else {
            value.clamp(0.0, 1.0)
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn colours_outside_come_in_with_their_hue() {
        let keep = OutputTransform::new(Gamut::KeepHue);
        let green = [0.0, 0.6, 0.05];
        assert!(keep.is_outside(green));
        let out = keep.to_bt709(green);
        assert!(
            out.iter().all(|value| (0.0..=1.0).contains(value)),
            "{out:?}"
        );
        assert!(out[1] > 1.5 * out[0] && out[1] > 1.5 * out[2], "{out:?}");
        let hue = |lms: [f32; 3]| {
            let lab = apply_single(&LAB_FROM_ROOTS, lms.map(libm::cbrtf));
            libm::atan2f(lab[2], lab[1])
        };
        let back = single(&inverse(&keep.bt709_from_lms.map(|row| row.map(f64::from))));
        let turned = hue(apply_single(&back, out)) - hue(apply_single(&keep.lms, green));
        assert!(turned.abs() < 2e-3, "hue turned by {turned}");
    }

    #[test]
    fn white_stays_white_and_bright_light_ends_at_white() {
        let keep = OutputTransform::new(Gamut::KeepHue);
        for level in [0.0, 0.18, 1.0] {
            for value in keep.to_bt709([level; 3]) {
                assert!((value - level).abs() < 1e-6, "{level} became {value}");
            }
        }
        assert_eq!(keep.to_bt709([40.0, 30.0, 5.0]), [1.0; 3]);
        assert_eq!(keep.to_bt709([f32::NAN; 3]), [0.0; 3]);
    }
}
