//! Size, turn and shift between two frames, coarse to fine.

use super::level::Level;
use super::masks::{AGREE, NARROW_AGREE, agreeing};
use super::motion::{Fitted, Motion, Rigid, Turning};
use super::radial::radial;
use super::residual::{residual_px, tiles};
use super::solver::{Patience, climb, step, whole_sums};
use super::{Found, Light, Prepared, rounded};
use crate::geometry::{Point, Similarity, Transform};
use crate::pixels::convert::narrow;

/// Steps and standstill of the coarser levels.
const COARSE: Patience = Patience {
    steps: 30,
    still_px: 0.01,
};
/// The same of the finest level in one light, where a step leaves about a tenth of the way (measured: 0.03 to 0.15).
pub(super) const SAME_FINE: Patience = Patience {
    steps: 12,
    still_px: 0.003,
};
/// Steps and standstill of the finest level in another light.
const FINE: Patience = Patience {
    steps: 12,
    still_px: 0.001,
};
/// Rounds of masking where the pictures disagree, for [`Light::Other`].
const MASK_ROUNDS: usize = 3;
/// Below this correlation nothing was found.
const LEAST_CORRELATION: f64 = 0.1;

/// Where `moved` lies against `reference`, as size, turn and shift about the reference's centre.
///
/// `start` is a guess of the answer (`reference_from_moved`; all zero for none). Both frames must be prepared for the same
/// [`Light`]. `None` when they share too little, or nothing correlates.
#[must_use]
pub fn similarity(reference: &Prepared, moved: &Prepared, start: Similarity) -> Option<Found> {
    fitted::<Turning, 4>(reference, moved, start)
}

/// Like [`similarity()`], but the size stays that of `start`: for frames of one focus distance, whose lamps may light too little of
/// the model to tell a change of size from a change of light.
#[must_use]
pub fn rigid(reference: &Prepared, moved: &Prepared, start: Similarity) -> Option<Found> {
    fitted::<Rigid, 3>(reference, moved, start)
}

fn fitted<M: Fitted<N>, const N: usize>(
    reference: &Prepared,
    moved: &Prepared,
    start: Similarity,
) -> Option<Found> {
    let centre = reference.centre();
    let guess = Transform::similarity(start, centre)
        .inverse()?
        .to_similarity(centre);
    if reference.light != moved.light {
        return None;
    }
    let pairs = paired(reference, moved);
    let (finest, coarser) = pairs.split_first()?;
    let mut values = guess;
    for (a, b) in coarser.iter().rev() {
        values = better::<M, N>(reference, (a, b), values, guess, COARSE);
    }
    let start = M::of(at_level(reference, finest.0, values));
    let patience = match reference.light {
        Light::Same => SAME_FINE,
        Light::Other => FINE,
    };
    let mut found = climb(finest.0, finest.1, start, patience)?;
    let mut trusted = None;
    if reference.light == Light::Other {
        let (usual, least) = if finest.0.level > 0 {
            NARROW_AGREE
        } else {
            AGREE
        };
        for _ in 0..MASK_ROUNDS {
            let agree = agreeing((finest.0, finest.1), &found.motion, (usual, least));
            let masked = finest.0.masked(&agree);
            found = climb(&masked, finest.1, found.motion, FINE)?;
            trusted = Some(masked);
        }
    }
    if found.correlation < LEAST_CORRELATION {
        return None;
    }
    let used = trusted.as_ref().unwrap_or(finest.0);
    let tiles = tiles(used, finest.1, &found.motion, found.seen);
    let radial = radial(used, &found.motion.turning(), &tiles);
    let moved_from_reference =
        Transform::similarity(full_size(finest.0, found.motion.turning()), centre);
    let reference_from_moved = rounded(moved_from_reference.inverse()?);
    Some(Found {
        reference_from_moved,
        similarity: reference_from_moved.to_similarity(centre),
        correlation: narrow(found.correlation),
        residual_px: residual_px(used, &tiles),
        radial,
    })
}

/// Levels that both frames have, from fine to coarse.
pub(super) fn paired<'a>(
    reference: &'a Prepared,
    moved: &'a Prepared,
) -> Vec<(&'a Level, &'a Level)> {
    reference
        .levels
        .iter()
        .filter_map(|a| {
            let b = moved.levels.iter().find(|b| b.level == a.level)?;
            Some((a, b))
        })
        .collect()
}

/// Climbs from the better of two starts; keeps that start if the climb fails or ends lower.
fn better<M: Fitted<N>, const N: usize>(
    reference: &Prepared,
    (a, b): (&Level, &Level),
    values: Similarity,
    guess: Similarity,
    patience: Patience,
) -> Similarity {
    let agreement = |values: Similarity| {
        let motion = M::of(at_level(reference, a, values));
        agreement(a, b, &motion)
    };
    let (first, second) = (agreement(values), agreement(guess));
    let (start, before) = if second > first {
        (guess, second)
    } else {
        (values, first)
    };
    match climb(a, b, M::of(at_level(reference, a, start)), patience) {
        Some(found) if found.correlation >= before => full_size(a, found.motion.turning()),
        _ => start,
    }
}

/// A motion in pixels at full size as one of a level.
pub(super) fn at_level(reference: &Prepared, level: &Level, values: Similarity) -> Turning {
    let step = level.step();
    let centre = reference.centre();
    Turning::new(
        Similarity {
            shift: Point::new(values.shift.x / step, values.shift.y / step),
            ..values
        },
        Point::new(centre.x / step, centre.y / step),
        reference.reach() / step,
    )
}

/// The way back from [`at_level`].
pub(super) fn full_size(level: &Level, motion: Turning) -> Similarity {
    let values = motion.values();
    let step = level.step();
    Similarity {
        shift: Point::new(values.shift.x * step, values.shift.y * step),
        ..values
    }
}

/// Correlation of the two levels under `motion`; -1 when they share too little.
pub(super) fn agreement<M: Motion<N, L>, const N: usize, const L: usize>(
    a: &Level,
    b: &Level,
    motion: &M,
) -> f64 {
    step::<N, L>(&whole_sums(a, b, motion, &mut None)).map_or(-1.0, |step| step.correlation)
}
