//! What people say about a stack once it is registered, and what its registration holds besides size, turn and shift.

#![expect(clippy::unwrap_used, reason = "a test may stop at once")]

#[path = "common/small_stack.rs"]
mod small_stack;

use platebench::engine::plate_tiles::{PlatePlan, Stage};
use platebench::engine::{Scratch, World, wholes};
use platebench::geometry::{Point, Radial, TileIndex};
use platebench::imaging::basics::resample::{Kernel, sample_image_mapped};
use platebench::pixels::{Image, Plane};
use platebench::project::{
    Edit, Fingerprint, FuseSettings, Guidance, Guide, Mask, MaskId, MaskPart, PartId, Plate,
    PlateEdit, PlateId, Project, Shape, Sign, Source, Stack, Variant, VariantId,
};
use platebench::session::{NoWatch, Session, Watch};
use small_stack::{FRAMES, SIZE, frame, lay_out, settings, write_grey};
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};

/// A measured plate with a mask that holds one stroke.
fn guided_session(folder: &Path) -> (Session, PlateId, VariantId, MaskId) {
    let frames = lay_out(folder);
    let (mut session, plate, variant) = measured_session(folder, &frames);
    let mask = MaskId(session.next_id());
    let stroke = MaskPart {
        id: PartId(mask.0 + 1),
        sign: Sign::Add,
        strength: 1.0,
        on: true,
        shape: Shape::Stroke {
            points: vec![Point::new(60.0, 120.0)],
            radius_px: 20.0,
            softness: 0.0,
            pressure: Vec::new(),
        },
    };
    let drawn = Mask {
        id: mask,
        name: "here".to_owned(),
        parts: std::iter::once(Arc::new(stroke)).collect(),
        grow_px: 0.0,
        feather_px: 0.0,
        inverted: false,
    };
    session
        .record(Edit::Plate(plate, PlateEdit::AddMask(Arc::new(drawn))))
        .unwrap();
    (session, plate, variant, mask)
}

/// A session with one plate made of `frames`, registered and matched.
fn measured_session(folder: &Path, frames: &[PathBuf]) -> (Session, PlateId, VariantId) {
    let mut session = Session::new(Project::new("guided", SIZE), folder, &settings());
    let ids = session.add_photos(frames).unwrap();
    let first = session.next_id();
    let (plate, variant) = (PlateId(first), VariantId(first + 1));
    let of = Variant {
        id: variant,
        name: "stack".to_owned(),
        source: Source::Stack(Stack::of(ids)),
        takes: Vec::new(),
        lies: None,
    };
    session
        .record(Edit::AddPlate(Arc::new(Plate::new(plate, "plate", of))))
        .unwrap();
    session.prepare().unwrap();
    session.measure_all(&NoWatch).unwrap();
    (session, plate, variant)
}

/// The frames of the stack, each distorted: its corners lie outside by `corner_px` times its number.
fn distorted(folder: &Path, corner_px: f64) -> Vec<PathBuf> {
    let middle = Point::new(0.5 * f64::from(SIZE.width), 0.5 * f64::from(SIZE.height));
    (0..FRAMES)
        .map(|k| {
            let plane = frame(k, 200 + u64::from(k));
            let scene = Image::from_fn(plane.rect, |x, y| {
                let value = plane.at(x, y);
                [value, value, value, 1.0]
            });
            let outwards = corner_px * f64::from(k);
            // The way back, near enough for a few pixels.
            let back = |point: Point| {
                let once = Radial::about(middle, -outwards).apply(point);
                let off = Radial::about(middle, outwards).apply(once);
                Some(Point::new(
                    once.x + point.x - off.x,
                    once.y + point.y - off.y,
                ))
            };
            let lens = sample_image_mapped(&scene, plane.rect, &back, Kernel::Lanczos3);
            let path = folder.join(format!("distorted_{k}.tif"));
            let seen = Plane::from_fn(plane.rect, |x, y| lens.at(x, y)[1]);
            write_grey(&path, &seen, [1.0; 3]);
            path
        })
        .collect()
}

