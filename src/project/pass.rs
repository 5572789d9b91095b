//! Passes of a pose under other light, and the practical groups that are laid over from them.

use crate::geometry::{Mesh, Point, Transform};
use crate::project::stack::{is_default, is_yes, yes};
use crate::project::{Fingerprint, FrameId, GroupId, MaskId, PassId};
use serde::{Deserialize, Serialize};
use std::sync::Arc;

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
    /// The model lit as in the unlit pass, before the backdrop at another level.
    Backdrop,
    /// The set without the model, the backdrop at that other level.
    BackdropCleanPlate,
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

impl Take {
    /// Meshes measured on its frames.
    pub(super) fn meshes(&self) -> impl Iterator<Item = &Mesh> {
        let frames = self.measured.iter().flat_map(|measured| &measured.frames);
        frames.filter_map(|frame| frame.flexed.as_deref())
    }
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
    /// Where the model itself moved between the passes: position on the partner to the position at which registration puts what
    /// belongs there.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub flexed: Option<Arc<Mesh>>,
    /// What single places still ask for after all that.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub left: Vec<LeftOver>,
}

impl TakeFrame {
    /// Farthest that a part's light is bent back, px; what moved farther must be shot again.
    pub const FARTHEST_BENT_PX: f64 = 8.0;

    /// How far the place that lies off most lies off, px; 0 where nothing is known.
    #[must_use]
    pub fn farthest_off_px(&self) -> f64 {
        let off = |left: &LeftOver| left.by.distance(Point::default());
        self.left.iter().map(off).fold(0.0, f64::max)
    }

    /// How far the model moved at most where its light was bent back, px; 0 where it was not.
    #[must_use]
    pub fn bent_px(&self) -> f64 {
        let shifts = self.flexed.iter().flat_map(|mesh| &mesh.shifts);
        let length =
            |[x, y]: &[f32; 2]| Point::new(f64::from(*x), f64::from(*y)).distance(Point::default());
        shifts.map(length).fold(0.0, f64::max)
    }
}

/// What registration left over at one place.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LeftOver {
    /// The place, pixels of the partner.
    pub at: Point,
    /// What lies there is off by this much in the pass, px.
    pub by: Point,
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
    /// The spikes that a lens with straight blades puts round its lamps.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub spikes: Option<Spikes>,
    /// How strongly its light's noise is shrunk, in deviations, 0 (not at all)..=4.
    #[serde(default, skip_serializing_if = "is_default")]
    pub denoise: f32,
    /// How much of its light stays outside its mask, 0..=1: the light that it throws on the model round it.
    #[serde(default, skip_serializing_if = "is_default")]
    pub outside_share: f32,
    /// How strongly light that would go beyond white is held back so that its colour stays, 0..=1.
    #[serde(default, skip_serializing_if = "is_default")]
    pub keep_colour: f32,
    /// Chance changes of its strength, for variants of a picture.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub flicker: Option<Flicker>,
}

/// Spikes round lamps: an even number of straight blades gives as many, an odd number twice as many.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Spikes {
    /// Straight blades of the opening, 3..=18.
    pub blades: u32,
    /// Turn of the spikes in degrees, clockwise as seen.
    pub turn_deg: f32,
    /// The f-number they were made at, 1..=64: their length grows with it.
    pub f_number: f32,
    /// Their length over the one that a camera with pixels of 4 um would give, 0.1..=20.
    pub length: f32,
    /// Share of the lamps' light that goes into them, 0..=1.
    pub share: f32,
    /// How much longer red and shorter blue ones are, 0 (alike)..=1 (as wavelengths are).
    pub spread: f32,
}

impl Default for Spikes {
    fn default() -> Self {
        Self {
            blades: 7,
            turn_deg: 0.0,
            f_number: 16.0,
            length: 1.0,
            share: 0.1,
            spread: 0.0,
        }
    }
}

/// Chance changes of a group's strength: the same seed gives the same.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Flicker {
    /// Any number.
    pub seed: u32,
    /// Typical change in hundredths of a stop, 0..=400.
    pub hundredths: u16,
}

impl PracticalGroup {
    /// A group that lights as it was shot, everywhere.
    #[must_use]
    pub fn new(id: GroupId, name: impl Into<String>, pass: PassId) -> Self {
        Self {
            id,
            name: name.into(),
            pass,
            on: true,
            stops: 0.0,
            tint_rgb: neutral(),
            mask: None,
            lay_over: LayOver::AddedLight,
            glow_px: 0.0,
            glow_share: 0.0,
            spikes: None,
            denoise: 0.0,
            outside_share: 0.0,
            keep_colour: 0.0,
            flicker: None,
        }
    }
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
