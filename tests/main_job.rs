//! The main job on the demo's photographs: fuse, build, rebuild, swap; against the demo's truth.
#![expect(
    clippy::disallowed_methods,
    clippy::print_stdout,
    reason = "a test may stop at once, reads its pictures and says what it measured"
)]

#[path = "common/plate_psnr.rs"]
mod plate_psnr;

use plate_psnr::{light, psnr};
use platebench::engine::ports::NoWatch;
use platebench::geometry::Point;
use platebench::imaging::basics::colour::{ciede2000, lab_from_working, matrices};
use platebench::pixels::convert::narrow;
use platebench::pixels::{ColourEncoding, Planes};
use platebench::project::{Edit, MaskPart, PartId, PlateEdit, Shape, Sign};
use platebench::session::build::BuildRequest;
use platebench::session::fuse_files::{BadFrames, FuseRequest, fuse_files};
use platebench::session::{Session, Settings};
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Arc;

fn scene() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("demo_scenes/ice_shift/scene")
}

fn truth(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("demo_scenes/ice_shift/truth/barge")
        .join(name)
}

/// No tiles on disc, so all of the scene is kept in memory.
fn settings(tile_side: u32) -> Settings {
    Settings {
        scratch_bytes: 0,
        ..Settings::for_memory(9 << 30)
    }
    .with_tile_side(tile_side)
}

fn barge(number: u32) -> PathBuf {
    scene().join(format!("photos/barge/barge_unlit_{number:02}.jpg"))
}

/// Light of the working space after the linear channels of an sRGB file were multiplied by `gain`.
fn matched(light: [f32; 3], gain: [f32; 3]) -> [f32; 3] {
    let working = matrices::working_from_primaries(&ColourEncoding::BT709_XY);
    let of_file = matrices::apply(&matrices::inverse(&working), light.map(f64::from));
    let scaled = [0, 1, 2].map(|c: usize| of_file[c] * f64::from(gain[c]));
    matrices::apply(&working, scaled).map(narrow)
}

/// CIEDE2000 difference of a barge frame's grey areas to the frame before it (a focus step away, with the usual balance): mean over
/// blocks of 48 pixels on the model that are nearly without colour there.
fn grey_difference(odd: &Planes, gain: [f32; 3], covered: &[bool]) -> f64 {
    let usual = light(&barge(6));
    let rect = odd.rect();
    let mut differences = Vec::new();
    for top in (rect.y0..rect.y1 - 48).step_by(48) {
        for left in (rect.x0..rect.x1 - 48).step_by(48) {
            let places = (top..top + 48)
                .flat_map(|y| (left..left + 48).map(move |x| rect.index(x, y)))
                .collect::<Vec<_>>();
            if !places.iter().all(|at| covered[*at]) {
                continue;
            }
            let mean = |picture: &Planes| {
                [0, 1, 2].map(|c: usize| {
                    places
                        .iter()
                        .map(|at| picture.rgb[c].data[*at])
                        .sum::<f32>()
                        / 2304.0
                })
            };
            let wanted = lab_from_working(mean(&usual));
            if wanted[1].hypot(wanted[2]) > 6.0 {
                continue;
            }
            let found = mean(odd);
            let found = lab_from_working(matched(found, gain));
            differences.push(ciede2000(found, wanted));
        }
    }
    assert!(differences.len() > 20, "{} grey areas", differences.len());
    differences.iter().sum::<f64>() / differences.len() as f64
}

