//! Tiles for whoever looks at a picture: what they need is made ready first; then several threads may make tiles of it.

use crate::engine::patching::MaskChange;
use crate::engine::plate_tiles::{PlatePlan, Stage};
use crate::engine::scene_tiles::ScenePlan;
use crate::engine::{Engine, EngineError, World};
use crate::geometry::{Size, TileIndex};
use crate::pixels::Image;
use crate::project::Fingerprint;
use std::sync::Arc;

/// A picture that is looked at.
#[derive(Debug, Clone)]
pub enum Seen {
    /// The finished scene.
    Scene(Arc<ScenePlan>),
    /// A plate at a stage.
    Plate(Arc<PlatePlan>, Stage),
}

impl Seen {
    /// Width and height at full size.
    #[must_use]
    pub fn size(&self) -> Size {
        match self {
            Self::Scene(plan) => plan.size(),
            Self::Plate(plan, _) => plan.size,
        }
    }
}

impl Engine {
    /// The fingerprint of one tile.
    #[must_use]
    pub fn seen_stamp(&self, seen: &Seen, level: u32, index: TileIndex) -> Fingerprint {
        match seen {
            Seen::Scene(plan) => self.scene_tile_stamp(plan, level, index),
            Seen::Plate(plan, stage) => self.plate_tile_stamp(plan, *stage, level, index),
        }
    }

    /// Makes ready what tiles and patches at `level` are made from, but for whole pictures that only a job makes. Not for jobs of the
    /// thread pool: whole pictures may be waited for.
    ///
    /// # Errors
    /// When a source cannot be read, or the work was stopped.
    pub fn prepare_seen(
        &self,
        world: &World<'_>,
        seen: &Seen,
        level: u32,
    ) -> Result<(), EngineError> {
        match seen {
            Seen::Scene(plan) => self.prepare_scene_glare(world, plan, level),
            Seen::Plate(plan, _) => self.prepare_glare(world, plan, level),
        }
    }

    /// After [`Self::prepare_seen`]: makes what several of `tiles` share once, so that threads do not make it twice.
    ///
    /// # Errors
    /// As [`Self::prepare_seen`].
    pub fn prepare_shared(
        &self,
        world: &World<'_>,
        seen: &Seen,
        (level, tiles): (u32, &[TileIndex]),
    ) -> Result<(), EngineError> {
        match seen {
            Seen::Scene(plan) => self.render_plate_tiles(world, plan, level, tiles),
            Seen::Plate(..) => Ok(()),
        }
    }

    /// One tile, after [`Self::prepare_seen`].
    ///
    /// # Errors
    /// When the work was stopped or tiles are not kept any more.
    pub fn seen_tile(
        &self,
        world: &World<'_>,
        seen: &Seen,
        (level, index): (u32, TileIndex),
    ) -> Result<Arc<Image>, EngineError> {
        match seen {
            Seen::Scene(plan) => self.prepared_scene_tile(world, plan, level, index),
            Seen::Plate(plan, stage) => self.prepared_tile(world, plan, *stage, level, index),
        }
    }

    /// The part of one tile that `change` touches, after [`Self::prepare_seen`]; `None` where only the whole tile can be made.
    ///
    /// # Errors
    /// As [`Self::seen_tile`].
    pub fn seen_patch(
        &self,
        world: &World<'_>,
        seen: &Seen,
        (at, change): ((u32, TileIndex), &MaskChange),
    ) -> Result<Option<Image>, EngineError> {
        match seen {
            Seen::Scene(plan) => self.patch_scene(world, plan, at, change),
            Seen::Plate(plan, stage) => self.patch_plate(world, (plan, *stage), at, change),
        }
    }
}
