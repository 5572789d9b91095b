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
