//! Floor 5: the open project. Runs commands, keeps the history, reads and writes files, measures, builds, starts jobs.
//!
//! Deliberately absent: anything of the window, and pixel arithmetic. The window and the command line both work through here, so
//! neither can do what the other cannot.

pub mod build;
pub mod command;
pub mod demo;
pub mod describe;
#[cfg(test)]
mod full_disc;
pub mod fuse_files;
pub mod grouping;
pub mod jobs;
pub mod journal;
pub mod light_files;
pub mod matte_files;
pub mod measure;
mod one_plate;
pub mod pack;
pub mod preferences;
pub mod prepare;
pub mod receipt;
mod scratch;
pub mod shelf;
pub mod sources;
pub mod spotting;
pub mod spotting_files;
pub mod step_list;
mod suggest;
pub mod swap;
pub mod system;
pub mod verify;
pub mod viewing;

pub use crate::engine::Watch;
pub use crate::engine::light_colour;
pub use crate::engine::plate_tiles::Stage;
pub use crate::engine::ports::NoWatch;
pub use command::Command;

use crate::engine::{Engine, Options, Scratch, World};
use crate::files::atomic_write::write_keeping_backup;
use crate::files::lock_file::{Asked, ProjectLock};
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

/// What is added to a project file's name for the file as it was before the last save.
const BACKUP: &str = ".before";

/// Where the backup of the project file at `path` lies.
#[must_use]
pub fn backup_of(path: &Path) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(BACKUP);
    PathBuf::from(name)
}

/// The project file whose backup is at `path`, if that is one.
fn project_of_backup(path: &Path) -> Option<PathBuf> {
    path.to_str()?.strip_suffix(BACKUP).map(PathBuf::from)
}

/// A damaged file whose backup is there is told so.
fn with_backup(
    path: &Path,
    error: project_file::ProjectFileError,
) -> project_file::ProjectFileError {
    match error {
        project_file::ProjectFileError::Damaged(why) if places::exists(&backup_of(path)) => {
            project_file::ProjectFileError::Damaged(format!(
                "{why}; the file as it was before the last save is {}: open that",
                backup_of(path).display()
            ))
        }
        other => other,
    }
}

/// One open project.
#[derive(Debug)]
pub struct Session {
    history: History,
    path: Option<PathBuf>,
    saved: Option<Option<RevisionId>>,
    /// Whether a state was given a name, or a name taken away, since.
    named_since_saved: bool,
    /// Number of revisions that came from a file.
    from_file: usize,
    engine: Arc<Engine>,
    shelf: Arc<Shelf>,
    scratch: Arc<ScratchFolder>,
    journal: Option<journal::Journal>,
    lock: Option<ProjectLock>,
    /// Changed photos that were taken as they are, by name.
    taken_changed: Vec<String>,
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
            named_since_saved: false,
            from_file: 0,
            engine: Arc::new(Engine::new(settings.engine)),
            shelf: Arc::new(Shelf::new(folder, settings.photo_bytes)),
            scratch,
            journal: None,
            lock: None,
            taken_changed: Vec::new(),
            notes: Vec::new(),
        }
    }

    /// Opens a project file, or the backup of one: what is then saved goes to the project file itself.
    ///
    /// # Errors
    /// When it cannot be read, is damaged, or a newer program wrote it.
    pub fn open(path: &Path, settings: &Settings) -> Result<Self, SessionError> {
        let text = read_text(path, project_file::LARGEST_FILE)?;
        let opened = project_file::from_text(&text).map_err(|error| SessionError::ProjectFile {
            path: path.to_owned(),
            error: with_backup(path, error),
        })?;
        let folder = places::folder_of(path);
        let mut session = Self::new(Project::clone(opened.history.base()), &folder, settings);
        session.from_file = opened.history.revisions().len();
        session.history = opened.history;
        session.notes = opened.notes;
        match project_of_backup(path) {
            None => {
                session.saved = Some(session.history.now());
                session.path = Some(path.to_owned());
            }
            Some(project) => {
                session.notes.push(format!(
                    "this is the backup of {}; saving writes it back there",
                    project.display()
                ));
                session.path = Some(project);
            }
        }
        Ok(session)
    }

    /// Writes the project file; the old one stays whole until the new one is complete, and is kept beside it as its backup.
    ///
    /// # Errors
    /// When no path was given and there is none yet, another window works on that file, or it cannot be written.
    pub fn save(&mut self, path: Option<&Path>) -> Result<PathBuf, SessionError> {
        let path = path.map(Path::to_owned).or_else(|| self.path.clone());
        let path = path.ok_or_else(|| {
            SessionError::Refused("this scene has no file yet: save it under a name".to_owned())
        })?;
        let kept = self.lock.is_some() || self.journal.is_some();
        self.hold(&path)?;
        let written = self.write_project(&path);
        if !kept {
            self.lock = None;
        } else if written.is_err()
            && let Some(old) = self.path.clone()
        {
            // Back to the file worked on so far; if somebody took it in this moment, the next save says so.
            drop(self.hold(&old));
        }
        written?;
        Ok(path)
    }

    fn write_project(&mut self, path: &Path) -> Result<(), SessionError> {
        self.move_to_folder(&places::folder_of(path))?;
        let text = self.project_file_text(path)?;
        write_keeping_backup(path, text.as_bytes(), &backup_of(path))?;
        self.saved = Some(self.history.now());
        self.named_since_saved = false;
        self.path = Some(path.to_owned());
        if let Some(journal) = &mut self.journal {
            journal.saved(path, self.history.revisions().len());
        }
        Ok(())
    }

    /// The text of the project file that is to be written at `path`.
    fn project_file_text(&self, path: &Path) -> Result<String, SessionError> {
        project_file::to_text(&self.history, env!("CARGO_PKG_VERSION")).map_err(|error| {
            SessionError::ProjectFile {
                path: path.to_owned(),
                error,
            }
        })
    }

    /// Holds the lock of the project file at `path` from now on, instead of the one held before. Where a folder takes no locks
    /// there is none.
    ///
    /// # Errors
    /// When another window or call works on that file.
    pub fn hold(&mut self, path: &Path) -> Result<(), SessionError> {
        if self.lock.as_ref().is_some_and(|lock| lock.is_of(path)) {
            return Ok(());
        }
        match ProjectLock::ask(path) {
            Asked::Ours(lock) => self.lock = Some(lock),
            Asked::NoLocks => self.lock = None,
            Asked::Theirs(who) => {
                return Err(SessionError::Refused(format!(
                    "{} is being worked on in another window or call ({who}): close it there, or save under another name",
                    path.display()
                )));
            }
        }
        Ok(())
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
        self.saved == Some(self.history.now()) && !self.named_since_saved
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
            journal.follow(&self.history, self.path.as_deref(), self.shelf.folder());
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
