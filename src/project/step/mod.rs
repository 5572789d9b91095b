//! Steps of a plate: parameters and their limits only.

pub mod grade;
pub mod matte;
pub mod patch;
pub mod warp;

pub use grade::Grade;
pub use matte::{Matte, MatteMethod};
pub use patch::{PaintOut, Patch, PatchFrom, PatchShape, Spotting, Verdict};
pub use warp::{Warp, WarpKind};

use crate::project::stack::{is_yes, yes};
use crate::project::{FrameId, MaskId, PassId, StepId, VariantId};
use serde::{Deserialize, Serialize};

/// One recorded operation on a plate.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Step {
    /// Its number in this project.
    pub id: StepId,
    /// Whether it acts.
    #[serde(default = "yes", skip_serializing_if = "is_yes")]
    pub on: bool,
    /// Where it acts; everywhere without one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mask: Option<MaskId>,
    /// What it does.
    pub kind: StepKind,
}

/// What a step does. A changed meaning of a parameter is a new kind, never a silent change.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub enum StepKind {
    /// Sets the plate's coverage.
    Matte(Matte),
    /// Brings the plate's light to that of the scene.
    Grade(Grade),
    /// Takes dust and hair off.
    Spotting(Spotting),
    /// Takes stands, rods and wires out.
    PaintOut(PaintOut),
    /// Changes the model's geometry.
    Warp(Warp),
}

impl StepKind {
    /// The kind's word.
    #[must_use]
    pub const fn word(&self) -> &'static str {
        match self {
            Self::Matte(_) => "matte",
            Self::Grade(_) => "grade",
            Self::Spotting(_) => "spotting",
            Self::PaintOut(_) => "paint-out",
            Self::Warp(_) => "warp",
        }
    }

    /// The matte, where it is one.
    #[must_use]
    pub const fn matte(&self) -> Option<&Matte> {
        match self {
            Self::Matte(matte) => Some(matte),
            Self::Grade(_) | Self::Spotting(_) | Self::PaintOut(_) | Self::Warp(_) => None,
        }
    }

    /// The places that are filled anew.
    #[must_use]
    pub fn patches(&self) -> &[Patch] {
        match self {
            Self::Spotting(spotting) => &spotting.patches,
            Self::PaintOut(paint_out) => &paint_out.patches,
            Self::Matte(_) | Self::Grade(_) | Self::Warp(_) => &[],
        }
    }

    /// The places that are filled anew, without those found too unsurely.
    #[must_use]
    pub fn acting_patches(&self) -> Vec<&Patch> {
        match self {
            Self::Spotting(spotting) => {
                let patches = spotting.patches.iter();
                patches.filter(|patch| spotting.takes(patch)).collect()
            }
            Self::PaintOut(paint_out) => paint_out.patches.iter().collect(),
            Self::Matte(_) | Self::Grade(_) | Self::Warp(_) => Vec::new(),
        }
    }

    /// The passes it looks at.
    #[must_use]
    pub fn passes_used(&self) -> Vec<PassId> {
        let by_matte = self.matte().into_iter();
        let by_matte = by_matte.flat_map(|matte| matte.method.passes_used());
        let by_patches = self.patches().iter().filter_map(|patch| match patch.from {
            PatchFrom::CleanPlate { pass } => Some(pass),
            PatchFrom::Surroundings
            | PatchFrom::Place { .. }
            | PatchFrom::OtherTake { .. }
            | PatchFrom::Frame { .. } => None,
        });
        by_matte.chain(by_patches).collect()
    }

    /// The sources of the plate it looks at, besides the one in use.
    pub fn variants_used(&self) -> impl Iterator<Item = VariantId> {
        self.patches().iter().filter_map(|patch| match patch.from {
            PatchFrom::OtherTake { variant } => Some(variant),
            PatchFrom::Surroundings
            | PatchFrom::Place { .. }
            | PatchFrom::CleanPlate { .. }
            | PatchFrom::Frame { .. } => None,
        })
    }

    /// The single frames it looks at.
    pub fn frames_used(&self) -> impl Iterator<Item = FrameId> {
        self.patches().iter().filter_map(|patch| match patch.from {
            PatchFrom::Frame { frame } => Some(frame),
            PatchFrom::Surroundings
            | PatchFrom::Place { .. }
            | PatchFrom::CleanPlate { .. }
            | PatchFrom::OtherTake { .. } => None,
        })
    }

    /// The masks it looks at besides the step's own.
    pub fn masks_used(&self) -> impl Iterator<Item = MaskId> {
        let mattes = self.matte().into_iter();
        mattes.flat_map(|matte| matte.core.into_iter().chain(matte.holdout))
    }

    /// Forgets a mask that is taken away.
    pub(super) fn forget_mask(&mut self, gone: MaskId) {
        if let Self::Matte(matte) = self {
            matte.core = matte.core.filter(|mask| *mask != gone);
            matte.holdout = matte.holdout.filter(|mask| *mask != gone);
        }
    }
}
