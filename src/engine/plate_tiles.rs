//! Tiles of plates: the fused (or made) picture, then practical groups, then steps, one after the other.
//!
//! Each of these is *Local*. A group or step whose mask does not reach a tile hands the tile before it through, with the same
//! fingerprint, so a stroke renews only the tiles it reaches.
//!
//! Every level of a plate is computed in its own right: masks are drawn and light is laid over at that level's size.

use crate::engine::adapt;
use crate::engine::masks::{self, MaskHere, MaskPlan};
use crate::engine::sky::Sky;
use crate::engine::stamp::Stamp;
use crate::engine::wholes::{self, Product, WholePlan};
use crate::engine::{Counts, Engine, EngineError, World};
use crate::geometry::{Rect, Size, TileIndex};
use crate::imaging::lights::lay::{LaidOver, lay_over};
use crate::imaging::matte;
use crate::pixels::{Image, Plane};
use crate::project::{
    Fingerprint, Grade, Matte, MatteMethod, Plate, PracticalGroup, Project, Source, StepKind,
};
use std::sync::Arc;

/// How far along its making a plate is shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Stage {
    /// Fused (or made), nothing else.
    Fused,
    /// With its practicals laid over.
    Lit,
    /// With everything.
    Done,
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
}

#[derive(Debug, Clone)]
enum Base {
    Whole(WholePlan),
    Made(Box<Sky>, Fingerprint),
}

#[derive(Debug, Clone)]
enum Operation {
    Group(GroupPlan),
    Matte {
        matte: Matte,
        silhouette: Option<WholePlan>,
        mask: Option<Arc<MaskPlan>>,
    },
    Grade {
        grade: Grade,
        mask: Option<Arc<MaskPlan>>,
    },
}

/// A practical group and the light it has.
#[derive(Debug, Clone)]
struct GroupPlan {
    group: PracticalGroup,
    light: WholePlan,
    laid: LaidOver,
    mask: Option<Arc<MaskPlan>>,
}

impl GroupPlan {
    fn new(project: &Project, plate: &Plate, group: &PracticalGroup) -> Result<Self, EngineError> {
        let plain = wholes::light(project, plate, group.pass)?;
        let laid = adapt::laid_over(group, plain.key_rgb());
        Ok(Self {
            group: group.clone(),
            light: wholes::quiet(plain, group.denoise),
            laid,
            mask: MaskPlan::new(project, plate, group.mask, group.outside_share)?,
        })
    }

    /// The light as it is laid over at `level`: with the lens's glare where there is any.
    fn light_at(&self, level: u32) -> (WholePlan, u32) {
        match adapt::glare(&self.group, level) {
            None => (self.light.clone(), level),
            Some(glare) => {
                let glared = wholes::glared(self.light.clone(), (glare, level), self.mask.as_ref());
                (glared, 0)
            }
        }
    }

