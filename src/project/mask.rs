//! Where, and how strongly, a step acts: strokes, outlines and ranges as people set them, never as bitmaps.

use crate::geometry::Point;
use crate::project::stack::{is_yes, yes};
use crate::project::{MaskId, PartId, PassId};
use imbl::Vector;
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
    /// Its parts, first drawn first. Copies share them, so that a mask of many strokes costs no more to change than one of few.
    #[serde(default)]
    pub parts: Vector<Arc<MaskPart>>,
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

/// How a part joins what was drawn before it: both together, without it, or within it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Sign {
    /// The part's place joins the mask.
    #[default]
    Add,
    /// The part's place leaves the mask.
    Remove,
    /// What was drawn so far stays only inside the part's place.
    Within,
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
        /// How hard a pen pressed at each point, 0..=1: the width follows it. Points without one were pressed fully.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        pressure: Vec<f32>,
    },
    /// A closed outline.
    Outline {
        /// Its corners in order.
        nodes: Vec<Node>,
        /// Pixels its edge is softened by.
        feather_px: f32,
    },
    /// Not drawn, but following from what a picture shows or from another mask.
    Rule(Rule),
}

/// A part of a mask that follows from something else.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub enum Rule {
    /// Where brightness lies in a range.
    Brightness {
        /// Of which picture.
        of: RangeOf,
        /// Brightness as it is seen (sRGB-encoded luminance), 0..=1, from which on it counts.
        low: f32,
        /// Up to which it counts; from 1 on without end.
        high: f32,
        /// Over how much brightness it fades out at both ends, 0..=1.
        soft: f32,
    },
    /// Where colour is near a picked one, however bright.
    Colour {
        /// Of which picture.
        of: RangeOf,
        /// The picked colour: linear red, green, blue of the working space.
        picked_rgb: [f32; 3],
        /// Distance on the CIE 1976 u'v' diagram up to which it counts, 0..=0.6.
        reach: f32,
        /// Distance over which it fades out beyond, 0..=0.6.
        soft: f32,
    },
    /// Where depth, as the focus of a stack found it, lies in a range.
    Depth {
        /// Place in the stack's focus from which on it counts: 0 the first frame, 1 the last.
        near: f32,
        /// Up to which it counts.
        far: f32,
        /// Over how much it fades out at both ends, 0..=1.
        soft: f32,
    },
    /// Another mask of the same plate, as it comes out.
    Mask {
        /// Which.
        mask: MaskId,
    },
}

/// Which picture a range is taken from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum RangeOf {
    /// The plate before its lights.
    #[default]
    Plate,
    /// The separated light of a pass.
    Light(PassId),
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
    /// The masks its parts take in.
    pub fn masks_used(&self) -> impl Iterator<Item = MaskId> {
        self.parts.iter().filter_map(|part| part.shape.mask_used())
    }

    /// The passes whose light its parts look at.
    pub fn passes_used(&self) -> impl Iterator<Item = PassId> {
        self.parts.iter().filter_map(|part| part.shape.pass_used())
    }

    /// An empty mask.
    #[must_use]
    pub fn new(id: MaskId, name: String) -> Self {
        Self {
            id,
            name,
            parts: Vector::new(),
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
            Self::Rule(rule) => rule.word(),
        }
    }

    /// The mask it takes in.
    #[must_use]
    pub const fn mask_used(&self) -> Option<MaskId> {
        match self {
            Self::Rule(Rule::Mask { mask }) => Some(*mask),
            Self::Rule(_) | Self::Stroke { .. } | Self::Outline { .. } => None,
        }
    }

    /// The pass whose light it looks at.
    #[must_use]
    pub const fn pass_used(&self) -> Option<PassId> {
        match self {
            Self::Rule(Rule::Brightness { of, .. } | Rule::Colour { of, .. }) => match of {
                RangeOf::Light(pass) => Some(*pass),
                RangeOf::Plate => None,
            },
            Self::Rule(Rule::Depth { .. } | Rule::Mask { .. })
            | Self::Stroke { .. }
            | Self::Outline { .. } => None,
        }
    }
}

impl Rule {
    /// The rule's word.
    #[must_use]
    pub const fn word(&self) -> &'static str {
        match self {
            Self::Brightness { .. } => "brightness range",
            Self::Colour { .. } => "colour range",
            Self::Depth { .. } => "depth range",
            Self::Mask { .. } => "mask",
        }
    }
}
