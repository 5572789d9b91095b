//! How much a project may hold, and how far its numbers may go: beyond that a file is taken for damaged or hostile. Wide enough
//! for anything people make.

use crate::geometry::{Point, Size};
use crate::project::{
    Made, Mask, MatteMethod, Patch, PatchFrom, PatchShape, Placing, Plate, PracticalGroup, Project,
    Rule, Shape, Source, Spikes, StepKind,
};

/// Most pixels of a canvas or plate.
const PIXELS: u64 = 1 << 30;
/// Longest side of a canvas or plate, px.
const SIDE: u32 = 1 << 17;
/// Most frames, plates, placements, and things of one plate.
const FRAMES: usize = 100_000;
const PLATES: usize = 2_000;
const PLACEMENTS: usize = 20_000;
const THINGS: usize = 100_000;
/// Most points of one stroke or outline.
const POINTS: usize = 1_000_000;
/// Farthest a place may lie from the origin, px.
const FAR_PX: f64 = 1e7;
/// Largest radius of a brush or a glow, px.
const RADIUS_PX: f32 = 20_000.0;
/// Most stops of light.
const STOPS: f32 = 20.0;

/// Adds every excess to `faults`, as one sentence each.
pub(super) fn faults(project: &Project, faults: &mut Vec<String>) {
    size_fault("the canvas", project.canvas.size, faults);
    if !(1.0..=100_000.0).contains(&project.canvas.pixels_per_inch) {
        faults.push("the canvas has no sensible print resolution".to_owned());
    }
    count_fault("frames", project.frames.len(), FRAMES, faults);
    count_fault("plates", project.plates.len(), PLATES, faults);
    count_fault("placements", project.placements.len(), PLACEMENTS, faults);
    for frame in &project.frames {
        if let Some(size) = frame.size {
            size_fault(&frame.file, size, faults);
        }
    }
    for plate in &project.plates {
        let mut of_plate = Vec::new();
        plate_faults(plate, &mut of_plate);
        let named = of_plate
            .into_iter()
            .map(|fault| format!("plate '{}': {fault}", plate.name));
        faults.extend(named);
    }
    for placement in &project.placements {
        let sound = (0.0..=1.0).contains(&placement.strength)
            && match &placement.placing {
                Placing::Upright { centre, scale, .. } => is_near(*centre) && *scale <= 1e6,
                Placing::Corners(corners) => corners.iter().copied().all(is_near),
            };
        if !sound {
            faults.push(format!(
                "placement '{}' lies too far out or is too strong",
                placement.name
            ));
        }
    }
}

fn plate_faults(plate: &Plate, faults: &mut Vec<String>) {
    if let Some(size) = plate.size {
        size_fault("it", size, faults);
    }
    count_fault("sources", plate.variants.len(), THINGS, faults);
    count_fault("masks", plate.masks.len(), THINGS, faults);
    count_fault("practical groups", plate.groups.len(), THINGS, faults);
    count_fault("steps", plate.steps.len(), THINGS, faults);
    for variant in &plate.variants {
        match &variant.source {
            Source::Made(made) => made_faults(made, faults),
            Source::Stack(stack) => count_fault("frames", stack.frames.len(), FRAMES, faults),
        }
        let maps = variant.lies.iter().map(|lies| lies.plate_from_variant);
        if !maps.flat_map(|map| map.rows).flatten().all(f64::is_finite) {
            faults.push(format!("source '{}' lies nowhere", variant.name));
        }
    }
    plate
        .masks
        .iter()
        .for_each(|mask| mask_faults(mask, faults));
    for step in &plate.steps {
        if !step_is_sound(&step.kind) {
            faults.push(format!("the {} has senseless numbers", step.kind.word()));
        }
    }
    for group in &plate.groups {
        if !group_is_sound(group) {
            faults.push(format!(
                "practical group '{}' has senseless settings",
                group.name
            ));
        }
    }
}

fn mask_faults(mask: &Mask, faults: &mut Vec<String>) {
    count_fault("strokes and outlines", mask.parts.len(), THINGS, faults);
    let whole = mask.grow_px.abs() <= 1000.0 && (0.0..=2000.0).contains(&mask.feather_px);
    let parts = mask.parts.iter().all(|part| {
        (0.0..=1.0).contains(&part.strength)
            && match &part.shape {
                Shape::Stroke {
                    points,
                    radius_px,
                    softness,
                    pressure,
                } => {
                    points.len() <= POINTS
                        && pressure.len() <= points.len()
                        && pressure.iter().all(|force| (0.0..=1.0).contains(force))
                        && points.iter().copied().all(is_near)
                        && (0.0..=RADIUS_PX).contains(radius_px)
                        && (0.0..=1.0).contains(softness)
                }
                Shape::Outline { nodes, feather_px } => {
                    let points = nodes
                        .iter()
                        .flat_map(|node| [Some(node.at), node.before, node.after]);
                    nodes.len() <= POINTS
                        && points.flatten().all(is_near)
                        && (0.0..=2000.0).contains(feather_px)
                }
                Shape::Rule(rule) => rule_is_sound(rule),
            }
    });
    if !(whole && parts) {
        faults.push(format!("mask '{}' has senseless numbers", mask.name));
    }
}

