//! The glow that lens and air put around bright lights.

use crate::imaging::basics::blur::gaussian;
use crate::imaging::basics::pyramid::{expand, reduce};
use crate::pixels::convert::{count_f32, narrow};
use crate::pixels::{Plane, Planes};

/// Gaussians in the sum; each is twice as wide as the one before.
const HALOS: usize = 5;
/// Share of each halo over the share of the one before: surface brightness then falls about as distance to the -3.
const FALL: f32 = 0.5;

/// `light` with `strength` (0 to 1) of it spread as glow: a sum of five Gaussians, the narrowest with a sigma of `size_px` pixels, each
/// next one twice as wide and holding half the light (the glare of Spencer et al. 1995 as a sum of Gaussians).
///
/// Light moves but is not made: the sum stays within 0.1 % for lamps away from the border by three times the widest sigma (16
/// `size_px`); nearer ones are mirrored at the border. Black stays black; strength 0 or size 0 returns the light bit for bit.
#[must_use]
pub fn glow(light: &Planes, size_px: f32, strength: f32) -> Planes {
    let strength = strength.clamp(0.0, 1.0);
    if !(strength > 0.0 && size_px > 0.0) || light.rect().is_empty() {
        return light.clone();
    }
    let mut out = light.clone();
    for plane in &mut out.rgb {
        let halo = halos(plane, size_px);
        for (value, halo) in plane.data.iter_mut().zip(&halo.data) {
            *value = *value * (1.0 - strength) + halo * strength;
        }
    }
    out
}

/// The sum of all halos. Wide ones are made at a smaller level of the pyramid, where the blur of its own kernels is taken off.
fn halos(plane: &Plane, size_px: f32) -> Plane {
    let whole: f32 = (0..HALOS).map(share).sum();
    let mut widths = Vec::with_capacity(HALOS);
    let mut sigma = size_px;
    for halo in 0..HALOS {
        let level = level_of(sigma, plane);
        widths.push((level, own_sigma(sigma, level), share(halo) / whole));
        sigma *= 2.0;
    }
    let deepest = widths.iter().map(|width| width.0).max().unwrap_or(0);
    let mut levels = vec![plane.clone()];
    for level in 0..deepest {
        let next = reduce(&levels[level]);
        levels.push(next);
    }
    let mut sum: Option<Plane> = None;
    for (level, small) in levels.iter().enumerate().rev() {
        let mut here = sum.map_or_else(|| Plane::zero(small.rect), |sum| expand(&sum, small.rect));
        for (_, sigma, share) in widths.iter().filter(|width| width.0 == level) {
            let halo = gaussian(small, *sigma);
            for (value, halo) in here.data.iter_mut().zip(&halo.data) {
                *value += share * halo;
            }
        }
        sum = Some(here);
    }
    sum.unwrap_or_else(|| plane.clone())
}

fn share(halo: usize) -> f32 {
    (0..halo).fold(1.0, |share, _| share * FALL)
}

/// How often the picture is halved for a Gaussian of `sigma`: until less than four pixels of it are left, or the picture is small.
fn level_of(sigma: f32, plane: &Plane) -> usize {
    let (mut level, mut left) = (0, sigma);
    let mut side = plane.rect.width().min(plane.rect.height());
    while left >= 4.0 && side >= 32 {
        left *= 0.5;
        side = side.div_ceil(2);
        level += 1;
    }
    level
}

/// What is left to blur at `level`: the kernels of reducing and expanding have a variance of one pixel each at every step.
fn own_sigma(sigma: f32, level: usize) -> f32 {
    let scale = count_f32(1 << level);
    let wanted = f64::from(sigma) * f64::from(sigma);
    let spent = 2.0 * (f64::from(scale * scale) - 1.0) / 3.0;
    narrow((wanted - spent).max(0.0).sqrt()) / scale
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Rect;

    fn lamp(rect: Rect) -> Planes {
        let plane = |power: f32| {
            Plane::from_fn(
                rect,
                move |x, y| if (x, y) == (260, 250) { power } else { 0.0 },
            )
        };
        Planes {
            rgb: [plane(500.0), plane(200.0), plane(0.0)],
        }
    }

    #[test]
    fn glow_moves_light_and_makes_none() {
        let light = lamp(Rect::new(0, 0, 520, 500));
        for size in [0.8, 2.0, 4.5] {
            let out = glow(&light, size, 0.6);
            for (before, after) in light.rgb.iter().zip(&out.rgb) {
                let sum = |p: &Plane| p.data.iter().map(|v| f64::from(*v)).sum::<f64>();
                let (before, after) = (sum(before), sum(after));
                assert!(
                    (after - before).abs() <= 1e-3 * before,
                    "{size}: {after} for {before}"
                );
            }
            assert!(out.rgb[0].at(260 + 20, 250) > 1e-4, "the halo reaches out");
            assert!(out.rgb[0].data.iter().all(|v| *v >= 0.0), "no dark rims");
        }
    }

    #[test]
    fn halos_have_the_width_asked_for() {
        let rect = Rect::new(0, 0, 520, 500);
        let halo = halos(&lamp(rect).rgb[0], 3.0);
        let (mut sum, mut spread) = (0.0, 0.0);
        for y in 0..500 {
            for (x, value) in (0..520).zip(halo.row(y)) {
                sum += f64::from(*value);
                spread += f64::from(*value) * f64::from((x - 260) * (x - 260));
            }
        }
        // Shares 16 8 4 2 1 over 31 of variances 9 times 1 4 16 64 256.
        let expected = 9.0 * (16.0 + 32.0 + 64.0 + 128.0 + 256.0) / 31.0;
        let ratio = spread / sum / expected;
        assert!((ratio - 1.0).abs() < 0.02, "variance ratio {ratio}");
    }

    #[test]
    fn black_stays_black_and_no_glow_returns_the_light() {
        let rect = Rect::new(0, 0, 80, 60);
        let black = Planes::zero(rect);
        assert_eq!(glow(&black, 3.0, 0.5), black);
        let light = lamp(Rect::new(200, 200, 300, 300));
        assert_eq!(glow(&light, 3.0, 0.0), light);
        assert_eq!(glow(&light, 0.0, 0.5), light);
    }
}
