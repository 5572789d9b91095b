//! Registration against exact truth: frames of a layered scene at different focus, passes in another light, perspectives.
//! The published limits are those of the reference experiments: 0.05 px between neighbours, 0.1 px closure.
#![expect(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::disallowed_methods,
    clippy::print_stdout,
    reason = "a failed step is a failed test, and the measured numbers are worth reading with --nocapture"
)]

mod common;

use common::layered_scene::{
    Backdrop, Dice, HEIGHT, LayeredScene, STEP_PX, WIDTH, grid_error, luma, noisy, warped,
};
use platebench::files::{Limits, photo};
use platebench::geometry::{Point, Rect, Similarity, Size, Transform};
use platebench::imaging::basics::blur::gaussian;
use platebench::imaging::basics::colour::srgb_to_linear;
use platebench::imaging::match_colour::{BlockMeans, Certainty, gains, key_light};
use platebench::imaging::register::{
    Found, Light, Link, Prepared, link_error_px, perspective, rigid, similarity, solve_links,
};
use platebench::pixels::convert::narrow;
use platebench::pixels::{Numbers, Plane, Planes};
use std::path::Path;
use std::sync::OnceLock;

const SATURATION: f32 = 0.98;
const FULL_WELL: f64 = 20_000.0;
const READ: f64 = 4.0;
const STILL: Similarity = Similarity {
    log_scale: 0.0,
    angle_rad: 0.0,
    shift: Point { x: 0.0, y: 0.0 },
};

/// Noiseless frames focused at 5, 6, 7 and 8.
fn focused(frame: usize) -> &'static Planes {
    static FRAMES: OnceLock<Vec<Planes>> = OnceLock::new();
    let frames = FRAMES.get_or_init(|| {
        let scene = LayeredScene::new(0, Backdrop::Grey);
        [5.0, 6.0, 7.0, 8.0]
            .map(|focus| scene.render(focus, STEP_PX))
            .to_vec()
    });
    &frames[frame - 5]
}

fn centre() -> Point {
    Point::new(f64::from(WIDTH) * 0.5, f64::from(HEIGHT) * 0.5)
}

fn size() -> Size {
    Size::new(
        u32::try_from(WIDTH).unwrap(),
        u32::try_from(HEIGHT).unwrap(),
    )
}

fn motion(scale: f64, angle_rad: f64, x: f64, y: f64) -> Transform {
    let values = Similarity {
        log_scale: libm::log(scale),
        angle_rad,
        shift: Point::new(x, y),
    };
    Transform::similarity(values, centre())
}

fn prepared(picture: &Planes, light: Light) -> Prepared {
    Prepared::new(&luma(picture), light, SATURATION)
}

fn found(reference: &Prepared, moved: &Prepared) -> Found {
    similarity(reference, moved, STILL).expect("a motion")
}

/// Frame `focus` seen through `frame_from_reference`, with noise.
fn photo(focus: usize, frame_from_reference: &Transform, seed: u64) -> Planes {
    noisy(
        &warped(focused(focus), frame_from_reference),
        seed,
        FULL_WELL,
        READ,
    )
}

#[test]
fn neighbours_and_frames_two_apart_are_found() {
    // Limits from the reference experiment: 0.026 and 0.053 px with the best estimator; 0.05 is the published goal.
    for (i, j, limit) in [(6, 7, 0.03), (6, 8, 0.053)] {
        let gap = f64::from(u32::try_from(j - i).unwrap());
        let frame_from_reference = motion(1.0 + 0.004 * gap, 0.0010, 1.37, -2.21);
        let first = noisy(focused(i), 3, FULL_WELL, READ);
        let second = photo(j, &frame_from_reference, 4);
        let found = found(
            &prepared(&first, Light::Same),
            &prepared(&second, Light::Same),
        );
        let truth = frame_from_reference.inverse().unwrap();
        let (rms, worst) = grid_error(&found.reference_from_moved, &truth);
        println!(
            "{i} {j}: rms {rms:.4} worst {worst:.4} residual {}",
            found.residual_px
        );
        assert!(rms < limit, "{i} to {j}: {rms} px rms, {worst} worst");
        assert!(
            found.residual_px < 0.3 && found.correlation > 0.99,
            "{found:?}"
        );
    }
}

