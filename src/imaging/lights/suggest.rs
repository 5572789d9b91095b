//! Where practicals are: outlines round what a light pass shows significantly brighter, for a mask that people can go on editing.

use crate::geometry::{Point, Rect};
use crate::imaging::basics::blur::gaussian;
use crate::imaging::basics::statistics::percentile;
use crate::pixels::convert::{clamp_index, coordinate, count_f32};
use crate::pixels::{Plane, Planes};

/// A closed line round a lit area, in pixels of the planes handed in.
#[derive(Debug, Clone, PartialEq)]
pub struct LitArea {
    /// Its corners, clockwise as seen.
    pub outline: Vec<Point>,
    /// All light inside.
    pub light: f32,
}

/// Deviations of the smoothed light's noise that a lit pixel stands out by.
const DEVIATIONS: f32 = 5.0;
/// Share of what lamps give (the upper end of all significant light) below which light counts as thrown on the model, not as a lamp.
const LAMP_SHARE: f32 = 0.12;
/// Least light of a lit pixel.
const LEAST_LIGHT: f32 = 4e-3;
/// Sigma of the smoothing, and what it leaves of white noise's variance: 1 / (4 pi sigma^2).
const SMOOTH_PX: f32 = 1.0;
const SMOOTHED: f32 = 0.079_58;
/// Areas of fewer pixels are noise; holes of fewer pixels are closed.
const LEAST_AREA: usize = 4;
const LEAST_HOLE: usize = 60;
/// Most areas that are proposed: the ones with the most light.
const MOST_AREAS: usize = 80;
/// Distance in pixels by which an outline may leave the pixels' edges.
const FLATNESS: f64 = 0.8;

/// Areas that are lit in `light` (signed) beyond its noise of `variance`, brightest first, each as one outline. Works on planes of up to
/// a few million pixels; hand in smaller ones of large pictures.
#[must_use]
pub fn lit_areas(light: &Planes, variance: &Planes) -> Vec<LitArea> {
    let rect = light.rect();
    if rect.is_empty() {
        return Vec::new();
    }
    let shade = gaussian(&mean(light), SMOOTH_PX);
    let noise = mean(variance);
    let stands_out = |at: usize| {
        let deviation = (noise.data[at].max(0.0) * SMOOTHED / 3.0).sqrt();
        shade.data[at] > (DEVIATIONS * deviation).max(LEAST_LIGHT)
    };
    let significant: Vec<f32> = (0..shade.data.len())
        .filter(|at| stands_out(*at))
        .map(|at| shade.data[at])
        .collect();
    let Some(lamps) = percentile(&significant, 0.95) else {
        return Vec::new();
    };
    let mut lit: Vec<bool> = (0..shade.data.len())
        .map(|at| stands_out(at) && shade.data[at] > LAMP_SHARE * lamps)
        .collect();
    close_holes(&mut lit, rect);
    let mut areas: Vec<LitArea> = pieces(&lit, rect, Touch::Corners)
        .into_iter()
        .filter(|piece| piece.len() >= LEAST_AREA)
        .map(|piece| area(&piece, rect, &shade))
        .collect();
    areas.sort_by(|a, b| b.light.total_cmp(&a.light));
    areas.truncate(MOST_AREAS);
    areas
}

fn mean(planes: &Planes) -> Plane {
    let mut sum = planes.rgb[0].clone();
    for (at, value) in sum.data.iter_mut().enumerate() {
        *value = planes.pixel(at).iter().sum::<f32>() / 3.0;
    }
    sum
}

/// Which neighbours belong together.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Touch {
    Sides,
    Corners,
}

fn close_holes(lit: &mut [bool], rect: Rect) {
    let dark: Vec<bool> = lit.iter().map(|lit| !lit).collect();
    for piece in pieces(&dark, rect, Touch::Sides) {
        if piece.len() < LEAST_HOLE {
            for at in piece {
                lit[at] = true;
            }
        }
    }
}

