//! Are the photos of a project the ones it was made from? Copying them in, finding them again, taking changed ones as they are.

use crate::engine::Watch;
use crate::files::copy::copy_verified;
use crate::files::{self, FileError, locate, places};
use crate::project::{ContentHash, Edit, Frame, FrameId, Project, check};
use crate::session::prepare::frames_in_use;
use crate::session::{Session, SessionError};
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Whether a photo is the one the project was made from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum SourceState {
    /// Its content is the recorded one.
    Same,
    /// Its content is another one.
    Changed,
    /// It is not there, or cannot be read.
    Missing,
}

/// A photo and its state.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct SourceReport {
    /// Its name, as the project has it.
    pub file: String,
    /// Its state.
    pub state: SourceState,
    /// What is known of the fault, and what to do.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub why: Option<String>,
}

impl Session {
    /// The state of every photo in use, by content. [`Reading::Fresh`] reads every file; else files whose length and time of change are
    /// those of the last look are taken to be as they were.
    ///
    /// # Errors
    /// When the work was stopped.
    pub fn check_sources(
        &self,
        reading: Reading,
        watch: &dyn Watch,
    ) -> Result<Vec<SourceReport>, SessionError> {
        let frames = frames_in_use(self.project());
        let mut reports = Vec::new();
        for (done, frame) in frames.iter().enumerate() {
            watch.progress("checking the photos", done, frames.len());
            if watch.cancelled() {
                return Err(crate::engine::EngineError::Cancelled.into());
            }
            reports.push(self.source_report(frame, reading));
        }
        Ok(reports)
    }

    fn source_report(&self, frame: &Frame, reading: Reading) -> SourceReport {
        let path = self.shelf().path_of(frame);
        let found = match reading {
            Reading::Fresh => files::digest::content_hash(&path).map(ContentHash),
            Reading::Known => self.shelf().content(&path),
        };
        let (state, why) = match found {
            Err(error) => (SourceState::Missing, Some(error.to_string())),
            Ok(found) if frame.content.is_none_or(|wanted| wanted == found) => {
                (SourceState::Same, None)
            }
            Ok(found) => (SourceState::Changed, Some(self.how_changed(&path, found))),
        };
        SourceReport {
            file: frame.file.clone(),
            state,
            why,
        }
    }

    fn how_changed(&self, path: &Path, found: ContentHash) -> String {
        let holds = |frame: &&Arc<Frame>| frame.content == Some(found);
        self.project().frames.iter().find(holds).map_or_else(
            || FileError::changed(path).to_string(),
            |other| {
                format!(
                    "{}: it holds the picture that was {}; put the files back under their own names.",
                    path.display(),
                    other.file
                )
            },
        )
    }

    /// Refuses when a photo that goes into the finished picture is not the recorded one.
    ///
    /// # Errors
    /// When one is missing or changed: which, and what to do.
    pub(in crate::session) fn refuse_changed(&self) -> Result<(), SessionError> {
        let bad: Vec<SourceReport> = frames_needed(self.project())
            .iter()
            .map(|frame| self.source_report(frame, Reading::Known))
            .filter(|report| report.state != SourceState::Same)
            .collect();
        let Some(first) = bad.first() else {
            return Ok(());
        };
        let why = first.why.as_deref().unwrap_or(&first.file);
        let others: Vec<&str> = bad[1..].iter().map(|other| other.file.as_str()).collect();
        Err(SessionError::Refused(if others.is_empty() {
            why.to_owned()
        } else {
            format!("{why} So it is with {}", others.join(", "))
        }))
    }

    /// Takes photos whose content changed as they are now, as one recorded edit, and gives their names. What is built from then
    /// on says so in its receipt.
    ///
    /// # Errors
    /// When one cannot be read as a photo.
    pub fn take_changed(&mut self) -> Result<Vec<String>, SessionError> {
        let mut edits = Vec::new();
        let mut names = Vec::new();
        for frame in frames_in_use(self.project()) {
            let path = self.shelf().path_of(&frame);
            let Some(wanted) = frame.content.filter(|_| places::exists(&path)) else {
                continue;
            };
            let content = self.shelf().content(&path)?;
            if content == wanted {
                continue;
            }
            let info = files::photo::describe(&path, &files::Limits::default())?;
            edits.push(Edit::RecordFrame {
                frame: frame.id,
                content,
                size: info.size,
                bytes: info.bytes_on_disc,
            });
            names.push(frame.file.clone());
        }
        self.record_all("changed photos taken as they are", edits)?;
        self.taken_changed.extend(names.iter().cloned());
        Ok(names)
    }

