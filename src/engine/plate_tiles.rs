//! Tiles of plates: the fused (or made) picture, then practical groups, then steps, one after the other.
//!
//! Each of these is *Local*. A group or step whose mask does not reach a tile hands the tile before it through, with the same
//! fingerprint, so a stroke renews only the tiles it reaches.
//!
//! Every level of a plate is computed in its own right: masks are drawn and light is laid over at that level's size.

use crate::engine::operations::Operation;
use crate::engine::patching::MaskChange;
use crate::engine::sky::Sky;
use crate::engine::stamp::Stamp;
use crate::engine::warping::WarpPlan;
use crate::engine::wholes::{self, Product, WholePlan};
use crate::engine::{Counts, Engine, EngineError, World};
use crate::geometry::{Rect, Size, TileIndex};
use crate::pixels::Image;
use crate::project::{Fingerprint, Plate, Project, Source};
use std::sync::Arc;

/// How far along its making a plate is shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Stage {
    /// Fused (or made), nothing else.
    Fused,
    /// With its practicals laid over.
    Lit,
    /// With its places filled: what spotting and paint-out do before anything else.
    Healed,
    /// With everything, on its reference pixels.
    Done,
    /// And moved by its warps.
    Warped,
}

/// Everything needed to compute tiles of one plate.
#[derive(Debug, Clone)]
pub struct PlatePlan {
    /// The plate.
    pub plate: Arc<Plate>,
    /// Its size in reference pixels.
    pub size: Size,
    base: Base,
    operations: Vec<Operation>,
    lit_after: usize,
    healed_after: usize,
    pub(super) warp: Option<WarpPlan>,
}

#[derive(Debug, Clone)]
enum Base {
    Whole(WholePlan),
    Made(Box<Sky>, Fingerprint),
}

impl PlatePlan {
    /// Plans the plate as the project has it now.
    ///
    /// # Errors
    /// When its recipe cannot be followed.
    pub fn new(project: &Project, plate: &Arc<Plate>) -> Result<Self, EngineError> {
        let (size, base) = plan_base(project, plate)?;
        let mut operations = Vec::new();
        for group in plate.groups.iter().filter(|group| group.on) {
            operations.push(Operation::of_group(project, plate, group)?);
        }
        let lit_after = operations.len();
        for step in plate.steps.iter().filter(|step| step.on) {
            operations.extend(Operation::of_step(project, plate, step)?);
        }
        let heals = |operation: &&Operation| matches!(operation, Operation::Heal(_));
        let healed_after = lit_after + operations[lit_after..].iter().take_while(heals).count();
        Ok(Self {
            plate: Arc::clone(plate),
            size,
            base,
            operations,
            lit_after,
            healed_after,
            warp: WarpPlan::new(plate),
        })
    }

    /// The whole pictures its tiles are made from, in the order they must be computed.
    pub fn wholes(&self) -> impl Iterator<Item = &WholePlan> {
        let base = match &self.base {
            Base::Whole(whole) => Some(whole),
            Base::Made(..) => None,
        };
        base.into_iter()
            .chain(self.operations.iter().flat_map(Operation::wholes))
    }

    /// Whether a change of masks shows elsewhere than where they changed.
    pub(super) fn acts_beyond(&self, change: &MaskChange) -> bool {
        self.warp.is_some()
            || self
                .operations
                .iter()
                .any(|operation| operation.spreads(&change.masks))
    }

    /// How many of its first `count` operations come before the first that acts through what changed.
    pub(super) fn unchanged_by(&self, change: &MaskChange, count: usize) -> usize {
        let operations = self.operations.iter().take(count);
        operations
            .take_while(|operation| !operation.acts_through(&change.masks))
            .count()
    }

    /// The light with glare that its tiles at `level` are made from. Places filled by hand are filled at full size.
    fn glares_at(&self, level: u32) -> Vec<WholePlan> {
        let heals = |operation: &Operation| matches!(operation, Operation::Heal(_));
        let full = (level > 0 && self.operations.iter().any(heals)).then_some(0);
        let levels = std::iter::once(level).chain(full);
        levels
            .flat_map(|level| {
                let glares = self.operations.iter();
                glares.filter_map(move |operation| operation.glare_at(level))
            })
            .collect()
    }

    /// The fused stack under everything; `None` for made plates and those of a single frame.
    pub(super) fn stack_whole(&self) -> Option<&WholePlan> {
        match &self.base {
            Base::Whole(whole) if whole.frame_count() > 1 => Some(whole),
            Base::Whole(_) | Base::Made(..) => None,
        }
    }

