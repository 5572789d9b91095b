//! What is wrong in a project that was read from a file: every reference must lead somewhere, every number be finite.

use crate::project::limits;
use crate::project::{FrameId, Guidance, Mask, Placing, Plate, Project, Source, Variant};
use std::collections::BTreeSet;

/// Every fault, as one sentence each; empty for a sound project.
#[must_use]
pub fn faults(project: &Project) -> Vec<String> {
    let mut faults = Vec::new();
    if project.canvas.size.area() == 0 {
        faults.push("the canvas has no pixels".to_owned());
    }
    unique(
        "frame",
        project.frames.iter().map(|frame| frame.id.0),
        &mut faults,
    );
    unique(
        "plate",
        project.plates.iter().map(|plate| plate.id.0),
        &mut faults,
    );
    unique(
        "placement",
        project.placements.iter().map(|placement| placement.id.0),
        &mut faults,
    );
    let mut names = BTreeSet::new();
    for plate in &project.plates {
        if !names.insert(plate.name.as_str()) {
            faults.push(format!("two plates are called '{}'", plate.name));
        }
        plate_faults(project, plate, &mut faults);
    }
    for placement in &project.placements {
        if project.plate(placement.plate).is_none() {
            faults.push(format!(
                "placement '{}' names plate {}, which is not there",
                placement.name, placement.plate
            ));
        }
        if !placing_is_finite(&placement.placing) {
            faults.push(format!(
                "placement '{}' has a place that is no number",
                placement.name
            ));
        }
    }
    limits::faults(project, &mut faults);
    faults
}

fn unique(what: &str, ids: impl Iterator<Item = u32>, faults: &mut Vec<String>) {
    let mut seen = BTreeSet::new();
    for id in ids {
        if !seen.insert(id) {
            faults.push(format!("two {what}s have number {id}"));
        }
    }
}

fn plate_faults(project: &Project, plate: &Plate, faults: &mut Vec<String>) {
    let mut fault = |text: String| faults.push(format!("plate '{}': {text}", plate.name));
    if plate.variant().is_none() {
        fault(format!("source {} is not there", plate.current));
    }
    for variant in &plate.variants {
        for frame in frames_of(variant) {
            if project.frame(frame).is_none() {
                fault(format!("frame {frame} is not there"));
            }
        }
        guide_faults(plate, variant).for_each(&mut fault);
        if variant
            .stack()
            .is_some_and(|stack| stack.used().next().is_none())
        {
            fault(format!(
                "source '{}' has no frame that takes part",
                variant.name
            ));
        }
        if variant.mesh().is_some_and(|mesh| !mesh.is_sound()) {
            fault(format!("the mesh of source '{}' is broken", variant.name));
        }
        for take in &variant.takes {
            if plate.pass(take.pass).is_none() {
                fault(format!("pass {} is not there", take.pass));
            }
            if take.meshes().any(|mesh| !mesh.is_sound()) {
                fault(format!("a mesh of pass {} is broken", take.pass));
            }
        }
    }
    let masks = plate
        .groups
        .iter()
        .map(|group| group.mask)
        .chain(plate.steps.iter().map(|step| step.mask))
        .chain(
            plate
                .steps
                .iter()
                .flat_map(|step| step.kind.masks_used().map(Some)),
        );
    for mask in masks.flatten() {
        if plate.mask(mask).is_none() {
            fault(format!("mask {mask} is not there"));
        }
    }
    for group in &plate.groups {
        if plate.pass(group.pass).is_none() {
            fault(format!(
                "practical group '{}' names pass {}, which is not there",
                group.name, group.pass
            ));
        }
    }
    for said in plate.masks.iter().flat_map(|mask| mask_faults(plate, mask)) {
        fault(said);
    }
    step_faults(plate, &mut fault);
}

/// What the steps of a plate name that is not there.
fn step_faults(plate: &Plate, fault: &mut impl FnMut(String)) {
    for step in &plate.steps {
        let word = step.kind.word();
        for pass in step.kind.passes_used() {
            if plate.pass(pass).is_none() {
                fault(format!("the {word} names pass {pass}, which is not there"));
            }
        }
        for frame in step.kind.frames_used() {
            if plate.variant_of_frame(frame).is_none() {
                fault(format!(
                    "the {word} names frame {frame}, which is in no stack of the plate"
                ));
            }
        }
        for variant in step.kind.variants_used() {
            if plate.variant_by_id(variant).is_none() {
                fault(format!(
                    "the {word} names source {variant}, which is not there"
                ));
            }
        }
    }
}

/// What is wrong in what people say about joining a source's frames.
fn guide_faults(plate: &Plate, variant: &Variant) -> impl Iterator<Item = String> {
    let guides = variant.stack().map_or(&[][..], |stack| &stack.guides);
    guides.iter().flat_map(|guide| {
        let mask = plate.mask(guide.mask).is_none();
        let mask = mask.then(|| format!("mask {} is not there", guide.mask));
        let too_far =
            matches!(guide.does, Guidance::Prefer(frames) if !(-100.0..=100.0).contains(&frames));
        let too_far = too_far.then(|| "the depth is moved by more frames than can be".to_owned());
        mask.into_iter().chain(too_far)
    })
}

/// What is wrong in one mask of a plate.
fn mask_faults(plate: &Plate, mask: &Mask) -> Vec<String> {
    let mut faults = Vec::new();
    let name = &mask.name;
    if let Some(other) = mask.masks_used().find(|id| plate.mask(*id).is_none()) {
        faults.push(format!(
            "mask '{name}' names mask {other}, which is not there"
        ));
    }
    if let Some(pass) = mask.passes_used().find(|id| plate.pass(*id).is_none()) {
        faults.push(format!(
            "mask '{name}' names pass {pass}, which is not there"
        ));
    }
    if plate.mask_is_within(mask.id, mask) {
        faults.push(format!("mask '{name}' is made of itself"));
    }
    faults
}

/// Every frame that a source uses, of all its passes.
pub fn frames_of(variant: &Variant) -> impl Iterator<Item = FrameId> {
    let stack = match &variant.source {
        Source::Stack(stack) => stack.frames.as_slice(),
        Source::Made(_) => &[],
    };
    let takes = variant
        .takes
        .iter()
        .flat_map(|take| take.frames.iter().copied());
    stack.iter().map(|entry| entry.frame).chain(takes)
}

fn placing_is_finite(placing: &Placing) -> bool {
    match placing {
        Placing::Upright {
            centre,
            scale,
            turn_deg,
            ..
        } => {
            [centre.x, centre.y, *scale, *turn_deg]
                .iter()
                .all(|value| value.is_finite())
                && *scale > 0.0
        }
        Placing::Corners(corners) => corners
            .iter()
            .all(|corner| corner.x.is_finite() && corner.y.is_finite()),
    }
}
