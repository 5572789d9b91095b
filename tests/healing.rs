//! Healed places against the truth: as noisy as what is round them, and nearer to the truth than a smooth fill on textured ground.

#[path = "common/disc_blur.rs"]
mod disc_blur;
#[path = "common/dust_set.rs"]
mod dust_set;
#[path = "common/layered_scene.rs"]
mod layered_scene;

use dust_set::{backdrop, hull, strew};
use layered_scene::frame_rect;
use platebench::geometry::Rect;
use platebench::imaging::basics::blur::gaussian;
use platebench::imaging::heal::{from_surroundings, membrane, needed};
use platebench::pixels::{Image, Plane, Planes};

const RADIUS_PX: i32 = 5;

fn crop(planes: &Planes, rect: Rect) -> Image {
    Image::from_fn(rect, |x, y| {
        let [r, g, b] = planes.pixel(planes.rect().index(x, y));
        [r, g, b, 1.0]
    })
}

fn hurt_at(rect: Rect, at: (i32, i32)) -> Plane {
    Plane::from_fn(rect, |x, y| {
        let (dx, dy) = (x - at.0, y - at.1);
        f32::from(u8::from(dx * dx + dy * dy <= RADIUS_PX * RADIUS_PX))
    })
}

/// Mean square of second differences: noise, whatever slow changes lie under it.
fn noise(image: &Image, counts: impl Fn(i32, i32) -> bool) -> (f64, f64) {
    let (mut sum, mut count) = (0.0, 0.0);
    let inner = image.rect.grow(-1);
    for y in inner.y0..inner.y1 {
        for x in inner.x0..inner.x1 {
            if counts(x, y) {
                let off = image.at(x - 1, y)[1] - 2.0 * image.at(x, y)[1] + image.at(x + 1, y)[1];
                sum += f64::from(off * off);
                count += 1.0;
            }
        }
    }
    (sum, count)
}

fn places() -> impl Iterator<Item = (i32, i32)> {
    (0..80).map(|at| (70 + 94 * (at % 10) + 3 * (at / 10), 60 + 75 * (at / 10)))
}

/// Heals every place of `seen`; gives the share of noise inside over outside, and the square errors of the fill and of a smooth one.
fn healed(seen: &Planes, clean: &Planes) -> (f64, f64, f64) {
    let (mut inside, mut outside) = ((0.0, 0.0), (0.0, 0.0));
    let (mut ours, mut smooth) = (0.0, 0.0);
    for (cx, cy) in places() {
        let spot = Rect::new(cx, cy, cx + 1, cy + 1).grow(RADIUS_PX);
        let rect = needed(spot, RADIUS_PX as f32).intersect(seen.rect());
        let (picture, truth) = (crop(seen, rect), crop(clean, rect));
        let hurt = hurt_at(rect, (cx, cy));
        let barred = vec![false; hurt.data.len()];
        let out = from_surroundings(&picture, &hurt, &barred, RADIUS_PX as f32);
        let far = |x: i32, y: i32| (x - cx) * (x - cx) + (y - cy) * (y - cy);
        let near = noise(&out, |x, y| far(x, y) <= (RADIUS_PX - 1) * (RADIUS_PX - 1));
        let round = noise(&out, |x, y| (49..=144).contains(&far(x, y)));
        inside = (inside.0 + near.0, inside.1 + near.1);
        outside = (outside.0 + round.0, outside.1 + round.1);
        let green = Plane {
            rect,
            data: picture.data.iter().map(|pixel| pixel[1]).collect(),
        };
        let known: Vec<bool> = hurt.data.iter().map(|hurt| *hurt < 0.5).collect();
        let drawn = membrane(&green, &known);
        for (at, known) in known.iter().enumerate() {
            if !known {
                let off = |value: f32| f64::from(value - truth.data[at][1]);
                ours += off(out.data[at][1]) * off(out.data[at][1]);
                smooth += off(drawn.data[at]) * off(drawn.data[at]);
            }
        }
    }
    let share = ((inside.0 / inside.1) / (outside.0 / outside.1)).sqrt();
    (share, ours, smooth)
}

#[test]
fn healed_places_on_a_backdrop_are_as_noisy_as_their_surroundings() {
    let (seen, clean, _) = strew(&backdrop(), (0, 0), 3);
    let (share, ..) = healed(&seen, &clean);
    assert!((share - 1.0).abs() < 0.1, "{share}");
}

