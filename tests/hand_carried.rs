//! Spots, paint-outs and warps after a re-fusion and after a swap: they stay where they are on the model, and the findings name those
//! under which something changed.
#![expect(
    clippy::unwrap_used,
    clippy::cast_possible_truncation,
    clippy::too_many_lines,
    reason = "a test may stop at once; places of small test pictures; some follow one way from end to end"
)]

#[path = "common/disc_blur.rs"]
mod disc_blur;
#[path = "common/layered_scene.rs"]
mod layered_scene;
#[path = "common/photo_file.rs"]
mod photo_file;

use layered_scene::{coloured, frame_rect, texture, warped};
use photo_file::write_photo;
use platebench::engine::plate_tiles::{PlatePlan, Stage};
use platebench::geometry::{Point, Size, Transform};
use platebench::pixels::{Image, Planes};
use platebench::project::{
    Edit, FrameId, FuseSettings, PaintOut, Patch, PatchFrom, PatchShape, Plate, PlateEdit, PlateId,
    Project, Source, Spotting, Stack, Step, StepId, StepKind, Variant, VariantId, Verdict, Warp,
    WarpKind,
};
use platebench::session::swap::{About, Look};
use platebench::session::{NoWatch, Session, Settings};
use std::path::Path;
use std::sync::Arc;

/// Grains on the model: the first two stay on it, the third is cleaned off before it is shot again.
const GRAINS: [(f64, f64); 3] = [(300.5, 200.5), (640.5, 520.5), (820.5, 250.5)];
/// Where what is at the origin of the plate lies on the second photo.
const MOVED: (f64, f64) = (9.0, -6.0);
const PLATE: PlateId = PlateId(100);

/// Painted plating with grains of dust on it.
fn plating(grains: &[(f64, f64)]) -> Planes {
    let mut plating = coloured(&texture(5, 0.5), [0.3, 0.31, 0.33]);
    let rect = frame_rect();
    for y in rect.y0..rect.y1 {
        for x in rect.x0..rect.x1 {
            let near = grains.iter().any(|(cx, cy)| {
                let (dx, dy) = (f64::from(x) + 0.5 - cx, f64::from(y) + 0.5 - cy);
                dx * dx + dy * dy < 9.0
            });
            if near {
                let at = rect.index(x, y);
                let light = plating.pixel(at).map(|light| light * 0.4);
                plating.set_pixel(at, light);
            }
        }
    }
    plating
}

fn patch(shape: PatchShape, confidence: Option<f32>, verdict: Verdict) -> Patch {
    Patch {
        shape,
        from: PatchFrom::Surroundings,
        feather_px: 1.0,
        confidence,
        verdict,
    }
}

fn steps() -> Vec<StepKind> {
    let dab = |(x, y): (f64, f64)| PatchShape::Dab {
        at: Point::new(x, y),
        radius_px: 5.0,
    };
    let line = |y: f64| vec![Point::new(380.0, y), Point::new(700.0, y)];
    let outline = [
        (100.0, 560.0),
        (130.0, 560.0),
        (130.0, 640.0),
        (100.0, 640.0),
    ];
    let outline = outline.map(|(x, y)| Point::new(x, y)).to_vec();
    vec![
        StepKind::Spotting(Spotting {
            patches: vec![
                patch(dab(GRAINS[0]), Some(0.9), Verdict::Accepted),
                patch(dab(GRAINS[1]), None, Verdict::Undecided),
                patch(dab(GRAINS[2]), Some(0.8), Verdict::Undecided),
                // A find that was refused: nothing is filled, so nothing is judged.
                patch(dab((450.0, 620.0)), Some(0.9), Verdict::Refused),
            ],
            least_confidence: 0.5,
            ..Spotting::default()
        }),
        StepKind::PaintOut(PaintOut {
            patches: vec![patch(
                PatchShape::Outline { points: outline },
                None,
                Verdict::Undecided,
            )],
            shadow_seen_to: true,
        }),
        StepKind::Warp(Warp {
            kind: WarpKind::Strake {
                kept: line(460.0),
                was: line(400.0),
                now: line(390.0),
                covers: false,
            },
            soft_px: 40.0,
        }),
    ]
}

