//! What is done to a plate after its stack is fused, one operation after the other: groups laid over, mattes, grades, healing.

use crate::engine::adapt;
use crate::engine::cutting::CutPlan;
use crate::engine::healing::HealPlan;
use crate::engine::masks::{self, MaskHere, MaskPlan};
use crate::engine::plate_tiles::{Place, PlatePlan};
use crate::engine::stamp::Stamp;
use crate::engine::wholes::{self, Product, WholePlan};
use crate::engine::{Engine, EngineError, World};
use crate::geometry::Rect;
use crate::imaging::lights::lay::{LaidOver, lay_over};
use crate::imaging::matte;
use crate::pixels::convert::ceil_i32;
use crate::pixels::{Image, Plane};
use crate::project::{
    Fingerprint, Grade, MaskId, Matte, MatteMethod, Plate, PracticalGroup, Project, Step, StepKind,
};
use std::sync::Arc;

/// One operation on the tiles of a plate.
#[derive(Debug, Clone)]
pub(super) enum Operation {
    Group(Box<GroupPlan>),
    Matte(Box<MattePlan>),
    Grade {
        grade: Grade,
        mask: Option<Arc<MaskPlan>>,
    },
    Heal(HealPlan),
}

/// A matte and what its coverage comes from.
#[derive(Debug, Clone)]
pub(super) struct MattePlan {
    matte: Matte,
    from: CoverageFrom,
    /// The garbage matte.
    mask: Option<Arc<MaskPlan>>,
    core: Option<Arc<MaskPlan>>,
    holdout: Option<Arc<MaskPlan>>,
}

#[derive(Debug, Clone)]
enum CoverageFrom {
    Everywhere,
    Silhouette(WholePlan),
    Cut(WholePlan),
}

/// A practical group and the light it has.
#[derive(Debug, Clone)]
pub(super) struct GroupPlan {
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

impl MattePlan {
    fn new(
        project: &Project,
        plate: &Plate,
        step: &Step,
        matte: &Matte,
    ) -> Result<Self, EngineError> {
        let size = plate.size.unwrap_or_default();
        let from = match matte.method {
            MatteMethod::Drawn => CoverageFrom::Everywhere,
            MatteMethod::Silhouette { pass, .. } => {
                CoverageFrom::Silhouette(wholes::silhouette(project, plate, pass)?)
            }
            MatteMethod::Plain { .. } | MatteMethod::TwoLevels { .. } => {
                CutPlan::new(project, plate, matte)?.map_or(CoverageFrom::Everywhere, |plan| {
                    CoverageFrom::Cut(wholes::cut(plan, size))
                })
            }
        };
        Ok(Self {
            matte: matte.clone(),
            from,
            mask: MaskPlan::new(project, plate, step.mask, 0.0)?,
            core: MaskPlan::new(project, plate, matte.core, 0.0)?,
            holdout: MaskPlan::new(project, plate, matte.holdout, 0.0)?,
        })
    }

    const fn whole(&self) -> Option<&WholePlan> {
        match &self.from {
            CoverageFrom::Everywhere => None,
            CoverageFrom::Silhouette(whole) | CoverageFrom::Cut(whole) => Some(whole),
        }
    }

    fn stamp(&self, before: Fingerprint, place: &Place) -> Fingerprint {
        let stamp = Stamp::new("matte 1").input(before).parameters(&self.matte);
        let stamp = self
            .whole()
            .iter()
            .fold(stamp, |stamp, whole| stamp.input(whole.stamp));
        let here = |mask: &Option<Arc<MaskPlan>>, stamp: Stamp| {
            masks::mask_here(mask.as_deref(), place.rect, place.level).add_to(stamp)
        };
        let stamp = here(&self.mask, stamp);
        [("core", &self.core), ("holdout", &self.holdout)]
            .into_iter()
            .filter(|(_, mask)| mask.is_some())
            .fold(stamp, |stamp, (name, mask)| here(mask, stamp.text(name)))
            .done()
    }
}

impl Operation {
    /// Plans a step; `None` for a warp, which moves the plate when all else is done.
    ///
    /// # Errors
    /// When something it looks at is not there.
    pub(super) fn of_step(
        project: &Project,
        plate: &Plate,
        step: &Step,
    ) -> Result<Option<Self>, EngineError> {
        Ok(Some(match &step.kind {
            StepKind::Matte(matte) => {
                Self::Matte(Box::new(MattePlan::new(project, plate, step, matte)?))
            }
            StepKind::Grade(grade) => Self::Grade {
                grade: *grade,
                mask: MaskPlan::new(project, plate, step.mask, 0.0)?,
            },
            StepKind::Spotting(_) | StepKind::PaintOut(_) => {
                Self::Heal(HealPlan::new(project, plate, step.kind.acting_patches())?)
            }
            StepKind::Warp(_) => return Ok(None),
        }))
    }

