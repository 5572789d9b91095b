//! Masks: coverage 0..=1 from brush strokes, outlines and ranges, in the order they were made.
//!
//! Lengths and positions are pixels at full size; a picture shrunk by 2^level shrinks them with it. A pixel's value depends on the
//! parts alone and never on the rectangle asked for, so tiles agree bit for bit: areas are added up in whole numbers, and other
//! sums run in an order fixed by the pixel.

mod outline;
pub mod range;
mod stroke;

use crate::geometry::{Point, Rect};
use crate::imaging::basics::edges::{grow, grow_reach, soften, soften_reach};
use crate::pixels::convert::{ceil_i32, narrow};
use crate::pixels::{Plane, convert};
use std::sync::Arc;

/// Whether a part adds to the mask or takes away from it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Mode {
    /// `m + s (1 - m)` for the part's coverage s.
    #[default]
    Add,
    /// `m (1 - s)`.
    Remove,
    /// `m s`.
    Within,
}

/// A round brush drawn along a line.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Stroke {
    /// The line; a single point is one dab.
    pub points: Vec<Point>,
    /// Radius factor at each point, 0..=1; points without one have 1.
    pub pressure: Vec<f32>,
    /// Radius in pixels.
    pub radius_px: f32,
    /// Share of the radius over which the edge fades, 0 (hard, one pixel) to 1.
    pub softness: f32,
    /// Coverage in the middle, 0..=1.
    pub strength: f32,
}

/// A corner of an outline.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Node {
    /// Where it lies.
    pub at: Point,
    /// Control point on the way in; `None` for a straight start of the bend.
    pub arrive: Option<Point>,
    /// Control point on the way out.
    pub leave: Option<Point>,
}

/// A closed line of straight and cubic Bezier pieces; a place is inside when the line winds round it (nonzero rule).
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Outline {
    /// The corners in order; the last joins the first.
    pub nodes: Vec<Node>,
    /// Width of the soft edge in pixels, from a tenth to nine tenths of the coverage.
    pub feather_px: f32,
    /// Coverage inside, 0..=1.
    pub strength: f32,
}

/// What a part looks like.
#[derive(Debug, Clone, PartialEq)]
pub enum Shape {
    /// Drawn with a brush.
    Stroke(Stroke),
    /// Drawn as a closed line.
    Outline(Outline),
    /// Worked out elsewhere, at the level asked for: the coverage over all pixels it is wanted for, and its strength, 0..=1.
    Field(Plane, f32),
}

/// One step of drawing a mask.
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    /// Whether it adds or removes.
    pub mode: Mode,
    /// What it looks like.
    pub shape: Shape,
}

/// What happens to the whole mask after its parts are drawn, in the order of the fields.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Adjust {
    /// Pixels to grow; negative shrinks.
    pub grow_px: f32,
    /// Width of the soft edge in pixels, from a tenth to nine tenths of the coverage.
    pub feather_px: f32,
    /// Whether inside and outside change places.
    pub invert: bool,
}

impl Adjust {
    /// Pixels of the full-size picture over which a change of a part can be felt.
    #[must_use]
    pub fn reach_px(&self) -> i32 {
        grow_reach(self.grow_px.abs()) + soften_reach(self.feather_px)
    }

    fn at_level(self, level: u32) -> Self {
        let shrink = shrink(level);
        Self {
            grow_px: self.grow_px * shrink,
            feather_px: self.feather_px * shrink,
            invert: self.invert,
        }
    }
}

/// The factor by which lengths shrink at `level`.
fn shrink(level: u32) -> f32 {
    1.0 / convert::count_f32(1_usize << level.min(24))
}

fn shrunk(point: Point, shrink: f32) -> Point {
    Point::new(point.x * f64::from(shrink), point.y * f64::from(shrink))
}

/// Pixels of the full-size picture that `part` can change.
#[must_use]
pub fn bounds(part: &Part) -> Rect {
    bounds_at(part, 0)
}

/// Pixels of the picture shrunk by 2^`level` that `part` can change.
#[must_use]
pub fn bounds_at(part: &Part, level: u32) -> Rect {
    match &part.shape {
        Shape::Stroke(stroke) => stroke::bounds(stroke, shrink(level)),
        Shape::Outline(outline) => outline::bounds(outline, shrink(level)),
        Shape::Field(field, _) => field.rect,
    }
}

/// The pixels of the picture shrunk by 2^`level` on which the mask inside `rect` depends.
#[must_use]
pub fn needed(adjust: &Adjust, rect: Rect, level: u32) -> Rect {
    rect.grow(adjust.at_level(level).reach_px())
}

