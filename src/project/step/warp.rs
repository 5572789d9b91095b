//! The warp: local changes of a model's geometry. Whatever its place among the steps, it moves the plate when all others are done.

use crate::geometry::Point;
use crate::project::stack::is_default;
use serde::{Deserialize, Serialize};

/// One local change of geometry, in reference pixels.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Warp {
    /// What is moved.
    pub kind: WarpKind,
    /// Pixels over which the move dies away, 1..=5000; widened where the picture would fold.
    pub soft_px: f32,
}

/// What a warp moves.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub enum WarpKind {
    /// A band between two guide lines stretches when one of them is moved.
    Strake {
        /// The line that stays, at least two points.
        kept: Vec<Point>,
        /// The line that is moved, where it was.
        was: Vec<Point>,
        /// Where it is now, point by point.
        now: Vec<Point>,
        /// Whether the band lies over what is beyond the moved line (a gap is closed) or pushes it on.
        #[serde(default, skip_serializing_if = "is_default")]
        covers: bool,
    },
    /// Points are moved inside an outline that stays; the model follows as stiffly as it can.
    Handles {
        /// Where they were and where they are now.
        handles: Vec<[Point; 2]>,
        /// Straight lines that stay straight: ends as they were, ends as they are now.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        lines: Vec<[Point; 4]>,
        /// The outline, at least three corners; without one everything moves.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        outline: Vec<Point>,
    },
    /// Four corners are moved.
    Corners {
        /// Where they were, in order round the region.
        was: [Point; 4],
        /// Where they are now.
        now: [Point; 4],
    },
}

impl WarpKind {
    /// Every point in it.
    #[must_use]
    pub fn points(&self) -> Vec<Point> {
        match self {
            Self::Strake { kept, was, now, .. } => {
                kept.iter().chain(was).chain(now).copied().collect()
            }
            Self::Handles {
                handles,
                lines,
                outline,
            } => {
                let handles = handles.iter().flatten();
                let lines = lines.iter().flatten();
                handles.chain(lines).chain(outline).copied().collect()
            }
            Self::Corners { was, now } => was.iter().chain(now).copied().collect(),
        }
    }

    /// Its word.
    #[must_use]
    pub const fn word(&self) -> &'static str {
        match self {
            Self::Strake { .. } => "strake",
            Self::Handles { .. } => "handles",
            Self::Corners { .. } => "corners",
        }
    }
}
