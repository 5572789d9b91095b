//! Plans of whole pictures: what each depends on, and how it is computed.

use crate::engine::cutting::CutPlan;
use crate::engine::frames::StackPlan;
use crate::engine::masks::MaskPlan;
use crate::engine::stamp::Stamp;
use crate::engine::wholes::{What, WholePlan};
use crate::engine::{EngineError, frames, guided};
use crate::geometry::Size;
use crate::imaging::lights::lay::Glare;
use crate::project::{FrameId, FuseSettings, PassId, Plate, Project, Variant};
use std::sync::Arc;

/// The fused stack of a source, on the plate's reference pixels.
///
/// # Errors
/// When the stack was not measured.
pub fn fused(
    project: &Project,
    plate: &Plate,
    variant: &Variant,
) -> Result<WholePlan, EngineError> {
    joined(plate, frames::stack_plan(project, plate, variant)?)
}

/// The fused stack of a source joined by the depth of `like`, the fused stack of another source of the same pose: both mix the same frames
/// in the same places, so that they differ in what lies on the model alone. Where either is no stack, just the fused source.
///
/// # Errors
/// When the stack was not measured.
pub fn joined_like(
    project: &Project,
    plate: &Plate,
    variant: &Variant,
    like: &WholePlan,
) -> Result<WholePlan, EngineError> {
    let of = fused(project, plate, variant)?;
    let mut stack = frames::stack_plan(project, plate, variant)?;
    let (What::Fused(first)
    | What::Unveiled { stack: first, .. }
    | What::Guided { stack: first, .. }) = &like.what
    else {
        return Ok(of);
    };
    if stack.frames.len() < 2 || first.frames.len() < 2 {
        return Ok(of);
    }
    stack.fuse = first.fuse;
    let stamp = Stamp::new("joined like 1").input(of.stamp);
    let stamp = stamp.input(like.stamp).parameters(&stack.fuse).done();
    let size = of.size;
    let what = What::JoinedLike {
        of: Box::new(of),
        like: Box::new(like.clone()),
        stack: Arc::new(stack),
    };
    Ok(WholePlan { stamp, size, what })
}

/// One frame of a stack of the plate alone, on the plate's reference pixels.
///
/// # Errors
/// When the stack was not measured, or the frame takes no part in it.
pub fn one_frame(
    project: &Project,
    plate: &Plate,
    frame: FrameId,
) -> Result<WholePlan, EngineError> {
    let missing = || {
        EngineError::Plate {
        plate: plate.name.clone(),
        why: "a place is filled from a frame that takes no part: take the frame in again, or fill the place from something else"
            .to_owned(),
    }
    };
    let variant = plate.variant_of_frame(frame).ok_or_else(missing)?;
    let mut stack = frames::stack_plan(project, plate, variant)?;
    stack.frames.retain(|plan| plan.frame.id == frame);
    if stack.frames.is_empty() {
        return Err(missing());
    }
    // Nothing is joined: how the stack is joined does not matter.
    stack.fuse = FuseSettings::default();
    joined(plate, stack)
}

/// The frames joined; near parts' blur taken off what is behind them is a picture of its own above that, so that this choice alone joins
/// nothing again.
fn joined(plate: &Plate, mut stack: StackPlan) -> Result<WholePlan, EngineError> {
    let size = plate.size.ok_or(EngineError::NotPrepared(plate.id))?;
    let unveil = std::mem::take(&mut stack.fuse.unveil) && stack.frames.len() > 1;
    let stamp = stack
        .stamp_into(Stamp::new("fused 2"))
        .parameters(&size)
        .done();
    let what = What::Fused(Arc::new(stack.clone()));
    let plain = WholePlan { stamp, size, what };
    if !unveil {
        return Ok(plain);
    }
    stack.fuse.unveil = true;
    let stamp = Stamp::new("unveiled 1").input(plain.stamp).done();
    let what = What::Unveiled {
        of: Box::new(plain),
        stack: Arc::new(stack),
    };
    Ok(WholePlan { stamp, size, what })
}

