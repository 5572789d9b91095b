//! What comes again at even distances is built, not fallen: rivets, windows, grilles.

use super::blobs::{Blob, confidence};
use super::ridges::BuiltLine;
use super::{Found, Kind};
use crate::geometry::Point;
use crate::pixels::convert::{floor_i32, narrow};
use std::collections::BTreeMap;

/// How far apart neighbours of one row lie at most, px.
const FARTHEST: f32 = 64.0;
/// Nearest neighbours of a row, px.
const NEAREST: f32 = 3.0;
/// How far a member may lie from where an even row would have it: a part of the distance of neighbours, pixels, and pixels more for each
/// step away.
const UNEVEN: (f32, f32, f32) = (0.02, 0.8, 0.4);
/// Places in a row besides the next one, in steps, and how many of all must be taken.
const ROW: [f32; 5] = [-3.0, -2.0, -1.0, 2.0, 3.0];
const ROW_OF: usize = 3;
/// Contrasts of one row differ by this factor at most, and sizes by this one.
const ALIKE: (f32, f32) = (1.7, 1.7);
/// The same for members of one line, how far those lie beside it at most (px), and how many there are besides the one asked about.
const ROUGHLY: (f32, f32) = (2.2, 2.3);
const OFF_LINE: f32 = 1.3;
const IN_LINE: usize = 5;
/// Evidence from which on a blob counts as a member of a row.
const MEMBER: f32 = -3.0;

/// The blobs that stand alone, as finds; rows of like ones and what lies on hairs are left out.
pub(super) fn without(blobs: Vec<Blob>, hairs: &[Found], built: &[BuiltLine]) -> Vec<Found> {
    let blobs = strongest(blobs);
    let lines = Lines::new(built);
    let cells = Cells::new(&blobs);
    let mut found = Vec::new();
    for (number, blob) in blobs.iter().enumerate() {
        let sure = confidence(blob);
        if sure < 0.05 || lies_on(blob, hairs) || lines.hold(blob) || cells.repeats(&blobs, number)
        {
            continue;
        }
        found.push(Found {
            kind: Kind::Dust,
            points: vec![Point::new(f64::from(blob.x), f64::from(blob.y))],
            width_px: 3.6 * blob.sigma,
            confidence: sure,
        });
    }
    found
}

/// Of blobs found at one place in several sizes, the one with most evidence.
fn strongest(mut blobs: Vec<Blob>) -> Vec<Blob> {
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

fn lies_on(blob: &Blob, hairs: &[Found]) -> bool {
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

/// Blobs by where they lie.
struct Cells(BTreeMap<(i32, i32), Vec<usize>>);

impl Cells {
    fn new(blobs: &[Blob]) -> Self {
        let mut cells: BTreeMap<(i32, i32), Vec<usize>> = BTreeMap::new();
        for (number, blob) in blobs.iter().enumerate() {
            if blob.evidence >= MEMBER {
                cells.entry(cell(blob.x, blob.y)).or_default().push(number);
            }
        }
        Self(cells)
    }

    fn near(&self, x: f32, y: f32) -> impl Iterator<Item = usize> {
        let (cx, cy) = cell(x, y);
        let cells = (cy - 1..=cy + 1).flat_map(move |y| (cx - 1..=cx + 1).map(move |x| (x, y)));
        cells
            .filter_map(|cell| self.0.get(&cell))
            .flatten()
            .copied()
    }

    /// Whether a blob is one of an even row of like ones: of the six places next to it in the row, three are taken.
    fn repeats(&self, blobs: &[Blob], number: usize) -> bool {
        let blob = &blobs[number];
        if self.in_line(blobs, number) {
            return true;
        }
        self.near(blob.x, blob.y).any(|other| {
            let next = &blobs[other];
            let (dx, dy) = (next.x - blob.x, next.y - blob.y);
            let apart = (dx * dx + dy * dy).sqrt();
            if other == number || !(NEAREST..=FARTHEST).contains(&apart) || !alike(blob, next) {
                return false;
            }
            let hits = ROW.iter().filter(|step| {
                let along = **step;
                let slack = UNEVEN.0 * apart + UNEVEN.1 + UNEVEN.2 * along.abs();
                let place = (blob.x + along * dx, blob.y + along * dy);
                self.like_at(blobs, blob, (place, slack))
            });
            1 + hits.count() >= ROW_OF
        })
    }

    /// Whether a blob lies on one straight line with several others of about its kind, evenly spaced or not.
    fn in_line(&self, blobs: &[Blob], number: usize) -> bool {
        let blob = &blobs[number];
        let near: Vec<(f32, f32)> = self
            .near(blob.x, blob.y)
            .filter(|other| *other != number && roughly_alike(blob, &blobs[*other]))
            .map(|other| (blobs[other].x - blob.x, blobs[other].y - blob.y))
            .filter(|(dx, dy)| {
                let apart = dx * dx + dy * dy;
                (NEAREST * NEAREST..=FARTHEST * FARTHEST).contains(&apart)
            })
            .collect();
        near.iter().any(|(dx, dy)| {
            let length = (dx * dx + dy * dy).sqrt();
            let beside = |(x, y): &&(f32, f32)| (x * dy - y * dx).abs() <= OFF_LINE * length;
            near.iter().filter(beside).count() >= IN_LINE
        })
    }

    fn like_at(&self, blobs: &[Blob], blob: &Blob, ((x, y), slack): ((f32, f32), f32)) -> bool {
        self.near(x, y).any(|other| {
            let other = &blobs[other];
            let (dx, dy) = (other.x - x, other.y - y);
            dx * dx + dy * dy <= slack * slack && alike(blob, other)
        })
    }
}

fn cell(x: f32, y: f32) -> (i32, i32) {
    (floor_i32(x / FARTHEST), floor_i32(y / FARTHEST))
}

fn roughly_alike(one: &Blob, other: &Blob) -> bool {
    let ratio = |a: f32, b: f32| (a / b).max(b / a);
    one.contrast * other.contrast > 0.0
        && ratio(one.contrast, other.contrast) <= ROUGHLY.0
        && ratio(one.sigma, other.sigma) <= ROUGHLY.1
}

fn alike(one: &Blob, other: &Blob) -> bool {
    let ratio = |a: f32, b: f32| (a / b).max(b / a);
    one.contrast * other.contrast > 0.0
        && ratio(one.contrast, other.contrast) <= ALIKE.0
        && ratio(one.sigma, other.sigma) <= ALIKE.1
}

#[cfg(test)]
mod tests {
    use super::*;

    fn blob(x: f32, y: f32) -> Blob {
        Blob {
            x,
            y,
            sigma: 1.3,
            contrast: -0.05,
            evidence: 2.0,
        }
    }

    #[test]
    fn a_row_is_left_out_and_a_grain_beside_it_stays() {
        let mut blobs: Vec<Blob> = (0_u8..8)
            .map(|at| blob(20.0 + 11.0 * f32::from(at), 40.0))
            .collect();
        blobs.push(blob(47.0, 61.0));
        let found = without(blobs, &[], &[]);
        assert_eq!(found.len(), 1, "{found:?}");
        assert!((found[0].points[0].y - 61.0).abs() < 1e-6, "the grain");
    }
}
