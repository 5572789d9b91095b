//! Lit details over an unlit plate: the light that lamps add, laid on by addition in linear light, and its glow.
//!
//! Light adds (additivity of light; Haeberli 1992, Debevec et al. 2000): with `light = lit - unlit`, `plate + light` is what the
//! camera would have seen. Differences are signed and never clipped: clipping noise at 0 would lift black by 0.4 of its sigma.

mod glow;
pub mod lay;

pub use glow::glow;

use crate::geometry::Rect;
use crate::imaging::basics::blur::gaussian;
use crate::pixels::{Plane, Planes};
use rayon::prelude::*;
use std::borrow::Cow;

/// Largest gain in stops.
pub const MOST_GAIN_STOPS: f32 = 6.0;

/// The gain that means off.
pub const OFF: f32 = f32::NEG_INFINITY;

/// Light to be added to a plate.
#[derive(Debug, Clone, Copy)]
pub struct Layer<'a> {
    /// The light, signed, over any rectangle; nothing is added outside it.
    pub light: &'a Planes,
    /// Gain in stops, [`OFF`] to [`MOST_GAIN_STOPS`]; 0 adds the light as it was.
    pub gain_stops: f32,
    /// Factors for red, green and blue; 1 leaves the colour as it was.
    pub tint: [f32; 3],
    /// Where the light shows, 0 to 1; `None` shows it everywhere, and outside the mask's rectangle nothing shows.
    pub mask: Option<&'a Plane>,
}

impl<'a> Layer<'a> {
    /// A layer that adds `light` as it is.
    #[must_use]
    pub const fn plain(light: &'a Planes) -> Self {
        Self {
            light,
            gain_stops: 0.0,
            tint: [1.0; 3],
            mask: None,
        }
    }

    fn factors(&self) -> [f32; 3] {
        let gain = gain(self.gain_stops);
        self.tint.map(|tint| tint * gain)
    }
}

/// The factor of a gain in stops: 0 for [`OFF`] and not-a-number; held at [`MOST_GAIN_STOPS`].
#[must_use]
pub fn gain(stops: f32) -> f32 {
    if stops.is_nan() {
        return 0.0;
    }
    libm::exp2f(stops.min(MOST_GAIN_STOPS))
}

/// The light that a lit frame holds over an unlit one: `lit * exposure - gain_rgb * unlit`, signed.
///
/// `exposure` brings the lit frame to the unlit frame's exposure (2^-k when it was exposed k stops longer); `gain_rgb` is what is
/// left of the unlit light in the lit frame (1 when the stage light burned on, 0 when it was off). The answer covers the lit
/// frame; outside the unlit frame that counts as black.
#[must_use]
pub fn difference(lit: &Planes, unlit: &Planes, exposure: f32, gain_rgb: [f32; 3]) -> Planes {
    let rect = lit.rect();
    let mut out = lit.clone();
    for ((plane, unlit), gain) in out.rgb.iter_mut().zip(&unlit.rgb).zip(gain_rgb) {
        let unlit = placed(unlit, rect);
        let width = rect.width().max(1);
        plane
            .data
            .par_chunks_mut(width)
            .zip(unlit.data.par_chunks(width))
            .for_each(|(row, unlit)| {
                for (value, unlit) in row.iter_mut().zip(unlit) {
                    *value = *value * exposure - gain * unlit;
                }
            });
    }
    out
}

/// `light` with its noise shrunk: each pixel is scaled by `1 - (strength * sigma)^2 / energy`, not below 0, where the energy is the
/// mean square of the light's colours over a window of 2 pixels (the local Wiener rule of Lee 1980). Light well over the noise stays
/// as it is.
///
/// `sigma`: standard deviation of the light's noise per channel, in linear light. `strength`: 0 (off) to 4; 1.5 suits most.
#[must_use]
pub fn shrink(light: &Planes, sigma: &Plane, strength: f32) -> Planes {
    if strength <= 0.0 {
        return light.clone();
    }
    let rect = light.rect();
    let mut energy = Plane::zero(rect);
    for plane in &light.rgb {
        for (sum, value) in energy.data.iter_mut().zip(&plane.data) {
            *sum += value * value / 3.0;
        }
    }
    let energy = gaussian(&energy, 2.0);
    let sigma = placed(sigma, rect);
    let mut out = light.clone();
    for plane in &mut out.rgb {
        for ((value, energy), sigma) in plane.data.iter_mut().zip(&energy.data).zip(&sigma.data) {
            let noise = strength * sigma;
            let kept = 1.0 - noise * noise / energy.max(1e-30);
            *value *= kept.clamp(0.0, 1.0);
        }
    }
    out
}