#[test]
fn a_distortion_that_changes_with_focus_is_found_and_taken_out() {
    const STEP_PX: f64 = 1.0;
    let folder = tempfile::tempdir().unwrap();
    let measured = |frames: &[PathBuf]| {
        let (session, plate, _) = measured_session(folder.path(), frames);
        let stack = session.project().plate(plate).unwrap().stack().cloned();
        let frames = stack.unwrap().measured.unwrap().frames;
        (frames, picture(&session, plate))
    };
    let (straight, wanted) = measured(&lay_out(folder.path()));
    assert!(straight.iter().all(|frame| frame.radial_px == 0.0));
    let (found, plate) = measured(&distorted(folder.path(), STEP_PX));
    // The reference is the one in the middle.
    let reference = f64::from(FRAMES / 2);
    for (k, frame) in (0_u8..).zip(&found) {
        let truth = STEP_PX * (f64::from(k) - reference);
        assert!(
            (frame.radial_px - truth).abs() < 0.1 * truth.abs() + 0.02,
            "frame {k}: {} for {truth}",
            frame.radial_px
        );
    }
    // Near the corners, where it matters: the frames fall on one another, which without the term they miss by up to a pixel.
    let lies = Radial::about(Point::new(160.0, 120.0), STEP_PX * reference);
    let wanted = sample_image_mapped(
        &wanted,
        SIZE.rect(),
        &|point| {
            let back = Radial::about(Point::new(160.0, 120.0), -STEP_PX * reference);
            let once = back.apply(point);
            let off = lies.apply(once);
            Some(Point::new(
                once.x + point.x - off.x,
                once.y + point.y - off.y,
            ))
        },
        Kernel::Lanczos3,
    );
    let mut squares = 0.0;
    let mut count = 0.0;
    for (x, y) in (10..60).flat_map(|x| (10..60).map(move |y| (x, y))) {
        let off = f64::from(plate.at(x, y)[1] - wanted.at(x, y)[1]);
        squares += off * off;
        count += 1.0;
    }
    let rms: f64 = f64::sqrt(squares / count);
    assert!(rms < 0.01, "{rms}");
}

/// The plate as one tile, which holds all of it.
fn picture(session: &Session, plate: PlateId) -> Image {
    picture_watched(session, plate, &NoWatch)
}

fn picture_watched(session: &Session, plate: PlateId, watch: &dyn Watch) -> Image {
    picture_in(session, plate, &session.world(watch))
}

fn picture_in(session: &Session, plate: PlateId, world: &World<'_>) -> Image {
    let plate = world
        .project
        .plates
        .iter()
        .find(|other| other.id == plate)
        .unwrap();
    let plan = PlatePlan::new(&world.project, plate).unwrap();
    session.engine().prepare_plate(world, &plan).unwrap();
    let index = TileIndex { x: 0, y: 0 };
    let tile = session
        .engine()
        .plate_tile(world, &plan, Stage::Done, 0, index);
    tile.unwrap().as_ref().clone()
}

/// Frames that need more than a size, a turn and a shift come another way to the plate; it must lead to the same place.
#[test]
fn frames_bent_by_next_to_nothing_are_joined_like_straight_ones() {
    let folder = tempfile::tempdir().unwrap();
    let (mut session, plate, variant, _) = guided_session(folder.path());
    let straight = picture(&session, plate);
    let stack = session.project().plate(plate).unwrap().stack().cloned();
    let mut measured = stack.unwrap().measured.unwrap();
    for frame in &mut measured.frames {
        frame.radial_px = 1e-9;
    }
    let bend = Edit::Plate(plate, PlateEdit::RecordStack(variant, measured));
    let bent = picture_with(&mut session, plate, bend);
    let mut squares = 0.0;
    for (one, other) in straight.data.iter().zip(&bent.data) {
        let off = f64::from(one[1].max(0.0).sqrt() - other[1].max(0.0).sqrt());
        squares += off * off;
        assert!((one[3] - other[3]).abs() < 1e-4, "{one:?} {other:?}");
    }
    let pixels = f64::from(SIZE.width) * f64::from(SIZE.height);
    let rms = f64::sqrt(squares / pixels);
    assert_ne!(straight, bent, "it did go the other way");
    // Sharpness is judged on light sampled by another kernel.
    assert!(rms < 2e-3, "{rms}");
}

