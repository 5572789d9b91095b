//! How fast the blur of a stack grows, measured where it is certain and even in depth.

use super::DepthMap;
use super::disc::best_radius;
use super::pieces::{Coloured, Pieces};
use crate::geometry::Rect;
use crate::imaging::basics::statistics::median;
use crate::pixels::convert::{clamp_index, count_f32, index};
use crate::pixels::{Plane, Planes};
use rayon::prelude::*;

/// Side of the squares in which the blur is measured, what of it is compared, and how many of them.
const MEASURED: i32 = 80;
const COMPARED: i32 = 20;
const SQUARES: usize = 24;
/// Share of a square that must be certain, and share of that which must lie within so many frames of its middle.
const CERTAIN: f32 = 0.5;
const EVEN: (f32, f32) = (0.9, 1.0);
/// Frames away from its own in which a square's blur is measured.
const AWAY: usize = 3;
/// Measurements that must be there.
const LEAST: usize = 6;
/// The middle half of the measured radii must lie within this share of their median.
const ALIKE: f32 = 0.4;

/// How many pixels the radius of blur grows per frame: what makes even, certain squares of the plate most like the frames off their own
/// depth. `None` where too few squares tell, or not the same.
pub(super) fn blur_per_frame<F: Pieces<Coloured>>(
    light: &Planes,
    map: &DepthMap,
    open: &mut impl FnMut(usize) -> Result<F, F::Error>,
) -> Result<Option<f32>, F::Error> {
    let squares = even_squares(map);
    let last = map.frames.saturating_sub(1);
    let mut found: Vec<f32> = Vec::new();
    for number in 0..map.frames {
        let away = |middle: f32| index(middle, last).abs_diff(number) == AWAY;
        let here: Vec<&(Rect, f32)> = squares.iter().filter(|(_, at)| away(*at)).collect();
        if here.is_empty() {
            continue;
        }
        let frame = open(number)?;
        let measured: Vec<Option<f32>> = here
            .into_par_iter()
            .map(|(square, middle)| {
                let seen = frame.piece(*square)?.pixels.rgb[1].clone();
                let steps = (count_f32(number) - middle).abs();
                Ok(growth(&light.rgb[1].crop(*square), &seen, steps))
            })
            .collect::<Result<_, _>>()?;
        found.extend(measured.into_iter().flatten());
    }
    found.sort_by(f32::total_cmp);
    let Some(usual) = median(&found).filter(|_| found.len() >= LEAST) else {
        return Ok(None);
    };
    let spread = found[found.len() * 3 / 4] - found[found.len() / 4];
    Ok((spread <= ALIKE * usual).then_some(usual))
}

/// How much the radius of blur grows per frame where a square that is `sharp` was `seen` so many `steps` away.
fn growth(sharp: &Plane, seen: &Plane, steps: f32) -> Option<f32> {
    let (square, inner) = (sharp.rect, sharp.rect.grow(-COMPARED));
    let keep: Vec<bool> = (square.y0..square.y1)
        .flat_map(|y| (square.x0..square.x1).map(move |x| inner.contains(x, y)))
        .collect();
    best_radius(sharp, seen, &keep, steps).map(|radius| radius / steps)
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
    let enough = count_f32(certain.len()) >= CERTAIN * count_f32(all);
    (enough && count_f32(alike) >= EVEN.0 * count_f32(certain.len())).then_some(middle)
}
