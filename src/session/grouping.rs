//! Sorts photos into stacks and passes by folder, name, time and exposure, for people to approve.

use crate::engine::view;
use crate::files::{self, photo};
use crate::geometry::{Point, Size};
use crate::pixels::DisplayImage;
use crate::project::{
    Edit, Frame, FrameId, KeyLight, Made, MaskPart, Pass, PassId, PassRole, Placement, PlacementId,
    Placing, Plate, PlateEdit, PlateId, Source, Stack, Take, Variant, VariantId,
};
use crate::session::{Session, SessionError};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// What a group of photos is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum GroupRole {
    /// The unlit pass: a stack for a plate.
    Unlit,
    /// A light pass of a plate.
    Light,
    /// A silhouette pass of a plate.
    Silhouette,
    /// The set without the model.
    CleanPlate,
}

/// A photo as it was seen.
#[derive(Debug, Clone, PartialEq)]
pub struct PhotoSeen {
    /// The file.
    pub path: PathBuf,
    /// When it was taken, as the camera wrote it.
    pub taken: Option<String>,
    /// Exposure time in seconds.
    pub exposure_s: Option<f64>,
    /// Width and height.
    pub size: Size,
}

/// Photos that belong together.
#[derive(Debug, Clone, PartialEq)]
pub struct Group {
    /// What people call it.
    pub name: String,
    /// What it is.
    pub role: GroupRole,
    /// The plate it belongs to.
    pub plate: String,
    /// Its photos in the order they were taken.
    pub photos: Vec<PhotoSeen>,
}

/// Share of pixels above middle light from which a photo looks like a silhouette before a lit backdrop.
const MOSTLY_BRIGHT: f32 = 0.35;

/// Proposes groups for `photos`: one plate per folder and first word of the name, one group per further word, time gap or
/// exposure.
///
/// # Errors
/// When a photo cannot be read.
pub fn propose(photos: &[PathBuf]) -> Result<Vec<Group>, SessionError> {
    propose_beside(photos, &[])
}

/// Proposes groups for photos that come to a scene in which there are `plates` already: photos of such a plate are a pass of it.
///
/// # Errors
/// When a photo cannot be read.
pub fn propose_beside(photos: &[PathBuf], plates: &[String]) -> Result<Vec<Group>, SessionError> {
    let mut seen = Vec::new();
    for path in photos {
        let info = photo::describe(path, &files::Limits::default())?;
        seen.push(PhotoSeen {
            path: path.clone(),
            taken: info.camera.taken.clone(),
            exposure_s: info.camera.exposure_s,
            size: info.size,
        });
    }
    seen.sort_by(|a, b| {
        (words_of(&a.path).0, &a.taken, &a.path).cmp(&(words_of(&b.path).0, &b.taken, &b.path))
    });
    let mut groups: Vec<Group> = Vec::new();
    for photo in seen {
        let (plate, rest) = words_of(&photo.path);
        let fits = groups.last().is_some_and(|group| {
            group.plate == plate && group.name == name_of(&plate, &rest) && alike(group, &photo)
        });
        if !fits {
            let role = GroupRole::Unlit;
            groups.push(Group {
                name: name_of(&plate, &rest),
                role,
                plate,
                photos: Vec::new(),
            });
        }
        if let Some(group) = groups.last_mut() {
            group.photos.push(photo);
        }
    }
    for at in 0..groups.len() {
        let (before, group) = (&groups[..at], &groups[at]);
        let has_unlit =
            plates.contains(&group.plate) || before.iter().any(|other| other.plate == group.plate);
        let role = guess(group, has_unlit)?;
        groups[at].role = role;
    }
    Ok(groups)
}

/// A photo as a small picture, neither side longer than `longest` pixels; nothing is kept of it.
///
/// # Errors
/// When the photo cannot be read.
pub fn small_picture(path: &Path, longest: u32) -> Result<DisplayImage, SessionError> {
    let photo = photo::open(path, &files::Limits::default())?;
    view::small(&photo.samples, longest).ok_or_else(|| {
        SessionError::Refused(format!("{}: its colours cannot be read", path.display()))
    })
}

fn alike(group: &Group, photo: &PhotoSeen) -> bool {
    group
        .photos
        .last()
        .is_none_or(|last| last.size == photo.size && last.exposure_s == photo.exposure_s)
}

fn name_of(plate: &str, rest: &str) -> String {
    if rest.is_empty() {
        plate.to_owned()
    } else {
        format!("{plate} {rest}")
    }
}

