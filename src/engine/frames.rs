//! Frames on their way to the plate: decoded, developed, brought to the reference's light, resampled once.

use crate::engine::adapt;
use crate::engine::stamp::Stamp;
use crate::engine::{EngineError, World};
use crate::geometry::{Mesh, Rect, Transform};
use crate::imaging::basics::{colour, resample};
use crate::imaging::inspect;
use crate::pixels::{Plane, Planes};
use crate::project::{Develop, Frame, FuseSettings, PassRole, Plate, Project, Take, Variant};
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
    /// What its light is multiplied by: red, green, blue.
    pub gain_rgb: [f32; 3],
    /// What is added after that.
    pub offset_rgb: [f32; 3],
    /// Hot pixels of the sensor, mended before anything else.
    pub hot_pixels: Arc<[[u32; 2]]>,
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
    /// Adds everything the fused picture depends on.
    #[must_use]
    pub fn stamp_into(&self, stamp: Stamp) -> Stamp {
        let stamp = stamp.parameters(&self.develop).parameters(&self.fuse);
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
        ));
        self.mesh
            .iter()
            .fold(stamp, |stamp, mesh| stamp.parameters(mesh.as_ref()))
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
            gain_rgb: entry.gain_rgb,
            offset_rgb: entry.offset_rgb,
            hot_pixels: Arc::clone(&hot_pixels),
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
    let is_light = plate
        .pass(take.pass)
        .is_some_and(|pass| pass.role == PassRole::Light);
    let place = variant.plate_from_variant();
    let hot_pixels: Arc<[[u32; 2]]> = unlit.hot_pixels.as_slice().into();
    let mut frames = Vec::new();
    for entry in &measured.frames {
        let partner = unlit
            .frames
            .iter()
            .position(|frame| frame.frame == entry.partner);
        frames.push(LitPlan {
            frame: FramePlan {
                frame: Arc::clone(project.frame(entry.frame).ok_or_else(not_prepared)?),
                plate_from_frame: place.after(&entry.to_reference),
                mesh: variant.mesh().cloned(),
                gain_rgb: [entry.exposure_gain; 3],
                offset_rgb: [0.0; 3],
                hot_pixels: Arc::clone(&hot_pixels),
            },
            partner: partner.ok_or_else(not_prepared)?,
            key_rgb: if is_light { entry.key_rgb } else { [0.0; 3] },
        });
    }
    Ok(TakePlan { frames })
}

/// A frame's light on its own pixels, as decoded.
///
/// # Errors
/// When it cannot be read.
pub fn decoded(world: &World<'_>, frame: &Frame) -> Result<Planes, EngineError> {
    let samples = world.sources.samples(frame)?;
    let failed = |why: colour::ColourError| {
        let message = format!("{}: its colours cannot be read: {why}", frame.file);
        EngineError::Source(crate::engine::SourceError { message })
    };
    let decoder = colour::Decoder::for_samples(&samples).map_err(failed)?;
    decoder
        .decode_planes(&samples, samples.size.rect())
        .map_err(failed)
}

/// A frame's light on its own pixels, developed as its plan says, and the way there from the plate.
fn developed(
    world: &World<'_>,
    plan: &FramePlan,
    develop: &Develop,
) -> Result<(Planes, Transform), EngineError> {
    let mut planes = decoded(world, &plan.frame)?;
    inspect::mend(&mut planes, &plan.hot_pixels);
    adapt::develop(&mut planes, develop, plan.gain_rgb, plan.offset_rgb);
    let frame_from_plate = plan
        .plate_from_frame
        .inverse()
        .ok_or_else(|| EngineError::Plate {
            plate: plan.frame.file.clone(),
            why: "its registration is not a proper place; measure it again".to_owned(),
        })?;
    Ok((planes, frame_from_plate))
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
    let (planes, frame_from_plate) = developed(world, plan, develop)?;
    let kernel = resample::Kernel::Lanczos3;
    let Some(mesh) = &plan.mesh else {
        return Ok(resample::sample_planes(
            &planes,
            rect,
            &frame_from_plate,
            kernel,
        ));
    };
    let image = adapt::image_of(&planes, &Plane::filled(planes.rect(), 1.0));
    let place = |point| {
        let found = frame_from_plate.apply(mesh.apply(point));
        (found.x.is_finite() && found.y.is_finite()).then_some(found)
    };
    let sampled = resample::sample_image_mapped(&image, rect, &place, kernel);
    Ok(adapt::planes_and_coverage(&sampled))
}

/// A frame's luma on the plate, for looking at and not for keeping, and where there is any (0..=1).
///
/// # Errors
/// When it cannot be read.
pub fn luma_on_plate(
    world: &World<'_>,
    plan: &FramePlan,
    develop: &Develop,
    rect: Rect,
) -> Result<(Plane, Plane), EngineError> {
    if plan.mesh.is_some() {
        let (planes, valid) = on_plate(world, plan, develop, rect)?;
        return Ok((adapt::luma(&planes), valid));
    }
    let (planes, frame_from_plate) = developed(world, plan, develop)?;
    Ok(resample::sample_plane(
        &adapt::luma(&planes),
        rect,
        &frame_from_plate,
        resample::Kernel::Cubic,
    ))
}