#[test]
fn on_a_hull_too_and_structure_goes_on() {
    let (ground, ..) = hull(30);
    let (seen, clean, _) = strew(&ground, (0, 0), 3);
    let (share, ours, smooth) = healed(&seen, &clean);
    #[expect(clippy::print_stdout, reason = "says what was measured")]
    {
        let decibels = 10.0 * libm::log10(smooth / ours);
        println!(
            "hull: noise {share:.3} of the surroundings', {decibels:.2} dB over a smooth fill"
        );
    }
    assert!((share - 1.0).abs() < 0.1, "{share}");
}

/// Grounds with structure that a fill can carry on: a plated hull, slanted slats, a grating, planks.
fn textured() -> [(&'static str, Plane); 4] {
    let light = |holds: &dyn Fn(i32, i32) -> bool| {
        let plain = Plane::from_fn(frame_rect(), |x, y| {
            0.26 + 0.05 * x as f32 / 1080.0 - if holds(x, y) { 0.09 } else { 0.0 }
        });
        gaussian(&plain, 0.7)
    };
    let planks = |x: i32, y: i32| y % 17 < 2 || (x + 37 * (y / 17)) % 71 < 2;
    [
        ("hull", hull(7301).0),
        ("slats", light(&|x, y| (x + y / 5) % 13 < 6)),
        ("grating", light(&|x, y| x % 11 > 3 && y % 15 > 4)),
        ("planks", light(&planks)),
    ]
}

/// Error of square roots of green inside the healed places, in decibels below white.
fn psnr(seen: &Planes, clean: &Planes) -> f64 {
    let root = |light: f32| f64::from(light.max(0.0).sqrt());
    let (mut square, mut count) = (0.0, 0.0);
    for (cx, cy) in places() {
        let spot = Rect::new(cx, cy, cx + 1, cy + 1).grow(RADIUS_PX);
        let rect = needed(spot, RADIUS_PX as f32).intersect(seen.rect());
        let picture = crop(seen, rect);
        let hurt = hurt_at(rect, (cx, cy));
        let barred = vec![false; hurt.data.len()];
        let out = from_surroundings(&picture, &hurt, &barred, RADIUS_PX as f32);
        for y in spot.y0..spot.y1 {
            for x in spot.x0..spot.x1 {
                if hurt.at(x, y) > 0.5 {
                    let truth = clean.rgb[1].at(x, y);
                    let off = root(out.at(x, y)[1]) - root(truth);
                    square += off * off;
                    count += 1.0;
                }
            }
        }
    }
    10.0 * libm::log10(count / square)
}

/// What a general-purpose library makes of the same places: `tests/checks/inpainting.csv` has its figures and how they came.
#[test]
fn textured_places_come_nearer_to_the_truth_than_a_librarys_inpainting() {
    let table = include_str!("checks/inpainting.csv");
    let mut judged = 0;
    for (name, ground) in textured() {
        let (seen, clean, _) = strew(&ground, (0, 0), 3);
        let ours = psnr(&seen, &clean);
        let row = table.lines().find(|line| line.starts_with(name));
        let theirs: Vec<f64> = row
            .into_iter()
            .flat_map(|row| row.split(',').skip(1))
            .filter_map(|figure| figure.trim().parse().ok())
            .collect();
        #[expect(clippy::print_stdout, reason = "says what was measured")]
        {
            println!("{name}: {ours:.2} dB; the library's: {theirs:.2?} dB");
        }
        assert_eq!(theirs.len(), 2, "{name}: two figures");
        assert!(theirs.iter().all(|theirs| ours > *theirs), "{name}");
        judged += 1;
    }
    assert_eq!(judged, 4);
}

/// Writes the grounds of the test above (green, 32-bit floats, row by row) into the folder that `PLATEBENCH_HEAL_CASES` names.
#[test]
#[ignore = "writes the cases for another program"]
fn the_cases_are_written() {
    let folder = std::env::var_os("PLATEBENCH_HEAL_CASES");
    let folder = std::path::PathBuf::from(folder.unwrap_or_else(|| ".".into()));
    for (name, ground) in textured() {
        let (seen, ..) = strew(&ground, (0, 0), 3);
        let bytes: Vec<u8> = seen.rgb[1]
            .data
            .iter()
            .flat_map(|light| light.to_le_bytes())
            .collect();
        #[expect(clippy::disallowed_methods, reason = "a test writes its cases")]
        let written = std::fs::write(folder.join(format!("{name}.f32")), bytes);
        assert!(written.is_ok(), "{written:?}");
    }
}
