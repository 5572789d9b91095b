//! How the light of one frame compares with that of another, measured on registered, low-frequency blocks.
//!
//! Defocus keeps local means, so blocks of 32 pixels can be compared though the frames are focused differently; registration
//! comes first, so breathing does not look like a change of light.

use crate::geometry::{Point, Transform};
use crate::imaging::basics::pyramid::reduce;
use crate::imaging::basics::statistics::{median, percentile, spread};
use crate::pixels::Planes;
use crate::pixels::convert::{clamp_index, coordinate, count_f64, floor_f64, narrow};

/// Times a picture is halved for its blocks: 32 pixels.
const HALVINGS: usize = 5;
/// Light from which on a block counts as touched by saturation.
const NEAR_WHITE: f32 = 0.85;
/// Light below which a block says nothing about gain.
const NEAR_BLACK: f32 = 0.004;

/// The means of a picture's blocks.
#[derive(Debug, Clone)]
pub struct BlockMeans {
    rgb: Planes,
    /// Largest channel anywhere near the block.
    brightest: crate::pixels::Plane,
    block_px: f64,
}

/// How a frame's light compares with the reference's.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Matched {
    /// What the frame's light has to be multiplied by: red, green, blue.
    pub gain_rgb: [f32; 3],
    /// Spread of the block ratios about the gain, relative.
    pub spread_rgb: [f32; 3],
    /// Blocks that were compared.
    pub blocks: usize,
}

impl BlockMeans {
    /// The blocks of a picture in linear light.
    #[must_use]
    pub fn new(planes: &Planes) -> Self {
        let mut rgb = planes.clone();
        let mut brightest = planes.rgb[0].clone();
        for channel in &planes.rgb[1..] {
            brightest
                .data
                .iter_mut()
                .zip(&channel.data)
                .for_each(|(most, value)| *most = most.max(*value));
        }
        for _halving in 0..HALVINGS {
            rgb = Planes {
                rgb: [
                    reduce(&rgb.rgb[0]),
                    reduce(&rgb.rgb[1]),
                    reduce(&rgb.rgb[2]),
                ],
            };
            brightest = halve_by_largest(&brightest);
        }
        Self {
            rgb,
            brightest,
            block_px: count_f64(1 << HALVINGS),
        }
    }

    /// Mean light at a position of the full-size picture; `None` near the border or where something is near saturation.
    fn at(&self, place: Point) -> Option<[f32; 3]> {
        let rect = self.rgb.rect();
        let (x, y) = (place.x / self.block_px - 0.5, place.y / self.block_px - 0.5);
        let (left, top) = (floor_f64(x), floor_f64(y));
        let (width, height) = (coordinate(rect.width()), coordinate(rect.height()));
        if left < 1 || top < 1 || left + 2 >= width || top + 2 >= height {
            return None;
        }
        let first = clamp_index(top) * rect.width() + clamp_index(left);
        let corners = [
            first,
            first + 1,
            first + rect.width(),
            first + rect.width() + 1,
        ];
        if corners.iter().any(|corner| {
            self.brightest
                .data
                .get(*corner)
                .is_none_or(|most| *most > NEAR_WHITE)
        }) {
            return None;
        }
        let (fx, fy) = (narrow(x - f64::from(left)), narrow(y - f64::from(top)));
        let weights = [
            (1.0 - fx) * (1.0 - fy),
            fx * (1.0 - fy),
            (1.0 - fx) * fy,
            fx * fy,
        ];
        let mean = |channel: usize| {
            corners
                .iter()
                .zip(weights)
                .map(|(corner, weight)| self.rgb.rgb[channel].data[*corner] * weight)
                .sum()
        };
        Some([mean(0), mean(1), mean(2)])
    }

    /// Light at the block centres of the reference and at the same places of the frame.
    fn pairs(&self, frame: &Self, frame_from_reference: &Transform) -> Vec<([f32; 3], [f32; 3])> {
        let rect = self.rgb.rect();
        let mut pairs = Vec::new();
        for y in 0..rect.height() {
            for x in 0..rect.width() {
                let place = Point::new(
                    (count_f64(x) + 0.5) * self.block_px,
                    (count_f64(y) + 0.5) * self.block_px,
                );
                if let (Some(here), Some(there)) =
                    (self.at(place), frame.at(frame_from_reference.apply(place)))
                {
                    pairs.push((here, there));
                }
            }
        }
        pairs
    }
}

fn halve_by_largest(plane: &crate::pixels::Plane) -> crate::pixels::Plane {
    let (width, height) = (plane.rect.width(), plane.rect.height());
    let half = crate::geometry::Rect::new(
        0,
        0,
        coordinate(width.div_ceil(2)),
        coordinate(height.div_ceil(2)),
    );
    crate::pixels::Plane::from_fn(half, |x, y| {
        let (x, y) = (clamp_index(x) * 2, clamp_index(y) * 2);
        let at = |x: usize, y: usize| plane.data[y.min(height - 1) * width + x.min(width - 1)];
        at(x, y)
            .max(at(x + 1, y))
            .max(at(x, y + 1))
            .max(at(x + 1, y + 1))
    })
}

