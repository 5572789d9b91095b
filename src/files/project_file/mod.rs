//! Project files: JSON text to the record and back.
//!
//! One edit stands on one line, in the order it was made, so that a project file is friendly to version control. The text is
//! the same for the same record on every machine.

mod envelope;
pub mod journal_lines;
mod v1;

use crate::project::{History, NamedState, Project, Revision, RevisionId, check};
use serde::Deserialize;
use thiserror::Error;

/// What a project file says it is.
pub const FORMAT: &str = "platebench project";
/// The newest version of the format that this program reads, and the one it writes.
pub const VERSION: u32 = 7;
/// The largest project file that is read, in bytes.
pub const LARGEST_FILE: u64 = 512 << 20;

/// A project file that could not be read as one.
#[derive(Debug, Error)]
pub enum ProjectFileError {
    /// It is not JSON, or not as a project file of its version must be.
    #[error("it is not a sound project file: {0}")]
    Damaged(String),
    /// It is JSON, but says it is something else.
    #[error("it does not say that it is a {FORMAT}")]
    NotAProject,
    /// A newer program wrote it.
    #[error(
        "it was written in version {0} of the project format, and this program reads up to version {VERSION}: open it with a newer platebench"
    )]
    Newer(u64),
    /// It names things it does not have.
    #[error("its record does not hold together: {0}")]
    Unsound(String),
}

/// A project read from text.
#[derive(Debug)]
pub struct Opened {
    /// The record.
    pub history: History,
    /// What people should know about how it was read, one sentence each.
    pub notes: Vec<String>,
}

/// The two fields every version has; the rest is left alone.
#[derive(Deserialize)]
struct Heading {
    format: Option<String>,
    version: Option<u64>,
}

/// Puts the parts of a project file together, whatever its version.
fn opened(
    base: Option<Project>,
    edits: Vec<Revision>,
    (now, named): (Option<RevisionId>, Vec<NamedState>),
    mut project: Project,
) -> Result<Opened, ProjectFileError> {
    for part in base.iter().chain([&project]) {
        if let Some(first) = check::faults(part).into_iter().next() {
            return Err(ProjectFileError::Unsound(first));
        }
    }
    project.next_id = project.next_id.max(project.largest_id().saturating_add(1));
    let Some(base) = base else {
        return Ok(Opened {
            history: History::new(project),
            notes: Vec::new(),
        });
    };
    match History::replay(base, edits, now) {
        Ok(mut history) if **history.project() == project => {
            for state in named {
                history
                    .name_state(state)
                    .map_err(|error| ProjectFileError::Unsound(error.to_string()))?;
            }
            Ok(Opened {
                history,
                notes: Vec::new(),
            })
        }
        _changed_by_hand => Ok(Opened {
            history: History::new(project),
            notes: vec![
                "the project in the file is not what its history leads to (it was changed outside platebench): \
                 the project was taken, and its history begins anew"
                    .to_owned(),
            ],
        }),
    }
}

/// Reads a project from the text of its file.
///
/// # Errors
/// See [`ProjectFileError`]; a field the version does not have is an error, never silence.
pub fn from_text(text: &str) -> Result<Opened, ProjectFileError> {
    let damaged = |error: serde_json::Error| ProjectFileError::Damaged(error.to_string());
    let heading: Heading = serde_json::from_str(text).map_err(damaged)?;
    if heading.format.as_deref() != Some(FORMAT) {
        return Err(ProjectFileError::NotAProject);
    }
    match heading.version {
        Some(1) => v1::read(text),
        Some(2..=7) => envelope::read(text),
        Some(newer) if newer > u64::from(VERSION) => Err(ProjectFileError::Newer(newer)),
        _none_or_zero => Err(ProjectFileError::Damaged(
            "it does not say which version it is".to_owned(),
        )),
    }
}

/// The text of the file for this record.
///
/// # Errors
/// When a number in it cannot be written as JSON (not finite); the session's checks keep such numbers out.
pub fn to_text(history: &History, program: &str) -> Result<String, ProjectFileError> {
    envelope::write(history, program)
}

/// The project alone as JSON, for fingerprints and `describe`.
///
/// # Errors
/// As [`to_text`].
pub fn project_text(project: &Project) -> Result<String, ProjectFileError> {
    serde_json::to_string(project).map_err(|error| ProjectFileError::Damaged(error.to_string()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Size;
    use crate::project::Edit;

    fn sample() -> History {
        let mut history = History::new(Project::new("first", Size::new(64, 48)));
        history
            .record(
                Edit::NameScene("Ice shift".to_owned()),
                Some("2026-11-25T10:00:00".to_owned()),
            )
            .unwrap();
        history
            .record(Edit::NameScene("Other".to_owned()), None)
            .unwrap();
        history
            .name_state(NamedState {
                name: "for print".to_owned(),
                revision: history.now(),
            })
            .unwrap();
        history.undo();
        history
    }

    #[test]
    fn a_record_comes_back_as_it_was_written() {
        let history = sample();
        let text = to_text(&history, "0.1.0").unwrap();
        let opened = from_text(&text).unwrap();
        assert!(opened.notes.is_empty(), "{:?}", opened.notes);
        assert_eq!(opened.history.project(), history.project());
        assert_eq!(opened.history.revisions(), history.revisions());
        assert_eq!(opened.history.now(), history.now());
        assert_eq!(opened.history.named(), history.named());
        assert_eq!(
            to_text(&opened.history, "0.1.0").unwrap(),
            text,
            "same record, same text"
        );
    }

    #[test]
    fn a_record_without_history_is_a_project_too() {
        let text = r#"{"format":"platebench project","version":1,
            "project":{"name":"by hand","canvas":{"size":{"width":10,"height":8}}}}"#;
        let opened = from_text(text).unwrap();
        assert_eq!(opened.history.project().name, "by hand");
        assert!(!opened.history.can_undo(), "nothing to undo");
    }

    #[test]
    fn unknown_fields_and_newer_versions_are_said() {
        let text = to_text(&sample(), "0.1.0").unwrap();
        let odd = text.replacen("\"canvas\"", "\"glitter\": 1, \"canvas\"", 1);
        assert!(
            matches!(from_text(&odd), Err(ProjectFileError::Damaged(why)) if why.contains("glitter")),
            "field"
        );
        let newer = text.replacen("\"version\": 7", "\"version\": 9", 1);
        assert!(
            matches!(from_text(&newer), Err(ProjectFileError::Newer(9))),
            "version"
        );
        assert!(
            matches!(from_text("{}"), Err(ProjectFileError::NotAProject)),
            "other JSON"
        );
        assert!(
            matches!(from_text("not json"), Err(ProjectFileError::Damaged(_))),
            "no JSON"
        );
    }

    #[test]
    fn a_project_changed_by_hand_begins_a_new_history_and_says_so() {
        let text = to_text(&sample(), "0.1.0").unwrap();
        let at = text.rfind("Ice shift").unwrap();
        let by_hand = format!("{}{}{}", &text[..at], "Ice drift", &text[at + 9..]);
        let opened = from_text(&by_hand).unwrap();
        assert_eq!(opened.notes.len(), 1, "{:?}", opened.notes);
        assert!(!opened.history.can_undo(), "a new beginning");
    }
}
