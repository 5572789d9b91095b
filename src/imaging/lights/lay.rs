//! Laying separated light over a plate, tile by tile.

use crate::imaging::lights::{gain, glow};
use crate::pixels::{Image, Plane, Planes};

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
    let gain = gain(laid.stops);
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

/// Light behind its mask, with `share` of it spread into a glow of `size_px`.
#[must_use]
pub fn with_glow(light: &Image, mask: Option<&Plane>, size_px: f32, share: f32) -> Image {
    let mut planes = Planes::zero(light.rect);
    for (at, pixel) in light.data.iter().enumerate() {
        let strength = mask.map_or(1.0, |mask| mask.data[at]);
        planes.set_pixel(
            at,
            [
                pixel[0] * strength,
                pixel[1] * strength,
                pixel[2] * strength,
            ],
        );
    }
    let glowing = glow(&planes, size_px, share);
    let data = light.data.iter().enumerate().map(|(at, pixel)| {
        let [red, green, blue] = glowing.pixel(at);
        [red, green, blue, pixel[3]]
    });
    Image {
        rect: light.rect,
        data: data.collect(),
    }
}
