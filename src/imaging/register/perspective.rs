//! Perspective between two frames: a swapped model, a bumped camera. Robust to a few per cent of size and a few degrees.

use super::level::Level;
use super::masks::{AGREE, agreeing};
use super::motion::Tilting;
use super::phase::{faded, padded_side, phase_shift, placed};
use super::residual::{residual_px, tiles};
use super::similarity::{agreement, at_level, full_size, paired};
use super::solver::{Patience, climb};
use super::{Found, Light, Prepared, rounded};
use crate::geometry::{Point, Rect, Similarity, Transform};
use crate::pixels::Plane;
use crate::pixels::convert::{coordinate, narrow};
use rayon::prelude::*;

const COARSE: Patience = Patience {
    steps: 40,
    still_px: 0.01,
};
const FINE: Patience = Patience {
    steps: 15,
    still_px: 0.001,
};
/// Sizes (natural logarithm) and turns (radians, about 1 degree apart) that the search tries around the start.
const SIZES: [f64; 7] = [0.0, -0.02, 0.02, -0.04, 0.04, -0.07, 0.07];
const TURNS: [f64; 7] = [0.0, -0.0175, 0.0175, -0.035, 0.035, -0.0525, 0.0525];
/// Proposals that are followed up with the solver.
const FOLLOWED: usize = 4;
/// The search runs on the coarsest level that is still this many pixels on its shorter side.
const SEARCH_PX: usize = 64;
/// Below this correlation nothing was found.
const LEAST_CORRELATION: f64 = 0.2;
/// The perspective is added on levels with at least this many pixels on the shorter side.
const PERSPECTIVE_PX: usize = 90;

/// Where `moved` lies against `reference` as a perspective.
///
/// `start` is a guess of the answer (`reference_from_moved`); sizes within 7 %, turns within 3 degrees and any shift up to
/// about half the picture around it are searched. `None` when nothing correlates.
#[must_use]
pub fn perspective(reference: &Prepared, moved: &Prepared, start: Transform) -> Option<Found> {
    if reference.light != moved.light {
        return None;
    }
    let pairs = paired(reference, moved);
    let searched = pairs
        .iter()
        .rposition(|(a, _)| a.width.min(a.height) >= SEARCH_PX)
        .unwrap_or(0);
    let guess = start.inverse()?.to_similarity(reference.centre());
    let (a, b) = pairs.get(searched)?;
    let coarse = search(reference, (a, b), guess)?;
    let mut current = Transform::similarity(coarse, reference.centre());
    let mut correlation = 0.0;
    let mut used: Option<(Level, Tilting)> = None;
    for (index, (a, b)) in pairs[..=searched].iter().enumerate().rev() {
        if index > 0 && a.width.min(a.height) < PERSPECTIVE_PX {
            continue;
        }
        let patience = if index == 0 { FINE } else { COARSE };
        let begun = tilting(reference, a, &current)?;
        let mut found = climb(a, b, begun, patience)?;
        if index == 0 {
            let mut level = (*a).clone();
            if reference.light == Light::Other {
                for _ in 0..2 {
                    level = a.masked(&agreeing((a, b), &found.motion, AGREE));
                    found = climb(&level, b, found.motion, patience)?;
                }
            }
            used = Some((level, found.motion));
        }
        current = at_full_size(a, &found.motion);
        correlation = found.correlation;
    }
    if correlation < LEAST_CORRELATION {
        return None;
    }
    let (level, motion) = used?;
    let tiles = tiles(&level, pairs.first()?.1, &motion, None);
    let found = current.inverse()?;
    let last = found.rows[2][2];
    let reference_from_moved = rounded(Transform {
        rows: found.rows.map(|row| row.map(|value| value / last)),
    });
    Some(Found {
        reference_from_moved,
        similarity: reference_from_moved.to_similarity(reference.centre()),
        correlation: narrow(correlation),
        residual_px: residual_px(&level, &tiles),
        radial: None,
    })
}

fn tilting(reference: &Prepared, level: &Level, full: &Transform) -> Option<Tilting> {
    let step = level.step();
    let centre = reference.centre();
    Tilting::new(
        &full.at_level(level.level),
        Point::new(centre.x / step, centre.y / step),
        reference.reach() / step,
    )
}

fn at_full_size(level: &Level, motion: &Tilting) -> Transform {
    let step = level.step();
    Transform::scaling(step, step)
        .after(&motion.transform())
        .after(&Transform::scaling(1.0 / step, 1.0 / step))
}

/// The best size, turn and shift (`moved_from_reference`, full size) on one coarse level.
fn search(reference: &Prepared, (a, b): (&Level, &Level), guess: Similarity) -> Option<Similarity> {
    let side = (
        padded_side(a.width.max(b.width)),
        padded_side(a.height.max(b.height)),
    );
    let target = placed(&faded(&plane(a)), side.0, side.1);
    let mut tries = Vec::new();
    for size in SIZES {
        for turn in TURNS {
            tries.push(Similarity {
                log_scale: guess.log_scale + size,
                angle_rad: guess.angle_rad + turn,
                shift: guess.shift,
            });
        }
    }
    let mut scored: Vec<(f64, Similarity)> = tries
        .par_iter()
        .map(|values| {
            let mut values = *values;
            let carried = carried(reference, (a, b), values);
            let proposal = phase_shift(&target, &placed(&faded(&carried), side.0, side.1), 1);
            let still = agreement(a, b, &at_level(reference, a, values));
            let Some(shift) = proposal else {
                return (still, values);
            };
            // The carried picture must move by `shift` to meet the reference, so the reference's points must be looked
            // up at minus that shift, seen through size and turn.
            let linear = Transform::similarity(
                Similarity {
                    shift: Point::default(),
                    ..values
                },
                Point::default(),
            );
            let back = linear.apply(Point::new(-shift.x, -shift.y));
            let kept = values;
            values.shift.x += back.x * a.step();
            values.shift.y += back.y * a.step();
            let proposed = agreement(a, b, &at_level(reference, a, values));
            if proposed > still {
                (proposed, values)
            } else {
                (still, kept)
            }
        })
        .collect();
    scored.sort_by(|one, other| other.0.total_cmp(&one.0));
    let mut best: Option<(f64, Similarity)> = None;
    for (_, values) in scored.iter().take(FOLLOWED) {
        let Some(found) = climb(a, b, at_level(reference, a, *values), COARSE) else {
            continue;
        };
        let reached = agreement(a, b, &found.motion);
        if best.is_none_or(|(before, _)| reached > before) {
            best = Some((reached, full_size(a, found.motion)));
        }
    }
    best.map(|(_, values)| values)
}

fn plane(level: &Level) -> Plane {
    Plane {
        rect: Rect::new(0, 0, coordinate(level.width), coordinate(level.height)),
        data: level.data.clone(),
    }
}

/// The moved level as seen from the reference through `values`; the mean where it does not reach.
fn carried(reference: &Prepared, (a, b): (&Level, &Level), values: Similarity) -> Plane {
    use super::motion::Motion;
    let motion = at_level(reference, a, values);
    let rect = Rect::new(0, 0, coordinate(a.width), coordinate(a.height));
    let total: f64 = b.data.iter().map(|value| f64::from(*value)).sum();
    let mean = narrow(total / f64::from(coordinate(b.data.len().max(1))));
    Plane::from_fn(rect, |x, y| {
        let (u, v) = motion.at(f64::from(x) + 0.5, f64::from(y) + 0.5);
        b.sample(u, v).map_or(mean, |found| found.value)
    })
}