#[test]
fn a_jittered_stack_closes_and_its_links_agree() {
    let mut dice = Dice::new(9);
    let truth: Vec<Transform> = (0..4)
        .map(|k| {
            let scale = 1.0 + 0.004 * (f64::from(k) - 1.0);
            motion(
                scale,
                2e-4 * dice.normal(),
                0.5 * dice.normal(),
                0.5 * dice.normal(),
            )
        })
        .collect();
    let frames: Vec<Prepared> = (0..4)
        .map(|k| {
            prepared(
                &photo(5 + k, &truth[k], 20 + u64::try_from(k).unwrap()),
                Light::Same,
            )
        })
        .collect();
    let link = |to: usize, from: usize, weight| Link {
        from,
        to,
        similarity: found(&frames[to], &frames[from]).similarity,
        weight,
    };
    let near = [link(0, 1, 1.0), link(1, 2, 1.0), link(2, 3, 1.0)];
    let skip = [link(0, 2, 0.5), link(1, 3, 0.5)];
    let as_transform = |link: &Link| Transform::similarity(link.similarity, centre());
    let mut errors = Vec::new();
    for one in &near {
        let wanted = truth[one.to].after(&truth[one.from].inverse().unwrap());
        errors.push(grid_error(&as_transform(one), &wanted).0);
    }
    let chained = as_transform(&near[0]).after(&as_transform(&near[1]));
    let (closure, _) = grid_error(&chained, &as_transform(&skip[0]));
    let solved = solve_links(4, 1, &[near.as_slice(), skip.as_slice()].concat());
    println!("links {errors:.4?} closure {closure:.4}");
    assert!(errors.iter().all(|error| *error < 0.05), "{errors:?}");
    assert!(closure < 0.1, "closure {closure}");
    for one in near.iter().chain(&skip) {
        assert!(link_error_px(&solved, one, size()) < 0.1);
    }
}

/// All sixteen frames of another scene with the motion of a tripod that gives way: every link between neighbours.
#[test]
fn every_link_of_a_whole_stack_is_found() {
    let scene = LayeredScene::new(70, Backdrop::Grey);
    let mut dice = Dice::new(31);
    let mut truth = Vec::new();
    let mut frames = Vec::new();
    for k in 0..16_u8 {
        let moved = motion(
            1.0 + 0.004 * (f64::from(k) - 7.0),
            2e-4 * dice.normal(),
            0.5 * dice.normal(),
            0.5 * dice.normal(),
        );
        let seen = warped(&scene.render(f32::from(k), STEP_PX), &moved);
        let seen = noisy(&seen, 300 + u64::from(k), FULL_WELL, READ);
        frames.push(prepared(&seen, Light::Same));
        truth.push(moved);
    }
    let mut errors = Vec::new();
    for to in 0..15 {
        let found = found(&frames[to], &frames[to + 1]);
        let wanted = truth[to].after(&truth[to + 1].inverse().unwrap());
        errors.push(grid_error(&found.reference_from_moved, &wanted).0);
    }
    let mean = errors.iter().sum::<f64>() / 15.0;
    println!("links {errors:.4?} mean {mean:.4}");
    assert!(mean <= 0.03, "mean {mean}");
    assert!(errors.iter().all(|error| *error <= 0.05), "{errors:?}");
}

#[test]
fn identical_frames_do_not_move() {
    let frame = noisy(focused(6), 3, FULL_WELL, READ);
    for light in [Light::Same, Light::Other] {
        let prepared = prepared(&frame, light);
        let found = found(&prepared, &prepared);
        let (_, worst) = grid_error(&found.reference_from_moved, &Transform::IDENTITY);
        assert!(worst < 1e-3, "{light:?}: {worst}");
        assert!(found.similarity.log_scale.abs() < 1e-7, "{found:?}");
        assert!(found.residual_px < 1e-3, "{found:?}");
    }
}

#[test]
fn the_number_of_threads_does_not_change_a_bit() {
    let first = noisy(focused(6), 3, FULL_WELL, READ);
    let second = photo(7, &motion(1.004, 0.001, 1.37, -2.21), 4);
    let with = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .unwrap();
        pool.install(|| {
            let [a, b] = [&first, &second].map(|picture| prepared(picture, Light::Other));
            found(&a, &b)
        })
    };
    assert_eq!(with(1), with(3));
}

