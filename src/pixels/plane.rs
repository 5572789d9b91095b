//! One number per pixel: a mask, a depth map, or one colour of a picture without coverage.

use crate::geometry::Rect;

/// A rectangle with one `f32` per pixel, row by row.
#[derive(Debug, Clone, PartialEq)]
pub struct Plane {
    /// Where these pixels lie on the canvas of their picture.
    pub rect: Rect,
    /// Row by row.
    pub data: Vec<f32>,
}

/// Red, green and blue of an opaque picture as three planes over the same rectangle.
///
/// Same light as [`Image`](crate::pixels::Image), kept apart because filters run faster on planes.
#[derive(Debug, Clone, PartialEq)]
pub struct Planes {
    /// Red, green, blue.
    pub rgb: [Plane; 3],
}

impl Plane {
    /// All pixels `value`.
    #[must_use]
    pub fn filled(rect: Rect, value: f32) -> Self {
        Self {
            rect,
            data: vec![value; rect.area()],
        }
    }

    /// All pixels zero.
    #[must_use]
    pub fn zero(rect: Rect) -> Self {
        Self::filled(rect, 0.0)
    }

    /// Each pixel from its position.
    pub fn from_fn(rect: Rect, mut pixel: impl FnMut(i32, i32) -> f32) -> Self {
        let mut data = Vec::with_capacity(rect.area());
        for y in rect.y0..rect.y1 {
            for x in rect.x0..rect.x1 {
                data.push(pixel(x, y));
            }
        }
        Self { rect, data }
    }

    /// The value at (x, y), which must lie inside.
    #[must_use]
    pub fn at(&self, x: i32, y: i32) -> f32 {
        self.data[self.rect.index(x, y)]
    }

    /// The value at (x, y), or at the nearest pixel inside. The plane must not be empty.
    #[must_use]
    pub fn nearest(&self, x: i32, y: i32) -> f32 {
        let rect = self.rect;
        self.data[rect.index(x.clamp(rect.x0, rect.x1 - 1), y.clamp(rect.y0, rect.y1 - 1))]
    }

    /// The values of row `y`, which must lie inside.
    #[must_use]
    pub fn row(&self, y: i32) -> &[f32] {
        let start = self.rect.index(self.rect.x0, y);
        &self.data[start..start + self.rect.width()]
    }

    /// The values of row `y`, which must lie inside, to be changed.
    pub fn row_mut(&mut self, y: i32) -> &mut [f32] {
        let start = self.rect.index(self.rect.x0, y);
        let width = self.rect.width();
        &mut self.data[start..start + width]
    }

    /// The part inside `rect`; what lies outside this plane is 0.
    #[must_use]
    pub fn crop(&self, rect: Rect) -> Self {
        let met = rect.intersect(self.rect);
        let mut out = if met == rect {
            Self::unwritten(rect)
        } else {
            Self::zero(rect)
        };
        for y in met.y0..met.y1 {
            let from = self.rect.index(met.x0, y);
            let to = rect.index(met.x0, y);
            out.data[to..to + met.width()].copy_from_slice(&self.data[from..from + met.width()]);
        }
        out
    }

    /// A plane of the same place with every value put through `change`.
    #[must_use]
    pub fn map(&self, change: impl Fn(f32) -> f32) -> Self {
        Self {
            rect: self.rect,
            data: self.data.iter().map(|value| change(*value)).collect(),
        }
    }
}

impl Planes {
    /// All pixels black.
    #[must_use]
    pub fn zero(rect: Rect) -> Self {
        Self {
            rgb: [Plane::zero(rect), Plane::zero(rect), Plane::zero(rect)],
        }
    }

    /// Where these pixels lie.
    #[must_use]
    pub fn rect(&self) -> Rect {
        self.rgb[0].rect
    }

    /// The pixel at `index` of the buffers.
    #[must_use]
    pub fn pixel(&self, index: usize) -> [f32; 3] {
        [
            self.rgb[0].data[index],
            self.rgb[1].data[index],
            self.rgb[2].data[index],
        ]
    }

    /// Sets the pixel at `index` of the buffers.
    pub fn set_pixel(&mut self, index: usize, colour: [f32; 3]) {
        for (plane, value) in self.rgb.iter_mut().zip(colour) {
            plane.data[index] = value;
        }
    }

    /// The part inside `rect`; what lies outside is black.
    #[must_use]
    pub fn crop(&self, rect: Rect) -> Self {
        Self {
            rgb: [
                self.rgb[0].crop(rect),
                self.rgb[1].crop(rect),
                self.rgb[2].crop(rect),
            ],
        }
    }
}
