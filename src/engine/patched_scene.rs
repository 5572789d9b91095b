//! What a change of a mask touches in the scene: the changed plate laid under and over what is kept of all others.
//!
//! Placements that lie one over the other and are kept are gathered into one picture, so that a dab costs the same whatever number of
//! plates lies over it.

use crate::engine::adapt;
use crate::engine::patching::{Begun, MaskChange, at_level, in_bands};
use crate::engine::plate_tiles::Stage;
use crate::engine::scene_tiles::{Brought, ScenePlan};
use crate::engine::{Engine, EngineError, World};
use crate::geometry::{Rect, TileIndex};
use crate::imaging::blend::{self, Blend};
use crate::imaging::finish;
use crate::pixels::Image;
use crate::project::{Placement, PlacementId};
use std::sync::Arc;

/// What is laid one over the other in a patch.
enum Layer {
    /// What is kept of one placement in this tile, or was gathered from several.
    Kept {
        mode: Blend,
        strength: f32,
        tile: Arc<Image>,
    },
    /// A placement that is sampled for this patch.
    Sampled(PlacementId, Source),
}

/// What a placement is sampled from.
enum Source {
    /// The finished plate.
    Plate(Image),
    /// The plate whose mask changed.
    Begun(Begun),
}

/// Where a patch is made.
struct Touched<'a> {
    change: &'a MaskChange,
    at: (u32, TileIndex),
    rect: Rect,
    /// What reaches the whole tile.
    whole: Vec<Brought<'a>>,
}

impl Engine {
    /// The part of one finished tile of the scene that `change` touches; `None` where only the whole tile can be made.
    ///
    /// # Errors
    /// When a source cannot be read, or tiles are not kept any more.
    pub(super) fn patch_scene(
        &self,
        world: &World<'_>,
        plan: &ScenePlan,
        (level, index): (u32, TileIndex),
        change: &MaskChange,
    ) -> Result<Option<Image>, EngineError> {
        let changed = plan.plates.get(&change.plate);
        if changed.is_none_or(|plate| plate.acts_beyond(change)) {
            return Ok(None);
        }
        let tile = self.grid(plan.size(), level).rect(index);
        let touched = Touched {
            change,
            at: (level, index),
            rect: touched(plan, change, level).intersect(tile),
            whole: plan.brought(self, level, tile),
        };
        let layers = self.layers(world, plan, &touched)?;
        let finish = adapt::finish(&plan.project.finish);
        let made = in_bands(touched.rect, |band| {
            let mut canvas = Image::from_fn(band, |_x, _y| [0.0, 0.0, 0.0, 1.0]);
            let brought = plan.brought(self, level, band);
            for layer in &layers {
                match layer {
                    Layer::Kept {
                        mode,
                        strength,
                        tile,
                    } => blend::blend_image(*mode, *strength, &mut canvas, tile),
                    Layer::Sampled(id, source) => {
                        let one = brought.iter().find(|one| one.placement.id == *id);
                        let Some(one) = one else { continue };
                        let sampled = self.sampled_of(world, (one, source), band)?;
                        let (mode, strength) = laid(one.placement);
                        blend::blend_image(mode, strength, &mut canvas, &sampled);
                    }
                }
            }
            finish::finish(&mut canvas, &finish, plan.size(), level);
            Ok(canvas)
        });
        made.map(Some)
    }

    fn sampled_of(
        &self,
        world: &World<'_>,
        (one, source): (&Brought<'_>, &Source),
        band: Rect,
    ) -> Result<Image, EngineError> {
        match source {
            Source::Plate(plate) => Ok(one.sampled(plate, band)),
            Source::Begun(begun) => {
                let all = (one.plan, one.plan.operations_until(Stage::Done));
                let area = (one.plate_level, one.area);
                Ok(one.sampled(&self.gone_on(world, all, area, begun)?, band))
            }
        }
    }

    /// What reaches a patch, back to front.
    fn layers(
        &self,
        world: &World<'_>,
        plan: &ScenePlan,
        touched: &Touched<'_>,
    ) -> Result<Vec<Layer>, EngineError> {
        let mut layers = Vec::new();
        let mut run: Vec<(&Brought<'_>, Arc<Image>)> = Vec::new();
        for one in &plan.brought(self, touched.at.0, touched.rect) {
            let changed = one.plan.plate.id == touched.change.plate;
            let other = touched
                .whole
                .iter()
                .find(|other| !changed && other.placement.id == one.placement.id);
            let kept = other.and_then(|other| {
                let stamp = self.placed_stamp(other, touched.at);
                Some((other, self.store.get(stamp)?))
            });
            if let Some(kept) = kept {
                run.push(kept);
                continue;
            }
            layers.extend(self.laid_together(&run, touched));
            run.clear();
            let source = if changed {
                let count = one.plan.operations_until(Stage::Done);
                let area = (one.plate_level, one.area);
                Source::Begun(self.begun(world, (one.plan, count), area, touched.change)?)
            } else {
                Source::Plate(self.source_of(world, one)?)
            };
            layers.push(Layer::Sampled(one.placement.id, source));
        }
        layers.extend(self.laid_together(&run, touched));
        Ok(layers)
    }

    /// Kept placements that lie one over the other, as one layer where that gives the same.
    fn laid_together(
        &self,
        run: &[(&Brought<'_>, Arc<Image>)],
        touched: &Touched<'_>,
    ) -> Vec<Layer> {
        let at = touched.at;
        let mut all = touched.whole.iter();
        let only_dims = all.all(|one| laid(one.placement).0.only_dims());
        if !only_dims || run.len() < 2 {
            let layer = |(one, tile): &(&Brought<'_>, Arc<Image>)| {
                let (mode, strength) = laid(one.placement);
                let tile = Arc::clone(tile);
                Layer::Kept {
                    mode,
                    strength,
                    tile,
                }
            };
            return run.iter().map(layer).collect();
        }
        let stamp = run.iter().fold(
            self.tile_stamp("gathered tile 1", at),
            |stamp, (one, _tile)| {
                stamp
                    .text(one.placement.blend.name())
                    .parameters(&one.placement.strength)
                    .input(self.placed_stamp(one, at))
            },
        );
        let stamp = stamp.done();
        let tile = self.store.get(stamp).unwrap_or_else(|| {
            let rect = run
                .iter()
                .fold(Rect::default(), |rect, (_one, tile)| rect.union(tile.rect));
            let mut gathered = Image::empty(rect);
            for (one, tile) in run {
                let (mode, strength) = laid(one.placement);
                blend::gather_image(mode, strength, &mut gathered, tile);
            }
            let gathered = Arc::new(gathered);
            self.store.put_beside(stamp, Arc::clone(&gathered));
            gathered
        });
        vec![Layer::Kept {
            mode: Blend::SourceOver,
            strength: 1.0,
            tile,
        }]
    }
}

fn laid(placement: &Placement) -> (Blend, f32) {
    (adapt::blend(placement.blend), placement.strength)
}

/// Pixels about a change that sampling can carry it to: the reach of the kernel and one more.
const SAMPLED_PX: i32 = 4;

/// Pixels of the scene at `level` that a change of masks can touch.
fn touched(plan: &ScenePlan, change: &MaskChange, level: u32) -> Rect {
    let of_plate = plan
        .placed
        .iter()
        .filter(|(placement, _map)| placement.plate == change.plate);
    let areas = of_plate.map(|(_placement, map)| {
        let corners = change.area.corners().map(|corner| map.apply(corner));
        at_level(Rect::around(&corners), level).grow(SAMPLED_PX)
    });
    areas.fold(Rect::default(), Rect::union)
}
