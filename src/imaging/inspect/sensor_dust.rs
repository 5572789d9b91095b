//! Dust on the sensor's window: soft dark spots that stay at one place of the sensor while the scene moves under them. Found over the
//! registered frames of a stack, and lifted before a frame is moved.
//!
//! Dust takes a share of the light, the same in every frame. What the scene holds at its place is known from another frame, in which that
//! part of the scene lies elsewhere on the sensor; where the frames move too little for that, nothing is said.

use crate::geometry::{Point, Rect, Transform};
use crate::imaging::basics::blur::gaussian;
use crate::imaging::basics::pixelwise::{changed, combined};
use crate::imaging::basics::pyramid::{expand, reduce};
use crate::imaging::basics::resample::{Kernel, sample_plane};
use crate::imaging::basics::statistics::{NORMAL_FROM_MAD, median, median_absolute_deviation};
use crate::pixels::convert::{count_f32, count_f64, floor_f64, floor_index, narrow};
use crate::pixels::{Plane, Planes};
use rayon::prelude::*;
use std::ops::Range;

/// Rings around a spot's middle in which its shadow is known.
pub const RINGS: usize = 8;

/// A grain of dust.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Dust {
    /// Its middle on the sensor.
    pub at: Point,
    /// Where its shadow ends, in pixels.
    pub radius_px: f32,
    /// Share of the light that it takes, in rings of equal width from the middle outwards.
    pub loss: [f32; RINGS],
}

/// Fewest frames that tell dust from the scene.
const FEWEST_FRAMES: usize = 6;
/// Least share of light that counts as a loss.
const LEAST_LOSS: f32 = 0.006;
/// A place is looked at where the mean band is this many times as deep as it usually is around it.
const STANDS_OUT: f32 = 2.5;
/// What counts as around, pixels of the level.
const AROUND_PX: f32 = 8.0;
/// Share of frames that must show at least half of the loss.
const PERSISTENT: f32 = 0.8;
/// Radius of the smallest spots looked for; each further size is twice as wide.
const LEAST_RADIUS_PX: f64 = 4.0;
/// Sizes of spots.
const SIZES: usize = 3;
/// Spots looked at, of each size, at most: those that stand out most.
const MOST_LOOKED_AT: usize = 200;
/// Places on a ring.
const SPOKES: usize = 24;
/// Sides that are looked at by themselves.
const SIDES: usize = 6;
/// Where, in radii from the middle, and the least part of the usual loss that each of them must show there.
const WELL_INSIDE: f64 = 0.45;
const SIDE_SHARE: f32 = 0.4;
/// Keeps the logarithm of dark light steady.
const FLOOR: f32 = 2e-3;

/// A frame of a stack on the sensor's pixels.
#[derive(Debug, Clone, Copy)]
pub struct OnSensor<'a> {
    /// Light of one channel, from (0, 0).
    pub light: &'a Plane,
    /// Its positions to those of the reference.
    pub reference_from_frame: Transform,
}

