//! Stacks from files to a plate, and what people say about joining their frames.
#![expect(
    clippy::unwrap_used,
    clippy::panic,
    clippy::disallowed_methods,
    clippy::too_many_lines,
    reason = "a test may stop at once, breaks its own files, and follows one way from end to end"
)]

use platebench::engine::plate_tiles::{PlatePlan, Stage};
use platebench::files::output::{OutputColour, Picture, Pixels, WriteOptions, write};
use platebench::files::{Limits, photo};
use platebench::geometry::{Point, Similarity, Size, TileIndex};
use platebench::imaging::basics::blur::gaussian;
use platebench::imaging::basics::colour::encode_srgb;
use platebench::imaging::register::{Light, Prepared, similarity};
use platebench::pixels::convert::{narrow, unit_to_u16};
use platebench::pixels::{Numbers, Plane};
use platebench::project::{
    Edit, FuseSettings, Guidance, Guide, Mask, MaskId, MaskPart, PartId, Plate, PlateEdit, PlateId,
    Project, Shape, Sign, Source, Stack, Variant, VariantId,
};
use platebench::session::fuse_files::{BadFrames, FuseReport, FuseRequest, fuse_files};
use platebench::session::{NoWatch, Session, SessionError, Settings, Watch};
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};

const SIZE: Size = Size::new(320, 240);
const FRAMES: u8 = 5;

/// A fixed sequence of numbers evenly spread over 0..1.
struct Chance(u64);

impl Chance {
    fn next(&mut self) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        let top = u32::try_from(self.0 >> 40).unwrap();
        f64::from(top) / f64::from(1_u32 << 24)
    }
}

/// A textured plane whose left end is in focus in the first frame and whose right end is in the last.
fn frame(k: u8, noise_seed: u64) -> Plane {
    let rect = SIZE.rect();
    let mut chance = Chance(11);
    let grain = gaussian(&Plane::from_fn(rect, |_, _| narrow(chance.next())), 0.8);
    let coarse = gaussian(&grain, 6.0);
    let sharp = Plane::from_fn(rect, |x, y| {
        let (fine, wide) = (grain.at(x, y) - 0.5, coarse.at(x, y) - 0.5);
        (0.25 + 0.6 * fine + 3.0 * wide).clamp(0.02, 0.9)
    });
    let steps: Vec<Plane> = (0..=12_u8)
        .map(|step| gaussian(&sharp, 0.4 * f32::from(step)))
        .collect();
    let mut chance = Chance(noise_seed);
    Plane::from_fn(rect, |x, y| {
        let across = narrow(f64::from(x) / 320.0) * f32::from(FRAMES - 1);
        let off = ((across - f32::from(k)).abs() * 3.0).min(11.0);
        let step = usize::try_from(platebench::pixels::convert::floor_i32(off)).unwrap();
        let part = off - f32::from(u8::try_from(step).unwrap());
        let value = steps[step].at(x, y) * (1.0 - part) + steps[step + 1].at(x, y) * part;
        let noise: f64 = (0..4).map(|_| chance.next() - 0.5).sum();
        value + narrow(noise * 0.002)
    })
}

fn write_grey(path: &Path, plane: &Plane, gain: [f32; 3]) {
    let data = plane
        .data
        .iter()
        .flat_map(|value| gain.map(|gain| unit_to_u16(encode_srgb((value * gain).clamp(0.0, 1.0)))))
        .collect();
    let size = Size::new(plane.rect.x1.cast_unsigned(), plane.rect.y1.cast_unsigned());
    let picture = Picture {
        size,
        pixels: Pixels::U16 { channels: 3, data },
    };
    write(path, &picture, &WriteOptions::new(16, OutputColour::Srgb)).unwrap();
}

fn lay_out(folder: &Path) -> Vec<PathBuf> {
    (0..FRAMES)
        .map(|k| {
            let path = folder.join(format!("frame_{k}.tif"));
            write_grey(&path, &frame(k, 100 + u64::from(k)), [1.0; 3]);
            path
        })
        .collect()
}

fn settings() -> Settings {
    Settings {
        scratch_bytes: 0,
        ..Settings::for_memory(1 << 30)
    }
    .with_tile_side(512)
}

