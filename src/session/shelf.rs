//! Where the photos of a project lie, and the decoded ones that are kept in memory.

use crate::engine::{SourceError, Sources};
use crate::files::{self, FileError, places};
use crate::pixels::Samples;
use crate::project::{ContentHash, Frame, FrameId, Project};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};

/// Finds, verifies, decodes and keeps the photos of one project.
#[derive(Debug)]
pub struct Shelf {
    folder: PathBuf,
    budget: usize,
    kept: Mutex<Kept>,
}

/// Photos used within the last so many askings stay: more than nearly all stacks have frames.
const LATELY: u64 = 256;

#[derive(Debug, Default)]
struct Kept {
    photos: BTreeMap<ContentHash, (Arc<Samples>, u64)>,
    /// Files whose content was verified, with the length and change time they had then.
    verified: BTreeMap<PathBuf, (places::Trace, ContentHash)>,
    clock: u64,
}

impl Shelf {
    /// Photos named relative to `folder`; up to `budget` bytes of decoded ones are kept.
    #[must_use]
    pub fn new(folder: &Path, budget: usize) -> Self {
        Self {
            folder: folder.to_owned(),
            budget,
            kept: Mutex::new(Kept::default()),
        }
    }

    /// The same photos, named relative to another folder.
    #[must_use]
    pub fn in_folder(&self, folder: &Path) -> Self {
        Self::new(folder, self.budget)
    }

    /// The folder photos are named relative to.
    #[must_use]
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// Where a frame lies.
    #[must_use]
    pub fn path_of(&self, frame: &Frame) -> PathBuf {
        places::resolve(&self.folder, &frame.file)
    }

    /// How a file is named in a project in this folder.
    #[must_use]
    pub fn name_of(&self, path: &Path) -> String {
        places::relative_name(&self.folder, path)
    }

    /// The frames whose name changes when the project file moves to `folder`, with their new names.
    #[must_use]
    pub fn relinks(&self, project: &Project, folder: &Path) -> Vec<(FrameId, String)> {
        if places::same_folder(&self.folder, folder) {
            return Vec::new();
        }
        let renamed = project
            .frames
            .iter()
            .map(|frame| (frame, places::relative_name(folder, &self.path_of(frame))));
        renamed
            .filter(|(frame, name)| frame.file != *name)
            .map(|(frame, name)| (frame.id, name))
            .collect()
    }

    /// The content of the file at `path`, read again only if the file changed since.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn content(&self, path: &Path) -> Result<ContentHash, FileError> {
        let path = &places::absolute(path);
        let trace = places::trace(path)?;
        if let Some((before, content)) = self.lock().verified.get(path)
            && *before == trace
        {
            return Ok(*content);
        }
        let content = ContentHash(files::digest::content_hash(path)?);
        self.verified(path, trace, content);
        Ok(content)
    }

    /// Takes it that the file at `path` holds `content` for as long as its length and change time are those of `trace`.
    pub fn verified(&self, path: &Path, trace: places::Trace, content: ContentHash) {
        let path = places::absolute(path);
        self.lock().verified.insert(path, (trace, content));
    }

    /// Takes in a photo that was decoded elsewhere.
    pub fn give(&self, content: ContentHash, samples: &Arc<Samples>) {
        self.lock().keep(content, samples, self.budget);
    }

    fn lock(&self) -> std::sync::MutexGuard<'_, Kept> {
        self.kept.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn read(&self, frame: &Frame) -> Result<Arc<Samples>, FileError> {
        let path = self.path_of(frame);
        if let Some(wanted) = frame.content
            && self.content(&path)? != wanted
        {
            return Err(FileError::changed(&path));
        }
        let photo = files::photo::open(&path, &files::Limits::default())?;
        Ok(Arc::new(photo.samples))
    }
}

impl Sources for Shelf {
    fn samples(&self, frame: &Frame) -> Result<Arc<Samples>, SourceError> {
        let Some(content) = frame.content else {
            return Err(SourceError {
                message: format!("{}: its content was never recorded", frame.file),
            });
        };
        if let Some(samples) = self.lock().take(content) {
            return Ok(samples);
        }
        let samples = self.read(frame).map_err(|error| SourceError {
            message: error.to_string(),
        })?;
        self.lock().keep(content, &samples, self.budget);
        Ok(samples)
    }
}

impl Kept {
    fn take(&mut self, content: ContentHash) -> Option<Arc<Samples>> {
        self.clock += 1;
        let now = self.clock;
        let (samples, age) = self.photos.get_mut(&content)?;
        *age = now;
        Some(Arc::clone(samples))
    }

    /// Keeps a photo. The least recently used go first, but not those used a moment ago: stacks are read over and over from the first
    /// frame to the last, and what goes to make room for the next one would be missed at once.
    fn keep(&mut self, content: ContentHash, samples: &Arc<Samples>, budget: usize) {
        self.clock += 1;
        self.photos
            .insert(content, (Arc::clone(samples), self.clock));
        let held = |photos: &BTreeMap<ContentHash, (Arc<Samples>, u64)>| {
            photos
                .values()
                .map(|(samples, _age)| samples.bytes())
                .sum::<usize>()
        };
        while held(&self.photos) > budget && self.photos.len() > 1 {
            let lately = self.clock.saturating_sub(LATELY);
            let oldest = self
                .photos
                .iter()
                .filter(|(other, (_samples, age))| **other == content || *age < lately)
                .min_by_key(|(other, (_samples, age))| (**other == content, *age))
                .map(|(oldest, _photo)| *oldest);
            match oldest {
                Some(oldest) => drop(self.photos.remove(&oldest)),
                None => break,
            }
        }
    }
}
