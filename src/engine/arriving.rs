//! A frame on its way to the plate, piece by piece.

use crate::engine::developing::Developing;
use crate::engine::frames::{FramePlan, on_plate, unreadable};
use crate::engine::{EngineError, World, adapt};
use crate::geometry::{Rect, Transform};
use crate::imaging::basics::colour::ColourError;
use crate::imaging::basics::resample::{self, Kernel};
use crate::imaging::fuse::{Coloured, Pieces};
use crate::pixels::convert::floor_f64;
use crate::pixels::{Plane, Planes, Samples};
use crate::project::Develop;
use std::sync::Arc;

/// A frame on its way to the plate, piece by piece, so that nothing the size of a whole frame is needed but its numbers.
pub(super) struct Arriving<'a> {
    plan: &'a FramePlan,
    samples: Arc<Samples>,
    developing: Developing<'a>,
    frame_from_plate: Transform,
    /// The frame on the plate, where it needs a mesh.
    bent: Option<(Planes, Plane)>,
}

/// Pixels around those that a kernel reads: what mending hot pixels looks at, and what the sampler takes in advance.
const AROUND: i32 = 6;

impl<'a> Arriving<'a> {
    /// The frame of `plan` on the pixels of `plate`.
    ///
    /// # Errors
    /// When it cannot be read.
    pub(super) fn open(
        world: &World<'_>,
        plan: &'a FramePlan,
        develop: &'a Develop,
        plate: Rect,
    ) -> Result<Self, EngineError> {
        let samples = world.sources.samples(&plan.frame)?;
        Self::of(world, (plan, samples), develop, plate)
    }

    /// The frame of `plan`, whose numbers are `samples`, on the pixels of `plate`.
    ///
    /// # Errors
    /// When its colours cannot be read.
    pub(super) fn of(
        world: &World<'_>,
        (plan, samples): (&'a FramePlan, Arc<Samples>),
        develop: &'a Develop,
        plate: Rect,
    ) -> Result<Self, EngineError> {
        let developing =
            Developing::of(plan, &samples, develop).map_err(|why| unreadable(&plan.frame, &why))?;
        let bent = if plan.is_bent() {
            Some(on_plate(world, plan, develop, plate)?)
        } else {
            None
        };
        Ok(Self {
            plan,
            samples,
            developing,
            frame_from_plate: plan.frame_from_plate()?,
            bent,
        })
    }

    /// What `developed` makes of the pixels of the frame that sampling `rect` reads; the nearest one where `rect` lies outside.
    fn needed<P>(
        &self,
        (rect, kernel): (Rect, Kernel),
        developed: impl Fn(&Developing<'a>, &Samples, Rect) -> Result<P, ColourError>,
    ) -> Result<P, EngineError> {
        let whole = self.samples.size.rect();
        let mut needed = resample::needed(rect, &self.frame_from_plate, kernel)
            .grow(AROUND)
            .intersect(whole);
        if needed.is_empty() {
            let middle = self.frame_from_plate.apply(rect.middle());
            let near = |at: f64, end: i32| floor_f64(at).clamp(0, end - 1);
            let (x, y) = (near(middle.x, whole.x1), near(middle.y, whole.y1));
            needed = Rect::new(x, y, x + 1, y + 1);
        }
        developed(&self.developing, &self.samples, needed)
            .map_err(|why| unreadable(&self.plan.frame, &why))
    }

    /// The light of `rect`.
    pub(super) fn light(&self, rect: Rect) -> Result<Planes, EngineError> {
        if let Some((light, _)) = &self.bent {
            return Ok(light.crop(rect));
        }
        let planes = self.needed((rect, Kernel::Lanczos3), Developing::pixels)?;
        if planes.rect().area() == 1 {
            let filled = |plane: &Plane| Plane::filled(rect, plane.data[0]);
            return Ok(Planes {
                rgb: planes.rgb.each_ref().map(filled),
            });
        }
        let from = &self.frame_from_plate;
        let light = resample::sample_light(&planes, rect, from, Kernel::Lanczos3);
        planes.give_back();
        Ok(light)
    }

    fn lies(&self, rect: Rect) -> Option<Plane> {
        if let Some((_, valid)) = &self.bent {
            return Some(valid.crop(rect));
        }
        resample::presence(self.samples.size.rect(), rect, &self.frame_from_plate)
    }
}

impl Pieces<Coloured> for Arriving<'_> {
    type Error = EngineError;

    fn piece(&self, rect: Rect) -> Result<Coloured, EngineError> {
        Ok(Coloured {
            guide: None,
            pixels: self.light(rect)?,
        })
    }

    fn presence(&self, rect: Rect) -> Option<Plane> {
        self.lies(rect)
    }
}

impl Pieces<Plane> for Arriving<'_> {
    type Error = EngineError;

    fn piece(&self, rect: Rect) -> Result<Plane, EngineError> {
        if let Some((light, _)) = &self.bent {
            return Ok(adapt::luma(&light.crop(rect)));
        }
        let luma = self.needed((rect, Kernel::Cubic), Developing::luma)?;
        if luma.rect.area() == 1 {
            return Ok(Plane::filled(rect, luma.data[0]));
        }
        let from = &self.frame_from_plate;
        let sampled = resample::sample_values(&luma, rect, from, Kernel::Cubic);
        luma.give_back();
        Ok(sampled)
    }

    fn presence(&self, rect: Rect) -> Option<Plane> {
        self.lies(rect)
    }
}
