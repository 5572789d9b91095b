//! The receipt: the file beside a finished picture that says from what it was built, by fingerprints.

use crate::engine::stamp::Stamp;
use crate::files::{self, project_file};
use crate::project::Project;
use crate::session::prepare::frames_in_use;
use crate::session::{Session, SessionError};
use serde::{Deserialize, Serialize};
use std::path::{Path, PathBuf};

/// What a receipt says it is.
pub const FORMAT: &str = "platebench receipt";
/// The version of the receipts written.
pub const VERSION: u32 = 1;

/// What a finished picture was built from.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Receipt {
    /// Always `platebench receipt`.
    pub format: String,
    /// The version of this format.
    pub version: u32,
    /// The version of the program that built it.
    pub program: String,
    /// The finished file's name.
    pub output: String,
    /// Its width in pixels.
    pub width: u32,
    /// Its height in pixels.
    pub height: u32,
    /// Zoom level: the canvas was halved so many times.
    pub level: u32,
    /// Bits per channel of the finished file.
    pub bits: u8,
    /// BLAKE3 of the project's recipe, as `blake3:...`.
    pub project: String,
    /// Every source file.
    pub sources: Vec<SourceEntry>,
    /// Every recorded step that went in.
    pub steps: Vec<StepEntry>,
    /// BLAKE3 of the finished pixels, as `blake3:...`.
    pub pixels: String,
    /// Photos that had changed since the project was made from them and were taken as they are, by name.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub changed_sources: Vec<String>,
}

/// A source file in a receipt.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SourceEntry {
    /// Its name, as the project has it.
    pub file: String,
    /// BLAKE3 of its bytes, as `blake3:...`.
    pub content: String,
}

/// A step in a receipt.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StepEntry {
    /// The plate it belongs to; empty for the scene's own.
    pub plate: String,
    /// What it is.
    pub step: String,
    /// Stamp of its recorded parameters.
    pub fingerprint: String,
}

/// Where the receipt of `output` lies.
#[must_use]
pub fn path_for(output: &Path) -> PathBuf {
    let mut name = output.as_os_str().to_owned();
    name.push(".receipt.json");
    PathBuf::from(name)
}

/// The largest receipt that is read, in bytes.
const LARGEST: u64 = 64 << 20;

/// Reads a receipt.
///
/// # Errors
/// When it cannot be read, or is none.
pub fn read(path: &Path) -> Result<Receipt, SessionError> {
    let text = files::text::read_text(path, LARGEST)?;
    let receipt = files::json::parse::<Receipt>(&text)
        .filter(|receipt| receipt.format == FORMAT && receipt.version == VERSION);
    receipt.ok_or_else(|| {
        SessionError::Refused(format!(
            "{} is no receipt that this program reads: name the .receipt.json beside the finished picture",
            path.display()
        ))
    })
}

/// The newest receipt that lies in `folder`.
#[must_use]
pub(in crate::session) fn newest_in(folder: &Path) -> Option<PathBuf> {
    files::places::newest_with_ending(folder, ".receipt.json")
}

impl Session {
    /// BLAKE3 of the project's recipe, as `blake3:...`. Where files lie does not count, what is in them does.
    ///
    /// # Errors
    /// When the project holds a number that cannot be written.
    pub fn project_fingerprint(&self) -> Result<String, SessionError> {
        let mut recipe = Project::clone(self.project());
        for frame in &mut recipe.frames {
            std::sync::Arc::make_mut(frame).file.clear();
        }
        let text = project_file::project_text(&recipe).map_err(|error| {
            SessionError::Refused(format!("the project cannot be written: {error}"))
        })?;
        Ok(files::digest::label(&files::digest::of_bytes(
            text.as_bytes(),
        )))
    }

    /// Every source file in use with its content.
    #[must_use]
    pub fn source_entries(&self) -> Vec<SourceEntry> {
        let frames = frames_in_use(self.project());
        let entry = |frame: &std::sync::Arc<crate::project::Frame>| SourceEntry {
            file: frame.file.clone(),
            content: frame
                .content
                .map_or_else(String::new, |content| files::digest::label(&content.0)),
        };
        frames.iter().map(entry).collect()
    }

    /// Every recorded step that goes into the finished picture.
    #[must_use]
    pub fn step_entries(&self) -> Vec<StepEntry> {
        let project = self.project();
        let mut entries = Vec::new();
        let entry = |plate: &str, step: String, parameters: Stamp| StepEntry {
            plate: plate.to_owned(),
            step,
            fingerprint: parameters.done().to_string(),
        };
        for plate in &project.plates {
            if let Some(variant) = plate.variant() {
                let stamp = Stamp::new("source")
                    .parameters(&variant.source)
                    .parameters(&variant.lies);
                entries.push(entry(
                    &plate.name,
                    format!("source '{}'", variant.name),
                    stamp,
                ));
            }
            for group in &plate.groups {
                let mask = group.mask.and_then(|id| plate.mask(id));
                let stamp = Stamp::new("group").parameters(group).parameters(&mask);
                entries.push(entry(
                    &plate.name,
                    format!("practical group '{}'", group.name),
                    stamp,
                ));
            }
            for step in &plate.steps {
                let mask = step.mask.and_then(|id| plate.mask(id));
                let stamp = Stamp::new("step").parameters(step).parameters(&mask);
                entries.push(entry(&plate.name, step.kind.word().to_owned(), stamp));
            }
        }
        for placement in &project.placements {
            let stamp = Stamp::new("placement").parameters(placement);
            entries.push(entry("", format!("placement '{}'", placement.name), stamp));
        }
        entries.push(entry(
            "",
            "finish".to_owned(),
            Stamp::new("finish").parameters(&project.finish),
        ));
        entries
    }
}
