//! Packs a project with all its photos into one folder that opens anywhere.
//!
//! The folder holds the project file with its whole history, the photos under `photos`, the receipts (with their pictures) that
//! lay beside the project file, and a list of everything with its content. It appears only when it is complete.

use crate::engine::Watch;
use crate::files::copy::copy_verified;
use crate::files::{self, FileError, folders, places};
use crate::project::{Edit, Frame, FrameId};
use crate::session::receipt;
use crate::session::sources::{Reading, SourceState};
use crate::session::{Session, SessionError};
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// The list in a packed folder.
const LIST: &str = "contents.json";
/// Where photos from outside the project's folder go.
const PHOTOS: &str = "photos";

/// What was packed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct PackReport {
    /// The folder.
    pub folder: PathBuf,
    /// The project file in it.
    pub project: PathBuf,
    /// Number of files.
    pub files: usize,
    /// Their bytes.
    pub bytes: u64,
    /// What people should know, one sentence each.
    pub notes: Vec<String>,
}

/// The list of a packed folder.
#[derive(Debug, Serialize)]
struct Contents {
    format: &'static str,
    version: u32,
    program: &'static str,
    files: Vec<Packed>,
}

/// One file in the list.
#[derive(Debug, Serialize)]
struct Packed {
    file: String,
    bytes: u64,
    content: String,
}

impl Session {
    /// Packs the project as it is now, saved or not, into `folder`, which must be empty or not there yet.
    ///
    /// # Errors
    /// When a photo in use is missing or changed, or the folder cannot be written; nothing is left then.
    pub fn pack(&self, folder: &Path, watch: &dyn Watch) -> Result<PackReport, SessionError> {
        if places::has_entries(folder) || places::exists(folder) {
            return Err(SessionError::Refused(format!(
                "{} is there and not empty: name a new or an empty folder",
                folder.display()
            )));
        }
        let mut packed = self.worker();
        packed.history = self.history.clone();
        packed.find_moved()?;
        packed.refuse_unsound(watch)?;
        let making = folders::beside(folder)?;
        let mut work = Packing {
            root: making.path().to_owned(),
            list: Vec::new(),
            notes: Vec::new(),
        };
        let names = packed.packed_names();
        let total = names.len();
        for (done, (frame, name)) in names.values().enumerate() {
            watch.progress("packing", done, total);
            if watch.cancelled() {
                return Err(crate::engine::EngineError::Cancelled.into());
            }
            packed.pack_photo(frame, name, &mut work)?;
        }
        packed.pack_receipts(&mut work)?;
        let project = packed.pack_project(&names, self.path(), &mut work)?;
        let (files, bytes) = work.finish()?;
        making.take_place(folder)?;
        Ok(PackReport {
            folder: folder.to_owned(),
            project: folder.join(project),
            files,
            bytes,
            notes: work.notes,
        })
    }

    fn refuse_unsound(&self, watch: &dyn Watch) -> Result<(), SessionError> {
        let bad: Vec<String> = self
            .check_sources(Reading::Fresh, watch)?
            .into_iter()
            .filter(|report| report.state != SourceState::Same)
            .map(|report| report.why.unwrap_or(report.file))
            .collect();
        if bad.is_empty() {
            Ok(())
        } else {
            Err(SessionError::Refused(bad.join(" ")))
        }
    }

    /// Every photo that any state of the history names, and what it is called in the pack: as in the project where it lies in its
    /// folder, else by number under `photos`.
    fn packed_names(&self) -> BTreeMap<FrameId, (Arc<Frame>, String)> {
        let mut frames: BTreeMap<FrameId, Arc<Frame>> = BTreeMap::new();
        let base = self.history.base().frames.iter();
        let edits = self.history.revisions().iter();
        let added = edits.flat_map(|revision| added_frames(&revision.edit));
        for frame in base.chain(added).chain(&self.project().frames) {
            frames.insert(frame.id, Arc::clone(frame));
        }
        let mut taken: BTreeSet<String> = BTreeSet::new();
        let named = frames.into_iter().map(|(id, frame)| {
            let inside = is_inside(&frame.file);
            let name = if inside && taken.insert(frame.file.to_lowercase()) {
                frame.file.clone()
            } else {
                let own = frame.file.rsplit('/').next().unwrap_or("photo");
                let name = format!("{PHOTOS}/outside/{id}_{own}");
                taken.insert(name.to_lowercase());
                name
            };
            (id, (frame, name))
        });
        named.collect()
    }

