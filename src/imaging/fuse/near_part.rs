//! One near part: its own light and depth, and what its blur puts over a frame.

use super::DepthMap;
use super::behind::{SURE, carried, filled};
use super::disc::{FARTHEST_PX, disc, most_within};
use super::unmix::WORTH;
use crate::imaging::basics::blur::gaussian;
use crate::pixels::convert::{clamp_index, count_f32, floor_i32};
use crate::pixels::{Plane, Planes};

/// Coverage from which on a pixel shows the near part alone.
pub(super) const SOLID: f32 = 0.98;
/// Share of the lens from which on a part is believed as it is seen past the parts before it.
const CLEAR: f32 = 0.4;
/// Coverage from which on a pixel tells a part's colour.
const LEAST_COVER: f32 = 0.1;
/// Depth is sorted into bins of this many frames.
const BIN: f32 = 0.5;
/// How many frames a part may lie away from its middle.
const DEEPEST: f32 = 4.0;
/// Least share of the lens that is divided by.
const LEAST_SEEN: f32 = 0.05;

/// How far outside its outline a part may reach.
const OUTLINE_PX: usize = 2;
/// Squared difference of a part's colour from what shines past it, over that, from which on its outline can be seen.
const UNLIKE: f32 = 0.02;
/// Sigma in pixels over which an outline is judged.
const ALONG_PX: f32 = 4.0;
/// How far coverage that is seen must lie above that given, at a pixel and on the mean along the outline.
const DOUBT: f32 = 0.3;
const MEANT: f32 = 0.15;

/// A near part in a rectangle.
pub(super) struct Part {
    pub(super) cover: Plane,
    /// Its light times its coverage.
    pub(super) light: Planes,
    /// The middle of its depths, in frames.
    pub(super) middle: f32,
    step_px: f32,
    /// Sorted by depth: coverage, and light times coverage.
    bins: Vec<(f32, Plane, Planes)>,
}

/// A frame without the blur of some near parts.
pub(super) struct Peeled {
    pub(super) light: Planes,
    /// How much of the lens sees past them.
    pub(super) seen: Plane,
    /// The depth of the farthest part that was taken off at each pixel.
    pub(super) beyond: Vec<f32>,
}

impl Peeled {
    /// Frame `number` without the blur of `parts`, which come nearest first.
    pub(super) fn new(light: Planes, parts: &[Part], number: usize) -> Self {
        let rect = light.rect();
        let mut out = Self {
            light,
            seen: Plane::filled(rect, 1.0),
            beyond: vec![f32::MIN; rect.area()],
        };
        for part in parts {
            out.take_off(part, number);
        }
        out
    }

    fn take_off(&mut self, part: &Part, number: usize) {
        let (cover, light) = part.spread(number);
        for (plane, spread) in self.light.rgb.iter_mut().zip(&light.rgb) {
            let pairs = plane.data.iter_mut().zip(&spread.data).zip(&cover.data);
            for ((value, spread), hidden) in pairs {
                *value = (*value - spread) / (1.0 - hidden).max(LEAST_SEEN);
            }
        }
        let pairs = self.seen.data.iter_mut().zip(&mut self.beyond);
        for ((seen, beyond), hidden) in pairs.zip(&cover.data) {
            *seen *= (1.0 - hidden).clamp(0.0, 1.0);
            *beyond = if *hidden > WORTH {
                part.middle
            } else {
                *beyond
            };
        }
    }
}

impl Part {
    /// The part with `cover`, whose depths lie around `middle`, as it is seen in its own frames. `frame` gives a frame without the parts
    /// before it.
    pub(super) fn seen<E>(
        (cover, middle, step_px): (Plane, f32, f32),
        map: &DepthMap,
        frame: impl Fn(usize) -> Result<Peeled, E>,
    ) -> Result<Self, E> {
        let depth = own_depth(&cover, map, middle);
        let mut light = Planes::zero(cover.rect);
        let mut share = Plane::zero(cover.rect);
        for number in 0..map.frames {
            let weight = |at: usize| (1.0 - (depth.data[at] - count_f32(number)).abs()).max(0.0);
            if (0..depth.data.len()).all(|at| cover.data[at] <= 0.0 || weight(at) <= 0.0) {
                continue;
            }
            let peeled = frame(number)?;
            for at in 0..depth.data.len() {
                let weight = weight(at);
                share.data[at] += weight * peeled.seen.data[at];
                for (sum, plane) in light.rgb.iter_mut().zip(&peeled.light.rgb) {
                    sum.data[at] += weight * plane.data[at];
                }
            }
        }
        let cover = widened(&cover, &light, &share);
        let light = own_light(&light, &share, &cover);
        let bins = bins(&cover, &light, &depth);
        Ok(Self {
            cover,
            light,
            middle,
            step_px,
            bins,
        })
    }

