//! What is done to the whole scene.

use serde::{Deserialize, Serialize};

/// Exposure, tone, colour, grain of the finished scene.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Finish {
    /// Exposure in stops, -10..=10.
    pub exposure_stops: f32,
    /// Contrast about middle grey, 0.5..=2; 1 is none.
    pub contrast: f32,
    /// How gently light near white is rolled off, 0 (clipped) ..= 1.
    pub shoulder: f32,
    /// 0 is grey, 1 unchanged, up to 2.
    pub saturation: f32,
    /// Darkening of the corners in stops, 0..=3.
    pub vignette_stops: f32,
    /// Grain.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub grain: Option<Grain>,
}

/// Grain laid over the finished scene.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Grain {
    /// The same seed gives the same grain.
    pub seed: u64,
    /// Standard deviation at middle grey as a share of full scale, 0..=0.1.
    pub strength: f32,
    /// Size in pixels, 0.5..=4.
    pub size_px: f32,
}

impl Default for Finish {
    fn default() -> Self {
        Self {
            exposure_stops: 0.0,
            contrast: 1.0,
            shoulder: 0.0,
            saturation: 1.0,
            vignette_stops: 0.0,
            grain: None,
        }
    }
}
