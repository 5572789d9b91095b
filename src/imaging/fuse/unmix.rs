//! Taking off what the blur of a near part spreads over the parts behind it, where its coverage is given.
//!
//! A frame focused behind the near part shows its light and its coverage blurred by a disc: frame = near * disc + (1 - coverage * disc) x
//! behind. With the coverage given, the light from the plate and the disc's radius found on the near part itself, what is behind
//! follows wherever less than half of the lens is hidden.

use super::DepthMap;
use super::disc::{FARTHEST_PX, RADII, best_radius, disc, distance_to, most_within};
use crate::geometry::Rect;
use crate::imaging::basics::blur::gaussian;
use crate::imaging::basics::pyramid::{expand, reduce};
use crate::imaging::basics::statistics::median;
use crate::pixels::convert::{clamp_index, coordinate, count_f32, floor_i32};
use crate::pixels::{Plane, Planes};

/// A near part of a fused plate. All planes lie in one rectangle.
#[derive(Debug, Clone, Copy)]
pub struct NearPart<'a> {
    /// How much of each pixel it covers, 0 to 1.
    pub coverage: &'a Plane,
    /// The fused plate.
    pub light: &'a Planes,
    /// Where each pixel of the plate is sharpest.
    pub map: &'a DepthMap,
}

/// Most of the lens that may be hidden: full trust up to the first, none from the second on.
const HIDDEN: (f32, f32) = (0.5, 0.65);
/// Least share of the lens that is worth taking off.
const WORTH: f32 = 0.003;
/// Coverage from which on a pixel shows the near part alone.
const SOLID: f32 = 0.98;
/// Frames away from the near part in which its blur is measured.
const MEASURED_AT: [usize; 3] = [2, 3, 4];
/// Depth is sorted into bins of this many frames.
const BIN: f32 = 0.5;
/// Weight below which nothing was carried over: what comes from far is made small by every level of the pyramid it comes through.
const LEAST_SHARE: f32 = 1e-30;
/// Confidence of the depth behind from which on it is believed.
const SURE: f32 = 0.5;

