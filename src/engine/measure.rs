//! What is measured on stacks and passes, and recorded: registration, gains, partners, places.
//!
//! Registration comes before matching: correlation does not mind a gain, and matching wants registered blocks.

use crate::engine::frames::{self, decoded};
use crate::engine::stamp::Stamp;
use crate::engine::wholes::fuse_stack;
use crate::engine::{Engine, EngineError, World, adapt};
use crate::geometry::{Size, Transform};
use crate::imaging::basics::colour;
use crate::imaging::basics::statistics::{median, percentile};
use crate::imaging::match_colour::{self, BlockMeans};
use crate::imaging::register::{self, Light, Link, Prepared};
use crate::imaging::{inspect, register::Found};
use crate::pixels::convert::{count_f32, index, unit_to_u16};
use crate::pixels::{Image, Plane, Planes};
use crate::project::{
    Develop, Fingerprint, Frame, FrameMeasured, KeyLight, Lies, PassId, PassRole, Plate, PlateId,
    Project, Stack, StackMeasured, Take, TakeFrame, TakeMeasured, Variant, VariantId,
};
use std::sync::Arc;

/// A fused stack, for writing to files.
#[derive(Debug)]
pub struct FusedPlate {
    /// Width and height.
    pub size: Size,
    /// Light and coverage.
    pub picture: Image,
    /// Frame number in focus order, fractional.
    pub depth: Plane,
    /// The frame each pixel mostly came from.
    pub frame_map: Plane,
    /// Number of frames.
    pub frames: usize,
    /// Share of the textured picture that is sharp in no frame.
    pub never_sharp_share: f32,
    /// What people should know, one sentence each.
    pub warnings: Vec<String>,
}

impl FusedPlate {
    /// The depth map as 16-bit codes: 0 the first frame, 65535 the last.
    #[must_use]
    pub fn depth_codes(&self) -> Vec<u16> {
        let last = count_f32(self.frames.saturating_sub(1).max(1));
        self.depth
            .data
            .iter()
            .map(|depth| unit_to_u16(depth / last))
            .collect()
    }

    /// The frame map as 8-bit codes: the frame's number in focus order.
    #[must_use]
    pub fn frame_codes(&self) -> Vec<u8> {
        self.frame_map
            .data
            .iter()
            .map(|frame| u8::try_from(index(*frame, 255)).unwrap_or(u8::MAX))
            .collect()
    }
}

/// Neighbour residual in px above which a stack's registration is said to be doubtful (algorithm notes: 0.2 px warns).
const RESIDUAL_WARNS_PX: f32 = 0.35;

fn stack_stamp(project: &Project, stack: &Stack) -> Fingerprint {
    let mut contents: Vec<_> = stack
        .used()
        .filter_map(|id| project.frame(id)?.content)
        .collect();
    contents.sort_unstable();
    let stamp = contents
        .into_iter()
        .fold(Stamp::new("measure stack 1"), Stamp::content);
    let chosen = stack.reference.and_then(|id| project.frame(id)?.content);
    chosen.into_iter().fold(stamp, Stamp::content).done()
}

fn take_stamp(project: &Project, variant: &Variant, take: &Take) -> Fingerprint {
    let contents = take
        .frames
        .iter()
        .filter_map(|id| project.frame(*id)?.content);
    let stamp = contents.fold(Stamp::new("measure take 1"), Stamp::content);
    let stack = variant.stack().and_then(|stack| stack.measured.as_ref());
    stack
        .into_iter()
        .fold(stamp, |stamp, measured| stamp.input(measured.inputs))
        .done()
}

