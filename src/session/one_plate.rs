//! A project of one plate made of photo files, with photos for its passes: what calls on single plates work in.

use crate::engine::plate_tiles::{PlatePlan, Stage};
use crate::engine::{Watch, export};
use crate::files::{self, output};
use crate::geometry::Size;
use crate::pixels::Image;
use crate::project::{
    Edit, KeyLight, Pass, PassId, PassRole, Plate, PlateEdit, PlateId, Project, Source, Stack,
    Step, StepId, StepKind, Take, Variant, VariantId,
};
use crate::session::build;
use crate::session::fuse_files::refuse_source;
use crate::session::{Session, SessionError, Settings};
use std::path::{Path, PathBuf};
use std::sync::Arc;

pub(super) const PLATE: PlateId = PlateId(1);
const VARIANT: VariantId = VariantId(2);
const FIRST_PASS: u32 = 3;

/// The pass of number `number` of those given to [`one_plate`], counted from 0.
pub(super) const fn pass(number: u32) -> PassId {
    PassId(FIRST_PASS + number)
}

/// A session with one plate made of `photos`, and a pass for each role with its photos; measured.
///
/// # Errors
/// When photos cannot be read or differ in size, or the work was stopped.
pub(super) fn one_plate(
    photos: &[PathBuf],
    passes: &[(PassRole, Vec<PathBuf>)],
    settings: &Settings,
    watch: &dyn Watch,
) -> Result<Session, SessionError> {
    let settings = Settings {
        scratch_bytes: 0,
        ..*settings
    };
    let here = files::places::absolute(Path::new("."));
    let mut project = Project::new("plate", Size::new(1, 1));
    let count = u32::try_from(passes.len()).unwrap_or(0);
    project.next_id = FIRST_PASS + count;
    let mut session = Session::new(project, &here, &settings);
    let frames = session.add_photos(photos)?;
    let mut takes = Vec::new();
    for (number, (_, photos)) in (0_u32..).zip(passes) {
        takes.push(Take {
            pass: pass(number),
            frames: session.add_photos(photos)?,
            measured: None,
        });
    }
    let variant = Variant {
        id: VARIANT,
        name: "stack".to_owned(),
        source: Source::Stack(Stack::of(frames)),
        takes,
        lies: None,
    };
    let mut plate = Plate::new(PLATE, "plate", variant);
    for (number, (role, _)) in (0_u32..).zip(passes) {
        plate.passes.push(Pass {
            id: pass(number),
            name: format!("pass {}", number + 1),
            role: *role,
            key_light: KeyLight::Auto,
        });
    }
    session.record(Edit::AddPlate(Arc::new(plate)))?;
    session.measure_all(watch)?;
    Ok(session)
}

/// Adds another source made of `photos` to the plate, measured; the first one stays in use.
///
/// # Errors
/// When photos cannot be read or do not register, or the work was stopped.
pub(super) fn add_source(
    session: &mut Session,
    photos: &[PathBuf],
    watch: &dyn Watch,
) -> Result<VariantId, SessionError> {
    let frames = session.add_photos(photos)?;
    let id = VariantId(session.next_id());
    let variant = Variant {
        id,
        name: "other stack".to_owned(),
        source: Source::Stack(Stack::of(frames)),
        takes: Vec::new(),
        lies: None,
    };
    let edit = PlateEdit::AddVariant(Arc::new(variant));
    session.record(Edit::Plate(PLATE, edit))?;
    session.prepare()?;
    session.measure_source(PLATE, id, watch)?;
    Ok(id)
}

/// Adds a step to the plate.
///
/// # Errors
/// When it does not fit the project.
pub(super) fn add_step(session: &mut Session, kind: StepKind) -> Result<(), SessionError> {
    let step = Step {
        id: StepId(session.next_id()),
        on: true,
        mask: None,
        kind,
    };
    let at = session
        .project()
        .plate(PLATE)
        .map_or(0, |plate| plate.steps.len());
    session.record(Edit::Plate(PLATE, PlateEdit::AddStep { step, at }))?;
    Ok(())
}

/// The plate with all its steps, at full size.
///
/// # Errors
/// When it cannot be computed.
pub(super) fn picture(session: &Session, watch: &dyn Watch) -> Result<Image, SessionError> {
    let gone = || SessionError::Refused("the plate is gone".to_owned());
    let world = session.world(watch);
    let plate = session.project().plate(PLATE).ok_or_else(gone)?;
    let plan = PlatePlan::new(session.project(), plate)?;
    Ok(session.engine().plate_picture(&world, &plan, Stage::Done)?)
}

/// Whether files may be written: their endings are known, they are no sources, their folders take them.
///
/// # Errors
/// When one may not.
pub(super) fn check_outputs(
    outputs: &[Option<&PathBuf>],
    sources: &[&[PathBuf]],
) -> Result<(), SessionError> {
    for path in outputs.iter().copied().flatten() {
        output::OutputFormat::of_path(path)?;
        files::places::check_writable(path)?;
        for photos in sources {
            refuse_source(path, photos)?;
        }
    }
    Ok(())
}

/// Writes the light of a picture in the usual depth of its format.
///
/// # Errors
/// When the file cannot be written.
pub(super) fn write_light(
    path: &Path,
    picture: &Image,
    bits: Option<u8>,
) -> Result<(), SessionError> {
    let format = output::OutputFormat::of_path(path)?;
    let fits = |bits: &u8| format.takes_bits(u32::from(*bits));
    let usual = u8::try_from(format.usual_bits()).unwrap_or(16);
    let bits = bits.filter(fits).unwrap_or(usual);
    let encoding = build::encoding_for(format, bits);
    let size = size_of(picture);
    let mut exported = export::Exported::new(size, encoding);
    exported.add(picture);
    let picture = output::Picture {
        size,
        pixels: build::pixels_of(exported),
    };
    Ok(output::write(
        path,
        &picture,
        &build::write_options(encoding, bits),
    )?)
}

/// Writes a coverage as 16-bit grey codes.
///
/// # Errors
/// When the file cannot be written.
pub(super) fn write_coverage(path: &Path, size: Size, codes: Vec<u16>) -> Result<(), SessionError> {
    let picture = output::Picture {
        size,
        pixels: output::Pixels::U16 {
            channels: 1,
            data: codes,
        },
    };
    let options = build::write_options(export::Encoding::Srgb16, 16);
    Ok(output::write(path, &picture, &options)?)
}

pub(super) fn size_of(picture: &Image) -> Size {
    let side = |length: usize| u32::try_from(length).unwrap_or(0);
    Size::new(side(picture.rect.width()), side(picture.rect.height()))
}
