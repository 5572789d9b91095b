//! The one inner state of a picture with coverage.

use crate::geometry::Rect;
use crate::pixels::convert::coordinate;

/// A rectangle of pixels in linear light, ITU-R BT.2020 primaries, white D65, premultiplied by coverage, unclipped.
///
/// Each pixel is `[red, green, blue, coverage]`; coverage runs from 0 (nothing) to 1 (solid).
#[derive(Debug, Clone, PartialEq)]
pub struct Image {
    /// Where these pixels lie on the canvas of their picture.
    pub rect: Rect,
    /// Row by row.
    pub data: Vec<[f32; 4]>,
}

impl Image {
    /// All pixels zero: no light, no coverage.
    #[must_use]
    pub fn empty(rect: Rect) -> Self {
        Self {
            rect,
            data: vec![[0.0; 4]; rect.area()],
        }
    }

    /// Each pixel from its position.
    pub fn from_fn(rect: Rect, mut pixel: impl FnMut(i32, i32) -> [f32; 4]) -> Self {
        let mut data = Vec::with_capacity(rect.area());
        for y in rect.y0..rect.y1 {
            for x in rect.x0..rect.x1 {
                data.push(pixel(x, y));
            }
        }
        Self { rect, data }
    }

    /// The pixel at (x, y), which must lie inside.
    #[must_use]
    pub fn at(&self, x: i32, y: i32) -> [f32; 4] {
        self.data[self.rect.index(x, y)]
    }

    /// The pixels of row `y`, which must lie inside.
    #[must_use]
    pub fn row(&self, y: i32) -> &[[f32; 4]] {
        let start = self.rect.index(self.rect.x0, y);
        &self.data[start..start + self.rect.width()]
    }

    /// The part inside `rect`; what lies outside this image is empty.
    #[must_use]
    pub fn crop(&self, rect: Rect) -> Self {
        let mut out = Self::empty(rect);
        let met = rect.intersect(self.rect);
        for y in met.y0..met.y1 {
            let from = self.rect.index(met.x0, y);
            let to = rect.index(met.x0, y);
            out.data[to..to + met.width()].copy_from_slice(&self.data[from..from + met.width()]);
        }
        out
    }

    /// Copies `other` over this image where they meet.
    pub fn paste(&mut self, other: &Self) {
        let met = self.rect.intersect(other.rect);
        for y in met.y0..met.y1 {
            let from = other.rect.index(met.x0, y);
            let to = self.rect.index(met.x0, y);
            self.data[to..to + met.width()].copy_from_slice(&other.data[from..from + met.width()]);
        }
    }

    /// Position of the pixel at `index` in `data`.
    #[must_use]
    pub fn position(&self, index: usize) -> (i32, i32) {
        let width = self.rect.width().max(1);
        (
            self.rect.x0 + coordinate(index % width),
            self.rect.y0 + coordinate(index / width),
        )
    }
}
