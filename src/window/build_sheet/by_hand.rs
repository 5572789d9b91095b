//! What the cells of spotting and warp say.

use crate::project::{PassId, Plate, StepKind, WarpKind};
use crate::session::spotting::{moves, stretch_of};
use crate::window::build_sheet::facts::State;
use crate::window::words;

/// The places that spotting and paint-out fill.
pub(super) struct Places {
    pub(super) filled: usize,
    /// Whether finds that nobody decided about, or shadows that nobody looked for, want an eye.
    pub(super) wants: bool,
    /// The passes that they are filled from.
    pub(super) passes: Vec<PassId>,
}

impl Places {
    pub(super) fn of(plate: &Plate) -> Self {
        let mut found = Self {
            filled: 0,
            wants: false,
            passes: Vec::new(),
        };
        for step in plate.steps.iter().filter(|step| step.on) {
            found.wants |= match &step.kind {
                StepKind::Spotting(spotting) => spotting.undecided().next().is_some(),
                StepKind::PaintOut(paint_out) => {
                    !paint_out.shadow_seen_to && !paint_out.patches.is_empty()
                }
                StepKind::Matte(_) | StepKind::Grade(_) | StepKind::Warp(_) => continue,
            };
            found.filled += step.kind.acting_patches().len();
            found.passes.extend(step.kind.passes_used());
        }
        found
    }
}

/// Warps that stretch too far, fold, or cannot be carried out want an eye.
pub(super) fn warp(plate: &Plate) -> (String, State) {
    let (mut all, mut strakes, mut sound) = (0, 0, true);
    for step in plate.steps.iter().filter(|step| step.on && moves(step)) {
        let StepKind::Warp(warp) = &step.kind else {
            continue;
        };
        all += 1;
        strakes += usize::from(matches!(warp.kind, WarpKind::Strake { .. }));
        let found = stretch_of(plate, step);
        sound &= found.is_some_and(|found| found.beyond.is_none() && !found.folds);
    }
    let state = if sound {
        State::Done
    } else {
        State::NeedsALook
    };
    match all {
        0 => (words::NOTHING.to_owned(), State::Empty),
        all if all == strakes => (words::strakes(all), state),
        all => (words::warps(all), state),
    }
}
