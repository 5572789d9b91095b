//! Coverage of a round brush drawn along a line.

use super::{Stroke, around, short, shrunk};
use crate::geometry::{Point, Rect};
use crate::imaging::basics::wide::wide;
use crate::pixels::Plane;
use crate::pixels::convert::{clamp_index, coordinate, floor_f64};
use rayon::prelude::*;

/// Pixels that `stroke` can change when the picture is shrunk by the factor `shrink`.
pub(super) fn bounds(stroke: &Stroke, shrink: f32) -> Rect {
    if stroke.radius_px <= 0.0 {
        return Rect::default();
    }
    let points = stroke.points.iter().map(|point| shrunk(*point, shrink));
    around(points, stroke.radius_px * shrink + 0.5)
}

/// A straight piece of the stroke, with the radius at both ends.
#[derive(Debug, Clone, Copy)]
struct Piece {
    from: Point,
    to: Point,
    radius: [f32; 2],
}

/// Rows that one thread does on end, at least: a row alone is too little to hand over.
const ROWS_TOGETHER: usize = 8;

/// Coverage (strength left out) of `stroke` inside `rect` of a picture shrunk by the factor `shrink`.
///
/// Pieces are joined by the larger coverage, so a line that crosses itself is no darker there.
pub(super) fn cover(stroke: &Stroke, rect: Rect, shrink: f32) -> Plane {
    let mut out = Plane::zero(rect);
    if rect.is_empty() {
        return out;
    }
    let pieces = pieces(stroke, shrink);
    let softness = stroke.softness.clamp(0.0, 1.0);
    out.data
        .par_chunks_mut(rect.width())
        .enumerate()
        .with_min_len(ROWS_TOGETHER)
        .for_each(|(row, values)| {
            let y = f64::from(rect.y0 + coordinate(row)) + 0.5;
            wide(
                #[inline(always)]
                || {
                    for piece in &pieces {
                        piece.cover_row(y, rect.x0, values, softness);
                    }
                },
            );
        });
    out
}

fn pieces(stroke: &Stroke, shrink: f32) -> Vec<Piece> {
    let radius = |at: usize| {
        let pressure = stroke.pressure.get(at).copied().unwrap_or(1.0);
        stroke.radius_px * shrink * pressure.clamp(0.0, 1.0)
    };
    let point = |at: usize| shrunk(stroke.points[at], shrink);
    if stroke.points.len() == 1 {
        return vec![Piece {
            from: point(0),
            to: point(0),
            radius: [radius(0), radius(0)],
        }];
    }
    (1..stroke.points.len())
        .map(|at| Piece {
            from: point(at - 1),
            to: point(at),
            radius: [radius(at - 1), radius(at)],
        })
        .collect()
}

impl Piece {
    /// Raises `values`, the row at height `y` that starts at pixel `x0`, to this piece's coverage.
    #[inline(always)]
    fn cover_row(&self, y: f64, x0: i32, values: &mut [f32], softness: f32) {
        let reach = f64::from(self.radius[0].max(self.radius[1])) + 0.5;
        let Some((left, right)) = self.span(y, reach) else {
            return;
        };
        let first = clamp_index(floor_f64(left).saturating_sub(x0));
        let last =
            clamp_index(floor_f64(right).saturating_add(1).saturating_sub(x0)).min(values.len());
        if first >= last {
            return;
        }
        let along = (
            short(self.to.x - self.from.x),
            short(self.to.y - self.from.y),
        );
        let length = along.0 * along.0 + along.1 * along.1;
        let dy = short(y - self.from.y);
        let pixels = values[first..last].iter_mut().zip(x0 + coordinate(first)..);
        let pixels = pixels.map(|(value, x)| (value, short(f64::from(x) + 0.5 - self.from.x)));
        if length <= 0.0 {
            let edge = Edge::of(self.radius[0], softness);
            for (value, dx) in pixels {
                *value = value.max(edge.cover((dx * dx + dy * dy).sqrt()));
            }
            return;
        }
        let over = 1.0 / length;
        for (value, dx) in pixels {
            let t = ((dx * along.0 + dy * along.1) * over).clamp(0.0, 1.0);
            let (ex, ey) = (dx - t * along.0, dy - t * along.1);
            let radius = self.radius[0] + t * (self.radius[1] - self.radius[0]);
            *value = value.max(Edge::of(radius, softness).cover((ex * ex + ey * ey).sqrt()));
        }
    }

    /// Where the row at height `y` can lie within `reach` of this piece.
    fn span(&self, y: f64, reach: f64) -> Option<(f64, f64)> {
        let (upper, lower) = if self.from.y <= self.to.y {
            (self.from, self.to)
        } else {
            (self.to, self.from)
        };
        if y < upper.y - reach || y > lower.y + reach {
            return None;
        }
        let height = lower.y - upper.y;
        let at = |y: f64| {
            if height <= 0.0 {
                return None;
            }
            let t = ((y - upper.y) / height).clamp(0.0, 1.0);
            Some(upper.x + (lower.x - upper.x) * t)
        };
        let (a, b) = match (at(y - reach), at(y + reach)) {
            (Some(a), Some(b)) => (a, b),
            _ => (upper.x, lower.x),
        };
        Some((a.min(b) - reach, a.max(b) + reach))
    }
}

/// The edge of a brush of some radius.
///
/// A hard edge is the area of a pixel under a straight edge; as softness grows the edge widens inwards and bends into a smooth
/// shoulder. Brushes thinner than a pixel keep their area.
struct Edge {
    high: f32,
    width: f32,
    bend: f32,
    most: f32,
}

impl Edge {
    #[inline(always)]
    fn of(radius: f32, softness: f32) -> Self {
        let fade = radius * softness;
        let low = radius - fade - 0.5 * (1.0 - fade).max(0.0);
        let high = radius + 0.5 * (1.0 - fade).max(0.0);
        Self {
            high,
            width: high - low,
            bend: fade.min(1.0),
            most: (2.0 * radius).min(1.0),
        }
    }

    /// Coverage at `distance` from the middle, in pixels.
    #[inline(always)]
    fn cover(&self, distance: f32) -> f32 {
        let t = ((self.high - distance) / self.width).clamp(0.0, 1.0);
        let bent = t * t * (3.0 - 2.0 * t);
        (t + (bent - t) * self.bend) * self.most
    }
}
