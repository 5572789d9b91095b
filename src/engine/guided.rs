//! What people say about joining the frames of a stack in some places: only those places are joined again.

use crate::engine::arriving::Arriving;
use crate::engine::frames::StackPlan;
use crate::engine::fusing::{self, map_of, step};
use crate::engine::masks::MaskPlan;
use crate::engine::stamp::Stamp;
use crate::engine::{Engine, EngineError, World, adapt};
use crate::geometry::Rect;
use crate::imaging::fuse::{DepthMap, NearParts};
use crate::pixels::convert::count_f32;
use crate::pixels::{Image, Plane};
use crate::project::{Guidance, Plate, Variant};
use std::sync::Arc;

/// What is done to a fused stack where a mask lets it through.
#[derive(Debug, Clone)]
pub(super) struct GuidePlan {
    pub(super) mask: Arc<MaskPlan>,
    pub(super) does: Doing,
}

/// What is done there, with frames told by their place in the stack.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Doing {
    TakeFrom(usize),
    Prefer(f32),
    NearPart,
}

impl GuidePlan {
    /// Adds everything that it changes a plate by.
    pub(super) fn stamp_into(&self, stamp: Stamp) -> Stamp {
        let does = match self.does {
            Doing::TakeFrom(place) => (0, place, 0.0),
            Doing::Prefer(frames) => (1, 0, frames),
            Doing::NearPart => (2, 0, 0.0),
        };
        self.mask.stamp_into(stamp).parameters(&does)
    }
}

/// What people say about joining the frames of a source, as far as it can be done: a frame that is left out cannot be taken from.
pub(super) fn plan(
    stack: &StackPlan,
    plate: &Plate,
    variant: &Variant,
) -> Result<Vec<GuidePlan>, EngineError> {
    let said = variant.stack().map_or(&[][..], |stack| &stack.guides);
    let mut guides = Vec::new();
    for guide in said {
        let does = match guide.does {
            Guidance::TakeFrom(frame) => {
                let place = stack.frames.iter().position(|plan| plan.frame.id == frame);
                let Some(place) = place else { continue };
                Doing::TakeFrom(place)
            }
            Guidance::Prefer(frames) => Doing::Prefer(frames),
            Guidance::NearPart => Doing::NearPart,
        };
        if let Some(mask) = MaskPlan::of_drawn(plate, guide.mask)? {
            guides.push(GuidePlan { mask, does });
        }
    }
    Ok(guides)
}

/// A fused stack: light and coverage; frame number, confidence, the frame mostly taken, coverage.
pub(super) struct Before {
    pub(super) picture: Image,
    pub(super) depth: Image,
}

/// Pixels around a guided place in which the new pixels pass into the old ones: as far as the coarsest band that matters.
const PASSES_PX: i32 = 128;
/// Pixels around those that are joined again too, so that no band ends early.
const AROUND_PX: i32 = 128;
/// Mask from which on a frame is taken alone.
const ALONE: f32 = 0.5;
/// Confidence that stands for one frame alone: see [`DepthMap`].
const CERTAIN: f32 = 2.0;

impl Engine {
    /// Joins the frames again where `guides` say so.
    pub(super) fn guide(
        &self,
        world: &World<'_>,
        stack: &StackPlan,
        guides: &[GuidePlan],
        before: Before,
    ) -> Result<Before, EngineError> {
        let mut after = before;
        let whole = after.picture.rect;
        let mut map = map_of(&after.depth, stack.frames.len());
        let mut place = Rect::default();
        let mut near_parts = Vec::new();
        for guide in guides {
            let Some(mask) = self.draw_mask(world, Some(&guide.mask), whole, 0)? else {
                continue;
            };
            let bounds = reached(&mask);
            match guide.does {
                Doing::TakeFrom(frame) => {
                    place = place.union(bounds);
                    take_from(&mut map, &mask, frame);
                }
                Doing::Prefer(frames) => {
                    place = place.union(bounds);
                    map = map.biased(&mask.map(|share| share * frames));
                }
                Doing::NearPart => near_parts.push(mask),
            }
        }
        if !place.is_empty() {
            self.join_again(world, stack, (&map, place), &mut after)?;
        }
        if !near_parts.is_empty() {
            unmix(world, stack, &near_parts, &mut after)?;
        }
        Ok(after)
    }

