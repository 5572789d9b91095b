//! The whole recipe.

use crate::geometry::Size;
use crate::project::stack::is_default;
use crate::project::{
    Finish, Frame, FrameId, MaskId, Placement, PlacementId, Plate, PlateId, Variant, VariantId,
};
use serde::{Deserialize, Serialize};
use std::sync::Arc;

/// The whole recipe of a scene. Changed only through [`Edit`](crate::project::Edit)s.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Project {
    /// What people call the scene.
    pub name: String,
    /// The canvas the plates are placed on.
    pub canvas: Canvas,
    /// Every photograph that any plate uses.
    #[serde(default)]
    pub frames: Vec<Arc<Frame>>,
    /// The plates.
    #[serde(default)]
    pub plates: Vec<Arc<Plate>>,
    /// What stands in the scene, back to front.
    #[serde(default)]
    pub placements: Vec<Arc<Placement>>,
    /// What is done to the whole scene.
    #[serde(default, skip_serializing_if = "is_default")]
    pub finish: Finish,
    /// The next unused number.
    #[serde(default)]
    pub next_id: u32,
}

/// The canvas.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Canvas {
    /// Width and height in pixels.
    pub size: Size,
    /// Print resolution in pixels per inch.
    #[serde(default = "print_resolution")]
    pub pixels_per_inch: f32,
}

fn print_resolution() -> f32 {
    300.0
}

impl Project {
    /// An empty scene on a canvas of `size`.
    #[must_use]
    pub fn new(name: impl Into<String>, size: Size) -> Self {
        Self {
            name: name.into(),
            canvas: Canvas {
                size,
                pixels_per_inch: print_resolution(),
            },
            frames: Vec::new(),
            plates: Vec::new(),
            placements: Vec::new(),
            finish: Finish::default(),
            next_id: 1,
        }
    }

    /// The frame with this number.
    #[must_use]
    pub fn frame(&self, id: FrameId) -> Option<&Arc<Frame>> {
        self.frames.iter().find(|frame| frame.id == id)
    }

    /// The plate with this number.
    #[must_use]
    pub fn plate(&self, id: PlateId) -> Option<&Arc<Plate>> {
        self.plates.iter().find(|plate| plate.id == id)
    }

    /// The plate of this name.
    #[must_use]
    pub fn plate_by_name(&self, name: &str) -> Option<&Arc<Plate>> {
        self.plates.iter().find(|plate| plate.name == name)
    }

    /// The placement with this number.
    #[must_use]
    pub fn placement(&self, id: PlacementId) -> Option<&Arc<Placement>> {
        self.placements.iter().find(|placement| placement.id == id)
    }

    /// A source of a plate.
    #[must_use]
    pub fn variant(&self, plate: PlateId, variant: VariantId) -> Option<&Arc<Variant>> {
        self.plate(plate)?.variant_by_id(variant)
    }

    /// The largest number in use, whatever it names.
    #[must_use]
    pub fn largest_id(&self) -> u32 {
        let frames = self.frames.iter().map(|frame| frame.id.0);
        let placements = self.placements.iter().map(|placement| placement.id.0);
        let plates = self.plates.iter().map(|plate| plate.largest_id());
        frames.chain(placements).chain(plates).max().unwrap_or(0)
    }
}

impl Plate {
    /// Whether one of its masks has a part with this number.
    pub(super) fn has_part(&self, id: u32) -> bool {
        let mut parts = self.masks.iter().flat_map(|mask| &mask.parts);
        parts.any(|part| part.id.0 == id)
    }

    /// The largest number in use in the plate, its own among them.
    #[must_use]
    pub fn largest_id(&self) -> u32 {
        let masks = self.masks.iter().flat_map(|mask| {
            let MaskId(id) = mask.id;
            mask.parts.iter().map(|part| part.id.0).chain([id])
        });
        let variants = self.variants.iter().map(|variant| variant.id.0);
        let passes = self.passes.iter().map(|pass| pass.id.0);
        let groups = self.groups.iter().map(|group| group.id.0);
        let steps = self.steps.iter().map(|step| step.id.0);
        masks
            .chain(variants)
            .chain(passes)
            .chain(groups)
            .chain(steps)
            .max()
            .map_or(self.id.0, |largest| largest.max(self.id.0))
    }
}
