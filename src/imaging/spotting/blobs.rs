//! Blobs: places that stand out of all that is round them.

use super::{directions, value_at};
use crate::geometry::Rect;
use crate::imaging::basics::blur::gaussian;
use crate::imaging::basics::statistics::{NORMAL_FROM_MAD, median};
use crate::pixels::Plane;
use crate::pixels::convert::{clamp_index, coordinate, narrow};
use rayon::prelude::*;

/// A blob.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Blob {
    pub(super) x: f32,
    pub(super) y: f32,
    /// Deviation of the Gaussian that it looks most like, px, and the number of its layer.
    pub(super) sigma: f32,
    pub(super) layer: usize,
    /// How much lighter (or darker, below 0) than its surroundings, in roots of light.
    pub(super) contrast: f32,
    /// How far it stands out, in deviations of its surroundings.
    pub(super) standing: f32,
    /// The lowest part of its rim over the middle one: 1 for what is alone, below 0 for what lies at an edge.
    pub(super) all_round: f32,
    /// Its height over how uneven its rim is.
    pub(super) clear: f32,
    /// What speaks for it by itself, before anything round it is looked at.
    pub(super) evidence: f32,
}

/// Sizes of blobs that are looked for.
const SIGMAS: [f32; 6] = [0.6, 0.9, 1.3, 1.9, 2.7, 3.9];
/// Surroundings of a blob, in its sizes.
const AROUND: f32 = 1.6;
/// Deviations of its surroundings that a blob stands out by at least; half of them support a row of rivets.
const STANDS_OUT: f32 = 3.2;
/// Medians beyond which a difference counts no more among the surroundings.
const CAPPED: f32 = 5.0;
/// Directions that a blob's rim is looked at in.
const RING: u8 = 16;

/// How strongly every place stands out at one size.
#[derive(Debug)]
pub(super) struct Standing {
    pub(super) sigma: f32,
    pub(super) smooth: Plane,
    /// Difference to the surroundings, in deviations of the surroundings' own.
    pub(super) standing: Plane,
}

/// How strongly every place stands out at every size, small ones first.
pub(super) fn layers(roots: &Plane) -> Vec<Standing> {
    SIGMAS.iter().map(|sigma| standing(roots, *sigma)).collect()
}

pub(super) fn find(layers: &[Standing]) -> Vec<Blob> {
    let ring = directions(RING);
    let rect = layers
        .first()
        .map_or_else(Rect::default, |layer| layer.smooth.rect);
    let width = rect.width();
    let mut blobs = Vec::new();
    for (number, layer) in layers.iter().enumerate() {
        let rows: Vec<Vec<Blob>> = (1..rect.height().saturating_sub(1))
            .into_par_iter()
            .map(|row| {
                let mut found = Vec::new();
                for column in 1..width.saturating_sub(1) {
                    if is_peak(layers, number, (column, row)) {
                        found.push(judged((layer, number), (column, row), &ring));
                    }
                }
                found
            })
            .collect();
        blobs.extend(rows.into_iter().flatten());
    }
    blobs
}

fn standing(roots: &Plane, sigma: f32) -> Standing {
    let smooth = gaussian(roots, sigma);
    let wide = gaussian(roots, sigma * AROUND);
    let mut step = smooth.clone();
    for (step, wide) in step.data.iter_mut().zip(&wide.data) {
        *step -= wide;
    }
    let size = step.map(f32::abs);
    // Where a plate is quiet its noise alone is the measure: the median over all of it. Rivets are kept from drowning what lies
    // beside them: nothing counts for more than a few medians.
    let sampled: Vec<f32> = size.data.iter().step_by(17).copied().collect();
    let usual = median(&sampled).unwrap_or(0.0);
    let floor = 0.8 * NORMAL_FROM_MAD * usual;
    let capped = size.map(|size| size.min(CAPPED * usual));
    let spread = gaussian(&capped, 5.0 * sigma + 6.0);
    for (step, spread) in step.data.iter_mut().zip(&spread.data) {
        *step /= (1.2533 * spread).max(floor).max(1e-6);
    }
    Standing {
        sigma,
        smooth,
        standing: step,
    }
}

