//! Floor 5: the open project. Runs commands, keeps the history, reads and writes files, measures, builds, starts jobs.
//!
//! Deliberately absent: anything of the window, and pixel arithmetic. The window and the command line both work through here, so
//! neither can do what the other cannot.

pub mod build;
pub mod command;
pub mod demo;
pub mod describe;
pub mod fuse_files;
pub mod grouping;
pub mod jobs;
pub mod journal;
pub mod light_files;
pub mod measure;
pub mod preferences;
pub mod prepare;
pub mod receipt;
mod scratch;
pub mod shelf;
mod suggest;
pub mod swap;
pub mod system;
pub mod viewing;

pub use crate::engine::Watch;
pub use crate::engine::light_colour;
pub use crate::engine::plate_tiles::Stage;
pub use crate::engine::ports::NoWatch;
pub use command::Command;

use crate::engine::{Engine, Options, Scratch, World};
use crate::files::atomic_write::write_bytes;
use crate::files::text::read_text;
use crate::files::{self, FileError, places, project_file};
use crate::geometry::Point;
use crate::project::{Edit, EditError, History, PlateId, Project, RevisionId};
use scratch::ScratchFolder;
use shelf::Shelf;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use thiserror::Error;

/// Why a command could not be carried out: what happened, to what, what to do.
#[derive(Debug, Error)]
pub enum SessionError {
    /// A file could not be read or written.
    #[error(transparent)]
    File(#[from] FileError),
    /// A picture could not be computed.
    #[error(transparent)]
    Engine(#[from] crate::engine::EngineError),
    /// A project file could not be read as one.
    #[error("{}: {error}", path.display())]
    ProjectFile {
        /// The file.
        path: PathBuf,
        /// Why.
        error: project_file::ProjectFileError,
    },
    /// An edit does not fit the project.
    #[error(transparent)]
    Edit(#[from] EditError),
    /// Something asked for is not there, or cannot be done.
    #[error("{0}")]
    Refused(String),
}

impl SessionError {
    /// Whether the work was stopped by the user rather than by a fault.
    #[must_use]
    pub const fn is_cancelled(&self) -> bool {
        matches!(self, Self::Engine(crate::engine::EngineError::Cancelled))
    }
}

/// How a session works. Nothing here changes a pixel.
#[derive(Debug, Clone, Copy)]
pub struct Settings {
    /// How tiles are computed and kept.
    pub engine: Options,
    /// Bytes of decoded photos kept in memory.
    pub photo_bytes: usize,
    /// Bytes of tiles kept on disc between sessions; 0 keeps none.
    pub scratch_bytes: u64,
}

impl Settings {
    /// The same with tiles of another size.
    #[must_use]
    pub fn with_tile_side(self, tile_side: u32) -> Self {
        Self {
            engine: Options {
                tile_side,
                ..self.engine
            },
            ..self
        }
    }

    /// Shares out `bytes` of memory.
    #[must_use]
    pub fn for_memory(bytes: usize) -> Self {
        Self {
            engine: Options {
                memory_bytes: bytes / 3,
                ..Options::default()
            },
            photo_bytes: bytes / 4,
            scratch_bytes: 8 << 30,
        }
    }
}

impl Default for Settings {
    fn default() -> Self {
        Self::for_memory(places::half_of_memory())
    }
}

/// The photos that `names` (files, folders, quoted patterns) stand for.
///
/// # Errors
/// When a name leads nowhere.
pub fn photos_at(names: &[PathBuf]) -> Result<Vec<PathBuf>, SessionError> {
    Ok(files::locate::frames(names, &files::Limits::default())?)
}

/// One open project.
#[derive(Debug)]
pub struct Session {
    history: History,
    path: Option<PathBuf>,
    saved: Option<Option<RevisionId>>,
    engine: Arc<Engine>,
    shelf: Arc<Shelf>,
    scratch: Arc<ScratchFolder>,
    journal: Option<journal::Journal>,
    /// What people should know about how the project was opened, one sentence each.
    pub notes: Vec<String>,
}

impl Session {
    /// A new project that was never saved; its photos are named relative to `folder`.
    #[must_use]
    pub fn new(project: Project, folder: &Path, settings: &Settings) -> Self {
        let scratch = Arc::new(ScratchFolder::open(settings.scratch_bytes));
        Self {
            history: History::new(project),
            path: None,
            saved: None,
            engine: Arc::new(Engine::new(settings.engine)),
            shelf: Arc::new(Shelf::new(folder, settings.photo_bytes)),
            scratch,
            journal: None,
            notes: Vec::new(),
        }
    }

    /// Opens a project file.
    ///
    /// # Errors
    /// When it cannot be read, is damaged, or a newer program wrote it.
    pub fn open(path: &Path, settings: &Settings) -> Result<Self, SessionError> {
        let text = read_text(path, project_file::LARGEST_FILE)?;
        let opened = project_file::from_text(&text).map_err(|error| SessionError::ProjectFile {
            path: path.to_owned(),
            error,
        })?;
        let folder = places::folder_of(path);
        let mut session = Self::new(Project::clone(opened.history.base()), &folder, settings);
        session.saved = Some(opened.history.now());
        session.history = opened.history;
        session.path = Some(path.to_owned());
        session.notes = opened.notes;
        Ok(session)
    }

    /// Writes the project file; the old one stays whole until the new one is complete.
    ///
    /// # Errors
    /// When no path was given and there is none yet, or the file cannot be written.
    pub fn save(&mut self, path: Option<&Path>) -> Result<PathBuf, SessionError> {
        let path = path.map(Path::to_owned).or_else(|| self.path.clone());
        let path = path.ok_or_else(|| {
            SessionError::Refused("this scene has no file yet: save it under a name".to_owned())
        })?;
        self.move_to_folder(&places::folder_of(&path))?;
        let text =
            project_file::to_text(&self.history, env!("CARGO_PKG_VERSION")).map_err(|error| {
                SessionError::ProjectFile {
                    path: path.clone(),
                    error,
                }
            })?;
        write_bytes(&path, text.as_bytes())?;
        self.saved = Some(self.history.now());
        self.path = Some(path.clone());
        if let Some(journal) = &mut self.journal {
            journal.saved(&path, self.history.revisions().len());
        }
        Ok(path)
    }

    /// Names the photos relative to another folder, as one recorded edit, when the project file moves there.
    fn move_to_folder(&mut self, folder: &Path) -> Result<(), SessionError> {
        let places = self.shelf.relinks(self.project(), folder);
        let moved = Arc::new(self.shelf.in_folder(folder));
        if !places.is_empty() {
            self.record(Edit::RelinkFrames(places))?;
        }
        self.shelf = moved;
        Ok(())
    }

    /// The project as it is now.
    #[must_use]
    pub fn project(&self) -> &Arc<Project> {
        self.history.project()
    }

    /// Everything that was done.
    #[must_use]
    pub const fn history(&self) -> &History {
        &self.history
    }

    /// The project file, once there is one.
    #[must_use]
    pub fn path(&self) -> Option<&Path> {
        self.path.as_deref()
    }

    /// Whether the project file holds the project as it is now.
    #[must_use]
    pub fn is_saved(&self) -> bool {
        self.saved == Some(self.history.now())
    }

    /// What computes the pictures.
    #[must_use]
    pub const fn engine(&self) -> &Arc<Engine> {
        &self.engine
    }

    /// Where the photos are.
    #[must_use]
    pub const fn shelf(&self) -> &Arc<Shelf> {
        &self.shelf
    }

    /// Makes an edit, and journals it.
    ///
    /// # Errors
    /// When it does not fit the project; nothing is recorded then.
    pub fn record(&mut self, edit: Edit) -> Result<RevisionId, SessionError> {
        let id = self.history.record(edit, Some(files::clock::now_text()))?;
        self.note_in_journal();
        Ok(id)
    }

    /// The gains that make the place `at` (reference pixels) of a plate's reference frame neutral grey: the mean of 9 x 9 pixels.
    ///
    /// # Errors
    /// When the plate is made, or its reference frame cannot be read.
    pub fn grey_gain(&self, plate: PlateId, at: Point) -> Result<[f32; 3], SessionError> {
        Ok(self.engine.grey_gain(&self.world(&NoWatch), plate, at)?)
    }

    /// The next unused number of the project.
    #[must_use]
    pub fn next_id(&self) -> u32 {
        self.project().next_id
    }

    fn note_in_journal(&mut self) {
        if let Some(journal) = &mut self.journal {
            journal.follow(&self.history);
        }
    }

    fn scratch(&self) -> &dyn Scratch {
        self.scratch.as_ref()
    }

    /// Everything needed to compute pictures of the project as it is now.
    #[must_use]
    pub fn world<'a>(&'a self, watch: &'a dyn Watch) -> World<'a> {
        World {
            project: Arc::clone(self.project()),
            sources: self.shelf.as_ref(),
            scratch: self.scratch(),
            watch,
        }
    }
}