/// A plate of one photo with spots, a paint-out and a strake, measured.
fn session(folder: &Path) -> Session {
    write_photo(&folder.join("first.tif"), &plating(&GRAINS), 1);
    let settings = Settings {
        scratch_bytes: 0,
        ..Settings::for_memory(1 << 30)
    };
    let project = Project::new("carried", Size::new(1080, 720));
    let mut session = Session::new(project, folder, &settings);
    let frames = session.add_photos(&[folder.join("first.tif")]).unwrap();
    let variant = Variant {
        id: VariantId(101),
        name: "first".to_owned(),
        source: Source::Stack(Stack::of(frames)),
        takes: Vec::new(),
        lies: None,
    };
    let plate = Plate::new(PLATE, "barge", variant);
    session.record(Edit::AddPlate(Arc::new(plate))).unwrap();
    for (number, kind) in (0_u32..).zip(steps()) {
        let step = Step {
            id: StepId(200 + number),
            on: true,
            mask: None,
            kind,
        };
        let at = usize::MAX;
        let edit = Edit::Plate(PLATE, PlateEdit::AddStep { step, at });
        session.record(edit).unwrap();
    }
    session.measure_all(&NoWatch).unwrap();
    session
}

fn picture(session: &Session, stage: Stage) -> Image {
    let plan = PlatePlan::new(session.project(), session.project().plate(PLATE).unwrap()).unwrap();
    let world = session.world(&NoWatch);
    session
        .engine()
        .plate_picture(&world, &plan, stage)
        .unwrap()
}

/// Root mean square of how far a picture is from the plating without dust, about a place.
fn off(picture: &Image, place: (f64, f64)) -> f64 {
    let clean = plating(&[]);
    let (x, y) = (place.0 as i32, place.1 as i32);
    let (mut sum, mut count) = (0.0, 0.0);
    for y in y - 2..=y + 2 {
        for x in x - 2..=x + 2 {
            let off = f64::from(picture.at(x, y)[1] - clean.pixel(clean.rect().index(x, y))[1]);
            sum += off * off;
            count += 1.0;
        }
    }
    f64::sqrt(sum / count)
}

fn holds(look: &Look, place: (f64, f64)) -> bool {
    look.place.is_some_and(|[x0, y0, x1, y1]| {
        (f64::from(x0)..f64::from(x1)).contains(&place.0)
            && (f64::from(y0)..f64::from(y1)).contains(&place.1)
    })
}

#[test]
fn places_and_warps_stay_after_a_re_fusion() {
    let folder = tempfile::tempdir().unwrap();
    let mut session = session(folder.path());
    let before = session.project().plate(PLATE).unwrap().steps.clone();
    let fuse = FuseSettings {
        detail: 0.6,
        ..FuseSettings::default()
    };
    let edit = PlateEdit::SetFuse(VariantId(101), fuse);
    session.record(Edit::Plate(PLATE, edit)).unwrap();
    session.measure_all(&NoWatch).unwrap();
    assert_eq!(session.project().plate(PLATE).unwrap().steps, before);
    let (fused, healed) = (
        picture(&session, Stage::Fused),
        picture(&session, Stage::Healed),
    );
    for grain in GRAINS {
        let (was, is) = (off(&fused, grain), off(&healed, grain));
        assert!(is < 0.6 * was, "{grain:?}: {is} of {was}");
    }
    let changed = |x: i32, y: i32| fused.at(x, y) != healed.at(x, y);
    assert!(changed(115, 600), "the paint-out fills");
    assert!(!changed(450, 620), "what was refused stays");
}