#[test]
fn the_barge_is_sharp_from_front_to_back_and_its_odd_frame_matches() {
    let folder = tempfile::tempdir().unwrap();
    let request = FuseRequest {
        frames: (1..=10).map(barge).collect(),
        output: folder.path().join("barge.tif"),
        bits: None,
        depth_map: Some(folder.path().join("depth.png")),
        frame_map: Some(folder.path().join("frames.png")),
        reference: None,
        unveil: false,
        bad_frames: BadFrames::Refuse,
    };
    let report = fuse_files(&request, &settings(256), &NoWatch).unwrap();
    let plate = light(&request.output);
    let wanted = light(&truth("all_in_focus.jpg"));
    let cover = light(&truth("coverage.png"));
    let covered: Vec<bool> = cover.rgb[0].data.iter().map(|light| *light > 0.5).collect();
    let fused = psnr(&plate, &wanted, &covered);
    let singles: Vec<f64> = (1..=10)
        .map(|number| psnr(&light(&barge(number)), &wanted, &covered))
        .collect();
    let best = singles.iter().copied().fold(0.0, f64::max);
    println!("fused {fused:.2} dB, best single frame {best:.2} dB");
    assert!(
        fused >= best + 6.0,
        "fused {fused:.2} dB, best single frame {best:.2} dB"
    );
    // Six pixels were made hot; two stand out too little to be told. Places of the scene are not among those mended.
    let hot = report
        .warnings
        .iter()
        .find(|line| line.contains("hot pixel"));
    println!("{hot:?}");
    assert!(
        hot.is_some_and(|line| line.starts_with("4 hot pixels")),
        "{hot:?}"
    );
    let odd = report
        .frames
        .iter()
        .find(|frame| frame.file.ends_with("barge_unlit_07.jpg"))
        .unwrap();
    let gain = odd.measured.as_ref().unwrap().gain_rgb;
    let odd = light(&barge(7));
    let (before, after) = (
        grey_difference(&odd, [1.0; 3], &covered),
        grey_difference(&odd, gain, &covered),
    );
    println!("grey areas of the odd frame: dE00 {before:.2}, matched {after:.2}");
    assert!(
        after < 1.0 && before > 1.5,
        "grey areas: {before:.2}, matched {after:.2}"
    );
    println!("gains of the odd frame {gain:?}");
    // It was made with red +6 % and blue -5 % in linear BT.709, the channels of its file.
    for (found, wanted) in gain.iter().zip([1.0 / 1.06, 1.0, 1.0 / 0.95]) {
        assert!(
            (found - wanted).abs() < 0.01,
            "gains of the odd frame {gain:?}"
        );
    }
}

#[test]
fn the_scene_builds_alike_on_any_tile_size_and_a_stroke_renews_only_what_it_touches() {
    let folder = tempfile::tempdir().unwrap();
    let project = scene().join("ice_shift.platebench");
    let request = |name: &str| BuildRequest {
        output: folder.path().join(name),
        level: 2,
        bits: None,
    };
    let mut session = Session::open(&project, &settings(256)).unwrap();
    let first = session.build(&request("a.tif"), &NoWatch).unwrap();
    let mut other = Session::open(&project, &settings(96)).unwrap();
    let second = other.build(&request("b.tif"), &NoWatch).unwrap();
    assert_eq!(
        first.pixels, second.pixels,
        "another tile size gives the same pixels"
    );

    let before = session.engine().counts();
    let plate = Arc::clone(session.project().plate_by_name("barge").unwrap());
    let matte = plate.steps.iter().find_map(|step| step.mask).unwrap();
    let stroke = MaskPart {
        id: PartId(session.next_id()),
        sign: Sign::Remove,
        strength: 1.0,
        on: true,
        shape: Shape::Stroke {
            points: vec![Point::new(300.0, 300.0)],
            radius_px: 12.0,
            softness: 0.5,
            pressure: Vec::new(),
        },
    };
    session
        .record(Edit::Plate(
            plate.id,
            PlateEdit::AddPart(matte, Arc::new(stroke)),
        ))
        .unwrap();
    session.build(&request("c.tif"), &NoWatch).unwrap();
    let after = session.engine().counts();
    let plate_tiles = after.plate_tiles_run - before.plate_tiles_run;
    let scene_tiles = after.scene_tiles_run - before.scene_tiles_run;
    println!("a stroke renewed {plate_tiles} plate tiles and {scene_tiles} scene tiles");
    assert_eq!(
        after.wholes_run, before.wholes_run,
        "nothing is fused again"
    );
    assert!(
        (1..=4).contains(&plate_tiles),
        "{plate_tiles} plate tiles were renewed"
    );
    assert!(
        (1..=4).contains(&scene_tiles),
        "{scene_tiles} scene tiles were renewed"
    );
}