    /// The second pass once more around `place`, by the depth of `map`.
    fn join_again(
        &self,
        world: &World<'_>,
        stack: &StackPlan,
        (map, place): (&DepthMap, Rect),
        after: &mut Before,
    ) -> Result<(), EngineError> {
        let whole = after.picture.rect;
        let passing = place.grow(PASSES_PX).intersect(whole);
        let joined = passing.grow(AROUND_PX).intersect(whole);
        let here = DepthMap {
            depth: map.depth.crop(joined),
            confidence: map.confidence.crop(joined),
            sharp_share: Vec::new(),
            never_sharp_share: 0.0,
            frames: map.frames,
        };
        let fused = fusing::joined(world, stack, (&here, joined, whole))?;
        let light = adapt::image_of(&fused.planes, &fused.coverage);
        for y in passing.y0..passing.y1 {
            for x in passing.x0..passing.x1 {
                let share = passing_share(place, x, y);
                let at = whole.index(x, y);
                let (old, new) = (after.picture.data[at], light.at(x, y));
                for (value, new) in after.picture.data[at].iter_mut().zip(new) {
                    *value += share * (new - *value);
                }
                if share >= 1.0 {
                    after.picture.data[at] = new;
                    after.depth.data[at] = [
                        map.depth.data[at],
                        map.confidence.data[at],
                        fused.frame_map.at(x, y),
                        old[3].max(new[3]),
                    ];
                }
            }
        }
        Ok(())
    }
}

/// Takes the blur of near parts off what lies behind them.
fn unmix(
    world: &World<'_>,
    stack: &StackPlan,
    coverages: &[Plane],
    after: &mut Before,
) -> Result<(), EngineError> {
    let whole = after.picture.rect;
    let map = map_of(&after.depth, stack.frames.len());
    let light = adapt::planes_of(&after.picture);
    let mut frames = Vec::new();
    for frame in &stack.frames {
        frames.push(Arriving::open(world, frame, &stack.develop, whole)?);
    }
    let count = frames.len();
    let frame = |number: usize, rect: Rect| {
        step(world, "taking the blur of a near part off", number, count)?;
        frames[number].light(rect)
    };
    let near = NearParts {
        coverages,
        light: &light,
        map: &map,
    };
    if let Some((place, behind)) = near.taken_off(frame)? {
        for y in place.y0..place.y1 {
            for x in place.x0..place.x1 {
                let at = whole.index(x, y);
                let cover = after.picture.data[at][3];
                let colour = behind.pixel(place.index(x, y));
                after.picture.data[at] = [
                    colour[0] * cover,
                    colour[1] * cover,
                    colour[2] * cover,
                    cover,
                ];
            }
        }
    }
    Ok(())
}

fn take_from(map: &mut DepthMap, mask: &Plane, frame: usize) {
    let places = map.depth.data.iter_mut().zip(&mut map.confidence.data);
    for ((depth, sure), share) in places.zip(&mask.data) {
        if *share >= ALONE {
            *depth = count_f32(frame);
            *sure = CERTAIN;
        }
    }
}

/// The smallest rectangle that holds everything the mask lets through.
fn reached(mask: &Plane) -> Rect {
    let rect = mask.rect;
    let mut found = Rect::default();
    for y in rect.y0..rect.y1 {
        let row = mask.row(y);
        let first = row.iter().position(|share| *share > 0.0);
        let last = row.iter().rposition(|share| *share > 0.0);
        if let Some((first, last)) = first.zip(last) {
            let at = |place: usize| rect.x0 + crate::pixels::convert::coordinate(place);
            found = found.union(Rect::new(at(first), y, at(last) + 1, y + 1));
        }
    }
    found
}

/// 1 in and close to `place`, falling to 0 at its passage's end.
fn passing_share(place: Rect, x: i32, y: i32) -> f32 {
    let beyond = |at: i32, first: i32, end: i32| (first - at).max(at + 1 - end).max(0);
    let distance = beyond(x, place.x0, place.x1).max(beyond(y, place.y0, place.y1));
    let half = PASSES_PX / 2;
    let far = crate::pixels::convert::small_f32(distance - half);
    (1.0 - far / crate::pixels::convert::small_f32(half)).clamp(0.0, 1.0)
}
