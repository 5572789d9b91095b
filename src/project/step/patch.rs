//! Spotting and paint-out: places of a plate that are filled anew.

use crate::geometry::Point;
use crate::project::stack::is_default;
use crate::project::{FrameId, PassId, VariantId};
use serde::{Deserialize, Serialize};

/// Dust and hair taken off, place by place.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Spotting {
    /// The places.
    pub patches: Vec<Patch>,
    /// Found places of a lower confidence are left as they are, 0..=1; those set by hand always count.
    #[serde(skip_serializing_if = "is_default")]
    pub least_confidence: f32,
    /// Places that were passed over when they were looked for: on ground that is full of what looks like dust, one picture cannot tell.
    #[serde(skip_serializing_if = "is_default")]
    pub look_alikes: usize,
}

/// Stands, rods and wires taken out.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct PaintOut {
    /// The places.
    pub patches: Vec<Patch>,
    /// Whether somebody has looked for what the stand left on the model: its shadow and its reflection.
    #[serde(skip_serializing_if = "is_default")]
    pub shadow_seen_to: bool,
}

/// One place that is filled anew, in reference pixels.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Patch {
    /// Where.
    pub shape: PatchShape,
    /// With what.
    #[serde(default, skip_serializing_if = "is_default")]
    pub from: PatchFrom,
    /// Softness of its edge, px, 0..=50.
    pub feather_px: f32,
    /// How sure the finder was, 0..=1; `None` for a place set by hand.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub confidence: Option<f32>,
    /// What somebody decided about a found place.
    #[serde(default, skip_serializing_if = "is_default")]
    pub verdict: Verdict,
}

/// What somebody decided about a place that the finder proposed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// Nothing yet: its confidence decides.
    #[default]
    Undecided,
    /// It is filled, however unsure the finder was.
    Accepted,
    /// It stays as it is, and is not proposed again.
    Refused,
}

/// The place of a patch.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub enum PatchShape {
    /// A round dab.
    Dab {
        /// Its centre.
        at: Point,
        /// Its radius, px, 0.5..=500.
        radius_px: f32,
    },
    /// A hair, a scratch, a wire: a line of one width.
    Line {
        /// Its course, at least one point.
        points: Vec<Point>,
        /// Its width, px, 1..=500.
        width_px: f32,
    },
    /// The inside of a closed line.
    Outline {
        /// Its corners, at least three.
        points: Vec<Point>,
    },
}

/// What a patch is filled with.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub enum PatchFrom {
    /// The best matching pieces of the surroundings.
    #[default]
    Surroundings,
    /// The same plate so far away.
    Place {
        /// From the patch to what is copied, px.
        offset: Point,
    },
    /// A pass that shows the set without the model, or without its stand.
    CleanPlate {
        /// The pass.
        pass: PassId,
    },
    /// Another source of the plate, such as one on another mount.
    OtherTake {
        /// The source.
        variant: VariantId,
    },
    /// One frame of a stack of the plate, registered and matched as recorded.
    Frame {
        /// The frame.
        frame: FrameId,
    },
}

impl PatchFrom {
    /// Whether it is another picture than the plate itself.
    #[must_use]
    pub const fn is_another_picture(self) -> bool {
        match self {
            Self::Surroundings | Self::Place { .. } => false,
            Self::CleanPlate { .. } | Self::OtherTake { .. } | Self::Frame { .. } => true,
        }
    }
}

impl Spotting {
    /// Whether a place is filled: set by hand, accepted, or found surely enough and not refused.
    #[must_use]
    pub fn takes(&self, patch: &Patch) -> bool {
        match (patch.verdict, patch.confidence) {
            (_, None) | (Verdict::Accepted, _) => true,
            (Verdict::Refused, _) => false,
            (Verdict::Undecided, Some(confidence)) => confidence >= self.least_confidence,
        }
    }

    /// The finds that nobody decided about and that would be filled.
    pub fn undecided(&self) -> impl Iterator<Item = &Patch> {
        let patches = self.patches.iter();
        patches.filter(|patch| {
            patch.confidence.is_some() && patch.verdict == Verdict::Undecided && self.takes(patch)
        })
    }
}

impl PatchShape {
    /// Points that say where it lies.
    #[must_use]
    pub fn points(&self) -> &[Point] {
        match self {
            Self::Dab { at, .. } => std::slice::from_ref(at),
            Self::Line { points, .. } | Self::Outline { points } => points,
        }
    }

    /// Radius of the largest disc inside it, px; of an outline at most.
    #[must_use]
    pub fn radius_px(&self) -> f32 {
        match self {
            Self::Dab { radius_px, .. } => *radius_px,
            Self::Line { width_px, .. } => *width_px * 0.5,
            Self::Outline { .. } => 9.0,
        }
    }
}
