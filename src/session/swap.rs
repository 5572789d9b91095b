//! Gives a plate a new source; masks, lights, matte and placement stay with the plate.

use crate::engine::Watch;
use crate::files;
use crate::geometry::Transform;
use crate::project::{
    Edit, Frame, FrameId, Plate, PlateEdit, PlateId, Source, Stack, Variant, VariantId,
};
use crate::session::measure::Due;
use crate::session::{Session, SessionError};
use serde::Serialize;
use std::path::PathBuf;
use std::sync::Arc;

/// What came out of a swap.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SwapReport {
    /// The plate.
    pub plate: String,
    /// Position on the new reference frame to plate position.
    pub to_old: Transform,
    /// Root mean square of what registration could not explain, in px.
    pub residual_px: f32,
    /// What follows the new source.
    pub carried: Vec<String>,
    /// What wants a look, and why.
    pub needs_a_look: Vec<Look>,
}

/// Something that wants a look.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Look {
    /// What.
    pub step: String,
    /// Why.
    pub why: String,
    /// Where on the plate: left, top, right, bottom; everywhere without.
    #[serde(rename = "where", skip_serializing_if = "Option::is_none")]
    pub place: Option<[i32; 4]>,
}

/// Residual in px above which a new source is said to fit badly.
const FITS_BADLY_PX: f32 = 2.0;

impl Session {
    /// Adds photos to the project, each once by content; gives their numbers in the order of `paths`.
    ///
    /// # Errors
    /// When a photo cannot be read.
    pub fn add_photos(&mut self, paths: &[PathBuf]) -> Result<Vec<FrameId>, SessionError> {
        let mut ids = Vec::new();
        let mut new: Vec<Arc<Frame>> = Vec::new();
        let mut next = self.next_id();
        for path in paths {
            let info = files::photo::describe(path, &files::Limits::default())?;
            let content = self.shelf().content(path)?;
            let same = |frame: &&Arc<Frame>| frame.content == Some(content);
            if let Some(known) = self.project().frames.iter().chain(&new).find(same) {
                ids.push(known.id);
                continue;
            }
            let id = FrameId(next);
            next += 1;
            ids.push(id);
            new.push(Arc::new(Frame {
                id,
                file: self.shelf().name_of(path),
                content: Some(content),
                size: Some(info.size),
                bytes: Some(info.bytes_on_disc),
                camera: crate::session::describe::camera_of(&info),
            }));
        }
        if !new.is_empty() {
            self.record(Edit::AddFrames(new))?;
        }
        Ok(ids)
    }

    /// Gives the plate called `name` a new source made of the photos at `paths`, and registers it to the plate.
    ///
    /// The old source stays in the record. Masks, lights, matte and placement are in the plate's reference pixels and follow.
    ///
    /// # Errors
    /// When there is no such plate, a photo cannot be read, or the new source does not register.
    pub fn swap(
        &mut self,
        name: &str,
        paths: &[PathBuf],
        watch: &dyn Watch,
    ) -> Result<SwapReport, SessionError> {
        let plate = self.project().plate_by_name(name).cloned();
        let plate = plate.ok_or_else(|| {
            let names: Vec<&str> = self
                .project()
                .plates
                .iter()
                .map(|plate| plate.name.as_str())
                .collect();
            SessionError::Refused(format!(
                "there is no plate called '{name}'; there are: {}",
                names.join(", ")
            ))
        })?;
        self.prepare()?;
        self.bring_up_to_date(&plate, watch)?;
        let frames = self.add_photos(paths)?;
        let variant = self.add_source(&plate, frames)?;
        self.measure_swapped(plate.id, variant, watch)?;
        self.report_swap(plate.id, variant)
    }

    /// The old source must be measured: the new one is registered to it.
    fn bring_up_to_date(&mut self, plate: &Plate, watch: &dyn Watch) -> Result<(), SessionError> {
        for due in self.due() {
            if matches!(due, Due::Stack(of, _) | Due::Place(of, _) if of == plate.id) {
                let edit = self.measured(due, watch)?;
                self.record(edit)?;
            }
        }
        Ok(())
    }

    fn add_source(
        &mut self,
        plate: &Plate,
        frames: Vec<FrameId>,
    ) -> Result<VariantId, SessionError> {
        let old = plate.variant().and_then(|variant| variant.stack());
        let mut stack = Stack::of(frames);
        if let Some(old) = old {
            stack.fuse = old.fuse;
            stack.develop = old.develop;
        }
        let id = VariantId(self.next_id());
        let variant = Variant {
            id,
            name: format!("source {}", plate.variants.len() + 1),
            source: Source::Stack(stack),
            takes: Vec::new(),
            lies: None,
        };
        let edits = vec![
            Edit::Plate(plate.id, PlateEdit::AddVariant(Arc::new(variant))),
            Edit::Plate(plate.id, PlateEdit::UseVariant(id)),
        ];
        self.record(Edit::All {
            name: format!("{} swapped", plate.name),
            edits,
        })?;
        Ok(id)
    }

    fn measure_swapped(
        &mut self,
        plate: PlateId,
        variant: VariantId,
        watch: &dyn Watch,
    ) -> Result<(), SessionError> {
        for due in [Due::Stack(plate, variant), Due::Place(plate, variant)] {
            let edit = self.measured(due, watch)?;
            self.record(edit)?;
        }
        let world = self.world(watch);
        let develop = self.engine().develop_like_first(&world, plate, variant)?;
        self.record(Edit::Plate(plate, PlateEdit::SetDevelop(variant, develop)))
            .map(|_revision| ())
    }

    fn report_swap(&self, plate: PlateId, variant: VariantId) -> Result<SwapReport, SessionError> {
        let missing = || SessionError::Refused("the swapped plate is gone".to_owned());
        let plate = self.project().plate(plate).ok_or_else(missing)?;
        let lies = plate
            .variant_by_id(variant)
            .and_then(|variant| variant.lies.clone())
            .ok_or_else(missing)?;
        let mut carried: Vec<String> = plate
            .masks
            .iter()
            .map(|mask| format!("mask '{}'", mask.name))
            .collect();
        carried.extend(plate.steps.iter().map(|step| step.kind.word().to_owned()));
        carried.extend(
            plate
                .groups
                .iter()
                .map(|group| format!("practical group '{}'", group.name)),
        );
        let placed = self
            .project()
            .placements
            .iter()
            .filter(|placement| placement.plate == plate.id);
        carried.extend(placed.map(|placement| format!("placement '{}'", placement.name)));
        let mut needs_a_look = Vec::new();
        if lies.residual_px > FITS_BADLY_PX {
            needs_a_look.push(Look {
                step: "placement on the plate".to_owned(),
                why: format!(
                    "the new source fits the old one to {:.1} px only: another angle or pose? Masks may miss their edges",
                    lies.residual_px
                ),
                place: None,
            });
        }
        for pass in &plate.passes {
            if plate
                .take(pass.id)
                .is_some_and(|(of, _take)| of.id != variant)
            {
                needs_a_look.push(Look {
                    step: format!("pass '{}'", pass.name),
                    why: "it was not shot again: the frames of the old source are laid over the new one".to_owned(),
                    place: None,
                });
            }
        }
        Ok(SwapReport {
            plate: plate.name.clone(),
            to_old: lies.plate_from_variant,
            residual_px: lies.residual_px,
            carried,
            needs_a_look,
        })
    }
}
