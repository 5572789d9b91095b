//! Frames on their way to the plate: decoded, developed, brought to the reference's light, resampled once.

use crate::engine::adapt;
use crate::engine::clipped::saturated;
use crate::engine::developing::Developing;
use crate::engine::stamp::Stamp;
use crate::engine::{EngineError, World};
use crate::geometry::{Mesh, Radial, Rect, Size, Transform};
use crate::imaging::basics::colour;
use crate::imaging::basics::resample::{self, Kernel};
use crate::imaging::lights::{Exposed, LightNoise};
use crate::pixels::{Plane, Planes, Samples};
use crate::project::{
    Develop, Fingerprint, Frame, FuseSettings, PassRole, Plate, Project, SensorDust, Take, Variant,
};
use std::sync::Arc;

/// One frame and how it gets onto the plate.
#[derive(Debug, Clone)]
pub struct FramePlan {
    /// The frame.
    pub frame: Arc<Frame>,
    /// Frame position to plate position.
    pub plate_from_frame: Transform,
    /// Position on the plate to the position that `plate_from_frame` leads to, where the source needs one.
    pub mesh: Option<Arc<Mesh>>,
    /// Where the model moved since its partner was taken.
    pub flexed: Option<FlexedPlan>,
    /// How far its corners lie outside of where `plate_from_frame` says, pixels of the frame.
    pub radial_px: f64,
    /// What its light is multiplied by: red, green, blue.
    pub gain_rgb: [f32; 3],
    /// What is added after that.
    pub offset_rgb: [f32; 3],
    /// Hot pixels of the sensor, mended before anything else.
    pub hot_pixels: Arc<[[u32; 2]]>,
    /// Dust on the sensor, whose shadow is lifted after that.
    pub dust: Arc<[SensorDust]>,
}

/// A mesh on the pixels of a partner frame, and where these lie on the plate.
#[derive(Debug, Clone)]
pub struct FlexedPlan {
    mesh: Arc<Mesh>,
    plate_from_partner: Transform,
}

/// The frames of a stack in focus order.
#[derive(Debug, Clone)]
pub struct StackPlan {
    /// The frames.
    pub frames: Vec<FramePlan>,
    /// How their numbers become light.
    pub develop: Develop,
    /// How they are joined.
    pub fuse: FuseSettings,
}

/// The frames of a pass.
#[derive(Debug, Clone)]
pub struct TakePlan {
    /// The frames.
    pub frames: Vec<LitPlan>,
    /// Whether the unlit frames' light is taken off (light passes), or the light is wanted as it is.
    pub separates: bool,
}

/// One frame of a pass.
#[derive(Debug, Clone)]
pub struct LitPlan {
    /// The frame.
    pub frame: FramePlan,
    /// Place in the stack of the unlit frame it is compared with.
    pub partner: usize,
    /// How much of the unlit frame's light is taken off, per channel.
    pub key_rgb: [f32; 3],
}

impl StackPlan {
    /// The frames themselves.
    pub(super) fn photos(&self) -> impl ExactSizeIterator<Item = &Frame> {
        self.frames.iter().map(|plan| &*plan.frame)
    }

    /// Adds everything the fused picture depends on.
    #[must_use]
    pub fn stamp_into(&self, stamp: Stamp) -> Stamp {
        self.stamp_frames_into(stamp.parameters(&self.develop).parameters(&self.fuse))
    }

    /// Known by everything that says in which frame each pixel of a plate of `size` is sharpest.
    pub(super) fn sharpness_stamp(&self, size: Size) -> Fingerprint {
        let stamp = Stamp::new("sharpness 1").parameters(&self.develop);
        self.stamp_frames_into(stamp.parameters(&size)).done()
    }

    fn stamp_frames_into(&self, stamp: Stamp) -> Stamp {
        self.frames
            .iter()
            .fold(stamp, |stamp, frame| frame.stamp_into(stamp))
    }
}