#[test]
fn a_swapped_plate_keeps_its_masks_lights_and_place() {
    let folder = tempfile::tempdir().unwrap();
    let project = scene().join("ice_shift.platebench");
    let mut session = Session::open(&project, &settings(256)).unwrap();
    let old = Arc::clone(session.project().plate_by_name("barge").unwrap());
    let photos: Vec<PathBuf> = (1..=10)
        .map(|number| {
            scene().join(format!(
                "photos/barge_again/barge_again_unlit_{number:02}.jpg"
            ))
        })
        .collect();
    let report = session.swap("barge", &photos, &NoWatch).unwrap();
    println!(
        "registered to {:.2} px: {:?}",
        report.residual_px, report.to_old
    );
    let new = session.project().plate_by_name("barge").unwrap();
    assert_eq!(
        (&new.masks, &new.groups, &new.steps),
        (&old.masks, &old.groups, &old.steps)
    );
    assert_eq!(new.variants.len(), 2, "the old source stays in the record");
    let size = report.to_old.magnification(Point::new(1200.0, 800.0));
    assert!(
        (size - 1.0 / 1.03).abs() < 0.02,
        "the re-shoot is 3 % larger; found {size}"
    );
    let output = folder.path().join("swapped.png");
    let built = session
        .build(
            &BuildRequest {
                output,
                level: 3,
                bits: Some(8),
            },
            &NoWatch,
        )
        .unwrap();
    assert!(built.pixels.starts_with("blake3:"), "{}", built.pixels);
    assert!(session.history().can_undo(), "and back with undo");
}

fn buoy(numbers: &[u32]) -> Vec<PathBuf> {
    let path = |number: &u32| scene().join(format!("photos/buoy/buoy_unlit_{number:02}.jpg"));
    numbers.iter().map(path).collect()
}

#[test]
fn frames_in_any_order_give_the_same_plate() {
    let folder = tempfile::tempdir().unwrap();
    let fused = |name: &str, numbers: &[u32]| {
        let request = FuseRequest {
            frames: buoy(numbers),
            output: folder.path().join(name),
            bits: None,
            depth_map: None,
            frame_map: None,
            reference: None,
            unveil: false,
            bad_frames: BadFrames::Refuse,
        };
        let report = fuse_files(&request, &settings(256), &NoWatch).unwrap();
        let order: Vec<PathBuf> = report.frames.into_iter().map(|frame| frame.file).collect();
        (order, fs::read(&request.output).unwrap())
    };
    let first = fused("a.tif", &[1, 2, 3]);
    assert_eq!(first.0, buoy(&[1, 2, 3]), "in focus order");
    for (name, numbers) in [("b.tif", [3, 2, 1]), ("c.tif", [2, 3, 1])] {
        assert!(
            fused(name, &numbers) == first,
            "{numbers:?} gives another plate"
        );
    }
}

#[test]
fn a_plate_swapped_for_itself_changes_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let mut session = Session::open(&scene().join("ice_shift.platebench"), &settings(256)).unwrap();
    let built = |session: &mut Session, name: &str| {
        let request = BuildRequest {
            output: folder.path().join(name),
            level: 3,
            bits: None,
        };
        session.build(&request, &NoWatch).unwrap().pixels
    };
    let before = built(&mut session, "before.tif");
    let photos = fs::read_dir(scene().join("photos/buoy")).unwrap();
    let mut photos: Vec<PathBuf> = photos.map(|entry| entry.unwrap().path()).collect();
    photos.sort();
    let report = session.swap("buoy", &photos, &NoWatch).unwrap();
    println!("registered to itself: {:?}", report.to_old);
    assert_eq!(built(&mut session, "after.tif"), before);
}

#[test]
fn bad_input_is_one_sentence_and_leaves_nothing_behind() {
    let folder = tempfile::tempdir().unwrap();
    let good = barge(1);
    let whole = fs::read(&good).unwrap();
    let bad = |name: &str, bytes: &[u8]| {
        let path = folder.path().join(name);
        fs::write(&path, bytes).unwrap();
        path
    };
    let cases = [
        bad("short.jpg", &whole[..whole.len() / 2]),
        bad("nothing.jpg", &[]),
        bad("text.tif", b"these are words and no picture"),
        folder.path().join("missing.jpg"),
        scene().join("photos/ice/ice_1.jpg"),
    ];
    for case in cases {
        let output = folder.path().join("out.tif");
        let request = FuseRequest {
            frames: vec![good.clone(), barge(2), case.clone()],
            output: output.clone(),
            bits: None,
            depth_map: None,
            frame_map: None,
            reference: None,
            unveil: false,
            bad_frames: BadFrames::Refuse,
        };
        let error = fuse_files(&request, &settings(256), &NoWatch)
            .unwrap_err()
            .to_string();
        assert!(
            !error.contains('\n') && error.len() > 20,
            "{}: {error}",
            case.display()
        );
        assert!(!output.exists(), "{}: something was left", case.display());
    }
}
