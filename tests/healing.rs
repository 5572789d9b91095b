//! Healed places against the truth: as noisy as what is round them, and nearer to the truth than a smooth fill on textured ground.

#[path = "common/disc_blur.rs"]
mod disc_blur;
#[path = "common/dust_set.rs"]
mod dust_set;
#[path = "common/layered_scene.rs"]
mod layered_scene;

use dust_set::{backdrop, hull, strew};
use platebench::geometry::Rect;
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