impl NearPart<'_> {
    /// The plate around the near part with its blur taken off what is behind, in the rectangle where anything changed; `None` where nothing
    /// can be taken off: no pixel that it covers wholly and that is sharp somewhere, or nothing behind it. `frame` gives the light of a frame
    /// in a rectangle.
    ///
    /// # Errors
    /// Those of `frame`.
    pub fn taken_off<E>(
        &self,
        frame: impl Fn(usize, Rect) -> Result<Planes, E>,
    ) -> Result<Option<(Rect, Planes)>, E> {
        let (Some(middle), last) = (self.depth(), self.map.frames.saturating_sub(1)) else {
            return Ok(None);
        };
        let covered = bounds(self.coverage);
        let Some(step_px) = self.blur_per_frame(middle, covered, &frame)? else {
            return Ok(None);
        };
        let reach_px = (step_px * (count_f32(last) - middle).max(0.0)).min(FARTHEST_PX);
        let whole = self.coverage.rect;
        let place = covered
            .grow(crate::pixels::convert::ceil_i32(reach_px) + 2)
            .intersect(whole);
        let behind = self.behind(place, (middle, step_px, reach_px));
        let near = Near::new(self, place, middle);
        let mut sums = Sums::new(place);
        for number in 0..=last {
            let weight = behind.weight(number, middle);
            if weight.iter().all(|weight| *weight <= 0.0) {
                continue;
            }
            let spread = near.spread(number, step_px);
            sums.add(&frame(number, place)?, &spread, &weight);
        }
        Ok(Some((place, sums.over(self, &near))))
    }

    /// The middle of its own depths, in frames; `None` where none is certain.
    #[must_use]
    pub fn depth(&self) -> Option<f32> {
        median(&self.own_depths())
    }

    /// Depths of the near part where they are certain.
    fn own_depths(&self) -> Vec<f32> {
        let places = self.coverage.data.iter().zip(&self.map.confidence.data);
        places
            .zip(&self.map.depth.data)
            .filter(|((cover, sure), _)| **cover >= SOLID && **sure >= SURE)
            .map(|(_, depth)| *depth)
            .collect()
    }

    /// How many pixels the radius of blur grows per frame: what makes the plate's near part most like the frames behind its own depth.
    fn blur_per_frame<E>(
        &self,
        middle: f32,
        covered: Rect,
        frame: &impl Fn(usize, Rect) -> Result<Planes, E>,
    ) -> Result<Option<f32>, E> {
        let last = self.map.frames.saturating_sub(1);
        let own = crate::pixels::convert::index(middle, last);
        let cover = self.coverage.crop(covered);
        let depth = self.map.depth.crop(covered);
        let sharp = self.light.rgb[1].crop(covered);
        let solid = {
            let mut solid = cover.map(|cover| if cover >= SOLID { 1.0 } else { 0.0 });
            solid.rect = covered;
            solid
        };
        let mut found = Vec::new();
        for away in MEASURED_AT {
            for number in [
                own.checked_sub(away),
                Some(own + away).filter(|n| *n <= last),
            ] {
                let Some(number) = number else { continue };
                let seen = frame(number, covered)?.rgb[1].clone();
                let steps = (count_f32(number) - middle).abs();
                // Only pixels whose blur comes from the near part alone, and which lie at its middle depth.
                let reach = RADII.1 * steps;
                let inner = disc(&solid, reach.min(FARTHEST_PX));
                let keep: Vec<bool> = inner
                    .data
                    .iter()
                    .zip(&depth.data)
                    .map(|(share, depth)| *share > 0.999 && (depth - middle).abs() < 0.75)
                    .collect();
                if let Some(radius) = best_radius(&sharp, &seen, &keep, steps) {
                    found.push(radius / steps);
                }
            }
        }
        Ok(median(&found))
    }

    /// What lies behind: its depth, and how sure it is, from places that the near part's blur does not reach.
    fn behind(&self, place: Rect, (middle, step_px, reach_px): (f32, f32, f32)) -> Behind {
        let depth = self.map.depth.crop(place);
        let sure = self.map.confidence.crop(place);
        let cover = self.coverage.crop(place);
        // A pixel is believed if even the farthest part near it would be out of the blur's reach there.
        let farthest = grown_depth(&depth, &sure, &cover, reach_px);
        let near = distance_to(&cover, reach_px);
        let mut weight = Plane::zero(place);
        for (at, value) in weight.data.iter_mut().enumerate() {
            let blur = step_px * (farthest.data[at] - middle).max(0.0);
            let clear = near.data[at] > blur + 2.0;
            *value = if clear && cover.data[at] <= 0.0 {
                sure.data[at]
            } else {
                0.0
            };
        }
        let mut weighted = weight.clone();
        for (value, depth) in weighted.data.iter_mut().zip(&depth.data) {
            *value *= depth;
        }
        let (weighted, weight) = (spread_out(&weighted), spread_out(&weight));
        let filled = weighted.data.iter().zip(&weight.data);
        Behind {
            depth: filled
                .map(|(sum, weight)| sum / weight.max(LEAST_SHARE))
                .collect(),
            sure: weight.data,
        }
    }
}

/// What lies behind a near part.
struct Behind {
    depth: Vec<f32>,
    sure: Vec<f32>,
}

impl Behind {
    /// How much frame `number` counts for what is behind: its two nearest frames share a pixel.
    fn weight(&self, number: usize, middle: f32) -> Vec<f32> {
        let pairs = self.depth.iter().zip(&self.sure);
        pairs
            .map(|(depth, sure)| {
                let is_behind = *sure > LEAST_SHARE && *depth > middle + 1.0;
                let share = (1.0 - (depth - count_f32(number)).abs()).max(0.0);
                if is_behind { share } else { 0.0 }
            })
            .collect()
    }
}

/// The near part sorted by depth: coverage, and light times coverage.
struct Near {
    bins: Vec<(f32, Plane, Planes)>,
    light: Planes,
    cover: Plane,
}

/// What a near part's blur puts over a frame.
struct Spread {
    cover: Plane,
    light: Planes,
}