#[test]
fn doubling_about_the_centre_leaves_the_centre() {
    // The same smooth pattern sampled at two scales, so the truth does not pass through a resampler.
    let rect = Rect::new(0, 0, 640, 480);
    let pattern = |x: f64, y: f64| {
        let mut sum = 0.5;
        for (k, size) in (1..9).map(|k| (f64::from(k), 0.05)) {
            sum += size * libm::sin(0.011 * k * x + 0.7 * k * k) * libm::cos(0.013 * k * y + k);
        }
        narrow(sum)
    };
    let at = |scale: f64| {
        Plane::from_fn(rect, |x, y| {
            let (x, y) = (f64::from(x) + 0.5 - 320.0, f64::from(y) + 0.5 - 240.0);
            pattern(x * scale, y * scale)
        })
    };
    let reference = Prepared::new(&at(2.0), Light::Same, 9.0);
    let moved = Prepared::new(&at(1.0), Light::Same, 9.0);
    let start = Similarity {
        log_scale: -libm::log(1.9),
        ..STILL
    };
    let found = similarity(&reference, &moved, start).unwrap();
    let middle = Point::new(320.0, 240.0);
    assert!(
        found.similarity.shift.distance(Point::default()) < 0.02,
        "{found:?}"
    );
    assert!(
        (found.similarity.log_scale + libm::log(2.0)).abs() < 1e-3,
        "{found:?}"
    );
    assert!(found.reference_from_moved.apply(middle).distance(middle) < 0.02);
}

/// The model of the light-pass experiment: the key at `key`, 26 lamps with glow and spill.
fn lamps_on(key: f32) -> Planes {
    let unlit = focused(6);
    let mut out = Planes {
        rgb: unlit
            .rgb
            .clone()
            .map(|plane| plane.map(|value| value * key)),
    };
    let mut dice = Dice::new(4);
    for _ in 0..26 {
        let (cx, cy) = (dice.whole(60, WIDTH - 60), dice.whole(60, HEIGHT - 60));
        let colour = [dice.unit(), dice.unit(), dice.unit()].map(|u| narrow(0.5 + 0.5 * u));
        let radius = narrow(2.0 + 5.0 * dice.unit());
        let window = Rect::new(cx - 220, cy - 220, cx + 220, cy + 220);
        let lamp = Plane::from_fn(window, |x, y| {
            let (dx, dy) = ((x - cx) as f32, (y - cy) as f32);
            (radius + 0.5 - (dx * dx + dy * dy).sqrt()).clamp(0.0, 1.0)
        });
        let wide = gaussian(&lamp, 40.0);
        let peak = wide.data.iter().copied().fold(0.0, f32::max);
        let glows = [(3.0, 0.6), (14.0, 3.0), (60.0, 10.0)].map(|(s, k)| (gaussian(&lamp, s), k));
        for y in window.y0.max(0)..window.y1.min(HEIGHT) {
            for x in window.x0.max(0)..window.x1.min(WIDTH) {
                let index = out.rect().index(x, y);
                let glow: f32 = glows.iter().map(|(plane, k)| plane.at(x, y) * k).sum();
                let (mut lit, plain) = (out.pixel(index), unlit.pixel(index));
                for channel in 0..3 {
                    let spill = 0.6 * wide.at(x, y) / peak * plain[channel];
                    lit[channel] += (lamp.at(x, y) * 2.5 + glow * 0.5 + spill) * colour[channel];
                }
                out.set_pixel(index, lit);
            }
        }
    }
    out
}

fn clipped(picture: &Planes) -> Planes {
    Planes {
        rgb: picture
            .rgb
            .clone()
            .map(|plane| plane.map(|value| value.clamp(0.0, 1.0))),
    }
}

