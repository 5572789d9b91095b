//! Laying separated light over a plate, tile by tile.

use crate::imaging::lights::{Spikes, gain, glow, spikes};
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
    /// How strongly light beyond white is held back so that its colour stays, 0..=1.
    pub keep_colour: f32,
    /// Whether the light went through the mask before (with its glare), so that the mask only says where the plate is covered.
    pub light_is_masked: bool,
}

impl Default for LaidOver {
    /// Added as it was shot.
    fn default() -> Self {
        Self {
            stops: 0.0,
            tint_rgb: [1.0; 3],
            covering_key_rgb: None,
            keep_colour: 0.0,
            light_is_masked: false,
        }
    }
}

/// Light up to this much of white is never held back.
const KNEE: f32 = 0.8;

/// Lays `light` over `tile` as strongly as `mask` (0..=1) says; everywhere without one. Where the mask is 0, or the strength is none
/// at all, the tile keeps its bits.
///
/// Light adds (Grassmann's law): `plate + 2^stops * tint * light * mask`, in linear light, signed, unclipped.
pub fn lay_over(tile: &mut Image, light: &Image, mask: Option<&Plane>, laid: &LaidOver) {
    let gain = gain(laid.stops);
    let factor = laid.tint_rgb.map(|tint| tint * gain);
    if laid.covering_key_rgb.is_none() && factor.iter().all(|factor| factor.abs() <= 0.0) {
        return;
    }
    for (at, (pixel, light)) in tile.data.iter_mut().zip(&light.data).enumerate() {
        let strength = mask.map_or(1.0, |mask| mask.data[at]);
        let share = if laid.light_is_masked { 1.0 } else { strength };
        if share <= 0.0 {
            continue;
        }
        let mut plate = [pixel[0], pixel[1], pixel[2]];
        if let Some(key) = laid.covering_key_rgb
            && strength > 0.0
        {
            plate = [0, 1, 2].map(|c| plate[c] * (1.0 - strength + key[c] * strength));
        }
        let mut added = [0, 1, 2].map(|c| light[c] * factor[c] * share);
        if laid.keep_colour > 0.0 {
            let held = held_back(plate, added);
            added = added.map(|value| value * (1.0 + laid.keep_colour * (held - 1.0)));
        }
        for channel in 0..3 {
            pixel[channel] = plate[channel] + added[channel];
        }
    }
}

/// By how much to multiply `added` so that its brightest channel, with the plate, comes to rest under white; 1 for light that stays
/// below the knee. All channels alike, so the lamp's colour stays.
fn held_back(plate: [f32; 3], added: [f32; 3]) -> f32 {
    let mut factor = 1.0_f32;
    for channel in 0..3 {
        let sum = plate[channel] + added[channel];
        if sum > KNEE && added[channel] > 0.0 {
            let over = (sum - KNEE) / (1.0 - KNEE);
            let rest = KNEE + (1.0 - KNEE) * over / (1.0 + over);
            factor = factor.min(((rest - plate[channel]) / added[channel]).max(0.0));
        }
    }
    factor
}

/// What a lens puts round lamps.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Glare {
    /// Narrowest sigma of the glow in pixels; 0 for none.
    pub glow_px: f32,
    /// Share of the light that glows, 0..=1.
    pub glow_share: f32,
    /// Spikes.
    pub spikes: Option<Spikes>,
}

