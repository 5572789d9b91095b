//! Separated light against known light: three groups on a simulated set, with movement, other exposure, noise and clipping, the key
//! light kept, dimmed and off.
#![expect(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "a failed step is a failed test, and the measured numbers are worth reading with --nocapture"
)]

mod common;

use common::layered_scene::{Backdrop, LayeredScene, STEP_PX, luma};
use common::lit_set::{LitSet, Shoot, Shot, page};
use platebench::engine::SeparatedLight;
use platebench::geometry::Rect;
use platebench::imaging::basics::blur::gaussian;
use platebench::pixels::convert::coordinate;
use platebench::pixels::{Plane, Planes};
use platebench::project::KeyLight;

const ALL: [usize; 3] = [0, 1, 2];

fn layered(backdrop: Backdrop) -> LitSet {
    LitSet::on(LayeredScene::new(4, backdrop).render(7.0, STEP_PX))
}

/// How far the light found is from the truth.
#[derive(Debug)]
struct Judged {
    /// Root mean square error over what the noise of the photos predicts.
    over_noise: f64,
    /// The same over what the program says of its noise.
    over_own_noise: f64,
    /// Mean error where the plate is darker than 2 %.
    mean_dark: f64,
    /// Mean error where no lamp reaches.
    mean_unlit: f64,
    /// Pixels judged, dark ones, unlit ones.
    pixels: [usize; 3],
}

fn judge(set: &LitSet, groups: &[usize], shot: &Shot, found: &SeparatedLight) -> Judged {
    let (truth, variance) = (set.light(groups), set.variance(groups, shot));
    let judged = set.judged(groups, shot);
    let plate = luma(&set.unlit);
    let (mut error, mut noise, mut own) = (0.0, 0.0, 0.0);
    let (mut dark, mut unlit) = ((0.0, 0), (0.0, 0));
    let mut pixels = 0;
    for at in (0..judged.len()).filter(|at| judged[*at]) {
        pixels += 1;
        let light = luma_of(truth.pixel(at));
        for channel in 0..3 {
            let off = f64::from(found.light.data[at][channel] - truth.rgb[channel].data[at]);
            error += off * off;
            noise += f64::from(variance.rgb[channel].data[at]);
            own += f64::from(found.noise.data[at][channel]);
            if plate.data[at] < 0.02 {
                dark.0 += off;
                dark.1 += 1;
            }
            if light < 1e-5 {
                unlit.0 += off;
                unlit.1 += 1;
            }
        }
    }
    let mean = |(sum, count): (f64, usize)| sum / f64::from(u32::try_from(count.max(1)).unwrap());
    Judged {
        over_noise: (error / noise).sqrt(),
        over_own_noise: (error / own).sqrt(),
        mean_dark: mean(dark),
        mean_unlit: mean(unlit),
        pixels: [pixels, dark.1, unlit.1],
    }
}

fn luma_of([r, g, b]: [f32; 3]) -> f32 {
    0.2627 * r + 0.6780 * g + 0.0593 * b
}

fn hold(name: &str, judged: &Judged) {
    println!("{name}: {judged:?}");
    assert!(judged.pixels[0] > 150_000, "{name}: enough is judged");
    assert!(
        (0.9..1.15).contains(&judged.over_noise),
        "{name}: {judged:?}"
    );
    assert!(
        (0.8..1.25).contains(&judged.over_own_noise),
        "{name}: {judged:?}"
    );
    assert!(judged.mean_dark.abs() < 2e-4, "{name}: {judged:?}");
    assert!(judged.mean_unlit.abs() < 1e-3, "{name}: {judged:?}");
}

const SHOTS: [(&str, Shot, KeyLight); 5] = [
    (
        "key kept, 0.3 px",
        shot(1.0, 1.0, (0.3, -0.1), 0.0, 11),
        KeyLight::Auto,
    ),
    (
        "key kept, 3 px, 1.3 stops less",
        shot(1.0, 0.4, (2.4, -1.8), 0.02, 12),
        KeyLight::Auto,
    ),
    (
        "key at 15 %, 1.3 px, 1 stop more",
        shot(0.15, 2.0, (1.1, 0.7), 0.02, 13),
        KeyLight::Auto,
    ),
    (
        "key at 40 %, 0.7 px",
        shot(0.4, 1.0, (-0.5, 0.5), -0.02, 14),
        KeyLight::Dimmed,
    ),
    (
        "key off, 1 px, 1 stop more",
        shot(0.0, 2.0, (0.8, 0.6), 0.02, 15),
        KeyLight::Auto,
    ),
];

const fn shot(key: f32, exposure: f32, shift: (f64, f64), turn_deg: f64, seed: u64) -> Shot {
    Shot {
        key,
        exposure,
        shift,
        turn_deg,
        seed,
    }
}

fn run(set: &LitSet, name: &str, shot: &Shot, key_light: KeyLight) {
    let lit = (set.lit_photo(&ALL, shot), Some(f64::from(shot.exposure)));
    let shoot = Shoot::new(&set.unlit_photo(1), &[lit], key_light);
    let frame = shoot.measured().frames[0].clone();
    println!("{name}: {frame:?}");
    let gain = f64::from(frame.exposure_gain * shot.exposure) - 1.0;
    assert!(gain.abs() < 3e-3, "{name}: exposure off by {gain}");
    for key in frame.key_rgb {
        let off = key - shot.key;
        assert!(off.abs() < 3e-3, "{name}: key {key} for {}", shot.key);
    }
    hold(name, &judge(set, &ALL, shot, &shoot.separated()));
}

