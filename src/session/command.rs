//! What people ask of a project, as values: gestures and menus of the window and calls of the command line end here.

use crate::files::project_file::journal_lines::JournalLine;
use crate::project::{Edit, History, NamedState, RevisionId, check};
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
    /// Give a state of the scene a name; a name in use moves to that state.
    NameState(NamedState),
    /// Take a name away; the state stays in the history.
    ForgetName(String),
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
            Command::Undo => self.move_in_history(|history| {
                history.undo();
            })?,
            Command::Redo => self.move_in_history(|history| {
                history.redo();
            })?,
            Command::GoTo(revision) => {
                self.move_in_history(|history| history.go_to(revision))?;
            }
            Command::NameState(state) => {
                self.history.name_state(state.clone())?;
                self.note_name(JournalLine::Named(state));
            }
            Command::ForgetName(name) => {
                if self.history.forget_name(&name) {
                    self.note_name(JournalLine::Unnamed(name));
                }
            }
            Command::Save(path) => self.save(path.as_deref()).map(|_path| ())?,
        }
        self.note_in_journal();
        Ok(())
    }

    /// Goes to another state. One that came from a file and does not hold together is refused: only the newest state of a file
    /// is looked at when it is opened.
    fn move_in_history(&mut self, go: impl FnOnce(&mut History)) -> Result<(), SessionError> {
        let before = self.history.now();
        go(&mut self.history);
        let from_file = self
            .history
            .now()
            .is_none_or(|now| usize::try_from(now.0).is_ok_and(|number| number < self.from_file));
        let fault = from_file
            .then(|| check::faults(self.history.project()).into_iter().next())
            .flatten();
        if let Some(fault) = fault {
            self.history.go_to(before);
            return Err(SessionError::Refused(format!(
                "that state of the scene does not hold together ({fault}): go to another one"
            )));
        }
        Ok(())
    }

    fn note_name(&mut self, line: JournalLine) {
        self.named_since_saved = true;
        if let Some(journal) = &mut self.journal {
            journal.named(line);
        }
    }
}
