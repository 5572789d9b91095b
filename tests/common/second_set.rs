//! Two pictures of one ground, as a camera takes them before and after the ground is cleaned of dust and hair.
#![allow(
    dead_code,
    unreachable_pub,
    clippy::unwrap_used,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::allow_attributes,
    reason = "shared by several test binaries"
)]

use super::dust_set::{Score, Strewn, strewn_where};
use super::layered_scene::{Dice, luma, noisy};
use platebench::geometry::{Point, Similarity, Transform};
use platebench::imaging::basics::blur::{gaussian, mirror};
use platebench::imaging::basics::resample::{Kernel, sample_planes};
use platebench::imaging::register::{self, Light, Prepared};
use platebench::imaging::spotting::{USUAL_CONFIDENCE, find, find_against};
use platebench::pixels::convert::{coordinate, floor_f64, narrow};
use platebench::pixels::{Plane, Planes};
use rayon::prelude::*;

/// Both pictures, the second one registered to the first.
#[derive(Debug, Clone)]
pub struct Pair {
    /// With dust and hair.
    pub dusty: Planes,
    /// Without.
    pub cleaned: Planes,
    /// Where both have pixels.
    pub shown: Plane,
    /// What lies where.
    pub strewn: Vec<Strewn>,
}

/// Light below which no dust is strewn: nobody sees it there.
const LIT: f32 = 0.02;
/// Electrons at white, and of read noise.
const NOISE: (f64, f64) = (20_000.0, 4.0);

/// Dust of 1 to 8 px and hairs, of 5 to 20 % contrast, on the lit parts of `ground` that `takes` (1) them, as many to an area as
/// `strew` has; the second picture is shifted by 0.3 to 3 px, turned and larger by a little, and 2 % lighter or darker.
pub fn pair(ground: &Planes, takes: &Plane, seed: u64) -> Pair {
    let rect = ground.rect();
    let lit = gaussian(&luma(ground), 2.0);
    let on = |at: Point| {
        let (x, y) = (floor_f64(at.x), floor_f64(at.y));
        rect.contains(x, y) && lit.at(x, y) >= LIT && takes.at(x, y) > 0.5
    };
    let share = takes.data.iter().sum::<f32>() / (1080.0 * 720.0);
    let counts = |usual: f32, least: usize| ((usual * share) as usize).max(least);
    let counts = (counts(70.0, 12), counts(8.0, 2));
    pair_with(ground, strewn_where(rect, counts, seed, &on), seed)
}

/// The same with what leaves so much of the light of `ground`, and where it lies.
pub fn pair_with(ground: &Planes, (cover, strewn): (Plane, Vec<Strewn>), seed: u64) -> Pair {
    let rect = ground.rect();
    let mut dice = Dice::new(seed ^ 0x7a17);
    let mut part = || 2.0 * dice.unit() - 1.0;
    let (angle, turn, scale) = (3.2 * part(), 2e-4 * part(), 2e-4 * part());
    let away = 1.65 + 1.35 * part();
    let gain = narrow(1.0 + 0.02_f64.copysign(part()));
    let second_from_first = Transform::similarity(
        Similarity {
            log_scale: scale,
            angle_rad: turn,
            shift: Point::new(away * libm::cos(angle), away * libm::sin(angle)),
        },
        Point::new(0.5 * f64::from(rect.x1), 0.5 * f64::from(rect.y1)),
    );
    let mut hurt = ground.clone();
    for plane in &mut hurt.rgb {
        let pixels = plane.data.iter_mut().zip(&cover.data);
        pixels.for_each(|(light, cover)| *light *= cover);
    }
    let lighter = Planes {
        rgb: ground
            .rgb
            .each_ref()
            .map(|plane| plane.map(|light| light * gain)),
    };
    let dusty = noisy(
        &seen(&hurt, &Transform::IDENTITY),
        seed + 1,
        NOISE.0,
        NOISE.1,
    );
    let back = second_from_first.inverse().unwrap();
    let second = noisy(&seen(&lighter, &back), seed + 2, NOISE.0, NOISE.1);
    let prepared = |planes: &Planes| Prepared::new(&luma(planes), Light::Same, 0.97);
    let found = register::perspective(&prepared(&dusty), &prepared(&second), Transform::IDENTITY);
    let second_from_dusty = found.unwrap().reference_from_moved.inverse().unwrap();
    let (cleaned, shown) = sample_planes(&second, rect, &second_from_dusty, Kernel::Lanczos3);
    Pair {
        dusty,
        cleaned,
        shown,
        strewn,
    }
}

