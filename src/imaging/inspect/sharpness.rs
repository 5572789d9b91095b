//! How much fine detail each block of a frame shows.

use crate::imaging::basics::statistics::{median, percentile};
use crate::pixels::Plane;
use crate::pixels::convert::{count_f32, narrow};
use rayon::prelude::*;

/// Fine detail per block, noise taken off.
#[derive(Debug, Clone, PartialEq)]
pub struct BlockEnergy {
    /// Blocks across.
    pub columns: usize,
    /// Blocks down.
    pub rows: usize,
    /// Mean squared modified Laplacian of the square root of luma, row by row, not negative.
    pub energy: Vec<f32>,
    /// The noise that was taken off.
    pub noise: f32,
}

/// Side of a block in pixels.
const SIDE: usize = 32;
/// The noise is read from the blocks below this percentile: the emptiest ones.
const EMPTY: f32 = 0.05;
/// A block is textured if its best frame shows this many times the noise.
const TEXTURED: f32 = 3.0;

/// Fine detail of `luma` (linear light) in blocks of 32 px; incomplete blocks at the right and bottom are left out.
///
/// *Source*: Nayar and Nakagawa 1994, modified Laplacian, step 1, on square roots so that photon noise is even.
#[must_use]
pub fn block_energy(luma: &Plane) -> BlockEnergy {
    let (columns, rows) = (luma.rect.width() / SIDE, luma.rect.height() / SIDE);
    let raw: Vec<f32> = (0..columns * rows)
        .into_par_iter()
        .map(|index| detail(luma, (index % columns) * SIDE, (index / columns) * SIDE))
        .collect();
    let noise = percentile(&raw, EMPTY).unwrap_or(0.0);
    BlockEnergy {
        columns,
        rows,
        energy: raw.iter().map(|value| (value - noise).max(0.0)).collect(),
        noise,
    }
}

fn detail(luma: &Plane, left: usize, top: usize) -> f32 {
    let (width, height) = (luma.rect.width(), luma.rect.height());
    let root = |x: usize, y: usize| luma.data[y * width + x].max(0.0).sqrt();
    let (mut sum, mut count) = (0.0_f64, 0_usize);
    for y in top.max(1)..(top + SIDE).min(height - 1) {
        for x in left.max(1)..(left + SIDE).min(width - 1) {
            let middle = 2.0 * root(x, y);
            let across = (middle - root(x - 1, y) - root(x + 1, y)).abs();
            let down = (middle - root(x, y - 1) - root(x, y + 1)).abs();
            sum += f64::from((across + down) * (across + down));
            count += 1;
        }
    }
    narrow(sum / f64::from(count_f32(count.max(1))))
}

/// Per frame, the share of the textured blocks that no other frame shows sharper (the first of equals counts).
///
/// All frames must have the same grid; frames with another grid than the first get 0.
#[must_use]
pub fn sharp_share(frames: &[BlockEnergy]) -> Vec<f32> {
    let mut best_of = vec![0.0_f32; frames.len()];
    let Some(first) = frames.first() else {
        return best_of;
    };
    let alike: Vec<usize> = (0..frames.len())
        .filter(|index| frames[*index].energy.len() == first.energy.len())
        .collect();
    let noises: Vec<f32> = alike.iter().map(|index| frames[*index].noise).collect();
    let floor = median(&noises).unwrap_or(0.0) * TEXTURED;
    let mut textured = 0.0;
    for block in 0..first.energy.len() {
        let mut best = alike[0];
        for &index in &alike {
            if frames[index].energy[block] > frames[best].energy[block] {
                best = index;
            }
        }
        if frames[best].energy[block] > floor {
            best_of[best] += 1.0;
            textured += 1.0;
        }
    }
    if textured > 0.0 {
        best_of.iter_mut().for_each(|share| *share /= textured);
    }
    best_of
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Rect;
    use crate::imaging::basics::blur::gaussian;

    #[test]
    fn the_sharp_half_counts() {
        let checks = Plane::from_fn(Rect::new(0, 0, 256, 64), |x, y| {
            if x < 80 {
                0.2
            } else {
                0.1 + 0.4 * f32::from((x / 3 + y / 3) % 2 == 0)
            }
        });
        let soft = gaussian(&checks, 3.0);
        let mixed = Plane::from_fn(checks.rect, |x, y| {
            if x < 160 {
                checks.at(x, y)
            } else {
                soft.at(x, y)
            }
        });
        let other = Plane::from_fn(checks.rect, |x, y| {
            if x < 160 {
                soft.at(x, y)
            } else {
                checks.at(x, y)
            }
        });
        let shares = sharp_share(&[block_energy(&mixed), block_energy(&other)]);
        assert!(
            (shares[0] - 0.5).abs() < 0.01 && (shares[1] - 0.5).abs() < 0.01,
            "{shares:?}"
        );
    }

    #[test]
    fn nothing_in_nothing_out() {
        assert!(sharp_share(&[]).is_empty());
        assert_eq!(
            block_energy(&Plane::zero(Rect::new(0, 0, 10, 10)))
                .energy
                .len(),
            0
        );
    }
}