impl FramePlan {
    fn stamp_into(&self, stamp: Stamp) -> Stamp {
        let stamp = self
            .frame
            .content
            .iter()
            .fold(stamp, |stamp, content| stamp.content(*content));
        let stamp = stamp.parameters(&(
            self.plate_from_frame,
            self.gain_rgb,
            self.offset_rgb,
            &self.hot_pixels[..],
            &self.dust[..],
        ));
        let stamp = self
            .mesh
            .iter()
            .fold(stamp, |stamp, mesh| stamp.parameters(mesh.as_ref()));
        let stamp = if self.has_radial() {
            stamp.parameters(&self.radial_px)
        } else {
            stamp
        };
        // Bent frames had their border wrong once.
        let stamp = if self.is_bent() {
            stamp.number(2)
        } else {
            stamp
        };
        self.flexed.iter().fold(stamp, |stamp, flexed| {
            stamp.parameters(&(flexed.mesh.as_ref(), flexed.plate_from_partner))
        })
    }
}

impl TakePlan {
    /// Adds everything the pass's picture depends on, besides the unlit stack.
    #[must_use]
    pub fn stamp_into(&self, stamp: Stamp) -> Stamp {
        self.frames.iter().fold(stamp, |stamp, lit| {
            let partner = u64::try_from(lit.partner).unwrap_or(u64::MAX);
            lit.frame
                .stamp_into(stamp)
                .number(partner)
                .parameters(&lit.key_rgb)
        })
    }

    /// The key light's share, averaged over the frames.
    #[must_use]
    pub fn key_rgb(&self) -> [f32; 3] {
        let count = crate::pixels::convert::count_f32(self.frames.len().max(1));
        [0, 1, 2].map(|channel| {
            self.frames
                .iter()
                .map(|lit| lit.key_rgb[channel])
                .sum::<f32>()
                / count
        })
    }
}

/// Plans the frames of a source.
///
/// # Errors
/// When the source has no stack, or it was not measured.
pub fn stack_plan(
    project: &Project,
    plate: &Plate,
    variant: &Variant,
) -> Result<StackPlan, EngineError> {
    let not_prepared = || EngineError::NotPrepared(plate.id);
    let stack = variant.stack().ok_or_else(not_prepared)?;
    let measured = stack.measured.as_ref().ok_or_else(not_prepared)?;
    let place = variant.plate_from_variant();
    let hot_pixels: Arc<[[u32; 2]]> = measured.hot_pixels.as_slice().into();
    let dust: Arc<[SensorDust]> = measured.dust.as_slice().into();
    let mut frames = Vec::new();
    for entry in measured
        .frames
        .iter()
        .filter(|entry| stack.used().any(|used| used == entry.frame))
    {
        frames.push(FramePlan {
            frame: Arc::clone(project.frame(entry.frame).ok_or_else(not_prepared)?),
            plate_from_frame: place.after(&entry.to_reference),
            mesh: variant.mesh().cloned(),
            flexed: None,
            radial_px: entry.radial_px,
            gain_rgb: entry.gain_rgb,
            offset_rgb: entry.offset_rgb,
            hot_pixels: Arc::clone(&hot_pixels),
            dust: Arc::clone(&dust),
        });
    }
    if frames.is_empty() {
        return Err(not_prepared());
    }
    Ok(StackPlan {
        frames,
        develop: stack.develop,
        fuse: stack.fuse,
    })
}

