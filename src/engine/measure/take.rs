//! The frames of a pass: partners in focus, registration, the key light in them.

use super::{SATURATION, STILL, size_text, step, take_stamp};
use crate::engine::frames::decoded;
use crate::engine::{Engine, EngineError, World, adapt};
use crate::geometry::{Similarity, Size, Transform};
use crate::imaging::basics::statistics::percentile;
use crate::imaging::match_colour::{self, BlockMeans};
use crate::imaging::matte;
use crate::imaging::register::{self, Flexed, Found, Left, Light, Prepared};
use crate::pixels::{Plane, Planes};
use crate::project::{
    Frame, FrameId, FrameMeasured, KeyLight, LeftOver, PassId, PassRole, PlateId, Project,
    StackMeasured, TakeFrame, TakeMeasured, VariantId,
};
use std::sync::Arc;

/// Exposures that differ by less than this share are the same.
const SAME_EXPOSURE: f64 = 0.1;
/// A measured exposure within this factor of the written one means that the key light burned on: a fifth of a stop.
const WRITTEN_WITHIN: f32 = 1.15;

impl Engine {
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
            let place = place_of(project, &take.frames, lit);
            let partner = partner_of(project, unlit, lit, place);
            let partner_frame = project.frame(partner.frame).ok_or_else(not_prepared)?;
            frames.push(measure_lit(
                world,
                (lit, pass.role, pass.key_light),
                (partner, partner_frame),
            )?);
        }
        Ok(TakeMeasured {
            inputs: take_stamp(project, plate_of, variant, take),
            frames,
        })
    }
}

/// Which frame of its exposure `lit` is in a pass, and how many there are of that exposure: brackets are shot at every focus anew.
fn place_of(project: &Project, frames: &[FrameId], lit: &Frame) -> (usize, usize) {
    let exposure = |frame: &Frame| frame.camera.relative_exposure();
    let like = |id: &&FrameId| {
        let other = project.frame(**id).and_then(|frame| exposure(frame));
        match (other, exposure(lit)) {
            (Some(a), Some(b)) => (a / b - 1.0).abs() < SAME_EXPOSURE,
            (None, None) => true,
            _one_known => false,
        }
    };
    let alike: Vec<&FrameId> = frames.iter().filter(like).collect();
    let place = alike.iter().position(|id| **id == lit.id).unwrap_or(0);
    (place, alike.len())
}

/// Focus distances this near to one another, as a share, are one. A thin lens changes the size by the part f / (u - f) of that share
/// (f its focal length, u the distance): half of it where the model is shown at half its size.
const ONE_FOCUS: f64 = 5e-4;

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
        return Err(EngineError::OtherSize {
            file: lit.file.clone(),
            found: size_text(lit.size),
            wanted: size_text(partner_frame.size),
        });
    }
    let unlit_planes = decoded(world, partner_frame)?;
    let lit_planes = decoded(world, lit)?;
    let (unlit_luma, lit_luma) = (adapt::luma(&unlit_planes), adapt::luma(&lit_planes));
    let found = match role {
        PassRole::Light | PassRole::Backdrop => {
            let fit = if one_focus(lit, partner_frame) {
                register::rigid
            } else {
                register::similarity
            };
            located((&unlit_luma, &lit_luma), fit)
        }
        // Inside and outside change places in a silhouette, and a clean plate shows no model: the camera was locked off.
        PassRole::Silhouette | PassRole::CleanPlate | PassRole::BackdropCleanPlate => None,
    };
    let (found, flexed) = found.unzip();
    let flexed = flexed.unwrap_or_default();
    let partner_from_lit = found
        .as_ref()
        .map_or(Transform::IDENTITY, |found| found.reference_from_moved);
    let written = match role {
        PassRole::Light | PassRole::Backdrop | PassRole::BackdropCleanPlate => {
            exposure_gain(lit, partner_frame).unwrap_or(1.0)
        }
        PassRole::Silhouette => 1.0 / percentile(&lit_luma.data, 0.9).unwrap_or(1.0).max(1e-3),
        // The light of the set may have changed a little since: the border says by how much.
        PassRole::CleanPlate => matte::gain_on_border(&unlit_luma, &lit_luma),
    };
    let (exposure_gain, key_rgb) = match (role, key_light) {
        (PassRole::Light, KeyLight::Off)
        | (
            PassRole::Silhouette
            | PassRole::CleanPlate
            | PassRole::Backdrop
            | PassRole::BackdropCleanPlate,
            _,
        ) => (written, [0.0; 3]),
        (PassRole::Light, KeyLight::Auto | KeyLight::On | KeyLight::Dimmed) => {
            let share = measured_key((&unlit_planes, &lit_planes), &partner_from_lit);
            let known = exposure_gain(lit, partner_frame).is_some();
            exposure_and_key(share, (written, known), key_light)
        }
    };
    Ok(TakeFrame {
        frame: lit.id,
        partner: partner.frame,
        to_reference: register::rounded(partner.to_reference.after(&partner_from_lit)),
        exposure_gain: (exposure_gain * 1e5).round() / 1e5,
        key_rgb: key_rgb.map(|key| (key * 1e5).round() / 1e5),
        residual_px: found.map_or(0.0, |found| found.residual_px),
        flexed: flexed.mesh.map(Arc::new),
        left: left_over(&flexed.left),
    })
}

