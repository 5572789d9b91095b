//! One photograph.

use crate::geometry::Size;
use crate::project::{ContentHash, FrameId};
use serde::{Deserialize, Serialize};

/// One photograph, known by its content; where it lies is a hint that may go stale.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Frame {
    /// Its number in this project.
    pub id: FrameId,
    /// Where it lies, relative to the project file, with `/` between folders; absolute only if no relative way exists.
    pub file: String,
    /// BLAKE3 of the file's bytes.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub content: Option<ContentHash>,
    /// Width and height, upright. Learnt from the file when it is first read.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub size: Option<Size>,
    /// Length of the file in bytes.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bytes: Option<u64>,
    /// What the camera wrote.
    #[serde(default, skip_serializing_if = "Camera::is_unknown")]
    pub camera: Camera,
}

/// What the camera wrote into the file. Everything may be unknown.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Camera {
    /// Exposure time in seconds.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub exposure_s: Option<f64>,
    /// Marked f-number.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub f_number: Option<f64>,
    /// ISO speed.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub iso: Option<f64>,
    /// Focal length in millimetres.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub focal_mm: Option<f64>,
    /// Focus distance in millimetres.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub focus_distance_mm: Option<f64>,
    /// When it was taken, as `2026-11-25T14:03:09.25`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub taken: Option<String>,
    /// Camera maker and model.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub body: Option<String>,
    /// Lens.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lens: Option<String>,
}

impl Camera {
    /// Whether nothing is known.
    #[must_use]
    pub fn is_unknown(&self) -> bool {
        *self == Self::default()
    }

    /// Light gathered relative to 1 s at f/1 and ISO 100: time x speed / f-number squared; `None` where a figure is missing.
    #[must_use]
    pub fn relative_exposure(&self) -> Option<f64> {
        let f_number = self.f_number?;
        let gathered = self.exposure_s? * self.iso? / 100.0 / (f_number * f_number);
        (gathered.is_finite() && gathered > 0.0).then_some(gathered)
    }
}
