//! What is measured on stacks and passes, and recorded: registration, gains, partners, places.
//!
//! Registration comes before matching: correlation does not mind a gain, and matching wants registered blocks.

pub mod carried;
mod fused;
mod place;
pub mod spots;
mod stack;
mod take;

pub use fused::FusedPlate;

use crate::engine::stamp::Stamp;
use crate::engine::{EngineError, World};
use crate::geometry::{Point, Similarity, Size};
use crate::imaging::basics::statistics::median;
use crate::imaging::match_colour::Matched;
use crate::project::{Fingerprint, KeyLight, Plate, Project, Stack, StackMeasured, Take, Variant};
use std::sync::Arc;

/// Light from which on a channel counts as saturated.
const SATURATION: f32 = 0.97;
/// No motion: where the search for a neighbour begins.
const STILL: Similarity = Similarity {
    log_scale: 0.0,
    angle_rad: 0.0,
    shift: Point::new(0.0, 0.0),
};

fn stack_stamp(project: &Project, stack: &Stack) -> Fingerprint {
    let mut contents: Vec<_> = stack
        .used()
        .filter_map(|id| project.frame(id)?.content)
        .collect();
    contents.sort_unstable();
    let stamp = contents
        .into_iter()
        .fold(Stamp::new("measure stack 2"), Stamp::content);
    let chosen = stack.reference.and_then(|id| project.frame(id)?.content);
    chosen.into_iter().fold(stamp, Stamp::content).done()
}

fn take_stamp(project: &Project, plate: &Plate, variant: &Variant, take: &Take) -> Fingerprint {
    let contents = take
        .frames
        .iter()
        .filter_map(|id| project.frame(*id)?.content);
    let stamp = contents.fold(Stamp::new("measure take 1"), Stamp::content);
    // What people say of the key light counts; leaving it to be measured says nothing.
    let said = plate.pass(take.pass).map(|pass| pass.key_light);
    let stamp = said
        .into_iter()
        .filter(|key_light| *key_light != KeyLight::Auto)
        .fold(stamp, |stamp, key_light| stamp.parameters(&key_light));
    let stack = variant.stack().and_then(|stack| stack.measured.as_ref());
    stack
        .into_iter()
        .fold(stamp, |stamp, measured| stamp.input(measured.inputs))
        .done()
}

fn place_stamp(project: &Project, plate: &Plate, variant: &Variant) -> Fingerprint {
    let stamp = Stamp::new("measure place 2");
    let first = plate.variants.first().into_iter().map(Arc::as_ref);
    let both = first.chain([variant]).filter_map(Variant::stack);
    both.fold(stamp, |stamp, stack| {
        stamp.input(stack_stamp(project, stack))
    })
    .done()
}

/// Whether the frames of a source have to be measured.
#[must_use]
pub fn stack_is_due(project: &Project, variant: &Variant) -> bool {
    let Some(stack) = variant.stack() else {
        return false;
    };
    stack
        .measured
        .as_ref()
        .is_none_or(|measured| measured.inputs != stack_stamp(project, stack))
}

/// Whether the frames of a pass have to be measured.
#[must_use]
pub fn take_is_due(project: &Project, plate: &Plate, variant: &Variant, take: &Take) -> bool {
    take.measured
        .as_ref()
        .is_none_or(|measured| measured.inputs != take_stamp(project, plate, variant, take))
}

/// Whether it has to be measured where a source lies on its plate. The first source of a plate is the plate.
#[must_use]
pub fn place_is_due(project: &Project, plate: &Plate, variant: &Variant) -> bool {
    let is_first = plate
        .variants
        .first()
        .is_some_and(|first| first.id == variant.id);
    if is_first || variant.stack().is_none() {
        return false;
    }
    variant
        .lies
        .as_ref()
        .is_none_or(|lies| lies.inputs != place_stamp(project, plate, variant))
}

/// What brings a frame back to the reference, from how it differs: written to five digits, so that what is recorded is used.
fn undo(matched: &Matched) -> ([f32; 3], [f32; 3]) {
    let written = |value: f32| (value * 1e5).round() / 1e5;
    let gain = matched
        .gain_rgb
        .map(|gain| written(1.0 / gain.clamp(0.05, 20.0)));
    let offset = [0, 1, 2].map(|channel| written(-matched.offset_rgb[channel] * gain[channel]));
    (gain, offset)
}

fn size_text(size: Option<Size>) -> String {
    size.map_or_else(String::new, |size| {
        format!("{} x {}", size.width, size.height)
    })
}

fn step(world: &World<'_>, stage: &str, done: usize, total: usize) -> Result<(), EngineError> {
    world.watch.progress(stage, done, total);
    if world.watch.cancelled() {
        Err(EngineError::Cancelled)
    } else {
        Ok(())
    }
}

/// The middle residual of a stack in px, for people to read.
#[must_use]
pub fn typical_residual(measured: &StackMeasured) -> f32 {
    let residuals: Vec<f32> = measured
        .frames
        .iter()
        .map(|frame| frame.residual_px)
        .filter(|residual| *residual > 0.0)
        .collect();
    median(&residuals).unwrap_or(0.0)
}
