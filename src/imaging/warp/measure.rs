//! How strongly a field stretches, and whether it folds.

use super::Field;
use crate::geometry::{Point, Rect};
use crate::pixels::convert::{clamp_index, narrow};

/// Stretch from which on texture shows it.
pub const STRETCH_WARNS: f32 = 1.3;

/// What a field does at one place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sample {
    /// How many times as long as it was the plate is there, in the direction in which it grows most.
    pub stretch: f32,
    /// Area of the plate as it was for one of the warped plate: 0 or less where the picture folds.
    pub area: f32,
}

/// What a field does at worst.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stretch {
    /// The largest stretch.
    pub most: f32,
    /// Where: a rectangle round everything stretched beyond [`STRETCH_WARNS`]; empty without any.
    pub beyond: Rect,
    /// The smallest area.
    pub least_area: f32,
}

/// Half the distance over which slopes are taken, px.
const STEP_PX: f64 = 0.25;
/// Least distance of the places that [`measured`] looks at, px.
const LOOK_PX: i32 = 4;
/// The most places that it looks at; they lie farther apart in large areas.
const LOOKS: usize = 60_000;

/// What `field` does at `point` of the warped plate.
#[must_use]
pub fn sample_at(field: &Field, point: Point) -> Sample {
    let at = |x: f64, y: f64| field.was_at(Point::new(point.x + x, point.y + y));
    let slope = |low: Point, high: Point| {
        (
            (high.x - low.x) / (2.0 * STEP_PX),
            (high.y - low.y) / (2.0 * STEP_PX),
        )
    };
    let (a, c) = slope(at(-STEP_PX, 0.0), at(STEP_PX, 0.0));
    let (b, d) = slope(at(0.0, -STEP_PX), at(0.0, STEP_PX));
    // The smaller of the two stretches of the way back is one over the larger of the way there.
    let (sum, area) = (a * a + b * b + c * c + d * d, a * d - b * c);
    let root = (sum * sum - 4.0 * area * area).max(0.0).sqrt();
    let least = (0.5 * (sum - root)).max(0.0).sqrt();
    Sample {
        stretch: narrow(1.0 / least.max(1e-3)),
        area: narrow(area),
    }
}

/// What `field` does inside `area` of the warped plate, looked at every few pixels.
#[must_use]
pub fn measured(field: &Field, area: Rect) -> Stretch {
    let mut found = Stretch {
        most: 1.0,
        beyond: Rect::default(),
        least_area: 1.0,
    };
    let mut step = LOOK_PX;
    while area.area() / clamp_index(step * step) > LOOKS {
        step += 1;
    }
    let reach = step / 2;
    for y in (area.y0..area.y1).step_by(clamp_index(step)) {
        for x in (area.x0..area.x1).step_by(clamp_index(step)) {
            let sample = sample_at(field, Point::new(f64::from(x) + 0.5, f64::from(y) + 0.5));
            found.most = found.most.max(sample.stretch);
            found.least_area = found.least_area.min(sample.area);
            if sample.stretch > STRETCH_WARNS {
                found.beyond =
                    found
                        .beyond
                        .union(Rect::new(x - reach, y - reach, x + reach, y + reach));
            }
        }
    }
    found
}
