//! What a photo, project or receipt holds, for `describe`.

use crate::files::{self, photo::PhotoInfo, project_file};
use crate::project::{Camera, Project, check};
use crate::session::receipt::Receipt;
use crate::session::{SessionError, Settings};
use serde::Serialize;
use std::path::Path;

/// What a file holds.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "snake_case", tag = "kind")]
pub enum Described {
    /// A photo.
    Photo {
        /// The format's name.
        format: String,
        /// Width in pixels, upright.
        width: u32,
        /// Height in pixels, upright.
        height: u32,
        /// Bits per channel.
        bits: u32,
        /// Channels per pixel.
        channels: usize,
        /// How its numbers are read as colour.
        colour: String,
        /// What the camera wrote.
        camera: Camera,
        /// BLAKE3 of its bytes, as `blake3:...`.
        content: String,
    },
    /// A project.
    Project {
        /// What people call the scene.
        name: String,
        /// Canvas width in pixels.
        width: u32,
        /// Canvas height in pixels.
        height: u32,
        /// Number of frames.
        frames: usize,
        /// Its plates.
        plates: Vec<DescribedPlate>,
        /// Its placements by name, back to front.
        placements: Vec<String>,
        /// The recorded edits, in words.
        edits: Vec<String>,
        /// The states that people named.
        named: Vec<String>,
        /// What people should know about how it was read.
        notes: Vec<String>,
    },
    /// A receipt.
    Receipt(Box<Receipt>),
}

/// A plate of a described project.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct DescribedPlate {
    /// Its name.
    pub name: String,
    /// The frames of the source in use.
    pub frames: usize,
    /// Its sources by name.
    pub sources: Vec<String>,
    /// Its passes by name.
    pub passes: Vec<String>,
    /// Its masks by name.
    pub masks: Vec<String>,
    /// Its practical groups by name.
    pub groups: Vec<String>,
    /// Its steps.
    pub steps: Vec<String>,
}

/// Says what the file at `path` holds.
///
/// # Errors
/// When it is none of the three, or cannot be read.
pub fn describe(path: &Path) -> Result<Described, SessionError> {
    if files::places::looks_like_json(path)? {
        let text = files::text::read_text(path, project_file::LARGEST_FILE)?;
        if let Some(receipt) = files::json::parse::<Receipt>(&text) {
            return Ok(Described::Receipt(Box::new(receipt)));
        }
        let session = crate::session::Session::open(
            path,
            &Settings {
                scratch_bytes: 0,
                ..Settings::default()
            },
        )?;
        let edits = session
            .history()
            .path()
            .into_iter()
            .map(|(_revision, label)| label)
            .collect();
        let named = session.history().named().iter();
        let names = named.map(|state| state.name.clone()).collect();
        return Ok(described_project(
            session.project(),
            (edits, names),
            session.notes.clone(),
        ));
    }
    let info = files::photo::describe(path, &files::Limits::default())?;
    let content = format!(
        "blake3:{}",
        files::digest::hex(&files::digest::content_hash(path)?)
    );
    Ok(Described::Photo {
        format: info.format.name().to_owned(),
        width: info.size.width,
        height: info.size.height,
        bits: info.bits,
        channels: info.channels,
        colour: info.colour.clone(),
        camera: camera_of(&info),
        content,
    })
}

/// What the camera wrote, as the record keeps it.
#[must_use]
pub fn camera_of(info: &PhotoInfo) -> Camera {
    let camera = &info.camera;
    let body: Vec<&str> = [camera.make.as_deref(), camera.model.as_deref()]
        .into_iter()
        .flatten()
        .collect();
    Camera {
        exposure_s: camera.exposure_s,
        f_number: camera.f_number,
        iso: camera.iso,
        focal_mm: camera.focal_mm,
        focus_distance_mm: camera.focus_distance_mm,
        taken: camera.taken.clone(),
        body: (!body.is_empty()).then(|| body.join(" ")),
        lens: camera.lens.clone(),
    }
}

fn described_project(
    project: &Project,
    (edits, named): (Vec<String>, Vec<String>),
    notes: Vec<String>,
) -> Described {
    let plates = project.plates.iter().map(|plate| DescribedPlate {
        name: plate.name.clone(),
        frames: plate
            .variant()
            .map_or(0, |variant| check::frames_of(variant).count()),
        sources: plate
            .variants
            .iter()
            .map(|variant| variant.name.clone())
            .collect(),
        passes: plate.passes.iter().map(|pass| pass.name.clone()).collect(),
        masks: plate.masks.iter().map(|mask| mask.name.clone()).collect(),
        groups: plate
            .groups
            .iter()
            .map(|group| group.name.clone())
            .collect(),
        steps: plate
            .steps
            .iter()
            .map(|step| step.kind.word().to_owned())
            .collect(),
    });
    Described::Project {
        name: project.name.clone(),
        width: project.canvas.size.width,
        height: project.canvas.size.height,
        frames: project.frames.len(),
        plates: plates.collect(),
        placements: project
            .placements
            .iter()
            .map(|placement| placement.name.clone())
            .collect(),
        edits,
        named,
        notes,
    }
}
