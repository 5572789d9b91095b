//! Warps: the field that moves a finished plate, and tiles through it.

use crate::engine::adapt::level_factor;
use crate::engine::plate_tiles::{Place, PlatePlan, Stage};
use crate::engine::stamp::Stamp;
use crate::engine::{Engine, EngineError, World};
use crate::geometry::{Point, Rect, TileIndex};
use crate::imaging::basics::resample::{self, Kernel};
use crate::imaging::warp::{
    self, Beyond, Corners, Field, Handle, Handles, Sample, Strake, Stretch, Warp, measured,
    sample_at,
};
use crate::pixels::Image;
use crate::project::{self, Fingerprint, Plate, Step, StepKind, WarpKind};
use std::sync::Arc;

/// Stretch from which on texture shows it.
pub const STRETCH_WARNS: f32 = warp::STRETCH_WARNS;

/// The warps of a plate as one field.
#[derive(Debug, Clone)]
pub(super) struct WarpPlan {
    pub(super) field: Arc<Field>,
    pub(super) stamp: Fingerprint,
}

impl WarpPlan {
    /// The warps of a plate that act; `None` without any.
    pub(super) fn new(plate: &Plate) -> Option<Self> {
        let recorded: Vec<&project::Warp> = plate
            .steps
            .iter()
            .filter(|step| step.on)
            .filter_map(|step| warp_of(&step.kind))
            .collect();
        let warps: Vec<Warp> = recorded.iter().filter_map(|warp| planned(warp)).collect();
        (!warps.is_empty()).then(|| Self {
            field: Arc::new(Field::new(warps)),
            stamp: Stamp::new("warp 1").parameters(&recorded).done(),
        })
    }

    /// The part of the plate at `level`, as it was, that `area` of the warped plate at that level reads; `None` where nothing moves.
    pub(super) fn needed(&self, area: Rect, level: u32) -> Option<Rect> {
        let factor = level_factor(level);
        let scaled = |rect: Rect, by: f64| {
            Rect::around(&rect.corners().map(|at| Point::new(at.x * by, at.y * by)))
        };
        let needed = self.field.needed(scaled(area, factor))?;
        Some(scaled(needed, 1.0 / factor).grow(Kernel::Lanczos3.reach() + 2))
    }

    /// Where a point of the warped plate at `level` was, at that level.
    pub(super) fn was_at(&self, point: Point, level: u32) -> Point {
        let factor = level_factor(level);
        let was = self
            .field
            .was_at(Point::new(point.x * factor, point.y * factor));
        Point::new(was.x / factor, was.y / factor)
    }
}

fn warp_of(kind: &StepKind) -> Option<&project::Warp> {
    match kind {
        StepKind::Warp(warp) => Some(warp),
        StepKind::Matte(_) | StepKind::Grade(_) | StepKind::Spotting(_) | StepKind::PaintOut(_) => {
            None
        }
    }
}

/// A recorded warp as a field; `None` where it cannot be one, such as a strake whose lines cross.
fn planned(warp: &project::Warp) -> Option<Warp> {
    let soft_px = f64::from(warp.soft_px);
    Some(match &warp.kind {
        WarpKind::Strake {
            kept,
            was,
            now,
            covers,
        } => {
            let beyond = if *covers {
                Beyond::IsCovered
            } else {
                Beyond::GivesWay
            };
            Warp::Strake(Strake::new(kept, (was, now), beyond, soft_px)?)
        }
        WarpKind::Handles {
            handles,
            lines,
            outline,
        } => {
            let mut all: Vec<Handle> = handles
                .iter()
                .map(|[was, now]| Handle {
                    was: *was,
                    now: *now,
                })
                .collect();
            for [was_0, was_1, now_0, now_1] in lines {
                all.extend(Handles::of_line([*was_0, *was_1], [*now_0, *now_1]));
            }
            if all.is_empty() {
                return None;
            }
            Warp::Handles(Handles::new(all, outline.clone(), soft_px))
        }
        WarpKind::Corners { was, now } => Warp::Corners(Corners::new(*was, *now, soft_px)?),
    })
}

/// What one warp step does at worst to a plate; `None` where it is none, or cannot be carried out.
#[must_use]
pub fn stretch_of(plate: &Plate, step: &Step) -> Option<Stretch> {
    let warp = planned(warp_of(&step.kind)?)?;
    let area = warp.bounds().intersect(plate.size?.rect());
    Some(measured(&Field::new(vec![warp]), area))
}

/// What the warps of a plate do at places of the warped plate; nothing without any.
#[must_use]
pub fn stretch_at(plate: &Plate, places: &[Point]) -> Vec<Sample> {
    let Some(plan) = WarpPlan::new(plate) else {
        return Vec::new();
    };
    let places = places.iter();
    places.map(|at| sample_at(&plan.field, *at)).collect()
}

/// Where a point that one warp step has moved was before; `None` where it is none, or cannot be carried out.
#[must_use]
pub fn before_warp(step: &Step, point: Point) -> Option<Point> {
    Some(planned(warp_of(&step.kind)?)?.was_at(point))
}

impl Engine {
    /// The tiles of the unmoved plate that a tile of the warped one is made from, and the area they are read in; `None` where nothing
    /// in it moves.
    fn read_by(
        &self,
        (plan, warp): (&PlatePlan, &WarpPlan),
        place: &Place,
    ) -> Option<(Rect, Vec<TileIndex>)> {
        let whole = plan.size.at_level(place.level).rect();
        let area = warp.needed(place.rect, place.level)?.intersect(whole);
        Some((area, self.grid(plan.size, place.level).covering(area)))
    }

    pub(super) fn warped_stamp(
        &self,
        (plan, warp): (&PlatePlan, &WarpPlan),
        place: &Place,
    ) -> Fingerprint {
        let stamp_of = |index| self.plate_tile_stamp(plan, Stage::Done, place.level, index);
        let Some((_, tiles)) = self.read_by((plan, warp), place) else {
            return stamp_of(place.index);
        };
        let stamp = place.add_to(Stamp::new("warped 1").input(warp.stamp));
        tiles
            .into_iter()
            .fold(stamp, |stamp, index| stamp.input(stamp_of(index)))
            .done()
    }

    pub(super) fn warped_tile(
        &self,
        world: &World<'_>,
        (plan, warp): (&PlatePlan, &WarpPlan),
        place: &Place,
    ) -> Result<Arc<Image>, EngineError> {
        let Some((area, tiles)) = self.read_by((plan, warp), place) else {
            return self.prepared_tile(world, plan, Stage::Done, place.level, place.index);
        };
        let stamp = self.warped_stamp((plan, warp), place);
        if let Some(tile) = self.store.get(stamp) {
            return Ok(tile);
        }
        let mut source = Image::empty(area);
        for index in tiles {
            source.paste(&*self.prepared_tile(world, plan, Stage::Done, place.level, index)?);
        }
        let was_at = |point: Point| Some((warp.was_at(point, place.level), 1.0));
        let tile = resample::sample_image_through(&source, place.rect, &was_at, Kernel::Lanczos3);
        let tile = Arc::new(tile);
        self.store.put(stamp, Arc::clone(&tile));
        Ok(tile)
    }
}
