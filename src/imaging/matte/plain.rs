//! Coverage from one picture before a plain backdrop whose light is known.
//!
//! The *inside* comes from the difference to the backdrop, in square roots of light, where noise is even; holes that look like the
//! backdrop are closed by area. The *edge* of a neutral backdrop is not read off single pixels (the model's own texture drowns it) but
//! is the profile of a lens's edge, put where the difference to the backdrop says it lies. Before a coloured backdrop the colour
//! itself tells the edge. Either is drawn after the light of the edge at last.

use super::guided::{Before, guided};
use crate::geometry::Rect;
use crate::imaging::basics::blur::gaussian;
use crate::imaging::basics::edges::signed_distance;
use crate::imaging::basics::regions::{Joined, Regions};
use crate::imaging::basics::statistics::{NORMAL_FROM_MAD, median};
use crate::pixels::convert::{ceil_i32, coordinate, count_f32, count_f64, narrow};
use crate::pixels::{Plane, Planes};
use rayon::prelude::*;

/// How a plain backdrop is taken away.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Plain {
    /// Standard deviation of the model's edge in px, 0.3..=4: about 0.7 of the radius of the blur there.
    pub edge_px: f32,
    /// Largest hole that is closed, as a share of the picture, 0..=1.
    pub hole_share: f32,
    /// Least difference of square roots of light that counts, 0.005..=0.5.
    pub least: f32,
}

impl Default for Plain {
    fn default() -> Self {
        Self {
            edge_px: 0.8,
            hole_share: 0.01,
            least: 0.03,
        }
    }
}

/// How far from the middle of the edge its light has a say, in deviations of the edge.
const EDGE: f32 = 5.0;
/// How often the light of the edge is asked where a profile was drawn: a third time makes the whole worse.
const PROFILE_ROUNDS: usize = 2;
/// What is known before: 0 is surely backdrop, 1 surely model, all between is to be found.
pub type Band = Plane;

/// Added to light before its root is taken.
const ROOT_LIFT: f32 = 1e-4;
/// Deviations of noise that a difference must stand out by.
const STANDS_OUT: f32 = 5.0;
/// Smoothing of the difference before it is judged, px.
const JUDGED_SIGMA_PX: f32 = 0.7;
/// Sets of pixels smaller than this are noise.
const SPECK_PIXELS: usize = 60;
/// How far round a place its contrast to the backdrop is taken, px.
const CONTRAST_SIGMA_PX: f32 = 6.0;
/// Distance from the edge at which the colour of a coloured backdrop has no say any more, px.
const CORE_PX: u16 = 8;
/// Distances from the edge of the two rings that the rim's colour is taken in, px.
const RIM: [f32; 4] = [3.0, 5.0, 5.5, 8.0];
/// From the near ring to the middle of the soft edge, in distances between the rings.
const RIM_TO_EDGE: f32 = 1.2;
/// Share of the backdrop's strongest channel that must stand over the others for it to count as coloured.
const COLOURED: f32 = 0.35;
/// Rows and columns along the border that noise is measured in.
const BORDER_PX: i32 = 20;

/// Root of light, whose noise is the same everywhere.
pub(super) fn root(light: f32) -> f32 {
    (light.max(0.0) + ROOT_LIFT).sqrt()
}

/// Coverage of the model in `seen` before `backdrop` (over the same rectangle, free of noise), whatever the backdrop's colour.
#[must_use]
pub fn before_backdrop(
    seen: &Planes,
    backdrop: &Planes,
    band: Option<&Band>,
    how: &Plain,
) -> Plane {
    let found = inside(seen, backdrop, band, how);
    let (drawn, rounds) = match key_channel(backdrop) {
        Some(key) => (by_colour((seen, backdrop), &found, (key, band)), 1),
        None => (by_profile(&found, backdrop, how), PROFILE_ROUNDS),
    };
    let solid: Vec<bool> = drawn.data.iter().map(|cover| *cover > 0.5).collect();
    let reach = EDGE * how.edge_px.clamp(0.3, 4.0);
    let most = u16::try_from(ceil_i32(reach)).unwrap_or(32) + 1;
    let distance = signed_distance(&solid, seen.rect(), most);
    let is_known =
        |at: usize| band.is_some_and(|band| band.data[at] <= 0.0 || band.data[at] >= 1.0);
    let is_edge = |at: usize| distance.data[at].abs() < reach && !is_known(at);
    let before = Before { seen, backdrop };
    (0..rounds).fold(drawn, |cover, _round| guided(&cover, before, is_edge))
}

