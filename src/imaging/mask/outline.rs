//! Coverage of the inside of a closed line, by exact areas.
//!
//! For each pixel the signed area to the right of every edge is added up (M. Levoy's and later scan converters' accumulation
//! buffer), in whole numbers: the order of addition and the start of the row then make no difference.

use super::{Outline, around, shrunk};
use crate::geometry::{Point, Rect};
use crate::imaging::basics::edges::{soften, soften_reach};
use crate::pixels::Plane;
use crate::pixels::convert::{clamp_index, coordinate, count_f64, floor_f64, floor_index, narrow};
use rayon::prelude::*;

/// Parts of a pixel's area that count as one in the sums.
const WHOLE: f64 = 16_777_216.0;
/// Steps per pixel to which corners are moved in y, so that the heights of opposite edges cancel exactly.
const STEPS: f64 = 65536.0;
/// Largest distance between a bend and its straight pieces, in pixels.
const FLATNESS: f64 = 0.02;

/// Pixels that `outline` can change when the picture is shrunk by the factor `shrink`.
pub(super) fn bounds(outline: &Outline, shrink: f32) -> Rect {
    if outline.nodes.len() < 2 {
        return Rect::default();
    }
    // A bend stays within the hull of its corners and control points.
    let points = outline.nodes.iter().flat_map(|node| {
        [Some(node.at), node.arrive, node.leave]
            .into_iter()
            .flatten()
            .map(|point| shrunk(point, shrink))
    });
    around(points, 1.0).grow(soften_reach(outline.feather_px * shrink))
}

/// Coverage (strength left out) of `outline` inside `rect` of a picture shrunk by the factor `shrink`.
pub(super) fn cover(outline: &Outline, rect: Rect, shrink: f32) -> Plane {
    let feather = outline.feather_px * shrink;
    let work = rect.grow(soften_reach(feather));
    let edges = flatten(outline, shrink);
    soften(&fill(&edges, work), feather).crop(rect)
}

type Edge = [Point; 2];

fn flatten(outline: &Outline, shrink: f32) -> Vec<Edge> {
    let mut edges = Vec::new();
    let nodes = &outline.nodes;
    for (index, node) in nodes.iter().enumerate() {
        let next = &nodes[(index + 1) % nodes.len()];
        let from = shrunk(node.at, shrink);
        let to = shrunk(next.at, shrink);
        if node.leave.is_none() && next.arrive.is_none() {
            edges.push([settle(from), settle(to)]);
            continue;
        }
        let control = [
            from,
            node.leave.map_or(from, |point| shrunk(point, shrink)),
            next.arrive.map_or(to, |point| shrunk(point, shrink)),
            to,
        ];
        let pieces = pieces_needed(&control);
        let mut last = settle(from);
        for piece in 1..=pieces {
            let here = settle(bend(&control, count_f64(piece) / count_f64(pieces)));
            edges.push([last, here]);
            last = here;
        }
    }
    edges
}

/// The corner moved to the grid of heights.
fn settle(point: Point) -> Point {
    Point::new(point.x, (point.y * STEPS).round() / STEPS)
}

/// Straight pieces that keep a cubic within the flatness (Wang 1984).
fn pieces_needed(control: &[Point; 4]) -> usize {
    let second = |a: Point, b: Point, c: Point| {
        let (x, y) = (a.x - 2.0 * b.x + c.x, a.y - 2.0 * b.y + c.y);
        (x * x + y * y).sqrt()
    };
    let most =
        second(control[0], control[1], control[2]).max(second(control[1], control[2], control[3]));
    floor_index((0.75 * most / FLATNESS).sqrt().ceil()).clamp(1, 1000)
}

fn bend(control: &[Point; 4], t: f64) -> Point {
    if t >= 1.0 {
        return control[3];
    }
    let s = 1.0 - t;
    let weights = [s * s * s, 3.0 * s * s * t, 3.0 * s * t * t, t * t * t];
    let mut sum = Point::default();
    for (weight, point) in weights.iter().zip(control) {
        sum.x += weight * point.x;
        sum.y += weight * point.y;
    }
    sum
}

fn fill(edges: &[Edge], rect: Rect) -> Plane {
    let mut out = Plane::zero(rect);
    let width = rect.width();
    if width == 0 {
        return out;
    }
    // Edges of a band of rows are picked once, so that long outlines do not cost their length in every row.
    const BAND: usize = 16;
    out.data
        .par_chunks_mut(width * BAND)
        .enumerate()
        .for_each(|(band, values)| {
            let top = rect.y0 + coordinate(band * BAND);
            let bottom = top + coordinate(values.len() / width);
            let near: Vec<&Edge> = edges
                .iter()
                .filter(|[a, b]| a.y.min(b.y) < f64::from(bottom) && a.y.max(b.y) > f64::from(top))
                .collect();
            if near.is_empty() {
                return;
            }
            let mut steps = vec![0_i64; width + 1];
            for (row, values) in values.chunks_mut(width).enumerate() {
                steps.fill(0);
                for edge in &near {
                    add_edge(edge, top + coordinate(row), rect.x0, &mut steps);
                }
                let mut area = 0_i64;
                for (value, step) in values.iter_mut().zip(&steps) {
                    area += step;
                    *value = unit(area);
                }
            }
        });
    out
}

/// A sum of areas as coverage. More than one turn round a place counts once.
fn unit(area: i64) -> f32 {
    #[expect(clippy::cast_precision_loss, reason = "sums stay far below 2^53")]
    let share = area.abs() as f64 / WHOLE;
    narrow(share.min(1.0))
}

/// Adds to `steps` what the area right of `edge` in row `y` changes from pixel to pixel, from pixel `x0` on.
fn add_edge(edge: &Edge, y: i32, x0: i32, steps: &mut [i64]) {
    let [a, b] = *edge;
    let (upper, lower, sign) = if a.y <= b.y { (a, b, 1) } else { (b, a, -1) };
    let top = f64::from(y).max(upper.y);
    let bottom = f64::from(y + 1).min(lower.y);
    let height = bottom - top;
    if height <= 0.0 {
        return;
    }
    let slope = (lower.x - upper.x) / (lower.y - upper.y);
    let (xa, xb) = (
        upper.x + (top - upper.y) * slope,
        upper.x + (bottom - upper.y) * slope,
    );
    let (left, right) = (xa.min(xb), xa.max(xb));
    let whole = sign * parts(height);
    let first = floor_f64(left).saturating_sub(x0);
    let last = floor_f64(right).saturating_sub(x0);
    if first >= coordinate(steps.len()) {
        return;
    }
    if last < 0 {
        steps[0] += whole;
        return;
    }
    // Area left of the vertical at u and right of the edge.
    let before = |u: f64| {
        if u <= left {
            0.0
        } else if u >= right {
            height * (u - f64::midpoint(left, right))
        } else {
            height * (u - left) * (u - left) / (2.0 * (right - left))
        }
    };
    let mut so_far = 0_i64;
    for at in first.max(0)..=last {
        let Some(step) = steps.get_mut(clamp_index(at)) else {
            return;
        };
        let x = f64::from(x0.saturating_add(at));
        let here = sign * parts(before(x + 1.0) - before(x));
        *step += here - so_far;
        so_far = here;
    }
    if let Some(step) = steps.get_mut(clamp_index(last + 1)) {
        *step += whole - so_far;
    }
}

/// An area as a whole number of parts.
fn parts(area: f64) -> i64 {
    #[expect(
        clippy::cast_possible_truncation,
        reason = "an area within a pixel is at most 1"
    )]
    let whole = (area * WHOLE).round() as i64;
    whole
}
