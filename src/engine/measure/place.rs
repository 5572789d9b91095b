//! Where a later source of a plate lies on it, and how its light compares.

use super::{SATURATION, place_stamp, step, undo};
use crate::engine::frames::decoded;
use crate::engine::{Engine, EngineError, World, adapt, wholes};
use crate::geometry::Transform;
use crate::imaging::basics::colour;
use crate::imaging::basics::resample::{self, Kernel};
use crate::imaging::carry::{self, Comparable};
use crate::imaging::match_colour::{self, BlockMeans};
use crate::imaging::register::{self, Light, Prepared};
use crate::pixels::convert::count_f32;
use crate::project::{Develop, Edit, Lies, PlateEdit, PlateId, Stack, Variant, VariantId};
use std::sync::Arc;

/// Registration of the reference frames to this many px needs no mesh.
const FITS_PX: f32 = 0.3;

/// Two sources of a plate, both on the plate's pixels.
#[derive(Debug)]
pub(super) struct SideBySide {
    /// The plate's first source.
    pub(super) old: Comparable,
    /// The other one.
    pub(super) new: Comparable,
}

impl Engine {
    /// Finds where a later source lies on its plate: by the reference frames of both as a perspective, then, where that is not
    /// enough, by a mesh from the fused pictures of both.
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
        let inputs = place_stamp(project, plate_of, variant);
        if new.content.is_some() && new.content == first.content {
            // The same photograph lies on itself, to the last bit.
            return Ok(Lies {
                inputs,
                plate_from_variant: Transform::IDENTITY,
                mesh: None,
                residual_px: 0.0,
            });
        }
        step(world, "registering the new source to the plate", 0, 1)?;
        let old_planes = decoded(world, &first)?;
        let new_planes = decoded(world, &new)?;
        let old_size = old_planes.rect();
        let scale = count_f32(old_size.width()) / count_f32(new_planes.rect().width().max(1));
        let to_same_size = Transform::scaling(f64::from(scale), f64::from(scale));
        let back = Transform::scaling(1.0 / f64::from(scale), 1.0 / f64::from(scale));
        let same = resample::sample_planes(&new_planes, old_size, &back, Kernel::Cubic);
        let reference = Prepared::new(&adapt::luma(&old_planes), Light::Same, SATURATION);
        let moved = Prepared::new(&adapt::luma(&same.0), Light::Same, SATURATION);
        let found = register::perspective(&reference, &moved, Transform::IDENTITY);
        let found = found.ok_or_else(|| EngineError::NotRegistered {
            file: new.file.clone(),
            reference: first.file.clone(),
        })?;
        let upright = Lies {
            inputs,
            plate_from_variant: register::rounded(found.reference_from_moved.after(&to_same_size)),
            mesh: None,
            residual_px: found.residual_px,
        };
        self.with_mesh(world, plate, variant.id, upright)
    }

    /// Adds a mesh where the perspective leaves parts of the model in other places than the plate has them.
    fn with_mesh(
        &self,
        world: &World<'_>,
        plate: PlateId,
        variant: VariantId,
        upright: Lies,
    ) -> Result<Lies, EngineError> {
        if upright.residual_px < FITS_PX {
            return Ok(upright);
        }
        let compared = self.side_by_side(world, plate, (variant, &upright))?;
        let Some(found) = carry::mesh(&compared.old, &compared.new) else {
            return Ok(upright);
        };
        let bent = Lies {
            mesh: Some(Arc::new(found.mesh)),
            ..upright.clone()
        };
        let after = self.side_by_side(world, plate, (variant, &bent))?;
        let residual_px = carry::residual_px(&after.old, &after.new);
        let before = carry::residual_px(&compared.old, &compared.new);
        Ok(if residual_px < before {
            Lies {
                residual_px,
                ..bent
            }
        } else {
            upright
        })
    }

    /// The fused pictures of a plate's first source and of another one lying as `lies` says, for comparing.
    pub(super) fn side_by_side(
        &self,
        world: &World<'_>,
        plate: PlateId,
        (variant, lies): (VariantId, &Lies),
    ) -> Result<SideBySide, EngineError> {
        let not_prepared = || EngineError::NotPrepared(plate);
        let laid = world
            .project
            .edited(&Edit::Plate(
                plate,
                PlateEdit::RecordPlace(variant, lies.clone()),
            ))
            .map_err(|_gone| not_prepared())?;
        let world = World {
            project: Arc::new(laid),
            ..world.clone()
        };
        let plate = world.project.plate(plate).ok_or_else(not_prepared)?;
        let comparable = |variant: Option<&Arc<Variant>>| {
            let plan = wholes::guided(&world.project, plate, variant.ok_or_else(not_prepared)?)?;
            let picture = self.whole_picture(&world, &plan)?;
            Ok::<_, EngineError>(Comparable::new(&adapt::luma(&adapt::planes_of(&picture))))
        };
        Ok(SideBySide {
            old: comparable(plate.variants.first())?,
            new: comparable(plate.variant_by_id(variant))?,
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
        let size = old.size.ok_or_else(not_prepared)?;
        let before = BlockMeans::new(
            &decoded(world, old)?,
            &Transform::IDENTITY,
            size,
            SATURATION,
        );
        let after = BlockMeans::new(
            &decoded(world, new)?,
            &variant.plate_from_variant(),
            size,
            SATURATION,
        );
        let (gain_rgb, _offset) = undo(&match_colour::gains(&before, &after));
        let stops = libm::log2f(colour::luma(gain_rgb).max(1e-3));
        let exposure_stops = (stacks.0.develop.exposure_stops + stops).clamp(-10.0, 10.0);
        // Written to a hundredth of a stop: what is recorded is what is used.
        Ok(Develop {
            exposure_stops: (exposure_stops * 100.0).round() / 100.0,
            ..stacks.0.develop
        })
    }
}
