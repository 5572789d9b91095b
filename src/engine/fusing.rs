//! The streaming passes over the frames of a stack: two, and a third where it was chosen.

use crate::engine::ahead::one_ahead;
use crate::engine::arriving::Arriving;
use crate::engine::frames::{self, StackPlan};
use crate::engine::{EngineError, World, adapt};
use crate::geometry::{Rect, Size};
use crate::imaging::fuse::{self, DepthMap};
use crate::pixels::convert::{clamp_index, coordinate};
use crate::pixels::{Image, Plane, Planes};
use crate::project::Fingerprint;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// A fused stack with what was found on the way.
pub(super) struct FusedStack {
    pub(super) planes: Planes,
    pub(super) coverage: Plane,
    pub(super) map: Arc<DepthMap>,
    pub(super) frame_map: Plane,
}

/// The depth map of the stack that was fused last: another choice about how its frames are joined needs the second pass alone.
#[derive(Debug, Default)]
pub(super) struct LastDepth(Mutex<Option<(Fingerprint, Arc<DepthMap>)>>);

impl LastDepth {
    fn lock(&self) -> MutexGuard<'_, Option<(Fingerprint, Arc<DepthMap>)>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The depth map of `stack`, found by the first pass unless it is the one kept.
    fn of(
        &self,
        world: &World<'_>,
        size: Size,
        (stack, noise): (&StackPlan, &fuse::NoiseModel),
    ) -> Result<Arc<DepthMap>, EngineError> {
        let stamp = stack.sharpness_stamp(size);
        if let Some((of, map)) = &*self.lock()
            && *of == stamp
        {
            return Ok(Arc::clone(map));
        }
        *self.lock() = None;
        let map = Arc::new(sharpest(world, size.rect(), (stack, noise))?);
        *self.lock() = Some((stamp, Arc::clone(&map)));
        Ok(map)
    }
}

/// The first pass over the frames of a stack.
fn sharpest(
    world: &World<'_>,
    rect: Rect,
    (stack, noise): (&StackPlan, &fuse::NoiseModel),
) -> Result<DepthMap, EngineError> {
    let count = stack.frames.len();
    let mut depth = fuse::DepthPass::new(rect, count, noise);
    let stage = "finding what is sharp where";
    one_ahead(world, stage, stack.photos(), |number, samples| {
        let frame = &stack.frames[number];
        let arriving = Arriving::of(world, (frame, samples), &stack.develop, rect)?;
        depth.add_pieces(number, &arriving)
    })?;
    Ok(depth.finish())
}

/// The two streaming passes over the frames of a stack; the first one only if `last` holds no depth map of it.
pub(super) fn fuse_stack(
    world: &World<'_>,
    size: Size,
    stack: &StackPlan,
    last: &LastDepth,
) -> Result<FusedStack, EngineError> {
    let rect = size.rect();
    let count = stack.frames.len();
    let settings = adapt::fuse_settings(&stack.fuse);
    let noise = noise_of(world, rect, stack)?;
    let map = last.of(world, size, (stack, &noise))?;
    let mut blend = fuse::BlendPass::new(rect, &map, &noise, settings);
    let stage = "joining the frames";
    one_ahead(world, stage, stack.photos(), |number, samples| {
        let frame = &stack.frames[number];
        if count == 1 {
            // A stack of one frame comes out bit for bit.
            let (planes, valid) = frames::on_plate(world, frame, &stack.develop, rect)?;
            blend.add(number, &planes, &planes, &valid);
            return Ok(());
        }
        let arriving = Arriving::of(world, (frame, samples), &stack.develop, rect)?;
        blend.add_pieces(number, &arriving)
    })?;
    let fused = blend.finish();
    step(world, stage, count, count)?;
    Ok(FusedStack {
        planes: fused.planes,
        coverage: fused.coverage,
        frame_map: fused.frame_map,
        map,
    })
}

