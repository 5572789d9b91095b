//! How deep what is behind near parts lies, and values carried into places without any.

use super::DepthMap;
use super::disc::{FARTHEST_PX, distance_to, most_within};
use crate::imaging::basics::pyramid::{expand, reduce};
use crate::pixels::convert::{ceil_i32, clamp_index, count_f32};
use crate::pixels::{Plane, Planes};

/// Weight below which nothing was carried over: what comes from far is made small by every level of the pyramid it comes through.
const LEAST_SHARE: f32 = 1e-30;
/// Confidence of a depth from which on it is believed.
pub(super) const SURE: f32 = 0.5;

/// The depth of what is behind, and how sure it is.
pub(super) struct Behind {
    pub(super) depth: Vec<f32>,
    sure: Plane,
}

impl Behind {
    /// From places that the blur of the parts that `cover` tells does not reach. The nearest of them lies at `middle`; its blur grows by
    /// `step_px` per frame, to `reach_px`.
    pub(super) fn new(
        map: &DepthMap,
        cover: &Plane,
        (middle, step_px, reach_px): (f32, f32, f32),
    ) -> Self {
        let place = cover.rect;
        let depth = map.depth.crop(place);
        let sure = map.confidence.crop(place);
        // A pixel is believed if even the farthest part near it would be out of the blur's reach there.
        let farthest = grown_depth(&depth, &sure, cover, reach_px);
        let near = distance_to(cover, reach_px);
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
        let (depth, sure) = carried(&depth, &weight);
        Self {
            depth: depth.data,
            sure,
        }
    }

    /// How much frame `number` counts for what is behind: its two nearest frames share a pixel.
    pub(super) fn weight(&self, number: usize) -> Vec<f32> {
        let pairs = self.depth.iter().zip(&self.sure.data);
        pairs
            .map(|(depth, sure)| {
                let share = (1.0 - (depth - count_f32(number)).abs()).max(0.0);
                if *sure > LEAST_SHARE { share } else { 0.0 }
            })
            .collect()
    }

    /// The radius of its blur in frame `number`.
    pub(super) fn blur_at(&self, number: usize, step_px: f32) -> Plane {
        let radius = |depth: &f32| (step_px * (depth - count_f32(number)).abs()).min(FARTHEST_PX);
        Plane {
            rect: self.sure.rect,
            data: self.depth.iter().map(radius).collect(),
        }
    }
}

/// `plane` where it has weight, carried from there to where it has none; and the weight carried.
pub(super) fn carried(plane: &Plane, weight: &Plane) -> (Plane, Plane) {
    let mut weighted = weight.clone();
    let pairs = weighted.data.iter_mut().zip(&plane.data);
    pairs.for_each(|(value, other)| *value *= other);
    let (mut out, weight) = (spread_out(&weighted), spread_out(weight));
    let pairs = out.data.iter_mut().zip(&weight.data);
    pairs.for_each(|(sum, weight)| *sum /= weight.max(LEAST_SHARE));
    (out, weight)
}

/// The same of all channels.
pub(super) fn filled(planes: &Planes, weight: &Plane) -> Planes {
    Planes {
        rgb: planes.rgb.each_ref().map(|plane| carried(plane, weight).0),
    }
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
    let reach = clamp_index(ceil_i32(reach_px));
    most_within(&most_within(&out, reach, false), reach, true)
}
