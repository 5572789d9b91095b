//! Placeholder until the stage lands on this branch.

use crate::pixels::{Image, Plane};
/// Levels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Levels {
    /// Solid.
    pub solid_below: f32,
    /// Clear.
    pub clear_above: f32,
}
/// Margin.
#[must_use]
pub fn margin_px(spread: f32, feather: f32) -> i32 {
    crate::pixels::convert::ceil_i32(spread.abs() + 4.0 * feather) + 2
}
/// Coverage from a silhouette.
#[must_use]
pub fn silhouette(light: &Image, levels: Levels, spread: f32, feather: f32) -> Plane {
    let wide = (levels.clear_above - levels.solid_below).max(1e-3);
    let data = light.data.iter().map(|pixel| {
        let luma = crate::imaging::basics::colour::luma([pixel[0], pixel[1], pixel[2]]);
        (1.0 - (luma - levels.solid_below) / wide).clamp(0.0, 1.0)
    });
    let raw = Plane {
        rect: light.rect,
        data: data.collect(),
    };
    let grown = if spread.abs() > 0.0 {
        crate::imaging::basics::blur::gaussian(&raw, spread.abs())
            .map(|value| (value + spread.signum() * 0.3).clamp(0.0, 1.0))
    } else {
        raw
    };
    crate::imaging::basics::blur::gaussian(&grown, feather)
}
/// Multiplies a tile by its coverage.
pub fn cut_out(tile: &mut Image, coverage: Option<&Plane>, garbage: Option<&Plane>) {
    for (at, pixel) in tile.data.iter_mut().enumerate() {
        let keep = coverage.map_or(1.0, |plane| plane.data[at])
            * garbage.map_or(1.0, |plane| plane.data[at]);
        *pixel = pixel.map(|value| value * keep);
    }
}
