//! Dust and hair on a plate, as places that a spotting step can fill.

use crate::engine::plate_tiles::{PlatePlan, Stage};
use crate::engine::wholes::Product;
use crate::engine::{Engine, EngineError, World, adapt};
use crate::geometry::Rect;
use crate::imaging::spotting::{self, Found, Kind};
use crate::project::{Patch, PatchFrom, PatchShape, PlateId, Verdict};

/// Confidence from which on a find is shown unless another is asked for.
pub const USUAL_CONFIDENCE: f32 = spotting::USUAL_CONFIDENCE;

/// One find.
#[derive(Debug, Clone, PartialEq)]
pub struct Spot {
    /// Whether it is a hair, or a grain.
    pub is_hair: bool,
    /// The pixels that it covers.
    pub bounds: Rect,
    /// How sure it is, 0..=1.
    pub confidence: f32,
    /// What would fill it.
    pub patch: Patch,
}

/// How much wider than a find its patch is, px on every side: a grain's soft rim is darker than its ground too.
const RIM_PX: f32 = 1.5;
/// Softness of a patch's edge, px.
const FEATHER_PX: f32 = 1.0;

impl Engine {
    /// Every find on the fused plate, the surest first.
    ///
    /// # Errors
    /// When a source cannot be read, or the work was stopped.
    pub fn find_spots(&self, world: &World<'_>, plate: PlateId) -> Result<Vec<Spot>, EngineError> {
        let not_prepared = || EngineError::NotPrepared(plate);
        let plate_of = world.project.plate(plate).ok_or_else(not_prepared)?;
        let plan = PlatePlan::new(&world.project, plate_of)?;
        world.watch.progress("looking for dust and hair", 0, 1);
        let picture = self.plate_picture(world, &plan, Stage::Fused)?;
        let depth = match plan.stack_whole() {
            Some(whole) => {
                let all = (0, plan.size.rect());
                let depth = self.whole_area(world, whole, Product::Depth, all)?;
                Some(adapt::channel(&depth, 0))
            }
            None => None,
        };
        let found = spotting::find(&adapt::planes_of(&picture), depth.as_ref());
        Ok(found.iter().map(spot_of).collect())
    }
}

fn spot_of(found: &Found) -> Spot {
    let confidence = (found.confidence * 1e3).round() * 1e-3;
    let shape = match (found.kind, found.points.as_slice()) {
        (Kind::Dust, [at, ..]) => PatchShape::Dab {
            at: *at,
            radius_px: found.width_px * 0.5 + RIM_PX,
        },
        (Kind::Dust | Kind::Hair, points) => PatchShape::Line {
            points: points.to_vec(),
            width_px: found.width_px + 2.0 * RIM_PX,
        },
    };
    Spot {
        is_hair: found.kind == Kind::Hair,
        bounds: found.bounds(),
        confidence,
        patch: Patch {
            shape,
            from: PatchFrom::Surroundings,
            feather_px: FEATHER_PX,
            confidence: Some(confidence),
            verdict: Verdict::Undecided,
        },
    }
}
