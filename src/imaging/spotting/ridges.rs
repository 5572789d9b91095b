//! Ridges: narrow lines that stand out on both sides; hairs among them bend and end freely.

use super::{Found, Kind, certainty, value_at};
use crate::geometry::Point;
use crate::imaging::basics::blur::gaussian;
use crate::imaging::basics::statistics::{NORMAL_FROM_MAD, median};
use crate::pixels::Plane;
use crate::pixels::convert::{clamp_index, coordinate, count_f32, count_f64, narrow};
use rayon::prelude::*;

/// Widths that are looked for, as deviations of the smoothing, px.
const SIGMAS: [f32; 2] = [1.0, 1.8];
/// Deviations of the surroundings' curvature that a ridge begins at, and that it is followed to.
const BEGINS: f32 = 5.0;
const FOLLOWED: f32 = 2.5;
/// Shortest hair, px: shorter arcs are mostly halves of the rims of grains.
const SHORTEST: f64 = 24.0;
/// Windows of a course that are looked at one by one, and from one to the next, px; and how far a straight one leaves its chord at most,
/// px: panel lines turn at corners, hairs bend all along.
const WINDOW: usize = 28;
const WINDOW_STEP: usize = 4;
const STRAIGHT_PX: f64 = 0.8;
/// Share of a hair that must stand out on both sides.
const TWO_SIDED: f32 = 0.8;
/// How far a hair's course leaves its straight line at least: pixels, and a share of its length.
const BENDS: (f64, f64) = (1.6, 0.03);
/// How far a place may lie before or behind its surroundings and still lie on them, in frames.
const ON_SURFACE: f32 = 0.8;

/// The ridge at a pixel.
#[derive(Debug, Clone, Copy, Default)]
struct Ridge {
    /// How strongly the picture bends across it, in deviations of what is usual round it; dark ridges above 0, light ones below.
    strength: f32,
    /// Direction across it.
    across: (f32, f32),
    sigma: f32,
}

/// A line that is built: a panel line, an antenna, an edge of a plate.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct BuiltLine {
    pub(super) points: Vec<Point>,
    /// Whether it is lighter than what is on both sides of it.
    pub(super) is_light: bool,
}

/// Shortest line that is taken for built, px.
const BUILT_LENGTH: f64 = 60.0;

/// What a straight line is taken for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Straight {
    /// A panel line, an antenna.
    IsBuilt,
    /// A fibre: nothing that is built shows in the picture.
    IsHair,
}

/// The hairs, and the lines that are built.
pub(super) fn find(
    roots: &Plane,
    depth: Option<&Plane>,
    straight: Straight,
) -> (Vec<Found>, Vec<BuiltLine>) {
    let mut best: Vec<Ridge> = vec![Ridge::default(); roots.data.len()];
    for sigma in SIGMAS {
        let smooth = gaussian(roots, sigma);
        let found = ridges(&smooth, sigma);
        for (best, found) in best.iter_mut().zip(found) {
            if found.strength.abs() > best.strength.abs() {
                *best = found;
            }
        }
    }
    let thin = thinned(&best, roots);
    let (mut hairs, mut built) = (Vec::new(), Vec::new());
    for sign in [1.0, -1.0] {
        for line in followed(&thin, roots, sign) {
            let all = points_of(&line, roots);
            let runs = match straight {
                Straight::IsBuilt => runs(&all),
                Straight::IsHair => vec![(0, all.len(), false)],
            };
            // Where a line was cut, what is left of it may be a corner of what is built.
            let shortest = if runs.len() > 1 {
                2.0 * SHORTEST
            } else {
                SHORTEST
            };
            for (from, to, is_run) in runs {
                let points = &all[from..to];
                let length = length_of(points);
                let is_straight = straight == Straight::IsBuilt
                    && (is_run || bend_of(points) < BENDS.0.max(BENDS.1 * length));
                if is_straight && length >= BUILT_LENGTH {
                    built.push(BuiltLine {
                        points: thinned_out(points),
                        is_light: sign < 0.0,
                    });
                } else if !is_straight && length >= shortest {
                    hairs.extend(judged((&line[from..to], points), &best, roots, depth));
                }
            }
        }
    }
    (hairs, built)
}