#[test]
fn places_and_warps_follow_a_swap_and_what_was_cleaned_off_wants_a_look() {
    let folder = tempfile::tempdir().unwrap();
    let mut session = session(folder.path());
    let before = session.project().plate(PLATE).unwrap().steps.clone();
    let warped_before = picture(&session, Stage::Warped);
    // The same model, a little elsewhere in the picture, the third grain cleaned off.
    let again = warped(
        &plating(&GRAINS[..2]),
        &Transform::translation(MOVED.0, MOVED.1),
    );
    write_photo(&folder.path().join("again.tif"), &again, 2);
    let report = session
        .swap("barge", &[folder.path().join("again.tif")], &NoWatch)
        .unwrap();
    let plate = session.project().plate(PLATE).unwrap();
    assert_eq!(
        plate.steps, before,
        "recorded on the plate, not on its photos"
    );
    assert_eq!(plate.current, plate.variants[1].id);
    let at = report
        .to_old
        .apply(Point::new(500.0 + MOVED.0, 300.0 + MOVED.1));
    assert!(at.distance(Point::new(500.0, 300.0)) < 0.1, "{at:?}");

    // The grains that are still there are filled where they are on the model.
    let (fused, healed) = (
        picture(&session, Stage::Fused),
        picture(&session, Stage::Healed),
    );
    for grain in &GRAINS[..2] {
        let (was, is) = (off(&fused, *grain), off(&healed, *grain));
        assert!(is < 0.6 * was, "{grain:?}: {is} of {was}");
    }
    // The strake moves the same plating by the same way.
    let warped_after = picture(&session, Stage::Warped);
    let (mut sum, mut count) = (0.0, 0.0);
    for y in (370..450).step_by(5) {
        for x in (400..680).step_by(5) {
            let off = f64::from(warped_before.at(x, y)[1] - warped_after.at(x, y)[1]);
            sum += off * off;
            count += 1.0;
        }
    }
    let rms = f64::sqrt(sum / count);
    assert!(rms < 0.02, "{rms}");

    // What was cleaned off is named with its place, and nothing else is.
    for look in &report.needs_a_look {
        assert_eq!(
            (look.about, look.step.as_str()),
            (About::Spotting, "spotting 1"),
            "{look:?}"
        );
    }
    let listed = |place: (f64, f64)| report.needs_a_look.iter().any(|look| holds(look, place));
    assert!(listed(GRAINS[2]), "{:?}", report.needs_a_look);
    assert!(
        !listed(GRAINS[0]) && !listed(GRAINS[1]),
        "{:?}",
        report.needs_a_look
    );
    for name in ["paint-out 2", "warp 3"] {
        assert!(
            report.carried.iter().any(|carried| carried == name),
            "{name}"
        );
    }
}

#[test]
fn looking_again_keeps_what_people_decided() {
    let folder = tempfile::tempdir().unwrap();
    let mut session = session(folder.path());
    session.record_spots(PLATE, None, &NoWatch).unwrap();
    let plate = session.project().plate(PLATE).unwrap();
    let patches = plate.steps[0].kind.patches();
    let about = |place: (f64, f64)| {
        let near = |patch: &&Patch| {
            let at = patch.shape.points()[0];
            at.distance(Point::new(place.0, place.1)) < 8.0
        };
        patches.iter().filter(near).collect::<Vec<_>>()
    };
    assert_eq!(about(GRAINS[0]).len(), 1, "what was accepted is there once");
    assert_eq!(about(GRAINS[0])[0].verdict, Verdict::Accepted);
    assert!(
        about(GRAINS[1])
            .iter()
            .any(|patch| patch.confidence.is_none())
    );
    let refused = about((450.0, 620.0));
    assert!(refused.len() == 1 && refused[0].verdict == Verdict::Refused);
}