    /// Plans a practical group.
    ///
    /// # Errors
    /// When its pass is not there.
    pub(super) fn of_group(
        project: &Project,
        plate: &Plate,
        group: &PracticalGroup,
    ) -> Result<Self, EngineError> {
        Ok(Self::Group(Box::new(GroupPlan::new(
            project, plate, group,
        )?)))
    }

    /// The light with its glare at `level`, which follows from [`Self::wholes`]; `None` where there is no glare.
    pub(super) fn glare_at(&self, level: u32) -> Option<WholePlan> {
        match self {
            Self::Group(group) if group.laid.light_is_masked => Some(group.light_at(level).0),
            Self::Group(_) | Self::Matte(_) | Self::Grade { .. } | Self::Heal(_) => None,
        }
    }

    /// Whether it acts through one of `masks`.
    pub(super) fn acts_through(&self, masks: &[MaskId]) -> bool {
        let is_one = |mask: &Option<Arc<MaskPlan>>| {
            let mask = mask.as_ref().map(|mask| mask.id());
            mask.is_some_and(|mask| masks.contains(&mask))
        };
        match self {
            Self::Group(group) => is_one(&group.mask),
            Self::Matte(matte) => [&matte.mask, &matte.core, &matte.holdout]
                .into_iter()
                .any(is_one),
            Self::Grade { mask, .. } => is_one(mask),
            Self::Heal(_) => false,
        }
    }

    /// Whether it spreads what comes through one of `masks` over the whole plate.
    pub(super) fn spreads(&self, masks: &[MaskId]) -> bool {
        let is_glare = matches!(self, Self::Group(group) if group.laid.light_is_masked);
        is_glare && self.acts_through(masks)
    }

    /// The whole pictures it needs at every level, in the order they must be computed.
    pub(super) fn wholes(&self) -> Vec<&WholePlan> {
        match self {
            Self::Group(group) => {
                let mut wholes: Vec<&WholePlan> = match &group.mask {
                    Some(mask) => mask.wholes(),
                    None => Vec::new(),
                };
                wholes.push(&group.light);
                wholes
            }
            Self::Matte(matte) => {
                let masks = [&matte.mask, &matte.core, &matte.holdout];
                let mut wholes: Vec<&WholePlan> = masks
                    .into_iter()
                    .flatten()
                    .flat_map(|mask| mask.wholes())
                    .collect();
                wholes.extend(matte.whole());
                wholes
            }
            Self::Grade { mask, .. } => match mask {
                Some(mask) => mask.wholes(),
                None => Vec::new(),
            },
            Self::Heal(heal) => heal.wholes(),
        }
    }

