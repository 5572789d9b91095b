//! What a stack shows about itself: which frame is sharp where, and the order of focus.

use crate::imaging::basics::statistics::{median, percentile};
use crate::pixels::Plane;
use crate::pixels::convert::{coordinate, count_f32};
use rayon::prelude::*;

/// Side of the blocks that sharpness is summed in, in pixels.
const BLOCK: usize = 32;

/// Fine detail per block of one frame.
#[derive(Debug, Clone, PartialEq)]
pub struct Sharpness {
    /// Mean absolute modified Laplacian of the square root of luminance per block, row by row.
    pub energy: Vec<f32>,
}

/// Measures the fine detail of a frame from its luminance in linear light.
///
/// Source: modified Laplacian of Nayar and Nakagawa, Shape from focus, IEEE TPAMI 16 (1994) 824; the square root makes
/// photon noise alike everywhere.
#[must_use]
pub fn sharpness(luma: &Plane) -> Sharpness {
    let (width, height) = (luma.rect.width(), luma.rect.height());
    let root = luma.map(|light| light.max(0.0).sqrt());
    let (across, down) = (width / BLOCK, height / BLOCK);
    let energy: Vec<f32> = (0..down)
        .into_par_iter()
        .flat_map_iter(|block_y| {
            let mut sums = vec![0.0_f32; across];
            for y in (block_y * BLOCK).max(1)..((block_y + 1) * BLOCK).min(height - 1) {
                let above = &root.data[(y - 1) * width..][..width];
                let here = &root.data[y * width..][..width];
                let below = &root.data[(y + 1) * width..][..width];
                for (block_x, sum) in sums.iter_mut().enumerate() {
                    for x in (block_x * BLOCK).max(1)..((block_x + 1) * BLOCK).min(width - 1) {
                        let twice = 2.0 * here[x];
                        *sum += (twice - here[x - 1] - here[x + 1]).abs()
                            + (twice - above[x] - below[x]).abs();
                    }
                }
            }
            sums.into_iter().map(|sum| sum / count_f32(BLOCK * BLOCK))
        })
        .collect();
    Sharpness { energy }
}

/// For each frame the share of textured blocks that are sharpest in it; the shares add up to 1.
///
/// A block counts as textured where its sharpest frame stands clearly above the noise of the stack's flattest blocks.
#[must_use]
pub fn sharp_shares(frames: &[Sharpness]) -> Vec<f32> {
    let blocks = frames.first().map_or(0, |frame| frame.energy.len());
    let peaks: Vec<f32> = (0..blocks)
        .map(|block| {
            frames
                .iter()
                .map(|frame| frame.energy[block])
                .fold(0.0, f32::max)
        })
        .collect();
    let floor = percentile(&peaks, 0.05) * 1.5;
    let mut wins = vec![0_usize; frames.len()];
    for (block, peak) in peaks.iter().enumerate() {
        if *peak <= floor {
            continue;
        }
        if let Some(winner) = frames.iter().position(|frame| frame.energy[block] == *peak) {
            wins[winner] += 1;
        }
    }
    let all = wins.iter().sum::<usize>();
    if all == 0 {
        return vec![1.0 / count_f32(frames.len().max(1)); frames.len()];
    }
    wins.into_iter()
        .map(|won| count_f32(won) / count_f32(all))
        .collect()
}