    /// Coverage, and light times coverage, blurred as in frame `number`.
    fn spread(&self, number: usize) -> (Plane, Planes) {
        let rect = self.cover.rect;
        let (mut cover, mut light) = (Plane::zero(rect), Planes::zero(rect));
        for (depth, own, own_light) in &self.bins {
            let radius = (self.step_px * (count_f32(number) - depth).abs()).min(FARTHEST_PX);
            add_to(&mut cover, &disc(own, radius));
            for (sum, plane) in light.rgb.iter_mut().zip(&own_light.rgb) {
                add_to(sum, &disc(plane, radius));
            }
        }
        (cover, light)
    }
}

fn add_to(sum: &mut Plane, plane: &Plane) {
    let pairs = sum.data.iter_mut().zip(&plane.data);
    pairs.for_each(|(sum, value)| *sum += value);
}

/// Depths of a near part where they are certain.
pub(super) fn own_depths(coverage: &Plane, map: &DepthMap) -> Vec<f32> {
    let places = coverage.data.iter().zip(&map.confidence.data);
    places
        .zip(&map.depth.data)
        .filter(|((cover, sure), _)| **cover >= SOLID && **sure >= SURE)
        .map(|(_, depth)| *depth)
        .collect()
}

/// A near part's depth, carried over from where it is certain.
fn own_depth(cover: &Plane, map: &DepthMap, middle: f32) -> Plane {
    let place = cover.rect;
    let (depth, mut weight) = (map.depth.crop(place), map.confidence.crop(place));
    for (at, value) in weight.data.iter_mut().enumerate() {
        let solid = cover.data[at] >= SOLID && (depth.data[at] - middle).abs() < DEEPEST;
        *value = if solid { *value } else { 0.0 };
    }
    let mut weighted = weight.clone();
    let pairs = weighted.data.iter_mut().zip(&depth.data);
    pairs.for_each(|(value, depth)| *value *= depth);
    let (mut out, bottom) = (gaussian(&weighted, 4.0), gaussian(&weight, 4.0));
    for (value, bottom) in out.data.iter_mut().zip(&bottom.data) {
        *value = if *bottom > 0.0 {
            *value / bottom
        } else {
            middle
        };
    }
    let (mut out, share) = carried(&out, &bottom);
    let last = count_f32(map.frames.saturating_sub(1));
    for (value, share) in out.data.iter_mut().zip(&share.data) {
        // Its middle counts a little everywhere, so that parts without texture are not carried away by a few pixels.
        let mixed = (*value * share + 1e-4 * middle) / (share + 1e-4);
        *value = mixed.clamp(0.0, last);
    }
    out
}

/// The coverage where the outline was drawn too narrow: raised in the pixels around it that are seen to differ from what shines past,
/// towards the part's own colour.
fn widened(cover: &Plane, light: &Planes, share: &Plane) -> Plane {
    let clear = |at: usize| share.data[at] > CLEAR;
    let grown = |reach| most_within(&most_within(cover, reach, false), reach, true);
    let mut free = grown(OUTLINE_PX + 1);
    for (at, value) in free.data.iter_mut().enumerate() {
        *value = if clear(at) && *value <= 0.0 { 1.0 } else { 0.0 };
    }
    let past = filled(light, &free);
    let own = own_colour(light, &past, cover, &clear);
    let reached = grown(OUTLINE_PX);
    let (mut more, mut counts) = (Plane::zero(cover.rect), Plane::zero(cover.rect));
    for (at, reached) in reached.data.iter().enumerate() {
        let before = cover.data[at];
        if *reached <= 0.0 || before >= SOLID || !clear(at) {
            continue;
        }
        let past = past.pixel(at);
        let less = |colour: [f32; 3]| [0, 1, 2].map(|c| colour[c] - past[c]);
        let (seen, whole) = (less(light.pixel(at)), less(own.pixel(at)));
        let product = |a: [f32; 3], b: [f32; 3]| a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
        let size = product(whole, whole);
        let bright = 0.25 * (past[0] + past[1] + past[2]).max(0.0) + 0.01;
        if size > UNLIKE * bright {
            more.data[at] = (product(seen, whole) / size).clamp(0.0, 1.0) - before;
            counts.data[at] = 1.0;
        }
    }
    // A part's own texture makes single pixels look more or less covered; an outline that is off does so all along it.
    let usual = gaussian(&more, ALONG_PX);
    let counts = gaussian(&counts, ALONG_PX);
    let mut out = cover.clone();
    for (at, value) in out.data.iter_mut().enumerate() {
        if more.data[at] > DOUBT && usual.data[at] > MEANT * counts.data[at] {
            *value += more.data[at];
        }
    }
    out
}

