//! The matte: a plate's coverage.

use crate::project::PassId;
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
}

impl Matte {
    /// A matte from a silhouette pass at the usual levels.
    #[must_use]
    pub const fn silhouette(pass: PassId) -> Self {
        Self {
            method: MatteMethod::Silhouette {
                pass,
                solid_below: 0.04,
                clear_above: 0.92,
            },
            spread_px: 0.0,
            feather_px: 0.0,
        }
    }
}