/// The frames of a stack joined by the depth of `map` over `rect`, a part of the plate.
pub(super) fn joined(
    world: &World<'_>,
    stack: &StackPlan,
    (map, rect, plate): (&DepthMap, Rect, Rect),
) -> Result<fuse::Fused, EngineError> {
    let noise = noise_of(world, plate, stack)?;
    let settings = adapt::fuse_settings(&stack.fuse);
    let mut blend = fuse::BlendPass::new(rect, map, &noise, settings);
    for (number, frame) in stack.frames.iter().enumerate() {
        let count = stack.frames.len();
        step(world, "joining the frames again", number, count)?;
        let arriving = Arriving::open(world, frame, &stack.develop, plate)?;
        blend.add_pieces(number, &arriving)?;
    }
    Ok(blend.finish())
}

/// The third pass, where it was chosen: takes near parts' blur off what is behind them, in `light` that was joined from the frames of a
/// stack by the depth of `map`.
pub(super) fn unveil(
    world: &World<'_>,
    stack: &StackPlan,
    map: &DepthMap,
    light: &mut Planes,
) -> Result<(), EngineError> {
    let rect = light.rect();
    let noise = noise_of(world, rect, stack)?;
    let count = stack.frames.len();
    let say = |number| step(world, "taking the blur of near parts off", number, count);
    say(0)?;
    fuse::unveil(light, map, &noise, |number| {
        say(number)?;
        Arriving::open(world, &stack.frames[number], &stack.develop, rect)
    })
}

/// The same of a picture as it is kept.
pub(super) fn unveiled_image(
    world: &World<'_>,
    stack: &StackPlan,
    map: &DepthMap,
    picture: &Image,
) -> Result<Image, EngineError> {
    let (mut light, coverage) = adapt::planes_and_coverage(picture);
    unveil(world, stack, map, &mut light)?;
    Ok(adapt::image_of(&light, &coverage))
}

/// Depth and confidence as they are kept, as a map of a stack of `frames`.
pub(super) fn map_of(depth: &Image, frames: usize) -> DepthMap {
    DepthMap {
        depth: adapt::channel(depth, 0),
        confidence: adapt::channel(depth, 1),
        sharp_share: Vec::new(),
        never_sharp_share: 0.0,
        frames,
    }
}

/// Larger frames are looked at in squares of this side for their noise, spread over the plate.
const NOISE_SIDE: i32 = 512;
/// So many of them along each side.
const NOISE_SQUARES: i32 = 4;

/// The noise of the stack, from its middle frame.
pub(super) fn noise_of(
    world: &World<'_>,
    rect: Rect,
    stack: &StackPlan,
) -> Result<fuse::NoiseModel, EngineError> {
    let middle = &stack.frames[stack.frames.len() / 2];
    let frame = Arriving::open(world, middle, &stack.develop, rect)?;
    let side = NOISE_SIDE * NOISE_SQUARES;
    if coordinate(rect.width().min(rect.height())) <= side {
        return Ok(fuse::NoiseModel::of_frame(&frame.light(rect)?));
    }
    let mut squares = Planes::zero(Rect::new(0, 0, side, side));
    let step = |end: i32| (end - NOISE_SIDE) / (NOISE_SQUARES - 1);
    let (across, down) = (step(rect.x1), step(rect.y1));
    for (row, column) in
        (0..NOISE_SQUARES).flat_map(|row| (0..NOISE_SQUARES).map(move |column| (row, column)))
    {
        let (left, top) = (rect.x0 + column * across, rect.y0 + row * down);
        let square = frame.light(Rect::new(left, top, left + NOISE_SIDE, top + NOISE_SIDE))?;
        for (to, from) in squares.rgb.iter_mut().zip(&square.rgb) {
            for y in 0..NOISE_SIDE {
                let start = clamp_index(column * NOISE_SIDE);
                let row_of = to.row_mut(row * NOISE_SIDE + y);
                row_of[start..start + clamp_index(NOISE_SIDE)].copy_from_slice(from.row(top + y));
            }
        }
    }
    Ok(fuse::NoiseModel::of_frame(&squares))
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
    let data = (0..fused.map.depth.data.len()).map(|at| {
        [
            fused.map.depth.data[at],
            fused.map.confidence.data[at],
            fused.frame_map.data[at],
            fused.coverage.data[at],
        ]
    });
    Image {
        rect: fused.map.depth.rect,
        data: data.collect(),
    }
}