/// A near part's light times its coverage, from what is seen at its own depth: less what shines past it, which is far out of focus
/// there and so is carried in from around it. Taking what is seen, not a colour of its own, leaves little harm where the outline is off.
/// Where parts before it hide it, its colour is carried in too.
fn own_light(light: &Planes, share: &Plane, cover: &Plane) -> Planes {
    let clear = |at: usize| share.data[at] > CLEAR;
    let mut free = most_within(&most_within(cover, 1, false), 1, true);
    for (at, value) in free.data.iter_mut().enumerate() {
        *value = if clear(at) && *value <= 0.0 { 1.0 } else { 0.0 };
    }
    let past = filled(light, &free);
    let mut own = own_colour(light, &past, cover, &clear);
    for ((own, light), past) in own.rgb.iter_mut().zip(&light.rgb).zip(&past.rgb) {
        for (at, cover) in cover.data.iter().enumerate() {
            let seen = light.data[at] - (1.0 - cover) * past.data[at];
            let known = clear(at) && *cover > 0.0;
            own.data[at] = if known { seen } else { own.data[at] * cover };
        }
    }
    own
}

/// A near part's colour where it is `clear`, carried from there to the pixels around; `past` shines past it.
fn own_colour(
    light: &Planes,
    past: &Planes,
    cover: &Plane,
    clear: &impl Fn(usize) -> bool,
) -> Planes {
    let mut weight = cover.map(|cover| cover * cover);
    let mut colour = Planes::zero(cover.rect);
    for (at, cover) in cover.data.iter().enumerate() {
        if *cover <= LEAST_COVER || !clear(at) {
            weight.data[at] = 0.0;
            continue;
        }
        for ((own, light), past) in colour.rgb.iter_mut().zip(&light.rgb).zip(&past.rgb) {
            own.data[at] = (light.data[at] - (1.0 - cover) * past.data[at]) / cover;
        }
    }
    filled(&colour, &weight)
}

/// A near part sorted by depth: every pixel shared out to the two bins around its own.
fn bins(cover: &Plane, light: &Planes, depth: &Plane) -> Vec<(f32, Plane, Planes)> {
    let place = cover.rect;
    let covered = || (0..cover.data.len()).filter(|at| cover.data[*at] > 0.0);
    let (first, last) = covered().fold((f32::MAX, f32::MIN), |(first, last), at| {
        (first.min(depth.data[at]), last.max(depth.data[at]))
    });
    let count = clamp_index(floor_i32((last - first) / BIN) + 2).clamp(1, 64);
    let empty = |bin| {
        let depth = first + BIN * count_f32(bin);
        (depth, Plane::zero(place), Planes::zero(place))
    };
    let mut bins: Vec<(f32, Plane, Planes)> = (0..count).map(empty).collect();
    for at in covered() {
        let place = ((depth.data[at] - first) / BIN).clamp(0.0, count_f32(count - 1));
        let lower = clamp_index(floor_i32(place)).min(count - 1);
        let part = place - count_f32(lower);
        for (bin, share) in [(lower, 1.0 - part), (lower + 1, part)] {
            if share <= 0.0 || bin >= count {
                continue;
            }
            bins[bin].1.data[at] = share * cover.data[at];
            let colour = light.pixel(at).map(|value| value * share);
            bins[bin].2.set_pixel(at, colour);
        }
    }
    bins.retain(|(_, cover, _)| cover.data.iter().any(|cover| *cover > 0.0));
    bins
}