/// Where the lit frame lies on the unlit one, as far as `fit` goes, and how the model moved in itself.
fn located(
    (unlit, lit): (&Plane, &Plane),
    fit: impl Fn(&Prepared, &Prepared, Similarity) -> Option<Found>,
) -> Option<(Found, Flexed)> {
    let prepared = |luma| Prepared::new(luma, Light::Other, SATURATION);
    let (unlit, lit) = (prepared(unlit), prepared(lit));
    let found = fit(&unlit, &lit, STILL)?;
    let flexed = register::flexed(&unlit, &lit, &found, TakeFrame::FARTHEST_BENT_PX);
    Some((found, flexed))
}

fn left_over(left: &[Left]) -> Vec<LeftOver> {
    let one = |left: &Left| LeftOver {
        at: left.at,
        by: left.shift,
    };
    left.iter().map(one).collect()
}

/// Whether both frames are focused at one distance, so that the model is of one size in both.
fn one_focus(lit: &Frame, unlit: &Frame) -> bool {
    let both = lit
        .camera
        .focus_distance_mm
        .zip(unlit.camera.focus_distance_mm);
    both.is_some_and(|(lit, unlit)| (lit / unlit - 1.0).abs() < ONE_FOCUS)
}

/// The lit frame's exposure and the key light left in it, from the lit light over the unlit light where no lamp reaches.
///
/// Where the key burned on, that ratio is the exposure, measured better than the camera writes it (marked times and openings are off
/// by up to a fifth of a stop). It is taken as on when people say so, when the camera wrote nothing, or when the two agree.
fn exposure_and_key(
    share: [f32; 3],
    (written, known): (f32, bool),
    key_light: KeyLight,
) -> (f32, [f32; 3]) {
    let mean = (share[0] + share[1] + share[2]) / 3.0;
    if mean <= 0.0 {
        return (written, [0.0; 3]);
    }
    let measured = 1.0 / mean;
    let agrees = (measured / written).max(written / measured) < WRITTEN_WITHIN;
    let on = match key_light {
        KeyLight::On => true,
        KeyLight::Auto => agrees || !known,
        KeyLight::Dimmed | KeyLight::Off => false,
    };
    let gain = if on { measured } else { written };
    (gain, share.map(|share| share * gain))
}

/// Lit light over unlit light, per channel, where no lamp reaches; 0 with the key light off.
fn measured_key((unlit, lit): (&Planes, &Planes), unlit_from_lit: &Transform) -> [f32; 3] {
    let rect = unlit.rect();
    let side = |length: usize| u32::try_from(length).unwrap_or(0);
    let size = Size::new(side(rect.width()), side(rect.height()));
    let before = BlockMeans::new(unlit, &Transform::IDENTITY, size, SATURATION);
    let after = BlockMeans::new(lit, unlit_from_lit, size, SATURATION);
    match_colour::key_light(&before, &after, 0.0).gain_rgb
}

/// The unlit frame's exposure over the lit one's, from what the camera wrote; `None` where it wrote nothing.
fn exposure_gain(lit: &Frame, unlit: &Frame) -> Option<f32> {
    let unlit = unlit.camera.relative_exposure()?;
    let lit = lit.camera.relative_exposure()?;
    Some(crate::pixels::convert::narrow(unlit / lit))
}