/// The connected pieces of the pixels that are `wanted`, from the top down; indices in each.
fn pieces(wanted: &[bool], rect: Rect, touch: Touch) -> Vec<Vec<usize>> {
    let (width, height) = (rect.width(), rect.height());
    let mut seen: Vec<bool> = wanted.iter().map(|wanted| !wanted).collect();
    let mut pieces = Vec::new();
    for first in 0..wanted.len() {
        if seen[first] {
            continue;
        }
        let mut piece = vec![first];
        seen[first] = true;
        let mut next = 0;
        while let Some(at) = piece.get(next).copied() {
            next += 1;
            let (x, y) = (coordinate(at % width), coordinate(at / width));
            for (dx, dy) in [
                (-1, -1),
                (0, -1),
                (1, -1),
                (-1, 0),
                (1, 0),
                (-1, 1),
                (0, 1),
                (1, 1),
            ] {
                let inside = (0..coordinate(width)).contains(&(x + dx))
                    && (0..coordinate(height)).contains(&(y + dy));
                if !inside || (touch == Touch::Sides && dx != 0 && dy != 0) {
                    continue;
                }
                let other = clamp_index(y + dy) * width + clamp_index(x + dx);
                if !seen[other] {
                    seen[other] = true;
                    piece.push(other);
                }
            }
        }
        pieces.push(piece);
    }
    pieces
}

fn area(piece: &[usize], rect: Rect, shade: &Plane) -> LitArea {
    let width = rect.width();
    let inside: std::collections::BTreeSet<(i32, i32)> = piece
        .iter()
        .map(|at| (coordinate(at % width), coordinate(at / width)))
        .collect();
    let corners = border(&inside);
    let outline = simplified(&corners)
        .iter()
        .map(|(x, y)| Point::new(f64::from(x + rect.x0), f64::from(y + rect.y0)))
        .collect();
    LitArea {
        outline,
        light: piece.iter().map(|at| shade.data[*at]).sum(),
    }
}

/// The outer border of a piece along its pixels' edges, clockwise as seen, as pixel corners.
fn border(inside: &std::collections::BTreeSet<(i32, i32)>) -> Vec<(i32, i32)> {
    let Some(start) = inside.iter().min_by_key(|(x, y)| (*y, *x)).copied() else {
        return Vec::new();
    };
    // Directions right, down, left, up; the piece lies on the right hand.
    const STEPS: [(i32, i32); 4] = [(1, 0), (0, 1), (-1, 0), (0, -1)];
    // Pixels ahead of a corner, on the left and on the right hand, for each direction.
    const AHEAD: [[(i32, i32); 2]; 4] = [
        [(0, -1), (0, 0)],
        [(0, 0), (-1, 0)],
        [(-1, 0), (-1, -1)],
        [(-1, -1), (0, -1)],
    ];
    let (mut at, mut way) = (start, 0_usize);
    let mut corners = Vec::new();
    // No border is longer than four edges for every pixel.
    for _ in 0..4 * inside.len() + 4 {
        let there = |(dx, dy): (i32, i32)| inside.contains(&(at.0 + dx, at.1 + dy));
        let [left, right] = AHEAD[way].map(there);
        let turned = match (left, right) {
            // Pieces hold together over corners, so a diagonal neighbour is followed.
            (true, _) => (way + 3) % 4,
            (false, true) => way,
            (false, false) => (way + 1) % 4,
        };
        if turned != way || corners.is_empty() {
            corners.push(at);
        }
        way = turned;
        at = (at.0 + STEPS[way].0, at.1 + STEPS[way].1);
        if at == start && (way == 3 || inside.len() == 1) {
            break;
        }
    }
    corners
}