impl Near {
    fn new(part: &NearPart<'_>, place: Rect, middle: f32) -> Self {
        let cover = part.coverage.crop(place);
        let light = own_light(&part.light.crop(place), &cover);
        let depth = own_depth(part, place, middle);
        let low = depth
            .data
            .iter()
            .zip(&cover.data)
            .filter(|(_, c)| **c > 0.0);
        let (mut first, mut last) = (f32::MAX, f32::MIN);
        for (depth, _) in low {
            (first, last) = (first.min(*depth), last.max(*depth));
        }
        let count = clamp_index(floor_i32((last - first) / BIN) + 2).clamp(1, 64);
        let mut bins: Vec<(f32, Plane, Planes)> = (0..count)
            .map(|bin| {
                (
                    first + BIN * count_f32(bin),
                    Plane::zero(place),
                    Planes::zero(place),
                )
            })
            .collect();
        for (at, cover) in cover
            .data
            .iter()
            .enumerate()
            .filter(|(_, cover)| **cover > 0.0)
        {
            let place = ((depth.data[at] - first) / BIN).clamp(0.0, count_f32(count - 1));
            let lower = clamp_index(floor_i32(place)).min(count - 1);
            let part = place - count_f32(lower);
            for (bin, share) in [(lower, 1.0 - part), (lower + 1, part)] {
                if share <= 0.0 || bin >= count {
                    continue;
                }
                bins[bin].1.data[at] = share * cover;
                let colour = light.pixel(at).map(|value| value * share * cover);
                bins[bin].2.set_pixel(at, colour);
            }
        }
        bins.retain(|(_, cover, _)| cover.data.iter().any(|cover| *cover > 0.0));
        Self { bins, light, cover }
    }

    /// Blurred as in frame `number`.
    fn spread(&self, number: usize, step_px: f32) -> Spread {
        let rect = self.cover.rect;
        let mut out = Spread {
            cover: Plane::zero(rect),
            light: Planes::zero(rect),
        };
        for (depth, cover, light) in &self.bins {
            let radius = (step_px * (count_f32(number) - depth).abs()).min(FARTHEST_PX);
            add_to(&mut out.cover, &disc(cover, radius));
            for (sum, plane) in out.light.rgb.iter_mut().zip(&light.rgb) {
                add_to(sum, &disc(plane, radius));
            }
        }
        out
    }
}

fn add_to(sum: &mut Plane, plane: &Plane) {
    sum.data
        .iter_mut()
        .zip(&plane.data)
        .for_each(|(sum, value)| *sum += value);
}

/// What is behind, added up over the frames.
struct Sums {
    light: Planes,
    weight: Vec<f32>,
    hidden: Vec<f32>,
}

impl Sums {
    fn new(place: Rect) -> Self {
        Self {
            light: Planes::zero(place),
            weight: vec![0.0; place.area()],
            hidden: vec![0.0; place.area()],
        }
    }

    fn add(&mut self, frame: &Planes, spread: &Spread, weight: &[f32]) {
        for (at, weight) in weight
            .iter()
            .enumerate()
            .filter(|(_, weight)| **weight > 0.0)
        {
            let hidden = spread.cover.data[at];
            let left = (1.0 - hidden).max(0.05);
            for (channel, sum) in self.light.rgb.iter_mut().enumerate() {
                let own = frame.rgb[channel].data[at] - spread.light.rgb[channel].data[at];
                sum.data[at] += weight * (own / left).max(0.0);
            }
            self.weight[at] += weight;
            self.hidden[at] += weight * hidden;
        }
    }

    /// The plate with what was found behind, as far as it can be trusted.
    fn over(&self, part: &NearPart<'_>, near: &Near) -> Planes {
        let mut out = part.light.crop(self.light.rect());
        for (at, weight) in self.weight.iter().enumerate().filter(|(_, w)| **w > 0.5) {
            let hidden = self.hidden[at] / weight;
            let trust = ((HIDDEN.1 - hidden) / (HIDDEN.1 - HIDDEN.0)).clamp(0.0, 1.0);
            let cover = near.cover.data[at];
            if hidden < WORTH || trust <= 0.0 || cover >= SOLID {
                continue;
            }
            let (before, own) = (out.pixel(at), near.light.pixel(at));
            let behind = self.light.pixel(at).map(|sum| sum / weight);
            let colour = [0, 1, 2].map(|channel| {
                let here = own[channel] * cover + behind[channel] * (1.0 - cover);
                before[channel] + trust * (here - before[channel])
            });
            out.set_pixel(at, colour);
        }
        out
    }
}

