//! Tiles of the scene: every placement that reaches the tile, back to front, then the finish.

use crate::engine::adapt;
use crate::engine::plate_tiles::{PlatePlan, Stage};
use crate::engine::stamp::Stamp;
use crate::engine::{Engine, EngineError, World};
use crate::geometry::{Point, Rect, Size, TileIndex, Transform};
use crate::imaging::basics::resample;
use crate::imaging::{blend, finish};
use crate::pixels::Image;
use crate::project::{Fingerprint, Placement, PlateId, Project};
use rayon::prelude::*;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// Everything needed to compute tiles of the scene.
#[derive(Debug, Clone)]
pub struct ScenePlan {
    size: Size,
    pub(super) project: Arc<Project>,
    pub(super) plates: BTreeMap<PlateId, PlatePlan>,
    pub(super) placed: Vec<(Arc<Placement>, Transform)>,
}

/// What one placement brings to one tile.
pub(super) struct Brought<'a> {
    pub(super) placement: &'a Placement,
    pub(super) plan: &'a PlatePlan,
    /// Zoom level of the plate that is read.
    pub(super) plate_level: u32,
    /// Canvas position at the scene's level to plate position at the plate's level.
    plate_from_canvas: Transform,
    /// What of the plate is read.
    pub(super) area: Rect,
    tiles: Vec<TileIndex>,
    /// Whether the plate's warps move anything of it.
    is_warped: bool,
}

impl Brought<'_> {
    /// What is brought to `rect`, sampled once from `source`.
    pub(super) fn sampled(&self, source: &Image, rect: Rect) -> Image {
        let kernel = resample::Kernel::Lanczos3;
        let to_plate = &self.plate_from_canvas;
        let warp = self.plan.warp.as_ref().filter(|_warp| self.is_warped);
        let Some(warp) = warp else {
            return resample::sample_image_scaled(source, rect, to_plate, kernel);
        };
        let was_at = |point: Point| {
            let widening = to_plate.magnification(point);
            let was = warp.was_at(to_plate.apply(point), self.plate_level);
            Some((was, widening))
        };
        resample::sample_image_through(source, rect, &was_at, kernel)
    }
}

impl ScenePlan {
    /// Plans the scene as the project has it now.
    ///
    /// # Errors
    /// When the recipe of a plate in it cannot be followed.
    pub fn new(project: &Arc<Project>) -> Result<Self, EngineError> {
        let mut plates = BTreeMap::new();
        let mut placed = Vec::new();
        for placement in project
            .placements
            .iter()
            .filter(|placement| placement.visible && placement.strength > 0.0)
        {
            let Some(plate) = project.plate(placement.plate) else {
                continue;
            };
            let plan = match plates.entry(plate.id) {
                std::collections::btree_map::Entry::Occupied(entry) => entry.into_mut(),
                std::collections::btree_map::Entry::Vacant(entry) => {
                    entry.insert(PlatePlan::new(project, plate)?)
                }
            };
            if let Some(map) = placement.placing.scene_from_plate(plan.size) {
                placed.push((Arc::clone(placement), map));
            }
        }
        Ok(Self {
            size: project.canvas.size,
            project: Arc::clone(project),
            plates,
            placed,
        })
    }

    /// Width and height of the canvas.
    #[must_use]
    pub const fn size(&self) -> Size {
        self.size
    }

    /// The plates in it.
    pub fn plates(&self) -> impl Iterator<Item = &PlatePlan> {
        self.plates.values()
    }

    /// What reaches `rect` at zoom level `level`, back to front.
    pub(super) fn brought(&self, engine: &Engine, level: u32, rect: Rect) -> Vec<Brought<'_>> {
        self.placed
            .iter()
            .filter_map(|(placement, scene_from_plate)| {
                let plan = self.plates.get(&placement.plate)?;
                let plate_level = plate_level(scene_from_plate, plan.size, level);
                let canvas_from_level =
                    Transform::scaling(adapt::level_factor(level), adapt::level_factor(level));
                let shrink = 1.0 / adapt::level_factor(plate_level);
                let plate_from_canvas = Transform::scaling(shrink, shrink)
                    .after(&scene_from_plate.inverse()?)
                    .after(&canvas_from_level);
                let level_size = plan.size.at_level(plate_level);
                let area = resample::needed(rect, &plate_from_canvas, resample::Kernel::Lanczos3)
                    .intersect(level_size.rect());
                // What a warp moves is read where it was, so that one resample goes through warp and placement.
                let moved = plan.warp.as_ref().filter(|_warp| !area.is_empty());
                let moved = moved.and_then(|warp| warp.needed(area, plate_level));
                let is_warped = moved.is_some();
                let area = moved.map_or(area, |moved| moved.intersect(level_size.rect()));
                let tiles = engine.grid(plan.size, plate_level).covering(area);
                (!tiles.is_empty()).then_some(Brought {
                    is_warped,
                    placement,
                    plan,
                    plate_level,
                    plate_from_canvas,
                    area,
                    tiles,
                })
            })
            .collect()
    }
}

