//! Embedded colour profiles (ICC.1:2022). Curves and a matrix are taken out as numbers; a profile with tables is handed
//! on as bytes. No pixel is converted here.

use super::info::Tags;
use crate::pixels::{ColourEncoding, Curve};
use moxcms::{ColorProfile, DataColorSpace, ProfileText, ToneReprCurve};
use std::sync::Arc;

/// What the numbers mean: the embedded profile, else what Exif says, else the usual meaning of such files; and the
/// same in words.
pub(super) fn colour(
    profile: Option<&[u8]>,
    tags: &Tags,
    usual: (ColourEncoding, &str),
) -> (ColourEncoding, String) {
    let fallen_back = match profile.map(of_profile) {
        Some(Ok(found)) => return found,
        Some(Err(why)) => Some(why),
        None => None,
    };
    let (encoding, words) = tags
        .colour()
        .unwrap_or_else(|| (usual.0, usual.1.to_owned()));
    match fallen_back {
        Some(why) => (encoding, format!("{why}: {words}")),
        None => (encoding, words),
    }
}

/// The usual meaning of whole numbers without a profile.
pub(super) fn plain_codes() -> (ColourEncoding, &'static str) {
    (ColourEncoding::srgb(), "no profile: sRGB taken")
}

/// The usual meaning of floating point numbers without a profile.
pub(super) fn plain_light() -> (ColourEncoding, &'static str) {
    (
        ColourEncoding::linear_bt709(),
        "no profile: linear light with BT.709 primaries taken",
    )
}

/// The encoding a profile describes and its name, or why it can't be used.
pub(super) fn of_profile(bytes: &[u8]) -> Result<(ColourEncoding, String), String> {
    let profile = ColorProfile::new_from_slice(bytes)
        .map_err(|error| format!("the embedded profile can't be read ({error})"))?;
    let words = format!("embedded profile: {}", name_of(&profile));
    if profile.color_space == DataColorSpace::Gray {
        return grey(&profile).map(|encoding| (encoding, words));
    }
    if profile.color_space != DataColorSpace::Rgb {
        return Err("the embedded profile is not for RGB or grey pictures".to_owned());
    }
    // The standard gives the tables precedence where a profile holds both (ICC.1:2022, 8.10).
    let tables = [
        &profile.lut_a_to_b_perceptual,
        &profile.lut_a_to_b_colorimetric,
        &profile.lut_a_to_b_saturation,
    ];
    if tables.iter().any(|table| table.is_some()) {
        return Ok((ColourEncoding::IccTables(Arc::from(bytes)), words));
    }
    let (Some(red), Some(green), Some(blue)) =
        (&profile.red_trc, &profile.green_trc, &profile.blue_trc)
    else {
        return Err("the embedded profile has no curves".to_owned());
    };
    let columns = [
        profile.red_colorant,
        profile.green_colorant,
        profile.blue_colorant,
    ];
    let xyz_from_rgb = [
        columns.map(|c| c.x),
        columns.map(|c| c.y),
        columns.map(|c| c.z),
    ];
    if !usable(&xyz_from_rgb) {
        return Err("the embedded profile's primaries make no sense".to_owned());
    }
    let encoding = ColourEncoding::MatrixD50 {
        curves: [curve(red)?, curve(green)?, curve(blue)?],
        xyz_from_rgb,
    };
    Ok((encoding, words))
}

/// A grey profile: its curve for all three, with primaries that make equal amounts the white of the connection space.
fn grey(profile: &ColorProfile) -> Result<ColourEncoding, String> {
    let Some(trc) = &profile.gray_trc else {
        return Err("the embedded profile has no curve".to_owned());
    };
    let curve = curve(trc)?;
    let srgb = ColorProfile::new_srgb();
    let columns = [srgb.red_colorant, srgb.green_colorant, srgb.blue_colorant];
    Ok(ColourEncoding::MatrixD50 {
        curves: [curve.clone(), curve.clone(), curve],
        xyz_from_rgb: [
            columns.map(|c| c.x),
            columns.map(|c| c.y),
            columns.map(|c| c.z),
        ],
    })
}

/// ICC.1:2022, 10.6 (`curv`) and 10.18 (`para`).
fn curve(trc: &ToneReprCurve) -> Result<Curve, String> {
    match trc {
        ToneReprCurve::Lut(entries) => Ok(match entries.as_slice() {
            [] => Curve::Linear,
            [gamma] => gamma_curve(f64::from(*gamma) / 256.0),
            // Curve codes become light values: the scale is part of how the standard writes them.
            entries => Curve::Table(entries.iter().map(|e| f32::from(*e) / 65_535.0).collect()),
        }),
        ToneReprCurve::Parametric(values) => {
            let values: Vec<f64> = values.iter().map(|v| f64::from(*v)).collect();
            if !values.iter().all(|v| v.is_finite()) {
                return Err("the embedded profile's curves make no sense".to_owned());
            }
            Ok(match *values.as_slice() {
                [g] => gamma_curve(g),
                [g, a, b] if a != 0.0 => Curve::Parametric([g, a, b, 0.0, -b / a, 0.0, 0.0]),
                [g, a, b, c] if a != 0.0 => Curve::Parametric([g, a, b, 0.0, -b / a, c, c]),
                [g, a, b, c, d] => Curve::Parametric([g, a, b, c, d, 0.0, 0.0]),
                [g, a, b, c, d, e, f] => Curve::Parametric([g, a, b, c, d, e, f]),
                _ => return Err("the embedded profile's curves make no sense".to_owned()),
            })
        }
    }
}

fn gamma_curve(gamma: f64) -> Curve {
    if gamma == 1.0 {
        Curve::Linear
    } else {
        Curve::Gamma(gamma)
    }
}

/// Finite, and the three primaries do not lie in one plane.
fn usable(m: &[[f64; 3]; 3]) -> bool {
    let determinant = m[0][0] * (m[1][1] * m[2][2] - m[1][2] * m[2][1])
        - m[0][1] * (m[1][0] * m[2][2] - m[1][2] * m[2][0])
        + m[0][2] * (m[1][0] * m[2][1] - m[1][1] * m[2][0]);
    determinant.is_finite() && determinant.abs() > 1e-6
}

fn name_of(profile: &ColorProfile) -> String {
    let text = match &profile.description {
        Some(ProfileText::PlainString(text)) => text.clone(),
        Some(ProfileText::Localizable(texts)) => texts
            .first()
            .map(|text| text.value.clone())
            .unwrap_or_default(),
        Some(ProfileText::Description(text)) => text.ascii_string.clone(),
        None => String::new(),
    };
    let text: String = text.chars().filter(|c| !c.is_control()).take(80).collect();
    if text.trim().is_empty() {
        "without a name".to_owned()
    } else {
        text.trim().to_owned()
    }
}
