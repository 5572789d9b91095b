//! Gives a plate a new source; masks, lights, matte and placement stay with the plate and are judged.

use crate::engine::Watch;
use crate::engine::measure::carried::{self, Astray, Carried};
use crate::files;
use crate::geometry::{Point, Transform};
use crate::project::{
    Edit, Frame, FrameId, PassId, PassRole, Plate, PlateEdit, PlateId, Source, Stack, StepKind,
    Take, Variant, VariantId,
};
use crate::session::grouping::{self, GroupRole};
use crate::session::measure::Due;
use crate::session::{Session, SessionError};
use serde::Serialize;
use std::path::PathBuf;
use std::sync::Arc;

/// What came out of a swap.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SwapReport {
    /// The plate.
    pub plate: String,
    /// Position on the new reference frame to plate position.
    pub to_old: Transform,
    /// Whether a mesh bends what the perspective leaves in other places.
    pub bent: bool,
    /// Root mean square of what registration could not explain, in px.
    pub residual_px: f32,
    /// What follows the new source.
    pub carried: Vec<String>,
    /// What wants a look, and why.
    pub needs_a_look: Vec<Look>,
    /// Pictures (fused stacks, separated lights) that were computed.
    pub steps_run: usize,
    /// Those that were there already.
    pub steps_reused: usize,
}

/// Something that wants a look.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Look {
    /// What.
    pub step: String,
    /// Why.
    pub why: String,
    /// Where on the plate: left, top, right, bottom; everywhere without.
    #[serde(rename = "where", skip_serializing_if = "Option::is_none")]
    pub place: Option<[i32; 4]>,
    /// What it is about.
    #[serde(skip)]
    pub about: About,
    /// How far what lies there lies from where it was, px, where that is what is wrong.
    #[serde(skip)]
    pub by_px: Option<f32>,
}

/// Which part of a plate's making wants a look.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum About {
    /// How its source lies on the plate.
    Source,
    /// A place that is filled: by spotting or paint-out.
    Spotting,
    /// A warp.
    Warp,
    /// Its matte, or a pass that the matte is cut from.
    Matte,
    /// Its practical groups, their masks, or a light pass.
    Lights,
}

/// Residual in px above which a new source is said to fit badly.
const FITS_BADLY_PX: f32 = 2.0;
/// Residual in px above which the frames of a pass are said to fit badly.
const PASS_FITS_BADLY_PX: f32 = 0.5;

impl Session {
    /// Adds photos to the project, each once by content; gives their numbers in the order of `paths`.
    ///
    /// # Errors
    /// When a photo cannot be read.
    pub fn add_photos(&mut self, paths: &[PathBuf]) -> Result<Vec<FrameId>, SessionError> {
        let mut ids = Vec::new();
        let mut new: Vec<Arc<Frame>> = Vec::new();
        let mut next = self.next_id();
        for path in paths {
            let info = files::photo::describe(path, &files::Limits::default())?;
            let content = self.shelf().content(path)?;
            let same = |frame: &&Arc<Frame>| frame.content == Some(content);
            if let Some(known) = self.project().frames.iter().chain(&new).find(same) {
                ids.push(known.id);
                continue;
            }
            let id = FrameId(next);
            next += 1;
            ids.push(id);
            new.push(Arc::new(Frame {
                id,
                file: self.shelf().name_of(path),
                content: Some(content),
                size: Some(info.size),
                bytes: Some(info.bytes_on_disc),
                camera: crate::session::describe::camera_of(&info),
            }));
        }
        if !new.is_empty() {
            self.record(Edit::AddFrames(new))?;
        }
        Ok(ids)
    }