fn points_of(line: &[usize], roots: &Plane) -> Vec<Point> {
    let (rect, width) = (roots.rect, roots.rect.width());
    let places = line.iter().map(|at| {
        Point::new(
            f64::from(rect.x0 + coordinate(at % width)) + 0.5,
            f64::from(rect.y0 + coordinate(at / width)) + 0.5,
        )
    });
    places.collect()
}

fn length_of(points: &[Point]) -> f64 {
    points
        .windows(2)
        .map(|pair| pair[0].distance(pair[1]))
        .sum()
}

fn ridges(smooth: &Plane, sigma: f32) -> Vec<Ridge> {
    let width = smooth.rect.width();
    let mut out = vec![Ridge::default(); smooth.data.len()];
    out.par_chunks_mut(width.max(1))
        .enumerate()
        .for_each(|(row, out)| {
            for (column, out) in out.iter_mut().enumerate() {
                *out = bend_at(smooth, (column, row), sigma);
            }
        });
    let size = Plane {
        rect: smooth.rect,
        data: out.iter().map(|ridge| ridge.strength.abs()).collect(),
    };
    let sampled: Vec<f32> = size.data.iter().step_by(17).copied().collect();
    let floor = 0.8 * NORMAL_FROM_MAD * median(&sampled).unwrap_or(0.0);
    let spread = gaussian(&size, 6.0 * sigma + 8.0);
    for (ridge, spread) in out.iter_mut().zip(&spread.data) {
        ridge.strength /= (1.2533 * spread).max(floor).max(1e-6);
    }
    out
}

/// The stronger of the two main curvatures and its direction, from second differences.
fn bend_at(smooth: &Plane, (column, row): (usize, usize), sigma: f32) -> Ridge {
    let rect = smooth.rect;
    let (x, y) = (rect.x0 + coordinate(column), rect.y0 + coordinate(row));
    let at = |dx: i32, dy: i32| smooth.nearest(x + dx, y + dy);
    let here = at(0, 0);
    let xx = at(1, 0) - 2.0 * here + at(-1, 0);
    let yy = at(0, 1) - 2.0 * here + at(0, -1);
    let xy = 0.25 * (at(1, 1) - at(1, -1) - at(-1, 1) + at(-1, -1));
    let (middle, half) = (0.5 * (xx + yy), 0.5 * (xx - yy));
    let root = (half * half + xy * xy).sqrt();
    let (most, least) = if middle >= 0.0 {
        (middle + root, middle - root)
    } else {
        (middle - root, middle + root)
    };
    // Across the ridge is the eigenvector of the stronger curvature.
    let (vx, vy) = if (most - yy).abs() > (most - xx).abs() {
        (most - yy, xy)
    } else {
        (xy, most - xx)
    };
    let length = (vx * vx + vy * vy).sqrt().max(1e-12);
    let blob = (least / most).clamp(0.0, 1.0);
    Ridge {
        strength: most * sigma * sigma * (1.0 - blob),
        across: (vx / length, vy / length),
        sigma,
    }
}

/// Keeps the crest of each ridge.
fn thinned(ridges: &[Ridge], roots: &Plane) -> Vec<f32> {
    let rect = roots.rect;
    let strength = Plane {
        rect,
        data: ridges.iter().map(|ridge| ridge.strength).collect(),
    };
    let width = rect.width().max(1);
    ridges
        .par_iter()
        .enumerate()
        .map(|(at, ridge)| {
            if ridge.strength.abs() < FOLLOWED {
                return 0.0;
            }
            let place = |from: i32, step: usize| narrow(f64::from(from + coordinate(step)) + 0.5);
            let (x, y) = (place(rect.x0, at % width), place(rect.y0, at / width));
            let sign = ridge.strength.signum();
            let beside = [1.0, -1.0].map(|way| {
                let (dx, dy) = (way * ridge.across.0, way * ridge.across.1);
                value_at(&strength, x + dx, y + dy) * sign
            });
            let here = ridge.strength.abs();
            if beside[0] <= here && beside[1] <= here {
                ridge.strength
            } else {
                0.0
            }
        })
        .collect()
}

