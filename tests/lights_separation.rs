//! Separated light against known light: three groups on a simulated set, with movement, other exposure, noise and clipping, the key
//! light kept, dimmed and off.
#![expect(
    clippy::print_stdout,
    reason = "a failed step is a failed test, and the measured numbers are worth reading with --nocapture"
)]

mod common;

use common::layered_scene::{Backdrop, LayeredScene, STEP_PX};
use common::lit_judged::{ALL, CLEAN, SHOTS, hold, judge, run, shot};
use common::lit_set::{LitSet, Shoot, Shot, page};
use platebench::geometry::Rect;
use platebench::imaging::basics::blur::gaussian;
use platebench::pixels::convert::coordinate;
use platebench::pixels::{Plane, Planes};
use platebench::project::KeyLight;

fn layered(backdrop: Backdrop) -> LitSet {
    LitSet::on(LayeredScene::new(4, backdrop).render(7.0, STEP_PX))
}

#[test]
fn light_is_separated_to_the_noise_of_the_photos() {
    let set = layered(Backdrop::Black);
    for (name, shot, key_light) in &SHOTS {
        run(&set, name, (shot, *key_light), CLEAN);
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
        run(&set, &format!("painted, {name}"), (shot, *key_light), CLEAN);
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
        hold(&format!("group {group}"), &judged, CLEAN);
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
