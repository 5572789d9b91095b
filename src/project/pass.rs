//! Passes of a pose under other light, and the practical groups that are laid over from them.

use crate::geometry::Transform;
use crate::project::stack::{is_yes, yes};
use crate::project::{Fingerprint, FrameId, GroupId, MaskId, PassId};
use serde::{Deserialize, Serialize};

/// A pass that a plate has besides the unlit one.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Pass {
    /// Its number in this project.
    pub id: PassId,
    /// What people call it.
    pub name: String,
    /// What it is for.
    pub role: PassRole,
    /// What the stage's key light did while it was shot.
    #[serde(default)]
    pub key_light: KeyLight,
}

/// What a pass is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum PassRole {
    /// The model's own lights on.
    Light,
    /// The set without the model.
    CleanPlate,
    /// The model dark before a lit backdrop.
    Silhouette,
}

/// What the stage's key light did during a light pass.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum KeyLight {
    /// To be measured.
    #[default]
    Auto,
    /// As in the unlit pass.
    On,
    /// Weaker than in the unlit pass.
    Dimmed,
    /// Off: the practicals alone.
    Off,
}

/// The frames one source of a plate has for a pass.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Take {
    /// Which pass of the plate.
    pub pass: PassId,
    /// Its frames, in the order of the stack's focus.
    pub frames: Vec<FrameId>,
    /// What was measured last.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub measured: Option<TakeMeasured>,
}

/// What was measured on a take.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TakeMeasured {
    /// Stamp of the frames it was measured on.
    pub inputs: Fingerprint,
    /// One entry per frame.
    pub frames: Vec<TakeFrame>,
}

/// What was measured on one frame of a take.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TakeFrame {
    /// Which frame.
    pub frame: FrameId,
    /// The frame of the unlit stack that was focused most alike.
    pub partner: FrameId,
    /// Frame position to position on the stack's reference frame.
    pub to_reference: Transform,
    /// What its linear values are multiplied by to bring it to the unlit pass's exposure.
    pub exposure_gain: f32,
    /// How much of the unlit frame's light is in it, after that, per channel: 0 with the key light off, 1 with it kept.
    pub key_rgb: [f32; 3],
    /// Root mean square of what registration could not explain, in px.
    pub residual_px: f32,
}

/// The lights of one pass that share a fader on the lights desk.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PracticalGroup {
    /// Its number in this project.
    pub id: GroupId,
    /// What people call it.
    pub name: String,
    /// The light pass it comes from.
    pub pass: PassId,
    /// Whether it is lit.
    #[serde(default = "yes", skip_serializing_if = "is_yes")]
    pub on: bool,
    /// Strength in stops, up to +6; 0 is as shot.
    #[serde(default)]
    pub stops: f32,
    /// Colour change: factors for red, green, blue.
    #[serde(default = "neutral", skip_serializing_if = "is_neutral")]
    pub tint_rgb: [f32; 3],
    /// Where it acts; everywhere without one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mask: Option<MaskId>,
    /// How it is laid over.
    #[serde(default)]
    pub lay_over: LayOver,
    /// Glow radius in reference pixels, 0 for none.
    #[serde(default)]
    pub glow_px: f32,
    /// Share of the group's light that goes into the glow, 0..=1.
    #[serde(default)]
    pub glow_share: f32,
}

/// How the light of a group is laid over the unlit plate.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum LayOver {
    /// The separated light is added: what the camera would have seen with both on.
    #[default]
    AddedLight,
    /// The lit photo itself covers the plate through the mask.
    Covering,
}

fn neutral() -> [f32; 3] {
    [1.0; 3]
}

fn is_neutral(tint: &[f32; 3]) -> bool {
    *tint == neutral()
}