    /// What the mask does to a tile. Glare spreads over all of it.
    fn here(&self, place: &Place) -> MaskHere<'_> {
        if self.laid.light_is_masked {
            MaskHere::Everywhere
        } else {
            masks::mask_here(self.mask.as_deref(), place.rect, place.level)
        }
    }

    fn stamp(&self, before: Fingerprint, place: &Place) -> Fingerprint {
        let here = self.here(place);
        if matches!(here, MaskHere::Nothing) {
            return before;
        }
        let laid = &self.laid;
        here.add_to(
            Stamp::new("group 2")
                .input(before)
                .input(self.light_at(place.level).0.stamp)
                .parameters(&(
                    laid.stops,
                    laid.tint_rgb,
                    laid.covering_key_rgb,
                    laid.keep_colour,
                )),
        )
        .done()
    }
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
            operations.push(Operation::Group(GroupPlan::new(project, plate, group)?));
        }
        let lit_after = operations.len();
        for step in plate.steps.iter().filter(|step| step.on) {
            let mask = MaskPlan::new(project, plate, step.mask, 0.0)?;
            operations.push(match &step.kind {
                StepKind::Matte(matte) => {
                    let silhouette = match matte.method {
                        MatteMethod::Drawn => None,
                        MatteMethod::Silhouette { pass, .. } => {
                            Some(wholes::silhouette(project, plate, pass)?)
                        }
                    };
                    Operation::Matte {
                        matte: matte.clone(),
                        silhouette,
                        mask,
                    }
                }
                StepKind::Grade(grade) => Operation::Grade {
                    grade: *grade,
                    mask,
                },
            });
        }
        Ok(Self {
            plate: Arc::clone(plate),
            size,
            base,
            operations,
            lit_after,
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

    fn operations_until(&self, stage: Stage) -> usize {
        match stage {
            Stage::Fused => 0,
            Stage::Lit => self.lit_after,
            Stage::Done => self.operations.len(),
        }
    }

    /// The fingerprint of a tile after the first `count` operations.
    fn stamp(&self, count: usize, place: &Place) -> Fingerprint {
        let Some(last) = count.checked_sub(1) else {
            return match &self.base {
                Base::Whole(whole) => whole.tile_stamp(Product::Picture, place.level, place.index),
                Base::Made(_, stamp) => {
                    place.add_to(Stamp::new("made tile 1").input(*stamp)).done()
                }
            };
        };
        let before = self.stamp(last, place);
        self.operations[last].stamp(before, place)
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
struct Place {
    level: u32,
    index: TileIndex,
    rect: Rect,
    side: u32,
}

impl Place {
    fn add_to(&self, stamp: Stamp) -> Stamp {
        stamp
            .number(u64::from(self.level))
            .number(u64::from(self.side))
            .number(u64::from(self.index.x))
            .number(u64::from(self.index.y))
    }
}

impl Operation {
    /// The whole pictures it needs, in the order they must be computed. Glare is made when a level of it is wanted.
    fn wholes(&self) -> Vec<&WholePlan> {
        let (mask, own) = match self {
            Self::Group(group) => (&group.mask, Some(&group.light)),
            Self::Matte {
                silhouette, mask, ..
            } => (mask, silhouette.as_ref()),
            Self::Grade { mask, .. } => (mask, None),
        };
        let looks = mask.iter().flat_map(|mask| mask.wholes());
        looks.chain(own).collect()
    }

    /// The fingerprint after this operation; `before` itself where it does nothing to this tile.
    fn stamp(&self, before: Fingerprint, place: &Place) -> Fingerprint {
        match self {
            Self::Group(group) => group.stamp(before, place),
            Self::Matte {
                matte,
                silhouette,
                mask,
            } => {
                let stamp = Stamp::new("matte 1").input(before).parameters(matte);
                let stamp = silhouette
                    .iter()
                    .fold(stamp, |stamp, whole| stamp.input(whole.stamp));
                masks::mask_here(mask.as_deref(), place.rect, place.level)
                    .add_to(stamp)
                    .done()
            }
            Self::Grade { grade, mask } => {
                match masks::mask_here(mask.as_deref(), place.rect, place.level) {
                    MaskHere::Nothing => before,
                    here @ (MaskHere::Everywhere | MaskHere::Some(..)) => here
                        .add_to(Stamp::new("grade 1").input(before).parameters(grade))
                        .done(),
                }
            }
        }
    }
}

impl Engine {
    /// One tile of a plate at `stage`. Its whole pictures must have been computed ([`Engine::prepare_plate`]).
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
        let rect = self.grid(plan.size, level).rect(index);
        let place = Place {
            level,
            index,
            rect,
            side: self.tile_side(),
        };
        self.tile_after(world, plan, plan.operations_until(stage), &place)
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
        let rect = self.grid(plan.size, level).rect(index);
        let place = Place {
            level,
            index,
            rect,
            side: self.tile_side(),
        };
        plan.stamp(plan.operations_until(stage), &place)
    }

    /// Computes the whole pictures a plate needs, unless they are there already.
    ///
    /// # Errors
    /// When a source cannot be read, or the work was stopped.
    pub fn prepare_plate(&self, world: &World<'_>, plan: &PlatePlan) -> Result<(), EngineError> {
        plan.wholes()
            .try_for_each(|whole| self.ensure_whole(world, whole))
    }

    fn tile_after(
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
        let tile = Arc::new(self.operate(world, plan, &plan.operations[last], (before, place))?);
        self.count_run(plan, count);
        self.store.put(stamp, Arc::clone(&tile));
        Ok(tile)
    }

    fn count_run(&self, plan: &PlatePlan, operation: usize) {
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

    fn operate(
        &self,
        world: &World<'_>,
        plan: &PlatePlan,
        operation: &Operation,
        (before, place): (Arc<Image>, &Place),
    ) -> Result<Image, EngineError> {
        let mut tile = Image::clone(&before);
        match operation {
            Operation::Group(group) => self.lay_over(world, group, (&mut tile, place))?,
            Operation::Matte {
                matte,
                silhouette,
                mask,
            } => {
                let here = self.draw_mask(world, mask.as_deref(), place.rect, place.level)?;
                let coverage = match silhouette {
                    Some(whole) => {
                        Some(self.silhouette_coverage(world, plan, whole, (matte, place))?)
                    }
                    None => None,
                };
                [coverage.as_ref(), here.as_ref()]
                    .into_iter()
                    .flatten()
                    .for_each(|keep| matte::keep(&mut tile, keep));
            }
            Operation::Grade { grade, mask } => {
                let here = self.draw_mask(world, mask.as_deref(), place.rect, place.level)?;
                adapt::graded(&mut tile, grade, here.as_ref());
            }
        }
        Ok(tile)
    }

    fn lay_over(
        &self,
        world: &World<'_>,
        group: &GroupPlan,
        (tile, place): (&mut Image, &Place),
    ) -> Result<(), EngineError> {
        let (light, level) = group.light_at(place.level);
        if group.laid.light_is_masked {
            self.ensure_whole(world, &light)?;
        }
        let light = self.whole_tile(world, &light, Product::Picture, (level, place.index))?;
        let covers = group.laid.covering_key_rgb.is_some();
        let here = if group.laid.light_is_masked && !covers {
            None
        } else {
            self.draw_mask(world, group.mask.as_deref(), place.rect, place.level)?
        };
        lay_over(tile, &light, here.as_ref(), &group.laid);
        Ok(())
    }

    fn silhouette_coverage(
        &self,
        world: &World<'_>,
        plan: &PlatePlan,
        whole: &WholePlan,
        (matte, place): (&Matte, &Place),
    ) -> Result<Plane, EngineError> {
        let shrink = adapt::level_scale(place.level);
        let (spread, feather) = (matte.spread_px * shrink, matte.feather_px * shrink);
        // The reach of spreading and softening (matte::shape), and a pixel for rounding.
        let margin = crate::pixels::convert::ceil_i32(spread.abs() + 1.5 * feather) + 2;
        let area = place
            .rect
            .grow(margin)
            .intersect(plan.size.at_level(place.level).rect());
        let light = self.whole_area(world, whole, Product::Picture, (place.level, area))?;
        let planes = adapt::planes_of(&light);
        // The pass was brought to a backdrop of 1 when it was measured.
        let card = Plane::filled(area, 1.0);
        let coverage = matte::silhouette(&planes, &card, &adapt::silhouette_levels(&matte.method));
        Ok(matte::shape(&coverage, spread, feather).crop(place.rect))
    }
}