/// What a pixel has over its surroundings at one size, in roots of light: the step to the next size.
pub(super) fn step_at(layers: &[Standing], number: usize, (x, y): (i32, i32)) -> f32 {
    let number = number.min(layers.len().saturating_sub(2));
    layers[number].smooth.nearest(x, y) - layers[number + 1].smooth.nearest(x, y)
}

/// Whether a place stands out more than its neighbours, at its own size and at the next ones.
fn is_peak(layers: &[Standing], number: usize, (column, row): (usize, usize)) -> bool {
    let plane = &layers[number].standing;
    let width = plane.rect.width();
    let at = row * width + column;
    let here = plane.data[at];
    if here.abs() < STANDS_OUT {
        return false;
    }
    let (sign, height) = (here.signum(), here.abs());
    for dy in [-1_i32, 0, 1] {
        for dx in [-1_i32, 0, 1] {
            let other =
                clamp_index(coordinate(row) + dy) * width + clamp_index(coordinate(column) + dx);
            let value = plane.data[other] * sign;
            if other < at && value >= height || other > at && value > height {
                return false;
            }
        }
    }
    let nearby = [number.checked_sub(1), Some(number + 1)];
    let nearby = nearby.into_iter().flatten().filter_map(|at| layers.get(at));
    nearby
        .into_iter()
        .all(|other| other.standing.data[at] * sign <= height)
}

/// Where between its neighbours a peak is highest: the parabola through three values, px from the middle one.
fn summit([before, here, after]: [f32; 3]) -> f32 {
    let bend = before + after - 2.0 * here;
    if bend.abs() < 1e-9 {
        return 0.0;
    }
    (0.5 * (before - after) / bend).clamp(-0.5, 0.5)
}

fn judged(
    (layer, number): (&Standing, usize),
    (column, row): (usize, usize),
    ring: &[(f32, f32)],
) -> Blob {
    let rect = layer.standing.rect;
    let at = row * rect.width() + column;
    let standing = layer.standing.data[at];
    let width = rect.width();
    let plane = &layer.standing.data;
    let place = |from: i32, step: usize, beside: [f32; 2]| {
        narrow(f64::from(from + coordinate(step)) + 0.5) + summit([beside[0], standing, beside[1]])
    };
    let x = place(rect.x0, column, [plane[at - 1], plane[at + 1]]);
    let y = place(rect.y0, row, [plane[at - width], plane[at + width]]);
    let here = layer.smooth.data[at];
    let far = 2.6 * layer.sigma + 1.0;
    let mut rim: Vec<f32> = ring
        .iter()
        .map(|(dx, dy)| value_at(&layer.smooth, x + far * dx, y + far * dy))
        .map(|rim| (here - rim) * standing.signum())
        .collect();
    rim.sort_by(f32::total_cmp);
    let middle = 0.5 * (rim[7] + rim[8]);
    // A line through the rim takes four directions of sixteen; a blob at an edge has half of its rim on the other side.
    let least = rim[2];
    let spread = 0.5 * (rim[12] - rim[3]);
    let all_round = least / middle.max(1e-6);
    let clear = middle / spread.max(1e-5);
    // How far it stands out decides; a rim that is not lower all round, or as restless as the blob, speaks against it.
    let evidence = 8.0 * libm::logf(standing.abs() / 4.8)
        + 6.0 * (all_round - 0.5).clamp(-1.0, 0.0)
        + 0.8 * libm::logf((clear / 3.0).clamp(0.05, 1.0));
    Blob {
        x,
        y,
        sigma: layer.sigma,
        layer: number,
        contrast: middle * standing.signum(),
        standing: standing.abs(),
        all_round,
        clear,
        evidence,
    }
}