fn fused(frames: &[PathBuf], to: &Path, bad_frames: BadFrames) -> Result<FuseReport, SessionError> {
    let request = FuseRequest {
        frames: frames.to_vec(),
        output: to.to_owned(),
        bits: None,
        depth_map: None,
        frame_map: None,
        reference: None,
        bad_frames,
    };
    fuse_files(&request, &settings(), &NoWatch)
}

fn codes(path: &Path) -> Vec<u16> {
    let photo = photo::open(path, &Limits::default()).unwrap();
    match photo.samples.numbers {
        Numbers::U16(codes) => codes,
        Numbers::U8(_) | Numbers::F32(_) => panic!("not 16 bits"),
    }
}

#[test]
fn frames_in_any_order_give_the_same_plate() {
    let folder = tempfile::tempdir().unwrap();
    let mut frames = lay_out(folder.path());
    let (one, other) = (
        folder.path().join("one.tif"),
        folder.path().join("other.tif"),
    );
    fused(&frames, &one, BadFrames::Refuse).unwrap();
    frames.swap(0, 3);
    frames.swap(1, 4);
    fused(&frames, &other, BadFrames::Refuse).unwrap();
    assert_eq!(codes(&one), codes(&other));
}

#[test]
fn one_photo_comes_out_as_it_went_in() {
    let folder = tempfile::tempdir().unwrap();
    let frames = lay_out(folder.path());
    let out = folder.path().join("out.tif");
    fused(&frames[2..3], &out, BadFrames::Refuse).unwrap();
    assert_eq!(codes(&out), codes(&frames[2]));
}

#[test]
fn bad_frames_are_found_each_and_left_out_when_asked() {
    let folder = tempfile::tempdir().unwrap();
    let mut frames = lay_out(folder.path());
    let small = folder.path().join("small.tif");
    write_grey(
        &small,
        &Plane::filled(Size::new(200, 150).rect(), 0.3),
        [1.0; 3],
    );
    let cut = folder.path().join("cut.tif");
    let bytes = std::fs::read(&frames[1]).unwrap();
    std::fs::write(&cut, &bytes[..bytes.len() / 2]).unwrap();
    let twin = folder.path().join("twin.tif");
    std::fs::copy(&frames[0], &twin).unwrap();
    let out = folder.path().join("out.tif");
    for bad in [&small, &cut, &twin] {
        let mut with_bad = frames.clone();
        with_bad.push(bad.clone());
        let error = fused(&with_bad, &out, BadFrames::Refuse).unwrap_err();
        let name = bad.file_name().unwrap().to_string_lossy().into_owned();
        assert!(error.to_string().contains(&name), "{error}");
        assert!(!out.exists(), "nothing is written");
    }
    frames.extend([small.clone(), cut.clone(), twin.clone()]);
    let report = fused(&frames, &out, BadFrames::LeaveOut).unwrap();
    for (bad, why) in [
        (&small, "200 x 150"),
        (&cut, "cut"),
        (&twin, "same picture"),
    ] {
        let entry = report
            .frames
            .iter()
            .find(|frame| frame.file == **bad)
            .unwrap();
        assert!(
            !entry.used && entry.notes[0].contains(why),
            "{:?}",
            entry.notes
        );
    }
    assert_eq!(report.frames.iter().filter(|frame| frame.used).count(), 5);
    let left_out = |said: &&String| said.contains("was left out");
    let said = report.warnings.iter().filter(left_out).count();
    assert_eq!(said, 3, "{:?}", report.warnings);
    let whole = folder.path().join("whole.tif");
    fused(&frames[..5], &whole, BadFrames::Refuse).unwrap();
    assert_eq!(
        codes(&out),
        codes(&whole),
        "the rest is fused as if they had not been there"
    );
}

