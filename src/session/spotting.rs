//! Dust and hair of a plate of the project: looked for, and recorded as places that are filled.

use crate::engine::Watch;
use crate::engine::measure::spots::{Spot, USUAL_CONFIDENCE};
use crate::project::{Edit, PlateEdit, PlateId, Spotting, Step, StepId, StepKind};
use crate::session::{Session, SessionError};

/// Confidence below which a find is not worth keeping.
const WORTH_KEEPING: f32 = 0.2;

impl Session {
    /// Every find on a plate, the surest first. The plate must have been measured.
    ///
    /// # Errors
    /// When a photo cannot be read, or the work was stopped.
    pub fn find_spots(&self, plate: PlateId, watch: &dyn Watch) -> Result<Vec<Spot>, SessionError> {
        Ok(self.engine().find_spots(&self.world(watch), plate)?)
    }

    /// Looks for dust and hair on a plate and records what was found in its spotting step, as one edit: places set by hand stay, places
    /// found before are found anew. Gives how many there are.
    ///
    /// # Errors
    /// When a photo cannot be read, or the work was stopped.
    pub fn record_spots(
        &mut self,
        plate: PlateId,
        watch: &dyn Watch,
    ) -> Result<usize, SessionError> {
        let gone = || SessionError::Refused("this plate is not in the scene any more".to_owned());
        self.measure_all(watch)?;
        let spots = self.find_spots(plate, watch)?;
        let plate_of = self.project().plate(plate).ok_or_else(gone)?;
        let before = plate_of.steps.iter().find_map(|step| match &step.kind {
            StepKind::Spotting(spotting) => Some((step.clone(), spotting.clone())),
            StepKind::Matte(_) | StepKind::Grade(_) | StepKind::PaintOut(_) | StepKind::Warp(_) => {
                None
            }
        });
        let (step, spotting) = match before {
            Some((step, spotting)) => (Some(step), spotting),
            None => (
                None,
                Spotting {
                    least_confidence: USUAL_CONFIDENCE,
                    ..Spotting::default()
                },
            ),
        };
        let by_hand = spotting
            .patches
            .iter()
            .filter(|patch| patch.confidence.is_none());
        let mut patches: Vec<_> = by_hand.cloned().collect();
        let kept = spots
            .into_iter()
            .filter(|spot| spot.confidence >= WORTH_KEEPING);
        patches.extend(kept.map(|spot| spot.patch));
        let found = patches.len();
        let kind = StepKind::Spotting(Spotting {
            patches,
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