/// Plans the frames of a pass.
///
/// # Errors
/// When the pass was not measured.
pub fn take_plan(
    project: &Project,
    plate: &Plate,
    variant: &Variant,
    take: &Take,
) -> Result<TakePlan, EngineError> {
    let not_prepared = || EngineError::NotPrepared(plate.id);
    let measured = take.measured.as_ref().ok_or_else(not_prepared)?;
    let unlit = variant
        .stack()
        .and_then(|stack| stack.measured.as_ref())
        .ok_or_else(not_prepared)?;
    let role = plate.pass(take.pass).map(|pass| pass.role);
    let is_light = role == Some(PassRole::Light);
    let place = variant.plate_from_variant();
    let hot_pixels: Arc<[[u32; 2]]> = unlit.hot_pixels.as_slice().into();
    let dust: Arc<[SensorDust]> = unlit.dust.as_slice().into();
    let mut frames = Vec::new();
    for entry in &measured.frames {
        let partner = unlit
            .frames
            .iter()
            .position(|frame| frame.frame == entry.partner)
            .ok_or_else(not_prepared)?;
        // What matches the unlit frame to its stack matches the lit one too.
        let gain_rgb = if role == Some(PassRole::Silhouette) {
            [1.0; 3]
        } else {
            unlit.frames[partner].gain_rgb
        };
        frames.push(LitPlan {
            frame: FramePlan {
                frame: Arc::clone(project.frame(entry.frame).ok_or_else(not_prepared)?),
                plate_from_frame: place.after(&entry.to_reference),
                mesh: variant.mesh().cloned(),
                flexed: entry.flexed.clone().map(|mesh| FlexedPlan {
                    mesh,
                    plate_from_partner: place.after(&unlit.frames[partner].to_reference),
                }),
                radial_px: unlit.frames[partner].radial_px,
                gain_rgb: gain_rgb.map(|gain| gain * entry.exposure_gain),
                offset_rgb: [0.0; 3],
                hot_pixels: Arc::clone(&hot_pixels),
                dust: Arc::clone(&dust),
            },
            partner,
            key_rgb: if is_light { entry.key_rgb } else { [0.0; 3] },
        });
    }
    Ok(TakePlan {
        frames,
        separates: is_light,
    })
}

/// A frame's light on its own pixels, as decoded.
///
/// # Errors
/// When it cannot be read.
pub fn decoded(world: &World<'_>, frame: &Frame) -> Result<Planes, EngineError> {
    decoded_from(&*world.sources.samples(frame)?, frame)
}

/// The light of `samples`, a frame's numbers, on its own pixels.
///
/// # Errors
/// When its colours cannot be read.
pub(super) fn decoded_from(samples: &Samples, frame: &Frame) -> Result<Planes, EngineError> {
    let failed = |why| unreadable(frame, &why);
    let decoder = colour::Decoder::for_samples(samples).map_err(failed)?;
    decoder
        .decode_planes(samples, samples.size.rect())
        .map_err(failed)
}

/// A frame's light on its own pixels, developed as its plan says.
fn developed(
    world: &World<'_>,
    plan: &FramePlan,
    develop: &Develop,
) -> Result<Planes, EngineError> {
    let samples = world.sources.samples(&plan.frame)?;
    let whole = samples.size.rect();
    Developing::of(plan, &samples, develop)
        .and_then(|developing| developing.pixels(&samples, whole))
        .map_err(|why| unreadable(&plan.frame, &why))
}

/// From the working space to the channels of a frame's file, whose numbers are `samples`.
pub(super) fn unmixing(samples: &Samples, frame: &Frame) -> Result<[[f32; 3]; 3], EngineError> {
    let decoder = colour::Decoder::for_samples(samples);
    Ok(decoder.map_err(|why| unreadable(frame, &why))?.unmixing())
}

/// A frame's light on the plate, and where there is any (0..=1).
///
/// # Errors
/// When it cannot be read.
pub fn on_plate(
    world: &World<'_>,
    plan: &FramePlan,
    develop: &Develop,
    rect: Rect,
) -> Result<(Planes, Plane), EngineError> {
    plan.sampled(&developed(world, plan, develop)?, rect)
}

