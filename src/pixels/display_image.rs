//! Pixels ready for a screen or a thumbnail.

use crate::geometry::Size;

/// 8-bit sRGB-encoded pixels, red, green, blue, coverage (not premultiplied), row by row.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DisplayImage {
    /// Width and height.
    pub size: Size,
    /// Four bytes per pixel.
    pub rgba: Vec<u8>,
}

impl DisplayImage {
    /// Puts this picture into a larger one, its first pixel at column `left` and row `top`; rows that do not fit are left out.
    pub fn paste_onto(&self, larger: &mut Self, (left, top): (usize, usize)) {
        let bytes = |pixels: u32| usize::try_from(pixels).unwrap_or(0) * 4;
        let (row, line) = (bytes(self.size.width), bytes(larger.size.width));
        if row == 0 || left * 4 + row > line {
            return;
        }
        for (y, pixels) in self.rgba.chunks_exact(row).enumerate() {
            let start = (top + y) * line + left * 4;
            if let Some(place) = larger.rgba.get_mut(start..start + row) {
                place.copy_from_slice(pixels);
            }
        }
    }
}
