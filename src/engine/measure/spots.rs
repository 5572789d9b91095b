//! Dust and hair on a plate, as places that a spotting step can fill.

use crate::engine::plate_tiles::{PlatePlan, Stage};
use crate::engine::wholes::{self, Product};
use crate::engine::{Engine, EngineError, World, adapt};
use crate::geometry::Rect;
use crate::imaging::spotting::{self, Found, Kind};
use crate::pixels::Image;
use crate::project::{Patch, PatchFrom, PatchShape, Plate, PlateId, VariantId, Verdict};

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

/// What was found on a plate.
#[derive(Debug, Clone, PartialEq)]
pub struct Spots {
    /// Every find, the surest first.
    pub spots: Vec<Spot>,
    /// Places passed over because there is too much around them that looks like dust for one picture to tell.
    pub look_alikes: usize,
}

/// How much wider than a find its patch is, px on every side: a grain's soft rim is darker than its ground too.
const RIM_PX: f32 = 1.5;
/// Softness of a patch's edge, px.
const FEATHER_PX: f32 = 1.0;

impl Engine {
    /// Looks for dust and hair on the fused plate.
    ///
    /// `cleaned`: another source of the plate, taken of the same pose after cleaning; what it does not show is dust or hair, and is filled
    /// from it. It must have been measured. Without one, finds are told from what is built by their looks alone.
    ///
    /// # Errors
    /// When a source cannot be read or was not measured, or the work was stopped.
    pub fn find_spots(
        &self,
        world: &World<'_>,
        plate: PlateId,
        cleaned: Option<VariantId>,
    ) -> Result<Spots, EngineError> {
        let not_prepared = || EngineError::NotPrepared(plate);
        let plate_of = world.project.plate(plate).ok_or_else(not_prepared)?;
        let plan = PlatePlan::new(&world.project, plate_of)?;
        world.watch.progress("looking for dust and hair", 0, 1);
        let picture = self.plate_picture(world, &plan, Stage::Fused)?;
        if let Some(variant) = cleaned {
            let found = self.found_against(world, (plate_of, &plan), (&picture, variant))?;
            let from = PatchFrom::OtherTake { variant };
            return Ok(Spots {
                spots: found.iter().map(|found| spot_of(found, from)).collect(),
                look_alikes: 0,
            });
        }
        let depth = match plan.stack_whole() {
            Some(whole) => {
                let all = (0, plan.size.rect());
                let depth = self.whole_area(world, whole, Product::Depth, all)?;
                Some(adapt::channel(&depth, 0))
            }
            None => None,
        };
        let finds = spotting::find(&adapt::planes_of(&picture), depth.as_ref());
        let from = PatchFrom::Surroundings;
        Ok(Spots {
            spots: finds
                .found
                .iter()
                .map(|found| spot_of(found, from))
                .collect(),
            look_alikes: finds.look_alikes,
        })
    }

    /// What the fused plate shows and another source of it does not.
    fn found_against(
        &self,
        world: &World<'_>,
        (plate, plan): (&Plate, &PlatePlan),
        (picture, variant): (&Image, VariantId),
    ) -> Result<Vec<Found>, EngineError> {
        let source = plate.variant_by_id(variant);
        let source = source.ok_or(EngineError::NotPrepared(plate.id))?;
        let other = match plan.stack_whole() {
            Some(like) => wholes::joined_like(&world.project, plate, source, like)?,
            None => wholes::fused(&world.project, plate, source)?,
        };
        let other = self.whole_picture(world, &other)?;
        let (light, covered) = adapt::planes_and_coverage(picture);
        let (cleaned, also_covered) = adapt::planes_and_coverage(&other);
        let shown = adapt::least(&covered, &also_covered);
        Ok(spotting::find_against(&light, &cleaned, &shown))
    }
}

fn spot_of(found: &Found, from: PatchFrom) -> Spot {
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
            from,
            feather_px: FEATHER_PX,
            confidence: Some(confidence),
            verdict: Verdict::Undecided,
        },
    }
}