/// Plate and pass as the name of a photo has them: `barge_furnace_03.jpg` is (`barge`, `furnace`). A single digit after the first
/// word belongs to the plate (`ice_2_silhouette.jpg` is (`ice 2`, `silhouette`)); other numbers count frames.
fn words_of(path: &Path) -> (String, String) {
    let text =
        |part: Option<&std::ffi::OsStr>| part.map(|part| part.to_string_lossy().into_owned());
    let stem = text(path.file_stem()).unwrap_or_default();
    let is_number = |word: &&str| word.chars().all(|letter| letter.is_ascii_digit());
    let mut words: Vec<&str> = stem
        .split(['_', '-', ' '])
        .filter(|word| !word.is_empty())
        .collect();
    let numbered = words
        .get(1)
        .is_some_and(|word| word.len() == 1 && is_number(word));
    let plate = match words.first() {
        Some(first) if !is_number(first) && numbered => format!("{first} {}", words[1]),
        Some(first) if !is_number(first) => (*first).to_owned(),
        _number => {
            text(path.parent().and_then(Path::file_name)).unwrap_or_else(|| "plate".to_owned())
        }
    };
    words.drain(..words.len().min(1));
    words.retain(|word| !is_number(word));
    (plate, words.join(" "))
}

/// The role of a group: the first of a plate is its unlit pass.
#[expect(
    clippy::fn_params_excessive_bools,
    reason = "one fact about the plate of the group"
)]
fn guess(group: &Group, plate_has_unlit: bool) -> Result<GroupRole, SessionError> {
    let name = group.name.to_lowercase();
    let says = |words: &[&str]| words.iter().any(|word| name.contains(word));
    if says(&["silhouette"]) {
        return Ok(GroupRole::Silhouette);
    }
    if says(&["clean"]) {
        return Ok(GroupRole::CleanPlate);
    }
    if says(&["unlit"]) {
        return Ok(GroupRole::Unlit);
    }
    if !plate_has_unlit {
        return Ok(GroupRole::Unlit);
    }
    let Some(middle) = group.photos.get(group.photos.len() / 2) else {
        return Ok(GroupRole::Light);
    };
    let photo = photo::open(&middle.path, &files::Limits::default())?;
    let bright = view::bright_share(&photo.samples);
    Ok(if bright > MOSTLY_BRIGHT {
        GroupRole::Silhouette
    } else {
        GroupRole::Light
    })
}

impl Session {
    /// Makes plates of approved groups and places them in the scene, as one recorded edit. Groups that are passes of a plate the scene
    /// has already go to that plate.
    ///
    /// # Errors
    /// When a photo cannot be read, or a pass belongs to a plate without an unlit group.
    #[expect(
        clippy::too_many_lines,
        reason = "frames, new plates and passes of old ones make one list of edits, in this order"
    )]
    pub fn accept_groups(&mut self, groups: &[Group]) -> Result<(), SessionError> {
        let mut edits = Vec::new();
        let mut next = self.next_id();
        let mut fresh = || {
            next += 1;
            next - 1
        };
        let mut frames: Vec<Arc<Frame>> = Vec::new();
        for group in groups {
            for seen in &group.photos {
                let info = photo::describe(&seen.path, &files::Limits::default())?;
                frames.push(Arc::new(Frame {
                    id: FrameId(fresh()),
                    file: self.shelf().name_of(&seen.path),
                    content: Some(self.shelf().content(&seen.path)?),
                    size: Some(info.size),
                    bytes: Some(info.bytes_on_disc),
                    camera: crate::session::describe::camera_of(&info),
                }));
            }
        }
        let mut first_frame = frames.iter().map(|frame| frame.id);
        let numbered: Vec<(&Group, Vec<FrameId>)> = groups
            .iter()
            .map(|group| {
                (
                    group,
                    first_frame.by_ref().take(group.photos.len()).collect(),
                )
            })
            .collect();
        edits.push(Edit::AddFrames(frames));
        for (group, ids) in numbered
            .iter()
            .filter(|(group, _ids)| group.role == GroupRole::Unlit)
        {
            let plate = plate_of((group, ids), &numbered, &mut fresh);
            let size = plate.size.unwrap_or_default();
            let placement = self.usual_placement(&plate, size, PlacementId(fresh()));
            edits.push(Edit::AddPlate(Arc::new(plate)));
            edits.push(Edit::AddPlacement {
                placement: Arc::new(placement),
                at: usize::MAX,
            });
        }
        for (group, ids) in &numbered {
            let is_new = groups
                .iter()
                .any(|other| other.role == GroupRole::Unlit && other.plate == group.plate);
            if is_new {
                continue;
            }
            let Some(plate) = self.project().plate_by_name(&group.plate) else {
                let why = format!(
                    "'{}' belongs to plate '{}', which has no unlit frames",
                    group.name, group.plate
                );
                return Err(SessionError::Refused(why));
            };
            let (pass, take) = pass_of(group, ids, PassId(fresh()));
            edits.push(Edit::Plate(plate.id, PlateEdit::AddPass(pass)));
            edits.push(Edit::Plate(
                plate.id,
                PlateEdit::SetTake(plate.current, take),
            ));
        }
        self.record_all("photos taken into the scene", edits)
    }

    /// A plate in the middle of the canvas, as large as fits.
    fn usual_placement(&self, plate: &Plate, size: Size, id: PlacementId) -> Placement {
        let canvas = self.project().canvas.size;
        let side = |length: u32| f64::from(length.max(1));
        let scale = (side(canvas.width) / side(size.width))
            .min(side(canvas.height) / side(size.height))
            .min(1.0);
        Placement {
            id,
            name: plate.name.clone(),
            plate: plate.id,
            placing: Placing::Upright {
                centre: Point::new(side(canvas.width) * 0.5, side(canvas.height) * 0.5),
                scale,
                turn_deg: 0.0,
                mirrored: false,
            },
            blend: crate::project::Blend::SourceOver,
            strength: 1.0,
            visible: true,
            distance_m: None,
        }
    }

    /// Adds a made plate behind everything, as one recorded edit.
    ///
    /// # Errors
    /// When the name is taken.
    pub fn add_made(&mut self, name: &str, made: Made) -> Result<PlateId, SessionError> {
        let (plate, variant, placement) = (
            PlateId(self.next_id()),
            VariantId(self.next_id() + 1),
            PlacementId(self.next_id() + 2),
        );
        let made_plate = Plate {
            id: plate,
            name: name.to_owned(),
            size: Some(made.size),
            passes: Vec::new(),
            variants: vec![Arc::new(Variant {
                id: variant,
                name: "recipe".to_owned(),
                source: Source::Made(made.clone()),
                takes: Vec::new(),
                lies: None,
            })],
            current: variant,
            masks: Vec::new(),
            groups: Vec::new(),
            steps: Vec::new(),
        };
        let placed = self.usual_placement(&made_plate, made.size, placement);
        let edits = vec![
            Edit::AddPlate(Arc::new(made_plate)),
            Edit::AddPlacement {
                placement: Arc::new(placed),
                at: 0,
            },
        ];
        self.record(Edit::All {
            name: format!("{name} made"),
            edits,
        })?;
        Ok(plate)
    }
}

