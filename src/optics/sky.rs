//! Stars, planets, rocks.

/// Ratio of fluxes of two magnitudes, `10^(-0.4 (m1 - m2))` (Pogson).
#[must_use]
pub fn flux_ratio(magnitude_1: f64, magnitude_2: f64) -> f64 {
    libm::exp10(-0.4 * (magnitude_1 - magnitude_2))
}

/// Square degrees of the whole sky.
pub const SKY_SQUARE_DEGREES: f64 = 41_252.961_249_4;

/// log10 of the number of stars brighter than visual magnitude 0, 1, … 10 over the whole sky.
///
/// Sources: Yale Bright Star Catalogue 5 (0 to 6), Tycho-2 with UCAC4 (7 to 10).
const COUNTS: [f64; 11] = [
    4.0, 15.0, 48.0, 170.0, 513.0, 1604.0, 5023.0, 16_503.0, 48_559.0, 139_375.0, 382_925.0,
];

/// Stars brighter than visual magnitude `magnitude` over the whole sky, by interpolation in the logarithm; the ends are followed on.
#[must_use]
pub fn stars_brighter_than(magnitude: f64) -> f64 {
    let last = COUNTS.len() - 2;
    let mut below = 0;
    let mut start = 0.0;
    while below < last && magnitude >= start + 1.0 {
        below += 1;
        start += 1.0;
    }
    let (low, high) = (libm::log10(COUNTS[below]), libm::log10(COUNTS[below + 1]));
    libm::exp10(low + (high - low) * (magnitude - start))
}

/// Square degrees of a rectangular view of `width` by `height` degrees: `4 asin(sin(w/2) sin(h/2))`.
#[must_use]
pub fn view_square_degrees(width: f64, height: f64) -> f64 {
    let half = |degrees: f64| libm::sin((degrees / 2.0).to_radians());
    let steradians = 4.0 * libm::asin(half(width) * half(height));
    steradians.to_degrees() * 1_f64.to_degrees()
}

/// Temperature in kelvin of a star of colour index `b_v` (B - V). Source: Ballesteros, EPL 97 (2012) 34008.
///
/// 4 to 7 % above measured values for A to F stars, 40 to 50 % too cool for O and early B stars.
#[must_use]
pub fn star_kelvin(b_v: f64) -> f64 {
    4600.0 * (1.0 / (0.92 * b_v + 1.7) + 1.0 / (0.92 * b_v + 0.62))
}

/// Light of a Lambert sphere at phase angle `alpha` (radians, 0 = full) over that at full phase.
///
/// Source: Sobolev, Light scattering in planetary atmospheres, 1975.
#[must_use]
pub fn planet_phase(alpha: f64) -> f64 {
    (libm::sin(alpha) + (std::f64::consts::PI - alpha) * libm::cos(alpha)) / std::f64::consts::PI
}

/// Share of a planet's disc that is lit at phase angle `alpha`: `(1 + cos alpha) / 2`.
#[must_use]
pub fn lit_fraction(alpha: f64) -> f64 {
    f64::midpoint(1.0, libm::cos(alpha))
}

/// Phase angle for a key light at `azimuth` from the camera's direction and `elevation`, radians: `cos a = cos A cos E`.
#[must_use]
pub fn phase_angle(azimuth: f64, elevation: f64) -> f64 {
    libm::acos((libm::cos(azimuth) * libm::cos(elevation)).clamp(-1.0, 1.0))
}

/// Brightness of the Sun's disc at 550 nm over its middle, for the cosine `mu` of the angle from the normal:
/// `0.3 + 0.93 mu - 0.23 mu^2`. Source: Cox, Allen's Astrophysical Quantities, 2000.
#[must_use]
pub fn limb_sun(mu: f64) -> f64 {
    0.3 + 0.93 * mu - 0.23 * mu * mu
}

/// The linear law of limb darkening, `1 - u (1 - mu)`.
#[must_use]
pub fn limb_linear(mu: f64, u: f64) -> f64 {
    1.0 - u * (1.0 - mu)
}

/// Size of a rock for the random number `u` (0..1): cumulative numbers fall as D^-`slope` from `smallest` to `largest`.
///
/// Source: Dohnanyi 1969 (slope 2.5 in collisional steady state).
#[must_use]
pub fn rock_size(u: f64, slope: f64, smallest: f64, largest: f64) -> f64 {
    let left = libm::pow(smallest / largest, slope);
    smallest * libm::pow(1.0 - u * (1.0 - left), -1.0 / slope)
}