/// Half a per cent more light in one frame, a shift of the white balance in another, both in the numbers of the files.
#[test]
fn gains_are_read_to_a_thousandth() {
    let folder = tempfile::tempdir().unwrap();
    let frames = lay_out(folder.path());
    let asked = [
        [1.0; 3],
        [1.01, 1.0, 0.99],
        [1.0; 3],
        [1.005; 3],
        [0.97, 1.0, 1.03],
    ];
    for (k, (path, gain)) in (0_u8..).zip(frames.iter().zip(asked)) {
        write_grey(path, &frame(k, 700 + u64::from(k)), gain);
    }
    let report = fused(&frames, &folder.path().join("out.tif"), BadFrames::Refuse).unwrap();
    let entry_of = |path: &PathBuf| {
        let mut entries = report.frames.iter();
        entries.find(|entry| entry.file == *path).unwrap()
    };
    let reference = frames.iter().position(|path| entry_of(path).is_reference);
    let shown = asked[reference.unwrap()];
    for (path, gain) in frames.iter().zip(asked) {
        let entry = entry_of(path);
        let measured = entry.measured.as_ref().unwrap();
        for ((found, gain), shown) in measured.gain_rgb.iter().zip(gain).zip(shown) {
            let off = found * gain / shown - 1.0;
            assert!(off.abs() < 1e-3, "{measured:?}, {gain:?} to {shown:?}");
        }
        assert_eq!(measured.offset_rgb, [0.0; 3]);
        if entry.is_reference {
            assert_eq!(measured.gain_rgb, [1.0; 3], "the reference is untouched");
        }
    }
}

#[test]
fn light_that_flickers_is_told_and_evened_out() {
    let folder = tempfile::tempdir().unwrap();
    let frames = lay_out(folder.path());
    let steady = fused(
        &frames,
        &folder.path().join("steady.tif"),
        BadFrames::Refuse,
    )
    .unwrap();
    let of_light = |report: &FuseReport| -> Vec<String> {
        let said = report.warnings.iter();
        said.filter(|said| said.contains("evened out"))
            .cloned()
            .collect()
    };
    assert!(of_light(&steady).is_empty(), "{:?}", steady.warnings);
    write_grey(&frames[3], &frame(3, 103), [1.04; 3]);
    let out = folder.path().join("unsteady.tif");
    let said = of_light(&fused(&frames, &out, BadFrames::Refuse).unwrap());
    let told = "frame_3.tif is 4.0 % brighter than the frames around it; that was evened out";
    assert!(said.len() == 1 && said[0].contains(told), "{said:?}");
}

#[test]
fn the_same_scene_with_other_noise_lies_still() {
    let [one, other] = [7, 8].map(|seed| Prepared::new(&frame(2, seed), Light::Same, 0.97));
    let found = similarity(
        &one,
        &other,
        Similarity {
            log_scale: 0.0,
            angle_rad: 0.0,
            shift: Point::new(0.0, 0.0),
        },
    )
    .unwrap();
    for corner in SIZE.rect().corners() {
        let gap = found.reference_from_moved.apply(corner).distance(corner);
        assert!(gap < 0.01, "{gap} px");
    }
}

/// A measured plate with a mask that holds one stroke.
fn guided_session(folder: &Path) -> (Session, PlateId, VariantId, MaskId) {
    let frames = lay_out(folder);
    let mut session = Session::new(Project::new("guided", SIZE), folder, &settings());
    let ids = session.add_photos(&frames).unwrap();
    let first = session.next_id();
    let (plate, variant, mask) = (PlateId(first), VariantId(first + 1), MaskId(first + 2));
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
    let stroke = MaskPart {
        id: PartId(first + 3),
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

/// The plate as one tile, which holds all of it.
fn picture(session: &Session, plate: PlateId) -> platebench::pixels::Image {
    picture_watched(session, plate, &NoWatch)
}

fn picture_watched(
    session: &Session,
    plate: PlateId,
    watch: &dyn Watch,
) -> platebench::pixels::Image {
    let world = session.world(watch);
    let plate = world
        .project
        .plates
        .iter()
        .find(|other| other.id == plate)
        .unwrap();
    let plan = PlatePlan::new(&world.project, plate).unwrap();
    session.engine().prepare_plate(&world, &plan).unwrap();
    let index = TileIndex { x: 0, y: 0 };
    let tile = session
        .engine()
        .plate_tile(&world, &plan, Stage::Done, 0, index);
    tile.unwrap().as_ref().clone()
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
    let change = |picture: &platebench::pixels::Image| {
        (picture.at(60, 120)[1] - before.at(60, 120)[1]).abs()
    };
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

fn picture_with(session: &mut Session, plate: PlateId, edit: Edit) -> platebench::pixels::Image {
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
