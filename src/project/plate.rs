//! A plate: one named picture that enters the scene, with its sources and everything done to it.

use crate::geometry::{Mesh, Size, Transform};
use crate::project::{
    Fingerprint, FrameId, Made, Mask, MaskId, Pass, PassId, PlateId, PracticalGroup, Stack, Step,
    Take, VariantId,
};
use serde::{Deserialize, Serialize};
use std::sync::Arc;

/// One named picture that enters the scene.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Plate {
    /// Its number in this project.
    pub id: PlateId,
    /// What people call it; unique in the project.
    pub name: String,
    /// Size in reference pixels. Learnt from the first source when it is first read.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub size: Option<Size>,
    /// Its passes besides the unlit one.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub passes: Vec<Pass>,
    /// Its sources: the first shoot, re-shoots, other takes.
    pub variants: Vec<Arc<Variant>>,
    /// The source in use.
    pub current: VariantId,
    /// Its masks.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub masks: Vec<Arc<Mask>>,
    /// Its practical groups, in the order they stand on the lights desk.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub groups: Vec<PracticalGroup>,
    /// What is done to it after its lights, in order.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub steps: Vec<Step>,
}

/// One source of a plate.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Variant {
    /// Its number in this project.
    pub id: VariantId,
    /// What people call it.
    pub name: String,
    /// Where its pixels come from.
    pub source: Source,
    /// Its frames for the plate's passes.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub takes: Vec<Take>,
    /// Where its reference frame lies on the plate's reference pixels. `None` for the plate's first source and for one whose
    /// place is still to be measured (it then lies as it is).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lies: Option<Lies>,
}

/// Where a later source lies on the plate's reference pixels, as measured.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Lies {
    /// Stamp of what it was measured on.
    pub inputs: Fingerprint,
    /// Position on this source's reference frame to plate position.
    pub plate_from_variant: Transform,
    /// Where the perspective alone does not bring every part onto the plate (another angle): position on the plate to the
    /// position at which the perspective alone puts what belongs there.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mesh: Option<Arc<Mesh>>,
    /// Root mean square of what it could not explain, in px.
    pub residual_px: f32,
}

/// Where a plate's pixels come from.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub enum Source {
    /// Frames of an unlit pass.
    Stack(Stack),
    /// A recipe and a seed.
    Made(Made),
}

impl Plate {
    /// A plate with one source and nothing done to it; its size is learnt when the source is first read.
    #[must_use]
    pub fn new(id: PlateId, name: impl Into<String>, variant: Variant) -> Self {
        Self {
            id,
            name: name.into(),
            size: None,
            passes: Vec::new(),
            current: variant.id,
            variants: vec![Arc::new(variant)],
            masks: Vec::new(),
            groups: Vec::new(),
            steps: Vec::new(),
        }
    }

    /// The source in use. A project that passed its check has one.
    #[must_use]
    pub fn variant(&self) -> Option<&Arc<Variant>> {
        self.variant_by_id(self.current)
    }

    /// The source with this number.
    #[must_use]
    pub fn variant_by_id(&self, id: VariantId) -> Option<&Arc<Variant>> {
        self.variants.iter().find(|variant| variant.id == id)
    }

    /// The source whose stack holds `frame`; the first one where several do.
    #[must_use]
    pub fn variant_of_frame(&self, frame: FrameId) -> Option<&Arc<Variant>> {
        self.variants.iter().find(|variant| {
            let frames = variant.stack().map_or(&[][..], |stack| &stack.frames);
            frames.iter().any(|entry| entry.frame == frame)
        })
    }

    /// The stack in use, unless the plate is made.
    #[must_use]
    pub fn stack(&self) -> Option<&Stack> {
        self.variant()?.stack()
    }

    /// The mask with this number.
    #[must_use]
    pub fn mask(&self, id: MaskId) -> Option<&Arc<Mask>> {
        self.masks.iter().find(|mask| mask.id == id)
    }

    /// Whether mask `wanted` is taken in by `mask`, directly or through others.
    #[must_use]
    pub fn mask_is_within(&self, wanted: MaskId, mask: &Mask) -> bool {
        let mut waiting: Vec<MaskId> = mask.masks_used().collect();
        let mut seen = std::collections::BTreeSet::new();
        while let Some(id) = waiting.pop() {
            if id == wanted {
                return true;
            }
            if seen.insert(id)
                && let Some(other) = self.mask(id)
            {
                waiting.extend(other.masks_used());
            }
        }
        false
    }

    /// The pass with this number.
    #[must_use]
    pub fn pass(&self, id: PassId) -> Option<&Pass> {
        self.passes.iter().find(|pass| pass.id == id)
    }

    /// The frames of pass `id`: those of the source in use, else of the newest source that has any.
    #[must_use]
    pub fn take(&self, id: PassId) -> Option<(&Arc<Variant>, &Take)> {
        let of = |variant: &'_ Arc<Variant>| variant.takes.iter().position(|take| take.pass == id);
        let current = self.variant().filter(|variant| of(variant).is_some());
        let variant = current.or_else(|| {
            self.variants
                .iter()
                .rev()
                .find(|variant| of(variant).is_some())
        })?;
        Some((variant, &variant.takes[of(variant)?]))
    }
}

impl Variant {
    /// Its stack, unless it is made.
    #[must_use]
    pub const fn stack(&self) -> Option<&Stack> {
        match &self.source {
            Source::Stack(stack) => Some(stack),
            Source::Made(_) => None,
        }
    }

    /// Position on this source's reference frame to plate position.
    #[must_use]
    pub fn plate_from_variant(&self) -> Transform {
        self.lies
            .as_ref()
            .map_or(Transform::IDENTITY, |lies| lies.plate_from_variant)
    }

    /// What the perspective leaves to a mesh, if anything.
    #[must_use]
    pub fn mesh(&self) -> Option<&Arc<Mesh>> {
        self.lies.as_ref()?.mesh.as_ref()
    }
}
