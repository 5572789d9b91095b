//! How fast the blur of a stack grows, measured where it is certain and even in depth.

use super::DepthMap;
use super::disc::best_radius;
use super::pieces::{Coloured, Pieces};
use crate::geometry::Rect;
use crate::imaging::basics::statistics::median;
use crate::pixels::Planes;
use crate::pixels::convert::{clamp_index, coordinate, count_f32, index, small_f32};
use rayon::prelude::*;

/// Side of the squares in which the blur is measured, what of it is compared, and how many of them.
const MEASURED: i32 = 80;
const COMPARED: i32 = 20;
const SQUARES: usize = 24;
/// Share of a square that must be certain, and lie within a frame of its middle.
const EVEN: (f32, f32) = (0.85, 1.0);
/// Frames away from its own in which a square's blur is measured.
const AWAY: i32 = 3;
/// The middle half of the measured radii must lie within this share of their median.
const ALIKE: f32 = 0.4;

/// How many pixels the radius of blur grows per frame: what makes even, certain squares of the plate most like the frames off their own
/// depth. `None` where too few squares tell, or not the same.
pub(super) fn blur_per_frame<F: Pieces<Coloured>>(
    light: &Planes,
    map: &DepthMap,
    frames: &[F],
) -> Result<Option<f32>, F::Error> {
    let squares = even_squares(map);
    let last = map.frames.saturating_sub(1);
    let measured: Vec<Option<f32>> = squares
        .into_par_iter()
        .flat_map_iter(|(square, middle)| [-AWAY, AWAY].map(|away| (square, middle, away)))
        .map(|(square, middle, away)| {
            let number = coordinate(index(middle, last)) + away;
            let Some(frame) = usize::try_from(number).ok().and_then(|at| frames.get(at)) else {
                return Ok(None);
            };
            let seen = frame.piece(square)?.pixels.rgb[1].clone();
            let sharp = light.rgb[1].crop(square);
            let inner = square.grow(-COMPARED);
            let keep: Vec<bool> = (square.y0..square.y1)
                .flat_map(|y| (square.x0..square.x1).map(move |x| inner.contains(x, y)))
                .collect();
            let steps = (small_f32(number) - middle).abs();
            Ok(best_radius(&sharp, &seen, &keep, steps).map(|radius| radius / steps))
        })
        .collect::<Result<_, _>>()?;
    let mut found: Vec<f32> = measured.into_iter().flatten().collect();
    found.sort_by(f32::total_cmp);
    let Some(usual) = median(&found).filter(|_| found.len() >= 6) else {
        return Ok(None);
    };
    let spread = found[found.len() * 3 / 4] - found[found.len() / 4];
    Ok((spread <= ALIKE * usual).then_some(usual))
}

/// Squares spread over the plate that are certain and nearly even in depth, with the middle of their depths.
fn even_squares(map: &DepthMap) -> Vec<(Rect, f32)> {
    let whole = map.depth.rect;
    let steps = |from: i32, to: i32| (from..=to - MEASURED).step_by(clamp_index(MEASURED / 2));
    let found: Vec<(Rect, f32)> = steps(whole.y0, whole.y1)
        .flat_map(|y| {
            steps(whole.x0, whole.x1).map(move |x| Rect::new(x, y, x + MEASURED, y + MEASURED))
        })
        .filter_map(|square| Some((square, even_depth(map, square)?)))
        .collect();
    let every = found.len().div_ceil(SQUARES).max(1);
    found.into_iter().step_by(every).collect()
}

/// The middle of a square's depths, if it is certain and even.
fn even_depth(map: &DepthMap, square: Rect) -> Option<f32> {
    let from = clamp_index(square.x0 - map.depth.rect.x0);
    let columns = from..from + square.width();
    let mut certain = Vec::new();
    let mut all = 0;
    for y in (square.y0..square.y1).step_by(4) {
        let sure = &map.confidence.row(y)[columns.clone()];
        let depth = &map.depth.row(y)[columns.clone()];
        let places = depth.iter().zip(sure).step_by(4);
        all += places.len();
        certain.extend(
            places
                .filter(|(_, sure)| **sure >= 0.5)
                .map(|(depth, _)| *depth),
        );
    }
    let middle = median(&certain)?;
    let alike = certain
        .iter()
        .filter(|depth| (**depth - middle).abs() < EVEN.1)
        .count();
    (count_f32(alike) >= EVEN.0 * count_f32(all)).then_some(middle)
}