/// Light behind its mask, with the lens's glare: spikes first, then the glow of it all.
#[must_use]
pub fn with_glare(light: &Image, mask: Option<&Plane>, glare: &Glare) -> Image {
    let mut planes = Planes::zero(light.rect);
    for (at, pixel) in light.data.iter().enumerate() {
        let strength = mask.map_or(1.0, |mask| mask.data[at]);
        planes.set_pixel(at, [0, 1, 2].map(|c: usize| pixel[c] * strength));
    }
    if let Some(shape) = &glare.spikes {
        planes = spikes(&planes, shape);
    }
    let glowing = glow(&planes, glare.glow_px, glare.glow_share);
    let data = light.data.iter().enumerate().map(|(at, pixel)| {
        let [red, green, blue] = glowing.pixel(at);
        [red, green, blue, pixel[3]]
    });
    Image {
        rect: light.rect,
        data: data.collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Rect;
    use crate::imaging::lights::OFF;

    const RECT: Rect = Rect::new(2, 3, 42, 33);

    fn picture(scale: f32) -> Image {
        let value = |x: i32, y: i32, c: i32| {
            scale * crate::pixels::convert::narrow(f64::from((x * 7 + y * 13 + c * 5) % 32) / 32.0)
        };
        Image::from_fn(RECT, |x, y| {
            [value(x, y, 0), value(x, y, 1), value(x, y, 2), 1.0]
        })
    }

    fn bits(image: &Image) -> Vec<[u32; 4]> {
        image.data.iter().map(|p| p.map(f32::to_bits)).collect()
    }

    #[test]
    fn off_and_an_empty_mask_return_the_plate() {
        let mut plate = picture(1.0);
        plate.data[5][0] = -0.0;
        let off = LaidOver {
            stops: OFF,
            ..LaidOver::default()
        };
        let empty = Plane::zero(RECT);
        for (mask, laid) in [(None, off), (Some(&empty), LaidOver::default())] {
            let mut out = plate.clone();
            lay_over(&mut out, &picture(2.0), mask, &laid);
            assert_eq!(bits(&out), bits(&plate), "{laid:?}");
        }
    }

    #[test]
    fn tint_mask_and_gain_multiply() {
        let (plate, light) = (picture(1.0), picture(2.0));
        let mask = Plane::from_fn(RECT, |x, _| if x < 10 { 0.5 } else { 1.0 });
        let laid = LaidOver {
            stops: 1.0,
            tint_rgb: [1.0, 0.5, 0.0],
            ..LaidOver::default()
        };
        let mut out = plate.clone();
        lay_over(&mut out, &light, Some(&mask), &laid);
        for (x, y) in [(3, 4), (9, 20), (10, 20), (41, 32)] {
            for (channel, tint) in [1.0, 0.5, 0.0].into_iter().enumerate() {
                let more = 2.0 * tint * mask.at(x, y) * light.at(x, y)[channel];
                let wanted = plate.at(x, y)[channel] + more;
                assert!((out.at(x, y)[channel] - wanted).abs() < 1e-6, "({x}, {y})");
            }
        }
    }

    #[test]
    fn covering_shows_the_lit_photo_where_the_mask_is_solid() {
        let (plate, lit) = (picture(1.0), picture(3.0));
        let key = [0.9, 0.8, 0.7];
        let light = Image::from_fn(RECT, |x, y| {
            let (lit, plate) = (lit.at(x, y), plate.at(x, y));
            [0, 1, 2, 3].map(|c| {
                if c < 3 {
                    lit[c] - key[c] * plate[c]
                } else {
                    1.0
                }
            })
        });
        let mask = Plane::from_fn(RECT, |x, _| {
            [0.0, 0.25, 1.0][usize::from(x > 12) + usize::from(x > 25)]
        });
        let laid = LaidOver {
            covering_key_rgb: Some(key),
            ..LaidOver::default()
        };
        let mut out = plate.clone();
        lay_over(&mut out, &light, Some(&mask), &laid);
        for (x, share) in [(5, 0.0), (20, 0.25), (30, 1.0)] {
            let wanted = (1.0 - share) * plate.at(x, 9)[1] + share * lit.at(x, 9)[1];
            assert!((out.at(x, 9)[1] - wanted).abs() < 1e-5, "{x}");
        }
    }

    #[test]
    fn cores_keep_their_colour_under_white_and_dim_light_is_left_alone() {
        let mut plate = Image::from_fn(Rect::new(0, 0, 3, 1), |_, _| [0.1, 0.1, 0.1, 1.0]);
        let mut light = plate.clone();
        light.data = vec![
            [4.0, 2.0, 0.4, 1.0],
            [40.0, 20.0, 4.0, 1.0],
            [0.3, 0.2, 0.1, 1.0],
        ];
        let laid = LaidOver {
            keep_colour: 1.0,
            ..LaidOver::default()
        };
        lay_over(&mut plate, &light, None, &laid);
        for at in 0..2 {
            let [r, g, b, _] = plate.data[at];
            assert!(r < 1.0 && r > 0.9, "{r}");
            let (green, blue) = ((g - 0.1) / (r - 0.1), (b - 0.1) / (r - 0.1));
            assert!((green - 0.5).abs() < 1e-4 && (blue - 0.1).abs() < 1e-4);
        }
        assert!(
            plate.data[1][0] > plate.data[0][0],
            "brighter stays brighter"
        );
        assert!((plate.data[2][0] - 0.4).abs() < 1e-6, "below the knee");
    }
}
