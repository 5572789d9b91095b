//! Exposure, fall-off, flicker, noise, black bodies.

/// Exposure value `log2(N^2 / t)` of f-number `f_number` and `seconds`.
#[must_use]
pub fn exposure_value(f_number: f64, seconds: f64) -> f64 {
    libm::log2(f_number * f_number / seconds)
}

/// Luminance in cd/m2 that a meter sets to exposure value `ev` at ISO 100: `2^EV K / 100`, K = 12.5 (ISO 2720).
#[must_use]
pub fn luminance_cd_m2(ev: f64) -> f64 {
    libm::exp2(ev) * 0.125
}

/// Illuminance in lux that a meter sets to exposure value `ev` at ISO 100: `2^EV C / 100`, C = 250 (ISO 2720).
#[must_use]
pub fn illuminance_lux(ev: f64) -> f64 {
    libm::exp2(ev) * 2.5
}

/// Light at the far end over light at the near end of a subject of `length`, lit by a small lamp at `distance`: `(D / (D + L))^2`.
#[must_use]
pub fn falloff(distance: f64, length: f64) -> f64 {
    let ratio = distance / (distance + length);
    ratio * ratio
}

/// Distance of a lamp at which a subject of `length` falls off by `stops` at most: `L / (2^(stops / 2) - 1)`.
#[must_use]
pub fn distance_for_falloff(length: f64, stops: f64) -> f64 {
    length / (libm::exp2(stops / 2.0) - 1.0)
}

/// Angle in degrees between the rays at both ends of a subject of `length` across, from a lamp at `distance`.
#[must_use]
pub fn divergence_degrees(distance: f64, length: f64) -> f64 {
    libm::atan(length / distance).to_degrees()
}

/// Share of a lamp's flicker left in an exposure of `seconds`: `|sin(pi f T) / (pi f T)|` for pulses at `hertz`.
#[must_use]
pub fn flicker_left(hertz: f64, seconds: f64) -> f64 {
    let x = std::f64::consts::PI * hertz * seconds;
    if x.abs() < 1e-12 {
        1.0
    } else {
        (libm::sin(x) / x).abs()
    }
}

/// Peak-to-peak change of exposure in stops for a lamp whose light swings by `depth` (0..=1) about its mean.
#[must_use]
pub fn flicker_stops(hertz: f64, seconds: f64, depth: f64) -> f64 {
    let swing = depth * flicker_left(hertz, seconds);
    libm::log2((1.0 + swing) / (1.0 - swing))
}

/// Noise of the mean of `frames` exposures in electrons: `sqrt(e + r^2) / sqrt(n)` (EMVA 1288 linear model).
#[must_use]
pub fn noise_electrons(electrons: f64, read_noise: f64, frames: f64) -> f64 {
    ((electrons + read_noise * read_noise) / frames).sqrt()
}

/// Signal over noise in decibels.
#[must_use]
pub fn decibels(ratio: f64) -> f64 {
    20.0 * libm::log10(ratio)
}

/// Noise (or blur) to add so that `have` becomes `want`: `sqrt(want^2 - have^2)`, 0 when there is already more.
#[must_use]
pub fn to_add(have: f64, want: f64) -> f64 {
    (want * want - have * have).max(0.0).sqrt()
}

/// Spectral radiance of a black body, relative: Planck's law without its constant factor, `1 / (l^5 (exp(c2 / (l T)) - 1))`, l in metres.
///
/// c2 = 0.014 387 768 77 m K (CODATA 2018).
#[must_use]
pub fn planck(wavelength_nm: f64, kelvin: f64) -> f64 {
    let l = wavelength_nm * 1e-9;
    let l2 = l * l;
    1.0 / (l2 * l2 * l * libm::expm1(0.014_387_768_77 / (l * kelvin)))
}

/// CIE xy of a black body of `kelvin`, pinned to 1667..=25000 K.
///
/// Within 0.0006 of Planck's law with the CIE 1931 observer. Source: Kim et al., US 7024034 B2 (2002); Kang et al., J. Korean Phys. Soc. 41 (2002) 865.
#[must_use]
pub fn planckian_xy(kelvin: f64) -> [f64; 2] {
    let t = kelvin.clamp(1667.0, 25000.0);
    let cubic = |a: f64, b: f64, c: f64, d: f64| {
        a * 1e9 / (t * t * t) + b * 1e6 / (t * t) + c * 1e3 / t + d
    };
    let x = if t <= 4000.0 {
        cubic(-0.266_123_9, -0.234_358_9, 0.877_695_6, 0.179_910)
    } else {
        cubic(-3.025_846_9, 2.107_037_9, 0.222_634_7, 0.240_390)
    };
    let [a, b, c, d] = if t <= 2222.0 {
        [-1.106_381_4, -1.348_110_20, 2.185_558_32, -0.202_196_83]
    } else if t <= 4000.0 {
        [-0.954_947_6, -1.374_185_93, 2.091_370_15, -0.167_488_67]
    } else {
        [3.081_758_0, -5.873_386_70, 3.751_129_97, -0.370_014_83]
    };
    [x, a * x * x * x + b * x * x + c * x + d]
}
