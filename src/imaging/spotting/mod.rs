//! Dust and hair: found by their shape, told apart from what belongs to the model.
//!
//! Dust is a small blob that stands out of everything round it; hair a narrow ridge that bends. What belongs to a model looks alike but
//! is built: rivets come again at even distances, panel lines and antennas are straight, struts lie at another depth; and where very
//! much looks like dust, hardly anything is. Proposals only: each has a confidence, and somebody accepts it.

mod blobs;
mod chains;
mod crowded;
mod grains;
mod ridges;
mod second;
mod signs;
mod unexplained;

pub use second::find_against;

use crate::geometry::{Point, Rect};
use crate::imaging::basics::colour::luma;
use crate::pixels::convert::narrow;
use crate::pixels::{Plane, Planes};
use rayon::prelude::*;
use ridges::Straight;

/// What was found.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// A grain.
    Dust,
    /// A hair or fibre.
    Hair,
}

/// One find.
#[derive(Debug, Clone, PartialEq)]
pub struct Found {
    /// What it looks like.
    pub kind: Kind,
    /// Its middle, or the course of a hair.
    pub points: Vec<Point>,
    /// Its width, px.
    pub width_px: f32,
    /// How sure it is, 0..=1.
    pub confidence: f32,
}

/// Confidence from which on finds are shown unless another is asked for: chosen on six hulls that the weights of `signs.rs` do not come
/// from (seeds 94001 to 94051 in tens), of whose finds 1.3 % were built from there on.
pub const USUAL_CONFIDENCE: f32 = 0.7;

impl Found {
    /// The pixels that it covers.
    #[must_use]
    pub fn bounds(&self) -> Rect {
        let half = f64::from(self.width_px) * 0.5;
        let corners: Vec<Point> = self
            .points
            .iter()
            .flat_map(|at| {
                [
                    Point::new(at.x - half, at.y - half),
                    Point::new(at.x + half, at.y + half),
                ]
            })
            .collect();
        Rect::around(&corners)
    }
}

/// What one picture tells of its dust and hair.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Finds {
    /// Every find, the surest first; those of a confidence below 0.05 are left out.
    pub found: Vec<Found>,
    /// How many more would count at the usual confidence, were they not among so many alike that it takes a second picture to tell.
    pub look_alikes: usize,
}

/// Looks for dust and hair in a plate.
///
/// `depth`: the frame each place is sharp in, where the plate is a fused stack: what stands before or behind its surroundings is no hair.
/// *Source*: Lindeberg 1998 (blobs by scale), Steger 1998 (ridges); the signs and their weights are this program's own.
#[must_use]
pub fn find(light: &Planes, depth: Option<&Plane>) -> Finds {
    let roots = roots(light);
    let (hairs, built) = ridges::find(&roots, depth, Straight::IsBuilt);
    let layers = blobs::layers(&roots);
    let mut found = grains::grains(blobs::find(&layers), &layers, (&hairs, &built));
    found.extend(hairs);
    found.retain(is_any);
    let usual = |found: &[Found]| {
        let sure = found.iter().map(|one| one.confidence);
        sure.filter(|sure| *sure >= USUAL_CONFIDENCE).count()
    };
    let alone = usual(&found);
    crowded::lower(&mut found, light.rect());
    Finds {
        look_alikes: alone - usual(&found),
        found: surest_first(found),
    }
}

/// Whether a find is worth naming at all.
fn is_any(found: &Found) -> bool {
    found.confidence >= 0.05
}

/// Finds in their order, without those that are hardly any.
fn surest_first(mut found: Vec<Found>) -> Vec<Found> {
    found.retain(is_any);
    found.sort_by(|a, b| {
        let by_confidence = b.confidence.total_cmp(&a.confidence);
        let (p, q) = (a.points[0], b.points[0]);
        by_confidence
            .then(p.y.total_cmp(&q.y))
            .then(p.x.total_cmp(&q.x))
    });
    found
}

/// Roots of luminance: noise of light is the same everywhere in them.
fn roots(light: &Planes) -> Plane {
    let rect = light.rect();
    let data = (0..rect.area())
        .into_par_iter()
        .map(|at| (luma(light.pixel(at)).max(0.0) + 1e-4).sqrt());
    Plane {
        rect,
        data: data.collect(),
    }
}

/// A share of certainty from a sum of evidence: 0.5 at 0.
fn certainty(evidence: f32) -> f32 {
    1.0 / (1.0 + libm::expf(-evidence))
}

/// The value of `plane` at a point, straight between pixels, carried on beyond the border.
fn value_at(plane: &Plane, x: f32, y: f32) -> f32 {
    use crate::pixels::convert::floor_i32;
    let (u, v) = (x - 0.5, y - 0.5);
    let (left, top) = (floor_i32(u), floor_i32(v));
    let (a, b) = (u - u.floor(), v - v.floor());
    let at = |dx: i32, dy: i32| plane.nearest(left + dx, top + dy);
    let upper = at(0, 0) + (at(1, 0) - at(0, 0)) * a;
    let lower = at(0, 1) + (at(1, 1) - at(0, 1)) * a;
    upper + (lower - upper) * b
}

/// Sine and cosine of every direction of a ring.
fn directions(count: u8) -> Vec<(f32, f32)> {
    let full = std::f64::consts::TAU / f64::from(count);
    (0..count)
        .map(|step| {
            let angle = full * f64::from(step);
            (narrow(libm::cos(angle)), narrow(libm::sin(angle)))
        })
        .collect()
}