#[test]
fn a_light_pass_is_found_with_the_key_kept_dimmed_and_off() {
    let frame_from_reference = motion(1.0004, 3e-4, 0.83, -0.61);
    let truth = frame_from_reference.inverse().unwrap();
    let unlit = prepared(&noisy(focused(6), 31, FULL_WELL, READ), Light::Other);
    for (key, limit) in [(1.0, 0.03), (0.15, 0.05), (0.0, 0.15)] {
        let lit = warped(&lamps_on(key), &frame_from_reference);
        let lit = clipped(&noisy(&lit, 32, FULL_WELL, READ));
        let found = found(&unlit, &prepared(&lit, Light::Other));
        let (rms, _) = grid_error(&found.reference_from_moved, &truth);
        println!(
            "key {key}: rms {rms:.4} correlation {} residual {}",
            found.correlation, found.residual_px
        );
        assert!(rms < limit, "key at {key}: {rms} px rms, {found:?}");
    }
}

/// A photo of the demo's barge as encoded numbers 0..=1, red, green and blue.
fn demo_photo(path: &str) -> (Rect, Vec<[f32; 3]>) {
    let scene = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo_scenes/ice_shift");
    let samples = photo::open(&scene.join(path), &Limits::default())
        .unwrap()
        .samples;
    let Numbers::U8(codes) = &samples.numbers else {
        panic!("the demo's photos have 8 bits");
    };
    let pixels = codes.chunks_exact(samples.channels);
    let pixels = pixels.map(|pixel| [0, 1, 2].map(|at| f32::from(pixel[at]) / 255.0));
    (samples.size.rect(), pixels.collect())
}

fn demo_luma(path: &str) -> Plane {
    let (rect, pixels) = demo_photo(path);
    let light = |value: f32| narrow(srgb_to_linear(f64::from(value)));
    let luma = |[red, green, blue]: [f32; 3]| {
        0.2126 * light(red) + 0.7152 * light(green) + 0.0722 * light(blue)
    };
    Plane {
        rect,
        data: pixels.into_iter().map(luma).collect(),
    }
}

/// What the simulation of the demo knows of a frame: reference position to frame position.
fn demo_truth(name: &str) -> Transform {
    let path =
        Path::new(env!("CARGO_MANIFEST_DIR")).join("demo_scenes/ice_shift/truth/barge/truth.json");
    let truth: serde_json::Value =
        serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
    let frames = truth["frames"].as_array().unwrap();
    let frame = frames
        .iter()
        .find(|frame| frame["file"].as_str().unwrap().ends_with(name))
        .unwrap();
    let number = |row: usize, column: usize| frame["matrix"][row][column].as_f64().unwrap();
    Transform {
        rows: [0, 1, 2].map(|row| [0, 1, 2].map(|column| number(row, column))),
    }
}

/// The furnace doors of the demo's barge, everything else dark, against the same focus under the set's light: where they shine, their
/// light lies within half a pixel of the truth of the simulation.
#[test]
fn lamps_alone_in_a_large_picture_are_found_where_they_shine() {
    let (rect, shine) = demo_photo("truth/barge/furnace.jpg");
    let lit_places: Vec<Point> = (rect.y0..rect.y1)
        .flat_map(|y| (rect.x0..rect.x1).map(move |x| (x, y)))
        .filter(|(x, y)| shine[rect.index(*x, *y)].iter().any(|value| *value > 0.25))
        .map(|(x, y)| Point::new(f64::from(x) + 0.5, f64::from(y) + 0.5))
        .collect();
    assert!(lit_places.len() > 10_000, "{} places", lit_places.len());
    for (unlit, lit) in [(3, 2), (9, 5)] {
        let (unlit, lit) = (
            format!("barge_unlit_{unlit:02}.jpg"),
            format!("barge_furnace_{lit:02}.jpg"),
        );
        let [a, b] = [&unlit, &lit].map(|name| {
            let luma = demo_luma(&format!("scene/photos/barge/{name}"));
            Prepared::new(&luma, Light::Other, SATURATION)
        });
        let found = rigid(&a, &b, STILL).unwrap();
        let (unlit, lit) = (demo_truth(&unlit), demo_truth(&lit));
        let squares = lit_places.iter().map(|place| {
            let found = found.reference_from_moved.apply(lit.apply(*place));
            let off = found.distance(unlit.apply(*place));
            off * off
        });
        let count = f64::from(u32::try_from(lit_places.len()).unwrap());
        let rms = (squares.sum::<f64>() / count).sqrt();
        println!(
            "rms {rms:.3} px where it shines, residual {}",
            found.residual_px
        );
        assert!(rms < 0.5, "{rms} px");
    }
}

