//! The two streaming passes over the frames of a stack.

use crate::engine::frames::{self, StackPlan};
use crate::engine::{EngineError, World, adapt};
use crate::geometry::{Rect, Size};
use crate::imaging::fuse;
use crate::pixels::{Image, Plane, Planes};

/// A fused stack with everything that was found on the way.
pub(super) struct FusedStack {
    pub(super) planes: Planes,
    pub(super) coverage: Plane,
    pub(super) depth: Plane,
    pub(super) confidence: Plane,
    pub(super) frame_map: Plane,
    pub(super) never_sharp_share: f32,
}

/// The two streaming passes over the frames of a stack.
pub(super) fn fuse_stack(
    world: &World<'_>,
    size: Size,
    stack: &StackPlan,
) -> Result<FusedStack, EngineError> {
    let rect = size.rect();
    let count = stack.frames.len();
    let settings = adapt::fuse_settings(&stack.fuse);
    let noise = noise_of(world, rect, stack)?;
    let mut depth = fuse::DepthPass::new(rect, count, &noise);
    for (number, frame) in stack.frames.iter().enumerate() {
        step(world, "finding what is sharp where", number, count)?;
        let (luma, valid) = frames::luma_on_plate(world, frame, &stack.develop, rect)?;
        depth.add(number, &luma, &valid);
    }
    let map = depth.finish();
    let mut blend = fuse::BlendPass::new(rect, &map, &noise, settings);
    for (number, frame) in stack.frames.iter().enumerate() {
        step(world, "joining the frames", number, count)?;
        let (planes, valid) = frames::on_plate(world, frame, &stack.develop, rect)?;
        blend.add(number, &planes, &planes, &valid);
    }
    let fused = blend.finish();
    step(world, "joining the frames", count, count)?;
    Ok(FusedStack {
        planes: fused.planes,
        coverage: fused.coverage,
        frame_map: fused.frame_map,
        never_sharp_share: map.never_sharp_share,
        depth: map.depth,
        confidence: map.confidence,
    })
}

/// The noise of the stack, from its middle frame.
pub(super) fn noise_of(
    world: &World<'_>,
    rect: Rect,
    stack: &StackPlan,
) -> Result<fuse::NoiseModel, EngineError> {
    let middle = &stack.frames[stack.frames.len() / 2];
    let (planes, _valid) = frames::on_plate(world, middle, &stack.develop, rect)?;
    Ok(fuse::NoiseModel::of_frame(&planes))
}

/// Says how far a stage is.
///
/// # Errors
/// When the work was stopped.
pub(super) fn step(
    world: &World<'_>,
    stage: &str,
    done: usize,
    total: usize,
) -> Result<(), EngineError> {
    world.watch.progress(stage, done, total);
    if world.watch.cancelled() {
        Err(EngineError::Cancelled)
    } else {
        Ok(())
    }
}

/// Depth, confidence, frame and coverage of every pixel, as one picture.
pub(super) fn depth_image(fused: &FusedStack) -> Image {
    let data = (0..fused.depth.data.len()).map(|at| {
        [
            fused.depth.data[at],
            fused.confidence.data[at],
            fused.frame_map.data[at],
            fused.coverage.data[at],
        ]
    });
    Image {
        rect: fused.depth.rect,
        data: data.collect(),
    }
}