    /// Number of recorded steps: what it is made of (each stack or pass, or the recipe), then each operation.
    #[must_use]
    pub fn step_count(&self) -> usize {
        let made = usize::from(matches!(self.base, Base::Made(..)));
        self.wholes().count() + self.operations.len() + made
    }

    /// How many of these steps computed anything between two counts.
    #[must_use]
    pub fn steps_run(&self, before: &Counts, after: &Counts) -> usize {
        let more = |now: Option<&usize>, then: Option<&usize>| {
            now.copied().unwrap_or(0) > then.copied().unwrap_or(0)
        };
        let wholes = self.wholes().filter(|whole| {
            more(
                after.wholes_run_of.get(&whole.stamp),
                before.wholes_run_of.get(&whole.stamp),
            )
        });
        let operations = (0..=self.operations.len()).filter(|number| {
            let key = (self.plate.id, *number);
            more(after.tiles_run_of.get(&key), before.tiles_run_of.get(&key))
        });
        wholes.count() + operations.count()
    }

    /// Operation number `count`, counted from 0.
    pub(super) fn operation(&self, count: usize) -> &Operation {
        &self.operations[count]
    }

    pub(super) fn operations_until(&self, stage: Stage) -> usize {
        match stage {
            Stage::Fused => 0,
            Stage::Lit => self.lit_after,
            Stage::Healed => self.healed_after,
            Stage::Done | Stage::Warped => self.operations.len(),
        }
    }

    /// The fingerprint of a tile after the first `count` operations.
    pub(super) fn stamp(&self, count: usize, place: &Place) -> Fingerprint {
        let Some(last) = count.checked_sub(1) else {
            return match &self.base {
                Base::Whole(whole) => whole.tile_stamp(Product::Picture, place.level, place.index),
                Base::Made(_, stamp) => {
                    place.add_to(Stamp::new("made tile 1").input(*stamp)).done()
                }
            };
        };
        let before = self.stamp(last, place);
        self.operations[last].stamp(before, (self, last), place)
    }
}

fn plan_base(project: &Project, plate: &Arc<Plate>) -> Result<(Size, Base), EngineError> {
    let variant = plate.variant().ok_or(EngineError::NotPrepared(plate.id))?;
    match &variant.source {
        Source::Made(recipe) => {
            let stamp = Stamp::new("made 1").parameters(recipe).done();
            Ok((recipe.size, Base::Made(Box::new(Sky::new(recipe)), stamp)))
        }
        Source::Stack(_) => {
            let size = plate.size.ok_or(EngineError::NotPrepared(plate.id))?;
            Ok((size, Base::Whole(wholes::guided(project, plate, variant)?)))
        }
    }
}

/// A tile: which level, which one, and its pixels at that level.
#[derive(Debug, Clone, Copy)]
pub(super) struct Place {
    pub(super) level: u32,
    pub(super) index: TileIndex,
    pub(super) rect: Rect,
    pub(super) side: u32,
}

impl Place {
    pub(super) fn add_to(&self, stamp: Stamp) -> Stamp {
        stamp
            .number(u64::from(self.level))
            .number(u64::from(self.side))
            .number(u64::from(self.index.x))
            .number(u64::from(self.index.y))
    }
}

impl Engine {
    /// One tile of a plate at `stage`. Its whole pictures must have been computed ([`Engine::prepare_plate`]), but for glare.
    ///
    /// # Errors
    /// When a whole picture's tiles are not kept any more.
    pub fn plate_tile(
        &self,
        world: &World<'_>,
        plan: &PlatePlan,
        stage: Stage,
        level: u32,
        index: TileIndex,
    ) -> Result<Arc<Image>, EngineError> {
        self.prepare_glare(world, plan, level)?;
        self.prepared_tile(world, plan, stage, level, index)
    }

    /// One tile of a plate at `stage`, all that it needs being there.
    pub(super) fn prepared_tile(
        &self,
        world: &World<'_>,
        plan: &PlatePlan,
        stage: Stage,
        level: u32,
        index: TileIndex,
    ) -> Result<Arc<Image>, EngineError> {
        let place = self.place(plan, level, index);
        match (stage, &plan.warp) {
            (Stage::Warped, Some(warp)) => self.warped_tile(world, (plan, warp), &place),
            _unmoved => self.tile_after(world, plan, plan.operations_until(stage), &place),
        }
    }

