//! What a motion leaves unexplained: the shifts that single tiles still ask for.

use super::level::Level;
use super::motion::Motion;
use super::solver::{step, stride, sums};
use super::upright::Resampled;
use crate::geometry::{Point, Rect};
use crate::pixels::convert::{ceil_i32, coordinate, count_f32, narrow};
use rayon::prelude::*;

/// Tiles along the longer side.
const TILES: usize = 12;
/// A tile takes part if this share of the pixels read in it may be used.
const LEAST_SHARE: f64 = 0.25;
/// Tiles with this share of the best tile's texture, or more, count alike, so that one bold part cannot speak for all.
const FULL_WEIGHT_SHARE: f64 = 0.1;

/// A motion of which only a further shift is asked.
#[derive(Debug, Clone, Copy)]
struct Local<M, const N: usize, const L: usize>(M);

impl<M: Motion<N, L>, const N: usize, const L: usize> Motion<2, 8> for Local<M, N, L> {
    #[inline]
    fn at(&self, x: f64, y: f64) -> (f64, f64) {
        self.0.at(x, y)
    }

    #[inline]
    fn columns(&self, _x: f64, _y: f64, dx: f32, dy: f32) -> [f32; 8] {
        [dx, dy, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0]
    }

    fn stepped(&self, _step: &[f64; 2]) -> Self {
        *self
    }
}

/// A tile that tells where it would rather lie.
#[derive(Debug, Clone, Copy)]
pub(super) struct Tile {
    /// Its middle on the reference, pixels of the level.
    pub at: Point,
    /// The further shift that it asks for, pixels of the level.
    pub shift: Point,
    /// The texture across its weakest direction, pinned at a tenth of the best tile's.
    pub weight: f64,
}

/// The tiles of the reference that tell.
///
/// `seen`: the moved picture as `motion` sees it, or a motion as close as a last step of a climb, where it is at hand.
pub(super) fn tiles<M: Motion<N, L>, const N: usize, const L: usize>(
    reference: &Level,
    moved: &Level,
    motion: &M,
    seen: Option<Resampled>,
) -> Vec<Tile> {
    let longer = reference.width.max(reference.height);
    let side = ceil_i32(count_f32(longer) / count_f32(TILES)).max(16);
    let whole = Rect::new(
        0,
        0,
        coordinate(reference.width),
        coordinate(reference.height),
    );
    let mut tiles = Vec::new();
    for y in (0..whole.y1).step_by(usize::try_from(side).unwrap_or(16)) {
        for x in (0..whole.x1).step_by(usize::try_from(side).unwrap_or(16)) {
            tiles.push(Rect::new(x, y, x + side, y + side).intersect(whole));
        }
    }
    let local = Local(*motion);
    let resampled = seen.or_else(|| motion.resampled(reference, moved, None));
    let stride = if resampled.is_some() {
        1
    } else {
        stride(reference)
    };
    let mut found: Vec<Tile> = tiles
        .par_iter()
        .filter_map(|tile| {
            let read = f64::from(coordinate(tile.area() / (stride * stride)));
            let sums = resampled.as_ref().map_or_else(
                || sums::<_, 2, 8>(reference, moved, &local, *tile),
                |picture| picture.of_shift(reference, *tile),
            );
            let count = sums[4][4];
            if count < read * LEAST_SHARE {
                return None;
            }
            let [dx, dy] = step::<2, 8>(&sums)?.change;
            let centred = |i: usize, j: usize| sums[i][j] - sums[i][4] * sums[j][4] / count;
            let (xx, yy, xy) = (centred(0, 0), centred(1, 1), centred(0, 1));
            let spread = ((xx - yy) * (xx - yy) + 4.0 * xy * xy).sqrt();
            Some(Tile {
                at: tile.middle(),
                shift: Point::new(dx, dy),
                weight: (0.5 * (xx + yy - spread)).max(0.0),
            })
        })
        .collect();
    let best = found.iter().map(|tile| tile.weight).fold(0.0, f64::max);
    for tile in &mut found {
        tile.weight = tile.weight.min(best * FULL_WEIGHT_SHARE);
    }
    found
}

/// Weighted rms of the tiles' remaining shifts, pixels at full size; 0 when no tile can tell.
pub(super) fn residual_px(reference: &Level, tiles: &[Tile]) -> f32 {
    let (mut weighted, mut weights) = (0.0, 0.0);
    for Tile { shift, weight, .. } in tiles {
        weighted += weight * (shift.x * shift.x + shift.y * shift.y);
        weights += weight;
    }
    if weights <= 0.0 {
        return 0.0;
    }
    narrow((weighted / weights).sqrt() * reference.step())
}