    /// Gives the plate called `name` a new source made of the photos at `paths`, registers it to the plate, and judges what is carried
    /// over. Photos whose names say one of the plate's passes go to that pass, the others are the unlit stack.
    ///
    /// It is one recorded edit, so one undo goes back. The old source stays in the record. Masks, lights, matte and placement are in the
    /// plate's reference pixels and follow.
    ///
    /// # Errors
    /// When there is no such plate, a photo cannot be read, or the new source does not register; nothing is changed then.
    pub fn swap(
        &mut self,
        name: &str,
        paths: &[PathBuf],
        watch: &dyn Watch,
    ) -> Result<SwapReport, SessionError> {
        let plate = self.plate_called(name)?;
        self.prepare()?;
        self.bring_up_to_date(&plate, watch)?;
        let before = self.engine().counts();
        let mut work = self.worker();
        let variant = work.add_source(&plate, paths)?;
        work.measure_swapped(plate.id, variant, watch)?;
        let astray = work
            .engine()
            .judge_carried(&work.world(watch), plate.id, variant)?;
        let mut report = work.report_swap(plate.id, variant, &astray)?;
        work.compute(Some(plate.id), watch)?;
        let after = self.engine().counts();
        report.steps_run = after.wholes_run - before.wholes_run;
        report.steps_reused = after.wholes_reused - before.wholes_reused;
        let edits = work.history.revisions().iter();
        let edits = edits.map(|revision| revision.edit.clone()).collect();
        self.record_all(&format!("{} swapped", plate.name), edits)?;
        Ok(report)
    }

    /// The places at which something carried over by a swap to `variant` is judged.
    ///
    /// # Errors
    /// When a source cannot be read, or the work was stopped.
    pub fn judged_places(
        &self,
        (plate, variant): (PlateId, VariantId),
        what: Carried,
        watch: &dyn Watch,
    ) -> Result<Vec<Point>, SessionError> {
        let world = self.world(watch);
        Ok(self
            .engine()
            .judged_places(&world, (plate, variant), what)?)
    }

    fn plate_called(&self, name: &str) -> Result<Arc<Plate>, SessionError> {
        self.project().plate_by_name(name).cloned().ok_or_else(|| {
            let names: Vec<&str> = self
                .project()
                .plates
                .iter()
                .map(|plate| plate.name.as_str())
                .collect();
            SessionError::Refused(format!(
                "there is no plate called '{name}'; there are: {}",
                names.join(", ")
            ))
        })
    }

    /// The old source must be measured: the new one is registered to it.
    fn bring_up_to_date(&mut self, plate: &Plate, watch: &dyn Watch) -> Result<(), SessionError> {
        for due in self.due() {
            if matches!(due, Due::Stack(of, _) | Due::Place(of, _) if of == plate.id) {
                let edit = self.measured(due, watch)?;
                self.record(edit)?;
            }
        }
        Ok(())
    }

    fn add_source(&mut self, plate: &Plate, paths: &[PathBuf]) -> Result<VariantId, SessionError> {
        let sorted = sort_photos(plate, paths)?;
        let unlit = self.add_photos(&sorted.unlit)?;
        if unlit.is_empty() {
            return Err(SessionError::Refused(format!(
                "none of the photos is of the unlit pass of '{}': name its unlit frames too",
                plate.name
            )));
        }
        let mut takes = Vec::new();
        for (pass, photos) in &sorted.passes {
            takes.push(Take {
                pass: *pass,
                frames: self.add_photos(photos)?,
                measured: None,
            });
        }
        let old = plate.variant().and_then(|variant| variant.stack());
        let mut stack = Stack::of(unlit);
        if let Some(old) = old {
            stack.fuse = old.fuse;
            stack.develop = old.develop;
        }
        let id = VariantId(self.next_id());
        let variant = Variant {
            id,
            name: format!("source {}", plate.variants.len() + 1),
            source: Source::Stack(stack),
            takes,
            lies: None,
        };
        self.record(Edit::Plate(
            plate.id,
            PlateEdit::AddVariant(Arc::new(variant)),
        ))?;
        self.record(Edit::Plate(plate.id, PlateEdit::UseVariant(id)))?;
        Ok(id)
    }

