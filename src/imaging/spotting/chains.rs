//! Rows of like blobs at even distances, straight or turning evenly: rivets along a seam, bolts round a flange, windows, grilles.

use super::blobs::{Blob, Standing, step_at};
use crate::pixels::convert::{count_f32, floor_i32};
use std::collections::BTreeMap;

/// How far apart neighbours of one row lie at most, px.
const FARTHEST: f32 = 48.0;
/// Nearest neighbours of a row: pixels, and sizes of the blob.
const NEAREST: (f32, f32) = (4.0, 3.0);
/// How far a member may lie from where an even row would have it: pixels, or a part of the step.
const UNEVEN: (f32, f32) = (1.8, 0.1);
/// Factor (as a logarithm) between the heights of two blobs at which they are not alike any more.
const UNLIKE: f32 = 0.5;
/// The most that a row turns from one step to the next: its cosine.
const LEAST_COSINE: f32 = 0.54;
/// Steps that a row is followed to either side, and neighbours that are tried as its next member.
const STEPS: usize = 3;
const TRIED: usize = 10;
/// Likeness from which on a row is certain.
const CERTAIN: f32 = 4.0;
/// How far members of one line lie beside it at most, px.
const OFF_LINE: f32 = 1.3;
/// Side of a cell that blobs are looked up in, px.
const CELL: f32 = 16.0;

/// What a blob has about it that looks like it.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Company {
    /// Likeness of the members of the best row through it, together: near 0 for what lies alone.
    pub(super) row: f32,
    /// Likeness of the one most like it within reach.
    pub(super) twin: f32,
    /// Likeness of all like it within reach, together.
    pub(super) twins: f32,
    /// How many of those lie on one straight line with it, evenly spaced or not.
    pub(super) in_line: f32,
}

/// Blobs by where they lie.
pub(super) struct Crowd<'a> {
    blobs: &'a [Blob],
    layers: &'a [Standing],
    cells: BTreeMap<(i32, i32), Vec<usize>>,
}

/// A blob that looks like the one asked about.
#[derive(Debug, Clone, Copy)]
struct Twin {
    alike: f32,
    x: f32,
    y: f32,
}

impl<'a> Crowd<'a> {
    pub(super) fn new(blobs: &'a [Blob], layers: &'a [Standing]) -> Self {
        let mut cells: BTreeMap<(i32, i32), Vec<usize>> = BTreeMap::new();
        for (number, blob) in blobs.iter().enumerate() {
            cells.entry(cell(blob.x, blob.y)).or_default().push(number);
        }
        Self {
            blobs,
            layers,
            cells,
        }
    }

    /// What is like blob `number` within reach.
    pub(super) fn company(&self, number: usize) -> Company {
        let twins = self.twins(number);
        let most = |most: f32, twin: &Twin| most.max(twin.alike);
        let blob = &self.blobs[number];
        let mut row = 0.0_f32;
        for (at, next) in twins.iter().take(TRIED).enumerate() {
            let (dx, dy) = (next.x - blob.x, next.y - blob.y);
            for turn in turns(&twins, at, (blob.x, blob.y)) {
                let ahead = followed(&twins, (next.x, next.y), ((dx, dy), turn));
                let back = (turn.0, -turn.1);
                let behind = followed(&twins, (blob.x, blob.y), ((-dx, -dy), back));
                row = row.max(next.alike + ahead + behind);
                if row >= CERTAIN {
                    break;
                }
            }
            if row >= CERTAIN {
                break;
            }
        }
        Company {
            row: row.min(CERTAIN),
            twin: twins.iter().fold(0.0, most),
            twins: twins.iter().map(|twin| twin.alike).sum(),
            in_line: most_in_line(&twins, (blob.x, blob.y)),
        }
    }

