//! Mattes against exact coverage: two backdrop levels, one picture before grey, black and green, with a clean plate and without.

#[path = "common/disc_blur.rs"]
mod disc_blur;
#[path = "common/layered_scene.rs"]
mod layered_scene;
#[path = "common/matte_scene.rs"]
mod matte_scene;

use layered_scene::{HEIGHT, frame_rect};
use matte_scene::{MatteScene, four_photos, photo, ramp, scene};
use platebench::imaging::matte::{
    Levels, Plain, backdrop_of, before_backdrop, cut, quiet_backdrop, two_backdrops,
};
use platebench::pixels::{Plane, Planes};

const OPEN: Levels = Levels {
    low: 0.0,
    high: 1.0,
    clean_px: 0.0,
};

fn both_levels(scene: &MatteScene, levels: [f32; 2]) -> Plane {
    let [bright, dark] = levels.map(ramp);
    let seen = [
        photo(&scene.before(&bright), 11),
        photo(&scene.before(&dark), 12),
    ];
    let bare = [
        quiet_backdrop(&photo(&bright, 13)),
        quiet_backdrop(&photo(&dark, 14)),
    ];
    two_backdrops([&seen[0], &bare[0]], [&seen[1], &bare[1]], &OPEN)
}

/// 4 pixels either way of the true edge are left open; what is beyond is known.
fn drawn_band(scene: &MatteScene) -> Plane {
    let truth = &scene.coverage;
    let near = |x: i32, y: i32, holds: &dyn Fn(f32) -> bool| {
        (-4..=4).all(|v| (-4..=4).all(|u| holds(truth.nearest(x + u, y + v))))
    };
    Plane::from_fn(frame_rect(), |x, y| {
        if near(x, y, &|cover| cover > 0.99) {
            1.0
        } else if near(x, y, &|cover| cover <= 0.01) {
            0.0
        } else {
            0.5
        }
    })
}

#[test]
fn two_backdrop_levels_give_the_coverage_whatever_the_model_looks_like() {
    let scene = scene([0.3; 3], 0.0);
    for (levels, square, edge) in [
        ([0.6, 0.004], 0.05e-3, 0.01),
        ([0.35, 0.05], 0.08e-3, 0.015),
    ] {
        let (found_square, found_edge) = scene.errors(&both_levels(&scene, levels));
        assert!(
            found_square < square && found_edge < edge,
            "{levels:?}: {found_square:.2e} {found_edge:.4}"
        );
    }
}

#[test]
fn the_edge_colour_of_two_levels_holds_nothing_of_the_backdrop() {
    let scene = scene([0.3; 3], 0.0);
    let [bright, dark] = [0.6, 0.004].map(ramp);
    let coverage = both_levels(&scene, [0.6, 0.004]);
    let quiet = [&bright, &dark].map(|level| quiet_backdrop(&photo(level, 15)));
    // Cut from the bright photo, where every fault of the edge would shine.
    let free = cut(&photo(&scene.before(&bright), 11), &quiet[0], &coverage);
    let (mut off, mut count) = (0.0, 0.0);
    for (at, truth) in scene.coverage.data.iter().enumerate() {
        if (0.02..=0.98).contains(truth) {
            off += f64::from(free.data[at][1] - scene.model.pixel(at)[1]);
            count += 1.0;
        }
    }
    let mean: f64 = off / count;
    assert!(mean.abs() < 2e-3, "light left over at the edge: {mean:.4}");
}

/// One picture, with a clean plate and without: mean square error and edge error of each.
fn one_picture(scene: &MatteScene, band: Option<&Plane>) -> [(f64, f64); 2] {
    let seen = photo(&scene.seen, 21);
    let clean = quiet_backdrop(&four_photos(&scene.backdrop, 22));
    let guessed = backdrop_of(&seen);
    let errors = |backdrop: &Planes, band: Option<&Plane>| {
        scene.errors(&before_backdrop(&seen, backdrop, band, &Plain::default()))
    };
    [errors(&clean, band), errors(&guessed, None)]
}

fn judged(what: &str, found: [(f64, f64); 2], (square, edge): (f64, f64)) {
    let [with, without] = found;
    #[expect(clippy::print_stdout, reason = "says what was measured")]
    {
        println!(
            "{what}: with {:.3e} {:.3}, without {:.3e} {:.3}",
            with.0, with.1, without.0, without.1
        );
    }
    assert!(with.0 < square && with.1 < edge, "{what}: {with:?}");
    assert!(
        without.0 < 1.5 * square && without.1 < 1.5 * edge,
        "{what}, no clean plate or band: {without:?}"
    );
}

#[test]
fn grey_with_and_without_a_clean_plate() {
    let scene = scene([0.3; 3], 0.05);
    judged("grey", one_picture(&scene, None), (1.4e-3, 0.21));
}

#[test]
fn black_with_and_without_a_drawn_band() {
    let scene = scene([0.004; 3], 0.0);
    let band = drawn_band(&scene);
    judged("black", one_picture(&scene, Some(&band)), (1.9e-3, 0.20));
}

#[test]
fn green_with_and_without_a_clean_plate() {
    let scene = scene([0.10, 0.35, 0.08], 0.15);
    judged("green", one_picture(&scene, None), (1.7e-3, 0.045));
}

#[test]
fn the_backdrop_behind_the_model_is_found_from_the_border() {
    let scene = scene([0.3; 3], 0.05);
    let found = backdrop_of(&photo(&scene.seen, 31));
    let mut worst = 0.0_f32;
    for y in (0..HEIGHT).step_by(9) {
        for (found, truth) in found.rgb[1].row(y).iter().zip(scene.backdrop.rgb[1].row(y)) {
            worst = worst.max((found / truth - 1.0).abs());
        }
    }
    assert!(worst < 0.01, "off by {worst}");
}