/// The near part's own light: where it covers a pixel in part, that of the covered pixels around.
fn own_light(light: &Planes, cover: &Plane) -> Planes {
    let solid = cover.map(|cover| {
        if cover >= SOLID {
            1.0
        } else {
            1e-4 * cover * cover
        }
    });
    let weight = gaussian(&solid, 1.5);
    let one = |plane: &Plane| {
        let mut weighted = plane.clone();
        weighted
            .data
            .iter_mut()
            .zip(&solid.data)
            .for_each(|(value, weight)| *value *= weight);
        let mut out = gaussian(&weighted, 1.5);
        for (at, value) in out.data.iter_mut().enumerate() {
            *value = if cover.data[at] >= SOLID {
                plane.data[at]
            } else {
                *value / weight.data[at].max(1e-9)
            };
        }
        out
    };
    Planes {
        rgb: light.rgb.each_ref().map(one),
    }
}

/// The near part's own depth, carried over from where it is certain.
fn own_depth(part: &NearPart<'_>, place: Rect, middle: f32) -> Plane {
    let (cover, sure) = (part.coverage.crop(place), part.map.confidence.crop(place));
    let depth = part.map.depth.crop(place);
    let mut weight = Plane::zero(place);
    for (at, value) in weight.data.iter_mut().enumerate() {
        // Its middle counts a little everywhere, so that parts without texture are not carried away by a few pixels.
        let solid = cover.data[at] >= SOLID && (depth.data[at] - middle).abs() < 4.0;
        *value = if solid { sure.data[at] } else { 0.0 };
    }
    let mut weighted = weight.clone();
    for (value, depth) in weighted.data.iter_mut().zip(&depth.data) {
        *value *= depth;
    }
    let (top, bottom) = (
        spread_out(&gaussian(&weighted, 4.0)),
        spread_out(&gaussian(&weight, 4.0)),
    );
    let mut out = top;
    for (value, bottom) in out.data.iter_mut().zip(&bottom.data) {
        *value = (*value + 1e-4 * middle) / (bottom + 1e-4);
    }
    out
}

/// Weighted values carried into places without any: from ever coarser levels, as far as those finer ones hold too little.
fn spread_out(plane: &Plane) -> Plane {
    let rect = plane.rect;
    if rect.width() < 4 || rect.height() < 4 {
        return plane.clone();
    }
    let coarse = expand(&spread_out(&reduce(plane)), rect);
    let mut out = plane.clone();
    for (value, coarse) in out.data.iter_mut().zip(&coarse.data) {
        *value += 0.01 * coarse;
    }
    out
}

/// The largest certain depth within `reach_px`, in squares.
fn grown_depth(depth: &Plane, sure: &Plane, cover: &Plane, reach_px: f32) -> Plane {
    let mut out = depth.clone();
    for (at, value) in out.data.iter_mut().enumerate() {
        let counts = sure.data[at] >= SURE && cover.data[at] <= 0.0;
        *value = if counts { *value } else { -1.0 };
    }
    let reach = clamp_index(crate::pixels::convert::ceil_i32(reach_px));
    most_within(&most_within(&out, reach, false), reach, true)
}

fn bounds(cover: &Plane) -> Rect {
    let rect = cover.rect;
    let mut found = Rect::default();
    for y in rect.y0..rect.y1 {
        let row = cover.row(y);
        let first = row.iter().position(|share| *share > 0.0);
        let last = row.iter().rposition(|share| *share > 0.0);
        if let Some((first, last)) = first.zip(last) {
            let x = |at: usize| rect.x0 + coordinate(at);
            found = found.union(Rect::new(x(first), y, x(last) + 1, y + 1));
        }
    }
    found
}
