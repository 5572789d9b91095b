//! Every edit goes to a journal in the user's state folder as it is made, so that a crash loses at most the last second.
//!
//! The project file itself is written on save only. After a crash the journal leads back to the work, which is offered at the
//! next start.

use crate::files::journal_file::{self, JournalFile};
use crate::files::project_file::{self, journal_lines};
use crate::files::{self, FileError};
use crate::project::{Edit, History, RevisionId};
use crate::session::{Session, SessionError, Settings};
use journal_lines::JournalLine;
use std::path::{Path, PathBuf};

/// The journal of one open project.
#[derive(Debug)]
pub struct Journal {
    file: Option<JournalFile>,
    written: usize,
    now: Option<RevisionId>,
    /// Why the journal cannot be written any more; the work goes on without it.
    fault: Option<String>,
}

/// Work that a crash left behind.
#[derive(Debug)]
pub struct LeftBehind {
    /// The journal.
    pub journal: PathBuf,
    /// The project file, if there was one.
    pub project: Option<PathBuf>,
    /// What people call the scene.
    pub name: String,
    /// Edits that are in no project file.
    pub unsaved: usize,
}

impl Session {
    /// Begins to journal every edit.
    ///
    /// # Errors
    /// When the state folder cannot be written; the session works on without a journal.
    pub fn begin_journal(&mut self) -> Result<(), SessionError> {
        let mut file = JournalFile::begin()?;
        let record = project_file::to_text(self.history(), env!("CARGO_PKG_VERSION"))
            .map_err(|error| SessionError::Refused(error.to_string()))?;
        let begin = JournalLine::Begin {
            path: self.path().map(|path| path.to_string_lossy().into_owned()),
            folder: self.shelf().folder().to_string_lossy().into_owned(),
            record,
        };
        append(&mut file, &begin)?;
        let (written, now) = (self.history().revisions().len(), self.history().now());
        self.journal = Some(Journal {
            file: Some(file),
            written,
            now,
            fault: None,
        });
        Ok(())
    }

    /// Notes what is being drawn: the edit it would make if it ended now, or nothing once it was given up. It is no edit of the
    /// project; only where the program ends before the gesture does, it is taken up as one.
    pub fn note_unfinished(&mut self, edit: Option<Edit>) {
        if let Some(journal) = &mut self.journal {
            journal.write(&[JournalLine::Unfinished(edit)]);
        }
    }

    /// Why edits are not journalled any more, if so.
    #[must_use]
    pub fn journal_fault(&self) -> Option<&str> {
        self.journal.as_ref()?.fault.as_deref()
    }

    /// Ends the journal: the work is saved, or given up on purpose.
    pub fn end_journal(&mut self) {
        if let Some(file) = self.journal.take().and_then(|journal| journal.file) {
            file.remove();
        }
    }

    /// Work that was left behind by processes that ended without saying goodbye. Journals without unsaved work, and those
    /// that lead nowhere, are taken away.
    #[must_use]
    pub fn left_behind() -> Vec<LeftBehind> {
        let mut found = Vec::new();
        for (journal, text) in journal_file::left_behind() {
            match journal_lines::recover(&text) {
                Ok(recovered) if recovered.unsaved > 0 => found.push(LeftBehind {
                    journal,
                    project: recovered.path.map(PathBuf::from),
                    name: recovered.history.project().name.clone(),
                    unsaved: recovered.unsaved,
                }),
                Ok(_saved) => journal_file::remove(&journal),
                Err(_unreadable) => {}
            }
        }
        found
    }

    /// Takes up work that was left behind.
    ///
    /// # Errors
    /// When the journal cannot be read back.
    pub fn take_up(journal: &Path, settings: &Settings) -> Result<Self, SessionError> {
        let text = files::text::read_text(journal, project_file::LARGEST_FILE * 2)?;
        let recovered =
            journal_lines::recover(&text).map_err(|error| SessionError::ProjectFile {
                path: journal.to_owned(),
                error,
            })?;
        let folder = PathBuf::from(&recovered.folder);
        let mut session = Self::new(
            crate::project::Project::clone(recovered.history.base()),
            &folder,
            settings,
        );
        session.history = recovered.history;
        session.path = recovered.path.map(PathBuf::from);
        Ok(session)
    }

    /// Gives work that was left behind up for good.
    pub fn give_up(journal: &Path) {
        journal_file::remove(journal);
    }
}

impl Journal {
    /// Writes what happened since.
    pub(super) fn follow(&mut self, history: &History) {
        let new = history.revisions().get(self.written..).unwrap_or_default();
        let mut lines: Vec<JournalLine> = new.iter().cloned().map(JournalLine::Made).collect();
        let after = new.last().map_or(self.now, |revision| Some(revision.id));
        if after != history.now() {
            lines.push(JournalLine::Now(history.now()));
        }
        self.write(&lines);
        self.written = history.revisions().len();
        self.now = history.now();
    }

    /// Notes that the project file was written.
    pub(super) fn saved(&mut self, path: &Path, revisions: usize) {
        let line = JournalLine::Saved {
            path: path.to_string_lossy().into_owned(),
            revisions,
            now: self.now,
            folder: files::places::folder_of(path)
                .to_string_lossy()
                .into_owned(),
        };
        self.write(&[line]);
    }

    fn write(&mut self, lines: &[JournalLine]) {
        let Some(file) = &mut self.file else { return };
        let written = lines.iter().try_for_each(|line| append(file, line));
        if let Err(error) = written {
            self.fault = Some(error.to_string());
            self.file = None;
        }
    }
}

fn append(file: &mut JournalFile, line: &JournalLine) -> Result<(), FileError> {
    let text = line.to_text().map_err(|error| FileError::Parameter {
        path: file.path().to_owned(),
        what: error.to_string(),
    })?;
    file.append(&text)
}