    fn measure_swapped(
        &mut self,
        plate: PlateId,
        variant: VariantId,
        watch: &dyn Watch,
    ) -> Result<(), SessionError> {
        for due in [Due::Stack(plate, variant), Due::Place(plate, variant)] {
            let edit = self.measured(due, watch)?;
            self.record(edit)?;
        }
        let world = self.world(watch);
        let develop = self.engine().develop_like_first(&world, plate, variant)?;
        self.record(Edit::Plate(plate, PlateEdit::SetDevelop(variant, develop)))?;
        // Passes: those shot again, and older ones that were never measured.
        for due in self.due() {
            if matches!(due, Due::Stack(of, _) | Due::Take(of, ..) if of == plate) {
                let edit = self.measured(due, watch)?;
                self.record(edit)?;
            }
        }
        Ok(())
    }

    fn report_swap(
        &self,
        plate: PlateId,
        variant: VariantId,
        astray: &[Astray],
    ) -> Result<SwapReport, SessionError> {
        let missing = || SessionError::Refused("the swapped plate is gone".to_owned());
        let plate = self.project().plate(plate).ok_or_else(missing)?;
        let source = plate.variant_by_id(variant).ok_or_else(missing)?;
        let lies = source.lies.as_ref().ok_or_else(missing)?;
        let mut needs_a_look: Vec<Look> = astray.iter().map(|one| look_at(plate, one)).collect();
        if lies.residual_px > FITS_BADLY_PX {
            needs_a_look.push(Look {
                step: "placement on the plate".to_owned(),
                why: format!(
                    "the new source fits the old one to {:.1} px only: another angle or pose? Masks may miss their edges",
                    lies.residual_px
                ),
                place: None,
                about: About::Source,
                by_px: None,
            });
        }
        needs_a_look.extend(passes_to_look_at(plate, source));
        let placed = self
            .project()
            .placements
            .iter()
            .filter(|placement| placement.plate == plate.id)
            .map(|placement| format!("placement '{}'", placement.name));
        let carried = carried::everything(plate)
            .map(|what| name_of(plate, what))
            .chain(placed)
            .filter(|name| needs_a_look.iter().all(|look| look.step != *name));
        Ok(SwapReport {
            plate: plate.name.clone(),
            to_old: lies.plate_from_variant,
            bent: lies.mesh.is_some(),
            residual_px: lies.residual_px,
            carried: carried.collect(),
            needs_a_look,
            steps_run: 0,
            steps_reused: 0,
        })
    }
}

/// The photos of a re-shoot by what they are for.
struct Sorted {
    unlit: Vec<PathBuf>,
    passes: Vec<(PassId, Vec<PathBuf>)>,
}

/// Sorts the photos of a re-shoot: a group whose name holds the words of one of the plate's passes is for that pass, a silhouette for the
/// plate's only silhouette pass; all others are unlit. Photos of plates without passes are all unlit.
fn sort_photos(plate: &Plate, paths: &[PathBuf]) -> Result<Sorted, SessionError> {
    let mut sorted = Sorted {
        unlit: Vec::new(),
        passes: Vec::new(),
    };
    if plate.passes.is_empty() {
        sorted.unlit = paths.to_vec();
        return Ok(sorted);
    }
    for group in grouping::propose(paths)? {
        let photos = group.photos.iter().map(|photo| photo.path.clone());
        let Some(pass) = pass_named(plate, &group.name, group.role) else {
            sorted.unlit.extend(photos);
            continue;
        };
        match sorted.passes.iter_mut().find(|(other, _)| *other == pass) {
            Some((_pass, known)) => known.extend(photos),
            None => sorted.passes.push((pass, photos.collect())),
        }
    }
    Ok(sorted)
}

