//! Tiles while a mask is drawn: the part that changed is put into the picture that is shown.

use super::{Shared, Wanted, Way};
use crate::engine::patching::MaskChange;
use crate::engine::view;
use crate::pixels::DisplayImage;
use std::sync::Arc;

impl Shared {
    /// The tile as it was shown with the part that changed since computed anew, where a mask is all that changed.
    pub(super) fn patched(&self, wanted: &Wanted) -> Option<DisplayImage> {
        if wanted.exact {
            return None;
        }
        let (project, shown) = {
            let inner = self.lock();
            let ready = inner.ready.get(&wanted.key)?;
            (
                Arc::clone(&ready.project),
                Arc::clone(ready.made.as_ref().ok()?),
            )
        };
        let change = MaskChange::between(&project, &wanted.project)?;
        let world = self.world(wanted);
        let at = (wanted.key.level, wanted.key.index);
        let (patch, size) = match &wanted.way {
            Way::Scene(plan) => {
                let patch = self.engine.patch_scene(&world, plan, at, &change);
                (patch.ok()??, plan.size())
            }
            Way::Plate(plan, stage) => {
                let patch = self.engine.patch_plate(&world, (plan, *stage), at, &change);
                (patch.ok()??, plan.size)
            }
            Way::Frame(_) => return None,
        };
        let tile = view::grid(&self.engine, size, at.0).rect(at.1);
        let mut image = DisplayImage::clone(&shown);
        let into = |of: i32, from: i32| usize::try_from(of - from).ok();
        let left = into(patch.rect.x0, tile.x0)?;
        let top = into(patch.rect.y0, tile.y0)?;
        view::display(&patch).paste_onto(&mut image, (left, top));
        Some(image)
    }
}
