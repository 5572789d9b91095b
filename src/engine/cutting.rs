//! Coverage that is found over a whole plate at once: before a plain backdrop, or from two backdrop levels.
//!
//! Kept as one picture: the backdrop's light in each pixel, and the coverage, so that the edge can be freed of it exactly at every
//! zoom level.

use crate::engine::fusing::step;
use crate::engine::masks::MaskPlan;
use crate::engine::stamp::Stamp;
use crate::engine::wholes::{self, Product, WholePlan};
use crate::engine::{Engine, EngineError, World, adapt};
use crate::geometry::Rect;
use crate::imaging::matte;
use crate::pixels::{Image, Plane, Planes};
use crate::project::{Fingerprint, MaskId, Matte, MatteMethod, PassId, Plate, Project};
use std::sync::Arc;

/// How to find a coverage.
#[derive(Debug, Clone)]
pub(super) struct CutPlan {
    fused: WholePlan,
    method: Method,
    core: Option<Arc<MaskPlan>>,
    holdout: Option<Arc<MaskPlan>>,
}

#[derive(Debug, Clone)]
enum Method {
    Plain {
        clean: Option<WholePlan>,
        how: matte::Plain,
    },
    TwoLevels {
        other: WholePlan,
        clean: WholePlan,
        other_clean: WholePlan,
    },
}

impl CutPlan {
    /// Plans the coverage of a matte; `None` where its method needs no whole picture of its own.
    ///
    /// # Errors
    /// When a pass has no frames or the plate is not a photo's.
    pub(super) fn new(
        project: &Project,
        plate: &Plate,
        recorded: &Matte,
    ) -> Result<Option<Self>, EngineError> {
        let pass = |id: PassId| wholes::bare(project, plate, id);
        let method = match recorded.method {
            MatteMethod::Drawn | MatteMethod::Silhouette { .. } => return Ok(None),
            MatteMethod::Plain {
                clean,
                edge_px,
                hole_share,
                least,
            } => Method::Plain {
                clean: clean.map(pass).transpose()?,
                how: matte::Plain {
                    edge_px,
                    hole_share,
                    least,
                },
            },
            MatteMethod::TwoLevels {
                other,
                clean,
                other_clean,
            } => Method::TwoLevels {
                other: pass(other)?,
                clean: pass(clean)?,
                other_clean: pass(other_clean)?,
            },
        };
        let variant = plate.variant().ok_or(EngineError::NotPrepared(plate.id))?;
        let mask = |id: Option<MaskId>| MaskPlan::new(project, plate, id, 0.0);
        Ok(Some(Self {
            fused: wholes::fused(project, plate, variant)?,
            method,
            core: mask(recorded.core)?,
            holdout: mask(recorded.holdout)?,
        }))
    }

    /// Everything it depends on.
    pub(super) fn stamp(&self) -> Fingerprint {
        let stamp = Stamp::new("cut 2").input(self.fused.stamp);
        let stamp = match &self.method {
            Method::Plain { clean, how } => clean.iter().fold(
                stamp.parameters(&(how.edge_px, how.hole_share, how.least)),
                |stamp, clean| stamp.input(clean.stamp),
            ),
            Method::TwoLevels {
                other,
                clean,
                other_clean,
            } => stamp
                .input(other.stamp)
                .input(clean.stamp)
                .input(other_clean.stamp),
        };
        let masks = [("core", &self.core), ("holdout", &self.holdout)];
        let masks = masks
            .into_iter()
            .filter_map(|(name, mask)| Some((name, mask.as_ref()?)));
        masks
            .fold(stamp, |stamp, (name, mask)| {
                mask.stamp_into(stamp.text(name))
            })
            .done()
    }

    /// The whole pictures it is found from.
    pub(super) fn needs(&self) -> Vec<&WholePlan> {
        let mut needs = vec![&self.fused];
        match &self.method {
            Method::Plain { clean, .. } => needs.extend(clean),
            Method::TwoLevels {
                other,
                clean,
                other_clean,
            } => needs.extend([other, clean, other_clean]),
        }
        for mask in [&self.core, &self.holdout].into_iter().flatten() {
            needs.extend(mask.wholes());
        }
        needs
    }
}

impl Engine {
    /// The backdrop's light and the coverage over `rect`, all of the plate.
    pub(super) fn cut(
        &self,
        world: &World<'_>,
        plan: &CutPlan,
        rect: Rect,
    ) -> Result<Image, EngineError> {
        step(world, "finding the matte", 0, 1)?;
        let picture = |whole: &WholePlan| -> Result<Planes, EngineError> {
            let area = self.whole_area(world, whole, Product::Picture, (0, rect))?;
            Ok(adapt::planes_of(&area))
        };
        let quiet = |whole: &WholePlan| picture(whole).map(|planes| matte::quiet_backdrop(&planes));
        let seen = picture(&plan.fused)?;
        match &plan.method {
            Method::Plain { clean, how } => {
                let backdrop = match clean {
                    Some(clean) => quiet(clean)?,
                    None => matte::backdrop_of(&seen),
                };
                let band = self.band(world, plan, rect)?;
                let coverage = matte::before_backdrop(&seen, &backdrop, band.as_ref(), how);
                Ok(matte::backdrop_and_coverage(&backdrop, &coverage))
            }
            Method::TwoLevels {
                other,
                clean,
                other_clean,
            } => {
                let (bare, other_bare) = (quiet(clean)?, quiet(other_clean)?);
                let other = picture(other)?;
                let levels = matte::Levels::default();
                let coverage = matte::two_backdrops([&other, &other_bare], [&seen, &bare], &levels);
                Ok(matte::backdrop_and_coverage(&bare, &coverage))
            }
        }
    }

    /// What core and holdout mattes say is known.
    fn band(
        &self,
        world: &World<'_>,
        plan: &CutPlan,
        rect: Rect,
    ) -> Result<Option<Plane>, EngineError> {
        let core = self.draw_mask(world, plan.core.as_deref(), rect, 0)?;
        let holdout = self.draw_mask(world, plan.holdout.as_deref(), rect, 0)?;
        if core.is_none() && holdout.is_none() {
            return Ok(None);
        }
        let mut band = Plane::filled(rect, 0.5);
        let known = |mask: &Option<Plane>, at: usize| {
            mask.as_ref().is_some_and(|mask| mask.data[at] >= 0.999)
        };
        for (at, value) in band.data.iter_mut().enumerate() {
            if known(&holdout, at) {
                *value = 0.0;
            } else if known(&core, at) {
                *value = 1.0;
            }
        }
        Ok(Some(band))
    }
}
