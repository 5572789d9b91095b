//! The main job on real photographs: a focus stack made from a photograph and its measured depth, light drawn on a photograph, dust
//! strewn over photographs, and a scene typed by hand.
//!
//! The pictures come inside the package scikit-image 0.26.0 (`skimage/data`): the `motorcycle` pair with its disparity
//! (Scharstein et al. 2014, the Middlebury stereo set), `coffee.png` and `chelsea.png` (both CC0). They are not kept here: fetch the package's
//! wheel into a folder and name that folder in `PLATEBENCH_OPEN_DATA` (`.ci/run` does so), then
//! `cargo test --release --test real_photographs -- --ignored`.
#![expect(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::disallowed_methods,
    clippy::print_stdout,
    reason = "a test may stop at once, reads its pictures and says what it measured"
)]

mod common;
#[path = "common/plate_psnr.rs"]
mod plate_psnr;

use common::layered_scene::{Layer, LayeredScene, noisy};
use common::lit_judged;
use common::lit_set::{LitSet, page};
use common::second_set::Both;
use plate_psnr::{light, psnr};
use platebench::engine::ports::NoWatch;
use platebench::geometry::Rect;
use platebench::imaging::basics::colour::curves::{linear_to_srgb, srgb_to_linear};
use platebench::pixels::convert::{coordinate, floor_i32, narrow, unit_to_u16};
use platebench::pixels::{Plane, Planes};
use platebench::session::build::BuildRequest;
use platebench::session::fuse_files::{BadFrames, FuseRequest, fuse_files};
use platebench::session::{Session, Settings};
use std::fs;
use std::io::{Cursor, Read};
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

/// Frames of the stack; their focus distances are evenly spread over the disparity.
const FRAMES: u16 = 10;
/// Blur radius that one frame step of focus adds, in pixels.
const STEP_PX: f32 = 1.3;

/// One file of the package.
fn packed(name: &str) -> Vec<u8> {
    let folder = std::env::var_os("PLATEBENCH_OPEN_DATA")
        .expect("PLATEBENCH_OPEN_DATA names the folder with the wheel");
    let wheel = fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .find(|path| {
            let name = path.file_name().unwrap().to_string_lossy();
            name.starts_with("scikit_image-") && name.ends_with(".whl")
        })
        .expect("the folder holds the wheel of scikit-image");
    let mut archive = zip::ZipArchive::new(fs::File::open(wheel).unwrap()).unwrap();
    let mut bytes = Vec::new();
    archive
        .by_name(&format!("skimage/data/{name}"))
        .unwrap()
        .read_to_end(&mut bytes)
        .unwrap();
    bytes
}

/// The disparity map in pixels; unknown places (7 %) take the farthest value known within 12 pixels along the row, as what is
/// hidden from one eye belongs to what lies behind.
fn disparity(rect: Rect) -> Plane {
    let mut archive = zip::ZipArchive::new(Cursor::new(packed("motorcycle_disp.npz"))).unwrap();
    let mut bytes = Vec::new();
    archive
        .by_name("arr_0.npy")
        .unwrap()
        .read_to_end(&mut bytes)
        .unwrap();
    let header = usize::from(u16::from_le_bytes([bytes[8], bytes[9]]));
    let words = String::from_utf8_lossy(&bytes[10..10 + header]).into_owned();
    assert!(
        words.contains("'<f4'") && words.contains("False") && words.contains("(500, 741)"),
        "{words}"
    );
    let raw = Plane {
        rect,
        data: bytes[10 + header..]
            .chunks_exact(4)
            .map(|four| f32::from_le_bytes(four.try_into().unwrap()))
            .collect(),
    };
    assert_eq!(raw.data.len(), rect.width() * rect.height());
    Plane::from_fn(rect, |x, y| {
        let known = |reach: i32| {
            (x - reach..=x + reach)
                .map(|x| raw.nearest(x, y))
                .filter(|value| value.is_finite())
                .fold(f32::MAX, f32::min)
        };
        [0, 12, 48, 800]
            .into_iter()
            .map(known)
            .find(|value| *value < f32::MAX)
            .unwrap_or(7.0)
    })
}

fn photograph(bytes: &[u8]) -> Planes {
    let picture = image::load_from_memory(bytes).unwrap().to_rgb8();
    let rect = Rect::new(
        0,
        0,
        i32::try_from(picture.width()).unwrap(),
        i32::try_from(picture.height()).unwrap(),
    );
    let mut out = Planes::zero(rect);
    for (index, pixel) in picture.pixels().enumerate() {
        out.set_pixel(
            index,
            pixel
                .0
                .map(|code| narrow(srgb_to_linear(f64::from(code) / 255.0))),
        );
    }
    out
}

