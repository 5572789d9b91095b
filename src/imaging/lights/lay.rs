//! Laying separated light over a plate, tile by tile.

use crate::pixels::{Image, Plane, Planes};
use rayon::prelude::*;

/// How the light of a group is laid over.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LaidOver {
    /// Strength in stops, up to +6; 0 is as shot.
    pub stops: f32,
    /// Colour change: factors for red, green, blue.
    pub tint_rgb: [f32; 3],
    /// `None`: the light is added. Else the lit photo covers the plate: `plate * key + light`, with the key light's share in it.
    pub covering_key_rgb: Option<[f32; 3]>,
}

/// Lays `light` over `tile` as strongly as `mask` (0..=1) says; everywhere without one. Where the mask is 0 the tile keeps its bits.
///
/// Light adds (Grassmann's law): `plate + 2^stops * tint * light * mask`, in linear light, signed, unclipped.
pub fn lay_over(tile: &mut Image, light: &Image, mask: Option<&Plane>, laid: &LaidOver) {
    let gain = libm::exp2f(laid.stops);
    let factor = laid.tint_rgb.map(|tint| tint * gain);
    tile.data
        .iter_mut()
        .zip(&light.data)
        .enumerate()
        .for_each(|(at, (pixel, light))| {
            let strength = mask.map_or(1.0, |mask| mask.data[at]);
            if strength <= 0.0 {
                return;
            }
            for channel in 0..3 {
                let added = light[channel] * factor[channel] * strength;
                pixel[channel] = match laid.covering_key_rgb {
                    None => pixel[channel] + added,
                    Some(key) => {
                        pixel[channel] * (1.0 - strength + key[channel] * strength) + added
                    }
                };
            }
        });
}

/// What the lamps added: `lit - key * unlit`, signed.
#[must_use]
pub fn difference(lit: &Planes, unlit: &Planes, key_rgb: [f32; 3]) -> Planes {
    let mut out = lit.clone();
    for ((plane, unlit), key) in out.rgb.iter_mut().zip(&unlit.rgb).zip(key_rgb) {
        plane
            .data
            .par_iter_mut()
            .zip(&unlit.data)
            .for_each(|(value, unlit)| *value -= key * unlit);
    }
    out
}