/// The dust that all of `frames` show, which come in the order of focus and have one size; positions and radii are in their pixels.
#[must_use]
pub fn sensor_dust(frames: &[OnSensor<'_>]) -> Vec<Dust> {
    let Some(first) = frames.first().filter(|_| frames.len() >= FEWEST_FRAMES) else {
        return Vec::new();
    };
    let inverses: Option<Vec<Transform>> = frames
        .iter()
        .map(|frame| frame.reference_from_frame.inverse())
        .collect();
    let Some(frame_from_reference) = inverses else {
        return Vec::new();
    };
    let sensor = Sensor {
        frames,
        frame_from_reference,
        rect: first.light.rect,
    };
    let mut found: Vec<Dust> = Vec::new();
    for (places, radius) in sensor.stands_out() {
        let looked_at: Vec<Option<Dust>> = places
            .par_iter()
            .map(|place| sensor.judged(*place, radius))
            .collect();
        for dust in looked_at.into_iter().flatten() {
            let near = |other: &Dust| {
                other.at.distance(dust.at) < f64::from(other.radius_px.max(dust.radius_px))
            };
            match found.iter().position(near) {
                // The size that fits takes more light altogether.
                Some(at) if taken(&dust) > taken(&found[at]) => found[at] = dust,
                Some(_smaller) => {}
                None => found.push(dust),
            }
        }
    }
    found.sort_by(|a, b| a.at.y.total_cmp(&b.at.y).then(a.at.x.total_cmp(&b.at.x)));
    found
}

/// Light that a spot takes, in pixels that it would blacken.
fn taken(dust: &Dust) -> f32 {
    let rings = (0..RINGS).map(|ring| dust.loss[ring] * (count_f32(ring) + 0.5));
    rings.sum::<f32>() * dust.radius_px * dust.radius_px
}

/// Gives back the light that dust takes.
pub fn lift(planes: &mut Planes, dust: &[Dust]) {
    let rect = planes.rect();
    for spot in dust {
        let radius = f64::from(spot.radius_px);
        let around = spot.around().intersect(rect);
        for y in around.y0..around.y1 {
            for x in around.x0..around.x1 {
                let here = Point::new(f64::from(x) + 0.5, f64::from(y) + 0.5);
                let gain = 1.0 / (1.0 - loss_at(spot, here.distance(spot.at) / radius));
                for plane in &mut planes.rgb {
                    plane.data[rect.index(x, y)] *= gain;
                }
            }
        }
    }
}

impl Dust {
    /// The pixels that it may touch.
    #[must_use]
    pub fn around(&self) -> Rect {
        let reach = f64::from(self.radius_px) + 1.0;
        Rect::around(&[
            Point::new(self.at.x - reach, self.at.y - reach),
            Point::new(self.at.x + reach, self.at.y + reach),
        ])
    }
}

/// The loss at a distance from the middle, in radii: straight lines between the rings, nothing from the radius on.
fn loss_at(dust: &Dust, distance: f64) -> f32 {
    let place = (distance * count_f64(RINGS) - 0.5).max(0.0);
    let ring = floor_index(place);
    let part = narrow(place - count_f64(ring));
    let loss = |ring: usize| dust.loss.get(ring).copied().unwrap_or(0.0);
    loss(ring) + part * (loss(ring + 1) - loss(ring))
}

/// The frames with the ways between them.
struct Sensor<'a> {
    frames: &'a [OnSensor<'a>],
    frame_from_reference: Vec<Transform>,
    rect: Rect,
}