/// The channel in which a coloured backdrop stands out; `None` for a neutral one.
#[must_use]
pub fn key_channel(backdrop: &Planes) -> Option<usize> {
    let mut sums = [0.0_f64; 3];
    for (sum, plane) in sums.iter_mut().zip(&backdrop.rgb) {
        *sum = plane.data.iter().map(|light| f64::from(*light)).sum();
    }
    let strongest = (0..3).max_by(|a, b| sums[*a].total_cmp(&sums[*b]))?;
    let others = (0..3)
        .filter(|channel| *channel != strongest)
        .map(|channel| sums[channel]);
    let next = others.fold(0.0, f64::max);
    (sums[strongest] - next > f64::from(COLOURED) * sums[strongest]).then_some(strongest)
}

/// What the difference to the backdrop says.
struct Inside {
    /// The model, with its soft edge as far as it can be seen.
    marked: Vec<bool>,
    /// Distance between the roots, smoothed.
    away: Plane,
    /// The distance from which on a pixel was marked.
    least: f32,
}

fn inside(seen: &Planes, backdrop: &Planes, band: Option<&Band>, how: &Plain) -> Inside {
    let rect = seen.rect();
    let steps = [0, 1, 2].map(|channel: usize| {
        let pairs = seen.rgb[channel].data.par_iter();
        let data = pairs
            .zip(&backdrop.rgb[channel].data)
            .map(|(seen, back)| root(*seen) - root(*back));
        Plane {
            rect,
            data: data.collect(),
        }
    });
    let deviation = noise_of(&steps);
    let mut away = Plane::zero(rect);
    for step in steps {
        let smooth = gaussian(&step, JUDGED_SIGMA_PX);
        let pairs = away.data.par_iter_mut().zip(&smooth.data);
        pairs.for_each(|(away, step)| *away += step * step);
    }
    away.data
        .par_iter_mut()
        .for_each(|away| *away = away.sqrt());
    let least = how.least.max(STANDS_OUT * deviation);
    let mut marked: Vec<bool> = away.data.iter().map(|away| *away > least).collect();
    close_holes(&mut marked, rect, how.hole_share);
    close_nicks(&mut marked, rect);
    if let Some(band) = band {
        for (marked, known) in marked.iter_mut().zip(&band.data) {
            *marked = (*marked || *known >= 1.0) && *known > 0.0;
        }
    }
    drop_specks(&mut marked, rect);
    Inside {
        marked,
        away,
        least,
    }
}

/// Standard deviation of the roots along the border, where the backdrop shows.
fn noise_of(steps: &[Plane; 3]) -> f32 {
    let rect = steps[0].rect;
    let core = rect.grow(-BORDER_PX);
    let all = steps.iter().map(|step| {
        let pixels = step.data.iter().enumerate();
        let width = rect.width().max(1);
        let border: Vec<f32> = pixels
            .filter(|(at, _)| {
                let (x, y) = (coordinate(at % width), coordinate(at / width));
                !core.contains(rect.x0 + x, rect.y0 + y)
            })
            .map(|(_, step)| step.abs())
            .collect();
        median(&border).unwrap_or(0.0) * NORMAL_FROM_MAD
    });
    all.fold(0.0, f32::max)
}

