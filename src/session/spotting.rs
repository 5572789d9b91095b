//! Dust and hair of a plate of the project: looked for, and recorded as places that are filled.

use crate::engine::measure::spots::{Spots, USUAL_CONFIDENCE};
use crate::engine::{STRETCH_WARNS, Watch};
use crate::geometry::Point;
use crate::pixels::convert::count_f64;
use crate::project::{
    Edit, Patch, Plate, PlateEdit, PlateId, Spotting, Step, StepId, StepKind, VariantId, Verdict,
    WarpKind,
};
use crate::session::{Session, SessionError};

/// Confidence below which a find is not worth keeping.
const WORTH_KEEPING: f32 = 0.2;
/// The most finds that are kept, the surest: nobody looks through more.
const MOST_FINDS: usize = 500;

/// What a warp does at worst.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WarpStretch {
    /// The largest stretch, times as long as it was.
    pub most: f32,
    /// A place that is stretched so far that its texture shows it; `None` without any.
    pub beyond: Option<Point>,
    /// Whether the picture folds over itself somewhere.
    pub folds: bool,
}

/// What a warp step does at worst; `None` where it is no warp, or cannot be carried out.
#[must_use]
pub fn stretch_of(plate: &Plate, step: &Step) -> Option<WarpStretch> {
    let found = crate::engine::stretch_of(plate, step)?;
    let place = found.beyond;
    let middle = Point::new(
        f64::from(place.x0 + place.x1) * 0.5,
        f64::from(place.y0 + place.y1) * 0.5,
    );
    Some(WarpStretch {
        most: found.most,
        beyond: (!place.is_empty()).then_some(middle),
        folds: found.least_area <= 0.0,
    })
}

/// What the warps of a plate do at one place of the warped plate.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StretchedHere {
    /// The place.
    pub at: Point,
    /// The largest stretch there, times as long as it was.
    pub stretch: f32,
    /// Whether the picture folds over itself there.
    pub folds: bool,
}

/// Those of `places` where the warps of a plate stretch it so far that its texture shows it, or fold it.
#[must_use]
pub fn stretch_map(plate: &Plate, places: &[Point]) -> Vec<StretchedHere> {
    let found = crate::engine::stretch_at(plate, places);
    let here = places.iter().zip(found).map(|(at, found)| StretchedHere {
        at: *at,
        stretch: found.stretch,
        folds: found.area <= 0.0,
    });
    here.filter(|here| here.folds || here.stretch > STRETCH_WARNS)
        .collect()
}

/// Whether a step is a warp that moves something; one by handles does nothing before its first handle.
#[must_use]
pub fn moves(step: &Step) -> bool {
    match &step.kind {
        StepKind::Warp(warp) => match &warp.kind {
            WarpKind::Handles { handles, lines, .. } => !(handles.is_empty() && lines.is_empty()),
            WarpKind::Strake { .. } | WarpKind::Corners { .. } => true,
        },
        StepKind::Matte(_) | StepKind::Grade(_) | StepKind::Spotting(_) | StepKind::PaintOut(_) => {
            false
        }
    }
}

/// A spotting step before anything is in it.
#[must_use]
pub fn first_spotting() -> Spotting {
    Spotting {
        least_confidence: USUAL_CONFIDENCE,
        ..Spotting::default()
    }
}

/// Where a point that a warp step has moved was before; `None` where the step cannot be carried out.
#[must_use]
pub fn before_warp(step: &Step, point: Point) -> Option<Point> {
    crate::engine::before_warp(step, point)
}

/// The middle of a place that is filled.
#[must_use]
pub fn middle_of(patch: &Patch) -> Point {
    let points = patch.shape.points();
    let count = count_f64(points.len().max(1));
    let sum = points.iter().fold(Point::default(), |sum, point| {
        Point::new(sum.x + point.x, sum.y + point.y)
    });
    Point::new(sum.x / count, sum.y / count)
}

/// Whether people have said about a place what it is.
fn is_settled(patch: &Patch) -> bool {
    patch.confidence.is_none() || patch.verdict != Verdict::Undecided
}

/// Whether two finds are of the same speck: the middle of one lies within the other's reach.
fn is_same(known: &Patch, found: &Patch) -> bool {
    let reach = f64::from(known.shape.radius_px().max(found.shape.radius_px()));
    middle_of(known).distance(middle_of(found)) <= reach
}

impl Session {
    /// Looks for dust and hair on a plate; `cleaned` is another source of it that was taken of the same pose after cleaning. The plate and
    /// that source must have been measured.
    ///
    /// # Errors
    /// When a photo cannot be read, or the work was stopped.
    pub fn find_spots(
        &self,
        plate: PlateId,
        cleaned: Option<VariantId>,
        watch: &dyn Watch,
    ) -> Result<Spots, SessionError> {
        let world = self.world(watch);
        Ok(self.engine().find_spots(&world, plate, cleaned)?)
    }

    /// Looks for dust and hair on a plate (as [`Session::find_spots`]) and records what was found in its spotting step, as one edit: places
    /// set by hand, accepted or refused stay, others are found anew. Gives how many there are.
    ///
    /// # Errors
    /// When a photo cannot be read, or the work was stopped.
    pub fn record_spots(
        &mut self,
        plate: PlateId,
        cleaned: Option<VariantId>,
        watch: &dyn Watch,
    ) -> Result<usize, SessionError> {
        let gone = || SessionError::Refused("this plate is not in the scene any more".to_owned());
        self.measure_all(watch)?;
        if let Some(cleaned) = cleaned {
            self.measure_source(plate, cleaned, watch)?;
        }
        let Spots { spots, look_alikes } = self.find_spots(plate, cleaned, watch)?;
        let plate_of = self.project().plate(plate).ok_or_else(gone)?;
        let before = plate_of.steps.iter().find_map(|step| match &step.kind {
            StepKind::Spotting(spotting) => Some((step.clone(), spotting.clone())),
            StepKind::Matte(_) | StepKind::Grade(_) | StepKind::PaintOut(_) | StepKind::Warp(_) => {
                None
            }
        });
        let (step, spotting) = match before {
            Some((step, spotting)) => (Some(step), spotting),
            None => (None, first_spotting()),
        };
        let kept = spotting.patches.iter().filter(|patch| is_settled(patch));
        let mut patches: Vec<Patch> = kept.cloned().collect();
        let is_new = |found: &Patch| {
            let mut known = patches.iter().filter(|patch| patch.confidence.is_some());
            !known.any(|known| is_same(known, found))
        };
        let new = spots.into_iter().map(|spot| spot.patch);
        let new: Vec<Patch> = new
            .filter(|patch| patch.confidence.is_some_and(|sure| sure >= WORTH_KEEPING))
            .filter(is_new)
            .take(MOST_FINDS)
            .collect();
        patches.extend(new);
        let found = patches.len();
        let kind = StepKind::Spotting(Spotting {
            patches,
            look_alikes,
            ..spotting
        });
        let edit = match step {
            Some(step) => PlateEdit::SetStep(Step { kind, ..step }),
            None => PlateEdit::AddStep {
                step: Step {
                    id: StepId(self.next_id()),
                    on: true,
                    mask: None,
                    kind,
                },
                at: 0,
            },
        };
        self.record(Edit::Plate(plate, edit))?;
        Ok(found)
    }
}