    /// The fingerprint of one tile of a plate at `stage`.
    #[must_use]
    pub fn plate_tile_stamp(
        &self,
        plan: &PlatePlan,
        stage: Stage,
        level: u32,
        index: TileIndex,
    ) -> Fingerprint {
        let place = self.place(plan, level, index);
        match (stage, &plan.warp) {
            (Stage::Warped, Some(warp)) => self.warped_stamp((plan, warp), &place),
            _unmoved => plan.stamp(plan.operations_until(stage), &place),
        }
    }

    /// A tile of a plate by its number.
    pub(super) fn place(&self, plan: &PlatePlan, level: u32, index: TileIndex) -> Place {
        Place {
            level,
            index,
            rect: self.grid(plan.size, level).rect(index),
            side: self.tile_side(),
        }
    }

    /// All of a plate at full size.
    ///
    /// # Errors
    /// When a source cannot be read, or the work was stopped.
    pub fn plate_picture(
        &self,
        world: &World<'_>,
        plan: &PlatePlan,
        stage: Stage,
    ) -> Result<Image, EngineError> {
        self.with_wholes(
            || {
                self.prepare_plate(world, plan)?;
                self.prepare_glare(world, plan, 0)
            },
            || {
                let mut out = Image::empty(plan.size.rect());
                for index in self.grid(plan.size, 0).tiles() {
                    out.paste(&*self.prepared_tile(world, plan, stage, 0, index)?);
                }
                Ok(out)
            },
        )
    }

    /// Computes the whole pictures a plate needs, unless they are there already.
    ///
    /// # Errors
    /// When a source cannot be read, or the work was stopped.
    pub fn prepare_plate(&self, world: &World<'_>, plan: &PlatePlan) -> Result<(), EngineError> {
        plan.wholes()
            .try_for_each(|whole| self.ensure_whole(world, whole))
    }

    /// Computes the light with glare that a plate's tiles at `level` are made from, unless it is there already.
    pub(super) fn prepare_glare(
        &self,
        world: &World<'_>,
        plan: &PlatePlan,
        level: u32,
    ) -> Result<(), EngineError> {
        plan.glares_at(level)
            .iter()
            .filter(|glare| !self.has_whole(world.scratch, glare))
            .try_for_each(|glare| self.ensure_whole(world, glare))
    }

    /// A tile of a plate after its first `count` operations, if it is kept.
    pub(super) fn kept_tile(
        &self,
        plan: &PlatePlan,
        count: usize,
        place: &Place,
    ) -> Option<Arc<Image>> {
        self.store.get(plan.stamp(count, place))
    }

    pub(super) fn tile_after(
        &self,
        world: &World<'_>,
        plan: &PlatePlan,
        count: usize,
        place: &Place,
    ) -> Result<Arc<Image>, EngineError> {
        let stamp = plan.stamp(count, place);
        if let Some(tile) = self.store.get(stamp) {
            self.store.count(|counts| counts.plate_tiles_reused += 1);
            return Ok(tile);
        }
        let Some(last) = count.checked_sub(1) else {
            return self.base_tile(world, plan, place, stamp);
        };
        if plan.stamp(last, place) == stamp {
            return self.tile_after(world, plan, last, place);
        }
        let before = self.tile_after(world, plan, last, place)?;
        let tile = Arc::new(self.operate(world, (plan, last), (before, place))?);
        self.count_run(plan, count);
        self.store.put(stamp, Arc::clone(&tile));
        Ok(tile)
    }

    pub(super) fn count_run(&self, plan: &PlatePlan, operation: usize) {
        self.store.count(|counts| {
            counts.plate_tiles_run += 1;
            *counts
                .tiles_run_of
                .entry((plan.plate.id, operation))
                .or_default() += 1;
        });
    }

    fn base_tile(
        &self,
        world: &World<'_>,
        plan: &PlatePlan,
        place: &Place,
        stamp: Fingerprint,
    ) -> Result<Arc<Image>, EngineError> {
        match &plan.base {
            Base::Whole(whole) => {
                self.whole_tile(world, whole, Product::Picture, (place.level, place.index))
            }
            Base::Made(recipe, _) => {
                let tile = Arc::new(recipe.render(place.rect, place.level));
                self.count_run(plan, 0);
                self.store.put(stamp, Arc::clone(&tile));
                Ok(tile)
            }
        }
    }
}
