//! The grid of square tiles that pictures are computed in.

use crate::geometry::{Rect, Size};

/// Place of a tile in its grid, counted from the top left.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct TileIndex {
    /// Column of tiles.
    pub x: u32,
    /// Row of tiles.
    pub y: u32,
}

/// How a picture is divided into tiles; the last column and row may be smaller.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TileGrid {
    /// The picture's size.
    pub size: Size,
    /// Side of a tile in pixels, at least 1.
    pub side: u32,
}

impl TileGrid {
    /// A grid of tiles of `side` pixels over a picture of `size`.
    #[must_use]
    pub const fn new(size: Size, side: u32) -> Self {
        Self {
            size,
            side: if side == 0 { 1 } else { side },
        }
    }

    /// Columns of tiles.
    #[must_use]
    pub const fn columns(self) -> u32 {
        self.size.width.div_ceil(self.side)
    }

    /// Rows of tiles.
    #[must_use]
    pub const fn rows(self) -> u32 {
        self.size.height.div_ceil(self.side)
    }

    /// The pixels of tile `index`.
    #[must_use]
    pub fn rect(self, index: TileIndex) -> Rect {
        let side = i64::from(self.side);
        let edge = |tile: u32| i32::try_from(i64::from(tile) * side).unwrap_or(i32::MAX);
        Rect::new(
            edge(index.x),
            edge(index.y),
            edge(index.x + 1),
            edge(index.y + 1),
        )
        .intersect(self.size.rect())
    }

    /// All tiles, row by row.
    pub fn tiles(self) -> impl Iterator<Item = TileIndex> {
        (0..self.rows()).flat_map(move |y| (0..self.columns()).map(move |x| TileIndex { x, y }))
    }

    /// The tiles that hold any pixel of `rect`, row by row.
    #[must_use]
    pub fn covering(self, rect: Rect) -> Vec<TileIndex> {
        let inside = rect.intersect(self.size.rect());
        if inside.is_empty() {
            return Vec::new();
        }
        let tile = |pixel: i32| u32::try_from(pixel).unwrap_or(0) / self.side;
        let mut found = Vec::new();
        for y in tile(inside.y0)..=tile(inside.y1 - 1) {
            for x in tile(inside.x0)..=tile(inside.x1 - 1) {
                found.push(TileIndex { x, y });
            }
        }
        found
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tiles_cover_every_pixel_once() {
        let grid = TileGrid::new(Size::new(70, 33), 16);
        let covered: usize = grid.tiles().map(|index| grid.rect(index).area()).sum();
        assert_eq!(covered, 70 * 33);
        assert_eq!(grid.covering(Rect::new(15, 0, 17, 1)).len(), 2);
        assert_eq!(grid.covering(Rect::new(-5, -5, 0, 0)).len(), 0);
    }
}
