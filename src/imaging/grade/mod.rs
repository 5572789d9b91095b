//! Exposure, colour, black level and saturation of one plate, and the bend of a frame's tone.

use crate::imaging::basics::colour::luma;
use crate::imaging::finish::{Tone, ToneCurve};
use crate::pixels::{Image, Plane};

/// What is changed. The values below leave everything as it is: 0, 1 1 1, 0, 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settings {
    /// Exposure in stops.
    pub exposure_stops: f32,
    /// Factors for red, green, blue.
    pub colour_rgb: [f32; 3],
    /// Linear light taken off first.
    pub black_level: f32,
    /// 0 is grey, 1 unchanged.
    pub saturation: f32,
}

/// Changes the light of `tile` as strongly as `mask` (0..=1) says; everywhere without one. Coverage stays.
///
/// `light' = (light - black) * 2^exposure * colour`, then `grey + (light' - grey) * saturation`.
pub fn apply(tile: &mut Image, settings: &Settings, mask: Option<&Plane>) {
    let gain = libm::exp2f(settings.exposure_stops);
    for (at, pixel) in tile.data.iter_mut().enumerate() {
        let strength = mask.map_or(1.0, |mask| mask.data[at]);
        if strength <= 0.0 || pixel[3] <= 0.0 {
            continue;
        }
        let changed = [0, 1, 2].map(|at| {
            (pixel[at] - settings.black_level * pixel[3]) * gain * settings.colour_rgb[at]
        });
        let grey = luma(changed);
        for (channel, value) in changed.into_iter().enumerate() {
            let value = grey + (value - grey) * settings.saturation;
            pixel[channel] += (value - pixel[channel]) * strength;
        }
    }
}

/// The bend of a frame's tone: contrast about middle grey, each channel for itself; negative light is mirrored.
#[derive(Debug)]
pub struct Bend(ToneCurve);

impl Bend {
    /// A bend of this `contrast`; 1 leaves everything as it is.
    #[must_use]
    pub fn new(contrast: f32) -> Self {
        Self(ToneCurve::new(&Tone {
            contrast,
            ..Tone::default()
        }))
    }

    /// Bends the light of one channel.
    pub fn apply(&self, values: &mut [f32]) {
        let bent = |value: f32| self.0.apply(value.abs()).copysign(value);
        values.iter_mut().for_each(|value| *value = bent(*value));
    }
}
