//! Measures of likeness between two pictures, for tests and quality tables.
//!
//! PSNR and SSIM (Wang, Bovik, Sheikh and Simoncelli 2004: 11 x 11 Gaussian of sigma 1.5, K1 = 0.01, K2 = 0.03).
#![allow(
    dead_code,
    unreachable_pub,
    missing_docs,
    missing_debug_implementations,
    clippy::allow_attributes,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::unwrap_used,
    reason = "each test file uses a part"
)]

use platebench::geometry::Rect;
use platebench::imaging::basics::blur::{gaussian_taps, smooth};
use platebench::pixels::Plane;

/// Peak signal-to-noise ratio in dB for a mean square error.
pub fn psnr(peak: f64, mean_square_error: f64) -> f64 {
    10.0 * libm::log10(peak * peak / mean_square_error)
}

/// SSIM of every pixel for values of the range 0 to `peak`.
pub fn ssim_map(a: &Plane, b: &Plane, peak: f32) -> Plane {
    let mut taps = gaussian_taps(1.5);
    taps.truncate(6);
    let whole = taps[0] + 2.0 * taps[1..].iter().sum::<f32>();
    taps.iter_mut().for_each(|tap| *tap /= whole);
    let mean = |data: Vec<f32>| smooth(&Plane { rect: a.rect, data }, &taps);
    // Variances do not change when all values move by the same amount; near zero single precision is finer.
    let base = a.data.first().copied().unwrap_or(0.0);
    let moved = |p: &Plane| -> Vec<f32> { p.data.iter().map(|v| v - base).collect() };
    let product = |p: &[f32], q: &[f32]| p.iter().zip(q).map(|(p, q)| p * q).collect();
    let (p, q) = (moved(a), moved(b));
    let (aa, bb) = (mean(product(&p, &p)), mean(product(&q, &q)));
    let ab = mean(product(&p, &q));
    let (mean_a, mean_b) = (mean(p), mean(q));
    let (c1, c2) = (0.01 * peak, 0.03 * peak);
    let (c1, c2) = (c1 * c1, c2 * c2);
    let data = (0..a.data.len())
        .map(|i| {
            let (x, y) = (mean_a.data[i], mean_b.data[i]);
            let (xx, yy, xy) = (aa.data[i] - x * x, bb.data[i] - y * y, ab.data[i] - x * y);
            let (x, y) = (x + base, y + base);
            (2.0 * x * y + c1) * (2.0 * xy + c2) / ((x * x + y * y + c1) * (xx + yy + c2))
        })
        .collect();
    Plane { rect: a.rect, data }
}

/// Mean square difference over the pixels that `counts` names.
pub fn mean_square(a: &Plane, b: &Plane, counts: impl Fn(usize) -> bool) -> f64 {
    let (mut sum, mut count) = (0.0, 0.0);
    for (i, (a, b)) in a.data.iter().zip(&b.data).enumerate() {
        if counts(i) {
            let off = f64::from(a - b);
            sum += off * off;
            count += 1.0;
        }
    }
    if count > 0.0 { sum / count } else { 0.0 }
}

/// Distance in pixels of every pixel from the nearest marked one, exact up to `most` and never larger.
pub fn distance_from(marked: &[bool], rect: Rect, most: i32) -> Vec<f32> {
    let (width, height) = (rect.width(), rect.height());
    let far = most as f32;
    let mut down = vec![far; marked.len()];
    for x in 0..width {
        let mut last = far;
        for y in (0..height).chain((0..height).rev()) {
            last = if marked[y * width + x] {
                0.0
            } else {
                (last + 1.0).min(far)
            };
            let cell = &mut down[y * width + x];
            *cell = cell.min(last);
        }
    }
    let mut out = vec![far; marked.len()];
    for y in 0..height {
        for x in 0..width {
            let (first, end) = (
                x.saturating_sub(most as usize),
                (x + most as usize + 1).min(width),
            );
            let mut best = far * far;
            for other in first..end {
                let (dx, dy) = (x.abs_diff(other) as f32, down[y * width + other]);
                best = best.min(dx * dx + dy * dy);
            }
            out[y * width + x] = best.sqrt();
        }
    }
    out
}