    /// The fingerprint after this operation, number `count` of `plan` counted from 0; `before` itself where it does nothing to this
    /// tile.
    pub(super) fn stamp(
        &self,
        before: Fingerprint,
        (plan, count): (&PlatePlan, usize),
        place: &Place,
    ) -> Fingerprint {
        match self {
            Self::Group(group) => group.stamp(before, place),
            Self::Matte(matte) => matte.stamp(before, place),
            Self::Grade { grade, mask } => {
                match masks::mask_here(mask.as_deref(), place.rect, place.level) {
                    MaskHere::Nothing => before,
                    here @ (MaskHere::Everywhere | MaskHere::Some(..)) => here
                        .add_to(Stamp::new("grade 1").input(before).parameters(grade))
                        .done(),
                }
            }
            Self::Heal(heal) => heal.stamp(before, (plan, count), place),
        }
    }
}

impl Engine {
    /// A tile after operation number `count` of a plate, counted from 0, from the tile before it.
    pub(super) fn operate(
        &self,
        world: &World<'_>,
        (plan, count): (&PlatePlan, usize),
        (before, place): (Arc<Image>, &Place),
    ) -> Result<Image, EngineError> {
        let mut tile = Image::clone(&before);
        match plan.operation(count) {
            Operation::Group(group) => self.lay_over(world, group, (&mut tile, place))?,
            Operation::Matte(matte) => self.cut_out(world, plan, matte, (&mut tile, place))?,
            Operation::Grade { grade, mask } => {
                let here = self.draw_mask(world, mask.as_deref(), place.rect, place.level)?;
                adapt::graded(&mut tile, grade, here.as_ref());
            }
            Operation::Heal(heal) => self.heal(world, (plan, count), heal, (&mut tile, place))?,
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
        let light = if self.grid(light.size(), level).rect(place.index) == place.rect {
            self.whole_tile(world, &light, Product::Picture, (level, place.index))?
        } else {
            Arc::new(self.whole_area(world, &light, Product::Picture, (level, place.rect))?)
        };
        let covers = group.laid.covering_key_rgb.is_some();
        let here = if group.laid.light_is_masked && !covers {
            None
        } else {
            self.draw_mask(world, group.mask.as_deref(), place.rect, place.level)?
        };
        lay_over(tile, &light, here.as_ref(), &group.laid);
        Ok(())
    }

    fn cut_out(
        &self,
        world: &World<'_>,
        plan: &PlatePlan,
        matte: &MattePlan,
        (tile, place): (&mut Image, &Place),
    ) -> Result<(), EngineError> {
        let draw = |mask: &Option<Arc<MaskPlan>>| {
            self.draw_mask(world, mask.as_deref(), place.rect, place.level)
        };
        let (garbage, core, holdout) = (
            draw(&matte.mask)?,
            draw(&matte.core)?,
            draw(&matte.holdout)?,
        );
        let with_drawn = |mut coverage: Plane| {
            for (at, cover) in coverage.data.iter_mut().enumerate() {
                let drawn = |mask: &Option<Plane>| mask.as_ref().map_or(0.0, |mask| mask.data[at]);
                *cover = cover.max(drawn(&core)) * (1.0 - drawn(&holdout));
            }
            coverage
        };
        let settings = &matte.matte;
        match &matte.from {
            CoverageFrom::Everywhere => {
                if holdout.is_some() {
                    let coverage = with_drawn(Plane::filled(place.rect, 1.0));
                    matte::keep(tile, &coverage);
                }
            }
            CoverageFrom::Silhouette(whole) => {
                let area = shape_area(plan, settings, place);
                let light = self.whole_area(world, whole, Product::Picture, (place.level, area))?;
                let planes = adapt::planes_of(&light);
                // The pass was brought to a backdrop of 1 when it was measured.
                let card = Plane::filled(area, 1.0);
                let levels = adapt::silhouette_levels(&settings.method);
                let coverage = matte::silhouette(&planes, &card, &levels);
                matte::keep(tile, &with_drawn(shaped(&coverage, settings, place)));
            }
            CoverageFrom::Cut(whole) => {
                let area = shape_area(plan, settings, place);
                let found = self.whole_area(world, whole, Product::Picture, (place.level, area))?;
                let coverage = shaped(&adapt::channel(&found, 3), settings, place);
                let coverage = with_drawn(coverage);
                if settings.clean_edge {
                    matte::free(tile, &found.crop(place.rect), &coverage);
                } else {
                    matte::keep(tile, &coverage);
                }
            }
        }
        garbage.iter().for_each(|keep| matte::keep(tile, keep));
        Ok(())
    }
}

/// How far the shaping of a matte's edge reaches at the level of `place`: spread and feather in its pixels.
fn shape_px(settings: &Matte, place: &Place) -> (f32, f32) {
    let shrink = adapt::level_scale(place.level);
    (settings.spread_px * shrink, settings.feather_px * shrink)
}

/// The part of the plate that the shaped coverage of a tile is made from.
fn shape_area(plan: &PlatePlan, settings: &Matte, place: &Place) -> Rect {
    let (spread, feather) = shape_px(settings, place);
    // The reach of spreading and softening (matte::shape), and a pixel for rounding.
    let margin = ceil_i32(spread.abs() + 1.5 * feather) + 2;
    let whole = plan.size.at_level(place.level).rect();
    place.rect.grow(margin).intersect(whole)
}

fn shaped(coverage: &Plane, settings: &Matte, place: &Place) -> Plane {
    let (spread, feather) = shape_px(settings, place);
    matte::shape(coverage, spread, feather).crop(place.rect)
}
