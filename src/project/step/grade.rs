//! The grade of one plate: exposure, colour and black level, so that plates shot apart agree.

use serde::{Deserialize, Serialize};

/// `light' = (light - black) * 2^exposure * colour`, then saturation about its luminance.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Grade {
    /// Exposure in stops, -10..=10.
    pub exposure_stops: f32,
    /// Factors for red, green, blue, 0..=4.
    pub colour_rgb: [f32; 3],
    /// Linear light taken off first, -0.1..=0.5.
    pub black_level: f32,
    /// 0 is grey, 1 unchanged, up to 2.
    pub saturation: f32,
}

impl Default for Grade {
    fn default() -> Self {
        Self {
            exposure_stops: 0.0,
            colour_rgb: [1.0; 3],
            black_level: 0.0,
            saturation: 1.0,
        }
    }
}
