//! Exposure, fall-off, flicker, noise, black bodies.

use crate::table::{near, rows};
use platebench::imaging::basics::colour::matrices::{
    apply, inverse, xyz_from_primaries, xyz_from_xy,
};
use platebench::optics::light;
use platebench::pixels::ColourEncoding;

#[test]
fn planckian_locus() {
    for row in rows(include_str!("../checks/planckian_locus.csv")) {
        let found = light::planckian_xy(row.number("T_K"));
        for (found, [fit, planck]) in found
            .into_iter()
            .zip([["x_poly", "x_planck"], ["y_poly", "y_planck"]])
        {
            near(found, row.number(fit), 1e-6, "fit");
            near(found, row.number(planck), 0.0006, "Planck's law");
        }
    }
    // Published: 6504.389 K has (0.313426, 0.323596).
    let [x, y] = light::planckian_xy(6_504.389_383_05);
    near(x, 0.313_426, 1e-6, "x");
    near(y, 0.323_596, 1e-6, "y");
}

/// The locus is a fit, so the colours are held to 0.01 of the brightest channel from 1900 K on, where it is made for (the table, from
/// Planck's law itself, is exact to 0.002).
#[test]
fn black_bodies_on_a_screen() {
    let to_srgb = inverse(&xyz_from_primaries(&ColourEncoding::BT709_XY));
    for row in rows(include_str!("../checks/blackbody_srgb.csv")) {
        let kelvin = row.number("T_K");
        if kelvin < 1900.0 {
            continue;
        }
        let rgb = apply(&to_srgb, xyz_from_xy(light::planckian_xy(kelvin)));
        let lowest = rgb.iter().copied().fold(0.0, f64::min);
        let lifted = rgb.map(|value| value - lowest);
        let largest = lifted.iter().copied().fold(0.0, f64::max);
        for (value, column) in lifted.iter().zip(["cie2_R", "cie2_G", "cie2_B"]) {
            near(value / largest, row.number(column), 0.01, row.text("T_K"));
        }
    }
    // Planck's law against an astronomy library: 450, 550, 650 nm at 5800 K are as 0.994076, 1, 0.877932.
    let middle = light::planck(550.0, 5800.0);
    near(
        light::planck(450.0, 5800.0) / middle,
        0.994_076,
        1e-6,
        "450 nm",
    );
    near(
        light::planck(650.0, 5800.0) / middle,
        0.877_932,
        1e-6,
        "650 nm",
    );
}

#[test]
fn exposure_values() {
    for row in rows(include_str!("../checks/exposure_values.csv")) {
        let [n, t, nominal] = row.numbers(["N", "t_s", "EV_nominal"]);
        let found = light::exposure_value(n, t);
        near(found, row.number("EV_exact"), 1e-4, "exposure value");
        near(found.round(), nominal, 0.0, "nominal value");
        near(
            light::luminance_cd_m2(nominal),
            row.number("L_cd_m2"),
            1e-9,
            "luminance",
        );
        near(
            light::illuminance_lux(nominal),
            row.number("E_lux"),
            1e-9,
            "illuminance",
        );
    }
}

#[test]
fn falloff() {
    for row in rows(include_str!("../checks/light_falloff.csv")) {
        let [d, l] = row.numbers(["D_mm", "L_mm"]);
        let ratio = light::falloff(d, l);
        near(ratio, row.number("ratio"), 1e-5, "ratio");
        near(libm::log2(ratio), row.number("EV"), 1e-4, "stops");
        near(
            light::divergence_degrees(d, l),
            row.number("divergence_deg"),
            1e-3,
            "divergence",
        );
        near(
            light::distance_for_falloff(l, -libm::log2(ratio)),
            d,
            1e-6 * d,
            "distance",
        );
    }
    near(
        light::distance_for_falloff(1.0, 0.1),
        28.36,
        0.005,
        "a tenth of a stop",
    );
    near(
        light::distance_for_falloff(1.0, 0.25),
        11.05,
        0.005,
        "a quarter stop",
    );
}

#[test]
fn flicker() {
    for row in rows(include_str!("../checks/flicker.csv")) {
        // Decimal times in the table are rounded; the number of periods is given exactly.
        let hertz = row.number("f_Hz");
        let seconds = row.number("cycles") / hertz;
        near(
            light::flicker_left(hertz, seconds),
            row.number("sinc"),
            1e-4,
            "left",
        );
        for (depth, column) in [(0.2, "EV_M0p2"), (0.5, "EV_M0p5"), (1.0, "EV_M1")] {
            near(
                light::flicker_stops(hertz, seconds, depth),
                row.number(column),
                1e-4,
                column,
            );
        }
    }
}

#[test]
fn noise() {
    for row in rows(include_str!("../checks/noise.csv")) {
        let [e, r, n] = row.numbers(["electrons", "read_e", "frames"]);
        let sigma = light::noise_electrons(e, r, n);
        near(sigma, row.number("sigma_e"), 1e-5, "noise");
        near(e / sigma, row.number("snr"), 1e-4, "signal over noise");
        near(
            light::decibels(e / sigma),
            row.number("snr_dB"),
            1e-3,
            "decibels",
        );
    }
    near(light::to_add(1.6, 2.5), 1.920_94, 1e-5, "noise to add");
}