#[test]
fn a_frame_asked_for_is_taken_there_and_nothing_else_is_joined_again() {
    let folder = tempfile::tempdir().unwrap();
    let (mut session, plate, variant, mask) = guided_session(folder.path());
    let before = picture(&session, plate);
    let frames_read = session.engine().counts().wholes_run;
    let stack_of = |session: &Session| {
        session
            .project()
            .plate(plate)
            .unwrap()
            .stack()
            .unwrap()
            .clone()
    };
    let measured = stack_of(&session).measured.unwrap();
    let last = measured.frames.last().unwrap();
    let guide = |does| {
        Edit::Plate(
            plate,
            PlateEdit::SetGuides(variant, vec![Guide { mask, does }]),
        )
    };
    session
        .record(guide(Guidance::TakeFrom(last.frame)))
        .unwrap();
    assert!(session.due().is_empty(), "nothing is measured again");
    let after = picture(&session, plate);
    assert_eq!(
        session.engine().counts().wholes_run,
        frames_read + 1,
        "the stack itself is not fused again"
    );
    let blurred = after.at(60, 120);
    assert!(
        (blurred[1] - before.at(60, 120)[1]).abs() > 1e-4,
        "{blurred:?}"
    );
    for (x, y) in [(310, 20), (300, 230)] {
        assert_eq!(after.at(x, y), before.at(x, y), "far away nothing changes");
    }
    // The frame that was sharp there already: all as it was, within rounding.
    let (nearer, farther) = (
        picture_with(&mut session, plate, guide(Guidance::Prefer(-1.0))),
        picture_with(&mut session, plate, guide(Guidance::Prefer(2.0))),
    );
    let change = |picture: &Image| (picture.at(60, 120)[1] - before.at(60, 120)[1]).abs();
    assert!(
        change(&farther) > change(&nearer),
        "farther is blurred there"
    );
    session
        .record(Edit::Plate(
            plate,
            PlateEdit::SetGuides(variant, Vec::new()),
        ))
        .unwrap();
    assert_eq!(
        picture(&session, plate),
        before,
        "without guides the plate is what it was"
    );
}

/// Notes the stages of the work.
#[derive(Default)]
struct Stages(Mutex<BTreeSet<String>>);

impl Watch for Stages {
    fn progress(&self, stage: &str, _done: usize, _total: usize) {
        self.0.lock().unwrap().insert(stage.to_owned());
    }

    fn cancelled(&self) -> bool {
        false
    }
}

#[test]
fn another_choice_about_detail_runs_the_second_pass_alone() {
    const FIRST_PASS: &str = "finding what is sharp where";
    let folder = tempfile::tempdir().unwrap();
    let (mut session, plate, variant, _mask) = guided_session(folder.path());
    let stages = Stages::default();
    let before = picture_watched(&session, plate, &stages);
    assert!(stages.0.lock().unwrap().contains(FIRST_PASS));
    let cleaner = FuseSettings {
        detail: 0.1,
        ..FuseSettings::default()
    };
    let choose = Edit::Plate(plate, PlateEdit::SetFuse(variant, cleaner));
    session.record(choose).unwrap();
    assert!(session.due().is_empty(), "nothing is measured again");
    let stages = Stages::default();
    let after = picture_watched(&session, plate, &stages);
    let stages = stages.0.into_inner().unwrap();
    assert!(!stages.contains(FIRST_PASS), "{stages:?}");
    assert!(stages.contains("joining the frames"), "{stages:?}");
    assert_ne!(before, after, "the choice is seen");
    let fresh = Session::new(
        session.project().as_ref().clone(),
        folder.path(),
        &settings(),
    );
    assert_eq!(after, picture(&fresh, plate), "as if fused from nothing");
}

