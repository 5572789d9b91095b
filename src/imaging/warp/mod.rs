//! Local changes of a model's geometry: a strake that stretches, handles that are moved, a region put into perspective.
//!
//! A warp is a field: for each point of the warped plate, the point of the plate as it was. It is never pixels, so that one resample
//! can go through it and the placement together, and light, matte and masks follow the same field. All lengths are plate pixels.

mod corners;
mod handles;
mod measure;
mod strake;

pub use corners::Corners;
pub use handles::{Handle, Handles};
pub use measure::{STRETCH_WARNS, Sample, Stretch, measured, sample_at};
pub use strake::{Beyond, Strake};

use crate::geometry::{Point, Rect};

/// One warp.
#[derive(Debug, Clone, PartialEq)]
pub enum Warp {
    /// A band between two lines stretches.
    Strake(Strake),
    /// Points are moved, the rest follows as stiffly as it can.
    Handles(Handles),
    /// Four corners are moved.
    Corners(Corners),
}

impl Warp {
    /// Where `point` of the warped plate was.
    #[must_use]
    pub fn was_at(&self, point: Point) -> Point {
        match self {
            Self::Strake(strake) => strake.was_at(point),
            Self::Handles(handles) => handles.was_at(point),
            Self::Corners(corners) => corners.was_at(point),
        }
    }

    /// Pixels of the warped plate that it changes; everything outside is where it was.
    #[must_use]
    pub fn bounds(&self) -> Rect {
        match self {
            Self::Strake(strake) => strake.bounds(),
            Self::Handles(handles) => handles.bounds(),
            Self::Corners(corners) => corners.bounds(),
        }
    }
}

/// Several warps, one after the other.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Field {
    warps: Vec<(Rect, Warp)>,
}

impl Field {
    /// The field of `warps`, the first one done first.
    #[must_use]
    pub fn new(warps: Vec<Warp>) -> Self {
        Self {
            warps: warps
                .into_iter()
                .map(|warp| (warp.bounds(), warp))
                .collect(),
        }
    }

    /// Where `point` of the warped plate was before all of them.
    #[must_use]
    pub fn was_at(&self, point: Point) -> Point {
        self.warps
            .iter()
            .rev()
            .fold(point, |point, (bounds, warp)| {
                if holds(*bounds, point) {
                    warp.was_at(point)
                } else {
                    point
                }
            })
    }

    /// The part of the plate as it was that `area` of the warped plate is made from; `None` where nothing in it moves.
    #[must_use]
    pub fn needed(&self, area: Rect) -> Option<Rect> {
        let mut wide = area;
        let mut moves = false;
        for (bounds, warp) in self.warps.iter().rev() {
            let met = bounds.intersect(wide);
            if met.is_empty() {
                continue;
            }
            moves = true;
            wide = wide.union(reads(warp, met));
        }
        moves.then_some(wide)
    }
}

fn holds(rect: Rect, point: Point) -> bool {
    f64::from(rect.x0) <= point.x
        && point.x < f64::from(rect.x1)
        && f64::from(rect.y0) <= point.y
        && point.y < f64::from(rect.y1)
}

/// Distance of the places at which a field is looked at to see what it reads, px.
const LOOK_PX: i32 = 8;

/// What of the plate as it was `area` reads, with some room for what happens between the places looked at.
fn reads(warp: &Warp, area: Rect) -> Rect {
    let mut points = Vec::new();
    let ends = |low: i32, high: i32| {
        let step = usize::try_from(LOOK_PX).unwrap_or(1);
        (low..high).step_by(step).chain([high])
    };
    for y in ends(area.y0, area.y1) {
        for x in ends(area.x0, area.x1) {
            points.push(warp.was_at(Point::new(f64::from(x), f64::from(y))));
        }
    }
    Rect::around(&points).grow(LOOK_PX)
}

/// 0 at 0 and 1 at 1, with no slope at either.
fn smoothstep(t: f64) -> f64 {
    let t = t.clamp(0.0, 1.0);
    t * t * (3.0 - 2.0 * t)
}
