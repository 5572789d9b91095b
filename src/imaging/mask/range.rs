//! Coverage from what a picture shows: ranges of brightness, colour and depth. One pixel in, one out.

use crate::imaging::basics::colour::matrices::{apply_single, single, xyz_from_working};
use crate::imaging::basics::colour::{encode_srgb, luma};
use crate::pixels::{Image, Plane};
use rayon::prelude::*;

/// A range with soft ends.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Range {
    /// From which on a value counts in full.
    pub low: f32,
    /// Up to which it counts in full.
    pub high: f32,
    /// Over how much it fades out beyond both ends.
    pub soft: f32,
}

/// Light below which a colour is not told.
const LEAST_LIGHT: f32 = 1e-3;

impl Range {
    /// Coverage, 0..=1, of `value`.
    #[must_use]
    pub fn cover(&self, value: f32) -> f32 {
        ramp(value - self.low, self.soft) * ramp(self.high - value, self.soft)
    }
}

/// 1 for `over` from 0 on, smoothly down to 0 at minus `soft`.
fn ramp(over: f32, soft: f32) -> f32 {
    if over >= 0.0 {
        return 1.0;
    }
    if over.is_nan() || over <= -soft {
        return 0.0;
    }
    let t = 1.0 + over / soft;
    t * t * (3.0 - 2.0 * t)
}

/// Where the sRGB-encoded luminance of `picture` lies in `range`. From a high end of 1 on, the range has no end: lamps go beyond white.
#[must_use]
pub fn brightness(picture: &Image, range: &Range) -> Plane {
    let range = Range {
        high: if range.high >= 1.0 {
            f32::INFINITY
        } else {
            range.high
        },
        ..*range
    };
    each(picture, |pixel| {
        range.cover(encode_srgb(luma([pixel[0], pixel[1], pixel[2]]).max(0.0)))
    })
}

/// Where the colour of `picture` is within `reach` of `picked_rgb` on the CIE 1976 u'v' diagram, fading out over `soft` beyond. Nothing
/// where it is too dark to tell, and nothing for a picked black.
#[must_use]
pub fn colour(picture: &Image, picked_rgb: [f32; 3], (reach, soft): (f32, f32)) -> Plane {
    let xyz_from_rgb = single(&xyz_from_working());
    let place = |rgb: [f32; 3]| uv(apply_single(&xyz_from_rgb, rgb));
    let Some(wanted) = place(picked_rgb) else {
        return Plane::zero(picture.rect);
    };
    let near = Range {
        low: 0.0,
        high: reach,
        soft,
    };
    each(picture, |pixel| {
        let light = [pixel[0], pixel[1], pixel[2]];
        let Some(found) = place(light) else {
            return 0.0;
        };
        let (du, dv) = (found[0] - wanted[0], found[1] - wanted[1]);
        near.cover((du * du + dv * dv).sqrt()) * ramp(luma(light) - LEAST_LIGHT, LEAST_LIGHT)
    })
}

/// The place of a colour on the CIE 1976 u'v' diagram (CIE 15:2004); `None` for no light.
fn uv([x, y, z]: [f32; 3]) -> Option<[f32; 2]> {
    let sum = x + 15.0 * y + 3.0 * z;
    (sum > 0.0 && y > 0.0).then(|| [4.0 * x / sum, 9.0 * y / sum])
}

/// Where the depth (frame number in focus order, first channel of `depth`) lies in `range`, given as shares of the `last` frame's number.
#[must_use]
pub fn depth(depth: &Image, last: f32, range: &Range) -> Plane {
    let scale = 1.0 / last.max(1.0);
    each(depth, |pixel| range.cover(pixel[0] * scale))
}

fn each(picture: &Image, cover: impl Fn(&[f32; 4]) -> f32 + Sync + Send) -> Plane {
    let data = picture.data.par_iter().map(cover).collect();
    Plane {
        rect: picture.rect,
        data,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Rect;

    fn row(pixels: &[[f32; 3]]) -> Image {
        let data: Vec<[f32; 4]> = pixels.iter().map(|p| [p[0], p[1], p[2], 1.0]).collect();
        let width = crate::pixels::convert::coordinate(data.len());
        Image {
            rect: Rect::new(0, 0, width, 1),
            data,
        }
    }

    #[test]
    fn a_range_is_full_inside_and_fades_at_its_ends() {
        let range = Range {
            low: 0.4,
            high: 0.6,
            soft: 0.1,
        };
        for (value, wanted) in [
            (0.29, 0.0),
            (0.35, 0.5),
            (0.4, 1.0),
            (0.6, 1.0),
            (0.65, 0.5),
            (0.71, 0.0),
        ] {
            assert!((range.cover(value) - wanted).abs() < 1e-5, "{value}");
        }
        let hard = Range { soft: 0.0, ..range };
        assert_eq!((hard.cover(0.39), hard.cover(0.5)), (0.0, 1.0));
    }

    #[test]
    fn bright_lamps_lie_in_a_range_that_ends_at_white() {
        let picture = row(&[[0.01; 3], [0.5; 3], [1.0; 3], [9.0; 3]]);
        let range = Range {
            low: 0.7,
            high: 1.0,
            soft: 0.05,
        };
        assert_eq!(brightness(&picture, &range).data, [0.0, 1.0, 1.0, 1.0]);
    }

    #[test]
    fn a_colour_is_found_however_bright_and_black_has_none() {
        let warm = [0.8, 0.4, 0.1];
        let dim = warm.map(|v| v * 0.05);
        let picture = row(&[warm, dim, [0.1, 0.4, 0.8], [0.0; 3], [0.4; 3]]);
        let found = colour(&picture, warm, (0.01, 0.01)).data;
        assert_eq!(found, [1.0, 1.0, 0.0, 0.0, 0.0]);
        assert_eq!(colour(&picture, [0.0; 3], (0.5, 0.5)).data, [0.0; 5]);
    }

    #[test]
    fn depth_counts_in_shares_of_the_stack() {
        let picture = row(&[[0.0; 3], [5.0; 3], [10.0; 3]]);
        let near = Range {
            low: 0.0,
            high: 0.4,
            soft: 0.2,
        };
        assert_eq!(depth(&picture, 10.0, &near).data, [1.0, 0.5, 0.0]);
    }
}
