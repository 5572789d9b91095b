//! What people ask of a project, as values: gestures and menus of the window and calls of the command line end here.

use crate::project::{Edit, RevisionId};
use crate::session::{Session, SessionError};
use std::path::PathBuf;

/// One thing people ask of an open project.
#[derive(Debug, Clone, PartialEq)]
#[expect(
    clippy::large_enum_variant,
    reason = "few and short-lived; boxing would only hide the fields"
)]
pub enum Command {
    /// Make an edit.
    Edit(Edit),
    /// Go back by one edit.
    Undo,
    /// Go forward again by one edit.
    Redo,
    /// Go to any point of the history; `None` is its beginning.
    GoTo(Option<RevisionId>),
    /// Write the project file, under another name where one is given.
    Save(Option<PathBuf>),
}

impl Session {
    /// Carries out a command.
    ///
    /// # Errors
    /// As the command's own work.
    pub fn run(&mut self, command: Command) -> Result<(), SessionError> {
        match command {
            Command::Edit(edit) => self.record(edit).map(|_revision| ())?,
            Command::Undo => {
                self.history.undo();
            }
            Command::Redo => {
                self.history.redo();
            }
            Command::GoTo(revision) => self.history.go_to(revision),
            Command::Save(path) => self.save(path.as_deref()).map(|_path| ())?,
        }
        self.note_in_journal();
        Ok(())
    }
}