impl Sensor<'_> {
    /// The logarithm of a frame's light less that of the scene, as another frame shows it; 0 where that one does not reach.
    fn without_scene(&self, number: usize) -> Plane {
        let logs = |plane: &Plane| changed(plane, |light| libm::logf(light.max(0.0) / FLOOR + 1.0));
        // A frame far enough in focus to have moved, near enough to be alike.
        let apart = (self.frames.len() / 3).max(2);
        let other = if number + apart < self.frames.len() {
            number + apart
        } else {
            number - apart
        };
        let there =
            self.frame_from_reference[other].after(&self.frames[number].reference_from_frame);
        let scene = logs(self.frames[other].light);
        let (scene, valid) = sample_plane(&scene, self.rect, &there, Kernel::Linear);
        let mut out = logs(self.frames[number].light);
        for ((own, scene), valid) in out.data.iter_mut().zip(&scene.data).zip(&valid.data) {
            *own = if *valid >= 1.0 { *own - scene } else { 0.0 };
        }
        out
    }

    /// Places that are darker than their surroundings in the mean of the frames on the sensor, for each size of spot, with that size.
    fn stands_out(&self) -> Vec<(Vec<Point>, f64)> {
        let mut sums: Vec<Plane> = Vec::new();
        for number in 0..self.frames.len() {
            let mut level = self.without_scene(number);
            for size in 0..SIZES {
                if level.rect.width() < 32 || level.rect.height() < 32 {
                    break;
                }
                let smooth = gaussian(&level, 1.2);
                let wide = reduce(&reduce(&smooth));
                let half = reduce(&level);
                let wide = expand(&expand(&gaussian(&wide, 1.0), half.rect), level.rect);
                let band = combined(&smooth, &wide, |smooth, wide| smooth - wide);
                match sums.get_mut(size) {
                    Some(sum) => *sum = combined(sum, &band, |sum, band| sum + band),
                    None => sums.push(band),
                }
                level = half;
            }
        }
        let mut step = 1.0;
        let mut out = Vec::new();
        for sum in &sums {
            out.push((self.darkest(sum, step), LEAST_RADIUS_PX * step));
            step *= 2.0;
        }
        out
    }

    /// The places of `sum` that are darker than all around them and stand out.
    fn darkest(&self, sum: &Plane, step: f64) -> Vec<Point> {
        let usual = gaussian(&sum.map(f32::abs), AROUND_PX);
        let least = 0.25 * LEAST_LOSS * count_f32(self.frames.len());
        let inner = sum.rect.grow(-3);
        let mut found: Vec<(f32, i32, i32)> = Vec::new();
        for y in inner.y0..inner.y1 {
            for x in inner.x0..inner.x1 {
                let here = sum.at(x, y);
                let around = (-1..=1).flat_map(|dy| (-1..=1).map(move |dx| (x + dx, y + dy)));
                let stands_out = -here > least.max(STANDS_OUT * usual.at(x, y));
                if stands_out && around.into_iter().all(|(x, y)| sum.at(x, y) >= here) {
                    found.push((here, x, y));
                }
            }
        }
        found.sort_by(|a, b| a.0.total_cmp(&b.0).then((a.2, a.1).cmp(&(b.2, b.1))));
        found.truncate(MOST_LOOKED_AT);
        // Pixel n of a level stands at pixel n x step of the frame.
        let place = |at: i32| f64::from(at) * step + 0.5;
        found
            .into_iter()
            .map(|(_, x, y)| Point::new(place(x), place(y)))
            .collect()
    }

    /// Dust at `place`, if it is that: what every frame lacks there over another frame that shows the same part of the scene beside it.
    fn judged(&self, place: Point, radius: f64) -> Option<Dust> {
        let mut profiles: Vec<[f32; RINGS]> = Vec::new();
        let mut pairs = Vec::new();
        for number in 0..self.frames.len() {
            if let Some(other) = self.beside(place, number, radius)
                && let Some(profile) = self.profile(place, radius, (number, other))
            {
                profiles.push(profile);
                pairs.push((number, other));
            }
        }
        if profiles.len() < FEWEST_FRAMES {
            return None;
        }
        let depth = |profile: &[f32; RINGS]| profile[..RINGS / 2].iter().sum::<f32>() / 4.0;
        let depths: Vec<f32> = profiles.iter().map(depth).collect();
        let usual = median(&depths)?;
        let spread = median_absolute_deviation(&depths)? * NORMAL_FROM_MAD;
        let error = spread / count_f32(depths.len()).sqrt();
        let show = depths.iter().filter(|depth| **depth > 0.5 * usual).count();
        let persists = count_f32(show) >= PERSISTENT * count_f32(depths.len());
        if usual < LEAST_LOSS || usual < 6.0 * error || !persists {
            return None;
        }
        if !self.is_round(place, (radius, usual), &pairs) {
            return None;
        }
        let mut loss = [0.0; RINGS];
        for (ring, loss) in loss.iter_mut().enumerate() {
            let of_ring: Vec<f32> = profiles.iter().map(|profile| profile[ring]).collect();
            *loss = median(&of_ring)?.clamp(0.0, 0.9);
        }
        // A shadow is deepest inside; what only darkens outside is something else.
        (loss[0] >= 0.5 * usual && loss[RINGS - 1] < 0.5 * usual).then_some(Dust {
            at: place,
            radius_px: narrow(radius),
            loss,
        })
    }

    /// The frame nearest in focus in which the part of the scene at `place` of frame `number` lies beside the spot.
    fn beside(&self, place: Point, number: usize, radius: f64) -> Option<usize> {
        let mut others: Vec<usize> = (0..self.frames.len()).filter(|at| *at != number).collect();
        others.sort_by_key(|at| (at.abs_diff(number), *at));
        others.into_iter().find(|other| {
            let there = self.from((number, *other), place);
            there.distance(place) > 2.0 * radius
        })
    }

    /// Where `place` of the first frame lies in the second.
    fn from(&self, (first, second): (usize, usize), place: Point) -> Point {
        let on_reference = self.frames[first].reference_from_frame.apply(place);
        self.frame_from_reference[second].apply(on_reference)
    }

    /// Logarithm of the first frame's light over the second's, at a distance from `place` on some of the spokes; `None` at the border.
    fn lacks(
        &self,
        place: Point,
        (distance, spokes): (f64, Range<usize>),
        (number, other): (usize, usize),
    ) -> Option<f32> {
        let (mut sum, count) = (0.0, count_f32(spokes.len()));
        for spoke in spokes {
            let angle = std::f64::consts::TAU * count_f64(spoke) / count_f64(SPOKES);
            let here = Point::new(
                place.x + distance * libm::cos(angle),
                place.y + distance * libm::sin(angle),
            );
            let own = light_at(self.frames[number].light, here, self.rect)?;
            let there = self.from((number, other), here);
            sum += own - light_at(self.frames[other].light, there, self.rect)?;
        }
        Some(sum / count)
    }

    /// Whether every side of the spot takes its part of the `usual` loss. A dark line that points to where the frames grow from stays in
    /// its place on the sensor too, but it darkens two sides only.
    fn is_round(
        &self,
        place: Point,
        (radius, usual): (f64, f32),
        pairs: &[(usize, usize)],
    ) -> bool {
        (0..SPOKES).step_by(SPOKES / SIDES).all(|first| {
            let of_side = pairs.iter().filter_map(|pair| {
                let side = first..first + SPOKES / SIDES;
                let inside = self.lacks(place, (WELL_INSIDE * radius, side), *pair)?;
                let outside = self.lacks(place, (1.25 * radius, 0..SPOKES), *pair)?;
                Some(1.0 - libm::expf(inside - outside))
            });
            let losses: Vec<f32> = of_side.collect();
            median(&losses).is_some_and(|loss| loss >= SIDE_SHARE * usual)
        })
    }

    /// The loss of the first frame over the second in rings around `place`, over that just outside; `None` at the border.
    fn profile(
        &self,
        place: Point,
        radius: f64,
        (number, other): (usize, usize),
    ) -> Option<[f32; RINGS]> {
        let lacks = |distance: f64| self.lacks(place, (distance, 0..SPOKES), (number, other));
        let outside = 0.5 * (lacks(1.15 * radius)? + lacks(1.35 * radius)?);
        let mut out = [0.0; RINGS];
        for (ring, loss) in out.iter_mut().enumerate() {
            let distance = (count_f64(ring) + 0.5) / count_f64(RINGS) * radius;
            *loss = 1.0 - libm::expf(lacks(distance)? - outside);
        }
        Some(out)
    }
}

