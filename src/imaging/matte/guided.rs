//! The edge of a matte drawn after the picture.
//!
//! Where a backdrop shows through, light lies between the model's and the backdrop's, and coverage is a straight function of it in every
//! small window: a guided filter (He, Sun and Tang 2013, equations 14 to 16 for a guide of three channels) brings a coverage to that. Only
//! tiles that hold some of the edge are worked on.

use crate::geometry::Rect;
use crate::pixels::convert::{clamp_index, coordinate, count_f64, narrow};
use crate::pixels::{Plane, Planes};
use rayon::prelude::*;

/// Half a window's side, px; and the variance of light in it, squared, below which a window counts as flat. Chosen on scenes of textures
/// 101 to 103 (`tests/mattes.rs` has others): half sides of 2 and 7 px and a tenth or ten times the variance do worse.
const WINDOW_PX: i32 = 4;
const FLAT: f64 = 1e-5;
/// Side of a tile, px; no value depends on it.
const TILE: i32 = 64;
/// Numbers whose means are taken in windows: light, coverage, products of light, light by coverage.
const SUMS: usize = 3 + 1 + 6 + 3;

/// A photo and its bare backdrop, over the same rectangle.
#[derive(Clone, Copy)]
pub(super) struct Before<'a> {
    pub(super) seen: &'a Planes,
    pub(super) backdrop: &'a Planes,
}

impl Before<'_> {
    /// What the photo has over the backdrop.
    fn light(self, at: usize) -> [f64; 3] {
        let (seen, backdrop) = (self.seen.pixel(at), self.backdrop.pixel(at));
        std::array::from_fn(|channel| f64::from(seen[channel] - backdrop[channel]))
    }
}

/// `coverage` with every pixel for which `is_edge` holds (by its place in the plane) as a straight function of the light about it.
///
/// *Edge*: windows end at the border.
pub(super) fn guided(
    coverage: &Plane,
    before: Before<'_>,
    is_edge: impl Fn(usize) -> bool + Sync,
) -> Plane {
    let whole = coverage.rect;
    let starts = |low: i32, high: i32| (low..high).step_by(clamp_index(TILE));
    let tiles: Vec<Rect> = starts(whole.y0, whole.y1)
        .flat_map(|y| starts(whole.x0, whole.x1).map(move |x| (x, y)))
        .map(|(x, y)| Rect::new(x, y, x + TILE, y + TILE).intersect(whole))
        .collect();
    let drawn: Vec<Vec<(usize, f32)>> = tiles
        .into_par_iter()
        .map(|tile| {
            let edge: Vec<usize> = places(whole, tile).filter(|at| is_edge(*at)).collect();
            (tile, edge)
        })
        .filter(|(_, edge)| !edge.is_empty())
        .map(|(tile, edge)| of_tile(coverage, before, (tile, &edge)))
        .collect();
    let mut out = coverage.clone();
    for (at, value) in drawn.into_iter().flatten() {
        out.data[at] = value;
    }
    out
}

/// The pixels of `part` by their places in a plane over `whole`.
fn places(whole: Rect, part: Rect) -> impl Iterator<Item = usize> {
    (part.y0..part.y1).flat_map(move |y| (part.x0..part.x1).map(move |x| whole.index(x, y)))
}

/// The new coverage of the places `edge` of one tile.
fn of_tile(
    coverage: &Plane,
    before: Before<'_>,
    (tile, edge): (Rect, &[usize]),
) -> Vec<(usize, f32)> {
    let whole = coverage.rect;
    let fitted = tile.grow(WINDOW_PX).intersect(whole);
    let needed = fitted.grow(WINDOW_PX).intersect(whole);
    let products = places(whole, needed).map(|at| {
        let ([r, g, b], cover) = (before.light(at), f64::from(coverage.data[at]));
        [
            r,
            g,
            b,
            cover,
            r * r,
            r * g,
            r * b,
            g * g,
            g * b,
            b * b,
            r * cover,
            g * cover,
            b * cover,
        ]
    });
    let means = means::<SUMS>(&products.collect::<Vec<_>>(), needed, fitted);
    let lines: Vec<[f64; 4]> = means.iter().map(line).collect();
    let lines = self::means::<4>(&lines, fitted, tile);
    let width = whole.width();
    let value = |at: &usize| {
        let (x, y) = (coordinate(at % width), coordinate(at / width));
        let [r, g, b, rest] = lines[tile.index(whole.x0 + x, whole.y0 + y)];
        let light = before.light(*at);
        let value = r * light[0] + g * light[1] + b * light[2] + rest;
        (*at, narrow(value.clamp(0.0, 1.0)))
    };
    edge.iter().map(value).collect()
}

