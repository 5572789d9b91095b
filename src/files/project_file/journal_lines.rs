//! The lines of a journal, and the record they lead back to.

use super::ProjectFileError;
use crate::project::{Edit, History, NamedState, Revision, RevisionId};
use serde::{Deserialize, Serialize};

/// One line of a journal.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub enum JournalLine {
    /// The first line: the whole record when the journal began, as the text of a project file.
    Begin {
        /// The project file, if there was one.
        path: Option<String>,
        /// The folder that photos are named relative to.
        folder: String,
        /// Text of the project file.
        record: String,
    },
    /// An edit was made.
    Made(Revision),
    /// Undo, redo or a jump.
    Now(Option<RevisionId>),
    /// A state got a name.
    Named(NamedState),
    /// A name was taken away.
    Unnamed(String),
    /// What is being drawn would make this edit if it ended now; nothing where it was given up. Any later line takes its place.
    Unfinished(Option<Edit>),
    /// The project file was written; edits up to this number of revisions are in it.
    Saved {
        /// The project file.
        path: String,
        /// Number of revisions in it.
        revisions: usize,
        /// Where in the history it was.
        now: Option<RevisionId>,
        /// The folder that photos are named relative to from then on.
        folder: String,
    },
}

/// What a journal leads back to.
#[derive(Debug)]
pub struct Recovered {
    /// The record up to the journal's last whole line.
    pub history: History,
    /// The project file, if there was one.
    pub path: Option<String>,
    /// The folder that photos are named relative to.
    pub folder: String,
    /// Edits that are not in any project file.
    pub unsaved: usize,
    /// What was being drawn when the journal ended, until it is taken up as the last edit.
    unfinished: Option<Edit>,
}

impl JournalLine {
    /// The line as text.
    ///
    /// # Errors
    /// When a number in it cannot be written.
    pub fn to_text(&self) -> Result<String, ProjectFileError> {
        serde_json::to_string(self).map_err(|error| ProjectFileError::Damaged(error.to_string()))
    }
}

/// Reads a journal back, up to the first line that was cut short, is damaged or does not fit.
///
/// # Errors
/// When its first line is not whole.
pub fn recover(text: &str) -> Result<Recovered, ProjectFileError> {
    let damaged = |why: String| ProjectFileError::Damaged(why);
    let mut lines = text.lines();
    let first: JournalLine = serde_json::from_str(lines.next().unwrap_or_default())
        .map_err(|error| damaged(format!("its first line: {error}")))?;
    let JournalLine::Begin {
        path,
        folder,
        record,
    } = first
    else {
        return Err(damaged(
            "its first line does not begin a journal".to_owned(),
        ));
    };
    let opened = super::from_text(&record)?;
    let mut found = Recovered {
        history: opened.history,
        path,
        folder,
        unsaved: 0,
        unfinished: None,
    };
    for line in lines {
        let Ok(line) = serde_json::from_str::<JournalLine>(line) else {
            break;
        };
        if follow(&mut found, line).is_err() {
            break;
        }
    }
    // What does not fit was never more than a draft.
    if let Some(edit) = found.unfinished.take()
        && found.history.record(edit, None).is_ok()
    {
        found.unsaved += 1;
    }
    Ok(found)
}

fn follow(found: &mut Recovered, line: JournalLine) -> Result<(), crate::project::EditError> {
    found.unfinished = None;
    match line {
        JournalLine::Begin { .. } => {}
        JournalLine::Unfinished(edit) => found.unfinished = edit,
        JournalLine::Made(revision) => {
            found.history.go_to(revision.parent);
            found.history.record(revision.edit, revision.at)?;
            found.unsaved += 1;
        }
        JournalLine::Now(now) => {
            found.history.go_to(now);
            found.unsaved += 1;
        }
        JournalLine::Named(state) => {
            found.history.name_state(state)?;
            found.unsaved += 1;
        }
        JournalLine::Unnamed(name) => {
            found.history.forget_name(&name);
            found.unsaved += 1;
        }
        JournalLine::Saved { path, folder, .. } => {
            found.path = Some(path);
            found.folder = folder;
            found.unsaved = 0;
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Size;
    use crate::project::Project;

    /// The text of a journal of a new scene with these lines after its first.
    fn journal(lines: &[JournalLine]) -> String {
        let history = History::new(Project::new("harbour", Size::new(8, 8)));
        let begin = JournalLine::Begin {
            path: None,
            folder: ".".to_owned(),
            record: super::super::to_text(&history, "0").unwrap_or_default(),
        };
        let text = |line: &JournalLine| line.to_text().unwrap_or_default() + "\n";
        std::iter::once(&begin).chain(lines).map(text).collect()
    }

    fn name(name: &str) -> Edit {
        Edit::NameScene(name.to_owned())
    }

    fn recovered(lines: &[JournalLine]) -> (String, usize) {
        let found = recover(&journal(lines)).expect("a whole journal");
        (found.history.project().name.clone(), found.unsaved)
    }

    #[test]
    fn what_was_being_drawn_is_the_last_edit() {
        let lines = [
            JournalLine::Unfinished(Some(name("half"))),
            JournalLine::Unfinished(Some(name("three quarters"))),
        ];
        assert_eq!(recovered(&lines), ("three quarters".to_owned(), 1));
    }

    #[test]
    fn what_was_given_up_or_finished_is_not_taken_up() {
        let lines = [
            JournalLine::Unfinished(Some(name("half"))),
            JournalLine::Unfinished(None),
        ];
        assert_eq!(recovered(&lines), ("harbour".to_owned(), 0));
        let mut history = History::new(Project::new("harbour", Size::new(8, 8)));
        history.record(name("whole"), None).expect("it fits");
        let lines = [
            JournalLine::Unfinished(Some(name("half"))),
            JournalLine::Made(history.revisions()[0].clone()),
        ];
        assert_eq!(recovered(&lines), ("whole".to_owned(), 1));
    }
}
