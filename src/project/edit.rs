//! Every possible change to a project, as a value.

use crate::geometry::Size;
use crate::project::edit_parts::PlateEdit;
use crate::project::{
    Canvas, ContentHash, Finish, Frame, FrameId, Placement, PlacementId, Plate, PlateId, Project,
};
use serde::{Deserialize, Serialize};
use std::sync::Arc;
use thiserror::Error;

/// One change to a project. Nothing else changes a project.
///
/// Things are added with their numbers already given (see [`Project::next_id`]), so that replaying the edits from the
/// beginning gives the same project.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
#[expect(
    clippy::large_enum_variant,
    reason = "edits are few; boxing would only hide the fields"
)]
pub enum Edit {
    /// Names the scene.
    NameScene(String),
    /// Sets the canvas.
    SetCanvas(Canvas),
    /// Sets the finish.
    SetFinish(Finish),
    /// Adds frames.
    AddFrames(Vec<Arc<Frame>>),
    /// Says where frames lie now.
    RelinkFrames(Vec<(FrameId, String)>),
    /// Records what was learnt when a frame was first read.
    RecordFrame {
        /// Which frame.
        frame: FrameId,
        /// Its content.
        content: ContentHash,
        /// Its size.
        size: Size,
        /// Length of the file in bytes.
        bytes: u64,
    },
    /// Adds a plate.
    AddPlate(Arc<Plate>),
    /// Takes a plate away, with its placements.
    RemovePlate(PlateId),
    /// Changes a plate.
    Plate(PlateId, PlateEdit),
    /// Puts a plate into the scene in front of the first `at` placements.
    AddPlacement {
        /// What is placed.
        placement: Arc<Placement>,
        /// How many placements stand behind it.
        at: usize,
    },
    /// Changes a placement.
    SetPlacement(Arc<Placement>),
    /// Takes a placement away.
    RemovePlacement(PlacementId),
    /// Moves a placement in the order of the scene.
    MovePlacement {
        /// Which.
        placement: PlacementId,
        /// How many placements shall stand behind it.
        to: usize,
    },
    /// Several changes that count as one.
    All {
        /// What people call them together.
        name: String,
        /// The changes in order.
        edits: Vec<Self>,
    },
}

/// Why an edit does not fit the project it was meant for.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum EditError {
    /// It names something the project does not have.
    #[error("there is no {what} number {id} in this project")]
    Unknown {
        /// What kind of thing.
        what: &'static str,
        /// Its number.
        id: u32,
    },
    /// It would use a number twice.
    #[error("number {id} is in use already in this project")]
    NumberTaken {
        /// The number.
        id: u32,
    },
    /// It would give two plates one name.
    #[error("there is a plate called '{name}' already")]
    NameTaken {
        /// The name.
        name: String,
    },
    /// It would leave the project in a state that makes no sense.
    #[error("{0}")]
    Refused(String),
}

impl Project {
    /// The project after `edit`.
    ///
    /// # Errors
    /// When the edit names something that is not there, or breaks a rule of the project.
    pub fn edited(&self, edit: &Edit) -> Result<Self, EditError> {
        let mut project = self.clone();
        project.apply(edit)?;
        Ok(project)
    }

    /// Makes the edit in place. After an error the project is in no proper state and must be thrown away.
    pub(super) fn edit(&mut self, edit: &Edit) -> Result<(), EditError> {
        self.apply(edit)
    }

    /// Number `id` is in use; the next new thing gets a larger one.
    fn used(&mut self, id: u32) {
        self.next_id = self.next_id.max(id.saturating_add(1));
    }

    fn apply(&mut self, edit: &Edit) -> Result<(), EditError> {
        match edit {
            Edit::NameScene(name) => self.name.clone_from(name),
            Edit::SetCanvas(canvas) => {
                if canvas.size.area() == 0 {
                    return Err(EditError::Refused(
                        "a canvas needs at least one pixel".to_owned(),
                    ));
                }
                self.canvas = *canvas;
            }
            Edit::SetFinish(finish) => self.finish = *finish,
            Edit::AddFrames(frames) => self.add_frames(frames)?,
            Edit::RelinkFrames(places) => {
                for (id, file) in places {
                    self.frame_mut(*id)?.file.clone_from(file);
                }
            }
            Edit::RecordFrame {
                frame,
                content,
                size,
                bytes,
            } => {
                let frame = self.frame_mut(*frame)?;
                frame.content = Some(*content);
                frame.size = Some(*size);
                frame.bytes = Some(*bytes);
            }
            Edit::AddPlate(plate) => self.add_plate(plate)?,
            Edit::RemovePlate(id) => {
                remove(&mut self.plates, "plate", id.0, |plate| plate.id == *id)?;
                self.placements.retain(|placement| placement.plate != *id);
            }
            Edit::Plate(id, edit) => self.edit_plate(*id, edit)?,
            Edit::AddPlacement { placement, at } => self.add_placement(placement, *at)?,
            Edit::SetPlacement(placement) => {
                self.need_plate(placement.plate)?;
                let at = find(&self.placements, "placement", placement.id.0, |old| {
                    old.id == placement.id
                })?;
                self.placements[at] = Arc::clone(placement);
            }
            Edit::RemovePlacement(id) => {
                remove(&mut self.placements, "placement", id.0, |placement| {
                    placement.id == *id
                })?;
            }
            Edit::MovePlacement { placement, to } => {
                let moved = remove(&mut self.placements, "placement", placement.0, |old| {
                    old.id == *placement
                })?;
                let to = (*to).min(self.placements.len());
                self.placements.insert(to, moved);
            }
            Edit::All { edits, .. } => edits.iter().try_for_each(|edit| self.apply(edit))?,
        }
        Ok(())
    }

