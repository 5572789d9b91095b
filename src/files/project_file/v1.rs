//! Version 1 of the project format: read, never written any more.

use super::{Opened, ProjectFileError};
use crate::project::{Project, Revision, RevisionId};
use serde::Deserialize;

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
    let Envelope {
        base,
        edits,
        now,
        project,
        ..
    } = envelope;
    super::opened(base, edits, (now, Vec::new()), project)
}