/// For each pixel the nearest one along its row that is `own`; rows without any look at the rows above them, then below.
fn nearest_own(own: &Plane) -> Vec<usize> {
    let (width, height) = (own.rect.width(), own.rect.height());
    let row_of = |y: usize| -> Option<Vec<usize>> {
        let places: Vec<usize> = (y * width..(y + 1) * width)
            .filter(|at| own.data[*at] > 0.5)
            .collect();
        let nearest = |at: usize| {
            places
                .iter()
                .copied()
                .min_by_key(|place| place.abs_diff(at))
        };
        (y * width..(y + 1) * width).map(nearest).collect()
    };
    let mut rows: Vec<Option<Vec<usize>>> = (0..height).map(row_of).collect();
    for y in 1..height {
        if rows[y].is_none() {
            rows[y] = rows[y - 1].clone();
        }
    }
    for y in (0..height - 1).rev() {
        if rows[y].is_none() {
            rows[y] = rows[y + 1].clone();
        }
    }
    rows.into_iter().flatten().flatten().collect()
}

/// The photograph as sheets from far to near, one a focus step; each goes on behind what stands before it.
fn sheets() -> LayeredScene {
    let paint = photograph(&packed("motorcycle_left.png"));
    let rect = paint.rect();
    let near = disparity(rect);
    let last = f32::from(FRAMES - 1);
    // Frame 0 is focused on the nearest point.
    let depth = near.map(|value| last * (1.0 - (value - 7.0) / (60.0 - 7.0)).clamp(0.0, 1.0));
    let layers = (0..i32::from(FRAMES))
        .rev()
        .filter_map(|sheet| {
            let own = depth.map(|depth| f32::from(u8::from(floor_i32(depth + 0.5) == sheet)));
            if own.data.iter().all(|part| *part < 0.5) {
                return None;
            }
            let coverage = depth.map(|depth| f32::from(u8::from(floor_i32(depth + 0.5) <= sheet)));
            let from = nearest_own(&own);
            let taken = |plane: &Plane| Plane {
                rect,
                data: from.iter().map(|at| plane.data[*at]).collect(),
            };
            Some(Layer {
                colour: Planes {
                    rgb: paint.rgb.each_ref().map(taken),
                },
                coverage,
                depth: taken(&depth),
            })
        })
        .collect();
    LayeredScene { layers }
}

fn save(path: &Path, picture: &Planes) {
    let rect = picture.rect();
    let mut out = image::ImageBuffer::new(
        u32::try_from(rect.width()).unwrap(),
        u32::try_from(rect.height()).unwrap(),
    );
    for (index, pixel) in out.pixels_mut().enumerate() {
        *pixel =
            image::Rgb(picture.pixel(index).map(|light| {
                unit_to_u16(narrow(linear_to_srgb(f64::from(light.clamp(0.0, 1.0)))))
            }));
    }
    out.save(path).unwrap();
}

/// The stack and its truth as files, made once.
fn stack() -> &'static (tempfile::TempDir, Vec<PathBuf>, PathBuf) {
    static MADE: OnceLock<(tempfile::TempDir, Vec<PathBuf>, PathBuf)> = OnceLock::new();
    MADE.get_or_init(|| {
        let folder = tempfile::tempdir().unwrap();
        let scene = sheets();
        let truth = folder.path().join("truth.png");
        save(&truth, &scene.truth().0);
        let frames = (0..FRAMES)
            .map(|number| {
                let path = folder.path().join(format!("engine_{number:02}.png"));
                let picture = scene.render(f32::from(number), STEP_PX);
                save(&path, &noisy(&picture, u64::from(number), 20_000.0, 4.0));
                path
            })
            .collect();
        (folder, frames, truth)
    })
}

fn settings() -> Settings {
    Settings {
        scratch_bytes: 0,
        ..Settings::for_memory(4 << 30)
    }
}