    /// Copies photos into the project's folder, each read back and compared, and into `second` as well where it is given.
    /// Gives the copies in the order of `photos`; the photos themselves stay as they are. Photos that lie in the project's folder already
    /// are not copied again, but are compared with their copy in `second`.
    ///
    /// # Errors
    /// When a photo cannot be read, or a copy cannot be written or reads back differently.
    pub fn copy_in(
        &self,
        photos: &[PathBuf],
        second: Option<&Path>,
        watch: &dyn Watch,
    ) -> Result<Vec<PathBuf>, SessionError> {
        let home = places::absolute(self.shelf().folder());
        let mut copies = Vec::new();
        for (done, photo) in photos.iter().enumerate() {
            watch.progress("copying photos", done, photos.len());
            if watch.cancelled() {
                return Err(crate::engine::EngineError::Cancelled.into());
            }
            let name = within(photo);
            let photo = places::absolute(photo);
            let copy = if photo.starts_with(&home) {
                photo.clone()
            } else {
                home.join("photos").join(&name)
            };
            let mut content = None;
            if copy != photo {
                content = Some(copy_verified(&photo, &copy, None)?.0);
            }
            if let Some(second) = second {
                copy_verified(&photo, &second.join(&name), content)?;
            }
            copies.push(copy);
        }
        Ok(copies)
    }

    /// Looks in `folder` and the folders below it for every photo that is not where it was, by content, and records where they are: one
    /// photo shown leads to all its siblings. Gives how many were found, and the names of those still missing.
    ///
    /// # Errors
    /// When the edit does not fit, which is a fault of the program.
    pub fn relink(&mut self, folder: &Path) -> Result<(usize, Vec<String>), SessionError> {
        let missing = self.missing_frames();
        let lost: Vec<Arc<Frame>> = frames_in_use(self.project())
            .into_iter()
            .filter(|frame| missing.contains(&frame.id))
            .collect();
        let known = |frame: &Arc<Frame>| Some((frame.content?.0, frame.bytes?));
        let wanted: BTreeMap<[u8; 32], u64> = lost.iter().filter_map(known).collect();
        let found = locate::find_by_content(&[folder.to_owned()], &wanted);
        let places: Vec<(FrameId, String)> = lost
            .iter()
            .filter_map(|frame| {
                let path = found.get(&frame.content?.0)?;
                Some((frame.id, self.shelf().name_of(path)))
            })
            .collect();
        let count = places.len();
        if count > 0 {
            self.record(Edit::RelinkFrames(places))?;
        }
        let still = self.missing_frames();
        let left = lost.iter().filter(|frame| still.contains(&frame.id));
        Ok((count, left.map(|frame| frame.file.clone()).collect()))
    }
}

/// How closely to look at files.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reading {
    /// Read every byte.
    Fresh,
    /// Rely on length and time of change since the last look.
    Known,
}

/// The photos that go into the finished picture as the project is now: each plate's source in use, and the passes in use.
#[must_use]
pub fn frames_needed(project: &Project) -> Vec<Arc<Frame>> {
    let mut used: BTreeSet<FrameId> = BTreeSet::new();
    for plate in &project.plates {
        let takes = plate
            .passes
            .iter()
            .filter_map(|pass| plate.take(pass.id))
            .map(|(variant, _take)| variant);
        for variant in plate.variant().into_iter().chain(takes) {
            used.extend(check::frames_of(variant));
        }
    }
    project
        .frames
        .iter()
        .filter(|frame| used.contains(&frame.id))
        .cloned()
        .collect()
}

/// The photo's own name below the name of its folder, so that photos of the same name from two folders stay apart.
fn within(photo: &Path) -> PathBuf {
    let name = photo.file_name().map(PathBuf::from).unwrap_or_default();
    let folder = places::absolute(photo);
    match folder.parent().and_then(Path::file_name) {
        Some(folder) => Path::new(folder).join(name),
        None => name,
    }
}