/// A frame on the plate with what is known of its noise and its saturated places.
///
/// # Errors
/// When it cannot be read.
pub fn on_plate_with_noise(
    world: &World<'_>,
    plan: &FramePlan,
    develop: &Develop,
    rect: Rect,
) -> Result<Exposed, EngineError> {
    let planes = developed(world, plan, develop)?;
    let (light, valid) = plan.sampled(&planes, rect)?;
    let noise = LightNoise::of_frame(&planes);
    // A mesh moves parts by so little that the kernel keeps as much noise as without it.
    let kept = resample::noise_kept(rect, &plan.frame_from_plate()?, Kernel::Lanczos3);
    let mut variance = light.clone();
    for (channel, plane) in variance.rgb.iter_mut().enumerate() {
        for (value, kept) in plane.data.iter_mut().zip(&kept.data) {
            *value = kept * noise.variance(channel, *value);
        }
    }
    let marks = saturated(&*world.sources.samples(&plan.frame)?);
    let (saturated, _) = plan.sampled_plane(&marks, rect, Kernel::Linear)?;
    Ok(Exposed {
        light,
        variance,
        saturated,
        valid,
    })
}

pub(super) fn unreadable(frame: &Frame, why: &colour::ColourError) -> EngineError {
    let message = format!("{}: its colours cannot be read: {why}", frame.file);
    EngineError::Source(crate::engine::SourceError { message })
}

impl FramePlan {
    pub(super) fn frame_from_plate(&self) -> Result<Transform, EngineError> {
        self.plate_from_frame
            .inverse()
            .ok_or_else(|| EngineError::Plate {
                plate: self.frame.file.clone(),
                why: "its registration is not a proper place; measure it again".to_owned(),
            })
    }

    /// Whether more than a transform leads from it to the plate.
    pub(super) fn is_bent(&self) -> bool {
        self.mesh.is_some() || self.flexed.is_some() || self.has_radial()
    }

    fn has_radial(&self) -> bool {
        self.radial_px.abs() > 0.0
    }

    /// The frame's `planes` on the plate, and where there are any.
    fn sampled(&self, planes: &Planes, rect: Rect) -> Result<(Planes, Plane), EngineError> {
        let frame_from_plate = self.frame_from_plate()?;
        if !self.is_bent() {
            return Ok(resample::sample_planes(
                planes,
                rect,
                &frame_from_plate,
                Kernel::Lanczos3,
            ));
        }
        let flexed = self.flexed.as_ref().and_then(|flexed| {
            let partner_from_plate = flexed.plate_from_partner.inverse()?;
            Some((partner_from_plate, flexed))
        });
        let image = adapt::image_of(planes, &Plane::filled(planes.rect(), 1.0));
        let radial = Radial::about(planes.rect().middle(), self.radial_px);
        let place = |point| {
            let bent = self.mesh.as_ref().map_or(point, |mesh| mesh.apply(point));
            let bent = flexed
                .as_ref()
                .map_or(bent, |(partner_from_plate, flexed)| {
                    let moved = flexed.mesh.apply(partner_from_plate.apply(bent));
                    flexed.plate_from_partner.apply(moved)
                });
            let found = radial.apply(frame_from_plate.apply(bent));
            (found.x.is_finite() && found.y.is_finite()).then_some(found)
        };
        let sampled = resample::sample_image_mapped(&image, rect, &place, Kernel::Lanczos3);
        let (planes, mut valid) = adapt::planes_and_coverage(&sampled);
        // Weights of the kernel miss a sum of 1 by rounding, and what is fused must not take that for the frame's border.
        for share in valid.data.iter_mut().filter(|share| **share > WHOLE) {
            *share = 1.0;
        }
        Ok((planes, valid))
    }

    /// One plane of the frame on the plate, and where there is any.
    fn sampled_plane(
        &self,
        plane: &Plane,
        rect: Rect,
        kernel: Kernel,
    ) -> Result<(Plane, Plane), EngineError> {
        if !self.is_bent() {
            let frame_from_plate = self.frame_from_plate()?;
            return Ok(resample::sample_plane(
                plane,
                rect,
                &frame_from_plate,
                kernel,
            ));
        }
        let grey = Planes {
            rgb: [plane.clone(), plane.clone(), plane.clone()],
        };
        let (Planes { rgb: [one, ..] }, valid) = self.sampled(&grey, rect)?;
        Ok((one, valid))
    }
}

/// Share of a pixel from which on it lies on the frame.
const WHOLE: f32 = 1.0 - 1e-5;
