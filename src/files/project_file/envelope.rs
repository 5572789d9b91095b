//! Versions 2 to 7 of the project format, which share one envelope; the newest is what is written.
//!
//! Version 2 is version 1 and the states that people named; 3 has spotting, paint-out, warps and more ways to a matte among the steps, and
//! more roles of passes; 4 the pressure of strokes, what registration left over, passes bent where the model moved, dust on the sensor, and
//! what people decided about each find of a spotting step; 5 places that are filled from one frame of a stack; 6 how many places only looked
//! like dust, and how far a lens whose distortion changes with focus throws the corners of a frame; 7 the choice to
//! take near parts' blur off what is behind them when a stack is joined.

use super::{FORMAT, Opened, ProjectFileError, VERSION};
use crate::project::{History, NamedState, Project, Revision, RevisionId};
use serde::{Deserialize, Serialize};
use std::fmt::Write as _;

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
    #[serde(default)]
    named: Vec<NamedState>,
    project: Project,
}

pub(super) fn read(text: &str) -> Result<Opened, ProjectFileError> {
    let envelope: Envelope =
        serde_json::from_str(text).map_err(|error| ProjectFileError::Damaged(error.to_string()))?;
    let Envelope {
        base,
        edits,
        now,
        named,
        project,
        ..
    } = envelope;
    super::opened(base, edits, (now, named), project)
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
    if !history.named().is_empty() {
        text.push_str("\"named\": [");
        for (at, state) in history.named().iter().enumerate() {
            text.push_str(if at == 0 { "\n" } else { ",\n" });
            text.push_str(&line(state)?);
        }
        text.push_str("\n],\n");
    }
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