fn place_stamp(project: &Project, plate: &Plate, variant: &Variant) -> Fingerprint {
    let stamp = Stamp::new("measure place 1");
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
pub fn take_is_due(project: &Project, variant: &Variant, take: &Take) -> bool {
    take.measured
        .as_ref()
        .is_none_or(|measured| measured.inputs != take_stamp(project, variant, take))
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

/// One frame of a stack being measured.
struct Seen {
    frame: Arc<Frame>,
    prepared: Prepared,
    blocks: BlockMeans,
    sharpness: inspect::Sharpness,
}

impl Engine {
    /// Registers and matches the frames of a source.
    ///
    /// # Errors
    /// When a frame cannot be read, has another size, or does not register; or the work was stopped.
    pub fn measure_stack(
        &self,
        world: &World<'_>,
        plate: PlateId,
        variant: VariantId,
    ) -> Result<StackMeasured, EngineError> {
        let project = &world.project;
        let stack = project
            .variant(plate, variant)
            .and_then(|variant| variant.stack());
        let stack = stack.ok_or(EngineError::NotPrepared(plate))?;
        let mut seen = see_frames(world, stack)?;
        let hints: Vec<Option<f64>> = seen
            .iter()
            .map(|one| one.frame.camera.focus_distance_mm)
            .collect();
        let sharpness: Vec<inspect::Sharpness> =
            seen.iter().map(|one| one.sharpness.clone()).collect();
        let order = inspect::focus_order(&sharpness, &hints);
        let mut places: Vec<usize> = (0..seen.len()).collect();
        places.sort_by_key(|at| order.iter().position(|one| one == at));
        seen = in_order(seen, &places);
        let shares = inspect::sharp_shares(
            &seen
                .iter()
                .map(|one| one.sharpness.clone())
                .collect::<Vec<_>>(),
        );
        let reference = stack
            .reference
            .and_then(|id| seen.iter().position(|one| one.frame.id == id))
            .unwrap_or(seen.len() / 2);
        let (similarities, residuals) = register_stack(world, &seen, reference)?;
        let mut frames = Vec::new();
        for (at, one) in seen.iter().enumerate() {
            let to_reference = if at == reference {
                Transform::IDENTITY
            } else {
                register::rounded(&Transform::similarity(
                    similarities[at],
                    one.prepared.middle(),
                ))
            };
            let gain_rgb = if at == reference {
                [1.0; 3]
            } else {
                gain(&seen[reference], one, &to_reference)?
            };
            frames.push(FrameMeasured {
                frame: one.frame.id,
                to_reference,
                gain_rgb,
                offset_rgb: [0.0; 3],
                residual_px: residuals[at],
                sharp_share: shares[at],
            });
        }
        Ok(StackMeasured {
            inputs: stack_stamp(project, stack),
            frames,
        })
    }

    /// Registers the frames of a pass to the unlit frames focused most alike, and measures how much key light they hold.
    ///
    /// # Errors
    /// When a frame cannot be read or has another size; or the work was stopped.
    pub fn measure_take(
        &self,
        world: &World<'_>,
        plate: PlateId,
        variant: VariantId,
        pass: PassId,
    ) -> Result<TakeMeasured, EngineError> {
        let project = &world.project;
        let not_prepared = || EngineError::NotPrepared(plate);
        let plate_of = project.plate(plate).ok_or_else(not_prepared)?;
        let variant = plate_of.variant_by_id(variant).ok_or_else(not_prepared)?;
        let take = variant
            .takes
            .iter()
            .find(|take| take.pass == pass)
            .ok_or_else(not_prepared)?;
        let pass = plate_of.pass(pass).ok_or_else(not_prepared)?;
        let unlit = variant
            .stack()
            .and_then(|stack| stack.measured.as_ref())
            .ok_or_else(not_prepared)?;
        let mut frames = Vec::new();
        for (number, id) in take.frames.iter().enumerate() {
            step(world, "registering a pass", number, take.frames.len())?;
            let lit = project.frame(*id).ok_or_else(not_prepared)?;
            let partner = partner_of(project, unlit, lit, (number, take.frames.len()));
            let partner_frame = project.frame(partner.frame).ok_or_else(not_prepared)?;
            frames.push(measure_lit(
                world,
                (lit, pass.role, pass.key_light),
                (partner, partner_frame),
            )?);
        }
        Ok(TakeMeasured {
            inputs: take_stamp(project, variant, take),
            frames,
        })
    }

    /// Finds where a later source lies on its plate, by the reference frames of both.
    ///
    /// # Errors
    /// When a frame cannot be read, or the two do not register.
    pub fn measure_place(
        &self,
        world: &World<'_>,
        plate: PlateId,
        variant: VariantId,
    ) -> Result<Lies, EngineError> {
        let project = &world.project;
        let not_prepared = || EngineError::NotPrepared(plate);
        let plate_of = project.plate(plate).ok_or_else(not_prepared)?;
        let variant = plate_of.variant_by_id(variant).ok_or_else(not_prepared)?;
        let reference_of =
            |variant: &Variant| project.frame(variant.stack()?.reference_frame()?).cloned();
        let first = plate_of
            .variants
            .first()
            .and_then(|first| reference_of(first))
            .ok_or_else(not_prepared)?;
        let new = reference_of(variant).ok_or_else(not_prepared)?;
        step(world, "registering the new source to the plate", 0, 1)?;
        let old_planes = decoded(world, &first)?;
        let new_planes = decoded(world, &new)?;
        let old_size = old_planes.rect();
        let scale = count_f32(old_size.width()) / count_f32(new_planes.rect().width().max(1));
        let to_same_size = Transform::scaling(f64::from(scale), f64::from(scale));
        let back = Transform::scaling(1.0 / f64::from(scale), 1.0 / f64::from(scale));
        let same = crate::imaging::basics::resample::sample_planes(
            &new_planes,
            old_size,
            &back,
            crate::imaging::basics::resample::Kernel::Cubic,
        );
        let reference = Prepared::new(&adapt::luma(&old_planes), Light::Same);
        let moved = Prepared::new(&adapt::luma(&same.0), Light::Same);
        let found =
            register::search(&reference, &moved).ok_or_else(|| EngineError::NotRegistered {
                file: new.file.clone(),
                reference: first.file.clone(),
            })?;
        Ok(Lies {
            inputs: place_stamp(project, plate_of, variant),
            plate_from_variant: register::rounded(&found.reference_from_moved.after(&to_same_size)),
            residual_px: found.residual_px,
        })
    }

    /// How a swapped-in source has to be developed so that its light agrees with the plate's first source.
    ///
    /// # Errors
    /// When a frame cannot be read.
    pub fn develop_like_first(
        &self,
        world: &World<'_>,
        plate: PlateId,
        variant: VariantId,
    ) -> Result<Develop, EngineError> {
        let project = &world.project;
        let not_prepared = || EngineError::NotPrepared(plate);
        let plate_of = project.plate(plate).ok_or_else(not_prepared)?;
        let first = plate_of.variants.first().ok_or_else(not_prepared)?;
        let variant = plate_of.variant_by_id(variant).ok_or_else(not_prepared)?;
        let stacks = (
            first.stack().ok_or_else(not_prepared)?,
            variant.stack().ok_or_else(not_prepared)?,
        );
        let reference_of = |stack: &Stack| stack.reference_frame().and_then(|id| project.frame(id));
        let old = reference_of(stacks.0).ok_or_else(not_prepared)?;
        let new = reference_of(stacks.1).ok_or_else(not_prepared)?;
        let old = BlockMeans::new(&decoded(world, old)?);
        let new = BlockMeans::new(&decoded(world, new)?);
        let new_from_old = variant
            .plate_from_variant()
            .inverse()
            .unwrap_or(Transform::IDENTITY);
        let Some(matched) = match_colour::gains(&old, &new, &new_from_old) else {
            return Ok(stacks.1.develop);
        };
        let stops = libm::log2f(colour::luma(matched.gain_rgb).max(1e-3));
        let exposure_stops = (stacks.0.develop.exposure_stops + stops).clamp(-10.0, 10.0);
        // Written to a hundredth of a stop: what is recorded is what is used.
        Ok(Develop {
            exposure_stops: (exposure_stops * 100.0).round() / 100.0,
            ..stacks.0.develop
        })
    }

    /// Fuses a measured source with everything that `fuse` reports.
    ///
    /// # Errors
    /// When a frame cannot be read; or the work was stopped.
    pub fn fuse_plate(
        &self,
        world: &World<'_>,
        plate: PlateId,
        variant: VariantId,
    ) -> Result<FusedPlate, EngineError> {
        let project = &world.project;
        let not_prepared = || EngineError::NotPrepared(plate);
        let plate_of = project.plate(plate).ok_or_else(not_prepared)?;
        let variant = plate_of.variant_by_id(variant).ok_or_else(not_prepared)?;
        let size = plate_of.size.ok_or_else(not_prepared)?;
        let plan = frames::stack_plan(project, plate_of, variant)?;
        let fused = fuse_stack(world, size, &plan)?;
        let measured = variant.stack().and_then(|stack| stack.measured.as_ref());
        let warnings = measured
            .map(|measured| warnings(project, measured))
            .unwrap_or_default();
        Ok(FusedPlate {
            size,
            picture: adapt::image_of(&fused.planes, &Plane::filled(size.rect(), 1.0)),
            depth: fused.depth,
            frame_map: fused.frame_map,
            frames: plan.frames.len(),
            never_sharp_share: fused.never_sharp_share,
            warnings,
        })
    }
}

fn warnings(project: &Project, measured: &StackMeasured) -> Vec<String> {
    let name = |frame: &FrameMeasured| {
        project
            .frame(frame.frame)
            .map_or("?", |frame| frame.file.as_str())
            .to_owned()
    };
    let badly = measured
        .frames
        .iter()
        .filter(|frame| frame.residual_px > RESIDUAL_WARNS_PX);
    badly
        .map(|frame| {
            format!(
                "{} is registered to {:.2} px only: did the camera or the model move?",
                name(frame),
                frame.residual_px
            )
        })
        .collect()
}

/// Reads the used frames of a stack in the order of their content, so that the order they are given in does not matter.
fn see_frames(world: &World<'_>, stack: &Stack) -> Result<Vec<Seen>, EngineError> {
    let mut frames: Vec<Arc<Frame>> = stack
        .used()
        .filter_map(|id| world.project.frame(id).cloned())
        .collect();
    frames.sort_by_key(|frame| frame.content);
    let wanted = frames.first().and_then(|frame| frame.size);
    let count = frames.len();
    let mut seen = Vec::new();
    for (number, frame) in frames.into_iter().enumerate() {
        step(world, "reading the frames", number, count)?;
        if frame.size != wanted {
            let text = |size: Option<Size>| {
                size.map_or_else(String::new, |size| {
                    format!("{} x {}", size.width, size.height)
                })
            };
            return Err(EngineError::OtherSize {
                file: frame.file.clone(),
                found: text(frame.size),
                wanted: text(wanted),
            });
        }
        let planes = decoded(world, &frame)?;
        let luma = adapt::luma(&planes);
        seen.push(Seen {
            prepared: Prepared::new(&luma, Light::Same),
            blocks: BlockMeans::new(&planes),
            sharpness: inspect::sharpness(&luma),
            frame,
        });
    }
    Ok(seen)
}

fn in_order(seen: Vec<Seen>, places: &[usize]) -> Vec<Seen> {
    let mut slots: Vec<Option<Seen>> = seen.into_iter().map(Some).collect();
    places.iter().filter_map(|at| slots[*at].take()).collect()
}

/// Similarities to the reference from links between neighbours and next neighbours; the residual of each frame's own link.
fn register_stack(
    world: &World<'_>,
    seen: &[Seen],
    reference: usize,
) -> Result<(Vec<crate::geometry::Similarity>, Vec<f32>), EngineError> {
    let count = seen.len();
    let mut links = Vec::new();
    let mut residuals = vec![0.0_f32; count];
    for to in 1..count {
        step(world, "registering the frames", to, count)?;
        let found = link(&seen[to - 1], &seen[to], &Transform::IDENTITY).ok_or_else(|| {
            EngineError::NotRegistered {
                file: seen[to].frame.file.clone(),
                reference: seen[to - 1].frame.file.clone(),
            }
        })?;
        let outer = if to > reference { to } else { to - 1 };
        residuals[outer] = found.residual_px;
        links.push(Link {
            from: to - 1,
            to,
            from_to: found.similarity,
            weight: 1.0,
        });
        if to >= 2
            && let Some(before) = links
                .iter()
                .find(|link| link.to == to - 1 && link.from == to - 2)
        {
            let start = Transform::similarity(before.from_to, seen[to].prepared.middle())
                .after(&found.reference_from_moved);
            if let Some(skip) = link(&seen[to - 2], &seen[to], &start) {
                links.push(Link {
                    from: to - 2,
                    to,
                    from_to: skip.similarity,
                    weight: 0.25,
                });
            }
        }
    }
    Ok((register::solve_links(count, reference, &links), residuals))
}

fn link(reference: &Seen, moved: &Seen, start: &Transform) -> Option<Found> {
    register::similarity(&reference.prepared, &moved.prepared, start)
        .or_else(|| register::search(&reference.prepared, &moved.prepared))
}

fn gain(reference: &Seen, frame: &Seen, to_reference: &Transform) -> Result<[f32; 3], EngineError> {
    let frame_from_reference =
        to_reference
            .inverse()
            .ok_or_else(|| EngineError::NotRegistered {
                file: frame.frame.file.clone(),
                reference: reference.frame.file.clone(),
            })?;
    let matched = match_colour::gains(&reference.blocks, &frame.blocks, &frame_from_reference);
    // Too dark or too small to compare: the frame stays as it is. Gains are written to six digits.
    let gain = matched.map_or([1.0; 3], |matched| matched.gain_rgb);
    Ok(gain.map(|gain| (gain * 1e5).round() / 1e5))
}

/// The unlit frame focused most alike: by focus distance where both are known, else by place in the pass.
fn partner_of<'a>(
    project: &Project,
    unlit: &'a StackMeasured,
    lit: &Frame,
    (number, count): (usize, usize),
) -> &'a FrameMeasured {
    let by_place = if count > 1 {
        number * (unlit.frames.len() - 1) / (count - 1)
    } else {
        unlit.frames.len() / 2
    };
    let distance = |entry: &FrameMeasured| -> Option<f64> {
        let known = project.frame(entry.frame)?.camera.focus_distance_mm?;
        Some(
            (libm::log(known.max(1e-3)) - libm::log(lit.camera.focus_distance_mm?.max(1e-3))).abs(),
        )
    };
    let nearest = unlit
        .frames
        .iter()
        .filter_map(|entry| Some((entry, distance(entry)?)))
        .min_by(|(_, a), (_, b)| a.total_cmp(b))
        .map(|(entry, _distance)| entry);
    nearest.unwrap_or(&unlit.frames[by_place])
}

