//! What the shifts of single tiles say of a distortion that two frames do not share.

use super::level::Level;
use super::motion::{Motion, Turning};
use super::residual::{Tile, residual_px, tiles};
use super::similarity::{SAME_FINE, at_level, full_size, paired};
use super::solver::{Climbed, climb};
use super::{Found, Prepared};
use crate::geometry::{Similarity, Transform};
use crate::pixels::convert::{count_f64, narrow};
use nalgebra::{SMatrix, SVector};

/// What tiles say of a radial term between two frames.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RadialFit {
    /// How far the corners of the moved frame lie outside of where the similarity brings those of the reference; pixels at full size.
    pub corner_px: f64,
    /// Standard deviation of that, from how far the tiles depart from the fit.
    pub deviation_px: f64,
}

/// Where a frame lies by size, turn, shift and a radial term.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lens {
    /// As in [`RadialFit`].
    pub corner_px: f64,
    /// Moved frame to reference, about the reference's centre.
    pub similarity: Similarity,
    /// What stays unexplained; as in [`Found`].
    pub residual_px: f32,
}

/// Looks again for where `moved` lies, with a radial term, from what was `found` without. `None` when nothing was found.
#[must_use]
pub fn lens(reference: &Prepared, moved: &Prepared, found: &Found) -> Option<Lens> {
    let centre = reference.centre();
    let (level, other) = *paired(reference, moved).first()?;
    let values = Transform::similarity(found.similarity, centre)
        .inverse()?
        .to_similarity(centre);
    let start = Curving {
        turning: at_level(reference, level, values),
        corner: found.radial.map_or(0.0, |radial| radial.corner_px) / level.step(),
    };
    let Climbed { motion, .. } = climb(level, other, start, SAME_FINE)?;
    let moved_from_reference = Transform::similarity(full_size(level, motion.turning), centre);
    Some(Lens {
        corner_px: motion.corner * level.step(),
        similarity: moved_from_reference.inverse()?.to_similarity(centre),
        residual_px: residual_px(level, &tiles(level, other, &motion, None)),
    })
}

/// Size, turn, shift and a radial term about a centre.
#[derive(Debug, Clone, Copy)]
struct Curving {
    turning: Turning,
    /// How far corners go outwards.
    corner: f64,
}

impl Curving {
    /// A place from the centre, corners at distance 1, and the square of its distance.
    fn place(&self, x: f64, y: f64) -> (f64, f64, f64) {
        let (centre, reach) = (self.turning.centre(), self.turning.reach());
        let (x, y) = ((x - centre.x) / reach, (y - centre.y) / reach);
        (x, y, x * x + y * y)
    }
}

impl Motion<COUNT, 8> for Curving {
    #[inline]
    fn at(&self, x: f64, y: f64) -> (f64, f64) {
        let (u, v) = self.turning.at(x, y);
        let (across, down, square) = self.place(u, v);
        let share = self.corner * square;
        (u + share * across, v + share * down)
    }

    #[inline]
    fn columns(&self, x: f64, y: f64, dx: f32, dy: f32) -> [f32; 8] {
        let [size, turn, right, below, ..] = self.turning.columns(x, y, dx, dy);
        let (across, down, square) = self.place(x, y);
        let (across, down) = (narrow(across * square), narrow(down * square));
        let outwards = dx * across + dy * down;
        [size, turn, right, below, outwards, 0.0, 0.0, 0.0]
    }

    fn stepped(&self, step: &[f64; COUNT]) -> Self {
        let [size, turn, right, below, outwards] = *step;
        Self {
            turning: self.turning.stepped(&[size, turn, right, below]),
            corner: self.corner + outwards,
        }
    }
}

/// Size and turn (each as the shift of the rim), shift across and down, radial term.
const COUNT: usize = 5;
/// Fewest tiles that settle it.
const FEWEST: usize = 12;

/// Fits the radial term to `tiles` of `level`, compared under `motion`, with size, turn and shift beside it, which would otherwise take part
/// of it. `None` where too few tiles tell.
pub(super) fn radial(level: &Level, motion: &Turning, tiles: &[Tile]) -> Option<RadialFit> {
    if tiles.len() < FEWEST {
        return None;
    }
    let (middle, reach) = (motion.centre(), motion.reach());
    let rows = tiles.iter().flat_map(|tile| {
        let (x, y) = (
            (tile.at.x - middle.x) / reach,
            (tile.at.y - middle.y) / reach,
        );
        let square = x * x + y * y;
        let across = SVector::from([x, -y, 1.0, 0.0, x * square]);
        let down = SVector::from([y, x, 0.0, 1.0, y * square]);
        [
            (across, tile.shift.x, tile.weight),
            (down, tile.shift.y, tile.weight),
        ]
    });
    let rows: Vec<(SVector<f64, COUNT>, f64, f64)> = rows.collect();
    let mut normal = SMatrix::<f64, COUNT, COUNT>::zeros();
    let mut right = SVector::<f64, COUNT>::zeros();
    for (row, value, weight) in &rows {
        normal += row * row.transpose() * *weight;
        right += row * (value * weight);
    }
    let solver = normal.cholesky()?;
    let found = solver.solve(&right);
    let left: f64 = rows
        .iter()
        .map(|(row, value, weight)| {
            let off = value - row.dot(&found);
            weight * off * off
        })
        .sum();
    let free = count_f64(rows.len() - COUNT);
    let variance = left / free * solver.inverse()[(COUNT - 1, COUNT - 1)];
    Some(RadialFit {
        corner_px: found[COUNT - 1] * level.step(),
        deviation_px: variance.max(0.0).sqrt() * level.step(),
    })
}
