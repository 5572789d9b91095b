//! Lit details over an unlit plate: the light that lamps add, its noise, and how it is laid on by addition in linear light.
//!
//! Light adds (additivity of light; Haeberli 1992, Debevec et al. 2000): with `light = lit - unlit`, `plate + light` is what the
//! camera would have seen. Differences are signed and never clipped: clipping noise at 0 would lift black by 0.4 of its sigma.

mod bracket;
mod glow;
pub mod lay;
mod noise;
mod shrink;
mod spikes;
mod suggest;

pub use bracket::{Exposed, Merged, merged};
pub use glow::glow;
pub use noise::LightNoise;
pub use shrink::shrink;
pub use spikes::{Spikes, core_px, spikes};
pub use suggest::{Ghost, LitArea, ghosts, lit_areas};

use crate::geometry::Rect;
use crate::imaging::basics::random::Stream;
use crate::pixels::{Plane, Planes};
use rayon::prelude::*;
use std::borrow::Cow;

/// Largest gain in stops.
pub const MOST_GAIN_STOPS: f32 = 6.0;

/// The gain that means off.
pub const OFF: f32 = f32::NEG_INFINITY;

/// The factor of a gain in stops: 0 for [`OFF`] and not-a-number; held at [`MOST_GAIN_STOPS`].
#[must_use]
pub fn gain(stops: f32) -> f32 {
    if stops.is_nan() {
        return 0.0;
    }
    libm::exp2f(stops.min(MOST_GAIN_STOPS))
}

/// The change in stops that flicker gives a lamp: a normal deviate of the seed and the lamp's own number, times `typical_stops`.
#[must_use]
pub fn flicker_stops(seed: u32, lamp: u32, typical_stops: f32) -> f32 {
    let deviate = Stream::of_item(u64::from(seed), u64::from(lamp)).normal();
    crate::pixels::convert::narrow(deviate) * typical_stops
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
    fn the_difference_added_back_is_the_lit_frame() {
        let rect = Rect::new(0, 0, 50, 20);
        let (unlit, lit) = (picture(rect, 0.4), picture(rect, 1.7));
        let light = difference(&lit, &unlit, 1.0, [1.0; 3]);
        for channel in 0..3 {
            let pairs = light.rgb[channel].data.iter().zip(&unlit.rgb[channel].data);
            let all = pairs.zip(&lit.rgb[channel].data);
            assert!(
                all.into_iter()
                    .all(|((l, u), on)| (l + u - on).abs() < 1e-6)
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
}
