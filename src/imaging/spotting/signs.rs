//! What speaks for a grain and against it, weighed into one confidence.

use super::blobs::{Blob, Standing, step_at};
use super::chains::Crowd;
use super::{certainty, directions, value_at};
use crate::imaging::basics::statistics::median;
use crate::pixels::Plane;
use crate::pixels::convert::{coordinate, floor_i32, small_f32};

/// Number of signs.
pub(super) const SIGNS: usize = 20;

/// What is looked at for the signs of all blobs of a plate.
pub(super) struct Witness<'a> {
    layers: &'a [Standing],
    crowd: Crowd<'a>,
    rays: Vec<(f32, f32)>,
    /// What the picture usually bends by from pixel to pixel.
    usual_bend: f32,
}

/// The layer that lines are looked for in.
const LINES_IN: usize = 2;
/// Directions that lines are looked for in.
const RAYS: u8 = 24;
/// Places along a ray, px from where it begins, and to either side of it.
const ALONG: [f32; 8] = [0.0, 2.0, 4.0, 6.0, 8.0, 10.0, 12.0, 14.0];
const ASIDE: [f32; 3] = [-1.5, 0.0, 1.5];
/// A ray bends by what it bends by at least at all but so many places.
const LEFT_OUT: usize = 2;

impl<'a> Witness<'a> {
    pub(super) fn new(blobs: &'a [Blob], layers: &'a [Standing]) -> Self {
        Self {
            layers,
            crowd: Crowd::new(blobs, layers),
            rays: directions(RAYS),
            usual_bend: usual_bend(&layers[LINES_IN].smooth),
        }
    }

    /// The signs of a blob, each as a plain number.
    pub(super) fn signs(&self, blob: &Blob, number: usize) -> [f32; SIGNS] {
        let standing = libm::logf(blob.standing.max(1e-3));
        let size = libm::logf(blob.sigma);
        let contrast = libm::logf(blob.contrast.abs().max(1e-5));
        let company = self.crowd.company(number);
        let alone = self.alone(blob);
        let room = 0.3 * self.usual_bend.max(1e-6);
        let [first, second, third] = self
            .lines(blob)
            .map(|bend| libm::logf((bend + room) / (blob.contrast.abs() + room)));
        [
            standing,
            standing * standing,
            standing * size,
            size,
            size * size,
            contrast.min(libm::logf(0.04)),
            contrast.min(libm::logf(0.02)),
            blob.all_round.clamp(-1.0, 0.5),
            libm::logf(blob.clear.clamp(0.15, 3.0)),
            company.row,
            (company.row - 1.5).clamp(0.0, 1.5),
            company.twin,
            libm::logf(1.0 + company.twins),
            alone.min(1.0),
            alone.min(0.0),
            first,
            second,
            third,
            company.in_line.min(2.0),
            company.in_line.min(6.0),
        ]
    }

    /// How far a blob stands out more than what is strongest close round it, as a logarithm.
    fn alone(&self, blob: &Blob) -> f32 {
        let (inner, outer) = (1.8 * blob.sigma + 0.8, 3.0 * blob.sigma + 4.0);
        let (x, y) = (floor_i32(blob.x), floor_i32(blob.y));
        let reach = floor_i32(outer);
        let mut most = 1e-6_f32;
        for dy in -reach..=reach {
            for dx in -reach..=reach {
                let away = small_f32(dx * dx + dy * dy);
                if away > inner * inner && away <= outer * outer {
                    let step = step_at(self.layers, blob.layer, (x + dx, y + dy));
                    most = most.max(step.abs());
                }
            }
        }
        libm::logf(step_at(self.layers, blob.layer, (x, y)).abs().max(1e-6) / most)
    }

    /// How strongly the three strongest lines bend that lead away from a blob.
    fn lines(&self, blob: &Blob) -> [f32; 3] {
        let smooth = &self.layers[LINES_IN].smooth;
        let first = 2.0 * blob.sigma + 2.0;
        let mut bends: Vec<f32> = self
            .rays
            .iter()
            .map(|ray| {
                let beside = ASIDE.map(|aside| bend_along(smooth, blob, (first, aside), *ray));
                beside.into_iter().fold(0.0, f32::max)
            })
            .collect();
        let count = bends.len();
        [(); 3].map(|()| {
            let (mut strongest, mut most) = (0, -1.0);
            for (at, bend) in bends.iter().enumerate() {
                if *bend > most {
                    (strongest, most) = (at, *bend);
                }
            }
            // What lies next to it is the same line.
            for near in 0..3 {
                bends[(strongest + near) % count] = 0.0;
                bends[(strongest + count - near) % count] = 0.0;
            }
            most
        })
    }
}

/// What the picture bends by across a ray, of one sign all along it.
fn bend_along(
    smooth: &Plane,
    blob: &Blob,
    (first, aside): (f32, f32),
    (dx, dy): (f32, f32),
) -> f32 {
    let mut bends = ALONG.map(|along| {
        let away = first + along;
        let x = blob.x + away * dx - aside * dy;
        let y = blob.y + away * dy + aside * dx;
        value_at(smooth, x - dy, y + dx) + value_at(smooth, x + dy, y - dx)
            - 2.0 * value_at(smooth, x, y)
    });
    bends.sort_by(f32::total_cmp);
    bends[LEFT_OUT]
        .max(-bends[ALONG.len() - 1 - LEFT_OUT])
        .max(0.0)
}

fn usual_bend(smooth: &Plane) -> f32 {
    let rect = smooth.rect;
    let width = rect.width().max(1);
    let bends: Vec<f32> = (0..smooth.data.len())
        .step_by(17)
        .map(|at| {
            let (x, y) = (
                rect.x0 + coordinate(at % width),
                rect.y0 + coordinate(at / width),
            );
            let at = |dx: i32, dy: i32| smooth.nearest(x + dx, y + dy);
            let (across, down) = (
                at(1, 0) + at(-1, 0) - 2.0 * at(0, 0),
                at(0, 1) + at(0, -1) - 2.0 * at(0, 0),
            );
            across.abs().max(down.abs())
        })
        .collect();
    median(&bends).unwrap_or(0.0)
}

/// Weight of each sign, in their order, and what is there without any: a logistic fit to blobs whose truth is known, on 16 hulls and 4
/// backdrops of the kind that `tests/common/dust_set.rs` makes (seeds 50001 to 50151 in tens; none of them is in a test) and, at a
/// quarter of the weight, hulls with bolts in circles and in lattices.
const WEIGHTS: [f32; SIGNS] = [
    11.038, -2.061, 1.702, -2.128, -0.269, -3.070, 5.535, 0.681, 0.889, -1.476, -2.158, -2.372,
    1.530, 0.241, -1.332, -1.088, 0.244, -0.540, 0.332, -0.585,
];
const WITHOUT: f32 = -5.222;

/// How sure it is that a blob is a grain.
pub(super) fn confidence(signs: &[f32; SIGNS]) -> f32 {
    let evidence = signs
        .iter()
        .zip(&WEIGHTS)
        .fold(WITHOUT, |sum, (sign, weight)| sum + sign * weight);
    certainty(evidence)
}