/// Fills what is enclosed and no larger than `share` of the picture.
fn close_holes(marked: &mut [bool], rect: Rect, share: f32) {
    let open: Vec<bool> = marked.iter().map(|marked| !marked).collect();
    let holes = Regions::of(&open, rect, Joined::BySides);
    let most = f64::from(share) * count_f64(rect.area());
    for (at, marked) in marked.iter_mut().enumerate() {
        if let Some(hole) = holes.at(at) {
            *marked |= !hole.touches_border && count_f64(hole.pixels) <= most;
        }
    }
}

/// Closes what is one pixel wide, after the holes: before them it would lock in gaps beside struts.
fn close_nicks(marked: &mut Vec<bool>, rect: Rect) {
    let wide = within_one(marked, rect, true);
    *marked = within_one(&wide, rect, false);
}

/// The pixels that have one like `wanted` beside them or at a corner become so.
#[expect(
    clippy::fn_params_excessive_bools,
    reason = "the value that pixels of a mark are looked for with"
)]
fn within_one(marked: &[bool], rect: Rect, wanted: bool) -> Vec<bool> {
    let (width, height) = (rect.width(), rect.height());
    let mut out = marked.to_vec();
    out.par_chunks_mut(width.max(1))
        .enumerate()
        .for_each(|(y, row)| {
            let rows = y.saturating_sub(1)..(y + 2).min(height);
            for (x, out) in row.iter_mut().enumerate() {
                let columns = x.saturating_sub(1)..(x + 2).min(width);
                let any = rows.clone().any(|y| {
                    let row = &marked[y * width..][..width];
                    columns.clone().any(|x| row[x] == wanted)
                });
                if any {
                    *out = wanted;
                }
            }
        });
    out
}

fn drop_specks(marked: &mut [bool], rect: Rect) {
    let specks = Regions::of(marked, rect, Joined::ByCorners);
    for (at, marked) in marked.iter_mut().enumerate() {
        *marked = specks.at(at).is_some_and(|set| set.pixels >= SPECK_PIXELS);
    }
}

/// The edge as a lens would draw it. The marked pixels begin where the model's light first shows; how far outside the true edge that is
/// follows from how strongly the model stands out of the backdrop there.
fn by_profile(found: &Inside, backdrop: &Planes, how: &Plain) -> Plane {
    let rect = found.away.rect;
    let sigma = how.edge_px.clamp(0.3, 4.0);
    let reach = u16::try_from(ceil_i32(7.0 * sigma)).unwrap_or(32);
    let distance = signed_distance(&found.marked, rect, reach);
    let contrast = contrast(found, rect);
    let offsets = Offsets::new();
    let back: Vec<f32> = (0..rect.area())
        .into_par_iter()
        .map(|at| {
            let [r, g, b] = backdrop.pixel(at).map(root);
            (r + g + b) / 3.0
        })
        .collect();
    // Distances of three channels together, as those of one.
    let one = 1.0 / 3.0_f32.sqrt();
    let mut out = distance;
    let pixels = out.data.par_iter_mut().zip(&contrast.data).zip(&back);
    pixels.for_each(|((place, contrast), back)| {
        let light_at = |step: f32| (back + step * one) * (back + step * one) - back * back;
        let first = light_at(found.least) / light_at(contrast.max(found.least)).max(1e-6);
        let away = (*place - offsets.of(first) * sigma) / sigma;
        *place = if away >= 4.0 {
            1.0
        } else if away <= -4.0 {
            0.0
        } else {
            covered(away)
        };
    });
    out
}

/// How far the model stands out of the backdrop round each place.
fn contrast(found: &Inside, rect: Rect) -> Plane {
    let core = within_one(&found.marked, rect, false);
    let (mut sum, mut weight) = (Plane::zero(rect), Plane::zero(rect));
    let mut inner = Vec::new();
    for (at, core) in core.iter().enumerate() {
        if *core {
            sum.data[at] = found.away.data[at];
            weight.data[at] = 1.0;
            if at % 7 == 0 {
                inner.push(found.away.data[at]);
            }
        }
    }
    let usual = median(&inner).unwrap_or(found.least * 4.0);
    let mut sum = gaussian(&sum, CONTRAST_SIGMA_PX);
    let weight = gaussian(&weight, CONTRAST_SIGMA_PX);
    let pairs = sum.data.par_iter_mut().zip(&weight.data);
    pairs.for_each(|(sum, weight)| {
        *sum = if *weight > 1e-3 { *sum / weight } else { usual };
    });
    sum
}