#[test]
fn what_a_take_after_cleaning_does_not_show_is_found_and_filled_from_it() {
    let folder = tempfile::tempdir().unwrap();
    let mut session = session(folder.path());
    let again = warped(
        &plating(&GRAINS[..2]),
        &Transform::translation(MOVED.0, MOVED.1),
    );
    write_photo(&folder.path().join("again.tif"), &again, 2);
    session
        .swap("barge", &[folder.path().join("again.tif")], &NoWatch)
        .unwrap();
    let cleaned = session.project().plate(PLATE).unwrap().current;
    let back = PlateEdit::UseVariant(VariantId(101));
    session.record(Edit::Plate(PLATE, back)).unwrap();
    session
        .record_spots(PLATE, Some(cleaned), &NoWatch)
        .unwrap();
    let plate = session.project().plate(PLATE).unwrap();
    let sure = plate.steps[0].kind.patches().iter().filter(|patch| {
        patch.verdict == Verdict::Undecided && patch.confidence.is_some_and(|sure| sure >= 0.7)
    });
    let sure: Vec<&Patch> = sure.collect();
    assert_eq!(sure.len(), 1, "{sure:?}");
    let gone = Point::new(GRAINS[2].0, GRAINS[2].1);
    assert!(sure[0].shape.points()[0].distance(gone) < 1.0, "{sure:?}");
    assert_eq!(sure[0].from, PatchFrom::OtherTake { variant: cleaned });
    assert!(session.due().is_empty());
    let was = off(&picture(&session, Stage::Fused), GRAINS[2]);
    let is = off(&picture(&session, Stage::Healed), GRAINS[2]);
    assert!(is < 0.15 * was, "{is} of {was}");
}

/// Where a hair fell while the stack was shot, and how wide it is, px.
const HAIR: [(f64, f64); 2] = [(500.0, 300.0), (560.0, 340.0)];
const HAIR_PX: f32 = 4.0;

/// How far a place lies from the hair's line, px.
fn off_hair(x: i32, y: i32) -> f64 {
    let [(ax, ay), (bx, by)] = HAIR;
    let (dx, dy) = (bx - ax, by - ay);
    let (px, py) = (f64::from(x) + 0.5 - ax, f64::from(y) + 0.5 - ay);
    let along = ((px * dx + py * dy) / (dx * dx + dy * dy)).clamp(0.0, 1.0);
    libm::hypot(px - along * dx, py - along * dy)
}

/// A stack of three photos: the camera moved and the light fell between them, and a hair lies on the model in all but the first.
fn stack_with_a_hair(folder: &Path) -> Session {
    let clean = plating(&[]);
    let mut hurt = clean.clone();
    let rect = frame_rect();
    for (x, y) in (290..350).flat_map(|y| (490..570).map(move |x| (x, y))) {
        if off_hair(x, y) < f64::from(HAIR_PX) * 0.5 {
            hurt.set_pixel(rect.index(x, y), [0.6; 3]);
        }
    }
    let darker = |planes: &Planes| Planes {
        rgb: planes
            .rgb
            .each_ref()
            .map(|plane| plane.map(|light| light * 0.9)),
    };
    let moved = |planes: &Planes, by: f64| warped(planes, &Transform::translation(by, -0.6 * by));
    let photos = [darker(&moved(&clean, 3.3)), hurt.clone(), moved(&hurt, 1.7)];
    let mut files = Vec::new();
    for (number, photo) in (1..).zip(&photos) {
        files.push(folder.join(format!("photo_{number}.tif")));
        write_photo(&files[files.len() - 1], photo, number);
    }
    let settings = Settings {
        scratch_bytes: 0,
        ..Settings::for_memory(1 << 30)
    };
    let mut session = Session::new(
        Project::new("hair", Size::new(1080, 720)),
        folder,
        &settings,
    );
    let frames = session.add_photos(&files).unwrap();
    let mut stack = Stack::of(frames);
    stack.reference = Some(stack.frames[1].frame);
    let variant = Variant {
        id: VariantId(101),
        name: "stack".to_owned(),
        source: Source::Stack(stack),
        takes: Vec::new(),
        lies: None,
    };
    let plate = Plate::new(PLATE, "barge", variant);
    session.record(Edit::AddPlate(Arc::new(plate))).unwrap();
    session.measure_all(&NoWatch).unwrap();
    session
}

