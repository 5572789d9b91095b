//! A stack of frames and what is set and measured on it.

use crate::geometry::{Point, Transform};
use crate::project::{Fingerprint, FrameId, MaskId};
use serde::{Deserialize, Serialize};

/// The frames of one pose at several focus distances (a single photo is a stack of one).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Stack {
    /// The frames, in focus order once that was measured.
    pub frames: Vec<StackFrame>,
    /// The frame that the others are matched and registered to; by default number n/2, rounded down, of those used.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reference: Option<FrameId>,
    /// How the reference frame is set; every frame and pass of the pose follows it.
    #[serde(default, skip_serializing_if = "is_default")]
    pub develop: Develop,
    /// How the frames are joined.
    #[serde(default, skip_serializing_if = "is_default")]
    pub fuse: FuseSettings,
    /// Where people say how the frames are joined, each through a mask of the plate; a later one stands over an earlier one.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub guides: Vec<Guide>,
    /// What was measured last, with the stamp of what it was measured on.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub measured: Option<StackMeasured>,
}

/// What people say about joining the frames where a mask lets it through.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Guide {
    /// The mask.
    pub mask: MaskId,
    /// What is done there.
    pub does: Guidance,
}

/// How frames are joined in one place.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Guidance {
    /// This frame alone is taken.
    TakeFrom(FrameId),
    /// The depth is moved by so many frames, -100..=100: below 0 nearer frames are preferred, above 0 farther ones.
    Prefer(f32),
    /// The mask covers a near part: what its blur spreads over the parts behind it is taken off.
    NearPart,
}

impl Guidance {
    /// What people call it in the list of edits.
    #[must_use]
    pub const fn word(&self) -> &'static str {
        match self {
            Self::TakeFrom(_) => "take from a frame",
            Self::Prefer(frames) if *frames < 0.0 => "prefer nearer",
            Self::Prefer(_) => "prefer farther",
            Self::NearPart => "near part",
        }
    }
}

/// A frame's place in a stack.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StackFrame {
    /// Which frame.
    pub frame: FrameId,
    /// Whether it takes part.
    #[serde(default = "yes", skip_serializing_if = "is_yes")]
    pub used: bool,
}

/// How the numbers of the reference frame become light. Set once per pose.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Develop {
    /// Exposure change in stops, -10..=10.
    pub exposure_stops: f32,
    /// What is taken as white.
    pub white_balance: WhiteBalance,
    /// Linear light that counts as black, -0.1..=0.5 of full scale; taken off before exposure.
    pub black_level: f32,
    /// Contrast about middle grey (0.18), 0.5..=2; 1 leaves the light as it is. Anything else bends light, so that passes no
    /// longer add up exactly: meant for files that a camera has already bent.
    pub tone: f32,
}

/// What is taken as white.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub enum WhiteBalance {
    /// As the camera wrote it.
    #[default]
    AsShot,
    /// Light of this temperature and tint is shown as neutral.
    Light {
        /// Colour temperature, 1667..=25000 K.
        kelvin: f32,
        /// Distance from the black-body locus, -100 (green) ..= 100 (magenta), in thousandths of CIE 1960 uv.
        tint: f32,
    },
    /// A picked place is made neutral grey.
    Grey {
        /// Where it was picked, in reference pixels.
        at: Point,
        /// The gains that came out of it: red, green, blue.
        gain_rgb: [f32; 3],
    },
}

/// How registered frames are joined into a plate.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct FuseSettings {
    /// From 0 (clean: wide window, little noise) to 1 (detailed: narrow window).
    pub detail: f32,
    /// Half-width of the depth window in frames, 0.6..=4: how many neighbours may share a place.
    pub depth_width: f32,
    /// Whether the blur that near parts lay over what is behind them is taken off, where the stack itself tells their outlines.
    #[serde(skip_serializing_if = "is_no")]
    pub unveil: bool,
}