/// Share covered at `away` deviations inside a soft edge.
fn covered(away: f32) -> f32 {
    0.5 * (1.0 + libm::erff(away * std::f32::consts::FRAC_1_SQRT_2))
}

/// Deviations outside the edge at which so much is covered, looked up.
struct Offsets(Vec<f32>);

impl Offsets {
    const STEPS: usize = 1000;

    fn new() -> Self {
        let of = |step: usize| {
            let wanted = 0.5 * (count_f32(step) / count_f32(Self::STEPS)).max(0.005);
            let (mut low, mut high) = (-4.0_f32, 0.0_f32);
            for _halving in 0..30 {
                let middle = 0.5 * (low + high);
                if covered(middle) < wanted {
                    low = middle;
                } else {
                    high = middle;
                }
            }
            -0.5 * (low + high)
        };
        Self((0..=Self::STEPS).map(of).collect())
    }

    fn of(&self, share: f32) -> f32 {
        let at = (share / 0.5).clamp(0.0, 1.0) * count_f32(Self::STEPS);
        self.0[crate::pixels::convert::index(at, Self::STEPS)]
    }
}

/// The edge from the backdrop's own colour: how much of what its strongest channel has over the others is left (Vlahos), against the
/// bare backdrop's at the same place, and against what the model has of it just inside its edge (its paint, and the backdrop's light
/// on its rim). Well inside, the model is solid whatever its colour.
fn by_colour(
    (seen, backdrop): (&Planes, &Planes),
    found: &Inside,
    (key, band): (usize, Option<&Band>),
) -> Plane {
    let rect = seen.rect();
    let over = |pixel: [f32; 3]| {
        let others = (0..3).filter(|channel| *channel != key);
        pixel[key]
            - others
                .map(|channel| pixel[channel])
                .fold(f32::MIN, f32::max)
    };
    let left: Vec<f32> = (0..rect.area())
        .into_par_iter()
        .map(|at| over(seen.pixel(at)) / over(backdrop.pixel(at)).max(1e-3))
        .collect();
    let mut out = signed_distance(&found.marked, rect, CORE_PX + 1);
    let model = colour_of_rim(&out, &left);
    let core = f32::from(CORE_PX);
    out.data.par_iter_mut().enumerate().for_each(|(at, place)| {
        let known = band.map_or(0.5, |band| band.data[at]);
        *place = if *place >= core || known >= 1.0 {
            1.0
        } else if *place <= -3.0 || known <= 0.0 {
            0.0
        } else {
            ((1.0 - left[at]) / (1.0 - model)).clamp(0.0, 1.0)
        };
    });
    out
}

/// What the model's rim has of the backdrop's colour, as a share of the backdrop's: seen in two rings inside, followed on to the edge.
///
/// One number for all of the rim: taken place by place, the paint's own texture makes more faults than it mends.
fn colour_of_rim(distance: &Plane, left: &[f32]) -> f32 {
    let ring = |from: f32, to: f32| {
        let pixels = distance.data.iter().zip(left);
        let held = pixels.filter(|(away, left)| (from..to).contains(*away) && **left < 0.5);
        median(&held.map(|(_, left)| *left).collect::<Vec<f32>>()).unwrap_or(0.0)
    };
    let (near, far) = (ring(RIM[0], RIM[1]), ring(RIM[2], RIM[3]));
    (near + RIM_TO_EDGE * (near - far)).clamp(-0.5, 0.5)
}

/// A share of how many pixels are covered at least half.
#[must_use]
pub fn covered_share(coverage: &Plane) -> f32 {
    let covered = coverage.data.iter().filter(|cover| **cover >= 0.5).count();
    narrow(count_f64(covered) / count_f64(coverage.data.len().max(1)))
}
