//! From the numbers of a frame to light like the reference's: decoded, the sensor's faults mended, developed.

use crate::engine::adapt;
use crate::engine::frames::FramePlan;
use crate::geometry::Rect;
use crate::imaging::basics::colour::{ColourError, Decoder, luma_of, white_balance};
use crate::imaging::basics::wide::wide;
use crate::imaging::{grade, inspect};
use crate::pixels::{Plane, Planes, Samples};
use crate::project::{Develop, WhiteBalance};

/// How the numbers of a frame become light like the reference's.
pub(super) struct Developing<'a> {
    plan: &'a FramePlan,
    decoder: Decoder,
    dust: Vec<inspect::Dust>,
    development: Development,
}

impl<'a> Developing<'a> {
    /// The way from the numbers of `samples`, which are those of `plan`'s frame. Gains act on the channels of the file, where exposure and
    /// white balance were set.
    ///
    /// # Errors
    /// When their colours cannot be read.
    pub(super) fn of(
        plan: &'a FramePlan,
        samples: &Samples,
        develop: &Develop,
    ) -> Result<Self, ColourError> {
        let plain = Decoder::for_samples(samples)?;
        let offset = plain.mixed(plan.offset_rgb);
        let decoder = plain.times(plan.gain_rgb);
        let pedestal = decoder.mixed([1.0; 3]);
        Ok(Self {
            plan,
            decoder,
            dust: adapt::dust(&plan.dust),
            development: Development::new(develop, offset, pedestal),
        })
    }

    /// The developed light of `rect`, the sensor's faults mended.
    pub(super) fn pixels(&self, samples: &Samples, rect: Rect) -> Result<Planes, ColourError> {
        if self.is_faultless(rect) {
            let finish = |rows: [&mut [f32]; 3]| self.development.develop(rows);
            return self.decoder.decode_finished(samples, rect, &finish);
        }
        let mut planes = self.decoder.decode_planes(samples, rect)?;
        inspect::mend(&mut planes, &self.plan.hot_pixels);
        inspect::lift(&mut planes, &self.dust);
        self.development
            .develop(planes.rgb.each_mut().map(|plane| &mut plane.data[..]));
        Ok(planes)
    }

    /// The luma of [`Developing::pixels`].
    pub(super) fn luma(&self, samples: &Samples, rect: Rect) -> Result<Plane, ColourError> {
        if self.is_faultless(rect) {
            let finish = |rows: [&mut [f32]; 3]| self.development.develop(rows);
            return self.decoder.decode_luma(samples, rect, &finish);
        }
        let planes = self.pixels(samples, rect)?;
        let luma = luma_of(&planes);
        planes.give_back();
        Ok(luma)
    }

    /// Whether nothing of the sensor has to be mended in `rect`.
    fn is_faultless(&self, rect: Rect) -> bool {
        !inspect::are_hot(&self.plan.hot_pixels, rect)
            && self
                .dust
                .iter()
                .all(|spot| spot.around().intersect(rect).is_empty())
    }
}

/// What developing does to each number, the frame's gains being in it already: offset, black, exposure, white balance, then tone.
struct Development {
    gain: [f32; 3],
    lift: [f32; 3],
    bend: Option<grade::Bend>,
}

impl Development {
    /// `offset` is added to the frame's light, and `pedestal` is what its black level was multiplied by.
    fn new(develop: &Develop, offset: [f32; 3], pedestal: [f32; 3]) -> Self {
        let white = match develop.white_balance {
            WhiteBalance::AsShot => [1.0; 3],
            WhiteBalance::Light { kelvin, tint } => {
                white_balance::gains_from_kelvin(f64::from(kelvin), f64::from(tint) / 1000.0)
            }
            WhiteBalance::Grey { gain_rgb, .. } => gain_rgb,
        };
        let exposure = libm::exp2f(develop.exposure_stops);
        let gain = white.map(|white| white * exposure);
        let is_bent = develop.tone.to_bits() != 1.0_f32.to_bits();
        Self {
            gain,
            lift: [0, 1, 2].map(|channel| {
                (offset[channel] - develop.black_level * pedestal[channel]) * gain[channel]
            }),
            bend: is_bent.then(|| grade::Bend::new(develop.tone)),
        }
    }

    /// Red, green and blue developed.
    fn develop(&self, rgb: [&mut [f32]; 3]) {
        for ((values, gain), lift) in rgb.into_iter().zip(self.gain).zip(self.lift) {
            if gain.to_bits() != 1.0_f32.to_bits() || lift.to_bits() << 1 != 0 {
                wide(
                    #[inline(always)]
                    || {
                        let changed = |value: &mut f32| *value = *value * gain + lift;
                        values.iter_mut().for_each(changed);
                    },
                );
            }
            if let Some(bend) = &self.bend {
                bend.apply(values);
            }
        }
    }
}