/// What was measured on a stack.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StackMeasured {
    /// Stamp of the frames and settings it was measured on. Another stamp means: measure again.
    pub inputs: Fingerprint,
    /// One entry per used frame, in focus order.
    pub frames: Vec<FrameMeasured>,
    /// Places (column, row) on the sensor that are bright in every frame; they are mended before a frame is moved.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub hot_pixels: Vec<[u32; 2]>,
    /// Dust on the sensor's window; the light it takes is given back before a frame is moved.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub dust: Vec<SensorDust>,
}

/// A grain of dust on the sensor's window.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SensorDust {
    /// Its middle, in pixels of the sensor.
    pub at: Point,
    /// Where its shadow ends, in px.
    pub radius_px: f32,
    /// Share of the light it takes in eight rings of equal width from the middle outwards, 0..=0.9.
    pub loss: [f32; 8],
}

/// What was measured on one frame of a stack.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FrameMeasured {
    /// Which frame.
    pub frame: FrameId,
    /// Frame position to reference position.
    pub to_reference: Transform,
    /// What the linear red, green and blue of its file are multiplied by to agree with the reference.
    pub gain_rgb: [f32; 3],
    /// What is added to these after that.
    #[serde(default)]
    pub offset_rgb: [f32; 3],
    /// How far its corners lie outside of where `to_reference` says, for a lens whose distortion changes with focus; px of the frame.
    #[serde(default, skip_serializing_if = "is_nothing")]
    pub radial_px: f64,
    /// Root mean square of what registration could not explain, in px.
    pub residual_px: f32,
    /// Share of the textured picture that is sharpest in this frame, 0..=1.
    pub sharp_share: f32,
}

#[expect(
    clippy::trivially_copy_pass_by_ref,
    reason = "serde hands over a reference"
)]
fn is_nothing(px: &f64) -> bool {
    px.abs() <= 0.0
}

impl Default for Develop {
    fn default() -> Self {
        Self {
            exposure_stops: 0.0,
            white_balance: WhiteBalance::AsShot,
            black_level: 0.0,
            tone: 1.0,
        }
    }
}

impl Default for FuseSettings {
    fn default() -> Self {
        Self {
            detail: 1.0,
            depth_width: 1.2,
            unveil: false,
        }
    }
}

impl Stack {
    /// A stack of these frames with nothing set or measured.
    #[must_use]
    pub fn of(frames: Vec<FrameId>) -> Self {
        Self {
            frames: frames
                .into_iter()
                .map(|frame| StackFrame { frame, used: true })
                .collect(),
            reference: None,
            develop: Develop::default(),
            fuse: FuseSettings::default(),
            guides: Vec::new(),
            measured: None,
        }
    }

    /// The frames that take part, in the order they stand.
    pub fn used(&self) -> impl Iterator<Item = FrameId> {
        self.frames
            .iter()
            .filter(|frame| frame.used)
            .map(|frame| frame.frame)
    }

    /// The reference frame: the chosen one if it takes part, else number n/2 (rounded down) of the measured focus order, or of
    /// the order they stand in while nothing was measured. `None` for a stack without frames.
    #[must_use]
    pub fn reference_frame(&self) -> Option<FrameId> {
        let used: Vec<FrameId> = self.used().collect();
        if let Some(chosen) = self.reference.filter(|chosen| used.contains(chosen)) {
            return Some(chosen);
        }
        used.get(used.len() / 2).copied()
    }

    /// The measurement of `frame`, if there is one.
    #[must_use]
    pub fn measured_frame(&self, frame: FrameId) -> Option<&FrameMeasured> {
        self.measured
            .as_ref()?
            .frames
            .iter()
            .find(|measured| measured.frame == frame)
    }
}

pub(crate) fn yes() -> bool {
    true
}

#[expect(clippy::trivially_copy_pass_by_ref, reason = "serde hands a reference")]
pub(crate) fn is_yes(value: &bool) -> bool {
    *value
}

#[expect(clippy::trivially_copy_pass_by_ref, reason = "serde hands a reference")]
fn is_no(value: &bool) -> bool {
    !*value
}

pub(crate) fn is_default<T: Default + PartialEq>(value: &T) -> bool {
    *value == T::default()
}