/// Sets the one step of the plate: the hair's line, filled from `from`.
fn heal_hair(session: &mut Session, from: PatchFrom) {
    let line = PatchShape::Line {
        points: HAIR.map(|(x, y)| Point::new(x, y)).to_vec(),
        width_px: HAIR_PX + 4.0,
    };
    let step = Step {
        id: StepId(200),
        on: true,
        mask: None,
        kind: StepKind::Spotting(Spotting {
            patches: vec![Patch {
                from,
                ..patch(line, None, Verdict::Undecided)
            }],
            least_confidence: 0.0,
            ..Spotting::default()
        }),
    };
    let edit = if session.project().plate(PLATE).unwrap().steps.is_empty() {
        PlateEdit::AddStep { step, at: 0 }
    } else {
        PlateEdit::SetStep(step)
    };
    session.record(Edit::Plate(PLATE, edit)).unwrap();
}

/// Root mean square of how far the plate is from the plating without the hair, where the hair lies.
fn off_under_hair(picture: &Image) -> f64 {
    let clean = plating(&[]);
    let (mut sum, mut count) = (0.0, 0.0);
    for (x, y) in (290..350).flat_map(|y| (490..570).map(move |x| (x, y))) {
        if off_hair(x, y) < f64::from(HAIR_PX) * 0.5 {
            let off = f64::from(picture.at(x, y)[1] - clean.pixel(clean.rect().index(x, y))[1]);
            sum += off * off;
            count += 1.0;
        }
    }
    f64::sqrt(sum / count)
}

#[test]
fn a_hair_goes_with_the_pixels_of_a_frame_that_does_not_show_it() {
    let folder = tempfile::tempdir().unwrap();
    let mut session = stack_with_a_hair(folder.path());
    let fused = picture(&session, Stage::Fused);
    heal_hair(&mut session, PatchFrom::Surroundings);
    let around = off_under_hair(&picture(&session, Stage::Healed));
    let first = PatchFrom::Frame { frame: FrameId(1) };
    heal_hair(&mut session, first);
    let healed = picture(&session, Stage::Healed);
    let (was, is) = (off_under_hair(&fused), off_under_hair(&healed));
    assert!(was > 0.1, "the fused plate shows the hair: {was}");
    // What is left is one photo's noise, and what two samplings take off painted texture.
    assert!(
        is < 0.03 * was && is < 0.25 * around,
        "{is} of {was}, {around}"
    );
    for y in fused.rect.y0..fused.rect.y1 {
        for x in fused.rect.x0..fused.rect.x1 {
            let far = off_hair(x, y) > f64::from(HAIR_PX) * 0.5 + 4.5;
            assert!(!far || fused.at(x, y) == healed.at(x, y), "({x}, {y})");
        }
    }
    // The record says so, and a rebuild from it is the same to the bit.
    let file = folder.path().join("hair.platebench");
    session.save(Some(&file)).unwrap();
    let record = session.project().as_ref().clone();
    drop(session);
    let settings = Settings::for_memory(1 << 30);
    let mut again = Session::open(&file, &settings).unwrap();
    assert_eq!(again.project().as_ref(), &record);
    assert!(again.due().is_empty(), "{:?}", again.due());
    assert_eq!(picture(&again, Stage::Healed), healed);
    // A frame that something is filled from stays in its stack.
    let leave_out = |frame: u32| {
        Edit::Plate(
            PLATE,
            PlateEdit::UseFrame {
                variant: VariantId(101),
                frame: FrameId(frame),
                used: false,
            },
        )
    };
    let refused = again.record(leave_out(1)).unwrap_err().to_string();
    assert!(refused.contains("filled from this frame"), "{refused}");
    again.record(leave_out(3)).unwrap();
    heal_hair(&mut again, PatchFrom::Surroundings);
    again.record(leave_out(1)).unwrap();
}