/// The gains that bring `frame` to the light of `reference`, by the median over blocks. `None` where too few blocks compare.
#[must_use]
pub fn gains(
    reference: &BlockMeans,
    frame: &BlockMeans,
    frame_from_reference: &Transform,
) -> Option<Matched> {
    let pairs = reference.pairs(frame, frame_from_reference);
    let mut matched = Matched {
        gain_rgb: [1.0; 3],
        spread_rgb: [0.0; 3],
        blocks: usize::MAX,
    };
    for channel in 0..3 {
        let ratios: Vec<f32> = pairs
            .iter()
            .filter(|(here, there)| here[channel] > NEAR_BLACK && there[channel] > NEAR_BLACK)
            .map(|(here, there)| here[channel] / there[channel])
            .collect();
        let middle = median(&ratios);
        let wide = spread(&ratios);
        // A second look without the blocks that a highlight, a shadow or an occlusion changed.
        let kept: Vec<f32> = ratios
            .into_iter()
            .filter(|ratio| (ratio - middle).abs() <= 3.0 * wide + 1e-6)
            .collect();
        if kept.len() < 12 {
            return None;
        }
        matched.gain_rgb[channel] = median(&kept);
        matched.spread_rgb[channel] = spread(&kept);
        matched.blocks = matched.blocks.min(kept.len());
    }
    Some(matched)
}

/// How much of the unlit frame's light is in a lit one, per channel.
///
/// Lamps only add, so the lower envelope of lit / unlit over the blocks that have light is the key light's share: the 15th
/// percentile, then the median of the blocks that lie within its spread. A share below 2 % means that the key light was off.
#[must_use]
pub fn key_light(
    unlit: &BlockMeans,
    lit: &BlockMeans,
    lit_from_unlit: &Transform,
    exposure_gain: f32,
) -> [f32; 3] {
    let pairs = unlit.pairs(lit, lit_from_unlit);
    [0, 1, 2].map(|channel| {
        let ratios: Vec<f32> = pairs
            .iter()
            .filter(|(unlit, _lit)| unlit[channel] > 4.0 * NEAR_BLACK)
            .map(|(unlit, lit)| lit[channel] * exposure_gain / unlit[channel])
            .collect();
        if ratios.len() < 12 {
            return 0.0;
        }
        let low = percentile(&ratios, 0.15);
        let lowest: Vec<f32> = ratios
            .iter()
            .copied()
            .filter(|ratio| *ratio <= low)
            .collect();
        let reach = low + 2.0 * spread(&lowest).max(0.003 * low);
        let envelope: Vec<f32> = ratios.into_iter().filter(|ratio| *ratio <= reach).collect();
        let share = median(&envelope);
        if share < 0.02 { 0.0 } else { share }
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Rect;
    use crate::imaging::basics::blur::gaussian;
    use crate::imaging::basics::random;
    use crate::pixels::Plane;

    fn scene(gain: [f32; 3]) -> Planes {
        let rect = Rect::new(0, 0, 640, 480);
        let base = Plane::from_fn(rect, |x, y| {
            0.2 + 0.3 * random::unit_f32(random::bits_at(5, x / 24, y / 24))
        });
        Planes {
            rgb: gain.map(|gain| base.map(|value| value * gain)),
        }
    }

    #[test]
    fn half_a_per_cent_is_read_as_half_a_per_cent_though_focus_differs() {
        let reference = BlockMeans::new(&scene([1.0; 3]));
        let mut frame = scene([1.005, 1.01, 0.99]);
        frame.rgb = frame.rgb.map(|plane| gaussian(&plane, 4.0));
        let matched = gains(&reference, &BlockMeans::new(&frame), &Transform::IDENTITY).unwrap();
        for (gain, wanted) in matched
            .gain_rgb
            .iter()
            .zip([1.0 / 1.005, 1.0 / 1.01, 1.0 / 0.99])
        {
            assert!((gain - wanted).abs() < 0.001, "{gain} for {wanted}");
        }
    }

    #[test]
    fn the_key_light_is_read_under_added_lamps() {
        let unlit = scene([1.0; 3]);
        let mut lit = scene([0.15; 3]);
        for y in 100..160 {
            lit.rgb[0].row_mut(y)[200..300]
                .iter_mut()
                .for_each(|value| *value += 0.5);
        }
        let share = key_light(
            &BlockMeans::new(&unlit),
            &BlockMeans::new(&lit),
            &Transform::IDENTITY,
            1.0,
        );
        assert!(
            share.iter().all(|share| (share - 0.15).abs() < 0.0005),
            "{share:?}"
        );
        let off = Planes::zero(unlit.rect());
        assert_eq!(
            key_light(
                &BlockMeans::new(&unlit),
                &BlockMeans::new(&off),
                &Transform::IDENTITY,
                1.0
            ),
            [0.0; 3]
        );
    }
}
