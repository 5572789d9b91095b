//! Taking off what the blur of near parts spreads over what is behind them, where their coverage is given.
//!
//! A frame focused behind a near part shows its light and its coverage blurred by a disc: frame = near * disc + (1 - coverage * disc) x
//! behind. With the coverage given, the near part's light seen in its own frames and the disc's radius found on the near part itself,
//! what is behind follows wherever enough of the lens is free. Parts are taken off one after the other, nearest first, so that each is
//! seen without those before it. What is found is then tested: blurred as in the near part's own frame it must look as that frame does;
//! where it does not, because an outline is off or something else stands there, the plate stays as it was.

use super::DepthMap;
use super::behind::{Behind, filled};
use super::disc::{FARTHEST_PX, RADII, best_radius, disc, disc_of_radii, most_within};
use super::near_part::{Part, Peeled, SOLID, own_depths};
use crate::geometry::Rect;
use crate::imaging::basics::statistics::median;
use crate::pixels::convert::{ceil_i32, coordinate, count_f32, index};
use crate::pixels::{Plane, Planes};

/// Near parts of a fused plate. All planes lie in one rectangle.
#[derive(Debug, Clone, Copy)]
pub struct NearParts<'a> {
    /// How much of each pixel each part covers, 0 to 1; in any order.
    pub coverages: &'a [Plane],
    /// The fused plate.
    pub light: &'a Planes,
    /// Where each pixel of the plate is sharpest.
    pub map: &'a DepthMap,
}

/// Most of the lens that may be hidden: full trust up to the first, none from the second on.
const HIDDEN: (f32, f32) = (0.65, 0.8);
/// Least share of the lens that is worth taking off.
pub(super) const WORTH: f32 = 0.003;
/// Frames away from the near part in which its blur is measured.
const MEASURED_AT: [usize; 3] = [2, 3, 4];
/// How far what is behind may miss the near part's frame, in medians of that miss: full trust up to the first, none from the second on.
const MISSES: (f32, f32) = (6.0, 10.0);
/// The median is taken for at least this, on root-encoded light.
const LEAST_MISS: f32 = 0.004;
/// Added before the root.
const DARK: f32 = 1e-3;

impl NearParts<'_> {
    /// The plate around the near parts with their blur taken off what is behind, in the rectangle where anything changed; `None` where
    /// nothing can be taken off: no pixel that they cover wholly and that is sharp somewhere, or nothing behind them. `frame` gives the
    /// light of a frame in a rectangle.
    ///
    /// # Errors
    /// Those of `frame`.
    pub fn taken_off<E>(
        &self,
        frame: impl Fn(usize, Rect) -> Result<Planes, E>,
    ) -> Result<Option<(Rect, Planes)>, E> {
        let found = self.nearest_first();
        let Some(step_px) = self.blur_per_frame(&found, &frame)? else {
            return Ok(None);
        };
        let last = self.map.frames.saturating_sub(1);
        let (nearest, covered) = found.iter().fold((f32::MAX, Rect::default()), |all, part| {
            (all.0.min(part.0), all.1.union(bounds(part.1)))
        });
        let reach_px = (step_px * (count_f32(last) - nearest).max(0.0)).min(FARTHEST_PX);
        let place = covered
            .grow(ceil_i32(reach_px) + 2)
            .intersect(self.light.rect());
        let mut parts: Vec<Part> = Vec::new();
        for (middle, coverage) in found {
            let part = Part::seen(
                (coverage.crop(place), middle, step_px),
                self.map,
                |number| Ok(Peeled::new(frame(number, place)?, &parts, number)),
            )?;
            parts.push(part);
        }
        let mut cover = Plane::zero(place);
        for part in &parts {
            let values = cover.data.iter_mut().zip(&part.cover.data);
            values.for_each(|(most, value)| *most = most.max(*value));
        }
        let behind = Behind::new(self.map, &cover, (nearest, step_px, reach_px));
        let mut sums = Sums::new(place);
        for number in 0..=last {
            let weight = behind.weight(number);
            if weight.iter().any(|weight| *weight > 0.0) {
                let peeled = Peeled::new(frame(number, place)?, &parts, number);
                sums.add(&peeled, &weight, &behind.depth);
            }
        }
        let seen = sums.means();
        let mut missed = vec![0.0; place.area()];
        for part in &parts {
            let number = index(part.middle, last);
            let peeled = Peeled::new(frame(number, place)?, &parts, number);
            seen.miss(&peeled, behind.blur_at(number, step_px), &mut missed);
        }
        let trust = seen.trust(&missed, &cover);
        Ok(Some((place, self.over(&seen, &parts, &trust))))
    }

    /// The middle of each part's own depths, in frames, and its coverage, nearest first; parts nowhere certain are left out.
    fn nearest_first(&self) -> Vec<(f32, &Plane)> {
        let mut found: Vec<(f32, &Plane)> = self
            .coverages
            .iter()
            .filter_map(|coverage| Some((median(&own_depths(coverage, self.map))?, coverage)))
            .collect();
        found.sort_by(|a, b| a.0.total_cmp(&b.0));
        found
    }

    /// How many pixels the radius of blur grows per frame: what makes the plate's near parts most like the frames off their own depth.
    fn blur_per_frame<E>(
        &self,
        parts: &[(f32, &Plane)],
        frame: &impl Fn(usize, Rect) -> Result<Planes, E>,
    ) -> Result<Option<f32>, E> {
        let last = self.map.frames.saturating_sub(1);
        let mut found = Vec::new();
        for (middle, coverage) in parts {
            let covered = bounds(coverage);
            let own = index(*middle, last);
            let depth = self.map.depth.crop(covered);
            let sharp = self.light.rgb[1].crop(covered);
            let cover = coverage.crop(covered);
            let solid = cover.map(|cover| if cover >= SOLID { 1.0 } else { 0.0 });
            for away in MEASURED_AT {
                let after = Some(own + away).filter(|number| *number <= last);
                for number in [own.checked_sub(away), after].into_iter().flatten() {
                    let seen = &frame(number, covered)?.rgb[1];
                    let steps = (count_f32(number) - middle).abs();
                    // Only pixels whose blur comes from the near part alone, and which lie at its middle depth.
                    let inner = disc(&solid, (RADII.1 * steps).min(FARTHEST_PX));
                    let inner = inner.data.iter().zip(&depth.data);
                    let keep: Vec<bool> = inner
                        .map(|(share, depth)| *share > 0.999 && (depth - middle).abs() < 0.75)
                        .collect();
                    if let Some(radius) = best_radius(&sharp, seen, &keep, steps) {
                        found.push(radius / steps);
                    }
                }
            }
        }
        Ok(median(&found))
    }

    /// The plate with what was found behind, as far as it can be trusted, and the parts before it.
    fn over(&self, seen: &Seen, parts: &[Part], trust: &[f32]) -> Planes {
        let mut out = self.light.crop(seen.light.rect());
        for (at, trust) in trust.iter().enumerate().filter(|(_, trust)| **trust > 0.0) {
            let mut here = seen.light.pixel(at);
            for part in parts.iter().rev() {
                let (cover, own) = (part.cover.data[at], part.light.pixel(at));
                for (value, own) in here.iter_mut().zip(own) {
                    *value = *value * (1.0 - cover) + own;
                }
            }
            let mut colour = out.pixel(at);
            for (value, here) in colour.iter_mut().zip(here) {
                *value += trust * (here - *value);
            }
            out.set_pixel(at, colour);
        }
        out
    }
}