/// The plate of an unlit group, with the other groups of its name as passes.
fn plate_of(
    (unlit, ids): (&Group, &[FrameId]),
    all: &[(&Group, Vec<FrameId>)],
    fresh: &mut impl FnMut() -> u32,
) -> Plate {
    let mut passes = Vec::new();
    let mut takes = Vec::new();
    for (group, frames) in all
        .iter()
        .filter(|(group, _ids)| group.plate == unlit.plate && group.role != GroupRole::Unlit)
    {
        let (pass, take) = pass_of(group, frames, PassId(fresh()));
        passes.push(pass);
        takes.push(take);
    }
    let (id, variant) = (PlateId(fresh()), VariantId(fresh()));
    Plate {
        id,
        name: unlit.plate.clone(),
        size: unlit.photos.first().map(|photo| photo.size),
        passes,
        variants: vec![Arc::new(Variant {
            id: variant,
            name: "first shoot".to_owned(),
            source: Source::Stack(Stack::of(ids.to_vec())),
            takes,
            lies: None,
        })],
        current: variant,
        masks: Vec::new(),
        groups: Vec::new(),
        steps: Vec::new(),
    }
}

/// The pass that a group is, and its frames.
fn pass_of(group: &Group, frames: &[FrameId], id: PassId) -> (Pass, Take) {
    let role = match group.role {
        GroupRole::Unlit | GroupRole::Light => PassRole::Light,
        GroupRole::Silhouette => PassRole::Silhouette,
        GroupRole::CleanPlate => PassRole::CleanPlate,
    };
    let name = group
        .name
        .strip_prefix(&group.plate)
        .map_or(group.name.as_str(), str::trim);
    let pass = Pass {
        id,
        name: name.to_owned(),
        role,
        key_light: KeyLight::Auto,
    };
    let take = Take {
        pass: id,
        frames: frames.to_vec(),
        measured: None,
    };
    (pass, take)
}

/// A mask part with the usual settings.
#[must_use]
pub const fn part(
    id: crate::project::PartId,
    shape: crate::project::Shape,
    sign: crate::project::Sign,
) -> MaskPart {
    MaskPart {
        id,
        sign,
        strength: 1.0,
        on: true,
        shape,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_say_plate_and_pass() {
        let words = |name: &str| words_of(Path::new(name));
        assert_eq!(
            words("p/barge_furnace_03.jpg"),
            ("barge".to_owned(), "furnace".to_owned())
        );
        assert_eq!(words("p/barge_01.jpg"), ("barge".to_owned(), String::new()));
        assert_eq!(words("p/ice_2.jpg"), ("ice 2".to_owned(), String::new()));
        assert_eq!(words("tug/0007.jpg"), ("tug".to_owned(), String::new()));
    }
}