/// Lines of crest pixels, each from one end to the other.
fn followed(thin: &[f32], roots: &Plane, sign: f32) -> Vec<Vec<usize>> {
    let (width, height) = (roots.rect.width(), roots.rect.height());
    let mut taken = vec![false; thin.len()];
    let mut seeds: Vec<usize> = (0..thin.len())
        .filter(|at| thin[*at] * sign >= BEGINS)
        .collect();
    seeds.sort_by(|a, b| thin[*b].abs().total_cmp(&thin[*a].abs()).then(a.cmp(b)));
    let mut lines = Vec::new();
    for seed in seeds {
        if taken[seed] {
            continue;
        }
        taken[seed] = true;
        let mut line = vec![seed];
        for _end in 0..2 {
            line.reverse();
            while let Some(next) = next_of(&line, thin, (width, height), (sign, &taken)) {
                taken[next] = true;
                line.push(next);
            }
        }
        // What lies beside the crest is no line of its own.
        for at in &line {
            let (x, y) = (coordinate(at % width), coordinate(at / width));
            for (dx, dy) in AROUND {
                let (x, y) = (x + dx, y + dy);
                if x >= 0 && y >= 0 && x < coordinate(width) && y < coordinate(height) {
                    taken[clamp_index(y) * width + clamp_index(x)] = true;
                }
            }
        }
        lines.push(line);
    }
    lines
}

const AROUND: [(i32, i32); 8] = [
    (1, 0),
    (1, 1),
    (0, 1),
    (-1, 1),
    (-1, 0),
    (-1, -1),
    (0, -1),
    (1, -1),
];

/// The crest pixel that goes on from the end of a line, ahead of it; a gap of one pixel is stepped over.
fn next_of(
    line: &[usize],
    thin: &[f32],
    (width, height): (usize, usize),
    (sign, taken): (f32, &[bool]),
) -> Option<usize> {
    let end = *line.last()?;
    let place = |at: usize| (coordinate(at % width), coordinate(at / width));
    let (x, y) = place(end);
    let before = line[line.len().saturating_sub(6)];
    let (bx, by) = place(before);
    let ahead = (x - bx, y - by);
    let mut best: Option<(f32, usize)> = None;
    for reach in [1, 2] {
        for (dx, dy) in AROUND {
            let (nx, ny) = (x + dx * reach, y + dy * reach);
            let inside = nx >= 0 && ny >= 0 && nx < coordinate(width) && ny < coordinate(height);
            if !inside || (line.len() > 1 && dx * ahead.0 + dy * ahead.1 < 0) {
                continue;
            }
            let at = clamp_index(ny) * width + clamp_index(nx);
            let strength = thin[at] * sign;
            if taken[at] || strength < FOLLOWED {
                continue;
            }
            if best.is_none_or(|(most, _)| strength > most) {
                best = Some((strength, at));
            }
        }
        if best.is_some() {
            break;
        }
    }
    best.map(|(_, at)| at)
}

