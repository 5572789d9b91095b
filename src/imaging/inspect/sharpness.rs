//! How much fine detail each block of a frame shows.

use crate::imaging::basics::statistics::{median, percentile};
use crate::imaging::basics::wide::wide;
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
    let raw: Vec<f32> = (0..rows)
        .into_par_iter()
        .flat_map_iter(|row| details(luma, row * SIDE, columns))
        .collect();
    let noise = percentile(&raw, EMPTY).unwrap_or(0.0);
    BlockEnergy {
        columns,
        rows,
        energy: raw.iter().map(|value| (value - noise).max(0.0)).collect(),
        noise,
    }
}

/// Mean squared detail of a row of blocks. The pixels of the picture's own border have no neighbours and are left out.
fn details(luma: &Plane, top: usize, columns: usize) -> Vec<f32> {
    let (width, height) = (luma.rect.width(), luma.rect.height());
    let (first, last) = (top.max(1), (top + SIDE).min(height - 1));
    let mut roots = vec![0.0_f32; width * (last + 2 - first)];
    let lights = &luma.data[(first - 1) * width..(last + 1) * width];
    let mut sums = vec![0.0_f64; columns];
    let mut squares = vec![0.0_f32; width];
    wide(
        #[inline(always)]
        || {
            let pairs = roots.iter_mut().zip(lights);
            pairs.for_each(|(root, light)| *root = light.max(0.0).sqrt());
            for row in 1..=last - first {
                let line = |row: usize| &roots[row * width..(row + 1) * width];
                let (above, here, below) = (line(row - 1), line(row), line(row + 1));
                let down = above[1..].iter().zip(&below[1..]);
                for ((out, near), (above, below)) in
                    squares[1..].iter_mut().zip(here.windows(3)).zip(down)
                {
                    let middle = 2.0 * near[1];
                    let size = (middle - near[0] - near[2]).abs() + (middle - above - below).abs();
                    *out = size * size;
                }
                // The last pixel of a row has no right neighbour.
                squares[width - 1] = 0.0;
                for (sum, block) in sums.iter_mut().zip(squares.chunks_exact(SIDE)) {
                    let mut lanes = [0.0_f32; 8];
                    for part in block.as_chunks::<8>().0 {
                        for (lane, value) in lanes.iter_mut().zip(part) {
                            *lane += value;
                        }
                    }
                    *sum += f64::from(lanes.iter().sum::<f32>());
                }
            }
        },
    );
    let counted = |column: usize| {
        let (left, right) = (
            (column * SIDE).max(1),
            (column * SIDE + SIDE).min(width - 1),
        );
        count_f32(((right - left) * (last - first)).max(1))
    };
    let means = sums.iter().enumerate();
    means
        .map(|(column, sum)| narrow(sum / f64::from(counted(column))))
        .collect()
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
