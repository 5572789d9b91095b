//! Makes a project ready to be computed: every frame found, its content and size known, every plate's size known.

use crate::files;
use crate::project::{Edit, Frame, FrameId, Plate, PlateEdit, Project, Source, check};
use crate::session::{Session, SessionError};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

impl Session {
    /// Learns what is still unknown of the frames in use and the plates made of them, as recorded edits. Frames that are not
    /// where they were are looked for, by content, in the project's folder and beside their siblings.
    ///
    /// # Errors
    /// When a frame cannot be found or read.
    pub fn prepare(&mut self) -> Result<(), SessionError> {
        self.find_moved()?;
        let edits = self.learn_frames()?;
        self.record_all("photos read", edits)?;
        let edits = learn_plate_sizes(self.project());
        self.record_all("plate sizes read", edits)
    }

    /// Records several edits as one; none if there are none, one as itself.
    pub(in crate::session) fn record_all(
        &mut self,
        name: &str,
        mut edits: Vec<Edit>,
    ) -> Result<(), SessionError> {
        match edits.len() {
            0 => Ok(()),
            1 => self.record(edits.remove(0)).map(|_revision| ()),
            _several => self
                .record(Edit::All {
                    name: name.to_owned(),
                    edits,
                })
                .map(|_revision| ()),
        }
    }

    fn learn_frames(&self) -> Result<Vec<Edit>, SessionError> {
        let mut edits = Vec::new();
        for frame in frames_in_use(self.project()) {
            if frame.content.is_some() && frame.size.is_some() && frame.bytes.is_some() {
                continue;
            }
            let path = self.shelf().path_of(&frame);
            let info = files::photo::describe(&path, &files::Limits::default())?;
            let content = self.shelf().content(&path)?;
            edits.push(Edit::RecordFrame {
                frame: frame.id,
                content,
                size: info.size,
                bytes: info.bytes_on_disc,
            });
        }
        Ok(edits)
    }

    /// The frames in use whose files are not where they should be.
    #[must_use]
    pub fn missing_frames(&self) -> BTreeSet<FrameId> {
        let missing = |frame: &Arc<Frame>| !files::places::exists(&self.shelf().path_of(frame));
        frames_in_use(self.project())
            .iter()
            .filter(|frame| missing(frame))
            .map(|frame| frame.id)
            .collect()
    }

    /// Looks for frames that are not where they were.
    ///
    /// # Errors
    /// When the project's folder cannot be read.
    pub fn find_moved(&mut self) -> Result<(), SessionError> {
        let missing: Vec<Arc<Frame>> = frames_in_use(self.project())
            .into_iter()
            .filter(|frame| {
                frame.content.is_some() && !files::places::exists(&self.shelf().path_of(frame))
            })
            .collect();
        if missing.is_empty() {
            return Ok(());
        }
        let known = |frame: &Arc<Frame>| Some((frame.content?.0, frame.bytes?));
        let wanted: BTreeMap<[u8; 32], u64> = missing.iter().filter_map(known).collect();
        let here = self.shelf().folder().to_owned();
        let beside = here.parent().map(std::path::Path::to_owned);
        let folders: Vec<std::path::PathBuf> = std::iter::once(here).chain(beside).collect();
        let found = files::locate::find_by_content(&folders, &wanted);
        let places = missing.iter().filter_map(|frame| {
            let path = found.get(&frame.content?.0)?;
            Some((frame.id, self.shelf().name_of(path)))
        });
        let places: Vec<_> = places.collect();
        if places.is_empty() {
            return Ok(());
        }
        self.record(Edit::RelinkFrames(places)).map(|_revision| ())
    }
}

/// The frames that any source of any plate uses, each once, in the project's order.
#[must_use]
pub fn frames_in_use(project: &Project) -> Vec<Arc<Frame>> {
    let used: BTreeSet<_> = project
        .plates
        .iter()
        .flat_map(|plate| &plate.variants)
        .flat_map(|variant| check::frames_of(variant))
        .collect();
    project
        .frames
        .iter()
        .filter(|frame| used.contains(&frame.id))
        .cloned()
        .collect()
}

fn learn_plate_sizes(project: &Project) -> Vec<Edit> {
    let unknown = project.plates.iter().filter(|plate| plate.size.is_none());
    unknown
        .filter_map(|plate| {
            let size = first_size(project, plate)?;
            Some(Edit::Plate(plate.id, PlateEdit::RecordSize(size)))
        })
        .collect()
}

/// The size of the reference frame of the plate's first source.
fn first_size(project: &Project, plate: &Plate) -> Option<crate::geometry::Size> {
    match &plate.variants.first()?.source {
        Source::Made(made) => Some(made.size),
        Source::Stack(stack) => project.frame(stack.reference_frame()?)?.size,
    }
}