/// A line as a hair; `None` where it is one-sided or off the surface.
fn judged(
    (line, points): (&[usize], &[Point]),
    ridges: &[Ridge],
    roots: &Plane,
    depth: Option<&Plane>,
) -> Option<Found> {
    let length = length_of(points);
    let (mut strength, mut two_sided, mut sigma, mut off) = (0.0_f32, 0_usize, 0.0_f32, Vec::new());
    for (at, point) in line.iter().zip(points) {
        let ridge = &ridges[*at];
        strength += ridge.strength.abs();
        sigma += ridge.sigma;
        let (x, y) = (narrow(point.x), narrow(point.y));
        let far = 2.5 * ridge.sigma;
        let (dx, dy) = (far * ridge.across.0, far * ridge.across.1);
        let here = value_at(roots, x, y);
        let sides = [1.0, -1.0].map(|way| {
            (value_at(roots, x + way * dx, y + way * dy) - here) * ridge.strength.signum()
        });
        let (less, more) = (sides[0].min(sides[1]), sides[0].max(sides[1]));
        two_sided += usize::from(less > 0.4 * more && less > 0.0);
        if let Some(depth) = depth {
            let side = 0.5
                * (value_at(depth, x + 3.0 * dx, y + 3.0 * dy)
                    + value_at(depth, x - 3.0 * dx, y - 3.0 * dy));
            off.push((value_at(depth, x, y) - side).abs());
        }
    }
    if median(&off).is_some_and(|off| off > ON_SURFACE) {
        return None;
    }
    let count = count_f32(line.len());
    let two_sided = count_f32(two_sided) / count;
    if two_sided < TWO_SIDED {
        return None;
    }
    let evidence = 3.0 * libm::logf(strength / count / 3.2)
        + 4.0 * libm::logf((narrow(length) / 36.0).clamp(0.3, 1.6));
    Some(Found {
        kind: Kind::Hair,
        points: thinned_out(points),
        width_px: 2.0 * sigma / count + 1.0,
        confidence: certainty(evidence),
    })
}

/// How far a line leaves the straight one through it: the largest distance from the best straight line, less the steps of pixels.
fn bend_of(points: &[Point]) -> f64 {
    let count = count_f64(points.len().max(1));
    let mean = points.iter().fold(Point::default(), |sum, at| {
        Point::new(sum.x + at.x / count, sum.y + at.y / count)
    });
    let (mut xx, mut yy, mut xy) = (0.0, 0.0, 0.0);
    for at in points {
        let (x, y) = (at.x - mean.x, at.y - mean.y);
        xx += x * x;
        yy += y * y;
        xy += x * y;
    }
    let angle = 0.5 * libm::atan2(2.0 * xy, xx - yy);
    let (sin, cos) = (libm::sin(angle), libm::cos(angle));
    let off = points
        .iter()
        .map(|at| ((at.y - mean.y) * cos - (at.x - mean.x) * sin).abs());
    off.fold(0.0, f64::max)
}

/// A line cut where it begins and ends to be straight for long: from, to, and whether it is straight in between. A hair that meets a
/// panel line is followed on along it. A line with more straight windows than others is
/// straight as a whole; of one shorter than two windows that is not said.
fn runs(points: &[Point]) -> Vec<(usize, usize, bool)> {
    let mut straight = vec![false; points.len()];
    let (mut windows, mut straight_ones) = (0, 0);
    for from in (0..points.len().saturating_sub(WINDOW)).step_by(WINDOW_STEP) {
        windows += 1;
        if bend_of(&points[from..from + WINDOW]) < STRAIGHT_PX {
            straight[from..from + WINDOW].fill(true);
            straight_ones += 1;
        }
    }
    if points.len() >= 2 * WINDOW && 2 * straight_ones > windows {
        return vec![(0, points.len(), true)];
    }
    let mut runs: Vec<(usize, usize, bool)> = Vec::new();
    for part in straight.chunk_by(|a, b| a == b) {
        let from = runs.last().map_or(0, |run| run.1);
        let to = from + part.len();
        let is_long = part[0] && length_of(&points[from..to]) >= BUILT_LENGTH;
        match runs.last_mut() {
            Some(last) if last.2 == is_long => last.1 = to,
            _ => runs.push((from, to, is_long)),
        }
    }
    runs
}

/// Every third point, and the ends.
fn thinned_out(points: &[Point]) -> Vec<Point> {
    let last = points.len() - 1;
    let kept = points.iter().enumerate();
    kept.filter(|(at, _)| at % 3 == 0 || *at == last)
        .map(|(_, point)| *point)
        .collect()
}