#[test]
fn taking_near_parts_blur_off_is_a_choice_that_joins_nothing_again() {
    let folder = tempfile::tempdir().unwrap();
    let (mut session, plate, variant, _mask) = guided_session(folder.path());
    let stamp = |session: &Session| {
        let project = session.project();
        let plate = project.plate(plate).unwrap();
        let variant = plate.variant_by_id(variant).unwrap();
        wholes::guided(project, plate, variant).unwrap().stamp
    };
    let (before, plain) = (picture(&session, plate), stamp(&session));
    let choose = |unveil| {
        let fuse = FuseSettings {
            unveil,
            ..FuseSettings::default()
        };
        Edit::Plate(plate, PlateEdit::SetFuse(variant, fuse))
    };
    session.record(choose(true)).unwrap();
    assert!(session.due().is_empty(), "nothing is measured again");
    assert_ne!(stamp(&session), plain, "it is another picture");
    let stages = Stages::default();
    let after = picture_watched(&session, plate, &stages);
    let stages = stages.0.into_inner().unwrap();
    assert_eq!(
        stages,
        ["taking the blur of near parts off".to_owned()].into()
    );
    let fresh = Session::new(
        session.project().as_ref().clone(),
        folder.path(),
        &settings(),
    );
    assert_eq!(after, picture(&fresh, plate), "as if fused from nothing");
    session.record(choose(false)).unwrap();
    assert_eq!(stamp(&session), plain);
    assert_eq!(picture(&session, plate), before, "off, it is what it was");
}

/// Tiles set aside by one session for the next.
#[derive(Default)]
struct Aside(Mutex<BTreeMap<Fingerprint, Vec<u8>>>);

impl Scratch for Aside {
    fn get(&self, stamp: Fingerprint) -> Option<Vec<u8>> {
        self.0.lock().unwrap().get(&stamp).cloned()
    }

    fn has(&self, stamp: Fingerprint) -> bool {
        self.0.lock().unwrap().contains_key(&stamp)
    }

    fn put(&self, stamp: Fingerprint, bytes: &[u8]) {
        self.0.lock().unwrap().insert(stamp, bytes.to_vec());
    }
}

/// The scratch folder makes room tile by tile: what is left of a picture must not stand for all of it.
#[test]
fn a_picture_whose_tiles_went_to_make_room_is_made_again() {
    let folder = tempfile::tempdir().unwrap();
    let (session, plate, _, _) = guided_session(folder.path());
    let aside = Aside::default();
    let next = || {
        let project = session.project().as_ref().clone();
        let next = Session::new(project, folder.path(), &settings());
        let world = World {
            scratch: &aside,
            ..next.world(&NoWatch)
        };
        let picture = picture_in(&next, plate, &world);
        (picture, next.engine().counts().wholes_run)
    };
    let (before, run) = next();
    assert_eq!(run, 1, "nothing was kept");
    assert_eq!(next(), (before.clone(), 0), "all was kept");
    let large = |tile: &Vec<u8>| tile.len() > 1000;
    for what in ["all tiles but the small ones", "one tile"] {
        let mut first = true;
        aside.0.lock().unwrap().retain(|_, tile| {
            let goes = large(tile) && (what != "one tile" || first);
            first &= !goes;
            !goes
        });
        assert_eq!(next(), (before.clone(), 1), "{what} gone");
    }
}

fn picture_with(session: &mut Session, plate: PlateId, edit: Edit) -> Image {
    session.record(edit).unwrap();
    picture(session, plate)
}

#[test]
fn guides_need_what_they_name() {
    let folder = tempfile::tempdir().unwrap();
    let (mut session, plate, variant, mask) = guided_session(folder.path());
    let guide = |mask, does| {
        Edit::Plate(
            plate,
            PlateEdit::SetGuides(variant, vec![Guide { mask, does }]),
        )
    };
    let nobody = platebench::project::FrameId(9999);
    for edit in [
        guide(MaskId(9999), Guidance::NearPart),
        guide(mask, Guidance::TakeFrom(nobody)),
        guide(mask, Guidance::Prefer(f32::NAN)),
    ] {
        assert!(session.record(edit).is_err());
    }
    session.record(guide(mask, Guidance::NearPart)).unwrap();
    session
        .record(Edit::Plate(plate, PlateEdit::RemoveMask(mask)))
        .unwrap();
    let stack = session.project().plate(plate).unwrap().stack().unwrap();
    assert!(stack.guides.is_empty(), "a guide goes with its mask");
}