/// The order of focus of frames given in any order, as their numbers from one end to the other.
///
/// Where every frame has another focus distance (`hints`, in mm), nearest first. Else by measurement: frames whose blocks are
/// sharp alike are neighbours; the chain begins at the frame least like the others, and runs so that the number of the first
/// frame is below that of the last (callers hand frames in a canonical order).
#[must_use]
pub fn focus_order(frames: &[Sharpness], hints: &[Option<f64>]) -> Vec<usize> {
    if let Some(order) = by_hints(hints) {
        return order;
    }
    let count = frames.len();
    if count < 3 {
        return (0..count).collect();
    }
    let floor = typical_energy(frames);
    let scaled: Vec<Vec<f32>> = frames
        .iter()
        .map(|frame| {
            frame
                .energy
                .iter()
                .map(|energy| libm::logf(energy / floor + 1.0))
                .collect()
        })
        .collect();
    let alike = |a: usize, b: usize| -> f32 {
        let distances: Vec<f32> = scaled[a]
            .iter()
            .zip(&scaled[b])
            .map(|(x, y)| (x - y).abs())
            .collect();
        -distances.iter().sum::<f32>() / count_f32(distances.len().max(1))
    };
    let total = |a: usize| {
        (0..count)
            .filter(|b| *b != a)
            .map(|b| alike(a, b))
            .sum::<f32>()
    };
    let mut order = vec![
        (0..count)
            .min_by(|a, b| total(*a).total_cmp(&total(*b)))
            .unwrap_or(0),
    ];
    let mut left: Vec<usize> = (0..count).filter(|frame| *frame != order[0]).collect();
    while !left.is_empty() {
        let last = order[order.len() - 1];
        let next = (0..left.len())
            .max_by(|a, b| alike(last, left[*a]).total_cmp(&alike(last, left[*b])))
            .unwrap_or(0);
        order.push(left.remove(next));
    }
    if order[0] > order[count - 1] {
        order.reverse();
    }
    order
}

fn by_hints(hints: &[Option<f64>]) -> Option<Vec<usize>> {
    let known: Vec<f64> = hints.iter().copied().collect::<Option<Vec<f64>>>()?;
    let mut order: Vec<usize> = (0..known.len()).collect();
    order.sort_by(|a, b| known[*a].total_cmp(&known[*b]));
    order
        .windows(2)
        .all(|pair| known[pair[0]] < known[pair[1]])
        .then_some(order)
}

fn typical_energy(frames: &[Sharpness]) -> f32 {
    let all: Vec<f32> = frames.iter().map(|frame| median(&frame.energy)).collect();
    median(&all).max(1e-6)
}

/// Number of blocks across and down of a frame of this size, for drawing.
#[must_use]
pub fn blocks(width: usize, height: usize) -> (i32, i32) {
    (coordinate(width / BLOCK), coordinate(height / BLOCK))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Rect;
    use crate::imaging::basics::blur::gaussian;
    use crate::imaging::basics::random;
    use crate::pixels::convert::count_f64;

    #[test]
    fn frames_in_any_order_are_put_in_focus_order() {
        let texture = Plane::from_fn(Rect::new(0, 0, 320, 256), |x, y| {
            0.2 + 0.2 * random::unit_f32(random::bits_at(9, x, y))
        });
        let levels: Vec<Plane> = (0..8)
            .map(|step| gaussian(&texture, 0.6 * count_f32(step)))
            .collect();
        let frame = |focus: usize| {
            let plane = Plane::from_fn(texture.rect, |x, y| {
                let depth = usize::try_from(x * 5 / 320).unwrap();
                levels[depth.abs_diff(focus)].at(x, y)
            });
            sharpness(&plane)
        };
        let shuffled = [3, 0, 4, 1, 2];
        let frames: Vec<Sharpness> = shuffled.iter().map(|focus| frame(*focus)).collect();
        let found: Vec<usize> = focus_order(&frames, &[None; 5])
            .into_iter()
            .map(|at| shuffled[at])
            .collect();
        assert!(
            found == [0, 1, 2, 3, 4] || found == [4, 3, 2, 1, 0],
            "{found:?}"
        );
        let shares = sharp_shares(&frames);
        assert!(
            (shares.iter().map(|share| f64::from(*share)).sum::<f64>() - 1.0).abs() < 1e-5,
            "{shares:?}"
        );
        assert!(
            shares
                .iter()
                .all(|share| f64::from(*share) > 0.5 / count_f64(5)),
            "{shares:?}"
        );
    }
}