/// [`fused`] with what people say about joining the frames in some places.
///
/// # Errors
/// When the stack was not measured.
pub fn guided(
    project: &Project,
    plate: &Plate,
    variant: &Variant,
) -> Result<WholePlan, EngineError> {
    let of = fused(project, plate, variant)?;
    let (What::Fused(stack) | What::Unveiled { stack, .. }) = &of.what else {
        return Ok(of);
    };
    let guides = guided::plan(stack, plate, variant)?;
    let stamp = guides
        .iter()
        .fold(Stamp::new("guided 1").input(of.stamp), |stamp, guide| {
            guide.stamp_into(stamp)
        });
    if guides.is_empty() {
        return Ok(of);
    }
    let (stamp, size, stack) = (stamp.done(), of.size, Arc::clone(stack));
    let what = What::Guided {
        of: Box::new(of),
        stack,
        guides,
    };
    Ok(WholePlan { stamp, size, what })
}

/// The separated light of a light pass.
///
/// # Errors
/// When the pass has no frames or was not measured.
pub fn light(project: &Project, plate: &Plate, pass: PassId) -> Result<WholePlan, EngineError> {
    pass_plan(project, plate, pass, "light 2")
}

/// The light of a pass with its noise shrunk by `strength` deviations (0..=4); the light itself at 0.
#[must_use]
pub fn quiet(of: WholePlan, strength: f32) -> WholePlan {
    let What::Pass { unlit, .. } = &of.what else {
        return of;
    };
    if strength.is_nan() || strength <= 0.0 {
        return of;
    }
    let stamp = Stamp::new("quiet 1").input(of.stamp).parameters(&strength);
    let (stamp, size, unlit) = (stamp.done(), of.size, unlit.clone());
    let what = What::Quiet {
        of: Box::new(of),
        unlit,
        strength,
    };
    WholePlan { stamp, size, what }
}

/// The light of a silhouette pass, its backdrop at 1.
///
/// # Errors
/// When the pass has no frames or was not measured.
pub fn silhouette(
    project: &Project,
    plate: &Plate,
    pass: PassId,
) -> Result<WholePlan, EngineError> {
    pass_plan(project, plate, pass, "silhouette 1")
}

/// The light of a pass as it is: a clean plate, or the model before another backdrop.
///
/// # Errors
/// When the pass has no frames or was not measured.
pub fn bare(project: &Project, plate: &Plate, pass: PassId) -> Result<WholePlan, EngineError> {
    pass_plan(project, plate, pass, "bare 1")
}

/// The coverage of a matte over all of the plate, of `size`.
pub(in crate::engine) fn cut(plan: CutPlan, size: Size) -> WholePlan {
    WholePlan {
        stamp: plan.stamp(),
        size,
        what: What::Cut(Box::new(plan)),
    }
}

fn pass_plan(
    project: &Project,
    plate: &Plate,
    pass: PassId,
    kind: &str,
) -> Result<WholePlan, EngineError> {
    let (variant, take) = plate.take(pass).ok_or_else(|| EngineError::Plate {
        plate: plate.name.clone(),
        why: "a pass has no frames: add its photos, or take what is made of it away".to_owned(),
    })?;
    let unlit = guided(project, plate, variant)?;
    let stack = frames::stack_plan(project, plate, variant)?;
    let take = frames::take_plan(project, plate, variant, take)?;
    let stamp = take.stamp_into(Stamp::new(kind).input(unlit.stamp)).done();
    let size = unlit.size;
    let what = What::Pass {
        unlit: Box::new(unlit),
        stack: Arc::new(stack),
        take: Arc::new(take),
    };
    Ok(WholePlan { stamp, size, what })
}

/// The light of a group behind its mask with the lens's glare, as it is at `level` (as if that were its full size).
#[must_use]
pub(in crate::engine) fn glared(
    of: WholePlan,
    (glare, level): (Glare, u32),
    mask: Option<&Arc<MaskPlan>>,
) -> WholePlan {
    let spikes = glare
        .spikes
        .map(|s| (s.blades, s.turn_deg, s.core_px, s.share, s.spread));
    let stamp = Stamp::new("glare 1")
        .input(of.stamp)
        .number(u64::from(level))
        .parameters(&(glare.glow_px, glare.glow_share, spikes));
    let stamp = mask
        .iter()
        .fold(stamp, |stamp, mask| mask.stamp_into(stamp));
    let (stamp, size) = (stamp.done(), of.size.at_level(level));
    let what = What::Glare {
        of: Box::new(of),
        mask: mask.cloned(),
        glare,
        level,
    };
    WholePlan { stamp, size, what }
}