    fn pack_photo(
        &self,
        frame: &Frame,
        name: &str,
        work: &mut Packing,
    ) -> Result<(), SessionError> {
        let path = self.shelf().path_of(frame);
        let in_use = self.project().frame(frame.id).is_some();
        let wanted = frame.content.map(|content| content.0);
        match work.copy(&path, name, wanted) {
            Ok(()) => Ok(()),
            Err(error) if in_use => Err(error.into()),
            // A photo that only a set-aside branch of the history names.
            Err(error) => {
                work.notes.push(format!(
                    "left out, as only an earlier state of the scene uses it: {error}"
                ));
                Ok(())
            }
        }
    }

    fn pack_receipts(&self, work: &mut Packing) -> Result<(), SessionError> {
        for path in places::with_ending(self.shelf().folder(), ".receipt.json") {
            let Ok(paid) = receipt::read(&path) else {
                continue;
            };
            let picture = path.with_file_name(&paid.output);
            for file in [path, picture] {
                let name = file
                    .file_name()
                    .unwrap_or_default()
                    .to_string_lossy()
                    .into_owned();
                if places::exists(&file) && !work.has(&name) {
                    work.copy(&file, &name, None)?;
                }
            }
        }
        Ok(())
    }

    /// Writes the project file; where photos are called otherwise in the pack, that is one more recorded edit.
    fn pack_project(
        &mut self,
        names: &BTreeMap<FrameId, (Arc<Frame>, String)>,
        path: Option<&Path>,
        work: &mut Packing,
    ) -> Result<String, SessionError> {
        let renamed: Vec<(FrameId, String)> = self
            .project()
            .frames
            .iter()
            .filter_map(|frame| {
                let (_frame, name) = names.get(&frame.id)?;
                (frame.file != *name).then(|| (frame.id, name.clone()))
            })
            .collect();
        if !renamed.is_empty() {
            self.record(Edit::RelinkFrames(renamed))?;
        }
        let name = path.and_then(Path::file_name).map_or_else(
            || "scene.platebench".to_owned(),
            |name| name.to_string_lossy().into_owned(),
        );
        let text = self.project_file_text(Path::new(&name))?;
        work.write(&name, text.as_bytes())?;
        Ok(name)
    }
}

/// A folder being packed.
struct Packing {
    root: PathBuf,
    list: Vec<Packed>,
    notes: Vec<String>,
}

impl Packing {
    fn copy(&mut self, from: &Path, name: &str, wanted: Option<[u8; 32]>) -> Result<(), FileError> {
        let (content, bytes) = copy_verified(from, &places::resolve(&self.root, name), wanted)?;
        self.note(name, bytes, &content);
        Ok(())
    }

    fn write(&mut self, name: &str, bytes: &[u8]) -> Result<(), FileError> {
        files::atomic_write::write_bytes(&self.root.join(name), bytes)?;
        let length = u64::try_from(bytes.len()).unwrap_or(u64::MAX);
        self.note(name, length, &files::digest::of_bytes(bytes));
        Ok(())
    }

    fn note(&mut self, name: &str, bytes: u64, content: &[u8; 32]) {
        self.list.push(Packed {
            file: name.to_owned(),
            bytes,
            content: files::digest::label(content),
        });
    }

    fn has(&self, name: &str) -> bool {
        self.list.iter().any(|packed| packed.file == name)
    }

    fn finish(&mut self) -> Result<(usize, u64), FileError> {
        self.list.sort_by(|one, other| one.file.cmp(&other.file));
        let totals = (
            self.list.len(),
            self.list.iter().map(|packed| packed.bytes).sum(),
        );
        let contents = Contents {
            format: "platebench pack",
            version: 1,
            program: env!("CARGO_PKG_VERSION"),
            files: std::mem::take(&mut self.list),
        };
        files::json::write(&self.root.join(LIST), &contents)?;
        Ok(totals)
    }
}

fn added_frames(edit: &Edit) -> Vec<&Arc<Frame>> {
    match edit {
        Edit::AddFrames(frames) => frames.iter().collect(),
        Edit::All { edits, .. } => edits.iter().flat_map(added_frames).collect(),
        Edit::NameScene(_)
        | Edit::SetCanvas(_)
        | Edit::SetFinish(_)
        | Edit::RelinkFrames(_)
        | Edit::RecordFrame { .. }
        | Edit::AddPlate(_)
        | Edit::RemovePlate(_)
        | Edit::Plate(..)
        | Edit::AddPlacement { .. }
        | Edit::SetPlacement(_)
        | Edit::RemovePlacement(_)
        | Edit::MovePlacement { .. } => Vec::new(),
    }
}

/// Whether a photo's name keeps to the project's folder.
fn is_inside(name: &str) -> bool {
    let steps_out = |part: &str| matches!(part, "" | "." | "..");
    !name.split('/').any(steps_out) && !name.contains(['\\', ':'])
}
