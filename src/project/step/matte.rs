//! The matte: a plate's coverage.

use crate::project::stack::is_default;
use crate::project::{MaskId, PassId};
use serde::{Deserialize, Serialize};

/// How a plate is cut out. The step's mask, where it has one, is a garbage matte: outside it the plate is empty.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Matte {
    /// Where the coverage comes from.
    pub method: MatteMethod,
    /// Pixels to spread (positive) or choke (negative) the edge by, -20..=20.
    #[serde(default)]
    pub spread_px: f32,
    /// Pixels to soften the edge by, 0..=20.
    #[serde(default)]
    pub feather_px: f32,
    /// The core matte: what is solid inside it, whatever the method says.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub core: Option<MaskId>,
    /// The holdout matte: what is empty inside it, whatever the method says.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub holdout: Option<MaskId>,
    /// Whether the backdrop's light is taken out of the edge; only where the method knows that light.
    #[serde(default, skip_serializing_if = "is_default")]
    pub clean_edge: bool,
}

/// Where a plate's coverage comes from.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub enum MatteMethod {
    /// The step's mask alone.
    Drawn,
    /// A silhouette pass: coverage = 1 - light / backdrop, between two levels.
    Silhouette {
        /// The silhouette pass.
        pass: PassId,
        /// Share of the backdrop's light that still counts as solid, 0..=0.5.
        solid_below: f32,
        /// Share of the backdrop's light from which on nothing covers, 0.5..=1.
        clear_above: f32,
    },
    /// The plate itself before a plain backdrop, grey, black or coloured.
    Plain {
        /// The clean plate; without one the backdrop is guessed from the border of the picture.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        clean: Option<PassId>,
        /// Softness of the model's edge before a neutral backdrop: the deviation of its profile in px, 0.3..=4.
        edge_px: f32,
        /// Largest hole that is closed, as a share of the picture, 0..=1.
        hole_share: f32,
        /// Least difference of square roots of light that counts, 0.005..=0.5.
        least: f32,
    },
    /// Two levels of the backdrop with the model's light unchanged: triangulation.
    TwoLevels {
        /// The model before the backdrop lit otherwise than in the unlit pass.
        other: PassId,
        /// The bare backdrop as in the unlit pass.
        clean: PassId,
        /// The bare backdrop as in `other`.
        other_clean: PassId,
    },
}

impl MatteMethod {
    /// The usual settings for a plain backdrop.
    #[must_use]
    pub const fn plain(clean: Option<PassId>) -> Self {
        Self::Plain {
            clean,
            edge_px: 0.8,
            hole_share: 0.01,
            least: 0.03,
        }
    }

    /// The passes it looks at.
    pub fn passes_used(&self) -> impl Iterator<Item = PassId> {
        let used = match *self {
            Self::Drawn => [None; 3],
            Self::Silhouette { pass, .. } => [Some(pass), None, None],
            Self::Plain { clean, .. } => [clean, None, None],
            Self::TwoLevels {
                other,
                clean,
                other_clean,
            } => [Some(other), Some(clean), Some(other_clean)],
        };
        used.into_iter().flatten()
    }
}

impl Matte {
    /// A matte by `method`, as it comes; the edge is cleaned where the method knows the backdrop.
    #[must_use]
    pub const fn new(method: MatteMethod) -> Self {
        let clean_edge = matches!(
            method,
            MatteMethod::Plain { .. } | MatteMethod::TwoLevels { .. }
        );
        Self {
            method,
            spread_px: 0.0,
            feather_px: 0.0,
            core: None,
            holdout: None,
            clean_edge,
        }
    }

    /// A matte from a silhouette pass at the usual levels.
    #[must_use]
    pub const fn silhouette(pass: PassId) -> Self {
        Self::new(MatteMethod::Silhouette {
            pass,
            solid_below: 0.04,
            clear_above: 0.92,
        })
    }
}