#[test]
#[ignore = "needs the wheel named in PLATEBENCH_OPEN_DATA"]
fn a_stack_from_a_real_photograph_and_its_depth_is_fused() {
    let (folder, frames, truth) = stack();
    let request = FuseRequest {
        frames: frames.clone(),
        output: folder.path().join("fused.tif"),
        bits: None,
        depth_map: None,
        frame_map: None,
        reference: None,
        unveil: false,
        bad_frames: BadFrames::Refuse,
    };
    fuse_files(&request, &settings(), &NoWatch).unwrap();
    let truth = light(truth);
    let all = vec![true; truth.rgb[0].data.len()];
    let fused = psnr(&light(&request.output), &truth, &all);
    let best = frames
        .iter()
        .map(|frame| psnr(&light(frame), &truth, &all))
        .fold(0.0, f64::max);
    println!("fused {fused:.2} dB, best single frame {best:.2} dB");
    assert!(
        fused >= best + 5.0,
        "fused {fused:.2} dB, best single frame {best:.2} dB"
    );
}

#[test]
#[ignore = "needs the wheel named in PLATEBENCH_OPEN_DATA"]
fn a_project_typed_by_hand_builds() {
    let (folder, _, _) = stack();
    fs::write(folder.path().join("coffee.png"), packed("coffee.png")).unwrap();
    let project = folder.path().join("typed.platebench");
    fs::write(&project, include_str!("hand_made/typed.platebench")).unwrap();
    let output = folder.path().join("typed.png");
    let request = BuildRequest {
        output: output.clone(),
        level: 0,
        bits: None,
    };
    let mut session = Session::open(&project, &settings()).unwrap();
    session.build(&request, &NoWatch).unwrap();
    let (made, table) = (light(&output), light(&folder.path().join("coffee.png")));
    assert_eq!(made.rect(), table.rect());
    // The table's photo is left alone outside the engine, and covered by it in the middle.
    let near = |x: i32, y: i32| {
        let at = table.rect().index(x, y);
        made.pixel(at)
            .iter()
            .zip(table.pixel(at))
            .all(|(a, b)| (a - b).abs() < 0.004)
    };
    let same = |rect: Rect| {
        let places = (rect.y0..rect.y1).flat_map(|y| (rect.x0..rect.x1).map(move |x| (x, y)));
        let (mut count, mut equal) = (0, 0);
        for (x, y) in places {
            count += 1;
            equal += i32::from(near(x, y));
        }
        f64::from(equal) / f64::from(count)
    };
    let right = coordinate(table.rect().width());
    assert!(
        same(Rect::new(0, 0, right, 80)) > 0.999,
        "the table above the engine is left alone"
    );
    assert!(
        same(Rect::new(350, 180, 410, 240)) < 0.2,
        "the engine lies over the table"
    );
}

/// A photograph, mirrored at its borders until it fills the page.
fn mirrored(photo: &Planes) -> Planes {
    let rect = photo.rect();
    let fold = |at: i32, length: usize| {
        let length = i32::try_from(length).unwrap();
        let at = at.rem_euclid(2 * length);
        if at < length { at } else { 2 * length - 1 - at }
    };
    Planes {
        rgb: [0, 1, 2].map(|channel| {
            Plane::from_fn(page(), |x, y| {
                photo.rgb[channel].at(fold(x, rect.width()), fold(y, rect.height()))
            })
        }),
    }
}

/// The hull is a photograph of a machine, with all that real surfaces have; the three groups of practicals are drawn on it.
#[test]
#[ignore = "needs the package named in PLATEBENCH_OPEN_DATA"]
fn light_drawn_on_a_photograph_is_separated_to_the_noise() {
    let set = LitSet::on(mirrored(&photograph(&packed("motorcycle_left.png"))));
    for (name, shot, key_light) in &lit_judged::SHOTS {
        // The photograph has grain of its own, which the program takes for noise: it is more careful than it need be.
        let name = format!("photograph, {name}");
        let least = lit_judged::Least {
            pixels: 130_000,
            over_own_noise: 0.6,
        };
        lit_judged::run(&set, &name, (shot, *key_light), least);
    }
}

#[test]
#[ignore = "needs the package named in PLATEBENCH_OPEN_DATA"]
fn a_second_picture_makes_dust_on_photographs_certain() {
    let mut all = Both::default();
    for (name, seed) in [
        ("motorcycle_left.png", 98_301),
        ("coffee.png", 98_401),
        ("chelsea.png", 98_501),
    ] {
        let ground = photograph(&packed(name));
        let takes = Plane::filled(ground.rect(), 1.0);
        let mut both = Both::default();
        both.add(&ground, &takes, &[seed, seed + 10, seed + 20, seed + 30]);
        both.report(name);
        all.against.join(both.against);
        all.alone.join(both.alone);
    }
    let (recall, wrong) = all.report("photographs, two pictures");
    assert!(recall >= 0.70, "{recall}");
    assert!(
        wrong <= 0.02,
        "{wrong} of the finds are neither dust nor hair"
    );
}