/// `plate` plus all `layers`: `plate + gain * tint * mask * light`, in the order given.
///
/// Without layers, with gain [`OFF`] or under a mask of 0 the plate comes out bit for bit.
#[must_use]
pub fn add(plate: &Planes, layers: &[Layer<'_>]) -> Planes {
    let mut out = plate.clone();
    let rect = plate.rect();
    let width = rect.width().max(1);
    for layer in layers {
        let met = rect.intersect(layer.light.rect());
        let mask = layer.mask.map(|mask| placed(mask, rect));
        let factors = layer.factors();
        if met.is_empty() || factors.iter().all(|factor| factor.abs() <= 0.0) {
            continue;
        }
        let rows = out.rgb.iter_mut().zip(&layer.light.rgb).zip(factors);
        for ((plane, light), factor) in rows {
            let light = placed(light, rect);
            let add_row = |(y, row): (usize, &mut [f32])| {
                let light = &light.data[y * width..][..row.len()];
                let mask = mask
                    .as_ref()
                    .map(|mask| &mask.data[y * width..][..row.len()]);
                add_row(row, light, mask, factor);
            };
            plane
                .data
                .par_chunks_mut(width)
                .enumerate()
                .for_each(add_row);
        }
    }
    out
}

fn add_row(row: &mut [f32], light: &[f32], mask: Option<&[f32]>, factor: f32) {
    if let Some(mask) = mask {
        for ((value, light), mask) in row.iter_mut().zip(light).zip(mask) {
            let share = factor * mask;
            // Adding a zero would turn -0 into +0 and not-a-number light into a hole.
            if share.abs() > 0.0 {
                *value += share * light;
            }
        }
    } else {
        for (value, light) in row.iter_mut().zip(light) {
            *value += factor * light;
        }
    }
}

/// The covering mode: `plate * (1 - mask) + lit * mask`, for parts that the lit frame shows better as a whole. Where the mask is 0
/// the plate, and where it is 1 the lit frame, comes out bit for bit. Outside `lit` and `mask` the plate stays.
#[must_use]
pub fn cover(plate: &Planes, lit: &Planes, mask: &Plane) -> Planes {
    let mut out = plate.clone();
    let rect = plate.rect();
    let met = rect.intersect(lit.rect()).intersect(mask.rect);
    for (plane, lit) in out.rgb.iter_mut().zip(&lit.rgb) {
        for y in met.y0..met.y1 {
            let start = rect.index(met.x0, y);
            let row = &mut plane.data[start..start + met.width()];
            let lit = &lit.data[lit.rect.index(met.x0, y)..];
            let mask = &mask.data[mask.rect.index(met.x0, y)..];
            for ((value, lit), mask) in row.iter_mut().zip(lit).zip(mask) {
                if *mask >= 1.0 {
                    *value = *lit;
                } else if *mask > 0.0 {
                    *value = *value * (1.0 - mask) + lit * mask;
                }
            }
        }
    }
    out
}

/// `plane` over `rect`; zero outside.
fn placed(plane: &Plane, rect: Rect) -> Cow<'_, Plane> {
    if plane.rect == rect {
        Cow::Borrowed(plane)
    } else {
        Cow::Owned(plane.crop(rect))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn picture(rect: Rect, scale: f32) -> Planes {
        let value = |x: i32, y: i32, c: i32| {
            scale * crate::pixels::convert::narrow(f64::from((x * 7 + y * 13 + c * 5) % 32) / 32.0)
        };
        Planes {
            rgb: [0, 1, 2].map(|c| Plane::from_fn(rect, |x, y| value(x, y, c))),
        }
    }

    #[test]
    fn gain_off_no_layers_and_an_empty_mask_return_the_plate() {
        let rect = Rect::new(2, 3, 40, 30);
        let mut plate = picture(rect, 1.0);
        plate.rgb[0].data[5] = -0.0;
        let light = picture(rect, 2.0);
        let mask = Plane::zero(rect);
        let off = Layer {
            gain_stops: OFF,
            ..Layer::plain(&light)
        };
        let hidden = Layer {
            mask: Some(&mask),
            ..Layer::plain(&light)
        };
        for layers in [&[][..], &[off], &[hidden], &[off, hidden]] {
            let out = add(&plate, layers);
            for (a, b) in out.rgb.iter().zip(&plate.rgb) {
                let same = a
                    .data
                    .iter()
                    .zip(&b.data)
                    .all(|(a, b)| a.to_bits() == b.to_bits());
                assert!(same, "{layers:?}");
            }
        }
    }

    #[test]
    fn the_difference_added_back_is_the_lit_frame() {
        let rect = Rect::new(0, 0, 50, 20);
        let (unlit, lit) = (picture(rect, 0.4), picture(rect, 1.7));
        let light = difference(&lit, &unlit, 1.0, [1.0; 3]);
        let out = add(&unlit, &[Layer::plain(&light)]);
        for (a, b) in out.rgb.iter().zip(&lit.rgb) {
            assert!(
                a.data
                    .iter()
                    .zip(&b.data)
                    .all(|(a, b)| (a - b).abs() < 1e-6)
            );
        }
        let dark = difference(&unlit, &lit, 1.0, [1.0; 3]);
        assert!(dark.rgb[0].data.iter().any(|v| *v < -0.5), "never clipped");
    }

    #[test]
    fn stops_up_and_down_again_change_nothing() {
        for stops in [-6.0_f32, -1.5, 0.0, 1.0, 6.0] {
            let there = gain(stops) * gain(-stops);
            assert!((there - 1.0).abs() < 1e-6, "{stops}: {there}");
        }
        assert_eq!(gain(3.0), 8.0);
        assert_eq!((gain(OFF), gain(f32::NAN), gain(9.0)), (0.0, 0.0, 64.0));
    }

    #[test]
    fn tint_mask_and_gain_multiply_and_lights_outside_add_nothing() {
        let rect = Rect::new(0, 0, 8, 4);
        let plate = picture(rect, 1.0);
        let light = picture(Rect::new(2, 1, 20, 3), 1.0);
        let mask = Plane::from_fn(rect, |x, _| if x < 4 { 0.5 } else { 1.0 });
        let layer = Layer {
            light: &light,
            gain_stops: 1.0,
            tint: [1.0, 0.5, 0.0],
            mask: Some(&mask),
        };
        let out = add(&plate, &[layer]);
        for (c, tint) in [1.0, 0.5, 0.0].into_iter().enumerate() {
            for (x, y, share) in [(3, 2, 1.0), (6, 1, 2.0), (0, 0, 0.0), (5, 3, 0.0)] {
                let lit = if share > 0.0 {
                    light.rgb[c].at(x, y)
                } else {
                    0.0
                };
                let expected = plate.rgb[c].at(x, y) + share * tint * lit;
                assert!((out.rgb[c].at(x, y) - expected).abs() < 1e-6, "({x}, {y})");
            }
        }
    }

    #[test]
    fn covering_takes_the_lit_frame_where_the_mask_is_solid() {
        let rect = Rect::new(0, 0, 9, 3);
        let (plate, lit) = (picture(rect, 1.0), picture(rect, 3.0));
        let mask = Plane::from_fn(rect, |x, _| {
            [0.0, 0.25, 1.0][crate::pixels::convert::clamp_index(x / 3)]
        });
        let out = cover(&plate, &lit, &mask);
        let (p, l, o) = (&plate.rgb[1], &lit.rgb[1], &out.rgb[1]);
        assert_eq!(o.at(1, 1), p.at(1, 1));
        assert_eq!(o.at(7, 1), l.at(7, 1));
        assert!((o.at(4, 1) - (0.75 * p.at(4, 1) + 0.25 * l.at(4, 1))).abs() < 1e-6);
    }

    #[test]
    fn shrinking_quiets_noise_and_spares_light() {
        let rect = Rect::new(0, 0, 64, 64);
        let hash = |x: i32, y: i32| {
            let mixed = (x * 73_856_093) ^ (y * 19_349_663);
            crate::pixels::convert::narrow(f64::from((mixed >> 3) & 0xff) / 128.0 - 1.0) * 0.01
        };
        let noisy = |x: i32, y: i32| hash(x, y) + if x > 40 { 0.5 } else { 0.0 };
        let plane = Plane::from_fn(rect, noisy);
        let light = Planes {
            rgb: [plane.clone(), plane.clone(), plane],
        };
        let out = shrink(&light, &Plane::filled(rect, 0.0058), 1.5);
        let energy = |p: &Planes| {
            (0..64)
                .map(|y| p.rgb[0].row(y)[..30].iter().map(|v| v * v).sum::<f32>())
                .sum::<f32>()
        };
        assert!(energy(&out) < 0.1 * energy(&light));
        let (a, b) = (out.rgb[0].at(60, 30), light.rgb[0].at(60, 30));
        assert!((a / b - 1.0).abs() < 1e-3, "{a} for {b}");
        assert_eq!(shrink(&light, &Plane::filled(rect, 1.0), 0.0), light);
    }
}