/// The mask inside `rect` of the picture shrunk by 2^`level`. Fields must cover [`needed`].
///
/// Outside the parts it is 0 (1 when inverted). *Cost*: in proportion to the area of `rect` that the parts touch.
#[must_use]
pub fn rasterise(parts: &[Part], adjust: &Adjust, rect: Rect, level: u32) -> Plane {
    adjusted(
        &draw(&[], parts, adjust, (rect, level)),
        adjust,
        rect,
        level,
    )
}

/// The first half of [`rasterise`]: the parts drawn one after the other, before the mask is adjusted; 0 outside the plane.
///
/// `begun`: what this gave for the parts before these, in rectangles that together cover `rect`.
#[must_use]
pub fn draw(
    begun: &[Arc<Plane>],
    parts: &[Part],
    adjust: &Adjust,
    (rect, level): (Rect, u32),
) -> Plane {
    let margin = adjust.at_level(level).reach_px();
    let added = parts
        .iter()
        .filter(|part| part.mode == Mode::Add)
        .fold(Rect::default(), |all, part| {
            all.union(bounds_at(part, level))
        });
    let added = if added.is_empty() {
        added
    } else {
        added.grow(margin)
    };
    let touched = begun.iter().fold(added, |all, plane| all.union(plane.rect));
    let mut mask = Plane::zero(rect.grow(margin).intersect(touched));
    begun.iter().for_each(|plane| paste(&mut mask, plane));
    for part in parts {
        combine(&mut mask, part, level);
    }
    mask
}

/// The second half of [`rasterise`]: what was drawn, grown, softened and inverted.
#[must_use]
pub fn adjusted(drawn: &Plane, adjust: &Adjust, rect: Rect, level: u32) -> Plane {
    let local = adjust.at_level(level);
    let mut out = Plane::zero(rect);
    if !drawn.rect.is_empty() {
        let mask = soften(&grow(drawn, local.grow_px), local.feather_px);
        paste(&mut out, &mask);
    }
    if local.invert {
        for value in &mut out.data {
            *value = 1.0 - *value;
        }
    }
    out
}

fn combine(mask: &mut Plane, part: &Part, level: u32) {
    let met = bounds_at(part, level).intersect(mask.rect);
    let (cover, strength) = match &part.shape {
        Shape::Stroke(stroke) => (stroke::cover(stroke, met, shrink(level)), stroke.strength),
        Shape::Outline(outline) => (
            outline::cover(outline, met, shrink(level)),
            outline.strength,
        ),
        Shape::Field(field, strength) => (field.crop(met), *strength),
    };
    let strength = strength.clamp(0.0, 1.0);
    if part.mode == Mode::Within {
        keep_within(mask, &cover, strength);
        return;
    }
    for y in met.y0..met.y1 {
        let first = mask.rect.index(met.x0, y);
        let row = &mut mask.data[first..first + met.width()];
        for (value, cover) in row.iter_mut().zip(cover.row(y)) {
            let cover = cover * strength;
            *value = if part.mode == Mode::Add {
                *value + cover * (1.0 - *value)
            } else {
                *value * (1.0 - cover)
            };
        }
    }
}

/// Everything outside `cover` leaves the mask, as strongly as `strength` says.
fn keep_within(mask: &mut Plane, cover: &Plane, strength: f32) {
    let inside = cover.crop(mask.rect);
    let pairs = mask.data.iter_mut().zip(&inside.data);
    pairs.for_each(|(value, cover)| *value *= 1.0 - strength + strength * cover);
}

fn paste(out: &mut Plane, from: &Plane) {
    let met = out.rect.intersect(from.rect);
    for y in met.y0..met.y1 {
        let (to, source) = (out.rect.index(met.x0, y), from.rect.index(met.x0, y));
        out.data[to..to + met.width()].copy_from_slice(&from.data[source..source + met.width()]);
    }
}

/// The smallest rectangle of pixels that holds everything within `reach` of `points`.
fn around(points: impl Iterator<Item = Point>, reach: f32) -> Rect {
    let points: Vec<Point> = points.collect();
    if points.is_empty() {
        return Rect::default();
    }
    let rect = Rect::around(&points);
    rect.grow(ceil_i32(reach))
}

/// Shortens a double to the precision that coverage needs.
fn short(value: f64) -> f32 {
    narrow(value)
}

#[cfg(test)]
mod tests;