/// Magnification up to which a plate's next level is read: a hundredth more than a half, so that a slight turn does not send a level that
/// fits to one of four times as many pixels.
const NEXT_LEVEL: f64 = 0.505;

/// The zoom level of a plate of which at least one pixel goes into each canvas pixel (but for a hundredth), and fewer than two across.
fn plate_level(scene_from_plate: &Transform, size: Size, level: u32) -> u32 {
    let corners = size.rect().corners();
    let middle = corners[0].towards(corners[2], 0.5);
    let largest = corners
        .iter()
        .map(|corner| scene_from_plate.magnification(corner.towards(middle, 0.02)))
        .chain([scene_from_plate.magnification(middle)])
        .fold(0.0, f64::max);
    let mut magnification = largest / adapt::level_factor(level);
    let mut plate_level = 0;
    while magnification <= NEXT_LEVEL
        && plate_level < 12
        && size.at_level(plate_level + 1).area() > 1
    {
        magnification *= 2.0;
        plate_level += 1;
    }
    plate_level
}

impl Engine {
    /// Computes the whole pictures every plate of the scene needs, unless they are there already.
    ///
    /// # Errors
    /// When a source cannot be read, or the work was stopped.
    pub fn prepare_scene(&self, world: &World<'_>, plan: &ScenePlan) -> Result<(), EngineError> {
        plan.plates()
            .try_for_each(|plate| self.prepare_plate(world, plate))
    }

    /// The finished light of `rect` of the scene at zoom level `level`, not yet encoded.
    ///
    /// # Errors
    /// When a source cannot be read, the work was stopped, or tiles cannot be kept long enough.
    pub fn render_scene(
        &self,
        world: &World<'_>,
        plan: &ScenePlan,
        (level, rect): (u32, Rect),
    ) -> Result<Image, EngineError> {
        let grid = self.grid(plan.size, level);
        let tiles = grid.covering(rect);
        self.with_wholes(
            || {
                self.prepare_scene(world, plan)?;
                self.prepare_scene_glare(world, plan, level)
            },
            || {
                self.render_plate_tiles(world, plan, level, &tiles)?;
                let made: Result<Vec<Arc<Image>>, EngineError> = tiles
                    .par_iter()
                    .map(|index| self.prepared_scene_tile(world, plan, level, *index))
                    .collect();
                let mut out = Image::empty(rect.intersect(grid.size.rect()));
                made?.iter().for_each(|tile| out.paste(tile));
                Ok(out)
            },
        )
    }

    /// Computes each plate tile that `tiles` of the scene need, once.
    pub(super) fn render_plate_tiles(
        &self,
        world: &World<'_>,
        plan: &ScenePlan,
        level: u32,
        tiles: &[TileIndex],
    ) -> Result<(), EngineError> {
        let grid = self.grid(plan.size, level);
        let mut needed = BTreeSet::new();
        for index in tiles {
            let rect = grid.rect(*index);
            let brought = plan.brought(self, level, rect);
            if self
                .store
                .get(self.finished_stamp(plan, &brought, (level, *index)))
                .is_some()
            {
                continue;
            }
            for one in &brought {
                needed.extend(
                    one.tiles
                        .iter()
                        .map(|tile| (one.plan.plate.id, one.plate_level, *tile)),
                );
            }
        }
        let needed: Vec<_> = needed.into_iter().collect();
        needed
            .par_iter()
            .try_for_each(|(plate, plate_level, index)| {
                if world.watch.cancelled() {
                    return Err(EngineError::Cancelled);
                }
                let Some(plate) = plan.plates.get(plate) else {
                    return Ok(());
                };
                self.prepared_tile(world, plate, Stage::Done, *plate_level, *index)
                    .map(|_tile| ())
            })
    }

    /// The fingerprint of one finished tile of the scene.
    #[must_use]
    pub fn scene_tile_stamp(&self, plan: &ScenePlan, level: u32, index: TileIndex) -> Fingerprint {
        let brought = plan.brought(self, level, self.grid(plan.size, level).rect(index));
        self.finished_stamp(plan, &brought, (level, index))
    }

    /// Computes the light with glare that the scene's tiles at `level` are made from, unless it is there already.
    pub(super) fn prepare_scene_glare(
        &self,
        world: &World<'_>,
        plan: &ScenePlan,
        level: u32,
    ) -> Result<(), EngineError> {
        plan.placed.iter().try_for_each(|(placement, map)| {
            let Some(plate) = plan.plates.get(&placement.plate) else {
                return Ok(());
            };
            self.prepare_glare(world, plate, plate_level(map, plate.size, level))
        })
    }

    /// One finished tile of the scene. Its whole pictures must have been computed ([`Engine::prepare_scene`]), but for glare.
    ///
    /// # Errors
    /// When the work was stopped or tiles are not kept any more.
    pub fn scene_tile(
        &self,
        world: &World<'_>,
        plan: &ScenePlan,
        level: u32,
        index: TileIndex,
    ) -> Result<Arc<Image>, EngineError> {
        self.prepare_scene_glare(world, plan, level)?;
        self.prepared_scene_tile(world, plan, level, index)
    }