/// Coverage as a straight function of light in one window: its slopes by channel and its value without light.
fn line(means: &[f64; SUMS]) -> [f64; 4] {
    let [r, g, b, cover, rr, rg, rb, gg, gb, bb, rc, gc, bc] = *means;
    // Variances and covariances; light that hardly varies has no say.
    let (rr, gg, bb) = (rr - r * r + FLAT, gg - g * g + FLAT, bb - b * b + FLAT);
    let (rg, rb, gb) = (rg - r * g, rb - r * b, gb - g * b);
    let with = [rc - r * cover, gc - g * cover, bc - b * cover];
    // The inverse by cofactors: the matrix is symmetric.
    let (ir, ig, ib) = (gg * bb - gb * gb, rb * gb - rg * bb, rg * gb - rb * gg);
    let (jg, jb, kb) = (rr * bb - rb * rb, rg * rb - rr * gb, rr * gg - rg * rg);
    let over = 1.0 / (rr * ir + rg * ig + rb * ib);
    let slope = [
        (ir * with[0] + ig * with[1] + ib * with[2]) * over,
        (ig * with[0] + jg * with[1] + jb * with[2]) * over,
        (ib * with[0] + jb * with[1] + kb * with[2]) * over,
    ];
    let rest = cover - slope[0] * r - slope[1] * g - slope[2] * b;
    [slope[0], slope[1], slope[2], rest]
}

/// Means of `values` (over `of`) in the window about each pixel of `wanted`, as far as `of` reaches.
fn means<const N: usize>(values: &[[f64; N]], of: Rect, wanted: Rect) -> Vec<[f64; N]> {
    let window =
        |at: i32, low: i32, high: i32| (at - WINDOW_PX).max(low)..(at + WINDOW_PX + 1).min(high);
    let added = |sum: &mut [f64; N], value: &[f64; N]| {
        sum.iter_mut()
            .zip(value)
            .for_each(|(sum, value)| *sum += value);
    };
    let mut across = Vec::with_capacity(of.height() * wanted.width());
    for y in of.y0..of.y1 {
        for x in wanted.x0..wanted.x1 {
            let mut sum = [0.0; N];
            window(x, of.x0, of.x1).for_each(|x| added(&mut sum, &values[of.index(x, y)]));
            across.push(sum);
        }
    }
    let rows = Rect::new(wanted.x0, of.y0, wanted.x1, of.y1);
    let mut out = Vec::with_capacity(wanted.area());
    for y in wanted.y0..wanted.y1 {
        for x in wanted.x0..wanted.x1 {
            let mut sum = [0.0; N];
            let (down, wide) = (window(y, of.y0, of.y1), window(x, of.x0, of.x1).len());
            let share = 1.0 / count_f64(down.len() * wide);
            down.for_each(|y| added(&mut sum, &across[rows.index(x, y)]));
            out.push(sum.map(|sum| sum * share));
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    const PAGE: Rect = Rect::new(-20, -10, 130, 90);

    /// Coverage that falls from left to right, and light that follows it: two paints, one to a half, before light of 0.2.
    fn scene() -> (Plane, Planes) {
        let cover = Plane::from_fn(PAGE, |x, _| {
            (0.5 - crate::pixels::convert::small_f32(x - 55) / 8.0).clamp(0.0, 1.0)
        });
        let paint = |upper: f32, lower: f32| {
            Plane::from_fn(PAGE, |x, y| {
                0.2 + cover.at(x, y) * if y < 40 { upper } else { lower }
            })
        };
        let rgb = [paint(0.4, 0.1), paint(0.3, 0.25), paint(0.2, 0.5)];
        (cover, Planes { rgb })
    }

    fn found(coverage: &Plane, seen: &Planes, is_edge: impl Fn(usize) -> bool + Sync) -> Plane {
        let backdrop = Planes {
            rgb: [(); 3].map(|()| Plane::filled(PAGE, 0.2)),
        };
        let backdrop = &backdrop;
        guided(coverage, Before { seen, backdrop }, is_edge)
    }

    #[test]
    fn an_edge_drawn_too_steep_becomes_as_soft_as_its_light() {
        let (truth, light) = scene();
        let steep = truth.map(|cover| ((cover - 0.5) * 3.0 + 0.5).clamp(0.0, 1.0));
        let is_edge = |at: usize| (0.01..0.99).contains(&truth.data[at]);
        let found = found(&steep, &light, is_edge);
        let off = |plane: &Plane| {
            let all = plane.data.iter().zip(&truth.data).enumerate();
            let edge = all.filter(|(at, _)| is_edge(*at));
            edge.map(|(_, (a, b))| (a - b).abs()).sum::<f32>()
        };
        assert!(
            off(&found) < 0.5 * off(&steep),
            "{} {}",
            off(&found),
            off(&steep)
        );
        for (at, (found, steep)) in found.data.iter().zip(&steep.data).enumerate() {
            assert!(is_edge(at) || found.to_bits() == steep.to_bits());
        }
    }

    #[test]
    fn what_is_a_straight_function_of_light_stays() {
        let (truth, light) = scene();
        let found = found(&truth, &light, |_| true);
        for (y, limit) in [(15, 2e-3), (75, 2e-3)] {
            for x in PAGE.x0..PAGE.x1 {
                let off = (found.at(x, y) - truth.at(x, y)).abs();
                assert!(off < limit, "({x}, {y}): {off}");
            }
        }
    }
}
