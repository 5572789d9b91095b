//! Taking the noise off separated light, never off the plate.

use crate::imaging::basics::pyramid::{WHITE_NOISE_SHARE, build, collapse, reduce};
use crate::pixels::convert::clamp_index;
use crate::pixels::{Plane, Planes};
use rayon::prelude::*;

/// Bands that are shrunk, finest first. What is coarser holds too little noise to be seen.
const BANDS: usize = 4;
/// Half the side of the window over which a band's energy is gathered.
const REACH: i32 = 2;
/// Steps of the plate, in deviations of the light's noise, across which energy is gathered at half weight.
const STEP: f32 = 6.0;

/// `light` with its noise shrunk band by band: what a band holds is scaled by `1 - (strength * sigma)^2 / energy`, not below 0, where
/// the energy is the mean square of the band's three colours over a window of 5 pixels (the local Wiener rule of Lee 1980, on a
/// Laplacian pyramid). Light well over the noise stays as it is, and so does the mean of any larger area: nothing is clipped at 0.
///
/// `variance`: of the light's noise, per channel. `guide`: luma of the plate; windows stop at its edges, so that light ends where the
/// model's parts end. `strength`: 0 (off: bit for bit) to 4 deviations; 2 suits most. All cover one rectangle.
#[must_use]
pub fn shrink(light: &Planes, variance: &Planes, guide: &Plane, strength: f32) -> Planes {
    if strength.is_nan() || strength <= 0.0 || light.rect().is_empty() {
        return light.clone();
    }
    let mut pyramids = light.rgb.each_ref().map(|plane| build(plane, BANDS));
    let mut level_guide = guide.clone();
    let mut noise = summed(variance);
    let bands = pyramids[0].levels.len() - 1;
    for level in 0..bands {
        let share = WHITE_NOISE_SHARE[level.min(WHITE_NOISE_SHARE.len() - 1)];
        let energy = {
            let [red, green, blue] = pyramids.each_ref().map(|bands| &bands.levels[level]);
            let mut sum = red.map(|v| v * v);
            for plane in [green, blue] {
                let pairs = sum.data.iter_mut().zip(&plane.data);
                pairs.for_each(|(sum, value)| *sum += value * value);
            }
            gathered(&sum, &level_guide, &noise)
        };
        let factor = strength * strength * share;
        let keep: Vec<f32> = energy
            .data
            .iter()
            .zip(&noise.data)
            .map(|(energy, noise)| (1.0 - factor * noise / energy.max(1e-30)).clamp(0.0, 1.0))
            .collect();
        for pyramid in &mut pyramids {
            let pairs = pyramid.levels[level].data.iter_mut().zip(&keep);
            pairs.for_each(|(value, keep)| *value *= keep);
        }
        level_guide = reduce(&level_guide);
        noise = reduce(&noise);
    }
    Planes {
        rgb: pyramids.map(collapse),
    }
}

/// Variance of the three colours together.
fn summed(variance: &Planes) -> Plane {
    let mut sum = variance.rgb[0].clone();
    for plane in &variance.rgb[1..] {
        let pairs = sum.data.iter_mut().zip(&plane.data);
        pairs.for_each(|(sum, value)| *sum += value);
    }
    sum
}

/// Mean of `energy` over a window, with less weight for pixels where the guide differs.
fn gathered(energy: &Plane, guide: &Plane, noise: &Plane) -> Plane {
    let rect = energy.rect;
    let width = rect.width();
    let mut out = Plane::zero(rect);
    let (right, bottom) = (rect.x1 - 1, rect.y1 - 1);
    out.data
        .par_chunks_mut(width)
        .zip(rect.y0..rect.y1)
        .for_each(|(row, y)| {
            for (value, x) in row.iter_mut().zip(rect.x0..rect.x1) {
                let here = clamp_index(y - rect.y0) * width + clamp_index(x - rect.x0);
                let middle = guide.data[here];
                let narrow = 1.0 / (STEP * STEP * noise.data[here]).max(1e-20);
                let (mut sum, mut weights) = (0.0, 0.0);
                for ny in (y - REACH).max(rect.y0)..=(y + REACH).min(bottom) {
                    let line = clamp_index(ny - rect.y0) * width;
                    for nx in (x - REACH).max(rect.x0)..=(x + REACH).min(right) {
                        let there = line + clamp_index(nx - rect.x0);
                        let step = guide.data[there] - middle;
                        let weight = 1.0 / (1.0 + step * step * narrow);
                        sum += weight * energy.data[there];
                        weights += weight;
                    }
                }
                *value = sum / weights;
            }
        });
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Rect;
    use crate::imaging::basics::random::{bits_at, normal};
    use crate::pixels::convert::{count_f32, narrow};

    fn noisy(rect: Rect, sigma: f32) -> Planes {
        let lamp = |x: i32| if (60..68).contains(&x) { 0.3 } else { 0.0 };
        let plane = |seed: u64| {
            Plane::from_fn(rect, |x, y| {
                lamp(x) + sigma * narrow(normal(bits_at(seed, x, y)))
            })
        };
        Planes {
            rgb: [plane(1), plane(2), plane(3)],
        }
    }

    #[test]
    fn noise_goes_and_light_stays() {
        let rect = Rect::new(0, 0, 128, 96);
        let light = noisy(rect, 0.01);
        let variance = Planes {
            rgb: [0, 1, 2].map(|_| Plane::filled(rect, 1e-4)),
        };
        let guide = Plane::from_fn(rect, |x, _| if (60..68).contains(&x) { 0.4 } else { 0.1 });
        let out = shrink(&light, &variance, &guide, 2.0);
        let dark = |p: &Planes| -> (f32, f32) {
            let values: Vec<f32> = (0..96)
                .flat_map(|y| p.rgb[0].row(y)[..50].to_vec())
                .collect();
            let mean = values.iter().sum::<f32>() / count_f32(values.len());
            let square = values.iter().map(|v| v * v).sum::<f32>() / count_f32(values.len());
            (mean, square)
        };
        let ((mean, left), (before_mean, before)) = (dark(&out), dark(&light));
        assert!(left < 0.1 * before, "{left} of {before}");
        assert!(
            (mean - before_mean).abs() < 2e-4,
            "{mean} for {before_mean}: no bias"
        );
        let lamp: f32 = (20..76).map(|y| out.rgb[1].at(63, y)).sum::<f32>() / 56.0;
        assert!((lamp - 0.3).abs() < 0.004, "{lamp}");
        assert!(
            out.rgb[0].data.iter().any(|v| *v < 0.0),
            "signed to the end"
        );
    }

    #[test]
    fn no_strength_changes_nothing() {
        let rect = Rect::new(3, 4, 40, 30);
        let light = noisy(rect, 0.02);
        let variance = light.clone();
        assert_eq!(shrink(&light, &variance, &light.rgb[0], 0.0), light);
    }
}
