//! Holds separated light to the light that was really there: error over noise, mean errors, exposure and key light.
#![allow(
    dead_code,
    unreachable_pub,
    clippy::unwrap_used,
    clippy::print_stdout,
    clippy::allow_attributes,
    reason = "shared by several test binaries, each of which uses its own part; the measured numbers are worth reading"
)]

use super::layered_scene::luma;
use super::lit_set::{LitSet, Shoot, Shot};
use platebench::engine::SeparatedLight;
use platebench::project::KeyLight;

/// All three groups of a [`LitSet`].
pub const ALL: [usize; 3] = [0, 1, 2];

/// How far the light found is from the truth.
#[derive(Debug)]
pub struct Judged {
    /// Root mean square error over what the noise of the photos predicts.
    pub over_noise: f64,
    /// The same over what the program says of its noise.
    pub over_own_noise: f64,
    /// Mean error where the plate is darker than 2 %.
    pub mean_dark: f64,
    /// Mean error where no lamp reaches.
    pub mean_unlit: f64,
    /// Pixels judged, dark ones, unlit ones.
    pub pixels: [usize; 3],
}

/// Judges what was found.
pub fn judge(set: &LitSet, groups: &[usize], shot: &Shot, found: &SeparatedLight) -> Judged {
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

/// What must hold of every separation, and no less than `least`.
pub fn hold(name: &str, judged: &Judged, least: Least) {
    println!("{name}: {judged:?}");
    assert!(judged.pixels[0] > least.pixels, "{name}: enough is judged");
    assert!(
        (0.9..1.15).contains(&judged.over_noise),
        "{name}: {judged:?}"
    );
    assert!(
        (least.over_own_noise..1.25).contains(&judged.over_own_noise),
        "{name}: {judged:?}"
    );
    assert!(judged.mean_dark.abs() < 2e-4, "{name}: {judged:?}");
    assert!(judged.mean_unlit.abs() < 1e-3, "{name}: {judged:?}");
}

/// What a separation must at least show to be judged.
#[derive(Debug, Clone, Copy)]
pub struct Least {
    /// Pixels that are judged.
    pub pixels: usize,
    /// Error over what the program says of its own noise.
    pub over_own_noise: f64,
}

/// For scenes without grain of their own.
pub const CLEAN: Least = Least {
    pixels: 150_000,
    over_own_noise: 0.8,
};

/// Ways in which lit photos are taken.
pub const SHOTS: [(&str, Shot, KeyLight); 5] = [
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

/// One of them.
pub const fn shot(key: f32, exposure: f32, shift: (f64, f64), turn_deg: f64, seed: u64) -> Shot {
    Shot {
        key,
        exposure,
        shift,
        turn_deg,
        seed,
    }
}

/// Takes the photos, separates the light, and holds it to the truth.
pub fn run(set: &LitSet, name: &str, (shot, key_light): (&Shot, KeyLight), least: Least) {
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
    hold(name, &judge(set, &ALL, shot, &shoot.separated()), least);
}
