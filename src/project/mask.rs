//! Where, and how strongly, a step acts: strokes and outlines as people drew them, never as bitmaps.

use crate::geometry::Point;
use crate::project::stack::{is_yes, yes};
use crate::project::{MaskId, PartId};
use serde::{Deserialize, Serialize};
use std::sync::Arc;

/// A mask in a plate's reference pixels: its parts in order, then grow and feather, then perhaps turned round.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Mask {
    /// Its number in this project.
    pub id: MaskId,
    /// What people call it.
    pub name: String,
    /// Its parts, first drawn first.
    #[serde(default)]
    pub parts: Vec<Arc<MaskPart>>,
    /// Pixels to grow (positive) or shrink (negative) by, -200..=200.
    #[serde(default)]
    pub grow_px: f32,
    /// Pixels to soften the whole mask by, 0..=500.
    #[serde(default)]
    pub feather_px: f32,
    /// Whether inside and outside change places.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub inverted: bool,
}

/// One thing drawn into a mask.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct MaskPart {
    /// Its number in this project.
    pub id: PartId,
    /// Whether it adds to the mask or takes away.
    #[serde(default)]
    pub sign: Sign,
    /// How strongly, 0..=1.
    pub strength: f32,
    /// Whether it counts.
    #[serde(default = "yes", skip_serializing_if = "is_yes")]
    pub on: bool,
    /// What was drawn.
    pub shape: Shape,
}

/// Whether a part adds or takes away.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Sign {
    /// The part's place joins the mask.
    #[default]
    Add,
    /// The part's place leaves the mask.
    Remove,
}

/// What was drawn.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub enum Shape {
    /// A brushed path.
    Stroke {
        /// The path, in reference pixels; one point is a dab.
        points: Vec<Point>,
        /// Half the width, in reference pixels.
        radius_px: f32,
        /// From 0 (hard edge) to 1 (soft from the middle).
        softness: f32,
    },
    /// A closed outline.
    Outline {
        /// Its corners in order.
        nodes: Vec<Node>,
        /// Pixels its edge is softened by.
        feather_px: f32,
    },
}

/// A corner of an outline, with the handles of a cubic curve where it is curved.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Node {
    /// Where it is.
    pub at: Point,
    /// Handle towards the node before, relative to `at`; straight without.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub before: Option<Point>,
    /// Handle towards the node after, relative to `at`; straight without.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub after: Option<Point>,
}

impl Node {
    /// A sharp corner.
    #[must_use]
    pub const fn corner(at: Point) -> Self {
        Self {
            at,
            before: None,
            after: None,
        }
    }
}

impl Mask {
    /// An empty mask.
    #[must_use]
    pub const fn new(id: MaskId, name: String) -> Self {
        Self {
            id,
            name,
            parts: Vec::new(),
            grow_px: 0.0,
            feather_px: 0.0,
            inverted: false,
        }
    }
}

impl Shape {
    /// The shape's word.
    #[must_use]
    pub const fn word(&self) -> &'static str {
        match self {
            Self::Stroke { .. } => "stroke",
            Self::Outline { .. } => "outline",
        }
    }
}