fn pass_named(plate: &Plate, group: &str, role: GroupRole) -> Option<PassId> {
    let words = |name: &str| -> Vec<String> {
        name.to_lowercase()
            .split_whitespace()
            .map(str::to_owned)
            .collect()
    };
    let said = words(group);
    let named = plate.passes.iter().find(|pass| {
        let wanted = words(&pass.name);
        !wanted.is_empty() && wanted.iter().all(|word| said.contains(word))
    });
    let silhouettes = || {
        let mut all = plate
            .passes
            .iter()
            .filter(|pass| pass.role == PassRole::Silhouette);
        let only = all.next().filter(|_| role == GroupRole::Silhouette)?;
        all.next().is_none().then_some(only)
    };
    named.or_else(silhouettes).map(|pass| pass.id)
}

fn name_of(plate: &Plate, what: Carried) -> String {
    match what {
        Carried::Mask(number) => format!("mask '{}'", plate.masks[number].name),
        Carried::Step(number) => {
            format!("{} {}", plate.steps[number].kind.word(), number + 1)
        }
        Carried::Group(number) => format!("practical group '{}'", plate.groups[number].name),
    }
}

fn look_at(plate: &Plate, astray: &Astray) -> Look {
    let about = about(plate, astray.what);
    let what = match (about, astray.what) {
        (About::Spotting, _) => "the picture where it fills",
        (About::Warp, _) => "the model under its lines",
        (_, Carried::Mask(_) | Carried::Step(_)) => "the picture under its edge",
        (_, Carried::Group(_)) => "the model under its light",
    };
    let why = astray.by_px.map_or_else(
        || format!("{what} does not look as it did: something is there that was not, or the other way round"),
        |by_px| format!("{what} lies up to {by_px:.1} px from where it was"),
    );
    let place = astray.place;
    Look {
        step: name_of(plate, astray.what),
        why,
        place: Some([place.x0, place.y0, place.x1, place.y1]),
        about,
        by_px: astray.by_px,
    }
}

fn about(plate: &Plate, what: Carried) -> About {
    match what {
        Carried::Step(number) => match plate.steps[number].kind {
            StepKind::Spotting(_) | StepKind::PaintOut(_) => About::Spotting,
            StepKind::Warp(_) => About::Warp,
            StepKind::Matte(_) | StepKind::Grade(_) => About::Matte,
        },
        Carried::Mask(number) => about_mask(plate, number),
        Carried::Group(_) => About::Lights,
    }
}

/// A mask that a practical group acts through is about lights, any other about the matte.
fn about_mask(plate: &Plate, number: usize) -> About {
    let mask = plate.masks[number].id;
    if plate.groups.iter().any(|group| group.mask == Some(mask)) {
        About::Lights
    } else {
        About::Matte
    }
}

/// Passes that were not shot again, or whose new frames do not register well.
fn passes_to_look_at(plate: &Plate, source: &Variant) -> Vec<Look> {
    let mut looks = Vec::new();
    for pass in &plate.passes {
        let Some((of, take)) = plate.take(pass.id) else {
            continue;
        };
        let look = |why: String| Look {
            step: format!("pass '{}'", pass.name),
            why,
            place: None,
            about: match pass.role {
                PassRole::Light => About::Lights,
                PassRole::CleanPlate
                | PassRole::Silhouette
                | PassRole::Backdrop
                | PassRole::BackdropCleanPlate => About::Matte,
            },
            by_px: None,
        };
        if of.id != source.id {
            looks.push(look(
                "it was not shot again: the frames of the old source are laid over the new one"
                    .to_owned(),
            ));
            continue;
        }
        let measured = take.measured.iter().flat_map(|measured| &measured.frames);
        let worst = measured.map(|frame| frame.residual_px).fold(0.0, f32::max);
        if worst > PASS_FITS_BADLY_PX {
            looks.push(look(format!(
                "its new frames register to {worst:.2} px only: did the camera or the model move?"
            )));
        }
    }
    looks
}
