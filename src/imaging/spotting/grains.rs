//! The grains among the blobs: each place once, nothing that is a piece of a hair or of a built line.

use super::blobs::{Blob, Standing};
use super::ridges::BuiltLine;
use super::signs::{Witness, confidence};
use super::{Found, Kind};
use crate::geometry::Point;
use crate::pixels::convert::{floor_i32, narrow};
use rayon::prelude::*;
use std::collections::BTreeMap;

/// Evidence from which on a blob counts as a member of a row.
const MEMBER: f32 = -3.0;

/// Side of a cell that points are looked up in, px.
const CELL: f32 = 16.0;

/// The grains among `blobs`, with what speaks for each weighed; what lies on hairs or on built lines is left out.
pub(super) fn grains(
    blobs: Vec<Blob>,
    layers: &[Standing],
    (hairs, built): (&[Found], &[BuiltLine]),
) -> Vec<Found> {
    let mut blobs = strongest(blobs);
    blobs.retain(|blob| blob.evidence >= MEMBER);
    let lines = Lines::new(built);
    let witness = Witness::new(&blobs, layers);
    let weighed = blobs.par_iter().enumerate().map(|(number, blob)| {
        if lies_on(blob, hairs) || lines.hold(blob) {
            return None;
        }
        Some(Found {
            kind: Kind::Dust,
            points: vec![Point::new(f64::from(blob.x), f64::from(blob.y))],
            width_px: 3.6 * blob.sigma,
            confidence: confidence(&witness.signs(blob, number)),
        })
    });
    weighed.flatten().collect()
}

/// Of blobs found at one place in several sizes, the one with most evidence.
pub(super) fn strongest(mut blobs: Vec<Blob>) -> Vec<Blob> {
    blobs.sort_by(|a, b| b.evidence.total_cmp(&a.evidence));
    let mut kept: Vec<Blob> = Vec::new();
    let mut cells: BTreeMap<(i32, i32), Vec<usize>> = BTreeMap::new();
    for blob in blobs {
        let (cx, cy) = (floor_i32(blob.x / 16.0), floor_i32(blob.y / 16.0));
        let near = (cx - 1..=cx + 1).flat_map(|x| (cy - 1..=cy + 1).map(move |y| (x, y)));
        let covered = near
            .filter_map(|cell| cells.get(&cell))
            .flatten()
            .any(|other| {
                let other: &Blob = &kept[*other];
                let (dx, dy) = (other.x - blob.x, other.y - blob.y);
                let reach = 2.0 * other.sigma.max(blob.sigma) + 1.0;
                dx * dx + dy * dy < reach * reach
            });
        if !covered {
            cells.entry((cx, cy)).or_default().push(kept.len());
            kept.push(blob);
        }
    }
    kept
}

pub(super) fn lies_on(blob: &Blob, hairs: &[Found]) -> bool {
    let at = Point::new(f64::from(blob.x), f64::from(blob.y));
    let reach = f64::from(2.0 * blob.sigma) + 3.0;
    let sure = hairs.iter().filter(|hair| hair.confidence >= 0.5);
    sure.into_iter().any(|hair| {
        let near = |point: &Point| point.distance(at) < reach + f64::from(hair.width_px);
        hair.points.iter().any(near)
    })
}

/// Points of built lines by where they lie, and whether they are light.
struct Lines(PointsByCell);

/// Places of points and whether they are light, by the cell they lie in.
type PointsByCell = BTreeMap<(i32, i32), Vec<(f32, f32, bool)>>;

/// How near a blob of a line's own kind lies to be a piece of it (a crossing, a joint), px.
const ON_LINE: f32 = 3.0;

impl Lines {
    fn new(built: &[BuiltLine]) -> Self {
        let mut cells = PointsByCell::new();
        for line in built {
            for point in &line.points {
                let (x, y) = (narrow(point.x), narrow(point.y));
                cells
                    .entry(cell(x, y))
                    .or_default()
                    .push((x, y, line.is_light));
            }
        }
        Self(cells)
    }

    fn hold(&self, blob: &Blob) -> bool {
        let (cx, cy) = cell(blob.x, blob.y);
        let cells = (cy - 1..=cy + 1).flat_map(|y| (cx - 1..=cx + 1).map(move |x| (x, y)));
        let mut points = cells.filter_map(|cell| self.0.get(&cell)).flatten();
        points.any(|(x, y, is_light)| {
            let (dx, dy) = (x - blob.x, y - blob.y);
            *is_light == (blob.contrast > 0.0) && dx * dx + dy * dy < ON_LINE * ON_LINE
        })
    }
}

fn cell(x: f32, y: f32) -> (i32, i32) {
    (floor_i32(x / CELL), floor_i32(y / CELL))
}
