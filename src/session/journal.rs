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
    /// The folder it lies in.
    journals: PathBuf,
    file: Option<JournalFile>,
    written: usize,
    now: Option<RevisionId>,
    /// Why the journal could not be written; the work goes on without it until a new one can be begun.
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
    /// Begins to journal every edit, and asks for the lock of the project file, so that two windows do not write one file.
    ///
    /// # Errors
    /// When the state folder cannot be written; the session works on without a journal, and tries again with every edit.
    pub fn begin_journal(&mut self) -> Result<(), SessionError> {
        let journals = journal_file::folder_of_user()?;
        self.begin_journal_in(journals)
    }

    pub(in crate::session) fn begin_journal_in(
        &mut self,
        journals: PathBuf,
    ) -> Result<(), SessionError> {
        if let Some(path) = self.path.clone()
            && let Err(held) = self.hold(&path)
        {
            self.notes.push(held.to_string());
        }
        let mut journal = Journal {
            journals,
            file: None,
            written: 0,
            now: None,
            fault: None,
        };
        let begun = journal.begin(&self.history, self.path(), self.shelf().folder());
        if let Err(error) = &begun {
            journal.fault = Some(error.to_string());
        }
        self.journal = Some(journal);
        begun
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
        session.from_file = recovered.history.revisions().len();
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
    /// Begins a journal file with the whole record.
    fn begin(
        &mut self,
        history: &History,
        path: Option<&Path>,
        folder: &Path,
    ) -> Result<(), SessionError> {
        let mut file = JournalFile::begin(&self.journals)?;
        let begun =
            begin_line(history, path, folder).and_then(|line| Ok(append(&mut file, &line)?));
        if let Err(error) = begun {
            file.remove();
            return Err(error);
        }
        if let Some(broken) = self.file.replace(file) {
            broken.remove();
        }
        self.written = history.revisions().len();
        self.now = history.now();
        self.fault = None;
        Ok(())
    }

    /// Writes what happened since. Where the journal broke off (a full disc), begins a new one once that is possible; the
    /// broken one stays until then.
    pub(super) fn follow(&mut self, history: &History, path: Option<&Path>, folder: &Path) {
        if self.fault.is_some() {
            // Still not possible: the fault that was told stays.
            drop(self.begin(history, path, folder));
            return;
        }
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

    /// Notes that a state got a name, or that a name was taken away.
    pub(super) fn named(&mut self, line: JournalLine) {
        self.write(&[line]);
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
        if self.fault.is_some() {
            return;
        }
        let Some(file) = &mut self.file else { return };
        let written = lines.iter().try_for_each(|line| append(file, line));
        self.fault = written.err().map(|error| error.to_string());
    }
}

fn begin_line(
    history: &History,
    path: Option<&Path>,
    folder: &Path,
) -> Result<JournalLine, SessionError> {
    let record = project_file::to_text(history, env!("CARGO_PKG_VERSION"))
        .map_err(|error| SessionError::Refused(error.to_string()))?;
    Ok(JournalLine::Begin {
        path: path.map(|path| path.to_string_lossy().into_owned()),
        folder: folder.to_string_lossy().into_owned(),
        record,
    })
}

fn append(file: &mut JournalFile, line: &JournalLine) -> Result<(), FileError> {
    let text = line.to_text().map_err(|error| FileError::Parameter {
        path: file.path().to_owned(),
        what: error.to_string(),
    })?;
    file.append(&text)
}