    fn add_frames(&mut self, frames: &[Arc<Frame>]) -> Result<(), EditError> {
        for frame in frames {
            if self.frame(frame.id).is_some() {
                return Err(EditError::NumberTaken { id: frame.id.0 });
            }
            self.frames.push(Arc::clone(frame));
            self.used(frame.id.0);
        }
        Ok(())
    }

    fn add_plate(&mut self, plate: &Arc<Plate>) -> Result<(), EditError> {
        if self.plate(plate.id).is_some() {
            return Err(EditError::NumberTaken { id: plate.id.0 });
        }
        if self.plate_by_name(&plate.name).is_some() {
            return Err(EditError::NameTaken {
                name: plate.name.clone(),
            });
        }
        if plate.variant().is_none() {
            return Err(EditError::Unknown {
                what: "source",
                id: plate.current.0,
            });
        }
        self.plates.push(Arc::clone(plate));
        self.used(plate.largest_id());
        Ok(())
    }

    fn edit_plate(&mut self, id: PlateId, edit: &PlateEdit) -> Result<(), EditError> {
        if let PlateEdit::Name(name) = edit
            && self
                .plates
                .iter()
                .any(|plate| plate.id != id && plate.name == *name)
        {
            return Err(EditError::NameTaken { name: name.clone() });
        }
        let at = find(&self.plates, "plate", id.0, |plate| plate.id == id)?;
        // Strokes come by the thousand: with a new number none of those already there needs to be looked at.
        let new_part = match edit {
            PlateEdit::AddPart(_mask, part) => Some(part.id.0),
            _other => None,
        };
        if let Some(id) = new_part
            && id < self.next_id
            && self.plates[at].has_part(id)
        {
            return Err(EditError::NumberTaken { id });
        }
        Arc::make_mut(&mut self.plates[at]).apply(edit)?;
        self.used(new_part.unwrap_or_else(|| self.plates[at].largest_id()));
        Ok(())
    }

    fn add_placement(&mut self, placement: &Arc<Placement>, at: usize) -> Result<(), EditError> {
        self.need_plate(placement.plate)?;
        if self.placement(placement.id).is_some() {
            return Err(EditError::NumberTaken { id: placement.id.0 });
        }
        self.placements
            .insert(at.min(self.placements.len()), Arc::clone(placement));
        self.used(placement.id.0);
        Ok(())
    }

    fn need_plate(&self, id: PlateId) -> Result<(), EditError> {
        find(&self.plates, "plate", id.0, |plate| plate.id == id).map(|_at| ())
    }

    fn frame_mut(&mut self, id: FrameId) -> Result<&mut Frame, EditError> {
        let at = find(&self.frames, "frame", id.0, |frame| frame.id == id)?;
        Ok(Arc::make_mut(&mut self.frames[at]))
    }
}

/// Index of the first item that `is` it.
pub(super) fn find<T>(
    items: &[T],
    what: &'static str,
    id: u32,
    is: impl Fn(&T) -> bool,
) -> Result<usize, EditError> {
    items
        .iter()
        .position(is)
        .ok_or(EditError::Unknown { what, id })
}

/// Takes the first item that `is` it out of the list.
pub(super) fn remove<T>(
    items: &mut Vec<T>,
    what: &'static str,
    id: u32,
    is: impl Fn(&T) -> bool,
) -> Result<T, EditError> {
    let at = find(items, what, id, is)?;
    Ok(items.remove(at))
}

impl Edit {
    /// What people read in the list of edits.
    #[must_use]
    pub fn label(&self, before: &Project) -> String {
        let placed = |id: PlacementId| {
            before
                .placement(id)
                .map_or("a plate", |placement| placement.name.as_str())
        };
        match self {
            Self::NameScene(name) => format!("scene named '{name}'"),
            Self::SetCanvas(canvas) => {
                format!("canvas {} x {} px", canvas.size.width, canvas.size.height)
            }
            Self::SetFinish(_) => "finish changed".to_owned(),
            Self::AddFrames(frames) => format!("{} frames added", frames.len()),
            Self::RelinkFrames(places) => format!("{} frames found elsewhere", places.len()),
            Self::RecordFrame { .. } => "frame read".to_owned(),
            Self::AddPlate(plate) => format!("plate '{}' added", plate.name),
            Self::RemovePlate(id) => format!("plate '{}' removed", before.plate_name(*id)),
            Self::Plate(id, edit) => format!("{}: {}", before.plate_name(*id), edit.label()),
            Self::AddPlacement { placement, .. } => format!("{} placed", placement.name),
            Self::SetPlacement(placement) => format!("placement of {} changed", placement.name),
            Self::RemovePlacement(id) => format!("{} taken out of the scene", placed(*id)),
            Self::MovePlacement { placement, .. } => {
                format!("{} moved in depth", placed(*placement))
            }
            Self::All { name, .. } => name.clone(),
        }
    }
}

impl Project {
    /// The name of a plate, for messages.
    #[must_use]
    pub fn plate_name(&self, id: PlateId) -> &str {
        self.plate(id).map_or("?", |plate| plate.name.as_str())
    }
}
