//! Ground that is full of what looks like dust: there one picture cannot tell grains from what is built.
//!
//! Dust is strewn thinly. Where many more places than that look a little like it, it is the ground that looks so (greebles, weathering,
//! cloth), and what looks most like dust there is mostly built too. On the demo's models and on photographs of other things 600 to 5000
//! places in a million pixels do; on hulls and backdrops with more dust than anybody leaves there, 350 at most.

use super::{Found, certainty};
use crate::geometry::Rect;
use crate::pixels::convert::{count_f32, floor_i32, narrow, small_f32};
use std::collections::BTreeMap;

/// How far around a find others are counted, px.
const AROUND: f32 = 120.0;
/// Others in a million pixels up to which a find stands as it is.
const STANDS: f32 = 350.0;
/// Evidence that a find loses for every e-fold above that: between 2 and 4 the demo's barge keeps 20 to 5 of its 390 false finds.
const LOSES: f32 = 3.0;

/// Lowers the confidence of finds by how many others lie around them, in the picture `whole`.
pub(super) fn lower(found: &mut [Found], whole: Rect) {
    let places: Vec<(f32, f32)> = found
        .iter()
        .map(|one| (narrow(one.points[0].x), narrow(one.points[0].y)))
        .collect();
    let cell = |(x, y): (f32, f32)| (floor_i32(x / AROUND), floor_i32(y / AROUND));
    let mut cells: BTreeMap<(i32, i32), Vec<(f32, f32)>> = BTreeMap::new();
    for place in &places {
        cells.entry(cell(*place)).or_default().push(*place);
    }
    for (one, (x, y)) in found.iter_mut().zip(places) {
        let (column, row) = cell((x, y));
        let near = (row - 1..=row + 1).flat_map(|row| {
            let cells = &cells;
            (column - 1..=column + 1).filter_map(move |column| cells.get(&(column, row)))
        });
        let others = near
            .flatten()
            .filter(|(p, q)| (p - x) * (p - x) + (q - y) * (q - y) <= AROUND * AROUND)
            .count()
            .saturating_sub(1);
        let richness = count_f32(others) / area_around((x, y), whole) * 1e6;
        let loss = LOSES * libm::logf((richness / STANDS).max(1.0));
        let sure = one.confidence.clamp(1e-6, 1.0 - 1e-6);
        one.confidence = certainty(libm::logf(sure / (1.0 - sure)) - loss);
    }
}

/// Pixels of `whole` around a place: a disc's share of the square that is left of its surroundings at the border.
fn area_around((x, y): (f32, f32), whole: Rect) -> f32 {
    let side = |at: f32, from: i32, to: i32| {
        (at + AROUND).min(small_f32(to)) - (at - AROUND).max(small_f32(from))
    };
    let square = side(x, whole.x0, whole.x1) * side(y, whole.y0, whole.y1);
    (std::f32::consts::FRAC_PI_4 * square).max(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Point;
    use crate::imaging::spotting::Kind;

    fn finds(every: i32) -> Vec<Found> {
        let side = (0..1200).step_by(usize::try_from(every).unwrap_or(1));
        let across = side.clone();
        side.flat_map(|y| across.clone().map(move |x| (x, y)))
            .map(|(x, y)| Found {
                kind: Kind::Dust,
                points: vec![Point::new(f64::from(x), f64::from(y))],
                width_px: 3.0,
                confidence: 0.9,
            })
            .collect()
    }

    #[test]
    fn thinly_strewn_finds_stand_and_crowds_do_not() {
        let whole = Rect::new(0, 0, 1200, 1200);
        // 156 in a million pixels, and 4444.
        let (mut thin, mut thick) = (finds(80), finds(15));
        lower(&mut thin, whole);
        assert!(thin.iter().all(|one| (one.confidence - 0.9).abs() < 1e-5));
        lower(&mut thick, whole);
        assert!(thick.iter().all(|one| one.confidence < 0.05));
    }
}