#[test]
fn light_is_separated_to_the_noise_of_the_photos() {
    let set = layered(Backdrop::Black);
    for (name, shot, key_light) in &SHOTS {
        run(&set, name, shot, *key_light);
    }
}

#[test]
fn the_exposure_is_measured_where_the_camera_wrote_nothing_and_corrected_where_it_is_a_little_off()
{
    let set = layered(Backdrop::Grey);
    let shot = shot(1.0, 0.37, (0.6, 0.2), 0.01, 21);
    for written in [None, Some(0.4)] {
        let lit = (set.lit_photo(&ALL, &shot), written);
        let shoot = Shoot::new(&set.unlit_photo(2), &[lit], KeyLight::Auto);
        let gain = f64::from(shoot.measured().frames[0].exposure_gain * shot.exposure);
        assert!((gain - 1.0).abs() < 3e-3, "{written:?}: {gain}");
    }
}

/// A set of another kind: grain over patches of every brightness, as a photo of a finely painted hull has it.
fn painted() -> LitSet {
    let rect = page();
    let hash = |seed: u64, x: i32, y: i32| {
        platebench::imaging::basics::random::unit_f32(platebench::imaging::basics::random::bits_at(
            seed, x, y,
        ))
    };
    let plane = |channel: u64| {
        let patches = Plane::from_fn(rect, |x, y| {
            0.01 + 0.5 * hash(5, x / 60, y / 45) * hash(7 + channel, x / 240, y / 180)
        });
        let grain = gaussian(&Plane::from_fn(rect, |x, y| hash(9, x, y) - 0.5), 1.6);
        let mut out = gaussian(&patches, 1.0);
        for (value, grain) in out.data.iter_mut().zip(&grain.data) {
            *value *= 1.0 + 0.9 * grain;
        }
        out
    };
    LitSet::on(Planes {
        rgb: [plane(0), plane(1), plane(2)],
    })
}

#[test]
fn a_set_of_another_kind_confirms_it() {
    let set = painted();
    for (name, shot, key_light) in [&SHOTS[1], &SHOTS[2], &SHOTS[4]] {
        run(&set, &format!("painted, {name}"), shot, *key_light);
    }
}

#[test]
fn groups_shot_one_by_one_add_up_to_all() {
    let set = layered(Backdrop::Black);
    let mut sum = Planes::zero(page());
    for group in ALL {
        let shot = shot(
            1.0,
            1.0,
            (0.4, 0.3),
            0.01,
            30 + u64::try_from(group).unwrap(),
        );
        let lit = (set.lit_photo(&[group], &shot), Some(1.0));
        let shoot = Shoot::new(&set.unlit_photo(3), &[lit], KeyLight::Auto);
        let found = shoot.separated();
        let judged = judge(&set, &[group], &shot, &found);
        hold(&format!("group {group}"), &judged);
        for channel in 0..3 {
            for (sum, pixel) in sum.rgb[channel].data.iter_mut().zip(&found.light.data) {
                *sum += pixel[channel];
            }
        }
    }
    let judged = set.judged(&ALL, &shot(1.0, 1.0, (0.0, 0.0), 0.0, 0));
    let truth = set.light(&ALL);
    let (mut off, mut count) = (0.0, 0.0);
    for at in (0..judged.len()).filter(|at| judged[*at]) {
        off += f64::from(sum.rgb[1].data[at] - truth.rgb[1].data[at]);
        count += 1.0;
    }
    assert!(
        (off / count).abs() < 2e-4,
        "mean error of all {}",
        off / count
    );
}

#[test]
fn saturated_cores_are_marked_and_come_from_a_shorter_exposure() {
    let set = layered(Backdrop::Black);
    let long = shot(1.0, 1.0, (0.4, 0.3), 0.01, 41);
    let short = shot(1.0, 1.0 / 16.0, (0.2, 0.5), 0.01, 42);
    let truth = set.light(&ALL);
    // The engine's core; the running lights are as small as a pixel's own blur.
    let engine = Rect::new(860, 230, 900, 270);
    let core: Vec<usize> = (0..page().area())
        .filter(|at| {
            let (x, y) = (
                coordinate(at % page().width()),
                coordinate(at / page().width()),
            );
            let most = truth.pixel(*at).into_iter().fold(0.0, f32::max);
            engine.contains(x, y) && most > 1.3
        })
        .collect();
    assert!(core.len() > 40, "{} pixels", core.len());
    let photo = |shot: &Shot| (set.lit_photo(&ALL, shot), Some(f64::from(shot.exposure)));
    let alone = Shoot::new(&set.unlit_photo(4), &[photo(&long)], KeyLight::Auto).separated();
    let both = [photo(&long), photo(&short)];
    let joined = Shoot::new(&set.unlit_photo(4), &both, KeyLight::Auto).separated();
    let (mut lost, mut found) = (0.0_f64, 0.0_f64);
    for at in core {
        assert!(alone.noise.data[at][3] > 0.99, "marked as 'at least'");
        assert!(joined.noise.data[at][3] < 0.5, "known now");
        let most = |rgb: [f32; 3]| f64::from(rgb.into_iter().fold(0.0, f32::max));
        let rgb = |pixel: [f32; 4]| [pixel[0], pixel[1], pixel[2]];
        let wanted = most(truth.pixel(at));
        lost = lost.max(1.0 - most(rgb(alone.light.data[at])) / wanted);
        found = found.max((most(rgb(joined.light.data[at])) / wanted - 1.0).abs());
    }
    println!("cores: {lost:.2} short with one exposure, {found:.3} off with two");
    assert!(lost > 0.3, "clipped without the shorter one: {lost}");
    assert!(found < 0.12, "recovered with it: {found}");
}
