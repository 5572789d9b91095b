//! Stacks from files to a plate.
#![expect(
    clippy::unwrap_used,
    clippy::panic,
    clippy::disallowed_methods,
    reason = "a test may stop at once and breaks its own files"
)]

#[path = "common/small_stack.rs"]
mod small_stack;

use platebench::files::{Limits, photo};
use platebench::geometry::{Point, Similarity, Size};
use platebench::imaging::register::{Light, Prepared, similarity};
use platebench::pixels::{Numbers, Plane};
use platebench::session::fuse_files::{BadFrames, FuseReport, FuseRequest, fuse_files};
use platebench::session::{NoWatch, SessionError};
use small_stack::{SIZE, frame, lay_out, settings, write_grey};
use std::path::{Path, PathBuf};

fn fused(frames: &[PathBuf], to: &Path, bad_frames: BadFrames) -> Result<FuseReport, SessionError> {
    let request = FuseRequest {
        frames: frames.to_vec(),
        output: to.to_owned(),
        bits: None,
        depth_map: None,
        frame_map: None,
        reference: None,
        unveil: false,
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