    /// Those within reach that are of its sign and about its height at its size, the most alike first.
    fn twins(&self, number: usize) -> Vec<Twin> {
        let blob = &self.blobs[number];
        let sign = blob.contrast.signum();
        let height = |x: f32, y: f32| {
            let (x, y) = (floor_i32(x), floor_i32(y));
            let around = (-1..=1).flat_map(|dy| (-1..=1).map(move |dx| (dx, dy)));
            around
                .map(|(dx, dy)| sign * step_at(self.layers, blob.layer, (x + dx, y + dy)))
                .fold(1e-6, f32::max)
        };
        let own = height(blob.x, blob.y);
        let least = NEAREST.0.max(NEAREST.1 * blob.sigma);
        let reach = floor_i32(FARTHEST / CELL) + 1;
        let (cx, cy) = cell(blob.x, blob.y);
        let cells =
            (cy - reach..=cy + reach).flat_map(|y| (cx - reach..=cx + reach).map(move |x| (x, y)));
        let near = cells.filter_map(|cell| self.cells.get(&cell)).flatten();
        let mut twins: Vec<Twin> = near
            .filter_map(|other| {
                let other = &self.blobs[*other];
                let (dx, dy) = (other.x - blob.x, other.y - blob.y);
                let apart = dx * dx + dy * dy;
                if other.contrast * sign <= 0.0
                    || apart < least * least
                    || apart > 4.0 * FARTHEST * FARTHEST
                {
                    return None;
                }
                let there = height(other.x, other.y);
                let alike = 1.0 - libm::logf(there / own).abs() / UNLIKE;
                let (x, y) = (other.x, other.y);
                (alike > 0.0).then_some(Twin { alike, x, y })
            })
            .collect();
        // Farther ones are members of rows only.
        twins.sort_by(|a, b| {
            let far = |twin: &Twin| {
                let (dx, dy) = (twin.x - blob.x, twin.y - blob.y);
                dx * dx + dy * dy > FARTHEST * FARTHEST
            };
            far(a)
                .cmp(&far(b))
                .then(b.alike.total_cmp(&a.alike))
                .then(a.y.total_cmp(&b.y))
                .then(a.x.total_cmp(&b.x))
        });
        twins
    }
}

fn cell(x: f32, y: f32) -> (i32, i32) {
    (floor_i32(x / CELL), floor_i32(y / CELL))
}

/// The most of `twins` within reach that lie on one straight line through `own`.
fn most_in_line(twins: &[Twin], own: (f32, f32)) -> f32 {
    let steps = twins.iter().map(|twin| (twin.x - own.0, twin.y - own.1));
    let near: Vec<(f32, f32)> = steps
        .filter(|(dx, dy)| dx * dx + dy * dy <= FARTHEST * FARTHEST)
        .collect();
    let counts = near.iter().map(|(dx, dy)| {
        let room = OFF_LINE * (dx * dx + dy * dy).sqrt();
        let beside = near.iter().filter(|(x, y)| (x * dy - y * dx).abs() <= room);
        count_f32(beside.count())
    });
    counts.fold(0.0, f32::max)
}

/// The turns (cosine, sine) from step to step that a row through `own` and its neighbour `at` may have: none, or what one more member
/// says.
fn turns(twins: &[Twin], at: usize, own: (f32, f32)) -> Vec<(f32, f32)> {
    let next = twins[at];
    let step = (next.x - own.0, next.y - own.1);
    let length = (step.0 * step.0 + step.1 * step.1).sqrt();
    let slack = UNEVEN.0.max(UNEVEN.1 * length);
    let mut turns = vec![(1.0, 0.0)];
    let mut add = |from: (f32, f32), to: (f32, f32)| {
        let other = (to.0 * to.0 + to.1 * to.1).sqrt();
        if (other - length).abs() <= slack {
            let over = 1.0 / (other * length).max(1e-6);
            let turn = (
                (from.0 * to.0 + from.1 * to.1) * over,
                (from.0 * to.1 - from.1 * to.0) * over,
            );
            if turn.0 >= LEAST_COSINE {
                turns.push(turn);
            }
        }
    };
    for (number, third) in twins.iter().enumerate() {
        if number != at {
            add(step, (third.x - next.x, third.y - next.y));
            add((own.0 - third.x, own.1 - third.y), step);
        }
    }
    turns
}

/// Likeness of the members that follow `from` at even steps, each turned by `turn`; one gap is stepped over.
fn followed(twins: &[Twin], from: (f32, f32), (step, turn): ((f32, f32), (f32, f32))) -> f32 {
    let length = (step.0 * step.0 + step.1 * step.1).sqrt();
    let slack = UNEVEN.0.max(UNEVEN.1 * length);
    let (mut at, mut step, mut gap, mut sum) = (from, step, false, 0.0);
    for _member in 0..STEPS {
        step = (
            turn.0 * step.0 - turn.1 * step.1,
            turn.1 * step.0 + turn.0 * step.1,
        );
        let place = (at.0 + step.0, at.1 + step.1);
        let off = |twin: &Twin| {
            let (dx, dy) = (twin.x - place.0, twin.y - place.1);
            dx * dx + dy * dy
        };
        let nearest = twins.iter().min_by(|a, b| off(a).total_cmp(&off(b)));
        match nearest.filter(|twin| off(twin) <= slack * slack) {
            Some(twin) => {
                sum += twin.alike;
                // The row leads on: half of what it is off by is followed.
                step = (
                    0.5 * (step.0 + twin.x - at.0),
                    0.5 * (step.1 + twin.y - at.1),
                );
                at = (twin.x, twin.y);
            }
            None if gap => break,
            None => {
                gap = true;
                at = place;
            }
        }
    }
    sum
}