fn rule_is_sound(rule: &Rule) -> bool {
    match rule {
        Rule::Brightness {
            low, high, soft, ..
        }
        | Rule::Depth {
            near: low,
            far: high,
            soft,
        } => [low, high, soft]
            .iter()
            .all(|value| (0.0..=1e4).contains(*value)),
        Rule::Colour {
            picked_rgb,
            reach,
            soft,
            ..
        } => {
            picked_rgb.iter().all(|value| value.abs() <= 1e4)
                && (0.0..=1.0).contains(reach)
                && (0.0..=1.0).contains(soft)
        }
        Rule::Mask { .. } => true,
    }
}

fn step_is_sound(kind: &StepKind) -> bool {
    match kind {
        // What older programs let through stays readable.
        StepKind::Matte(matte) => match matte.method {
            MatteMethod::Plain {
                edge_px,
                hole_share,
                least,
                ..
            } => {
                (0.3..=4.0).contains(&edge_px)
                    && (0.0..=1.0).contains(&hole_share)
                    && (0.005..=0.5).contains(&least)
            }
            MatteMethod::Drawn | MatteMethod::Silhouette { .. } | MatteMethod::TwoLevels { .. } => {
                true
            }
        },
        StepKind::Grade(_) => true,
        StepKind::Spotting(_) | StepKind::PaintOut(_) => {
            kind.patches().len() <= THINGS && kind.patches().iter().all(patch_is_sound)
        }
        StepKind::Warp(warp) => {
            let points = warp.kind.points();
            points.len() <= POINTS
                && points.into_iter().all(is_near)
                && (1.0..=5000.0).contains(&warp.soft_px)
        }
    }
}

fn patch_is_sound(patch: &Patch) -> bool {
    let points = patch.shape.points();
    let shape = match patch.shape {
        PatchShape::Dab { radius_px, .. } => (0.5..=500.0).contains(&radius_px),
        PatchShape::Line { width_px, .. } => {
            !points.is_empty() && (1.0..=500.0).contains(&width_px)
        }
        PatchShape::Outline { .. } => points.len() >= 3,
    };
    let from = match patch.from {
        PatchFrom::Place { offset } => is_near(offset),
        PatchFrom::Surroundings
        | PatchFrom::CleanPlate { .. }
        | PatchFrom::OtherTake { .. }
        | PatchFrom::Frame { .. } => true,
    };
    shape
        && from
        && points.len() <= POINTS
        && points.iter().copied().all(is_near)
        && (0.0..=50.0).contains(&patch.feather_px)
        && patch
            .confidence
            .is_none_or(|sure| (0.0..=1.0).contains(&sure))
}

fn group_is_sound(group: &PracticalGroup) -> bool {
    group.stops <= STOPS
        && !group.stops.is_nan()
        && group
            .tint_rgb
            .iter()
            .all(|factor| (0.0..=1e4).contains(factor))
        && (0.0..=RADIUS_PX).contains(&group.glow_px)
        && (0.0..=1.0).contains(&group.glow_share)
        && (0.0..=100.0).contains(&group.denoise)
        && (0.0..=1.0).contains(&group.outside_share)
        && (0.0..=1.0).contains(&group.keep_colour)
        && group.spikes.as_ref().is_none_or(spikes_are_sound)
}

fn spikes_are_sound(spikes: &Spikes) -> bool {
    (3..=18).contains(&spikes.blades)
        && spikes.turn_deg.is_finite()
        && (1.0..=64.0).contains(&spikes.f_number)
        && (0.1..=20.0).contains(&spikes.length)
        && (0.0..=1.0).contains(&spikes.share)
        && (0.0..=1.0).contains(&spikes.spread)
}

fn made_faults(made: &Made, faults: &mut Vec<String>) {
    size_fault("its recipe", made.size, faults);
    let stars = made.stars.as_ref().is_none_or(|stars| {
        (0.1..=360.0).contains(&stars.view_deg)
            && (-30.0..=14.0).contains(&stars.faintest)
            && (0.0..=100.0).contains(&stars.sigma_px)
            && stars.light.is_finite()
    });
    let dust = made.dust_lane.as_ref().is_none_or(|dust| {
        is_near(dust.through)
            && (0.0..=1e6).contains(&dust.width_px)
            && (0.0..=1e6).contains(&dust.cloud_px)
            && dust
                .kelvin
                .iter()
                .all(|kelvin| (500.0..=100_000.0).contains(kelvin))
    });
    let planet = made.planet.as_ref().is_none_or(|planet| {
        is_near(planet.centre)
            && (0.0..=1e6).contains(&planet.radius_px)
            && planet.light.is_finite()
            && planet.ring.as_ref().is_none_or(|ring| {
                ring.inner.is_finite() && ring.outer.is_finite() && ring.depth.is_finite()
            })
    });
    if !(stars && dust && planet) {
        faults.push("its recipe has senseless numbers".to_owned());
    }
}

fn size_fault(what: &str, size: Size, faults: &mut Vec<String>) {
    if size.area() > PIXELS || size.width > SIDE || size.height > SIDE {
        faults.push(format!(
            "{what} is {} x {} px, which is more than anything can be",
            size.width, size.height
        ));
    }
}

fn count_fault(what: &str, count: usize, most: usize, faults: &mut Vec<String>) {
    if count > most {
        faults.push(format!(
            "there are {count} {what}, more than the {most} allowed"
        ));
    }
}

fn is_near(point: Point) -> bool {
    point.x.abs() <= FAR_PX && point.y.abs() <= FAR_PX
}