/// Logarithm of the light at a place between pixels; `None` outside.
fn light_at(plane: &Plane, place: Point, rect: Rect) -> Option<f32> {
    let (u, v) = (place.x - 0.5, place.y - 0.5);
    let (x, y) = (floor_f64(u), floor_f64(v));
    if !rect.contains(x, y) || !rect.contains(x + 1, y + 1) {
        return None;
    }
    let (across, down) = (narrow(u - f64::from(x)), narrow(v - f64::from(y)));
    let first = rect.index(x, y);
    let row =
        |first: usize| plane.data[first] + across * (plane.data[first + 1] - plane.data[first]);
    let (above, below) = (row(first), row(first + rect.width()));
    Some(libm::logf(
        (above + down * (below - above)).max(0.0) + FLOOR,
    ))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Similarity;

    const RECT: Rect = Rect::new(0, 0, 420, 320);

    fn breathing(step: f64) -> Transform {
        let values = Similarity {
            log_scale: 0.012 * step,
            angle_rad: 1e-3 * step,
            shift: Point::new(1.5 * step, -0.8 * step),
        };
        Transform::similarity(values, RECT.middle())
    }

    /// A scene of waves with a dark spot of its own that moves with it.
    fn scene(at: Point, blur: f64) -> f64 {
        let mut light = 0.0;
        for wave in 1..14_u8 {
            let k = f64::from(wave);
            let fade = libm::exp(-0.002 * blur * k * k);
            light += 0.012
                * fade
                * libm::sin(0.021 * k * at.x + 1.3 * k * k)
                * libm::cos(0.019 * k * at.y + 0.7 * k);
        }
        // A smooth backdrop on the left, the model on the right, and a dark spot of the scene's own.
        let model = ((at.x - 160.0) / 60.0).clamp(0.0, 1.0);
        let spot = at.distance(Point::new(120.0, 90.0)) / 6.0;
        (0.3 + 2e-4 * at.x + model * light) * (1.0 - 0.2 * libm::exp(-spot * spot))
    }

    fn shadow(at: Point, dust: &[(Point, f64, f64)]) -> f64 {
        dust.iter().fold(1.0, |left, (place, width, loss)| {
            let off = at.distance(*place) / width;
            left * (1.0 - loss * libm::exp(-off * off))
        })
    }

    fn frames(dust: &[(Point, f64, f64)]) -> Vec<(Plane, Transform)> {
        let mut state = 5_u64;
        (0..9_u8)
            .map(|k| {
                let step = f64::from(k) - 4.0;
                let map = breathing(step);
                let plane = Plane::from_fn(RECT, |x, y| {
                    let at = Point::new(f64::from(x) + 0.5, f64::from(y) + 0.5);
                    state = state
                        .wrapping_mul(6_364_136_223_846_793_005)
                        .wrapping_add(1_442_695_040_888_963_407);
                    let noise =
                        f64::from(crate::pixels::convert::low_u32(state >> 40)) / 16_777_216.0;
                    narrow(
                        scene(map.apply(at), step * step) * shadow(at, dust)
                            + 0.004 * (noise - 0.5),
                    )
                });
                (plane, map)
            })
            .collect()
    }

    fn found(frames: &[(Plane, Transform)]) -> Vec<Dust> {
        let on_sensor: Vec<OnSensor<'_>> = frames
            .iter()
            .map(|(light, map)| OnSensor {
                light,
                reference_from_frame: *map,
            })
            .collect();
        sensor_dust(&on_sensor)
    }

    #[test]
    fn dust_is_told_from_the_scene_and_lifted() {
        let dust = [
            (Point::new(70.0, 40.0), 3.0, 0.05),
            (Point::new(330.0, 60.0), 5.0, 0.15),
        ];
        let frames = frames(&dust);
        let spots = found(&frames);
        assert_eq!(spots.len(), 2, "{spots:?}");
        assert!(spots[0].at.distance(dust[0].0) < 2.0);
        assert!(spots[1].at.distance(dust[1].0) < 2.0);
        let (light, map) = &frames[3];
        let mut planes = Planes {
            rgb: [light.clone(), light.clone(), light.clone()],
        };
        lift(&mut planes, &spots);
        for (place, width, loss) in dust {
            let off = |seen: &Plane| off_truth(seen, map, (place, width));
            let (before, after) = (off(light), off(&planes.rgb[1]));
            assert!(
                after < 0.35 * before,
                "{loss}: {before} before, {after} after"
            );
        }
    }

    /// Root mean square of the share by which `seen` is off the scene, within `width` of `place`.
    fn off_truth(seen: &Plane, map: &Transform, (place, width): (Point, f64)) -> f64 {
        let (mut sum, mut count) = (0.0, 0.0);
        for y in 0..RECT.y1 {
            for x in 0..RECT.x1 {
                let at = Point::new(f64::from(x) + 0.5, f64::from(y) + 0.5);
                if at.distance(place) < width {
                    let share = f64::from(seen.at(x, y)) / scene(map.apply(at), 1.0) - 1.0;
                    sum += share * share;
                    count += 1.0;
                }
            }
        }
        (sum / count).sqrt()
    }

    #[test]
    fn a_clean_sensor_shows_none() {
        let clean = frames(&[]);
        assert!(found(&clean).is_empty(), "{:?}", found(&clean));
        assert!(found(&clean[..5]).is_empty(), "a few frames cannot tell");
        let still: Vec<(Plane, Transform)> = frames(&[(Point::new(70.0, 40.0), 3.0, 0.05)])
            .into_iter()
            .map(|(plane, _)| (plane, Transform::IDENTITY))
            .collect();
        assert!(
            found(&still).is_empty(),
            "nothing moves, so nothing is said"
        );
    }
}