fn measure_lit(
    world: &World<'_>,
    (lit, role, key_light): (&Frame, PassRole, KeyLight),
    (partner, partner_frame): (&FrameMeasured, &Frame),
) -> Result<TakeFrame, EngineError> {
    if lit.size != partner_frame.size {
        let text = |size: Option<Size>| {
            size.map_or_else(String::new, |size| {
                format!("{} x {}", size.width, size.height)
            })
        };
        return Err(EngineError::OtherSize {
            file: lit.file.clone(),
            found: text(lit.size),
            wanted: text(partner_frame.size),
        });
    }
    let unlit_planes = decoded(world, partner_frame)?;
    let lit_planes = decoded(world, lit)?;
    let (unlit_luma, lit_luma) = (adapt::luma(&unlit_planes), adapt::luma(&lit_planes));
    let found = match role {
        PassRole::Light => register::similarity(
            &Prepared::new(&unlit_luma, Light::Other),
            &Prepared::new(&lit_luma, Light::Other),
            &Transform::IDENTITY,
        ),
        // Inside and outside change places in a silhouette, and a clean plate shows no model: the camera was locked off.
        PassRole::Silhouette | PassRole::CleanPlate => None,
    };
    let partner_from_lit = found
        .as_ref()
        .map_or(Transform::IDENTITY, |found| found.reference_from_moved);
    let exposure_gain = match role {
        PassRole::Light => exposure_gain(lit, partner_frame),
        PassRole::Silhouette | PassRole::CleanPlate => {
            1.0 / percentile(&lit_luma.data, 0.9).max(1e-3)
        }
    };
    let key_rgb = match (role, key_light) {
        (PassRole::Light, KeyLight::Off) | (PassRole::Silhouette | PassRole::CleanPlate, _) => {
            [0.0; 3]
        }
        (PassRole::Light, KeyLight::Auto | KeyLight::On | KeyLight::Dimmed) => measured_key(
            (&unlit_planes, &lit_planes),
            &partner_from_lit,
            exposure_gain,
        ),
    };
    Ok(TakeFrame {
        frame: lit.id,
        partner: partner.frame,
        to_reference: register::rounded(&partner.to_reference.after(&partner_from_lit)),
        exposure_gain: (exposure_gain * 1e5).round() / 1e5,
        key_rgb: key_rgb.map(|key| (key * 1e5).round() / 1e5),
        residual_px: found.map_or(0.0, |found| found.residual_px),
    })
}

fn measured_key(
    (unlit, lit): (&Planes, &Planes),
    unlit_from_lit: &Transform,
    exposure_gain: f32,
) -> [f32; 3] {
    let lit_from_unlit = unlit_from_lit.inverse().unwrap_or(Transform::IDENTITY);
    match_colour::key_light(
        &BlockMeans::new(unlit),
        &BlockMeans::new(lit),
        &lit_from_unlit,
        exposure_gain,
    )
}

/// The unlit frame's exposure over the lit one's, from what the camera wrote; 1 where it wrote nothing.
fn exposure_gain(lit: &Frame, unlit: &Frame) -> f32 {
    match (
        unlit.camera.relative_exposure(),
        lit.camera.relative_exposure(),
    ) {
        (Some(unlit), Some(lit)) => crate::pixels::convert::narrow(unlit / lit),
        _unknown => 1.0,
    }
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
    median(&residuals)
}