/// The line with fewer corners, nowhere further than the flatness from the one given (Douglas and Peucker 1973).
fn simplified(corners: &[(i32, i32)]) -> Vec<(i32, i32)> {
    if corners.len() < 5 {
        return corners.to_vec();
    }
    let far = (0..corners.len())
        .max_by_key(|at| squared(corners[0], corners[*at]))
        .unwrap_or(0);
    let mut keep = vec![false; corners.len() + 1];
    keep[0] = true;
    keep[far] = true;
    let closed: Vec<(i32, i32)> = corners.iter().chain([&corners[0]]).copied().collect();
    let mut waiting = vec![(0, far), (far, corners.len())];
    while let Some((from, to)) = waiting.pop() {
        let apart = |at: usize| distance(closed[at], closed[from], closed[to]);
        let worst = (from + 1..to).max_by(|a, b| apart(*a).total_cmp(&apart(*b)));
        if let Some(worst) = worst.filter(|worst| apart(*worst) > FLATNESS) {
            keep[worst] = true;
            waiting.extend([(from, worst), (worst, to)]);
        }
    }
    let kept: Vec<(i32, i32)> = (0..corners.len())
        .filter(|at| keep[*at])
        .map(|at| corners[at])
        .collect();
    if kept.len() < 3 {
        corners.to_vec()
    } else {
        kept
    }
}

fn squared(a: (i32, i32), b: (i32, i32)) -> i64 {
    let (dx, dy) = (i64::from(a.0 - b.0), i64::from(a.1 - b.1));
    dx * dx + dy * dy
}

/// Distance of a corner from the straight piece between two others.
fn distance(at: (i32, i32), from: (i32, i32), to: (i32, i32)) -> f64 {
    let point = |(x, y): (i32, i32)| Point::new(f64::from(x), f64::from(y));
    let (at, from, to) = (point(at), point(from), point(to));
    let length = from.distance(to);
    if length <= 0.0 {
        return at.distance(from);
    }
    ((to.x - from.x) * (from.y - at.y) - (from.x - at.x) * (to.y - from.y)).abs() / length
}

/// Blocks where light is missing that was never there: a plate's edges show beside themselves as dark rims, because the passes do not
/// lie on each other.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ghost {
    /// Where.
    pub rect: Rect,
    /// Share of its pixels that are darker than noise allows, 0..=1.
    pub share: f32,
}

/// Side in pixels of the blocks that are looked at.
const GHOST_SIDE: i32 = 48;
/// Deviations below 0 that noise does not reach, and the share of the plate's light close by that must be missing besides: sampling
/// between pixels is not perfect at hard edges.
const GHOST_DEVIATIONS: f32 = 5.0;
const GHOST_MISSING: f32 = 0.06;
/// Share of such pixels that makes a block a ghost.
const GHOST_SHARE: f32 = 0.01;

/// The brightest value within two pixels along rows and columns.
fn brightest_near(plane: &Plane) -> Plane {
    let along = |from: &Plane, dx: i32, dy: i32| {
        Plane::from_fn(from.rect, |x, y| {
            let near = |step: i32| from.nearest(x + step * dx, y + step * dy);
            (-2..=2).map(near).fold(0.0, f32::max)
        })
    };
    along(&along(plane, 1, 0), 0, 1)
}