/// What is behind, added up over the frames.
struct Sums {
    light: Planes,
    weight: Vec<f32>,
    hidden: Vec<f32>,
}

/// What is behind, and how much of the lens was hidden where it was seen; all of it where it was not.
struct Seen {
    light: Planes,
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

    /// Adds a frame where what is behind lies clearly behind all that was taken off there.
    fn add(&mut self, frame: &Peeled, weight: &[f32], depth: &[f32]) {
        for (at, weight) in weight.iter().enumerate() {
            if *weight <= 0.0 || depth[at] <= frame.beyond[at] + 1.0 {
                continue;
            }
            for (sum, plane) in self.light.rgb.iter_mut().zip(&frame.light.rgb) {
                sum.data[at] += weight * plane.data[at];
            }
            self.weight[at] += weight;
            self.hidden[at] += weight * (1.0 - frame.seen.data[at]);
        }
    }

    /// The means; filled up where too little is seen.
    fn means(mut self) -> Seen {
        let mut known = Plane::zero(self.light.rect());
        for (at, weight) in self.weight.iter().enumerate() {
            if *weight <= 0.5 {
                self.hidden[at] = 1.0;
                continue;
            }
            self.hidden[at] /= weight;
            let mean = self.light.pixel(at).map(|sum| (sum / weight).max(0.0));
            self.light.set_pixel(at, mean);
            known.data[at] = if self.hidden[at] < HIDDEN.1 { 1.0 } else { 0.0 };
        }
        let around = filled(&self.light, &known);
        for at in (0..known.data.len()).filter(|at| known.data[*at] <= 0.0) {
            self.light.set_pixel(at, around.pixel(at));
        }
        Seen {
            light: self.light,
            hidden: self.hidden,
        }
    }
}

impl Seen {
    /// Raises `missed` to how far this, blurred by `radius`, misses a frame: on root-encoded light, the worst channel, as far as it is seen.
    fn miss(&self, frame: &Peeled, radius: Plane, missed: &mut [f32]) {
        let root = |light: f32| (light.max(0.0) + DARK).sqrt();
        for (plane, seen) in self.light.rgb.iter().zip(&frame.light.rgb) {
            let blurred = disc_of_radii(plane, &radius);
            let pairs = blurred.data.iter().zip(&seen.data).zip(&frame.seen.data);
            for (missed, ((blurred, seen), share)) in missed.iter_mut().zip(pairs) {
                *missed = missed.max((root(*blurred) - root(*seen)).abs() * share);
            }
        }
    }

    /// How far this is to be taken instead of the plate.
    fn trust(&self, missed: &[f32], cover: &Plane) -> Vec<f32> {
        let free: Vec<f32> = (0..missed.len())
            .filter(|at| self.hidden[*at] >= WORTH && self.hidden[*at] < HIDDEN.0)
            .filter(|at| cover.data[*at] <= 0.0)
            .map(|at| missed[at])
            .collect();
        let usual = median(&free).unwrap_or_default().max(LEAST_MISS);
        let around = Plane {
            rect: cover.rect,
            data: missed.to_vec(),
        };
        let around = most_within(&most_within(&around, 1, false), 1, true);
        let falling =
            |value: f32, (full, none): (f32, f32)| ((none - value) / (none - full)).clamp(0.0, 1.0);
        let places = self.hidden.iter().zip(&around.data).zip(&cover.data);
        places
            .map(|((hidden, missed), cover)| {
                if *hidden < WORTH || *cover >= SOLID {
                    return 0.0;
                }
                falling(*hidden, HIDDEN) * falling(*missed / usual, MISSES)
            })
            .collect()
    }
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