/// `ground` as a lens shows it to the pixels of a sensor: the light of every pixel of the ground spread by a Gaussian of 0.6 px.
fn seen(ground: &Planes, ground_from_sensor: &Transform) -> Planes {
    const SPREAD: f64 = 0.6;
    let rect = ground.rect();
    let (width, height) = (rect.width(), rect.height());
    let taps = |at: f64| {
        let first = floor_f64(at - 0.5) - 2;
        let weights: [f64; 6] = std::array::from_fn(|tap| {
            let off = f64::from(first) + 0.5 + f64::from(coordinate(tap)) - at;
            libm::exp(-0.5 * off * off / (SPREAD * SPREAD))
        });
        let sum: f64 = weights.iter().sum();
        (first, weights.map(|weight| weight / sum))
    };
    let pixel = |plane: &Plane, x: usize, y: usize| {
        let at = Point::new(
            f64::from(coordinate(x)) + 0.5,
            f64::from(coordinate(y)) + 0.5,
        );
        let from = ground_from_sensor.apply(at);
        let ((left, across), (top, down)) = (taps(from.x), taps(from.y));
        let mut sum = 0.0;
        for (dy, b) in (0..).zip(down) {
            let line = mirror(top + dy, height) * width;
            for (dx, a) in (0..).zip(across) {
                sum += a * b * f64::from(plane.data[line + mirror(left + dx, width)]);
            }
        }
        narrow(sum)
    };
    let shown = |plane: &Plane| {
        let mut out = Plane::zero(rect);
        let rows = out.data.par_chunks_mut(width).enumerate();
        rows.for_each(|(y, row)| {
            let pixels = row.iter_mut().enumerate();
            pixels.for_each(|(x, out)| *out = pixel(plane, x, y));
        });
        out
    };
    Planes {
        rgb: ground.rgb.each_ref().map(shown),
    }
}

/// The finds on pairs of one ground: those against the second picture, and those on the first one alone.
#[derive(Debug, Default)]
pub struct Both {
    /// Against the second picture.
    pub against: Score,
    /// On the first one alone.
    pub alone: Score,
}

impl Both {
    /// Adds a pair for each of `seeds`; nothing is known of what is built on the ground, so every find that is none counts as built.
    pub fn add(&mut self, ground: &Planes, takes: &Plane, seeds: &[u64]) {
        for seed in seeds {
            let pair = pair(ground, takes, *seed);
            let against = find_against(&pair.dusty, &pair.cleaned, &pair.shown);
            self.against.add(&against, &pair.strewn, &[]);
            self.alone
                .add(&find(&pair.dusty, None).found, &pair.strewn, &[]);
        }
    }

    /// Says what was measured; gives the recall against the second picture at 90 % precision, and the share of finds above the usual
    /// confidence that are none.
    pub fn report(&self, what: &str) -> (f64, f64) {
        let (least, recall) = self.against.recall_at(0.9);
        let (count, right, _, seen) = self.against.at(USUAL_CONFIDENCE);
        let (_, alone) = self.alone.recall_at(0.9);
        #[expect(clippy::print_stdout, reason = "says what was measured")]
        {
            println!(
                "{what}: {} strewn; recall {recall:.3} at 90 % precision (confidence {least:.2}; {alone:.3} from one picture); usual: {count} finds, {right:.3} right, {seen:.3} seen",
                self.against.strewn.len()
            );
        }
        (recall, 1.0 - right)
    }
}