/// Where lit detail doubles: blocks in which separated light is negative beyond its noise, at edges of `unlit`. Worst first.
#[must_use]
pub fn ghosts(light: &Planes, variance: &Planes, unlit: &Plane) -> Vec<Ghost> {
    let rect = light.rect();
    let (shade, noise) = (mean(light), mean(variance));
    let near = brightest_near(unlit);
    let mut found = Vec::new();
    for y0 in (rect.y0..rect.y1).step_by(clamp_index(GHOST_SIDE)) {
        for x0 in (rect.x0..rect.x1).step_by(clamp_index(GHOST_SIDE)) {
            let block = Rect::new(x0, y0, x0 + GHOST_SIDE, y0 + GHOST_SIDE).intersect(rect);
            let mut missing = 0;
            for y in block.y0..block.y1 {
                for x in block.x0..block.x1 {
                    let at = rect.index(x, y);
                    let deviation = (noise.data[at].max(0.0) / 3.0).sqrt();
                    let allowed = GHOST_DEVIATIONS * deviation + GHOST_MISSING * near.data[at];
                    missing += usize::from(shade.data[at] < -allowed);
                }
            }
            let share = count_f32(missing) / count_f32(block.area().max(1));
            if share > GHOST_SHARE {
                found.push(Ghost { rect: block, share });
            }
        }
    }
    found.sort_by(|a, b| b.share.total_cmp(&a.share));
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::imaging::basics::random::{bits_at, normal};
    use crate::pixels::convert::narrow;

    const RECT: Rect = Rect::new(0, 0, 160, 120);

    fn scene(lamp: impl Fn(i32, i32) -> f32) -> (Planes, Planes) {
        let plane = |seed: u64| {
            Plane::from_fn(RECT, |x, y| {
                lamp(x, y) + 0.004 * narrow(normal(bits_at(seed, x, y)))
            })
        };
        let light = Planes {
            rgb: [plane(1), plane(2), plane(3)],
        };
        let variance = Planes {
            rgb: [0, 1, 2].map(|_| Plane::filled(RECT, 1.6e-5)),
        };
        (light, variance)
    }

    fn shoelace(outline: &[Point]) -> f64 {
        let next = |at: usize| outline[(at + 1) % outline.len()];
        (0..outline.len())
            .map(|at| 0.5 * (outline[at].x * next(at).y - next(at).x * outline[at].y))
            .sum()
    }

    #[test]
    fn lamps_are_outlined_and_spill_and_noise_are_not() {
        let (light, variance) = scene(|x, y| {
            let window = (20..50).contains(&x) && (30..40).contains(&y);
            let disc = (x - 110) * (x - 110) + (y - 70) * (y - 70) <= 144;
            let spill = if y > 100 { 0.01 } else { 0.0 };
            if window || disc { 0.6 } else { spill }
        });
        let areas = lit_areas(&light, &variance);
        assert_eq!(areas.len(), 2, "{areas:?}");
        let disc = shoelace(&areas[0].outline);
        let window = shoelace(&areas[1].outline);
        assert!((disc / 452.0 - 1.0).abs() < 0.3, "{disc}");
        assert!((window / 300.0 - 1.0).abs() < 0.35, "{window}");
        assert!(areas[0].outline.len() < 40, "{}", areas[0].outline.len());
    }

    #[test]
    fn nothing_lit_proposes_nothing() {
        let (light, variance) = scene(|_, _| 0.0);
        assert!(lit_areas(&light, &variance).is_empty());
        assert!(ghosts(&light, &variance, &Plane::zero(RECT)).is_empty());
    }

    #[test]
    fn borders_follow_single_pixels_and_diagonals() {
        let of = |pixels: &[(i32, i32)]| border(&pixels.iter().copied().collect());
        assert_eq!(of(&[(3, 4)]), [(3, 4), (4, 4), (4, 5), (3, 5)]);
        let diagonal = of(&[(0, 0), (1, 1)]);
        assert_eq!(diagonal.len(), 8, "{diagonal:?}");
    }

    #[test]
    fn a_shifted_pass_shows_ghosts_where_the_plate_has_edges() {
        let edge = |x: i32| if x < 80 { 0.1 } else { 0.5 };
        let (light, variance) = scene(|x, _| edge(x - 2) - edge(x));
        let unlit = Plane::from_fn(RECT, |x, _| edge(x));
        let found = ghosts(&light, &variance, &unlit);
        assert!(!found.is_empty(), "dark rims are found");
        assert!(
            found
                .iter()
                .all(|ghost| ghost.rect.x0 <= 82 && ghost.rect.x1 >= 80)
        );
    }
}