#[test]
fn gains_read_true_across_a_change_of_focus() {
    let frame_from_reference = motion(1.004, 0.001, 1.37, -2.21);
    let first = noisy(focused(6), 3, FULL_WELL, READ);
    let mut second = photo(7, &frame_from_reference, 4);
    let given = [1.005, 1.01, 0.99];
    for (plane, gain) in second.rgb.iter_mut().zip(given) {
        plane.data.iter_mut().for_each(|value| *value *= gain);
    }
    let back = frame_from_reference.inverse().unwrap();
    let reference = BlockMeans::new(&first, &Transform::IDENTITY, size(), SATURATION);
    let frame = BlockMeans::new(&second, &back, size(), SATURATION);
    let matched = gains(&reference, &frame);
    println!("{matched:?}");
    for (found, wanted) in matched.gain_rgb.iter().zip(given) {
        assert!((found - wanted).abs() < 1e-3, "{matched:?}");
    }
    assert_eq!(matched.offset_rgb, [0.0; 3]);
}

#[test]
fn the_key_is_read_in_a_lit_pass() {
    let unlit = noisy(focused(6), 3, FULL_WELL, READ);
    let blocks =
        |picture: &Planes| BlockMeans::new(picture, &Transform::IDENTITY, size(), SATURATION);
    let unlit = blocks(&unlit);
    let off = key_light(&unlit, &blocks(&clipped(&lamps_on(0.0))), 1e-3);
    let kept = key_light(&unlit, &blocks(&clipped(&lamps_on(1.0))), 1e-3);
    println!("{off:?} {kept:?}");
    assert_eq!(kept.off, Certainty::No);
    assert!(
        kept.gain_rgb.iter().all(|gain| (gain - 1.0).abs() < 3e-3),
        "{kept:?}"
    );
    assert_ne!(off.off, Certainty::No, "{off:?}");
    assert_eq!(off.gain_rgb, [0.0; 3]);
}

#[test]
fn a_bumped_camera_is_found_as_a_perspective() {
    let from = Rect::new(0, 0, WIDTH, HEIGHT).corners();
    let turned = motion(1.03, 0.03, 24.0, -17.0);
    let nudges = [(3.0, -2.0), (-4.0, 5.0), (2.0, 3.0), (-3.0, -4.0)];
    let mut to = from;
    for ((target, corner), (dx, dy)) in to.iter_mut().zip(&from).zip(nudges) {
        let moved = turned.apply(*corner);
        *target = Point::new(moved.x + dx, moved.y + dy);
    }
    let frame_from_reference = Transform::from_corners(from, to).unwrap();
    let first = noisy(focused(6), 3, FULL_WELL, READ);
    let second = photo(6, &frame_from_reference, 4);
    let truth = frame_from_reference.inverse().unwrap();
    for light in [Light::Same, Light::Other] {
        let found = perspective(
            &prepared(&first, light),
            &prepared(&second, light),
            Transform::IDENTITY,
        )
        .expect("a perspective");
        let (rms, worst) = grid_error(&found.reference_from_moved, &truth);
        println!("perspective {light:?}: rms {rms:.4} worst {worst:.4} {found:?}");
        assert!(rms < 0.1, "{light:?}: {rms} px rms, {worst} worst");
    }
}

#[test]
fn strangers_are_not_matched() {
    let mut dice = Dice::new(1);
    let mut noise = || {
        Plane::from_fn(Rect::new(0, 0, 300, 300), |_, _| {
            narrow(0.5 + 0.1 * dice.normal())
        })
    };
    let (one, other) = (noise(), noise());
    let [one, other] = [one, other].map(|plane| Prepared::new(&plane, Light::Same, 9.0));
    assert!(perspective(&one, &other, Transform::IDENTITY).is_none());
    let nothing = Prepared::new(&Plane::zero(Rect::default()), Light::Same, 1.0);
    assert!(similarity(&nothing, &one, STILL).is_none());
}