    /// One finished tile of the scene, all that it needs being there.
    pub(super) fn prepared_scene_tile(
        &self,
        world: &World<'_>,
        plan: &ScenePlan,
        level: u32,
        index: TileIndex,
    ) -> Result<Arc<Image>, EngineError> {
        if world.watch.cancelled() {
            return Err(EngineError::Cancelled);
        }
        let rect = self.grid(plan.size, level).rect(index);
        let brought = plan.brought(self, level, rect);
        let stamp = self.finished_stamp(plan, &brought, (level, index));
        if let Some(tile) = self.store.get(stamp) {
            self.store.count(|counts| counts.scene_tiles_reused += 1);
            return Ok(tile);
        }
        let composed = self.composed_tile(world, &brought, (level, index, rect))?;
        let mut tile = Image::clone(&composed);
        finish::finish(
            &mut tile,
            &adapt::finish(&plan.project.finish),
            plan.size,
            level,
        );
        let tile = Arc::new(tile);
        self.store.count(|counts| counts.scene_tiles_run += 1);
        self.store.put(stamp, Arc::clone(&tile));
        Ok(tile)
    }

    fn composed_tile(
        &self,
        world: &World<'_>,
        brought: &[Brought<'_>],
        (level, index, rect): (u32, TileIndex, Rect),
    ) -> Result<Arc<Image>, EngineError> {
        let stamp = self.composed_stamp(brought, (level, index));
        if let Some(tile) = self.store.get(stamp) {
            return Ok(tile);
        }
        let mut canvas = Image::from_fn(rect, |_x, _y| [0.0, 0.0, 0.0, 1.0]);
        for one in brought {
            let placed = self.placed_tile(world, one, (level, index, rect))?;
            blend::blend_image(
                adapt::blend(one.placement.blend),
                one.placement.strength,
                &mut canvas,
                &placed,
            );
        }
        let tile = Arc::new(canvas);
        self.store.put(stamp, Arc::clone(&tile));
        Ok(tile)
    }

    /// What one placement brings to a tile, on the tile's pixels. It is kept while there is room, so that a change of one plate does
    /// not sample all others again.
    fn placed_tile(
        &self,
        world: &World<'_>,
        one: &Brought<'_>,
        (level, index, rect): (u32, TileIndex, Rect),
    ) -> Result<Arc<Image>, EngineError> {
        let stamp = self.placed_stamp(one, (level, index));
        if let Some(tile) = self.store.get(stamp) {
            return Ok(tile);
        }
        let placed = Arc::new(one.sampled(&self.source_of(world, one)?, rect));
        self.store.put_beside(stamp, Arc::clone(&placed));
        Ok(placed)
    }

    pub(super) fn placed_stamp(&self, one: &Brought<'_>, at: (u32, TileIndex)) -> Fingerprint {
        self.placed_into(one, self.tile_stamp("placed tile 1", at))
            .done()
    }

    /// What of the plate is read.
    pub(super) fn source_of(
        &self,
        world: &World<'_>,
        one: &Brought<'_>,
    ) -> Result<Image, EngineError> {
        let mut source = Image::empty(one.area);
        for tile in &one.tiles {
            source.paste(&*self.prepared_tile(
                world,
                one.plan,
                Stage::Done,
                one.plate_level,
                *tile,
            )?);
        }
        Ok(source)
    }

    pub(super) fn tile_stamp(&self, kind: &str, (level, index): (u32, TileIndex)) -> Stamp {
        Stamp::new(kind)
            .number(u64::from(level))
            .number(u64::from(self.tile_side()))
            .number(u64::from(index.x))
            .number(u64::from(index.y))
    }

    /// Adds what a placement brings to a tile.
    fn placed_into(&self, one: &Brought<'_>, stamp: Stamp) -> Stamp {
        let stamp = stamp
            .parameters(&one.plate_from_canvas)
            .number(u64::from(one.plate_level));
        let warp = one.plan.warp.as_ref().filter(|_warp| one.is_warped);
        let stamp = match warp {
            Some(warp) => stamp.input(warp.stamp),
            None => stamp,
        };
        one.tiles.iter().fold(stamp, |stamp, tile| {
            stamp
                .input(self.plate_tile_stamp(one.plan, Stage::Done, one.plate_level, *tile))
                .number(u64::from(tile.x))
                .number(u64::from(tile.y))
        })
    }

    fn composed_stamp(
        &self,
        brought: &[Brought<'_>],
        (level, index): (u32, TileIndex),
    ) -> Fingerprint {
        let mut stamp = self.tile_stamp("scene tile 2", (level, index));
        for one in brought {
            let laid = stamp
                .text(one.placement.blend.name())
                .parameters(&one.placement.strength);
            stamp = self.placed_into(one, laid);
        }
        stamp.done()
    }

    fn finished_stamp(
        &self,
        plan: &ScenePlan,
        brought: &[Brought<'_>],
        at: (u32, TileIndex),
    ) -> Fingerprint {
        Stamp::new("finish 1")
            .input(self.composed_stamp(brought, at))
            .parameters(&(plan.project.finish, plan.size))
            .done()
    }
}
