//! What a light pass shows of itself: a mask proposed for a practical group (outlines round what is significantly brighter, editable
//! like drawn ones), and places where lit detail doubles.

use crate::engine::Watch;
use crate::geometry::Rect;
use crate::project::{
    Edit, GroupId, Mask, MaskId, MaskPart, Node, PartId, PassId, PlateEdit, PlateId,
    PracticalGroup, Shape, Sign,
};
use crate::session::{Session, SessionError};
use std::sync::Arc;

/// Pixels by which a proposed mask is wider than what is lit, so that the soft rim of a lamp is inside.
const GROW_PX: f32 = 2.0;
/// Width of its soft edge in pixels.
const FEATHER_PX: f32 = 3.0;

impl Session {
    /// Places on the plate where lit detail doubles because a pass does not lie on the unlit photos, worst first. The pass must have
    /// been measured.
    ///
    /// # Errors
    /// When the pass or its photos are not there, or the work was stopped.
    pub fn doubled_light(
        &self,
        plate: PlateId,
        pass: PassId,
        watch: &dyn Watch,
    ) -> Result<Vec<Rect>, SessionError> {
        let light = self
            .engine()
            .separated_light(&self.world(watch), plate, pass)?;
        Ok(light.ghosts().into_iter().map(|ghost| ghost.rect).collect())
    }

    /// Proposes a mask for a group and lets the group act through it, as one recorded edit. The group's old mask stays in the plate.
    /// Its pass must have been measured.
    ///
    /// # Errors
    /// When the group or its photos are not there, nothing in its pass is significantly brighter, or the work was stopped.
    pub fn suggest_mask(
        &mut self,
        plate: PlateId,
        group: GroupId,
        watch: &dyn Watch,
    ) -> Result<MaskId, SessionError> {
        let gone =
            || SessionError::Refused("this practical group is not there any more".to_owned());
        let project = Arc::clone(self.project());
        let plate_of = project.plate(plate).ok_or_else(gone)?;
        let mut groups = plate_of.groups.iter();
        let group = groups.find(|one| one.id == group).ok_or_else(gone)?;
        let light = self
            .engine()
            .separated_light(&self.world(watch), plate, group.pass)?;
        let outlines = light.lit_outlines();
        if outlines.is_empty() {
            return Err(SessionError::Refused(format!(
                "nothing in the pass of '{}' is brighter beyond its noise: draw the mask, or look whether the practicals were on",
                group.name
            )));
        }
        let id = MaskId(self.next_id());
        let mut mask = Mask::new(id, format!("{}, proposed", group.name));
        (mask.grow_px, mask.feather_px) = (GROW_PX, FEATHER_PX);
        mask.parts = (id.0 + 1..)
            .zip(outlines)
            .map(|(number, outline)| {
                Arc::new(MaskPart {
                    id: PartId(number),
                    sign: Sign::Add,
                    strength: 1.0,
                    on: true,
                    shape: Shape::Outline {
                        nodes: outline.into_iter().map(Node::corner).collect(),
                        feather_px: 0.0,
                    },
                })
            })
            .collect();
        let through = PracticalGroup {
            mask: Some(id),
            ..group.clone()
        };
        let edits = vec![
            Edit::Plate(plate, PlateEdit::AddMask(Arc::new(mask))),
            Edit::Plate(plate, PlateEdit::SetGroup(through)),
        ];
        self.record(Edit::All {
            name: format!("mask for {} proposed", group.name),
            edits,
        })?;
        Ok(id)
    }
}
