//! Version 1 of the project format.

use super::{FORMAT, Opened, ProjectFileError, VERSION};
use crate::project::{History, Project, Revision, RevisionId, check};
use serde::{Deserialize, Serialize};
use std::fmt::Write as _;

/// The two fields every version has; the rest is left alone.
#[derive(Deserialize)]
pub(super) struct Heading {
    pub(super) format: Option<String>,
    pub(super) version: Option<u64>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Envelope {
    #[serde(rename = "format")]
    _format: String,
    #[serde(rename = "version")]
    _version: u32,
    /// Version of the program that wrote it: for people, not for reading.
    #[serde(default, rename = "program")]
    _program: Option<String>,
    #[serde(default)]
    base: Option<Project>,
    #[serde(default)]
    edits: Vec<Revision>,
    #[serde(default)]
    now: Option<RevisionId>,
    project: Project,
}

pub(super) fn read(text: &str) -> Result<Opened, ProjectFileError> {
    let envelope: Envelope =
        serde_json::from_str(text).map_err(|error| ProjectFileError::Damaged(error.to_string()))?;
    let faults = check::faults(&envelope.project);
    if let Some(first) = faults.first() {
        return Err(ProjectFileError::Unsound(first.clone()));
    }
    let mut project = envelope.project;
    project.next_id = project.next_id.max(project.largest_id().saturating_add(1));
    let Some(base) = envelope.base else {
        return Ok(Opened {
            history: History::new(project),
            notes: Vec::new(),
        });
    };
    let replayed = History::replay(base, envelope.edits, envelope.now);
    match replayed {
        Ok(history) if **history.project() == project => Ok(Opened { history, notes: Vec::new() }),
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

pub(super) fn write(history: &History, program: &str) -> Result<String, ProjectFileError> {
    let mut text = String::from("{\n");
    push(&mut text, "format", &FORMAT, ",\n")?;
    push(&mut text, "version", &VERSION, ",\n")?;
    push(&mut text, "program", &program, ",\n")?;
    push(&mut text, "base", history.base().as_ref(), ",\n")?;
    text.push_str("\"edits\": [");
    for (at, revision) in history.revisions().iter().enumerate() {
        text.push_str(if at == 0 { "\n" } else { ",\n" });
        text.push_str(&line(revision)?);
    }
    text.push_str("\n],\n");
    push(&mut text, "now", &history.now(), ",\n")?;
    let pretty = serde_json::to_string_pretty(history.project().as_ref())
        .map_err(|error| ProjectFileError::Damaged(error.to_string()))?;
    text.push_str("\"project\": ");
    text.push_str(&pretty);
    text.push_str("\n}\n");
    Ok(text)
}

fn push(
    text: &mut String,
    key: &str,
    value: &impl Serialize,
    end: &str,
) -> Result<(), ProjectFileError> {
    let value = line(value)?;
    write!(text, "\"{key}\": {value}{end}")
        .map_err(|error| ProjectFileError::Damaged(error.to_string()))
}

fn line(value: &impl Serialize) -> Result<String, ProjectFileError> {
    serde_json::to_string(value).map_err(|error| ProjectFileError::Damaged(error.to_string()))
}
